"""What a channel should show for its calibration resistor, and what its answer allows to say."""

from collections.abc import Mapping
from dataclasses import dataclass

from gaugewright.calc import shunt, shunt_reading
from gaugewright.calc.shunt import POSITIONS, QuarterCircuit, ShuntPosition
from gaugewright.calc.shunt_reading import ChannelScale
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.present.numbers import significant_text
from gaugewright.records import Entry
from gaugewright.records.electrical import (
    ChannelSetting,
    Connection,
    ReadingKind,
    ShuntStep,
    Topology,
)
from gaugewright.records.stated import Stated
from gaugewright.services.answer_parts import propagated
from gaugewright.services.book import Book
from gaugewright.services.causes import uncertain_of_stated
from gaugewright.services.chain_subject import Wired, wired_of
from gaugewright.services.reduction_results import COVERAGE

__all__ = ["ExpectedStep", "expected_steps", "quantity_of", "verdict"]

QUARTERS = (Topology.QUARTER_TWO_WIRE, Topology.QUARTER_THREE_WIRE)
# With two wires terminals B and C are one.
_TWO_WIRE: tuple[ShuntPosition, ...] = ("T1-T2", "A-B", "completion-B")
_SCALES = {
    ReadingKind.RATIO: "ratio",
    ReadingKind.STRAIN_LINEAR: "strain, straight line",
    ReadingKind.STRAIN_LINEARISED: "strain, linearised",
}
# How far from the factor itself a whole factor still explains a step.
_FACTOR_WIDTH = 0.05


@dataclass(frozen=True, slots=True)
class ExpectedStep:
    """Step to expect at one place of the resistor, and the strain it stands for."""

    position: ShuntPosition
    words: str
    step: Uncertain
    strain: Uncertain

    @property
    def expanded(self) -> float:
        """Doubt of the step, expanded for 95 %."""
        return float(self.step.expanded(COVERAGE))


def quantity_of(setting: ChannelSetting) -> str:
    """Quantity in which a channel shows a step.

    Raises
    ------
    InputError
        If it writes no bridge reading.
    """
    if setting.kind not in _SCALES:
        raise InputError(
            "what the channel writes", setting.kind.value, "a bridge reading: ratio or strain"
        )
    return "bridge_ratio" if setting.kind is ReadingKind.RATIO else "indicated_strain"


def expected_steps(
    book: Book, connection: Entry[Connection], shunt_resistance: Stated
) -> tuple[ExpectedStep, ...]:
    """Step at every place where the resistor can be put into a quarter bridge.

    Grid and completion as card and setting state them, wires as the lead states them, all with
    their doubt; gain as the instrument's certificate states it.

    Raises
    ------
    InputError
        If the circuit isn't a quarter bridge, or the completion isn't known.
    """
    wired = wired_of(book, connection)
    topology = wired.circuit.record.topology
    if topology not in QUARTERS:
        raise InputError(
            f"bridge of {wired.circuit.record.label}",
            topology.value,
            "a quarter bridge for the five places of the resistor",
            "ask gaugewright ask shunt with its arms",
        )
    quantity_of(wired.setting.record)
    values = _values(wired, shunt_resistance)
    is_two_wire = topology is Topology.QUARTER_TWO_WIRE
    return tuple(
        ExpectedStep(
            place,
            POSITIONS[place],
            propagated(lambda v, p=place: _step(v, p, wired.setting.record, is_two_wire), values),  # type: ignore[misc]
            propagated(lambda v, p=place: _strain(v, p, is_two_wire), values),  # type: ignore[misc]
        )
        for place in (_TWO_WIRE if is_two_wire else tuple(POSITIONS))
    )


def _values(wired: Wired, shunt_resistance: Stated) -> dict[str, Uncertain]:
    pack = wired.pack.record
    given: dict[str, tuple[Stated, str]] = {
        "shunt_resistance": (shunt_resistance, "calibration resistor"),
        "gauge_resistance": (pack.gauge_resistance, "resistance of the gauge"),
        "completion_resistance": (_completion(wired), "completion"),
        "lead_resistance": (wired.lead.record.resistance, "resistance of a wire"),
        "gauge_factor": (pack.gauge_factor, "gauge factor"),
        "gain": (wired.instrument.record.gain, "gain of the instrument"),
    }
    return {name: uncertain_of_stated(name, *stated) for name, stated in given.items()}


