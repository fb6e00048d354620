"""What is seen of a recording between two rows: extremes, pauses, findings, events, in its time."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.identity import Uid
from gaugewright.records.readings import Decision, Event, Finding, Recording
from gaugewright.services.campaign.book import Book
from gaugewright.services.reading.pyramid import View, view
from gaugewright.store.campaign import CampaignStore

__all__ = [
    "Happening",
    "Seen",
    "Span",
    "Trace",
    "Window",
    "drawn_line",
    "extent",
    "findings_on",
    "instants",
    "looked_at",
    "seen_in",
    "time_span",
]

ELAPSED = "elapsed_ns"
# A step of time this many times the usual one is a pause: twice is one row missing.
PAUSE_STEPS = 1.5


@dataclass(frozen=True, slots=True)
class Seen:
    """A column of readings that can be looked at, by the label people know it by.

    ``about`` are the uids that findings on this column may name.
    """

    label: str
    column: str
    field: str
    unit: str
    about: frozenset[Uid]


@dataclass(frozen=True, slots=True)
class Trace:
    """Lowest and highest reading of each bin, in the unit of the file; NaN is a gap.

    ``missing`` says that a bin has missing readings, whether it has others or not.
    """

    seen: Seen
    low: FloatArray
    high: FloatArray
    missing: npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Span:
    """Rows that a finding is about, inside the window."""

    finding: Entry[Finding]
    label: str
    first: int
    last: int
    begins: float
    ends: float


@dataclass(frozen=True, slots=True)
class Happening:
    """An event inside the window, in elapsed time [s]."""

    entry: Entry[Event]
    at: float


@dataclass(frozen=True, slots=True)
class Window:
    """Rows ``first`` to ``last`` of a recording, at most as many bins as asked for.

    ``row`` begins each bin, ``time`` is its elapsed time [s], ``pause`` whether rows are missing
    before it. ``time`` is NaN where the clock couldn't be read.
    """

    recording: Entry[Recording]
    first: int
    last: int
    rows: int
    rows_per_bin: int
    row: npt.NDArray[np.int64]
    time: FloatArray
    pause: npt.NDArray[np.bool_]
    traces: tuple[Trace, ...]
    spans: tuple[Span, ...]
    happenings: tuple[Happening, ...]


def seen_in(book: Book, recording: Entry[Recording]) -> tuple[Seen, ...]:
    """Columns of a recording that hold readings, each by the label of what was read through it.

    Two gauges that took turns on a channel share its column: both labels are said.
    """
    return tuple(
        _seen(book, recording, column.name, column.field, column.unit)
        for column in recording.record.columns
        if column.role == "value"
    )


def looked_at(
    store: CampaignStore,
    book: Book,
    recording: Entry[Recording],
    columns: Sequence[Seen],
    *,
    first: int,
    last: int,
    pixels: int,
) -> Window:
    """Window of a recording: the cost grows with ``pixels``, not with the record.

    Raises
    ------
    InputError
        If no column was chosen, or rows or pixels make no sense for this recording.
    """
    if not columns:
        raise InputError("channels", "none", "one or more of this recording")

    def looked(field: str) -> View:
        return view(store, recording.uid, field, first=first, last=last, pixels=pixels)

    ticks = looked(ELAPSED)
    views = [looked(seen.field) for seen in columns]
    times = ticks.low / 1e9
    traces = tuple(
        Trace(seen, one.low, one.high, one.missing)
        for seen, one in zip(columns, views, strict=True)
    )
    return Window(
        recording,
        first,
        last,
        store.readings(recording.uid).rows,
        ticks.rows_per_bin,
        ticks.row,
        times,
        _pauses(times),
        traces,
        _spans(book, recording, columns, (first, last), row=ticks.row, times=times),
        _happenings(book, recording, times),
    )


def findings_on(
    book: Book, recording: Entry[Recording], columns: Sequence[Seen]
) -> tuple[tuple[str, Entry[Finding]], ...]:
    """Findings that name rows of a recording and what was read in these columns, with its label.

    What a person rejected isn't among them.
    """
    found = []
    for entry in book.of(Finding):
        finding = entry.record
        if finding.recording != recording.uid or finding.decision is Decision.REJECTED:
            continue
        label = next((seen.label for seen in columns if finding.subject in seen.about), None)
        if label is not None and finding.first_row is not None and finding.last_row is not None:
            found.append((label, entry))
    return tuple(found)


def instants(book: Book, recording: Entry[Recording], elapsed: FloatArray) -> list[datetime | None]:
    """Campaign time of elapsed times [s]; None where the clock isn't joined or couldn't be read."""
    try:
        clock_map = book.clock_map_of(recording).record
    except InputError:
        return [None] * elapsed.size
    begin = clock_map.epoch + timedelta(seconds=clock_map.offset.value)
    return [
        begin + timedelta(seconds=(1 + clock_map.rate) * float(each)) if np.isfinite(each) else None
        for each in elapsed
    ]


def _seen(book: Book, recording: Entry[Recording], name: str, field: str, unit: str) -> Seen:
    channel = book.channel_of_column(recording, name)
    if channel is None:
        return Seen(name, name, field, unit, frozenset())
    circuits = {entry.uid: entry for entry in book.of(BridgeCircuit)}
    about = {channel.uid}
    labels: list[str] = []
    for connection in book.connections_on(channel.uid):
        subject = connection.record.subject
        about |= {connection.uid, subject}
        gauges = book.gauges_of(circuits[subject]) if subject in circuits else ()
        about |= {gauge.uid for gauge in gauges}
        labels += [gauge.record.label for gauge in gauges] or [book.label(subject)]
    label = ", ".join(dict.fromkeys(labels)) or channel.record.label
    return Seen(label, name, field, unit, frozenset(about))


def _pauses(times: FloatArray) -> npt.NDArray[np.bool_]:
    """Where a step of time is longer than the usual one: nothing was written in between."""
    steps = np.diff(times)
    found = np.zeros(times.size, dtype=bool)
    good = steps[np.isfinite(steps) & (steps > 0)]
    if good.size:
        found[1:] = steps > PAUSE_STEPS * float(np.median(good))
    return found


def _spans(
    book: Book,
    recording: Entry[Recording],
    columns: Sequence[Seen],
    rows: tuple[int, int],
    *,
    row: npt.NDArray[np.int64],
    times: FloatArray,
) -> tuple[Span, ...]:
    found = []
    for label, entry in findings_on(book, recording, columns):
        first, last = entry.record.first_row or 0, entry.record.last_row or 0
        if last < rows[0] or first > rows[1]:
            continue
        places = np.maximum(np.searchsorted(row, (first, last), side="right") - 1, 0)
        begins, ends = (float(each) for each in times[places])
        found.append(Span(entry, label, first, last, begins, ends))
    return tuple(found)


def _happenings(
    book: Book, recording: Entry[Recording], times: FloatArray
) -> tuple[Happening, ...]:
    """Events inside the window; none where the recording's clock isn't joined."""
    try:
        clock_map = book.clock_map_of(recording).record
    except InputError:
        return ()
    begin = clock_map.epoch + timedelta(seconds=clock_map.offset.value)
    finite = times[np.isfinite(times)]
    if not finite.size:
        return ()
    placed = [
        Happening(entry, (entry.record.at - begin).total_seconds() / (1 + clock_map.rate))
        for entry in book.of(Event)
    ]
    return tuple(each for each in placed if finite[0] <= each.at <= finite[-1])


def drawn_line(window: Window, trace: Trace) -> tuple[FloatArray, FloatArray]:
    """Times [s] and readings of one channel's line: up and down through each bin's extremes.

    A missing bin and a pause of the record are NaN, so that no line is drawn over them.
    """
    there = np.isfinite(window.time)
    low = np.where(there, trace.low, np.nan)
    if window.rows_per_bin == 1:
        along, up, break_at = window.time, low, np.flatnonzero(window.pause)
    else:
        along = np.repeat(window.time, 2)
        up = np.column_stack((low, np.where(there, trace.high, np.nan))).ravel()
        break_at = 2 * np.flatnonzero(window.pause)
    along = np.insert(along, break_at, along[break_at] if break_at.size else [])
    return along, np.insert(up, break_at, np.nan)


def extent(trace: Trace) -> tuple[float, float] | None:
    """Lowest and highest reading of a channel in a window; None where nothing was read."""
    if not np.isfinite(trace.low).any():
        return None
    return float(np.nanmin(trace.low)), float(np.nanmax(trace.high))


def time_span(time: FloatArray) -> float:
    """From the first to the last known time [s]; 0 where none is known."""
    known = time[np.isfinite(time)]
    return float(known.max() - known.min()) if known.size else 0.0
