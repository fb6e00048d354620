"""Which gauge, sensor or point is read through each column of a file being written?"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from gaugewright.calc.chain import Chain
from gaugewright.errors import Faults, InputError
from gaugewright.quantities import FloatArray, Unit, parse_unit, to_si
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Channel, Connection, Instrument
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import ZeroKind
from gaugewright.records.sensors import Sensor
from gaugewright.services.campaign.book import Book
from gaugewright.services.chaining.chains import THERMAL, BuiltChain, chain_for
from gaugewright.services.reading.series import campaign_seconds, channel_shift
from gaugewright.sources.layout import Column

__all__ = ["Wire", "Wired", "apparent_chain", "needed", "wired"]

_STRESS_FREE = (ZeroKind.BARE_BAR, ZeroKind.BEFORE_POUR)


@dataclass(frozen=True, slots=True)
class Wire:
    """A connection that is or will be read through one column of values.

    ``source`` is the number of the recorder's file among those followed together; ``place`` counts
    its columns of values, ``shift`` is how long after its row's stamp the
    channel's own sample is [s]. A gauge circuit has its chain, or ``why`` it has none; ``free``
    is the chain from a zero before any load, where there is one.
    """

    place: int
    unit: Unit
    shift: float
    begins: float
    ends: float
    connection: Entry[Connection]
    circuit: Entry[BridgeCircuit] | None
    gauges: tuple[Entry[Gauge], ...]
    sensor: Entry[Sensor] | None
    built: BuiltChain | None
    free: BuiltChain | None
    why: str
    source: int = 0

    @property
    def key(self) -> tuple[int, int]:
        """Which column of which file."""
        return self.source, self.place

    @property
    def subject(self) -> Uid:
        """Circuit, sensor or point."""
        return self.connection.record.subject

    def reading(self, values: FloatArray) -> FloatArray:
        """Numbers of the file in SI."""
        return to_si(values, self.unit)


@dataclass(frozen=True, slots=True)
class Wired:
    """Every wire of a file, those that others need first, and columns that nobody named."""

    wires: tuple[Wire, ...]
    unnamed: tuple[str, ...]

    def needs(self) -> frozenset[Uid]:
        """Whose readings the chains of these wires need."""
        return frozenset(
            uid for wire in self.wires if wire.built for uid in needed(wire.built).values()
        )


def wired(
    book: Book,
    instrument: Entry[Instrument],
    columns: Sequence[Column],
    *,
    since: float,
    source: int = 0,
) -> Wired:
    """Wires of a file of one recorder, for connections that end after ``since`` [s].

    Raises
    ------
    InputError
        If a column's unit can't be what its channel is set to write.
    """
    channels = {
        channel.record.column: channel
        for channel in book.of(Channel)
        if channel.record.instrument == instrument.uid
    }
    values = [column for column in columns if column.role == "value"]
    made: list[Wire] = []
    unnamed: list[str] = []
    for place, column in enumerate(values):
        channel = channels.get(column.name)
        if channel is None:
            unnamed.append(column.name)
            continue
        made += _wires(book, channel, column, place=place, since=since, source=source)
    for_others = Wired(tuple(made), ()).needs()

    def order(wire: Wire) -> int:
        if wire.circuit is None:
            return 0
        return 1 if wire.subject in for_others else 2

    return Wired(tuple(sorted(made, key=order)), tuple(unnamed))


def needed(built: BuiltChain) -> dict[str, Uid]:
    """Whose readings each column of a chain is; time needs nobody's."""
    found = dict(built.beside)
    for name in built.chain.columns:
        if name == "temperature_degc":
            found[name] = built.subject.point.uid
        elif name == "dummy_strain" and built.subject.circuit.record.dummy is not None:
            found[name] = built.subject.circuit.record.dummy
    return {name: uid for name, uid in found.items() if name in built.chain.columns}


def apparent_chain(built: BuiltChain) -> Chain:
    """Chain that leaves in what temperature does, as a dummy must."""
    if THERMAL not in {stage.kind for stage in built.chain.stages}:
        return built.chain
    return built.chain.step_off(THERMAL, "a dummy shows what temperature does")


def _wires(
    book: Book,
    channel: Entry[Channel],
    column: Column,
    *,
    place: int,
    since: float,
    source: int,
) -> Iterator[Wire]:
    unit = parse_unit(column.unit)
    for connection in book.connections_on(channel.uid):
        ends = connection.record.ends
        until = math.inf if ends is None else campaign_seconds(ends)
        if until <= since:
            continue
        setting = parse_unit(book.setting_of(connection).record.unit)
        if unit is None or setting is None or setting.dimension != unit.dimension:
            raise InputError(
                f"unit of column {column.name!r}",
                column.unit,
                f"of the kind channel {channel.record.label} is set to write "
                f"({book.setting_of(connection).record.unit})",
                "confirm the reading profile again, or mend the channel's setting",
            )
        begins = campaign_seconds(connection.record.begins)
        subject = book.found(connection.record.subject)
        what = None if subject is None else subject.record
        parts = _gauge_parts(book, connection) if isinstance(what, BridgeCircuit) else _NOTHING
        circuit, gauges, built, free, why = parts
        yield Wire(
            place,
            unit,
            channel_shift(book, channel),
            begins,
            until,
            connection,
            circuit,
            gauges,
            book.entry(connection.record.subject, Sensor) if isinstance(what, Sensor) else None,
            built,
            free,
            why,
            source,
        )


_Parts = tuple[
    Entry[BridgeCircuit] | None,
    tuple[Entry[Gauge], ...],
    BuiltChain | None,
    BuiltChain | None,
    str,
]
_NOTHING: _Parts = (None, (), None, None, "")


def _gauge_parts(book: Book, connection: Entry[Connection]) -> _Parts:
    circuit = book.entry(connection.record.subject, BridgeCircuit)
    gauges = book.gauges_of(circuit)
    try:
        built = chain_for(book, connection)
    except (InputError, Faults) as problem:
        return circuit, gauges, None, None, str(problem)
    return circuit, gauges, built, _free(book, connection), ""


def _free(book: Book, connection: Entry[Connection]) -> BuiltChain | None:
    """Chain from the earliest zero before any load: what yield is held against."""
    for kind in _STRESS_FREE:
        if not book.holds_zero(connection, kind):
            continue
        try:
            return chain_for(book, connection, zero_kind=kind)
        except (InputError, Faults):
            continue  # that zero can't be used: a later one may
    return None
