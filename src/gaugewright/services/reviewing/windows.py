"""Readings of many channels round one instant, without any of them being read whole."""

from dataclasses import dataclass

import numpy as np
import polars as pl

from gaugewright.quantities import FloatArray, Unit, parse_unit, to_si
from gaugewright.records import Entry
from gaugewright.records.electrical import Channel, Connection
from gaugewright.records.readings import Recording, RecordingColumn
from gaugewright.services.reading.series import Stretch, channel_shift, recording_time
from gaugewright.services.strain.strains import Desk
from gaugewright.services.work.kept import Kept

__all__ = ["Outline", "Windows", "readings_of"]

BLOCK_ROWS = 65_536
MARGIN = 512  # rows read beyond either end of a block
KEPT_BYTES = 2**27


@dataclass(frozen=True, slots=True)
class Outline:
    """A stretch without its readings: which rows, from when to when, and its usual step [s]."""

    recording: Entry[Recording]
    connection: Entry[Connection]
    column: RecordingColumn
    first_row: int
    last_row: int
    begins: float
    ends: float
    step: float

    @classmethod
    def of(cls, stretch: Stretch) -> "Outline":
        """Outline of a stretch."""
        time = stretch.time
        return cls(
            stretch.recording,
            stretch.connection,
            stretch.column,
            stretch.first_row,
            stretch.last_row,
            float(time[0]),
            float(time[-1]),
            float(np.median(np.diff(time[:64]))) if time.size > 1 else float("inf"),
        )

    @property
    def rows(self) -> int:
        """How many rows."""
        return self.last_row - self.first_row + 1


class Windows:
    """Readings of any stretch round an instant; a block of all channels is read at a time."""

    def __init__(self, desk: Desk, outlines: list[Outline]) -> None:
        self._desk = desk
        self._frames = Kept[tuple[str, int], tuple[int, pl.DataFrame]](KEPT_BYTES)
        self._fields: dict[str, list[str]] = {}
        for outline in outlines:
            fields = self._fields.setdefault(outline.recording.uid, [])
            if outline.column.field not in fields:
                fields.append(outline.column.field)

    def around(
        self, outline: Outline, begins: float, ends: float, *, beside: int
    ) -> tuple[FloatArray, FloatArray]:
        """Times and readings between two instants and ``beside`` rows more on either side."""
        time, shift = self._time(outline)
        low = int(np.searchsorted(time, begins - shift)) - beside - 4
        high = int(np.searchsorted(time, ends - shift)) + beside + 4
        low, high = max(low, 0), min(high, outline.rows)
        return time[low:high] + shift, self._readings(outline, low, high)

    def _time(self, outline: Outline) -> tuple[FloatArray, float]:
        book = self._desk.book
        whole = recording_time(self._desk.store, book, outline.recording)
        channel = book.entry(outline.connection.record.channel, Channel)
        return whole[outline.first_row : outline.last_row + 1], channel_shift(book, channel)

    def _readings(self, outline: Outline, low: int, high: int) -> FloatArray:
        first, end = outline.first_row + low, outline.first_row + high
        field, unit = outline.column.field, parse_unit(outline.column.unit)
        if unit is None or first >= end:
            return np.empty(0)
        number = first // BLOCK_ROWS
        if end > (number + 1) * BLOCK_ROWS + MARGIN:  # a window longer than a block's margin
            return readings_of(self._desk, outline, first, end)
        begin, frame = self._block(outline.recording, number)
        return _in_si(frame[field].slice(first - begin, end - first), unit)

    def _block(self, recording: Entry[Recording], number: int) -> tuple[int, pl.DataFrame]:
        known = self._frames.get((recording.uid, number))
        if known is None:
            readings = self._desk.store.readings(recording.uid)
            first = number * BLOCK_ROWS
            last = min(first + BLOCK_ROWS + MARGIN, readings.rows) - 1
            known = (first, readings.window(first, last, self._fields[recording.uid]))
            self._frames.keep((recording.uid, number), known, int(known[1].estimated_size()))
        return known


def readings_of(desk: Desk, outline: Outline, first: int, end: int) -> FloatArray:
    """Readings of a stretch's channel in SI from one row of its recording up to another."""
    field, unit = outline.column.field, parse_unit(outline.column.unit)
    if unit is None or first >= end:
        return np.empty(0)
    readings = desk.store.readings(outline.recording.uid)
    return _in_si(readings.window(first, end - 1, [field])[field], unit)


def _in_si(series: pl.Series, unit: Unit) -> FloatArray:
    values = series.to_numpy() if series.dtype == pl.Float64 else series.cast(pl.Float64).to_numpy()
    return np.asarray(to_si(values, unit))  # a null is NaN by now
