"""Reduced strain of whole recordings, block by block, as columns that can be made again."""

import functools
import hashlib
import os
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import polars as pl

from gaugewright.calc.chain_rows import Shared
from gaugewright.calc.quality import Span
from gaugewright.errors import StoreError
from gaugewright.quantities import FloatArray, Unit, parse_unit, to_si
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Channel, Connection
from gaugewright.records.identity import Uid, working_context
from gaugewright.records.plain import canonical_text
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import Recording, RecordingColumn
from gaugewright.records.sensors import TemperaturePoint
from gaugewright.services.campaign.book import Book
from gaugewright.services.chaining.chains import BuiltChain, chain_for
from gaugewright.services.reading.record_clock import Along
from gaugewright.services.reading.series import (
    campaign_seconds,
    channel_shift,
    record_clock,
    series_along,
)
from gaugewright.services.strain.strains import Desk, excluded_spans
from gaugewright.services.work.spread import Spread
from gaugewright.store.campaign import CampaignStore
from gaugewright.store.parts import ELAPSED

__all__ = ["derived_key", "write_strains"]

Progress = Callable[[int, int, str], None]
BLOCK_ROWS = 65_536
OF_CIRCUITS = ("dummy_strain", "reference_strain")


@dataclass(frozen=True, slots=True)
class _Segment:
    begins: float
    ends: float
    built: BuiltChain


@dataclass(frozen=True, slots=True)
class _Line:
    """A column of the recording with the chains of its connections, one after another."""

    name: str
    field: str
    unit: Unit
    shift: float
    segments: tuple[_Segment, ...]
    excluded: tuple[Span, ...]


def write_strains(
    desk: Desk,
    recording: Entry[Recording],
    zero_kind: ZeroKind,
    *,
    connections: frozenset[Uid] | None = None,
    progress: Progress | None = None,
    spread: Spread | None = None,
) -> str | None:
    """Write strain of every circuit in a recording; returns the key, None when there is none.

    ``connections`` are those that a chain could be built for, where others were told of already;
    all of them when left out. ``spread`` hands blocks to other processes or machines, which must
    be able to read the campaign's folder; the numbers are the same to the last bit.

    Calculated in float64, kept as float32: a cache that is made again when readings or chains
    change, since both are in its key. Work is done in blocks of fixed size, so memory does not
    grow with the record; each sample depends on its own row alone, so the cut doesn't matter.
    """
    lines = tuple(_lines(desk, recording, zero_kind, connections))
    if not lines:
        return None
    key = derived_key(desk, recording, lines)
    if desk.store.derived(key) is not None:
        return key
    task = Task(str(desk.store.folder), recording.uid, zero_kind, connections, key)

    def frames(done: int) -> Iterator[pl.DataFrame]:
        """Blocks after those that are done: all, or the rest of a work that was killed."""
        if spread is None:
            return _frames(desk, recording, lines, progress, done=done)
        rows = desk.store.readings(recording.uid).rows
        return _spread_frames(spread, task, rows, progress, done=done)

    desk.store.write_derived(key, frames)
    return key


@dataclass(frozen=True, slots=True)
class Task:
    """What another process needs to work out strain of a recording, a block at a time."""

    folder: str
    recording: Uid
    zero_kind: ZeroKind
    connections: frozenset[Uid] | None
    key: str


def _spread_frames(
    spread: Spread, task: Task, rows: int, progress: Progress | None, *, done: int
) -> Iterator[pl.DataFrame]:
    firsts = range(done * BLOCK_ROWS, rows, BLOCK_ROWS)
    cuts = [(task, first, min(first + BLOCK_ROWS, rows) - 1) for first in firsts]
    frames = spread.each(_worked_out, cuts)
    for first, frame in zip(firsts, frames, strict=True):
        yield frame
        if progress is not None:
            progress(first + frame.height, rows, "reduced [rows]")


def _worked_out(asked: tuple[Task, int, int]) -> pl.DataFrame:
    """One block of strain, in whatever process this is; the campaign is opened there once."""
    task, first, last = asked
    room = _room(task)
    readings = room.desk.store.readings(task.recording)
    frame = readings.window(first, last, _fields(room.lines))
    block = _Block(room.beside, frame, first)
    return _strains(block, room.lines, map)


@dataclass(frozen=True, slots=True)
class _Room:
    desk: Desk
    lines: tuple[_Line, ...]
    beside: "_Beside"


