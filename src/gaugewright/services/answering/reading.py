"""What does this reading mean: from the number shown to the strain of the grid."""

import math
from collections.abc import Mapping

import numpy as np

from gaugewright.calc import bridge, grid_lay, indication, leads
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError
from gaugewright.present.circuit_drawing import Arm, Quarter, bridge_of_arms, quarter_bridge
from gaugewright.present.units_shown import System
from gaugewright.quantities import FloatArray
from gaugewright.services.answering import beyond as answer_beyond
from gaugewright.services.answering.arms import ARMS, arm_change
from gaugewright.services.answering.asks import READING
from gaugewright.services.answering.parts import (
    Answer,
    Given,
    Number,
    brief,
    given,
    number,
    percent,
    propagated,
)

__all__ = ["answer"]

# Where both grids are in neighbouring arms, what temperature does to them goes out.
_THERMAL = ("three-wire", "two-wire", "half-opposite")
_WIRES = {"three-wire": 1, "two-wire": 2}
_QUARTER = (
    "quarter bridge, exact: x = 4r/(1 − 2r) by voltage division; since the zero "
    "(1 + x)/(1 + x₀) − 1"
)
_FORMULAS = {
    "three-wire": _QUARTER,
    "two-wire": _QUARTER,
    "half-bending": "two neighbouring arms +x and −x, exact: x = 2r by voltage division",
    "half-poisson": "arms x and −νx, exact: x = 4r/((1 + ν) − 2r(1 − ν)) by voltage division",
    "half-opposite": "two opposite arms alike, exact: x = 2r/(1 − r) by voltage division",
    "full-bending": "four arms ±x, exact: x = r by voltage division",
    "full-axial": "arms x, −νx, x, −νx, exact: x = 2r/((1 + ν) − r(1 − ν)) by voltage division",
}


def answer(typed: Mapping[str, str], system: System = "si") -> Answer:
    """Strain behind a reading, with its doubt.

    Raises
    ------
    InputError
        If something is missing or can't be.
    Faults
        If several things are.
    """
    shows = typed.get("shows") or "ratio"
    shown = "bridge_ratio" if shows == "ratio" else "indicated_strain"
    told = given(READING, typed, system, {"reading": shown, "zero": shown})
    circuit = told.words["circuit"]
    if shows != "ratio" and not told.has("set_gauge_factor"):
        raise told.missing("set_gauge_factor")
    if shows == "linearised" and circuit not in _WIRES:
        raise InputError("circuit", circuit, "a quarter bridge where the channel undoes its curve")
    names = ["reading", "zero", "gauge_factor", "gauge_resistance", "lead_resistance"]
    arguments = {**told.only(*names), **answer_beyond.arguments(told)}

    def change(values: Mapping[str, float]) -> FloatArray:
        return _change(told, values, shows, circuit)

    def strain(values: Mapping[str, float]) -> FloatArray:
        is_thermal = circuit in _THERMAL
        return answer_beyond.corrected(told, change(values), values, is_thermal=is_thermal)

    best = {name: float(value.value) for name, value in arguments.items()}
    moved, factor = float(change(best)), float(answer_beyond.factor_at(best))
    if not math.isfinite(moved):
        raise InputError("reading", typed.get("reading", ""), "one that some resistance gives")
    answer_beyond.refuse_undeclared(told, moved / factor)
    grid = propagated(lambda values: change(values) / answer_beyond.factor_at(values), arguments)
    bar = answer_beyond.with_law(told, propagated(strain, arguments), moved, factor)
    whole = _with_installation(bar, told.at("installation") / 100)
    _drop_what_plays_no_part(told, circuit, shows)
    return _answer(told, grid, whole, shows, circuit)


def _ratio(told: Given, reading: float, shows: str) -> FloatArray:
    """Bridge output behind what the channel shows."""
    if shows == "ratio":
        return np.asarray(reading)
    factor = told.at("set_gauge_factor")
    if shows == "strain":
        return indication.bridge_ratio_from_linear_indication(reading, factor)
    return indication.bridge_ratio_from_linearised_indication(reading, factor)


def _change(told: Given, values: Mapping[str, float], shows: str, circuit: str) -> FloatArray:
    now, before = (_ratio(told, values[name], shows) for name in ("reading", "zero"))
    if circuit in _WIRES:
        change = bridge.relative_arm_change(
            bridge.quarter_bridge_arm_change(now), bridge.quarter_bridge_arm_change(before)
        )
        grid, wire = values["gauge_resistance"], values["lead_resistance"]
        return leads.grid_change(change, grid, wire, _WIRES[circuit])
    seen = grid_lay.contraction_seen(
        values["poisson_ratio"], values["transverse_sensitivity"], values[answer_beyond.SINE]
    )
    ends = [arm_change(circuit, ratio, float(seen)) for ratio in (now, before)]
    change = ends[0] - ends[1]
    grid, wire = values["gauge_resistance"], values["lead_resistance"]
    if told.words["sense"] == "yes":
        return change  # the ratio is to the supply at the bridge itself
    if circuit.startswith("full"):
        change = change / leads.excitation_lead_sensitivity(grid, wire)
    else:
        # The outer wires lie in the two arms, the middle one in the signal.
        change = change / leads.lead_sensitivity(grid, wire, 1)
    return change


