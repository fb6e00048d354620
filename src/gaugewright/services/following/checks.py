"""Which gauge has stopped telling anything, or leapt alone, in the rows just read?"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gaugewright.calc import leaps, quality
from gaugewright.quantities import FloatArray
from gaugewright.services.campaign.book import Book
from gaugewright.services.following.wiring import Wire
from gaugewright.services.reviewing.checks import OVER_RANGE
from gaugewright.services.reviewing.leaps import WINDOW, moved
from gaugewright.sources.blocks import Mark

__all__ = ["LOOKED_AT", "Leapt", "Loss", "Runs", "Seen", "lone_leaps"]

LOOKED_AT = 1024  # rows that a search for leaps goes through at once
_Counts = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Loss:
    """Why a gauge tells nothing now, and for how many rows."""

    kind: str
    words: str
    rows: int


class Runs:
    """For how many rows up to now each column repeated itself, wrote no number, gave no strain.

    Counted over every row that passes, so that a run is as long however the rows came.
    """

    def __init__(self, columns: int) -> None:
        self.same: _Counts = np.zeros(columns, dtype=np.int64)
        self.empty: _Counts = np.zeros(columns, dtype=np.int64)
        self.no_strain: _Counts = np.zeros(columns, dtype=np.int64)
        self._last = np.full(columns, np.nan)
        self._code = [""] * columns

    def take(
        self, readings: FloatArray, strains: FloatArray, marks: Sequence[tuple[int, Mark]], row: int
    ) -> None:
        """Count rows, shape (n, columns); ``row`` is the number of the last one in its file."""
        before = np.vstack([self._last[None, :], readings[:-1]])
        self.same = _grown(self.same, readings == before)
        missing = ~np.isfinite(readings)
        self.empty = _grown(self.empty, missing)
        # What gave no number can give no strain: that is told by itself.
        self.no_strain = _grown(self.no_strain, ~missing & ~np.isfinite(strains))
        self._last = readings[-1].copy()
        for column, mark in marks:
            if mark.last_row >= row:
                self._code[column] = mark.code

    def loss(self, book: Book, wire: Wire) -> Loss | None:
        """Why a gauge tells nothing now, by the limits that the review uses; None when it does."""
        scans, place = book.limit("over-range scans").record.value, wire.place
        empty = int(self.empty[place])
        if empty and empty >= scans:
            if self._code[place] == OVER_RANGE:
                return Loss("over range", "is off the recorder's scale", empty)
            return Loss("no reading", "writes no number", empty)
        without = int(self.no_strain[place])
        if without and without >= scans and wire.built is not None:
            why = "a number that its chain needs is missing, or it reads beyond its range"
            return Loss("no strain", f"is read but gives no strain: {why}", without)
        same = int(self.same[place]) + 1
        if same >= max(2, book.limit("frozen scans").record.value):
            return Loss("frozen", "reads the same to the last digit", same)
        return None


def _grown(run: _Counts, holds: npt.NDArray[np.bool_]) -> _Counts:
    """Length of the unbroken run that ends with the last row, for every column."""
    rows = len(holds)
    broken = ~holds
    last = rows - 1 - np.argmax(broken[::-1], axis=0)  # the last row where it was broken
    return np.where(broken.any(axis=0), rows - 1 - last, run + rows).astype(np.int64)


@dataclass(frozen=True, slots=True)
class Seen:
    """The last readings of a gauge or the load at their campaign seconds."""

    label: str
    time: FloatArray
    reading: FloatArray

    def saw(self, at: float, scan: float) -> bool:
        """Whether it moved at an instant, in steps of its own rate."""
        if not self.time.size:
            return False
        noise = quality.noise_floor(self.reading)
        return moved(self.time, self.reading, noise, at, scan, step=self.scan)

    @property
    def scan(self) -> float:
        """How far apart its readings are [s]."""
        return float(np.median(np.diff(self.time))) if self.time.size > 1 else 0.0


@dataclass(frozen=True, slots=True)
class Leapt:
    """A step or spike of one gauge that nothing else saw; ``time`` in campaign seconds."""

    kind: str
    time: float
    times_noise: float
    saw_nothing: tuple[str, ...]


def lone_leaps(
    book: Book,
    own: Seen,
    others: Sequence[Seen],
    *,
    after: float,
) -> Iterator[Leapt]:
    """Leaps of one column after an instant that no other column saw.

    As the review's ``lone_leaps``: the same search, the same limits, the same question to the
    others; only over the rows at hand, so that what it finds is told while it can still be
    looked at. The last rows, after which a step can't be told from a spike, wait.

    Parameters
    ----------
    others : sequence of Seen
        Gauges and the load, which would have seen what the specimen does. Each has its own
        recorder's clock and rate; those whose clock was never joined can't be asked.
    """
    time = own.time
    if len(time) < 2 * WINDOW + 2:
        return
    labels = book.limit_labels()
    found: list[tuple[str, leaps.Leap]] = []
    if "step over noise" in labels:
        limit = book.limit("step over noise").record.value
        found += [
            ("lone step", leap) for leap in leaps.steps(own.reading, limit=limit, window=WINDOW)
        ]
    if "spike over noise" in labels:
        limit = book.limit("spike over noise").record.value
        found += [("spike", leap) for leap in leaps.spikes(own.reading, limit=limit)]
    scan = float(np.median(np.diff(time)))
    for kind, leap in found:
        at = float(time[leap.span.first] + time[leap.span.last]) / 2
        settled = leap.span.last < len(time) - WINDOW
        if at <= after or not settled or any(other.saw(at, scan) for other in others):
            continue
        yield Leapt(kind, at, leap.times_noise, tuple(other.label for other in others))