@functools.lru_cache(maxsize=2)
def _room(task: Task) -> _Room:
    """A campaign opened for reading, with the chains of one recording; kept for the next block.

    Raises
    ------
    StoreError
        If this process sees other records than the one that asked: the key tells.
    """
    store = CampaignStore.open(Path(task.folder), working_context(), read_only=True)
    desk = Desk(store, Book.read(store))
    recording = desk.book.entry(task.recording, Recording)
    lines = tuple(_lines(desk, recording, task.zero_kind, task.connections))
    if derived_key(desk, recording, lines) != task.key:
        raise StoreError(
            f"{task.folder} holds other records here than where the work was begun; let all "
            "workers read the same folder, and change nothing meanwhile"
        )
    return _Room(desk, lines, _Beside(desk, recording))


def _strains(
    block: "_Block", lines: tuple[_Line, ...], run: Callable[..., Iterator[npt.NDArray[np.float32]]]
) -> pl.DataFrame:
    for line in lines:
        block.lay_out(line)
    strains = run(block.strain, lines)
    return pl.DataFrame(
        {f"strain_{line.name}_1": s for line, s in zip(lines, strains, strict=True)}
    )


def derived_key(desk: Desk, recording: Entry[Recording], lines: tuple[_Line, ...]) -> str:
    """Name of the cache: hash of the bytes received and of every chain applied to them."""
    plain: list[Any] = [
        [
            line.name,
            [segment.built.chain.as_plain() for segment in line.segments],
            [[span.first, span.last] for span in line.excluded],
        ]
        for line in lines
    ]
    plain += _by_eye(desk, lines)
    text = canonical_text([recording.record.original_sha256, recording.uid, plain])
    return "strain-" + hashlib.sha256(text.encode()).hexdigest()[:32]


def _by_eye(desk: Desk, lines: tuple[_Line, ...]) -> list[list[Any]]:
    """Temperatures that no recording holds, which chains take from the thermometer's record."""
    sources = {
        _source(segment.built, name)
        for line in lines
        for segment in line.segments
        for name in segment.built.chain.columns
        if name != "time"
    }
    found = [desk.book.found(uid) for uid in sorted(sources)]
    return [
        [entry.uid, entry.record.temperature_degc]
        for entry in found
        if entry is not None
        and isinstance(entry.record, TemperaturePoint)
        and entry.record.temperature_degc is not None
    ]


def _lines(
    desk: Desk,
    recording: Entry[Recording],
    zero_kind: ZeroKind,
    connections: frozenset[Uid] | None,
) -> Iterator[_Line]:
    for column in recording.record.columns:
        channel = desk.book.channel_of_column(recording, column.name)
        if channel is None or column.role != "value":
            continue
        plugged = [
            connection
            for connection in desk.book.connections_on(channel.uid)
            if connections is None or connection.uid in connections
        ]
        line = _line(desk, recording, plugged, column, zero_kind)
        if line is not None:
            yield line


def _line(
    desk: Desk,
    recording: Entry[Recording],
    plugged: list[Entry[Connection]],
    column: RecordingColumn,
    zero_kind: ZeroKind,
) -> _Line | None:
    unit = parse_unit(column.unit)
    segments: list[_Segment] = []
    for connection in plugged:
        if not _is_circuit(desk, connection.record.subject):
            continue
        if not desk.book.holds_zero(connection, zero_kind):
            continue  # rows read before this zero existed stay empty: there is no strain since it
        built = chain_for(desk.book, connection, zero_kind=zero_kind)
        ends = connection.record.ends
        segments.append(
            _Segment(
                campaign_seconds(connection.record.begins),
                float("inf") if ends is None else campaign_seconds(ends),
                built,
            )
        )
    if not segments or unit is None:
        return None
    subject = segments[0].built.subject
    gauges = {gauge.uid for gauge in subject.gauges}
    return _Line(
        subject.circuit.record.label,
        column.field,
        unit,
        channel_shift(desk.book, desk.book.entry(plugged[0].record.channel, Channel)),
        tuple(segments),
        excluded_spans(desk.book, recording.uid, gauges),
    )


def _is_circuit(desk: Desk, uid: Uid) -> bool:
    return any(circuit.uid == uid for circuit in desk.book.of(BridgeCircuit))


