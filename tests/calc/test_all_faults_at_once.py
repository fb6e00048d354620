"""Every public calculation names all impossible settings in one error, not the first one only.

The settings of a function are found by trying: whatever number it refuses by its parameter's
name is one. Then all of them are made impossible at the same time, and each must be named.
"""

import importlib
import inspect
import pkgutil
from collections.abc import Callable, Iterator

import numpy as np
import pytest

import gaugewright.calc
from gaugewright import quantities
from gaugewright.calc import (
    bare_section,
    bond,
    bridge_shunt,
    coupon_modulus,
    cracked_section,
    cure,
    fatigue,
    first_loading,
    layers,
    shunt,
    shunt_reading,
    steel_cyclic,
)
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import Faults, GaugewrightError, InputError

# Every module of calculations is tried, but for these.
NOT_TRIED = {
    "kernels": "compiled loops, which trust their callers to have checked",
    "allowed": "the checks themselves, each for one setting whose span its caller gives",
    "diagnosis": "takes tables of causes and readings, whose records are checked one by one",
    "diagnosis_causes": "entries of this package's own table of causes, not a person's settings",
    "diagnosis_circuit": "takes a circuit's elements by name, in one mapping",
    "diagnosis_cloud": "takes drawn elements, not settings",
    "diagnosis_fit": "takes sums over drawn elements, not settings",
    "diagnosis_next": "takes what the finder gives, not settings",
}
IMPOSSIBLE = (np.nan, -1.0, 0.0, np.inf, -np.inf, 2.0, 1e30)


def public() -> Iterator[tuple[str, Callable[..., object]]]:
    for found in pkgutil.iter_modules(gaugewright.calc.__path__):
        if found.name in NOT_TRIED:
            continue
        module = importlib.import_module(f"gaugewright.calc.{found.name}")
        for name in getattr(module, "__all__", ()):
            thing = getattr(module, name)
            if not callable(thing) or not hasattr(thing, "__module__"):
                continue
            if thing.__module__ == module.__name__:
                yield f"{found.name}.{name}", thing


def known(value: float, name: str) -> Uncertain:
    return Uncertain.from_input(value, InputQuantity(name, abs(value) / 100 or 1.0))


