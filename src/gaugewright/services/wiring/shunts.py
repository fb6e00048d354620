"""What a channel should show for its calibration resistor, and what its answer allows to say."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from gaugewright.calc import shunt, shunt_reading
from gaugewright.calc.shunt import POSITIONS, QuarterCircuit, ShuntPosition
from gaugewright.calc.shunt_reading import ChannelScale
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import (
    ChannelSetting,
    Connection,
    ReadingKind,
    Topology,
)
from gaugewright.records.stated import Stated
from gaugewright.services.answering.parts import propagated
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.chaining.causes import uncertain_of_stated
from gaugewright.services.chaining.subject import Wired, wired_of
from gaugewright.services.wiring.shunt_bridges import (
    bridge_positions,
    bridge_step,
    bridge_strain,
    wired_bridge,
)

__all__ = ["ExpectedStep", "expected_steps", "places", "quantity_of"]

QUARTERS = (Topology.QUARTER_TWO_WIRE, Topology.QUARTER_THREE_WIRE)
# With two wires terminals B and C are one.
_TWO_WIRE: tuple[ShuntPosition, ...] = ("T1-T2", "A-B", "completion-B")
_SCALES = {
    ReadingKind.RATIO: "ratio",
    ReadingKind.STRAIN_LINEAR: "strain, straight line",
    ReadingKind.STRAIN_LINEARISED: "strain, linearised",
}


@dataclass(frozen=True, slots=True)
class ExpectedStep:
    """Step to expect at one place of the resistor, and the strain it stands for."""

    position: str
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


def places(book: Book, connection: Entry[Connection]) -> dict[str, str]:
    """Places where a resistor can be put into the bridge of a connection, each in words.

    Raises
    ------
    InputError
        If the bridge isn't wired as its kind is.
    """
    wired = wired_of(book, connection)
    if wired.circuit.record.topology in QUARTERS:
        return {name: POSITIONS[name] for name in _quarter_places(wired)}
    # What a place is called doesn't hang on the resistor: any will do.
    return bridge_positions(wired_bridge(wired, wired.pack.record.gauge_resistance))


def _quarter_places(wired: Wired) -> tuple[ShuntPosition, ...]:
    is_two_wire = wired.circuit.record.topology is Topology.QUARTER_TWO_WIRE
    return _TWO_WIRE if is_two_wire else tuple(POSITIONS)


def expected_steps(
    book: Book,
    connection: Entry[Connection],
    shunt_resistance: Stated,
    otherwise: Mapping[str, float] | None = None,
) -> tuple[ExpectedStep, ...]:
    """Step at every place where the resistor can be put into the bridge of a connection.

    Grids and completion as card and setting state them, wires as the lead states them, all with
    their doubt; gain as the instrument's certificate states it. Quarter bridges by their exact
    closed form, half and full bridges as the network they are. ``otherwise`` are values that
    take the place of those on record: what would be seen if something were not as recorded.

    Raises
    ------
    InputError
        If the bridge isn't wired as its kind is, or the completion isn't known.
    """
    wired = wired_of(book, connection)
    quantity_of(wired.setting.record)
    topology = wired.circuit.record.topology
    if topology not in QUARTERS:
        return _bridge_steps(wired, shunt_resistance, otherwise or {})
    values = _other(_values(wired, shunt_resistance), otherwise or {})
    is_two_wire = topology is Topology.QUARTER_TWO_WIRE
    return tuple(
        ExpectedStep(
            place,
            POSITIONS[place],
            propagated(lambda v, p=place: _step(v, p, wired.setting.record, is_two_wire), values),  # type: ignore[misc]
            propagated(lambda v, p=place: _strain(v, p, is_two_wire), values),  # type: ignore[misc]
        )
        for place in _quarter_places(wired)
    )


def _other(values: Mapping[str, Uncertain], otherwise: Mapping[str, float]) -> dict[str, Uncertain]:
    known = {name: Uncertain.exact(value) for name, value in otherwise.items() if name in values}
    return {**values, **known}


def _bridge_steps(
    wired: Wired, shunt_resistance: Stated, otherwise: Mapping[str, float]
) -> tuple[ExpectedStep, ...]:
    bridge = wired_bridge(wired, shunt_resistance)
    bridge = replace(bridge, values=_other(bridge.values, otherwise))
    return tuple(
        ExpectedStep(
            place,
            words,
            propagated(lambda v, p=place: bridge_step(bridge, wired, p, v), bridge.values),  # type: ignore[misc]
            propagated(lambda v, p=place: bridge_strain(bridge, p, v), bridge.values),  # type: ignore[misc]
        )
        for place, words in bridge_positions(bridge).items()
    )


def _values(wired: Wired, shunt_resistance: Stated) -> dict[str, Uncertain]:
    pack = wired.pack.record
    given: dict[str, tuple[Stated, str]] = {
        "shunt_resistance": (shunt_resistance, "calibration resistor"),
        "gauge_resistance": (pack.gauge_resistance, "resistance of the gauge"),
        "completion_resistance": (_completion(wired), "completion"),
        "lead_resistance": (wired.lead.record.resistance, "resistance of a wire"),
        "gauge_factor": (pack.gauge_factor, "gauge factor"),
        "gain": (wired.instrument.record.gain, "gain of the recorder"),
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
            "give the fixed arm in the form of the bridge, or where its channel is set",
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