def _frames(
    desk: Desk,
    recording: Entry[Recording],
    lines: tuple[_Line, ...],
    progress: Progress | None,
    *,
    done: int,
) -> Iterator[pl.DataFrame]:
    """Strain block by block; the channels of a block side by side, on as many cores as there are.

    Every channel is worked out by itself, so the numbers don't depend on who does which.
    """
    readings = desk.store.readings(recording.uid)
    beside = _Beside(desk, recording)
    with ThreadPoolExecutor(os.cpu_count() or 1) as workers:
        for first, frame in readings.blocks(_fields(lines), BLOCK_ROWS, first=done * BLOCK_ROWS):
            block = _Block(beside, frame, first)
            yield _strains(block, lines, workers.map)
            if progress is not None:
                progress(
                    first + frame.height, readings.rows, f"reduced {recording.record.label} [rows]"
                )


def _fields(lines: tuple[_Line, ...]) -> list[str]:
    return [ELAPSED, *dict.fromkeys(line.field for line in lines)]


class _Beside:
    """What stands beside the readings of a recording: their times, and series at those times.

    A few blocks of a series are held, not all of it; whole only where its time goes back, and
    where it is the strain of another circuit.
    """

    def __init__(self, desk: Desk, recording: Entry[Recording]) -> None:
        self._desk = desk
        self.clock = record_clock(desk.store, desk.book, recording)
        self._along: dict[Uid, Along | None] = {}

    def column(self, built: BuiltChain, name: str, time: FloatArray) -> FloatArray:
        """A column of a chain at some instants."""
        if name in OF_CIRCUITS or name == "time":
            return self._desk.column(built, name, time)
        source = _source(built, name)
        if source not in self._along:
            self._along[source] = series_along(self._desk.store, self._desk.book, source)
        along = self._along[source]
        return self._desk.column(built, name, time) if along is None else along.at(time)


class _Block:
    """Rows of a recording at hand, with what several channels need of them worked out once."""

    def __init__(self, series: _Beside, frame: pl.DataFrame, first_row: int) -> None:
        self._series = series
        self._frame = frame
        self._time = series.clock.of(frame[ELAPSED])
        self._first_row = first_row
        self._beside: dict[tuple[str, Uid, float], FloatArray] = {}
        self._plugged: dict[tuple[float, float, float], npt.NDArray[np.bool_] | None] = {}
        self._shared = Shared()

    def lay_out(self, line: _Line) -> None:
        """Work out the columns that a channel needs beside its readings, and its rows."""
        for segment in line.segments:
            times = (segment.begins, segment.ends, line.shift)
            if times not in self._plugged:
                self._plugged[times] = self._rows(*times)
            for name in segment.built.chain.columns:
                key = (name, _source(segment.built, name), line.shift)
                if key not in self._beside:
                    self._beside[key] = self._column(segment.built, name, line.shift)

    def _column(self, built: BuiltChain, name: str, shift: float) -> FloatArray:
        return self._series.column(built, name, self._time + shift)

    def _rows(self, begins: float, ends: float, shift: float) -> npt.NDArray[np.bool_] | None:
        """Which rows a connection was plugged for; None for all of them."""
        time = self._time + shift
        inside = (time >= begins) & (time < ends)
        return None if inside.all() else inside

    def strain(self, line: _Line) -> npt.NDArray[np.float32]:
        """Strain of one channel, worked out in 64 bits and kept in 32."""
        reading = to_si(self._frame[line.field].to_numpy(), line.unit)
        strain = np.full(reading.shape, np.nan)
        for segment in line.segments:
            inside = self._plugged[segment.begins, segment.ends, line.shift]
            chain = segment.built.chain
            columns = {
                name: self._beside[name, _source(segment.built, name), line.shift]
                for name in chain.columns
            }
            if inside is None:
                strain = chain.strain(reading, columns, shared=self._shared)
            elif inside.any():
                part = {name: column[inside] for name, column in columns.items()}
                strain[inside] = chain.strain(reading[inside], part)
        for span in line.excluded:
            first, end = span.first - self._first_row, span.last - self._first_row + 1
            strain[max(first, 0) : max(end, 0)] = np.nan
        return strain.astype(np.float32)


def _source(built: BuiltChain, column: str) -> Uid:
    """Whose series a column of a chain comes from."""
    if column in built.beside:
        return built.beside[column]
    if column == "temperature_degc":
        return built.subject.point.uid
    return built.subject.circuit.record.dummy or built.subject.circuit.uid