def _with_installation(strain: Uncertain, spread: float) -> Uncertain:
    """Strain of the bar: what the grid shows, and how well grids are known to follow bars."""
    if not 0 <= spread < 1:
        raise InputError("installation", 100 * spread, "0 to 100 %")
    cause = InputQuantity(
        "installation", spread, basis="assumed", meaning="the scatter of installation"
    )
    return strain + Uncertain.from_input(0.0, cause, float(strain.value))


def _drop_what_plays_no_part(told: Given, circuit: str, shows: str) -> None:
    if told.at("lead_resistance") == 0:
        told.drop_assumed("gauge_resistance", "sense")
    if circuit in _WIRES:
        told.drop_assumed("sense")
    if not told.has("temperature"):
        told.drop_assumed("gauge_factor_temperature", "gauge_factor_slope")
        told.assume("temperature", "that at which its gauge factor is stated")
    if circuit not in _THERMAL:
        told.drop_assumed("thermal_output", "card_gauge_factor")
    elif not told.at("thermal_output"):
        told.drop_assumed("card_gauge_factor")


def _answer(told: Given, grid: Uncertain, whole: Uncertain, shows: str, circuit: str) -> Answer:
    system = told.system
    strain = number("Strain of the bar", whole, "strain", system, sign=True)
    numbers = [strain, number("Indicated by the grid alone", grid, "strain", system, sign=True)]
    numbers += _beside(told, grid, shows, circuit)
    side = "tension" if strain.value >= 0 else "compression"
    return Answer(
        "reading",
        f"The bar is strained by {strain.shown.text}, {side}.",
        tuple(numbers),
        _cautions(float(grid.value)),
        told.assumed,
        _left_out(told, circuit),
        (
            _FORMULAS[circuit],
            "wires: share of the grid's change that the arm shows, R/(R + n r), exact",
            *answer_beyond.sources(told, is_thermal=circuit in _THERMAL),
            "doubt: JCGM 100:2008, 5.1.3, expanded for 95 %",
        ),
        _drawing(told, circuit),
    )


def _left_out(told: Given, circuit: str) -> tuple[str, ...]:
    found = ["what a flat adds to the strain at the gauge"]
    if told.words["sense"] == "yes" and circuit not in _WIRES:
        found.append("what an instrument’s own input draws through the sense wires")
    if "bending" in circuit or "poisson" in circuit or "axial" in circuit:
        found.append("a difference of temperature between the grids of the bridge")
    return tuple(found)


def _beside(told: Given, grid: Uncertain, shows: str, circuit: str) -> list[Number]:
    """Output behind the reading, and what curve and wires would have cost."""
    system = told.system
    found = []
    ratio = Uncertain.exact(float(_ratio(told, told.at("reading"), shows)))
    if shows != "ratio":
        found.append(number("Output behind it", ratio, "bridge_ratio", system, sign=True))
    if circuit in _WIRES:
        zero = float(_ratio(told, told.at("zero"), shows))
        change = 4 * (float(ratio.value) - zero)
        factor = told.at("gauge_factor")
        line = Uncertain.exact(change / factor / float(grid.value) - 1 if grid.value else 0.0)
        found.append(percent("Straight line 4r/k without wires would err by", line, sign=True))
    if told.at("lead_resistance") > 0 and circuit in _WIRES:
        share = leads.lead_sensitivity(
            told.at("gauge_resistance"), told.at("lead_resistance"), _WIRES[circuit]
        )
        found.append(percent("Wires take", Uncertain.exact(1 - float(share))))
    return found


def _cautions(strain: float) -> tuple[str, ...]:
    found = []
    if abs(strain) > 0.01:
        found.append("This is engineering strain: change of length over first length")
    if abs(strain) > 0.002:
        found.append("Reinforcing steel may have yielded: stress doesn’t follow from this alone")
    return tuple(found)


def _drawing(told: Given, circuit: str) -> str:
    resistance = brief("gauge_resistance", told.at("gauge_resistance"), told.system, 4)
    if circuit in _WIRES:
        wire = told.at("lead_resistance")
        words = brief("lead_resistance", wire, told.system) if wire else ""
        parts = Quarter(
            gauge=resistance if wire or "gauge_resistance" not in told.assumptions else "",
            lead_a=words,
            lead_b=words,
            lead_c=words,
            output="r",
            is_two_wire=circuit == "two-wire",
        )
        return quarter_bridge(parts, f"Quarter bridge, {circuit.replace('-', ' ')}")
    arms = [Arm(words or "fixed", bool(words)) for words in ARMS[circuit]]
    first, second, third, fourth = arms
    return bridge_of_arms((first, second, third, fourth), "", "r", f"Bridge: {circuit}")