def _completion(wired: Wired) -> Stated:
    fixed = wired.setting.record.completion_resistance
    arms = [arm.resistance for arm in wired.circuit.record.arms if arm.resistance is not None]
    if fixed is None and not arms:
        raise InputError(
            f"completion of {wired.circuit.record.label}",
            None,
            "in the channel's setting or among the circuit's arms",
            "connect it anew with its completion",
        )
    return fixed if fixed is not None else arms[0]


def _circuit(values: Mapping[str, float], *, is_two_wire: bool) -> QuarterCircuit:
    wire = values["lead_resistance"]
    return QuarterCircuit(
        values["gauge_resistance"],
        values["completion_resistance"],
        wire,
        wire,
        None if is_two_wire else wire,
    )


def _step(
    values: Mapping[str, float], place: ShuntPosition, setting: ChannelSetting, is_two_wire: bool
) -> float:
    scale = ChannelScale(
        _SCALES[setting.kind],  # type: ignore[arg-type]
        2.0 if setting.set_gauge_factor is None else setting.set_gauge_factor,
        gain=values["gain"],
    )
    circuit = _circuit(values, is_two_wire=is_two_wire)
    return float(
        shunt_reading.expected_reading(circuit, place, values["shunt_resistance"], scale).step
    )


def _strain(values: Mapping[str, float], place: ShuntPosition, is_two_wire: bool) -> float:
    circuit = _circuit(values, is_two_wire=is_two_wire)
    return float(
        shunt.equivalent_strain(circuit, place, values["shunt_resistance"], values["gauge_factor"])
    )


def verdict(book: Book, taken: Entry[ShuntStep]) -> str:
    """What a step on record says, in a sentence.

    It agrees with a place when the two differ by no more than both doubts together, or by no
    more than the campaign's limit "shunt reading", whichever is wider.
    """
    connection = book.entry(taken.record.connection, Connection)
    expected = expected_steps(book, connection, taken.record.shunt_resistance)
    found, share = taken.record.step.value, book.limit("shunt reading").record.value
    own = uncertain_of_stated("step", taken.record.step, "the step as read")
    fits = [one for one in expected if _agrees(one, own, share)]
    named = next((one for one in expected if one.position == taken.record.position), None)
    if named is not None and named in fits:
        return f"As expected at {named.position}: {_off(found, named)}{_same(fits, named)}."
    if fits:
        places = " or ".join(one.position for one in fits)
        if named is None:
            return f"Its place isn’t on record; it fits a resistor at {places}."
        return (
            f"Not as expected at {named.position} ({_off(found, named)}); "
            f"it fits a resistor at {places}."
        )
    return _unexplained(found, named, expected)


def _agrees(one: ExpectedStep, own: Uncertain, share: float) -> bool:
    difference = one.step - own
    width = max(float(difference.expanded(COVERAGE)), share * abs(float(one.step.value)))
    return abs(float(difference.value)) <= width


def _off(found: float, one: ExpectedStep) -> str:
    percent = 100 * (found / float(one.step.value) - 1)
    side = "above" if percent > 0 else "below"
    return f"{significant_text(abs(percent), 2)} % {side} it"


def _same(fits: list[ExpectedStep], named: ExpectedStep) -> str:
    others = [one.position for one in fits if one is not named]
    return f"; {' and '.join(others)} can’t be told from it" if others else ""


def _unexplained(
    found: float, named: ExpectedStep | None, expected: tuple[ExpectedStep, ...]
) -> str:
    """No place explains it: say which factor it is off by, where that points somewhere."""
    if found == 0:
        return "The channel didn’t move: no contact, another channel’s gauge, or no reading."
    near = named or min(expected, key=lambda one: abs(found - float(one.step.value)))
    factor = found / float(near.step.value)
    start = f"No place of the resistor explains it: {significant_text(factor, 3)} times "
    start += f"what is expected at {near.position}. "
    if factor < 0:
        return start + "The sign is turned: look at the side of the bridge and at the signal wires."
    for whole, words in (
        (0.5, "Half of it: look for a bridge set as half, a gauge factor set to double."),
        (2.0, "Double of it: look for a gauge factor set to half, a wrong bridge setting."),
    ):
        if abs(factor / whole - 1) <= _FACTOR_WIDTH:
            return start + words
    return start + (
        "Look at the gauge factor and completion set, the resistor itself, a leak, the channel."
    )