# One value for each name, as it is usual; formatted by hand so that a name is found.
# fmt: off
USUAL: dict[str, object] = {
    "strain": 1e-3,
    "elastic_modulus": 200e9,
    "gauge_factor": 2.0,
    "bridge_ratio": 1e-3,
    "stress": 100e6,
    "gate": 0.0,
    "poisson_ratio": 0.3,
    "temperature_degc": 25.0,
    "gauge_resistance": 120.0,
    "arm_change": 1e-3,
    "diameter": 16e-3,
    "yield_strength": 500e6,
    "shunt_resistance": 1e5,
    "load": 1e3,
    "area": 2e-4,
    "compressive_strength": 30e6,
    "height": 0.5,
    "lead_resistance": 1.0,
    "shear_strain": 1e-4,
    "mean_strength": 38e6,
    "concrete_tensile_strength": 3e6,
    "crushing_strain": 0.0035,
    "modular_ratio": 7.0,
    "length": 10.0,
    "set_gauge_factor": 2.0,
    "bridge_factor": 1.0,
    "hardening_modulus": 1e9,
    "clock_angles": [0.0, 2.0, 4.0],
    "gauge_radius": 8e-3,
    "exponent": 2.0,
    "characteristic_strength": 30e6,
    "degrees_of_freedom": 9.0,
    "indicated_strain": 1e-3,
    "calibration_poisson_ratio": 0.285,
    "strain_x": 1e-3,
    "strain_y": 1e-4,
    "strains": [1e-3] * 3,
    "bonded_length": 0.3,
    "flat_width": 6e-3,
    "peak_strain": 0.002,
    "depth": 0.4,
    "flange_width": 1.0,
    "flange_depth": 0.1,
    "web_width": 0.3,
    "width": 0.3,
    "coverage": 0.95,
    "completion_resistance": 120.0,
    "lead_plus": 1.0,
    "lead_minus": 1.0,
    "bridge_resistance": 350.0,
    "misalignment": 0.03,
    "transverse_sensitivity": 0.01,
    "thermal_output_curve": (0.0, 1e-6),
    "temperature_zero_degc": 20.0,
    "stated_gauge_factor": 2.0,
    "grid_change": 1e-3,
    "layers": 50,
    "distance": 0.5,
    "proof_strength": 500e6,
    "bore": 4e-3,
    "stress_ratio": 1.02,
    "covered_length": 0.05,
    "flat_depth": 1e-3,
    "clear_rib_spacing": 8e-3,
    "effective_ratio": 0.02,
    "cross_section": 0.5e-6,
    "force": 1e4,
    "depths": [0.4],
    "areas": [1e-3],
    "arm_resistance": 350.0,
    "excitation": 5.0,
    "self_heating": 1e-5,
    "excitation_share": 0.5,
    "wires_in_arm": 1,
    "resistance_slope": 0.0039,
    "digits": 2,
    "standard_uncertainty": 0.1,
    "flats": 1,
    "net_area": 1.9e-4,
    "strain_a": 1e-3,
    "strain_b": 5e-4,
    "strain_c": 1e-4,
    "angle": 0.3,
    "shear_span": 0.5,
    "ultimate_strain": 0.08,
    "curvature_exponent": 20.0,
    "thermal_expansion": 12e-6,
    "card_thermal_expansion": 11e-6,
    "dummy_change": 1e-4,
    "torque": 100.0,
    "opposite_strain": 9e-4,
    "gauge_distance": 16e-3,
    "mass_per_length": 1.58,
    "density": 7850.0,
    "covered_width": 0.02,
    "opposite_flat_depth": 1e-3,
    "lost": 0,
    "bond_strength": 13e6,
    "first_slip": 1e-3,
    "second_slip": 2e-3,
    "third_slip": 8e-3,
    "rest_share": 0.4,
    "arm_weights": [1.0, 0.0, 0.0, 0.0],
    "arm_change_zero": 1e-4,
    "arm_changes": [1e-3, 0.0, 0.0, 0.0],
    "residual_deviation": 1.0,
    "lower_limit_factor": 2.4,
    "zero_before": 0.0,
    "zero_after": 0.1,
    "largest": 100.0,
    "strength_left": 0.85,
    "block_stress_ratio": 0.85,
    "block_depth_ratio": 0.85,
    "softening": 500.0,
    "cover": 0.03,
    "neutral_axis_depth": 0.15,
    "stiffening_factor": 0.4,
    "original_length": 0.1,
    "final_length": 0.12,
    "final_area": 1e-4,
    "limit_strength": 400e6,
    "half_resistance": 1000.0,
    "sense_input_resistance": 1e6,
    "input_resistance": 1e7,
    "reference_range": 162.5e6,
    "reference_cycles": 1e6,
    "slope_above": 9.0,
    "slope_below": 5.0,
    "limit_range": 50e6,
    "gauge_factor_slope": 1e-4,
    "reference_temperature_degc": 24.0,
    "resistivity_change_per_strain": 0.4,
    "lowest_degc": 0.0,
    "highest_degc": 80.0,
    "expansion_difference": 1e-6,
    "strain_across": -3e-4,
    "indicated_strain_across": -3e-4,
    "allowed_heating": 1e-6,
    "power_density": 2e3,
    "grid_area": 1.8e-5,
    "zero_shift": 1e-5,
    "noise_density": 1e-8,
    "lowest_frequency": 0.1,
    "highest_frequency": 100.0,
    "corner_frequency": 1.0,
    "bandwidth": 100.0,
    "resistance_offset": 0.003,
    "full_scale_ratio": 3e-3,
    "bits": 16,
    "logarithmic_strain": 1e-3,
    "voltage": 0.12,
    "current": 1e-3,
    "resistivity": 1.7241e-8,
    "pair_ab": 122.0,
    "pair_ac": 122.0,
    "pair_bc": 2.0,
    "lead_resistance_change": 0.01,
    "awg": 24,
    "stress_x": 1e8,
    "stress_y": 1e7,
    "shear_stress": 1e7,
    "indicated_strains": [1e-3, 5e-4, 1e-4],
    "grid_angles": [0.0, np.pi / 4, np.pi / 2],
    "transverse_sensitivities": 0.01,
    "lead_a": 1.0,
    "lead_b": 1.0,
    "lead_c": 1.0,
    "lower_half_share": 0.5,
    "gain": 1.0,
    "load_per_length": 1e3,
    "strength_ratio": 1.08,
    "tensile_strength": 600e6,
    "hardening_strain": 0.015,
    "hardening_share": 0.01,
    "curvature_loss": 0.925,
    "curvature_loss_half": 0.15,
    "compression_growth": 0.0,
    "compression_growth_span": 1.0,
    "tension_growth": 0.0,
    "tension_growth_span": 1.0,
    "thermal_output": 1e-5,
    "dummy_strain": 1e-5,
    "total_strain": 1e-3,
    "mechanical_strain": 1e-3,
    "lead_a_change": 0.01,
    "lead_b_change": 0.02,
    "lead_temperature_degc": 30.0,
    "lead_temperature_zero_degc": 20.0,
    "plus_minus": 0.01,
    "slip": 1e-3,
    "threshold": 1e-4,
    "persist": 3,
    "rise": 0.15,
    "tolerance": 0.01,
    "step": -1e-3,
    "stress_range": 1e8,
    "frequency": 50.0,
    "sampling_rate": 1000.0,
    "mains_frequency": 50.0,
    "limit": 5.0,
    "at_least": 3,
    "window": 20,
    "load_band": 1.0,
    "bending_share": 0.1,
    "mean_squared_sine": 4e-4,
    "largest_offset": 10.0,
    "largest_rate": 2e-4,
    "force_per_strain": 30e6,
    "thickness": 0.01,
    "uniform_elongation": 0.05,
    "pieces": 3,
    "period": 100.0,
    "noise_first": 1e-6,
    "noise_second": 1e-6,
    "largest_strain": 0.05,
    "insulation_resistance": 1e9,
    "resistance": 120.0,
    "lower_limit": 0.0,
    "upper_limit": 10.0,
    "expanded_uncertainty": 0.5,
    "value": 5.0,
    "offset": 0.002,
    "hardening_onset_modulus": 5e9,
}

