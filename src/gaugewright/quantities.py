"""One name and one unit for every quantity, and how units are read at the edges.

Inside the package everything is in SI base and coherent units; temperature is the one
exception (degrees Celsius, names ending in ``_degc``). ``QUANTITIES`` is what docstrings,
columns, forms and reports are checked against.
"""

from dataclasses import dataclass

from gaugewright.units import FloatArray, Unit, parse_unit, to_si, unit_named

__all__ = [
    "QUANTITIES",
    "Constant",
    "FloatArray",
    "Quantity",
    "Unit",
    "parse_unit",
    "to_si",
    "unit_named",
]


@dataclass(frozen=True, slots=True)
class Quantity:
    """What a name means, its unit inside the package and its symbol in print."""

    unit: str
    meaning: str
    symbol: str = ""


@dataclass(frozen=True, slots=True)
class Constant:
    """A number of nature or of a standard, with its standard uncertainty and where it stands."""

    value: float
    unit: str
    uncertainty: float
    source: str


# Longer lists read better one quantity a line, in the order of the work.
QUANTITIES: dict[str, Quantity] = {
    # bridge and reading
    "bridge_ratio": Quantity("V/V", "bridge output over excitation, tension positive", "r"),
    "bridge_ratio_zero": Quantity("V/V", "bridge output over excitation at the zero", "r_0"),
    "excitation": Quantity("V", "bridge supply voltage", "V_ex"),
    "indicated_strain": Quantity("1", "strain as an instrument states it", "ε_ind"),
    "set_gauge_factor": Quantity("1", "gauge factor set in the instrument", "k_set"),
    "arm_change": Quantity("1", "relative change of resistance of a whole arm", "x"),
    "arm_change_zero": Quantity("1", "relative change of the whole arm at the zero", "x_0"),
    "grid_change": Quantity("1", "relative change of resistance of the grid alone", "x_g"),
    "gauge_resistance": Quantity("ohm", "resistance of the grid", "R_g"),
    "lead_resistance": Quantity("ohm", "resistance of one lead wire, one way", "r_L"),
    "shunt_resistance": Quantity("ohm", "calibration resistor", "R_s"),
    "resistance": Quantity("ohm", "electrical resistance", "R"),
    "insulation_resistance": Quantity("ohm", "resistance of grid or lead to the metal", "R_ins"),
    "completion_resistance": Quantity("ohm", "fixed arm beside the gauge", "R_d"),
    "power_density": Quantity("W/m^2", "power per area of grid", "p"),
    "grid_area": Quantity("m^2", "area of the grid", "A_grid"),
    # gauge
    "gauge_factor": Quantity("1", "relative resistance change per strain", "k"),
    "gauge_factor_slope": Quantity("1/K", "relative change of gauge factor per kelvin", "β"),
    "transverse_sensitivity": Quantity("1", "response across the grid over response along", "K_t"),
    "strain": Quantity("1", "relative change of length, tension positive", "ε"),
    "mechanical_strain": Quantity("1", "the part of strain that causes stress", "ε"),
    "total_strain": Quantity("1", "mechanical strain plus free thermal expansion", "ε_tot"),
    "thermal_output": Quantity("1", "apparent strain of the unloaded gauge", "ε_T"),
    "misalignment": Quantity("rad", "angle between grid axis and strain axis", "φ"),
    "poisson_ratio": Quantity("1", "lateral contraction over elongation", "ν"),
    # temperature
    "temperature_degc": Quantity("degC", "temperature", "T"),
    "temperature_zero_degc": Quantity("degC", "temperature at the zero", "T_0"),
    "reference_temperature_degc": Quantity("degC", "temperature a value is stated at", "T_ref"),
    "dummy_strain": Quantity("1", "strain of an unstressed gauge on the same metal", "ε_d"),
    "reference_strain": Quantity("1", "strain of a channel that carries no load", "ε_ref"),
    "lead_temperature_degc": Quantity("degC", "temperature of a lead", "T_L"),
    "thermal_expansion": Quantity("1/K", "coefficient of linear thermal expansion", "α"),
    # leads
    "length": Quantity("m", "length", "l"),
    "cross_section": Quantity("m^2", "area of a conductor", "A_c"),
    "resistivity": Quantity("ohm m", "electrical resistivity", "ρ"),
    # bar and steel
    "diameter": Quantity("m", "bar diameter", "d"),
    "area": Quantity("m^2", "cross-sectional area", "A"),
    "net_area": Quantity("m^2", "area left at the gauge", "A_net"),
    "flat_width": Quantity("m", "width of the ground flat", "w"),
    "flat_depth": Quantity("m", "depth of the ground flat", "h"),
    "mass_per_length": Quantity("kg/m", "mass of a bar per length", "m'"),
    "density": Quantity("kg/m^3", "mass density", "ρ_m"),
    "elastic_modulus": Quantity("Pa", "modulus of elasticity", "E"),
    "yield_strength": Quantity("Pa", "yield strength", "f_y"),
    "tensile_strength": Quantity("Pa", "tensile strength", "f_u"),
    "hardening_modulus": Quantity("Pa", "slope after yield", "E_h"),
    "stress": Quantity("Pa", "stress, tension positive", "σ"),
    "force": Quantity("N", "force, tension positive", "N"),
    "moment": Quantity("N m", "bending moment", "M"),
    "curvature": Quantity("1/m", "curvature", "κ"),
    "distance": Quantity("m", "distance", "x"),
    "angle": Quantity("rad", "angle", "θ"),
    # series of readings and what is looked for in them
    "load": Quantity("N", "load on the specimen", "P"),
    "threshold": Quantity("1", "strain to be passed", "ε_lim"),
    "persist": Quantity("1", "samples in a row", ""),
    "rise": Quantity("1", "share of a threshold over which a slope is found", ""),
    "x": Quantity("1", "abscissae in any one unit", "x"),
    "y": Quantity("1", "ordinates in any one unit", "y"),
    "at_least": Quantity("1", "least number of samples", ""),
    "mask": Quantity("1", "which samples are looked for: true or false", ""),
    "rows_per_bin": Quantity("1", "rows taken together", ""),
    "bins_per_bin": Quantity("1", "bins taken together", ""),
    "flats": Quantity("1", "number of ground flats at a section", ""),
    # statistics
    "standard_uncertainty": Quantity("1", "standard uncertainty, in the unit of its value", "u"),
    "degrees_of_freedom": Quantity("1", "degrees of freedom", "ν_eff"),
    "coverage": Quantity("1", "coverage probability", "p"),
    "value": Quantity("1", "any quantity, in its own unit", ""),
    "values": Quantity("1", "several quantities, each in its own unit", ""),
    "covariances": Quantity("1", "covariance matrix, in products of their units", ""),
    "noise": Quantity("1", "standard deviation of the independent part of a value", ""),
    "sensitivity": Quantity("1", "change of a value per unit of a cause, in their units", "c"),
    "derivative": Quantity("1", "slope of a function, in the units of what it relates", ""),
    "function_value": Quantity("1", "what a closed form gives, in its own unit", "f"),
    "expanded": Quantity("1", "expanded uncertainty, in the unit of its value", "U"),
    "contributions": Quantity("1", "parts of a standard uncertainty, in its unit", "u_i"),
    "plus_minus": Quantity("1", "what is stated after ±, in the unit of its value", ""),
    "readings": Quantity("1", "repeated readings, in their own unit", ""),
    "reading": Quantity("1", "what an instrument gave, in its own unit", ""),
    "means": Quantity("1", "means of groups, in their own unit", ""),
    "deviations": Quantity("1", "standard deviations within groups, in their own unit", "s"),
    "group_size": Quantity("1", "readings in a group", "n"),
    "digits": Quantity("1", "significant digits", "n_dig"),
    "tolerance": Quantity("1", "numerical tolerance, in the unit of its value", "δ"),
    "trials": Quantity("1", "evaluations of a model", "M"),
    "largest_trials": Quantity("1", "evaluations of a model at most", ""),
    "time": Quantity("s", "time", "t"),
    "trigger": Quantity("1", "reading of a trigger channel, in its own unit", ""),
    "trigger_level": Quantity("1", "level that a trigger rises through, in its own unit", ""),
    # bridge, leads and bars, the finer names
    "span": Quantity("1", "lowest and highest value, in their own unit"),
    "voltage": Quantity("V", "electrical voltage", "V"),
    "current": Quantity("A", "electrical current", "I"),
    "power": Quantity("W", "electrical power turned to heat", "P"),
    "arm_weights": Quantity("1", "share of the change that each arm sees", "w_i"),
    "arm_changes": Quantity("1", "relative change of resistance of each arm", "x_i"),
    "nonlinearity": Quantity("1", "relative error of a straight line", "δ"),
    "bridge_factor": Quantity("1", "number of active arms that an instrument reckons with", "B"),
    "bridge_resistance": Quantity("ohm", "resistance between the excitation corners", "R_b"),
    "lead_sensitivity": Quantity("1", "share of a change left by lead wires", "S_L"),
    "wires_in_arm": Quantity("1", "lead wires in series with the grid", "n"),
    "resistance_slope": Quantity("1/K", "relative change of resistance per kelvin", "α_R"),
    "lead_resistance_change": Quantity("ohm", "change of one lead wire since the zero", "Δr"),
    "lead_a": Quantity("ohm", "resistance of lead A", "r_A"),
    "pair_ab": Quantity("ohm", "meter reading between leads A and B", "P"),
    "pair_ac": Quantity("ohm", "meter reading between leads A and C", "Q"),
    "pair_bc": Quantity("ohm", "meter reading between leads B and C", "S"),
    "awg": Quantity("1", "American wire gauge number", "n"),
    "indicated_strains": Quantity("1", "strains as instruments state them", "ε_i"),
    "indicated_strain_across": Quantity("1", "indicated strain at right angles", "e_y"),
    "strain_across": Quantity("1", "strain at right angles to the grid", "ε_t"),
    "transverse_sensitivities": Quantity("1", "transverse sensitivity of each grid", "K_t"),
    "calibration_poisson_ratio": Quantity("1", "Poisson's ratio of the calibration beam", "ν_0"),
    "resistivity_change_per_strain": Quantity("1", "relative change of resistivity per strain"),
    "lowest_degc": Quantity("degC", "lowest temperature of a span", "T_min"),
    "highest_degc": Quantity("degC", "highest temperature of a span", "T_max"),
    "thermal_output_curve": Quantity("1/K^n", "thermal output, constant first", "a_n"),
    "thermal_output_slope": Quantity("1/K", "change of thermal output per kelvin", "ε_T'"),
    "stated_gauge_factor": Quantity("1", "gauge factor a card's curve is stated at", "k_ref"),
    "expansion_difference": Quantity("1/K", "expansion of the bar less the card's metal", "Δα"),
    "logarithmic_strain": Quantity("1", "natural logarithm of the stretch", "ε_log"),
    "grid_angles": Quantity("rad", "directions of the grids", "θ_i"),
    "strain_x": Quantity("1", "strain along x", "ε_x"),
    "strain_y": Quantity("1", "strain along y", "ε_y"),
    "shear_strain": Quantity("1", "engineering shear strain", "γ"),
    "strain_a": Quantity("1", "strain of a rosette's first grid", "ε_a"),
    "strain_b": Quantity("1", "strain of a rosette's second grid", "ε_b"),
    "strain_c": Quantity("1", "strain of a rosette's third grid", "ε_c"),
    "stress_x": Quantity("Pa", "stress along x", "σ_x"),
    "stress_y": Quantity("Pa", "stress along y", "σ_y"),
    "shear_stress": Quantity("Pa", "shear stress", "τ"),
    "stress_ratio": Quantity("1", "stress at the flat over mean stress of the bar", "q"),
    "opposite_flat_depth": Quantity("m", "depth of the second flat", "h_2"),
    "covered_length": Quantity("m", "length under protection", "L_c"),
    "covered_width": Quantity("m", "width under protection, round the bar", "w_c"),
    "bonded_length": Quantity("m", "length over which the bar is embedded", "L_b"),
    "bond_lost": Quantity("1", "share of bonded surface lost", "b"),
    "strains": Quantity("1", "strains of several gauges", "ε_i"),
    "opposite_strain": Quantity("1", "strain on the opposite side of the bar", "ε_2"),
    "clock_angles": Quantity("rad", "positions round the bar", "θ_i"),
    "gauge_radius": Quantity("m", "distance of a grid from the bar's axis", "ρ"),
    "gauge_distance": Quantity("m", "distance between two opposite grids", "h_g"),
    "curve_strain": Quantity("1", "strain of a coupon", "ε"),
    "curve_stress": Quantity("Pa", "stress of a coupon", "σ"),
    "plastic_strain": Quantity("1", "strain left after unloading", "ε_p"),
    "strength_ratio": Quantity("1", "tensile over yield strength", "k"),
    "ultimate_strain": Quantity("1", "strain at maximum force", "ε_u"),
    "hardening_strain": Quantity("1", "strain at the end of the yield plateau", "ε_sh"),
    "proof_strength": Quantity("Pa", "stress at 0.2 % offset", "R_p0.2"),
    "limit_strength": Quantity("Pa", "stress at 0.01 % offset", "R_p0.01"),
    "exponent": Quantity("1", "exponent of a power law", "n"),
    "curvature_exponent": Quantity("1", "sharpness of a stress curve's knee", "R"),
}
