"""What should the calibration resistor show across one arm of a half or a full bridge?"""

from collections.abc import Mapping

import numpy as np

from gaugewright.calc import bridge, far_bridge, indication
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.present.circuit_drawing import Arm, bridge_of_arms
from gaugewright.quantities import FloatArray
from gaugewright.services.answering.arms import ARMS, arm_change
from gaugewright.services.answering.parts import (
    Answer,
    Given,
    brief,
    number,
    propagated,
    step_judged,
)

__all__ = ["answer"]

_TERMINALS = (
    "resistor at the terminals: its current runs in signal and excitation wires; full bridge "
    "−(R + 2r)/(2(R + 3r + 2R_s)), half bridge −(R + 3r)/(2(R + 3r + 2R_s))",
)
_TAKES_POISSON = ("half-poisson", "full-axial")


def answer(told: Given, shown: str) -> Answer:
    """Step to expect with the resistor across arm 1, at the bridge or at the channel.

    Raises
    ------
    InputError
        If something can't be.
    """
    circuit, shows = told.words["circuit"], told.words["shows"]
    if shows == "linearised":
        raise InputError("circuit", circuit, "a quarter bridge where the channel undoes its curve")
    at_terminals = told.words["resistor_at"] == "terminals"
    _refuse_unwired(told, circuit, at_terminals)
    names = ["shunt_resistance", "gauge_resistance", "gauge_factor", "lead_resistance"]
    names += ["poisson_ratio"] if circuit in _TAKES_POISSON else []

    def step(values: Mapping[str, float]) -> FloatArray:
        return _as_shown(told, _ratio(told, values, circuit), shows)

    expected = propagated(step, told.only(*names))
    stands_for = propagated(lambda values: _strain(told, values, circuit), told.only(*names))
    _drop_what_plays_no_part(told, circuit)
    first = number("Step to expect", expected, shown, told.system, sign=True)
    strain = number("Stands for", stands_for, "strain", told.system, sign=True)
    return Answer(
        "shunt",
        f"The channel should move by {first.shown.text}, the resistor across arm 1 at the "
        f"{'terminals of the channel' if at_terminals else 'bridge'}.",
        (first, strain),
        _cautions(told, expected),
        told.assumed,
        (
            "gain of the channel",
            "what an instrument’s own input draws",
        ),
        (
            "arm 1 falls by R/(R + R_s); voltage division of the four arms, exact",
            "four wires: the bridge gets R_b/(R_b + 2r) of the excitation, R_b with the resistor "
            "in it; three wires of a half bridge, or of each opposite arm: r in the arm; six "
            "wires: nothing is lost",
            *(_TERMINALS if at_terminals else ()),
            "doubt: JCGM 100:2008, 5.1.3, expanded for 95 %",
        ),
        _drawing(told, circuit),
    )


def _fall(values: Mapping[str, float]) -> float:
    """Relative change of an arm with the resistor across it."""
    grid = values["gauge_resistance"]
    return -grid / (grid + values["shunt_resistance"])


def _ratio(told: Given, values: Mapping[str, float], circuit: str) -> FloatArray:
    """Output over supply at the instrument."""
    fall, grid, wire = _fall(values), values["gauge_resistance"], values["lead_resistance"]
    if told.words["resistor_at"] == "terminals":
        step = far_bridge.terminal_shunt_ratio_full
        if circuit.startswith("half"):
            step = far_bridge.terminal_shunt_ratio_half
        return step(values["shunt_resistance"], grid, wire)
    is_sensed = told.words["sense"] == "yes"
    if circuit.startswith("half"):
        # The outer wires lie in the two arms, so the arm is longer and its change smaller.
        change = fall if is_sensed else fall * grid / (grid + wire)
        return bridge.four_arm_ratio([change, 0.0, 0.0, 0.0])
    arms = [fall, 0.0, 0.0, 0.0]
    ratio = bridge.four_arm_ratio(arms)
    if is_sensed:
        return ratio
    return ratio * far_bridge.supply_share(far_bridge.corner_resistance(arms, grid), wire, wire)


def _strain(told: Given, values: Mapping[str, float], circuit: str) -> FloatArray:
    """Strain of the bar that would give the same ratio at the bridge."""
    ratio = bridge.four_arm_ratio([_fall(values), 0.0, 0.0, 0.0])
    if told.words["resistor_at"] == "terminals":
        # What the channel shows, with the loss that strain of the bar would have in the wires.
        grid, wire = values["gauge_resistance"], values["lead_resistance"]
        lost = (grid + (wire if circuit.startswith("half") else 2 * wire)) / grid
        ratio = _ratio(told, values, circuit) * lost
    change = arm_change(circuit, ratio, values.get("poisson_ratio", 0.0))
    return np.asarray(change / values["gauge_factor"])


def _refuse_unwired(told: Given, circuit: str, at_terminals: bool) -> None:
    """Circuits whose wires aren't known well enough for the question."""
    is_sensed = told.words["sense"] == "yes"
    if at_terminals and (is_sensed or circuit == "half-opposite"):
        what = "six wires" if is_sensed else "opposite arms, each on a lead of its own"
        raise InputError(
            "resistor_at", f"terminals with {what}", "bridge", "put it across the arm itself"
        )
    if is_sensed and circuit == "half-opposite":
        raise InputError("sense", "yes", "no for opposite arms, whose leads lie in the arms")


def _as_shown(told: Given, ratio: FloatArray, shows: str) -> FloatArray:
    if shows == "ratio":
        return ratio
    return indication.linear_indication(ratio, told.at("set_gauge_factor"))


def _drop_what_plays_no_part(told: Given, circuit: str) -> None:
    told.drop_assumed("position", "wiring")
    if circuit not in _TAKES_POISSON:
        told.drop_assumed("poisson_ratio")
    if told.at("lead_resistance") == 0:
        told.drop_assumed("sense")


def _cautions(told: Given, expected: Uncertain) -> tuple[str, ...]:
    said = ["Scale by the resistor or correct for the wires, never both"]
    if told.has("found"):
        said.insert(0, step_judged(told, expected))
    return tuple(said)


def _drawing(told: Given, circuit: str) -> str:
    first, second, third, fourth = (Arm(words or "fixed", bool(words)) for words in ARMS[circuit])
    resistor = brief("shunt_resistance", told.at("shunt_resistance"), told.system, 4)
    label = f"Bridge, {circuit.replace('-', ' ')}, with the calibration resistor across arm 1"
    return bridge_of_arms((first, second, third, fourth), "", "r", label, shunt=resistor)