CELSIUS, MICRO = quantities.unit_named("degC"), quantities.unit_named("µm/m")
CIRCUIT = shunt.QuarterCircuit(120.0, 120.0, 1.0, 1.0, 1.0)
ROW = np.linspace(0.0, 1e-3, 60)
LINE = coupon_modulus.elastic_line(ROW, ROW * 200e9, 40e6, 160e6)
SHAPE = cracked_section.rectangle(0.3, 0.5)
NOISE = np.random.default_rng(7).normal(0.0, 1e-6, 400)
CLOCK = np.arange(400.0)
WANDER = np.cumsum(np.random.default_rng(8).normal(0.0, 1.0, 4000))
LAYERS = layers.rectangle(0.3, 0.5, layers=50)
CURVE = {
    "curve_strain": np.array([0.0, 0.0025, 0.05]), "curve_stress": np.array([0.0, 500e6, 600e6]),
}
STEEL = steel_cyclic.CyclicSteel(200e9, 500e6, 0.01)
FLAT = {"strain": ROW, "first_loading": lambda strain: np.asarray(strain) * 200e9}
LEADED = bridge_shunt.LeadedBridge("full", (350.0,) * 4, 1.0, 6, (1.0, -1.0, 1.0, -1.0))
FATIGUE = fatigue.FatigueLine(162.5e6, 1e6, 9.0, 5.0)

