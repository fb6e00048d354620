"""Strain of a circuit over all its readings, a block of rows at a time, whatever their number."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray, parse_unit, to_si
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Channel, Connection
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import Recording, RecordingColumn
from gaugewright.services.chaining.chains import BuiltChain, chain_for
from gaugewright.services.reading.series import campaign_seconds, channel_shift
from gaugewright.services.strain.strains import Desk, excluded_spans
from gaugewright.store.parts import ELAPSED

__all__ = ["StrainBlock", "strain_blocks"]

BLOCK_ROWS = 65_536


@dataclass(frozen=True, slots=True)
class StrainBlock:
    """Rows read through one connection, with everything their strain is made of.

    ``place`` counts samples of the circuit from 0 over all its recordings, in order of time.
    """

    place: int
    recording: Entry[Recording]
    time: FloatArray
    reading: FloatArray
    strain: FloatArray
    built: BuiltChain
    columns: Mapping[str, FloatArray]

    def uncertain(self, rows: FloatArray, noise: float) -> Uncertain:
        """Strain with everything it owes at some rows of the block."""
        chosen = rows.astype(np.int64)
        columns = {name: column[chosen] for name, column in self.columns.items()}
        return self.built.chain.uncertain(self.reading[chosen], columns, noise)


def strain_blocks(
    desk: Desk,
    circuit: Entry[BridgeCircuit],
    zero_kind: ZeroKind,
    *,
    block_rows: int = BLOCK_ROWS,
) -> Iterator[StrainBlock]:
    """Blocks of strain since one kind of zero, in order of time.

    Of the circuit's own readings one block is in memory at a time; series that stand beside them,
    such as temperature, are read whole once.

    Raises
    ------
    InputError
        If there are no readings since such a zero, or a value that the chain needs is missing.
    """
    place = 0
    for connection in desk.book.connections_of(circuit.uid):
        if not desk.book.holds_zero(connection, zero_kind):
            continue
        built = chain_for(desk.book, connection, zero_kind=zero_kind)
        for recording, column in _recordings(desk, connection):
            source = (recording, column)
            for block in _read(desk, source, connection, built, block_rows=block_rows, place=place):
                place += block.strain.size
                yield block
    if not place:
        raise InputError(
            f"readings of {circuit.record.label} since zero {zero_kind.value}",
            "none",
            "imported, connected and with such a zero",
        )


def _recordings(
    desk: Desk, connection: Entry[Connection]
) -> list[tuple[Entry[Recording], RecordingColumn]]:
    """Recordings that hold the connection's channel, the earliest first."""
    channel = desk.book.entry(connection.record.channel, Channel).record
    found = [
        (recording, column)
        for recording in desk.book.of(Recording)
        if recording.record.instrument == channel.instrument
        for column in recording.record.columns
        if column.name == channel.column and column.role == "value"
    ]

    def begins(pair: tuple[Entry[Recording], RecordingColumn]) -> float:
        clock = desk.book.clock_map_of(pair[0]).record
        return campaign_seconds(clock.epoch) + clock.offset.value

    return sorted(found, key=begins)


def _read(
    desk: Desk,
    source: tuple[Entry[Recording], RecordingColumn],
    connection: Entry[Connection],
    built: BuiltChain,
    *,
    block_rows: int,
    place: int,
) -> Iterator[StrainBlock]:
    recording, column = source
    unit = parse_unit(column.unit)
    if unit is None:
        what = f"unit of column {column.name!r} in {recording.record.file_name}"
        raise InputError(what, column.unit, "a unit this package knows", "import it again")
    clock = desk.book.clock_map_of(recording).record
    start = campaign_seconds(clock.epoch) + clock.offset.value
    start += channel_shift(desk.book, desk.book.entry(connection.record.channel, Channel))
    begins = campaign_seconds(connection.record.begins)
    ends = connection.record.ends
    until = np.inf if ends is None else campaign_seconds(ends)
    gauges = {gauge.uid for gauge in built.subject.gauges}
    spans = excluded_spans(desk.book, recording.uid, gauges)
    readings = desk.store.readings(recording.uid)
    for first, frame in readings.blocks([ELAPSED, column.field], block_rows):
        time = start + (1 + clock.rate) * (frame[ELAPSED].to_numpy().astype(np.float64) / 1e9)
        values = frame[column.field].cast(pl.Float64).fill_null(float("nan")).to_numpy()
        reading = np.array(to_si(values, unit))
        for span in spans:
            reading[max(span.first - first, 0) : max(span.last - first + 1, 0)] = np.nan
        inside = (time >= begins) & (time < until)
        if not inside.any():
            continue
        block = _block(desk, recording, built, time[inside], reading[inside], place=place)
        place += block.strain.size
        yield block


def _block(
    desk: Desk,
    recording: Entry[Recording],
    built: BuiltChain,
    time: FloatArray,
    reading: FloatArray,
    *,
    place: int,
) -> StrainBlock:
    columns = {name: desk.column(built, name, time) for name in built.chain.columns}
    strain = np.asarray(built.chain.strain(reading, columns))
    return StrainBlock(place, recording, time, reading, strain, built, columns)
