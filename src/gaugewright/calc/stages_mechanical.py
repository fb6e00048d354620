"""Stages from strain along the grid to strain of the bar: law, alignment, temperature, section."""

import numpy as np

from gaugewright.calc.stage_kinds import Columns, Parameter, Partials, Split, StageKind, Values
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["MECHANICAL_KINDS", "mean_squared_sine"]


def mean_squared_sine(misalignment: float) -> tuple[float, float]:
    """Mean of sin²φ and its standard uncertainty, where φ scatters about a true alignment.

    For φ normal with standard deviation u and small: E[φ²] = u², standard deviation √2 u².

    Parameters
    ----------
    misalignment : float
        Standard deviation of the angle, small against 1 [rad].

    Returns
    -------
    mean : float
        Of sin²φ [1].
    standard_uncertainty : float
        Of sin²φ; its distribution is one-sided and skewed [1].

    Examples
    --------
    >>> [round(part, 6) for part in mean_squared_sine(0.035)]
    [0.001225, 0.001732]
    """
    if not 0 <= misalignment <= 0.3:
        raise InputError("misalignment", misalignment, "from 0 to 0.3 rad")
    return misalignment**2, 2**0.5 * misalignment**2


def _is(value: object, neutral: float) -> bool:
    """Whether a number changes nothing; Monte Carlo hands in arrays, which always may."""
    return isinstance(value, int | float) and value == neutral