# Arguments of those that need more than plain numbers with their usual values.
EXAMPLES: dict[str, dict[str, object]] = {
    "rated_output.value_per_reading": {"value": 200e3, "reading": 2e-3, "plus_minus": 2e-6},
    "bare_section.strain_along_grid": {"stress": bare_section.FaceStress(1e8, 1e7), "angle": 0.3},
    "spares.chance_of_enough": {
        "installed": 4, "wanted": 3, "survivors": 1.0, "exposed": 2.0,
    },
    "spares.installed_for": {
        "wanted": 3, "survivors": 9.5, "exposed": 10.0, "assurance": 0.9,
    },
    "survival_chance.survival_beta": {"survivors": [9, 8], "exposed": [10, 9]},
    "hum.line_strength": {"values": NOISE},
    "concrete_cells.cells_of_layers": {"layers": LAYERS},
    "concrete_cells.midway_thicknesses": {"layers": LAYERS},
    "correlation.clock_by_signal": {
        "reference_time": np.arange(4000.0), "reference_signal": WANDER,
        "time": np.arange(4000.0), "signal": WANDER, "instants": np.array([0.0, 100.0]),
    },
    "coupon_size.elongation_by_marks": {
        "original_length": known(0.1, "before"), "final_length": known(0.12, "after"),
    },
    "coupon_size.flat_area": {"width": known(0.02, "width"), "thickness": known(0.01, "thick")},
    "coupon_size.round_area": {"diameter": known(0.01, "diameter")},
    "hum.mains_hum": {"values": NOISE},
    "dew_point.dew_point": {"temperature_degc": 20.0, "humidity": 0.5},
    "leaps.clipped": {"values": NOISE},
    "leaps.leaps": {
        "values": NOISE, "spike_limit": 9.0, "step_limit": 8.0, "dropout_limit": 50.0, "window": 40,
    },
    "bridge_shunt.LeadedBridge": {
        "kind": "full", "arm_resistance": [350.0] * 4, "lead_resistance": 1.0, "wires": 6,
        "arm_weights": [1.0, -1.0, 1.0, -1.0],
    },
    "bridge_shunt.equivalent_strain": {"bridge": LEADED, "position": "SP-N at the bridge"},
    "cure.cure": {
        "time": 3600.0 * np.arange(5), "temperature_degc": np.full(5, 21.0),
        "table": (cure.SheetRow(20.0, 86400.0),), "longest_gap": 7200.0,
    },
    "selection.curve_averaged": {"grid_length": 3e-3, "strain_bend": -20.0},
    "selection.peak_lost": {"grid_length": 3e-3, "strain_gradient": 0.06},
    "survival_chance.chance_through": {"survivors": [8, 7], "exposed": [10, 8]},
    "survival_chance.count_dispersion": {"survivors": [8, 7], "exposed": [10, 8]},
    "survival_chance.survival_chance": {"survivors": 8, "exposed": 10},
    "survival.proportion_interval": {"survivors": 8, "exposed": 10},
    "survival.survival_curve": {"exit_times": [1.0, 2.0, 3.0], "was_lost": [True, False, True]},
    "leaps.dropouts": {"values": NOISE},
    "leaps.spikes": {"values": NOISE},
    "leaps.steps": {"values": NOISE},
    "likeness.answer_to": {"load": WANDER[:400], "values": WANDER[:400] * 1e-6 + NOISE},
    "likeness.exchanges": {
        "predicted": np.stack([CLOCK, CLOCK**2]), "measured": np.stack([CLOCK, CLOCK**2]),
    },
    "likeness.shared_noise": {"channel_readings": NOISE, "other_readings": NOISE[::-1]},
    "rosette_state.principal_stresses": {
        "strains": (known(1e-3, "first"), known(1e-4, "second")),
        "elastic_modulus": known(200e9, "modulus"), "poisson_ratio": known(0.3, "poisson"),
    },
    "rosette_state.surface_state": {
        "arms": [known(1e-3, "a"), known(5e-4, "b"), known(1e-4, "c")],
        "grid_angles": np.array([0.0, np.pi / 4, np.pi / 2]),
        "sensitivities": [known(0.01, "side")] * 3,
    },
    "rosette_state.tee_state": {
        "arms": [known(1e-3, "a"), known(5e-4, "b")], "sensitivities": [known(0.01, "side")] * 2,
    },
    "seasons.season_fit": {
        "time": CLOCK * 86400.0, "values": NOISE + CLOCK * 1e-6, "temperature_degc": None,
    },
    "seasons.why_no_cycle": {"time": CLOCK},
    "steadiness.at_rest": {"load": NOISE},
    "steadiness.drift": {"time": CLOCK, "values": NOISE},
    "steadiness.follows": {
        "temperature_degc": np.sin(CLOCK / 30), "values": NOISE, "time": CLOCK,
    },
    "steadiness.noise_changes": {"values": NOISE},
    "steel_equilibrium.bar_strain_along": {"strain": ROW, "steel": STEEL},
    "steel_equilibrium.bar_strain_of_flat": FLAT,
    "steel_equilibrium.bar_strain_unloading": FLAT,
    "steel_equilibrium.flat_strain_along": {"strain": ROW, "steel": STEEL},
    "steel_equilibrium.flat_strain_of_bar": FLAT,
    "steel_table.coupon_curve_stress": CURVE,
    "steel_table.engineering_curve": CURVE,
    "steel_table.true_curve": CURVE,
    "strand.force_per_strain": {"strain": ROW, "force": ROW * 30e6},
    "twice_recorded.agreement": {
        "channel_readings": CLOCK, "other_readings": CLOCK * 1.01 + NOISE,
    },
    "twice_recorded.means_around": {"time": CLOCK, "values": NOISE, "instants": CLOCK},
    "twice_recorded.line_both_doubtful": {
        "x": CLOCK, "y": CLOCK * 1.01 + NOISE, "doubts_x": 1e-6, "doubts_y": 1e-6,
    },
    "align.rising_edges": {
        "time": [0.0, 1.0, 2.0],
        "trigger": [0.0, 0.0, 5.0],
        "trigger_level": 2.5,
    },
    "bond.BondLaw": {"exponent": 0.4},
    "bond.local_bond_stress": {"law": bond.bond_law_fib2010_good(38e6, 8e-3)},
    "first_loading.bend": {"load": ROW * 1e8, "strain": ROW},
    "first_loading.first_loading": {"load": ROW},
    "first_loading.jump": {
        "load": ROW * 1e8, "strain": ROW, "strain_per_load": 1e-8, "least": 2e-5,
    },
    "first_loading.line_between": {
        "load": ROW * 1e8, "strain": ROW, "low": 1e-4, "high": 6e-4,
    },
    "first_loading.plateau": {"load": ROW * 1e8, "strain": ROW, "begin": 1e-4, "rise": 1e-4},
    "first_loading.softening": {
        "load": ROW * 1e8, "strain": ROW, "share": 0.3, "piece": 1e-4, "persist": 5,
        "line": first_loading.line_between(ROW * 1e8, ROW, 1e-4, 6e-4),
    },
    "first_loading.departure": {
        "load": ROW * 1e8, "strain": ROW, "offset": 1e-4,
        "line": first_loading.line_between(ROW * 1e8, ROW, 1e-4, 6e-4),
    },
    "hysteresis.loop_area": {"load": [0.0, 1.0, 0.0], "strain": [0.0, 1e-3, 1e-4]},
    "hysteresis.loops": {"load": [0.0, 1.0, 0.0], "gate": 0.1},
    "hysteresis.unloadings": {"load": [0.0, 1.0, 0.0], "gate": 0.1},
    "load_steps.holds": {
        "time": ROW * 1e5, "load": np.minimum(ROW, 5e-4) * 1e6, "shortest": 10.0, "share": 0.1,
    },
    "load_steps.drift": {"time": ROW * 1e5, "values": ROW},
    "simple_beam.point_loads_moment": {
        "load": 1e3, "supports": (0.0, 4.0), "load_distances": [1.0, 3.0],
        "load_shares": [0.5, 0.5], "distance": 2.0,
    },
    "steel_inverse.cyclic_strain": {
        "stress": ROW * 1e11, "steel": steel_cyclic.CyclicSteel(200e9, 500e6, 0.01),
    },
    "calibration_terms.lowest_load": {"load_class": "A"},
    "chain_parts.Influence": {"parameter": "gauge_factor", "input_name": "lot"},
    "conductors.conductor_range": {"conductor_class": "class 5 or 6, plain"},
    "coupon_modulus.elastic_line": {
        "strain": ROW,
        "stress": ROW * 200e9,
        "lowest_stress": 40e6,
        "highest_stress": 160e6,
    },
    "coupon_modulus.line_of_known_slope": {"line": LINE},
    "coupon_points.offset_point": {
        "strain": ROW,
        "stress": 200e9 * ROW * (1 - 4e2 * ROW),
        "line": LINE,
        "offset": 1e-4,
    },
    "coupon_points.upper_yield": {"strain": ROW, "stress": ROW * 200e9},
    "cracked_section.cracked": {"shape": SHAPE},
    "cracked_section.uncracked": {"shape": SHAPE},
    "evaluation.effective_degrees_of_freedom": {
        "contributions": [1.0, 2.0],
        "degrees_of_freedom": [9.0, 9.0],
    },
    "evaluation.scatter_between_and_within": {
        "means": [1.0, 1.1, 1.2],
        "deviations": [0.1, 0.1, 0.1],
        "group_size": 5,
    },
    "evaluation.stated_standard_uncertainty": {"meaning": "limit"},
    "fatigue.miner_damage": {"stress_ranges": [1e8], "counts": [1.0], "line": FATIGUE},
    "installation_scatter.pair_scatter": {
        "first_slopes": [1.0, 1.01, 0.99],
        "second_slopes": [1.0, 1.0, 1.0],
    },
    "instrument_limits.johnson_noise": {"resistance": 120.0},
    "monte_carlo.monte_carlo": {
        "model": lambda drawn: drawn["input"],
        "inputs": [InputQuantity("input", 1.0)],
        "generator": np.random.default_rng(4),
        "tolerance": 0.1,
        "largest_trials": 100_000,
    },
    "net_area.net_area": {"area": 2e-4},
    "onset.first_passage": {"strain": ROW},
    "onset.passage": {"load": ROW * 1e6, "strain": ROW},
    "polynomial_fit.polynomial_fit": {"x": ROW, "y": ROW**2, "degree": 1},
    "quality.equal_runs": {"values": ROW, "at_least": 3},
    "shunt.equivalent_strain": {"circuit": CIRCUIT, "position": "T1-T2"},
    "shunt.shunt_resistance_for": {"strain": -1e-3},
    "shunt.shunt_step": {"circuit": CIRCUIT, "position": "T1-T2"},
    "shunt_reading.positions_that_explain": {
        "circuit": CIRCUIT,
        "scale": shunt_reading.ChannelScale(),
    },
    "shunt_reading.shunt_factor": {"circuit": CIRCUIT, "position": "T1-T2"},
    "steel_history.stress_along": {
        "strain": ROW,
        "first_loading": lambda strain: 200e9 * strain,
    },
    "thermal.thermal_output_of_polynomial": {
        "coefficients": [0.0, 1.0],
        "span": (0.0, 80.0),
        "temperature_unit": CELSIUS,
        "strain_unit": MICRO,
    },
    "thermal.thermal_output_of_table": {
        "temperatures": [0.0, 80.0],
        "outputs": [0.0, 10.0],
        "temperature_unit": CELSIUS,
        "strain_unit": MICRO,
    },
    "uncertainty.InputQuantity": {"name": "input"},
}


