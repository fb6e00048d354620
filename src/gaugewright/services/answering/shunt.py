"""What should the calibration resistor show: the step at each place it can be connected."""

from collections.abc import Mapping

from gaugewright.calc import shunt, shunt_reading
from gaugewright.calc.shunt import POSITIONS, QuarterCircuit, ShuntPosition
from gaugewright.calc.shunt_reading import ChannelScale
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.present.captions import listed
from gaugewright.present.circuit_drawing import Quarter, quarter_bridge
from gaugewright.present.units_shown import System
from gaugewright.services.answering import shunt_bridge as answer_shunt_bridge
from gaugewright.services.answering.asks import SHUNT
from gaugewright.services.answering.parts import (
    Answer,
    Given,
    Number,
    Row,
    agrees,
    brief,
    given,
    number,
    propagated,
    step_judged,
)

__all__ = ["answer"]

_UNKNOWN = "unknown"
_NAMES = ("shunt_resistance", "gauge_resistance", "gauge_factor", "lead_resistance")


def answer(typed: Mapping[str, str], system: System = "si") -> Answer:
    """Step to expect from a calibration resistor.

    Raises
    ------
    InputError
        If something is missing or can't be.
    Faults
        If several things are.
    """
    shows = typed.get("shows") or "ratio"
    shown = "bridge_ratio" if shows == "ratio" else "indicated_strain"
    told = given(SHUNT, typed, system, {"found": shown})
    if shows != "ratio" and not told.has("set_gauge_factor"):
        raise told.missing("set_gauge_factor")
    if told.words["circuit"] != "quarter":
        return answer_shunt_bridge.answer(told, shown)
    told.drop_assumed("sense", "poisson_ratio", "resistor_at")
    if not told.has("completion_resistance"):
        told.assume("completion_resistance", "equal to the gauge")
    steps = {place: _step(told, place) for place in _places(told)}
    found = {place: number(place, step, shown, system, sign=True) for place, step in steps.items()}
    place = told.words["position"]
    numbers = _numbers(told, steps, shown, place)
    told.drop_assumed("position")
    return Answer(
        "shunt",
        _sentence(told, found, numbers, place),
        numbers,
        _cautions(told, steps, place),
        told.assumed,
        ("gain of the channel", "what insulation and a wrong gauge add to the step"),
        (
            "voltage division of the whole circuit with the resistor in it, exact with its wires",
            "doubt: JCGM 100:2008, 5.1.3, expanded for 95 %",
        ),
        _drawing(told, place),
        ("Place", "Step to expect", "Stands for a strain of"),
        tuple(_row(told, name, found[name], place) for name in found),
    )


def _places(told: Given) -> tuple[ShuntPosition, ...]:
    if told.words["wiring"] == "three-wire":
        return tuple(POSITIONS)
    return ("T1-T2", "A-B", "completion-B")  # with two wires terminals B and C are one


def _circuit(told: Given, values: Mapping[str, float]) -> QuarterCircuit:
    grid, wire = values["gauge_resistance"], values["lead_resistance"]
    completion = values.get("completion_resistance", grid)
    sense = wire if told.words["wiring"] == "three-wire" else None
    return QuarterCircuit(grid, completion, wire, wire, sense)


def _scale(told: Given) -> ChannelScale:
    shows = told.words["shows"]
    if shows == "ratio":
        return ChannelScale("ratio")
    factor = told.at("set_gauge_factor")
    if shows == "strain":
        return ChannelScale("strain, straight line", factor)
    return ChannelScale("strain, linearised", factor)


def _arguments(told: Given) -> dict[str, Uncertain]:
    names = [*_NAMES]
    names += ["completion_resistance"] if told.has("completion_resistance") else []
    return told.only(*names)


def _step(told: Given, place: ShuntPosition) -> Uncertain:
    scale = _scale(told)

    def step(values: Mapping[str, float]) -> float:
        circuit = _circuit(told, values)
        resistor = values["shunt_resistance"]
        return float(shunt_reading.expected_reading(circuit, place, resistor, scale).step)

    return propagated(step, _arguments(told))


