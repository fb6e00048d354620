"""What excitation can this grid bear: from its size and what carries its heat away."""

from collections.abc import Mapping
from dataclasses import dataclass

from gaugewright.calc import bridge, heating
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.present.circuit_drawing import Quarter, quarter_bridge
from gaugewright.present.numbers import Shown, significant_text
from gaugewright.present.units_shown import System
from gaugewright.services.answering.asks import EXCITATION
from gaugewright.services.answering.parts import (
    Answer,
    Given,
    Number,
    brief,
    given,
    number,
    number_in,
    propagated,
)

__all__ = ["DENSITIES", "answer"]

SIGNAL_STRAIN = 1e-6


@dataclass(frozen=True, slots=True)
class Density:
    """Heat per area of grid to plan with, from cautious to bold [W/m^2]."""

    low: float
    high: float


# Common practice, no source: the test at half excitation decides, not this table.
DENSITIES = {
    "bar": Density(3000.0, 8000.0),
    "thin": Density(1600.0, 3000.0),
    "aluminium": Density(8000.0, 15000.0),
    "concrete": Density(50.0, 800.0),
}


def answer(typed: Mapping[str, str], system: System = "si") -> Answer:
    """Excitation that a grid can bear.

    Raises
    ------
    InputError
        If something is missing or can't be.
    Faults
        If several things are.
    """
    told = given(EXCITATION, typed, system)
    metal = told.words["metal"]
    if (metal == "own") != told.has("power_density"):
        do = "choose a density of my own, or take the number out"
        raise InputError("power_density", typed.get("power_density", ""), "given with that", do)
    numbers = _numbers(told, metal)
    in_use = _in_use(told)
    if not in_use:
        told.drop_assumed("gauge_factor")
    return Answer(
        "excitation",
        _sentence(numbers, metal),
        (*numbers, *in_use),
        (
            "The test decides: halve the excitation; a zero that moves by more than 5 µε was "
            "warmed by it (common practice, no source)",
            *_too_warm(told, numbers),
        ),
        told.assumed,
        ("heat of neighbouring grids", "what the wires drop of the excitation"),
        (
            "half the excitation lies on each arm: V = 2 √(p A R), P = V²/(4R)",
            "power per grid area: common practice, no source" if metal != "own" else "as typed",
        ),
        _drawing(told, numbers),
    )


def _volts(told: Given, density: Uncertain) -> Uncertain:
    def volts(values: Mapping[str, float]) -> float:
        area = values["grid_length"] * values["grid_width"]
        resistance = values["gauge_resistance"]
        return float(
            heating.excitation_for_power_density(values["power_density"], area, resistance)
        )

    arguments = told.only("gauge_resistance", "grid_length", "grid_width")
    return propagated(volts, {**arguments, "power_density": density})


def _numbers(told: Given, metal: str) -> tuple[Number, ...]:
    if metal == "own":
        volts = _volts(told, told["power_density"])
        return (number("Excitation at that density", volts, "excitation", told.system),)
    density = DENSITIES[metal]
    return tuple(
        _planned(label, float(_volts(told, Uncertain.exact(power)).value))
        for label, power in (
            ("For static work, no more than", density.low),
            ("Never more than", density.high),
        )
    )


def _planned(label: str, volts: float) -> Number:
    """A number from a planning table: more than two digits would claim too much."""
    return Number(label, volts, None, "V", Shown(significant_text(volts, 2), "", "V"))


def _in_use(told: Given) -> tuple[Number, ...]:
    """What an excitation in use does to this grid, and what signal it gives."""
    if not told.has("excitation"):
        return ()
    heat = propagated(
        lambda v: float(heating.gauge_power(v["excitation"], v["gauge_resistance"])),
        told.only("excitation", "gauge_resistance"),
    )
    density = propagated(
        lambda v: (
            float(heating.gauge_power(v["excitation"], v["gauge_resistance"]))
            / (v["grid_length"] * v["grid_width"])
        ),
        told.only("excitation", "gauge_resistance", "grid_length", "grid_width"),
    )
    signal = propagated(
        lambda v: (
            v["excitation"] * float(bridge.quarter_bridge_ratio(v["gauge_factor"] * SIGNAL_STRAIN))
        ),
        told.only("excitation", "gauge_factor"),
    )
    return (
        number("Heat in the grid", heat, "power", told.system),
        number("Per area of grid", density, "power_density", told.system),
        number_in("Signal of 1 µε", signal, "V", (1e-6, "µV")),
    )


def _sentence(numbers: tuple[Number, ...], metal: str) -> str:
    if metal == "own":
        return f"That density allows {numbers[0].shown.text} at the bridge."
    low, high = (each.shown.text for each in numbers)
    return f"Plan with {low} for static work; {high} is the most this grid is given."


def _too_warm(told: Given, numbers: tuple[Number, ...]) -> tuple[str, ...]:
    if not told.has("excitation"):
        return ()
    used, most, static = told.at("excitation"), numbers[-1].value, numbers[0].value
    if used > most:
        return ("The excitation in use is above that: lower it, or prove it by the test",)
    if used > static:
        return ("The excitation in use lies between the two: the test must show that it holds",)
    return ()


def _drawing(told: Given, numbers: tuple[Number, ...]) -> str:
    resistance = brief("gauge_resistance", told.at("gauge_resistance"), told.system, 4)
    has_own = told.has("excitation")
    volts = told.at("excitation") if has_own else numbers[0].value
    supply = brief("excitation", volts, told.system)
    parts = Quarter(gauge=resistance, excitation=supply)
    return quarter_bridge(parts, f"Quarter bridge with {resistance} at {supply}")
