"""Stages from the reading to strain along the grid: ratio, bridge, zero, leads, gauge factor.

Signs: tension positive. r is the bridge ratio, x the relative change of resistance of a whole
arm (gauge and lead), r and x as found on the gauge's place with the lead A at the negative corner.
"""

import numpy as np

from gaugewright.calc.stage_kinds import Columns, Parameter, Partials, Split, StageKind, Values
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["ELECTRICAL_KINDS"]

_GAIN = Parameter("gain", "1", "indicated over true, of instrument and range", "a positive number")
_SET_GAUGE_FACTOR = Parameter(
    "set_gauge_factor", "1", "gauge factor set in the instrument", "a positive number", fixed=True
)
_POISSON = Parameter("poisson_ratio", "1", "of the metal", "from 0 to 0.5")
_GRID = Parameter("gauge_resistance", "ohm", "of the grid", "a positive number")
_LEAD = Parameter("lead_resistance", "ohm", "of one lead wire, one way", "0 or more")
_GAUGE_FACTOR = Parameter("gauge_factor", "1", "of the gauge alone", "a positive number")


def _linear_strain_reading(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return x * (p["set_gauge_factor"] / 4 / p["gain"])


def _linear_strain_reading_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    slope = p["set_gauge_factor"] / 4 / p["gain"]
    return np.full_like(x, slope), {"gain": -x * slope / p["gain"]}


def _ratio_reading(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return x * (p["scale"] / p["gain"])


def _ratio_reading_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    slope = p["scale"] / p["gain"]
    return np.full_like(x, slope), {"gain": -x * slope / p["gain"]}


def _linearised_reading(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return x * (p["set_gauge_factor"] / p["gain"])


def _linearised_reading_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    slope = p["set_gauge_factor"] / p["gain"]
    return np.full_like(x, slope), {"gain": -x * slope / p["gain"]}


def _resistance_reading(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return x / (p["gain"] * p["gauge_resistance"]) - 1


def _resistance_reading_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    whole = p["gain"] * p["gauge_resistance"]
    return np.full_like(x, 1 / whole), {
        "gain": -x / (whole * p["gain"]),
        "gauge_resistance": -x / (whole * p["gauge_resistance"]),
    }


def _bounded(r: FloatArray, limit: float) -> FloatArray:
    """NaN where no resistances give that ratio: an open or shorted arm, or a wrong unit."""
    possible = np.abs(r) < limit
    return r if possible.all() else np.where(possible, r, np.nan)


def _quarter_bridge(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    r = _bounded(x, 0.5)
    return 4 * r / (1 - 2 * r)


def _quarter_bridge_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    return 4 / (1 - 2 * _bounded(x, 0.5)) ** 2, {}


def _half_bending(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return 2 * _bounded(x, 0.5)


def _half_bending_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    return np.where(np.abs(x) < 0.5, 2.0, np.nan), {}


def _half_poisson(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    nu = p["poisson_ratio"]
    r = _bounded(x, 0.5)
    return 4 * r / ((1 + nu) - 2 * (1 - nu) * r)


def _half_poisson_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    nu = p["poisson_ratio"]
    r = _bounded(x, 0.5)
    square = ((1 + nu) - 2 * (1 - nu) * r) ** 2
    return 4 * (1 + nu) / square, {"poisson_ratio": -4 * r * (1 + 2 * r) / square}


def _half_opposite(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    r = _bounded(x, 1.0)
    return 2 * r / (1 - r)


def _half_opposite_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    return 2 / (1 - _bounded(x, 1.0)) ** 2, {}


def _full_bending(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return _bounded(x, 1.0)


def _full_bending_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    return np.where(np.abs(x) < 1.0, 1.0, np.nan), {}


def _full_poisson(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    nu = p["poisson_ratio"]
    r = _bounded(x, 1.0)
    return 2 * r / ((1 + nu) - (1 - nu) * r)


def _full_poisson_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    nu = p["poisson_ratio"]
    r = _bounded(x, 1.0)
    square = ((1 + nu) - (1 - nu) * r) ** 2
    return 2 * (1 + nu) / square, {"poisson_ratio": -2 * r * (1 + r) / square}


def _zero_quotient(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    # The same as (1 + x)/(1 + x0) - 1, without losing digits to the ones.
    return (x - p["arm_change_zero"]) / (1 + p["arm_change_zero"])


def _zero_quotient_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    whole = 1 + p["arm_change_zero"]
    return np.full_like(x, 1 / whole), {"arm_change_zero": -(1 + x) / whole**2}


def _zero_difference(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return x - p["arm_change_zero"]


def _zero_difference_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    return np.ones_like(x), {"arm_change_zero": np.full_like(x, -1.0)}


def _zero_poisson(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    # Neighbouring arms in the ratio ρ = (1 + x)/(1 - νx): ρ/ρ0 is what load has done, solved for x.
    nu, zero = p["poisson_ratio"], p["arm_change_zero"]
    return (x - zero) / (1 + (1 - nu) * zero - nu * zero * x)


def _zero_poisson_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    nu, zero = p["poisson_ratio"], p["arm_change_zero"]
    whole = 1 + (1 - nu) * zero - nu * zero * x
    strain = (x - zero) / whole
    return (1 + nu * zero * strain) / whole, {
        "arm_change_zero": -(1 + strain * (1 - nu - nu * x)) / whole,
        "poisson_ratio": strain * zero * (1 + x) / whole,
    }


def _lead_loss_three(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return x * (1 + p["lead_resistance"] / p["gauge_resistance"])


def _lead_loss_three_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    grid, lead = p["gauge_resistance"], p["lead_resistance"]
    return np.full_like(x, 1 + lead / grid), {
        "gauge_resistance": -x * lead / grid**2,
        "lead_resistance": x / grid,
    }


def _lead_loss_two(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return x * (1 + 2 * p["lead_resistance"] / p["gauge_resistance"])


def _lead_loss_two_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    grid, lead = p["gauge_resistance"], p["lead_resistance"]
    return np.full_like(x, 1 + 2 * lead / grid), {
        "gauge_resistance": -2 * x * lead / grid**2,
        "lead_resistance": 2 * x / grid,
    }


def _shunt_scaling(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return x * p["shunt_factor"]


def _shunt_scaling_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    return np.full_like(x, p["shunt_factor"]), {"shunt_factor": x}


def _calibration(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return p["calibration_slope"] * x + p["calibration_offset"]


def _calibration_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    return np.full_like(x, p["calibration_slope"]), {
        "calibration_slope": x,
        "calibration_offset": np.ones_like(x),
    }


def _within_span(x: FloatArray, p: Values) -> FloatArray:
    return np.where((x >= p["calibration_low"]) & (x <= p["calibration_high"]), x, np.nan)


def _calibration_curve(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    x = _within_span(x, p)
    slope = p["calibration_slope"] + x * (p["calibration_square"] + x * p["calibration_cube"])
    return np.asarray(slope * x + p["calibration_offset"])


def _calibration_curve_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    x = _within_span(x, p)
    slope = p["calibration_slope"] + x * (2 * p["calibration_square"])
    return slope + 3 * x**2 * p["calibration_cube"], {
        "calibration_offset": np.ones_like(x),
        "calibration_slope": x,
        "calibration_square": x**2,
        "calibration_cube": x**3,
    }


def _calibration_curve_check(p: Values) -> None:
    if not p["calibration_low"] < p["calibration_high"]:
        raise InputError("calibration_high", p["calibration_high"], "above calibration_low")


def _factor_at(p: Values, c: Columns) -> FloatArray:
    warmer = c["temperature_degc"] - p["reference_temperature_degc"]
    return np.asarray(p["gauge_factor"] * (1 + p["gauge_factor_slope"] * warmer))


def _over_factor(x: FloatArray, factor: FloatArray) -> FloatArray:
    return x / factor


def _gauge_factor(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return _over_factor(x, _factor_at(p, c))


def _gauge_factor_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    slope, nominal = p["gauge_factor_slope"], p["gauge_factor"]
    warmer = c["temperature_degc"] - p["reference_temperature_degc"]
    relative = 1 + slope * warmer
    strain = x / (nominal * relative)
    by_temperature = -strain * slope / relative
    return 1 / (nominal * relative) + np.zeros_like(x), {
        "gauge_factor": -strain / nominal,
        "gauge_factor_slope": -strain * warmer / relative,
        "reference_temperature_degc": -by_temperature,
        "temperature_degc": by_temperature,
    }


def _gauge_factor_steady(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return _gauge_factor(x, p, {"temperature_degc": np.asarray(p["test_temperature_degc"])})


def _gauge_factor_steady_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    by_value, by_name = _gauge_factor_partials(
        x, p, {"temperature_degc": np.asarray(p["test_temperature_degc"])}
    )
    by_name["test_temperature_degc"] = by_name.pop("temperature_degc")
    return by_value, by_name


_FACTOR_PARAMETERS = (
    _GAUGE_FACTOR,
    Parameter("gauge_factor_slope", "1/K", "relative change of gauge factor per kelvin"),
    Parameter("reference_temperature_degc", "degC", "temperature the gauge factor is stated at"),
)
_ZERO = (Parameter("arm_change_zero", "1", "change of the whole arm when the zero was taken"),)
_NO_RATIO = "no resistance gives that ratio: open or shorted arm, or a wrong unit"

ELECTRICAL_KINDS = (
    StageKind(
        "reading in strain, linear instrument@1",
        "reading",
        "r = reading k_set / (4 gain): the instrument took the bridge for a straight line",
        (_SET_GAUGE_FACTOR, _GAIN),
        _linear_strain_reading,
        _linear_strain_reading_partials,
    ),
    StageKind(
        "reading in strain, linearising instrument@1",
        "reading",
        "x = reading k_set / gain: the instrument has undone the bridge itself",
        (_SET_GAUGE_FACTOR, _GAIN),
        _linearised_reading,
        _linearised_reading_partials,
    ),
    StageKind(
        "reading in ratio@1",
        "reading",
        "r = reading scale / gain",
        (
            Parameter("scale", "V/V", "ratio of one unit of reading", "a positive number", True),
            _GAIN,
        ),
        _ratio_reading,
        _ratio_reading_partials,
    ),
    StageKind(
        "reading in resistance@1",
        "reading",
        "x = reading / (gain R_g) - 1: resistance measured with four wires, no bridge",
        (_GRID, _GAIN),
        _resistance_reading,
        _resistance_reading_partials,
    ),
    StageKind(
        "quarter bridge@1",
        "bridge",
        "x = 4r/(1 - 2r), exact for one active arm",
        (),
        _quarter_bridge,
        _quarter_bridge_partials,
        stops=_NO_RATIO,
    ),
    StageKind(
        "half bridge, bending pair@1",
        "bridge",
        "x = 2r, exact for neighbouring arms +x and -x",
        (),
        _half_bending,
        _half_bending_partials,
        stops=_NO_RATIO,
    ),
    StageKind(
        "half bridge, Poisson pair@1",
        "bridge",
        "x = 4r/((1 + ν) - 2(1 - ν)r), exact for neighbouring arms x and -νx",
        (_POISSON,),
        _half_poisson,
        _half_poisson_partials,
        stops=_NO_RATIO,
    ),
    StageKind(
        "half bridge, opposite pair@1",
        "bridge",
        "x = 2r/(1 - r), exact for opposite arms x and x",
        (),
        _half_opposite,
        _half_opposite_partials,
        stops=_NO_RATIO,
    ),
    StageKind(
        "full bridge, bending@1",
        "bridge",
        "x = r, exact for arms +x, -x, +x, -x",
        (),
        _full_bending,
        _full_bending_partials,
        stops=_NO_RATIO,
    ),
    StageKind(
        "full bridge, Poisson pairs@1",
        "bridge",
        "x = 2r/((1 + ν) - (1 - ν)r), exact for arms x, -νx, x, -νx",
        (_POISSON,),
        _full_poisson,
        _full_poisson_partials,
        stops=_NO_RATIO,
    ),
    StageKind(
        "reference zero@1",
        "reference",
        "(1 + x)/(1 + x0) - 1: what was there at the zero belongs to the arm itself",
        _ZERO,
        _zero_quotient,
        _zero_quotient_partials,
    ),
    StageKind(
        "reference zero, Poisson pair@1",
        "reference",
        "(x - x0)/(1 + (1 - ν)x0 - νx x0): arms x and -νx that differed at the zero",
        (*_ZERO, _POISSON),
        _zero_poisson,
        _zero_poisson_partials,
    ),
    StageKind(
        "reference zero, difference@1",
        "reference",
        "x - x0: arms +x and -x that differed at the zero, to the second order in x0",
        _ZERO,
        _zero_difference,
        _zero_difference_partials,
    ),
    StageKind(
        "lead loss, three wires@1",
        "lead",
        "x (R_g + r_L)/R_g: one wire in the arm",
        (_GRID, _LEAD),
        _lead_loss_three,
        _lead_loss_three_partials,
    ),
    StageKind(
        "lead loss, two wires@1",
        "lead",
        "x (R_g + 2 r_L)/R_g: both wires in the arm",
        (_GRID, _LEAD),
        _lead_loss_two,
        _lead_loss_two_partials,
    ),
    StageKind(
        "shunt scaling@1",
        "lead",
        "x times expected over found, from a shunt placed across the gauge at its end of the lead",
        (Parameter("shunt_factor", "1", "shunt reading expected over found", "a positive number"),),
        _shunt_scaling,
        _shunt_scaling_partials,
    ),
    StageKind(
        "calibration@1",
        "gauge factor",
        "strain of the bar = slope x + offset, found by loading this gauged bar",
        (
            Parameter("calibration_slope", "1", "strain of the bar per relative change of the arm"),
            Parameter("calibration_offset", "1", "strain left at no load, usually 0"),
        ),
        _calibration,
        _calibration_partials,
    ),
    StageKind(
        "calibration to force@1",
        "gauge factor",
        "force = slope x + offset, found by loading this gauged bar",
        (
            Parameter("calibration_slope", "N", "force per relative change of the arm"),
            Parameter("calibration_offset", "N", "force left at no load, usually 0"),
        ),
        _calibration,
        _calibration_partials,
    ),
    StageKind(
        "calibration to force, curve@1",
        "gauge factor",
        "force = offset + slope x + square x² + cube x³, found by loading this gauged bar, and "
        "nothing outside the readings it was found over",
        (
            Parameter("calibration_offset", "N", "force left at no load, usually 0"),
            Parameter("calibration_slope", "N", "force per relative change of the arm"),
            Parameter("calibration_square", "N", "coefficient of x², 0 for a straight line"),
            Parameter("calibration_cube", "N", "coefficient of x³, 0 for a straight line"),
            Parameter("calibration_low", "1", "smallest change it was found over", fixed=True),
            Parameter("calibration_high", "1", "largest change it was found over", fixed=True),
        ),
        _calibration_curve,
        _calibration_curve_partials,
        stops="outside the readings that the calibration was found over",
        check=_calibration_curve_check,
    ),
    StageKind(
        "gauge factor@1",
        "gauge factor",
        "x / (k (1 + β (T - T_ref))) with the temperature of each sample",
        _FACTOR_PARAMETERS,
        _gauge_factor,
        _gauge_factor_partials,
        columns=("temperature_degc",),
        split=Split(_factor_at, _over_factor),
    ),
    StageKind(
        "gauge factor, one temperature@1",
        "gauge factor",
        "x / (k (1 + β (T - T_ref))) with one temperature for the whole test",
        (
            *_FACTOR_PARAMETERS,
            Parameter("test_temperature_degc", "degC", "temperature during the test"),
        ),
        _gauge_factor_steady,
        _gauge_factor_steady_partials,
    ),
)