def _equivalent(told: Given, place: ShuntPosition) -> Uncertain:
    def strain(values: Mapping[str, float]) -> float:
        circuit = _circuit(told, values)
        resistor, factor = values["shunt_resistance"], values["gauge_factor"]
        return float(shunt.equivalent_strain(circuit, place, resistor, factor))

    return propagated(strain, _arguments(told))


def _numbers(
    told: Given, steps: Mapping[ShuntPosition, Uncertain], shown: str, place: str
) -> tuple[Number, ...]:
    system = told.system
    if place != _UNKNOWN:
        known = _known(told, place)
        return (
            number("Step to expect", steps[known], shown, system, sign=True),
            number("Stands for", _equivalent(told, known), "strain", system, sign=True),
        )
    order = sorted(steps.values(), key=lambda step: float(step.value))
    return (
        number("Lowest of them", order[0], shown, system, sign=True),
        number("Highest of them", order[-1], shown, system, sign=True),
    )


def _known(told: Given, place: str) -> ShuntPosition:
    for name in _places(told):
        if name == place:
            return name
    same: dict[str, ShuntPosition] = {"A-C": "A-B", "completion-C": "completion-B"}
    return same[place]


def _sentence(
    told: Given,
    found: Mapping[ShuntPosition, Number],
    numbers: tuple[Number, ...],
    place: str,
) -> str:
    if place == _UNKNOWN:
        low, high = (each.shown.text for each in numbers)
        return (
            f"Somewhere between {low} and {high}: the place of the resistor isn’t known, so no "
            "reading may be scaled by it."
        )
    known = _known(told, place)
    return f"The channel should move by {numbers[0].shown.text}, the resistor {_where(known)}."


def _where(place: ShuntPosition) -> str:
    return f"between {place.replace('-', ' and ')}" if place[0] in "TA" else POSITIONS[place]


def _cautions(told: Given, steps: Mapping[ShuntPosition, Uncertain], place: str) -> tuple[str, ...]:
    said = []
    if place in ("A-C", "A-B", "completion-C"):
        said.append(
            "At this place the step holds little or nothing of what the wires take: a factor made "
            "from it without their resistance corrects for them in the wrong way"
        )
    if place != _UNKNOWN and told.has("found"):
        said.append(step_judged(told, steps[_known(told, place)]))
    if told.has("found"):
        said.append(_explained(told, steps))
    said.append("Scale by the resistor or correct for the wires, never both")
    return tuple(said)


def _explained(told: Given, steps: Mapping[ShuntPosition, Uncertain]) -> str:
    agree = [place for place, step in steps.items() if agrees(told, step)]
    if not agree:
        return (
            "The step found agrees with none of the places: look at the gauge factor set, the "
            "resistor, a leak, and whether it is this channel"
        )
    return f"The step found agrees with the resistor at {listed(agree)}"


def _row(told: Given, place: ShuntPosition, step: Number, chosen: str) -> Row:
    strain = number("", _equivalent(told, place), "strain", told.system, sign=True)
    is_here = chosen != _UNKNOWN and _known(told, chosen) == place
    return Row(f"{place}: {POSITIONS[place]}", (step.shown.text, strain.shown.text), is_here)


def _drawing(told: Given, place: str) -> str:
    def words(name: str) -> str:
        quantity = told.ask(name).quantity
        return brief(quantity, told.at(name), told.system, 4)

    wire = words("lead_resistance") if told.at("lead_resistance") else ""
    has_completion = told.has("completion_resistance")
    parts = Quarter(
        gauge=words("gauge_resistance"),
        lead_a=wire,
        lead_b=wire,
        lead_c=wire,
        completion=words("completion_resistance" if has_completion else "gauge_resistance"),
        shunt=words("shunt_resistance") if place != _UNKNOWN else "?",
        shunts=_places(told) if place == _UNKNOWN else (place,),
        is_two_wire=told.words["wiring"] == "two-wire",
    )
    label = "Quarter bridge with the calibration resistor "
    label += "at a place not known" if place == _UNKNOWN else f"at {place}"
    return quarter_bridge(parts, label)
