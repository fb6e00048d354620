"""Campaign time of a recording's rows, and a sensor's values beside them, a block at a time.

Whole, each takes 8 bytes for every row: of a recording of a month that is gigabytes.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import polars as pl

from gaugewright.quantities import FloatArray, Unit, to_si
from gaugewright.records import Entry
from gaugewright.records.readings import ClockMap, Recording
from gaugewright.services.work.kept import Kept
from gaugewright.store.campaign import CampaignStore
from gaugewright.store.parts import BLOCK_ROWS, ELAPSED

__all__ = ["Along", "Part", "RecordClock", "campaign_time"]

KEPT_BYTES = 2**24
MOST_BLOCKS = 16  # of a sensor held at once; where it is read much faster, times are taken in parts


def campaign_time(elapsed_ns: pl.Series, clock_map: ClockMap, epoch: float) -> FloatArray:
    """Campaign time [s] of rows by their recording's clock map, whose epoch is given in it too.

    NaN where nobody knows when a row was read.
    """
    elapsed = np.asarray(elapsed_ns.to_numpy(), dtype=np.float64) / 1e9
    return np.asarray(epoch + clock_map.offset.value + (1 + clock_map.rate) * elapsed)


@dataclass(frozen=True, slots=True)
class _Borders:
    """Earliest and latest time of each block, NaN without any; and whether time ever goes back."""

    low: FloatArray
    high: FloatArray
    is_rising: bool


class RecordClock:
    """Time of a recording's rows, read where it is asked for."""

    def __init__(
        self, store: CampaignStore, recording: Entry[Recording], clock_map: ClockMap, epoch: float
    ) -> None:
        self._readings = store.readings(recording.uid)
        self._clock_map = clock_map
        self._epoch = epoch
        self._kept = Kept[int, FloatArray](KEPT_BYTES)
        self._borders: _Borders | None = None

    @property
    def blocks(self) -> int:
        """How many blocks there are."""
        return -(-self._readings.rows // BLOCK_ROWS)

    @staticmethod
    def first_row(number: int) -> int:
        """First row of a block."""
        return number * BLOCK_ROWS

    def of(self, elapsed_ns: pl.Series) -> FloatArray:
        """Campaign time of rows whose elapsed time was read already [s]."""
        return campaign_time(elapsed_ns, self._clock_map, self._epoch)

    def block(self, number: int) -> FloatArray:
        """Campaign time of the rows of one block [s]; not to be written into."""
        known = self._kept.get(number)
        if known is None:
            first = number * BLOCK_ROWS
            last = min(first + BLOCK_ROWS, self._readings.rows) - 1
            known = self.of(self._readings.window(first, last, [ELAPSED])[ELAPSED])
            known.flags.writeable = False
            self._kept.keep(number, known, known.nbytes)
        return known

    def values(self, number: int, field: str, unit: Unit) -> FloatArray:
        """Readings of one block in SI, NaN where a sample is bad."""
        first = number * BLOCK_ROWS
        last = min(first + BLOCK_ROWS, self._readings.rows) - 1
        read = self._readings.window(first, last, [field])[field]
        return np.asarray(
            to_si(read.cast(pl.Float64).fill_null(float("nan")).to_numpy(), unit), dtype=np.float64
        )

    @property
    def borders(self) -> _Borders:
        """Where each block begins and ends in time; every block is read once for it."""
        if self._borders is None:
            low, high = np.full(self.blocks, np.nan), np.full(self.blocks, np.nan)
            latest, is_rising = -np.inf, True
            for number in range(self.blocks):
                known = self.block(number)
                known = known[np.isfinite(known)]
                if not known.size:
                    continue
                low[number], high[number] = known.min(), known.max()
                is_rising &= bool(known[0] >= latest and (known[1:] >= known[:-1]).all())
                latest = float(known[-1])
            self._borders = _Borders(low, high, is_rising)
        return self._borders

    def within(self, begins: float, ends: float) -> Iterator[int]:
        """Blocks that may hold rows from one instant to before another, a second more on each side.

        Times are sums that are rounded: whoever asks looks at each row.
        """
        low, high = self.borders.low, self.borders.high
        yield from np.flatnonzero((high >= begins - 1.0) & (low < ends + 1.0)).tolist()


@dataclass(frozen=True, slots=True)
class Part:
    """Rows of a column of a recording that were read from one instant to before another."""

    clock: RecordClock
    field: str
    unit: Unit
    shift: float
    begins: float
    ends: float


class Along:
    """Readings of a sensor or point, straight between its samples, with a few blocks held.

    ``Series`` gives the same to the last bit and holds all of them.
    """

    def __init__(self, parts: list[Part]) -> None:
        parts = sorted(parts, key=_first_time)
        self._blocks = [
            (part, number)
            for part in parts
            for number in part.clock.within(part.begins - part.shift, part.ends - part.shift)
        ]
        self._low = [_cut(part, part.clock.borders.low[n]) for part, n in self._blocks]
        self._high = [_cut(part, part.clock.borders.high[n]) for part, n in self._blocks]
        self._kept = Kept[int, tuple[FloatArray, FloatArray]](KEPT_BYTES)

    @property
    def is_rising(self) -> bool:
        """Whether samples lie in order of time as they are read, so that blocks can be found."""
        in_order = all(a <= b for a, b in zip(self._high, self._low[1:], strict=False))
        return in_order and all(part.clock.borders.is_rising for part, _ in self._blocks)

    def at(self, time: FloatArray) -> FloatArray:
        """Values at other instants; NaN outside the record."""
        known = time[np.isfinite(time)]
        if not known.size or not self._blocks:
            return np.full(time.shape, np.nan)
        first = bisect_left(self._high, float(known.min()))
        last = bisect_right(self._low, float(known.max())) - 1
        if last - first >= MOST_BLOCKS and time.size > 1:
            half = time.size // 2
            return np.concatenate([self.at(time[:half]), self.at(time[half:])])
        parts = [self._good(number) for number in range(first, last + 1)]
        parts.insert(0, self._beyond(range(first - 1, -1, -1), -1))
        parts.append(self._beyond(range(max(last + 1, first), len(self._blocks)), 0))
        at, value = (np.concatenate(each) for each in zip(*parts, strict=True))
        if not at.size:
            return np.full(time.shape, np.nan)
        found = np.interp(time, at, value, left=np.nan, right=np.nan)
        found[np.isnan(time)] = np.nan  # beside a single sample numpy takes no time for its time
        return np.asarray(found)

    def _beyond(self, numbers: range, place: int) -> tuple[FloatArray, FloatArray]:
        """The one sample next to some blocks: what lies between is on a straight line to it."""
        for number in numbers:
            at, value = self._good(number)
            if at.size:
                return at[[place]], value[[place]]
        return np.empty(0), np.empty(0)

    def _good(self, number: int) -> tuple[FloatArray, FloatArray]:
        """Times and values of a block's samples that are numbers."""
        known = self._kept.get(number)
        if known is None:
            part, block = self._blocks[number]
            time = part.clock.block(block) + part.shift
            value = part.clock.values(block, part.field, part.unit)
            good = (time >= part.begins) & (time < part.ends) & np.isfinite(value)
            known = time[good], value[good]
            self._kept.keep(number, known, 2 * known[0].nbytes)
        return known


def _cut(part: Part, instant: float) -> float:
    """A border of a block, or that of the part where the block reaches beyond it."""
    return min(max(instant + part.shift, part.begins), part.ends)


def _first_time(part: Part) -> float:
    low = part.clock.borders.low + part.shift
    return max(float(min(low[np.isfinite(low)], default=np.inf)), part.begins)