def _undeclared(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return np.where(np.abs(x) <= p["strain_limit"], x, np.nan)


def _undeclared_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    return np.where(np.abs(x) <= p["strain_limit"], 1.0, np.nan), {}


def _constant_volume(x: FloatArray, gauge_factor: float) -> FloatArray:
    """Engineering strain where R/R0 = (1 + ε)^k, from x = (R/R0 - 1)/k."""
    grid_change = gauge_factor * x
    grid_change = np.where(grid_change > -1, grid_change, np.nan)
    return np.asarray(np.expm1(np.log1p(grid_change) / gauge_factor))


def _constant_volume_slopes(x: FloatArray, gauge_factor: float) -> tuple[FloatArray, FloatArray]:
    strain = _constant_volume(x, gauge_factor)
    whole = 1 + gauge_factor * x
    by_factor = (1 + strain) * (x / whole - np.log1p(strain)) / gauge_factor
    return (1 + strain) / whole, by_factor


def _law_constant_factor(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    if _is(p["law_error"], 0.0):
        return x
    return x + p["law_error"] * (_constant_volume(x, p["gauge_factor"]) - x)


def _law_constant_factor_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    by_value, by_factor = _constant_volume_slopes(x, p["gauge_factor"])
    error = p["law_error"]
    return 1 + error * (by_value - 1), {
        "gauge_factor": error * by_factor,
        "law_error": _constant_volume(x, p["gauge_factor"]) - x,
    }


def _law_constant_volume(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    strain = _constant_volume(x, p["gauge_factor"])
    if _is(p["law_error"], 0.0):
        return strain
    return strain + p["law_error"] * (x - strain)


def _law_constant_volume_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    by_value, by_factor = _constant_volume_slopes(x, p["gauge_factor"])
    kept = 1 - p["law_error"]
    return kept * by_value + p["law_error"], {
        "gauge_factor": kept * by_factor,
        "law_error": x - _constant_volume(x, p["gauge_factor"]),
    }


def _installation(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return x if _is(p["installation_factor"], 1.0) else x * p["installation_factor"]


def _installation_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    return np.full_like(x, p["installation_factor"]), {"installation_factor": x}


def _alignment(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return x / (1 - (1 + p["poisson_ratio"]) * p["mean_squared_sine"])


def _alignment_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    nu, sine = p["poisson_ratio"], p["mean_squared_sine"]
    kept = 1 - (1 + nu) * sine
    return np.full_like(x, 1 / kept), {
        "poisson_ratio": x * sine / kept**2,
        "mean_squared_sine": x * (1 + nu) / kept**2,
    }


def _alignment_check(p: Values) -> None:
    if (1 + p["poisson_ratio"]) * p["mean_squared_sine"] >= 0.5:
        raise InputError("mean_squared_sine", p["mean_squared_sine"], "small: gauge along the bar")


def _transverse(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    side = p["transverse_sensitivity"]
    return x * ((1 - p["card_poisson_ratio"] * side) / (1 - p["poisson_ratio"] * side))


def _transverse_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    side, nu, card = p["transverse_sensitivity"], p["poisson_ratio"], p["card_poisson_ratio"]
    kept = 1 - nu * side
    factor = (1 - card * side) / kept
    return np.full_like(x, factor), {
        "transverse_sensitivity": x * (nu - card) / kept**2,
        "card_poisson_ratio": -x * side / kept,
        "poisson_ratio": x * factor * side / kept,
    }


_POWERS = ("c0", "c1", "c2", "c3", "c4")


def _card_curve(temperature: FloatArray, p: Values) -> FloatArray:
    total = p["c4"] * temperature
    for name in ("c3", "c2", "c1"):
        total = (total + p[name]) * temperature
    return np.asarray(total + p["c0"])


def _card_slope(temperature: FloatArray, p: Values) -> FloatArray:
    total = 4 * p["c4"] * temperature
    for power, name in ((3, "c3"), (2, "c2")):
        total = (total + power * p[name]) * temperature
    return np.asarray(total + p["c1"])


def _in_span(p: Values, c: Columns) -> FloatArray:
    temperature = c["temperature_degc"]
    inside = (temperature >= p["span_low_degc"]) & (temperature <= p["span_high_degc"])
    return np.where(inside, temperature, np.nan)


def _warmth(p: Values, c: Columns) -> FloatArray:
    temperature = _in_span(p, c)
    zero = np.asarray(p["temperature_zero_degc"])
    card = (_card_curve(temperature, p) - _card_curve(zero, p)) * (
        p["card_gauge_factor"] / p["gauge_factor"]
    )
    expansion = p["thermal_expansion"] - p["card_thermal_expansion"] + p["slope_error"]
    return np.asarray(card + expansion * (temperature - zero))


def _less(x: FloatArray, part: FloatArray) -> FloatArray:
    return x - part


def _thermal_output(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return _less(x, _warmth(p, c))


def _thermal_output_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    temperature = _in_span(p, c)
    zero = np.asarray(p["temperature_zero_degc"])
    warmer = temperature - zero
    curve = _card_curve(temperature, p) - _card_curve(zero, p)
    scale = p["card_gauge_factor"] / p["gauge_factor"]
    expansion = p["thermal_expansion"] - p["card_thermal_expansion"] + p["slope_error"]
    parts = {
        name: -scale * (temperature**power - zero**power) for power, name in enumerate(_POWERS)
    }
    parts |= {
        "card_gauge_factor": -curve / p["gauge_factor"],
        "gauge_factor": curve * scale / p["gauge_factor"],
        "thermal_expansion": -warmer,
        "card_thermal_expansion": warmer,
        "slope_error": -warmer,
        "temperature_zero_degc": scale * _card_slope(zero, p) + expansion + 0 * warmer,
        "temperature_degc": -(scale * _card_slope(temperature, p) + expansion),
    }
    return np.where(np.isnan(temperature), np.nan, np.ones_like(x)), parts


def _thermal_output_check(p: Values) -> None:
    if not p["span_low_degc"] < p["span_high_degc"]:
        raise InputError("span_high_degc", p["span_high_degc"], "above span_low_degc")
    if not p["span_low_degc"] <= p["temperature_zero_degc"] <= p["span_high_degc"]:
        raise InputError(
            "temperature_zero_degc",
            p["temperature_zero_degc"],
            f"from {p['span_low_degc']} to {p['span_high_degc']} degC, the span of the curve",
            "measure the thermal output over the span you need, or use a dummy gauge",
        )


def _less_dummy(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return x - c["dummy_strain"]


def _less_dummy_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    return np.ones_like(x), {"dummy_strain": np.full_like(x, -1.0)}


def _lead_temperature(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    warmer = c["lead_temperature_degc"] - p["lead_temperature_zero_degc"]
    change = 2 * p["lead_resistance"] * p["lead_temperature_coefficient"]
    return x - change / (p["gauge_factor"] * p["gauge_resistance"]) * warmer


def _lead_temperature_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    warmer = c["lead_temperature_degc"] - p["lead_temperature_zero_degc"]
    lead, coefficient = p["lead_resistance"], p["lead_temperature_coefficient"]
    scale = 2 / (p["gauge_factor"] * p["gauge_resistance"])
    apparent = scale * lead * coefficient * warmer
    per_kelvin = np.full_like(apparent, scale * lead * coefficient)
    return np.ones_like(x), {
        "lead_resistance": -scale * coefficient * warmer,
        "lead_temperature_coefficient": -scale * lead * warmer,
        "gauge_factor": apparent / p["gauge_factor"],
        "gauge_resistance": apparent / p["gauge_resistance"],
        "lead_temperature_zero_degc": per_kelvin,
        "lead_temperature_degc": -per_kelvin,
    }


def _drift_share(p: Values, c: Columns) -> FloatArray:
    time = c["time"]
    share = (time - p["time_first_zero"]) / (p["time_last_zero"] - p["time_first_zero"])
    return np.where((share >= 0) & (share <= 1), share, np.nan)


def _drift_between_zeros(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return x - p["drift_strain"] * _drift_share(p, c)


def _drift_between_zeros_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    share = _drift_share(p, c)
    rate = p["drift_strain"] / (p["time_last_zero"] - p["time_first_zero"])
    return np.where(np.isnan(share), np.nan, np.ones_like(x)), {
        "drift_strain": -share,
        "time": np.where(np.isnan(share), np.nan, -rate),
    }


def _drift_check(p: Values) -> None:
    if not p["time_first_zero"] < p["time_last_zero"]:
        raise InputError("time_last_zero", p["time_last_zero"], "after time_first_zero")


def _less_reference(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return x - c["reference_strain"]


def _less_reference_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    return np.ones_like(x), {"reference_strain": np.full_like(x, -1.0)}


def _zero_stability(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return x if _is(p["zero_offset"], 0.0) else x + p["zero_offset"]


def _zero_stability_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    return np.ones_like(x), {"zero_offset": np.ones_like(x)}


def _insulation(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return x if _is(p["leak_strain"], 0.0) else x + p["leak_strain"]


def _insulation_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    return np.ones_like(x), {"leak_strain": np.ones_like(x)}


def _flat_to_bar(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return x * (p["net_area"] / p["area"])


def _flat_to_bar_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    net, whole = p["net_area"], p["area"]
    return np.full_like(x, net / whole), {"net_area": x / whole, "area": -x * net / whole**2}


def _initial_strain(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return x + p["initial_strain"]


def _initial_strain_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    return np.ones_like(x), {"initial_strain": np.ones_like(x)}


_POISSON = Parameter("poisson_ratio", "1", "of the metal", "from 0 to 0.5")
_GAUGE_FACTOR = Parameter("gauge_factor", "1", "of the gauge alone", "a positive number")
_LAW = (
    _GAUGE_FACTOR,
    Parameter("law_error", "1", "0 this law, 1 the other one; carries the doubt between them"),
)
_ZERO_TEMPERATURE = Parameter("temperature_zero_degc", "degC", "temperature at the zero")

MECHANICAL_KINDS = (
    StageKind(
        "large strain, not declared@1",
        "large strain",
        "strain as it is up to a limit; nothing beyond, until the pack's law is declared",
        (Parameter("strain_limit", "1", "largest strain shown", "a positive number", True),),
        _undeclared,
        _undeclared_partials,
        stops="beyond the limit up to which no large-strain law is needed, and none is declared",
    ),
    StageKind(
        "large strain, constant gauge factor@1",
        "large strain",
        "engineering strain where R/R0 = 1 + kε",
        _LAW,
        _law_constant_factor,
        _law_constant_factor_partials,
        stops="no strain gives that change of resistance",
    ),
    StageKind(
        "large strain, constant-volume grid@1",
        "large strain",
        "engineering strain where R/R0 = (1 + ε)^k, which is a grid of constant volume for k = 2",
        _LAW,
        _law_constant_volume,
        _law_constant_volume_partials,
        stops="no strain gives that change of resistance",
    ),
    StageKind(
        "installation@1",
        "installation",
        "strain times a factor that is 1 unless known: carries the scatter from gauge to gauge",
        (Parameter("installation_factor", "1", "true over shown", "a positive number"),),
        _installation,
        _installation_partials,
    ),
    StageKind(
        "alignment@1",
        "alignment",
        "ε / (1 - (1 + ν) sin²φ), gauge along a bar in pure tension",
        (
            _POISSON,
            Parameter("mean_squared_sine", "1", "of the angle between grid and bar", "0 or more"),
        ),
        _alignment,
        _alignment_partials,
        check=_alignment_check,
    ),
    StageKind(
        "transverse, uniaxial@1",
        "transverse",
        "ε (1 - ν_0 K_t)/(1 - ν K_t), stress along the grid only",
        (
            Parameter("transverse_sensitivity", "1", "response across over response along"),
            Parameter("card_poisson_ratio", "1", "of the card's test metal", "from 0 to 0.5"),
            _POISSON,
        ),
        _transverse,
        _transverse_partials,
    ),
    StageKind(
        "thermal output@1",
        "temperature",
        "ε - {[ε_T(T) - ε_T(T_0)] k_card/k + (α - α_card)(T - T_0)}: what is left is mechanical",
        (
            Parameter("c0", "1", "card's curve at 0 degC"),
            Parameter("c1", "1/K", "coefficient of T"),
            Parameter("c2", "1/K^2", "coefficient of T²"),
            Parameter("c3", "1/K^3", "coefficient of T³"),
            Parameter("c4", "1/K^4", "coefficient of T⁴"),
            Parameter(
                "card_gauge_factor", "1", "set where the curve was taken", "a positive number"
            ),
            _GAUGE_FACTOR,
            Parameter("thermal_expansion", "1/K", "of the metal"),
            Parameter("card_thermal_expansion", "1/K", "of the card's test metal"),
            Parameter("slope_error", "1/K", "0 unless known: carries the doubt about the curve"),
            _ZERO_TEMPERATURE,
            Parameter("span_low_degc", "degC", "where the curve begins", fixed=True),
            Parameter("span_high_degc", "degC", "where the curve ends", fixed=True),
        ),
        _thermal_output,
        _thermal_output_partials,
        columns=("temperature_degc",),
        split=Split(_warmth, _less),
        stops="temperature missing or outside the span of the card's curve",
        check=_thermal_output_check,
    ),
    StageKind(
        "dummy@1",
        "temperature",
        "ε less the strain of an unstressed gauge on the same metal at the same temperature",
        (),
        _less_dummy,
        _less_dummy_partials,
        columns=("dummy_strain",),
        stops="no value of the dummy gauge",
    ),
    StageKind(
        "lead temperature, two wires@1",
        "lead temperature",
        "ε - 2 r_L α_L (T_L - T_L0)/(k R_g), after the lead loss has been made good",
        (
            Parameter("lead_resistance", "ohm", "of one lead wire, one way", "0 or more"),
            Parameter("lead_temperature_coefficient", "1/K", "of the lead's resistance"),
            _GAUGE_FACTOR,
            Parameter("gauge_resistance", "ohm", "of the grid", "a positive number"),
            Parameter("lead_temperature_zero_degc", "degC", "of the lead at the zero"),
        ),
        _lead_temperature,
        _lead_temperature_partials,
        columns=("lead_temperature_degc",),
        stops="no temperature of the lead",
    ),
    StageKind(
        "drift, between two zeros@1",
        "drift",
        "ε less the change from the first zero to the last, in proportion to time",
        (
            Parameter("time_first_zero", "s", "when the first zero was taken", fixed=True),
            Parameter("time_last_zero", "s", "when the last zero was taken", fixed=True),
            Parameter("drift_strain", "1", "last zero less first zero, as strain"),
        ),
        _drift_between_zeros,
        _drift_between_zeros_partials,
        columns=("time",),
        stops="before the first zero or after the last one",
        check=_drift_check,
    ),
    StageKind(
        "drift, reference channel@1",
        "drift",
        "ε less the strain of a channel that is known not to be loaded",
        (),
        _less_reference,
        _less_reference_partials,
        columns=("reference_strain",),
        stops="no value of the reference channel",
    ),
    StageKind(
        "zero stability@1",
        "zero stability",
        "ε plus an offset that is 0 unless known: carries drift of the zero and remade contacts",
        (Parameter("zero_offset", "1", "to be added"),),
        _zero_stability,
        _zero_stability_partials,
    ),
    StageKind(
        "insulation@1",
        "insulation",
        "ε plus what a leak took away, 0 unless known",
        (Parameter("leak_strain", "1", "to be added; a leak reads as compression"),),
        _insulation,
        _insulation_partials,
    ),
    StageKind(
        "flat to bar@1",
        "section",
        "ε A_net/A: the same force in the whole bar, elastic",
        (
            Parameter("net_area", "m^2", "area left at the gauge", "a positive number"),
            Parameter("area", "m^2", "area of the whole bar", "a positive number"),
        ),
        _flat_to_bar,
        _flat_to_bar_partials,
    ),
    StageKind(
        "initial strain@1",
        "initial strain",
        "ε plus what the bar carried at the zero: restrained shrinkage, dead load",
        (Parameter("initial_strain", "1", "to be added, compression negative"),),
        _initial_strain,
        _initial_strain_partials,
    ),
)
