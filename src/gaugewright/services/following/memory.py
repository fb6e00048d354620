"""What of a test is kept while it is followed: the last rows as read, and means of all before."""

import numpy as np

from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["RAW_ROWS", "Ring", "Thinned"]

RAW_ROWS = 6000  # two minutes of a recorder that writes 50 rows a second


class Ring:
    """The last rows of some columns; older ones make room, so memory doesn't grow.

    Rows lie in one piece at any time: twice the room is taken, and when it is full the later
    half moves to the front.
    """

    def __init__(self, columns: int, capacity: int = RAW_ROWS) -> None:
        if capacity < 1:
            raise InputError("capacity", capacity, "1 or more rows")
        self.capacity = capacity
        self._rows = np.full((2 * capacity, columns), np.nan)
        self._end = 0

    @property
    def held(self) -> int:
        """How many rows are held now."""
        return min(self._end, self.capacity)

    def add(self, rows: FloatArray) -> None:
        """Take rows in, shape (n, columns); of more than fit the last ones."""
        rows = rows[-self.capacity :]
        if self._end + len(rows) > len(self._rows):
            kept = min(self.capacity, self._end)
            self._rows[:kept] = self._rows[self._end - kept : self._end].copy()
            self._end = kept
        self._rows[self._end : self._end + len(rows)] = rows
        self._end += len(rows)

    def last(self, rows: int | None = None) -> FloatArray:
        """The last rows, oldest first, as a view that must not be changed."""
        count = self.held if rows is None else min(rows, self.held)
        return self._rows[self._end - count : self._end]


class Thinned:
    """Means of equal stretches of time of some columns, over all that was ever added.

    When there is no room for a later stretch, neighbours are put together and stretches become
    twice as long: memory doesn't grow, and the oldest is as coarse as the newest.
    """

    def __init__(self, columns: int, *, bins: int = 3600, width: float = 1.0) -> None:
        if bins < 2 or bins % 2:
            raise InputError("bins", bins, "an even number, 2 or more")
        self.width = width
        self._bins = bins
        self._sum = np.zeros((bins, columns))
        self._count = np.zeros((bins, columns))
        self._begins: float | None = None
        self._last = -1

    def add(self, time: FloatArray, rows: FloatArray) -> None:
        """Take rows in, shape (n, columns), at campaign seconds; NaN counts for nothing."""
        good = np.isfinite(time)
        if not good.any():
            return
        time, rows = time[good], rows[good]
        if self._begins is None:
            self._begins = float(time[0])
        self._make_room(float(time.max()))
        place = np.floor((time - self._begins) / self.width).astype(np.int64)
        for number in np.unique(place[place >= 0]):  # a clock put back before all else: dropped
            part = rows[place == number]
            known = np.isfinite(part)
            self._sum[number] += np.where(known, part, 0.0).sum(axis=0)
            self._count[number] += known.sum(axis=0)
            self._last = max(self._last, int(number))

    def _make_room(self, until: float) -> None:
        begins = 0.0 if self._begins is None else self._begins
        while (until - begins) / self.width >= self._bins:
            half = self._bins // 2
            for kept in (self._sum, self._count):
                kept[:half] = kept[0::2] + kept[1::2]
                kept[half:] = 0.0
            self.width *= 2
            self._last //= 2

    def since(self, time: float) -> int:
        """Number of the first stretch whose middle isn't before an instant."""
        return int(np.searchsorted(self.times(), time))

    def times(self) -> FloatArray:
        """Middle of every stretch so far [s]."""
        if self._begins is None:
            return np.empty(0)
        middles = np.arange(self._last + 1, dtype=np.float64) + 0.5
        return np.asarray(self._begins + self.width * middles, dtype=np.float64)

    def means(self, column: int, first: int = 0) -> FloatArray:
        """Mean of one column in every stretch from ``first`` on; NaN where nothing was read."""
        count = self._count[first : self._last + 1, column]
        total = self._sum[first : self._last + 1, column]
        mean = np.where(count > 0, total / np.where(count > 0, count, 1.0), np.nan)
        return np.asarray(mean, dtype=np.float64)