def arguments(name: str, function: Callable[..., object]) -> dict[str, object] | None:
    """Arguments it accepts, or None where a needed one isn't a plain number known here."""
    given = EXAMPLES.get(name, {})
    values: dict[str, object] = {}
    for parameter in inspect.signature(function).parameters.values():
        if parameter.name in given or parameter.name in USUAL:
            values[parameter.name] = given.get(parameter.name, USUAL.get(parameter.name))
        elif parameter.default is parameter.empty and parameter.kind not in (
            parameter.VAR_POSITIONAL,
            parameter.VAR_KEYWORD,
        ):
            return None
    return values


def like(value: object, number: float) -> object:
    if isinstance(value, Uncertain):
        return Uncertain.exact(number)
    return number if np.ndim(value) == 0 else np.full(np.shape(value), number).tolist()


def named(error: GaugewrightError) -> list[str]:
    return [fault.name for fault in getattr(error, "faults", (error,))]


def refused(function: Callable[..., object], values: dict[str, object], setting: str) -> object:
    """A number that it refuses for this setting, by its name; None where it takes them all."""
    given = values[setting]  # arrays are samples; settings come as numbers or lists of numbers
    plain = isinstance(given, (int, float, list)) and np.asarray(given).dtype.kind in "if"
    if not plain and not isinstance(given, Uncertain):
        return None
    for number in IMPOSSIBLE:
        wrong = like(values[setting], number)
        try:
            # An infinite sample comes out as NaN; that numpy says so is not asked here.
            with np.errstate(all="ignore"):
                function(**{**values, setting: wrong})
        except (InputError, Faults) as error:
            if setting in named(error):
                return wrong
        except (ValueError, OverflowError, TypeError):
            continue
    return None


