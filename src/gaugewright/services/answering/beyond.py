"""What stands between a grid's change and the strain of its bar: heat, lie, sideways, large strain.

Each is a value of the question with its own doubt; what wasn't typed is assumed and said so.
"""

import math
from collections.abc import Mapping

from gaugewright.calc import gauge, grid_lay, large_strain
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.services.answering.parts import Given

__all__ = [
    "SINE",
    "arguments",
    "corrected",
    "factor_at",
    "lie_of_grids",
    "refuse_undeclared",
    "sources",
    "with_law",
]

SINE = "mean_squared_sine"
UNDECLARED_FROM = 0.01
_NAMES = ("gauge_factor_slope", "thermal_output", "transverse_sensitivity", "poisson_ratio")
_ALWAYS = ("card_gauge_factor", "calibration_poisson_ratio", "gauge_factor_temperature")


def lie_of_grids(told: Given) -> Uncertain:
    """sin² of the angle between grid and bar, with the one-sided doubt of an angle near nothing.

    For an angle φ with standard uncertainty u, small: mean φ² + u², and
    standard uncertainty √(4 φ² u² + 2 u⁴).
    """
    angle = told["misalignment"]
    best, spread = float(angle.value), float(angle.standard_uncertainty())
    mean = math.sin(best) ** 2 + spread**2
    doubt = math.sqrt(4 * best**2 * spread**2 + 2 * spread**4)
    if not doubt:
        return Uncertain.exact(mean)
    (cause,) = angle.inputs.values()
    lie = InputQuantity(
        SINE, doubt, degrees_of_freedom=1.0, basis=cause.basis, meaning="angle of the grid"
    )
    return Uncertain.from_input(mean, lie)


def arguments(told: Given) -> dict[str, Uncertain]:
    """Everything that these corrections take, with its doubt."""
    names = [name for name in (*_NAMES, *_ALWAYS, "temperature") if told.has(name)]
    return {**told.only(*names), SINE: lie_of_grids(told)}


def factor_at(values: Mapping[str, float]) -> FloatArray:
    """Gauge factor at the temperature of the reading; that of the card where none was typed."""
    stated_at = values["gauge_factor_temperature"]
    return gauge.gauge_factor_at(
        values["gauge_factor"],
        values["gauge_factor_slope"],
        values.get("temperature", stated_at),
        stated_at,
    )


def corrected(
    told: Given, grid_change: FloatArray, values: Mapping[str, float], *, is_thermal: bool
) -> FloatArray:
    """Strain of the bar from the relative change of a grid along it."""
    factor = factor_at(values)
    indicated = large_strain.strain_constant_factor(grid_change, factor)
    if told.words["large_strain_law"] == "constant-volume":
        indicated = indicated - large_strain.large_strain_difference(grid_change, factor)
    strain = grid_lay.bar_strain(
        indicated,
        values["transverse_sensitivity"],
        values[SINE],
        values["poisson_ratio"],
        values["calibration_poisson_ratio"],
    )
    if is_thermal:
        # A card's curve is at its own gauge factor, the reading at that of the pack.
        strain = strain - values["thermal_output"] * values["card_gauge_factor"] / factor
    return strain


def with_law(told: Given, strain: Uncertain, grid_change: float, factor: float) -> Uncertain:
    """The same strain with the doubt of which law the grid follows, where one was chosen."""
    if told.words["large_strain_law"] == "none":
        return strain
    between = float(large_strain.large_strain_difference(grid_change, factor))
    law = InputQuantity(
        "large_strain_law",
        1 / math.sqrt(3),
        distribution="rectangular",
        basis="assumed",
        meaning="which law the grid follows at large strain",
    )
    return strain + Uncertain.from_input(0.0, law, between)


def refuse_undeclared(told: Given, strain: float) -> None:
    """Stop above one per cent until somebody says which law the grid follows.

    Raises
    ------
    InputError
        If the strain is larger and no law was chosen.
    """
    if told.words["large_strain_law"] == "none" and abs(strain) > UNDECLARED_FROM:
        raise InputError(
            "large_strain_law",
            "not chosen",
            "chosen for a reading beyond 10 000 µε, where the gauge factor changes with strain",
            "ask the pack's maker, or try both: the difference is part of the doubt",
        )


def sources(told: Given, *, is_thermal: bool) -> tuple[str, ...]:
    """Where the formulas stand, for those that were used."""
    found = [
        "transverse sensitivity K: e (1 − ν₀K)/(a − K b) with the strains along and across the "
        "grid (ASTM E1561, from memory); angle φ: a = 1 − (1 + ν) sin² φ, b = ν − (1 + ν) sin² φ, "
        "by Mohr’s circle",
    ]
    if told.has("temperature"):
        found.append("gauge factor at temperature: k (1 + β (T − T_ref)), as cards state it")
    if is_thermal and told.at("thermal_output"):
        found.append("thermal output: that of the card times its gauge factor over k, taken off")
    if told.words["large_strain_law"] != "none":
        found.append(
            "large strain: engineering strain, by the law chosen, scaled to k at the start"
        )
    return tuple(found)