# Not tried: what takes samples, uncertain values or whole records of this package, and at most
# one number of its own that it can refuse.
BY_OTHER_TESTS = {
    "around.plane_through",
    "bench_schedule.laid_backward", "bench_work.Work", "held_beam.held_beam_moment",
    "by_difference.by_difference", "concrete_cells.forces_of_planes",
    "coupon_curve.tabulated_curve", "coupon_size.elongation_by_extensometer",
    "bar_loss.axial_of_survivor", "bond.bond_at", "bond.bond_between_stations",
    "bond.concrete_share", "bond.mean_strain", "bond.slip_from", "bracketing.grown",
    "bracketing.zeros", "calibration.bar_calibration", "calibration_terms.interpolation_error",
    "calibration_terms.repeatability", "calibration_terms.reversibility",
    "chain_counts.lost_samples", "chain_rows.finite", "chain_rows.laid_out",
    "conductors.resistance_at_20_degc", "coupon.CouponInputs", "coupon.coupon_values",
    "coupon_points.greatest_stress", "coupon_points.lower_yield", "coupon_points.reading_noise",
    "cycles.closed_history_cycles", "cycles.cycle_matrix", "cycles.cycles_of_block",
    "cycles.peak_counts", "cycles.rainflow_cycles", "cycles.range_cycles",
    "cycles.range_pair_cycles", "fibre_section.FibreSection", "fibre_section.moment_curvature",
    "fibre_section.states_at", "joint.correlation", "joint.covariance",
    "joint.jointly_uncertain", "monte_carlo.deviations", "monte_carlo.first_order_agrees",
    "pyramid.bins_of", "quality.line_through", "section.closure", "section.concrete_forces",
    "propagation.propagated", "smooth_field.smooth_field", "smoothed.area_at_gauge",
    "smoothed.smoothed_zone", "steel.beyond_curve", "steel.measured_stress",
    "steel_cyclic.cyclic_stress", "steel_cyclic.cyclic_stress_fast",
    "steel_fit.fitted_cyclic_steel", "strain_plane.fit_plane", "turns.turning_points",
    "trapezoids.area_until",
    "turns.turns_of_block", "uncertainty.Uncertain", "uncertainty.combination",
    "uncertainty.declare",
}  # fmt: skip

CALLED = {}
for _name, _thing in public():
    if not inspect.isclass(_thing) or "__post_init__" in vars(_thing):
        _values = None if _name in BY_OTHER_TESTS else arguments(_name, _thing)
        if _values is not None:
            CALLED[_name] = (_thing, _values)


def numbers(function: Callable[..., object]) -> int:
    words = ("Buffer", "float", "int")
    parameters = inspect.signature(function).parameters.values()
    return sum(any(word in str(each.annotation) for word in words) for each in parameters)


def test_whatever_takes_several_numbers_is_tried() -> None:
    """A new calculation joins by its usual values in USUAL, or its own in EXAMPLES."""
    several = {
        name
        for name, thing in public()
        if numbers(thing) >= 2 and (not inspect.isclass(thing) or "__post_init__" in vars(thing))
    }
    assert several - CALLED.keys() - BY_OTHER_TESTS == set()
    assert BY_OTHER_TESTS - {name for name, _ in public()} == set(), "no such calculation"


@pytest.mark.parametrize("name", CALLED)
def test_all_impossible_settings_are_named_in_one_error(name):
    function, values = CALLED[name]
    function(**values)
    wrong = {setting: refused(function, values, setting) for setting in values}
    wrong = {setting: number for setting, number in wrong.items() if number is not None}
    if len(wrong) < 2:
        return
    with pytest.raises((InputError, Faults)) as caught, np.errstate(all="ignore"):
        function(**{**values, **wrong})
    assert set(wrong) <= set(named(caught.value))
    for fault in getattr(caught.value, "faults", (caught.value,)):
        assert fault.allowed
