"""Where a load was held, and whether what was read during a hold had settled."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.calc.quality import noise_floor, robust_spread, spans_where
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["Drift", "Hold", "drift", "holds"]

_BINS = 8  # in the shortest hold; their medians pass over single spikes
_FEWEST = 4  # bins that make a hold
_BLOCKS = 8  # means that a drift is fitted to


@dataclass(frozen=True, slots=True)
class Hold:
    """Rows ``first`` to ``last`` in which the load stood at ``level`` [N], both included."""

    first: int
    last: int
    level: float


@dataclass(frozen=True, slots=True)
class Drift:
    """How a reading moved in a stretch of time: mean, slope per second and its standard error."""

    mean: float
    rate: float
    rate_error: float


def holds(
    time: ArrayLike, load: ArrayLike, *, shortest: float = 10.0, share: float = 0.1
) -> tuple[Hold, ...]:
    """Stretches in which the load stood still while the test otherwise moved it.

    The record is cut into bins of an eighth of ``shortest`` and each becomes its median. A bin
    belongs to a hold where the straight line through the bins of one ``shortest`` round it is no
    steeper than ``share`` of the rate at which the load usually moved (the rate that half of all
    its travel was faster than), or no steeper than noise alone would make it. A slow ramp is
    therefore no hold, however slow: it is as fast as itself. A load that swings to and fro within
    a bin's width has no slope either, so what scatters more than the record's own noise and a
    hundredth of its range is none. Two levels within a hundredth of the range, between which the
    load only wandered, are one hold: a load that relaxes. Choice of this project, no source.

    Parameters
    ----------
    time : array, shape (n_samples,)
        Rising; a stretch without samples ends a hold [s].
    load : array, shape (n_samples,)
        NaN is passed over [N].
    shortest : float
        Shortest hold that is looked for [s].
    share : float
        Of the usual rate, up to which the load stands still [1].

    Returns
    -------
    tuple of Hold
        In order of time; rows, and load [N].

    Raises
    ------
    InputError
        If the arrays don't fit each other, time does not rise or a setting isn't positive.
    """
    with allowed.Together("holds") as given:
        given.positive("shortest", shortest)
        given.positive("share", share)
    t, p = _record(time, load)
    if t.size < _FEWEST:
        return ()
    width = max(shortest / _BINS, float(np.median(np.diff(t))))
    bins = _Bins.of(t, p, width)
    window = max(round(shortest / width), _FEWEST)
    found = [
        hold
        for first, last in _levels(bins, window, share, _tolerance(bins))
        if (hold := _hold(bins, (t, p), first, last)) is not None
        and t[hold.last] - t[hold.first] >= shortest - width
    ]
    return tuple(_merged(found, (t, p), 2 * shortest, _tolerance(bins)))


def drift(time: ArrayLike, values: ArrayLike) -> Drift:
    """Mean and slope of a stretch, with an error that also counts slow wandering.

    The straight line goes through eight means of equal time: what wanders within a block averages
    out, what wanders from block to block is in the error. A line through all samples would take
    them for independent and call its slope far too certain.

    Parameters
    ----------
    time : array, shape (n_samples,)
        Rising [s].
    values : array, shape (n_samples,)
        NaN is passed over [1].

    Returns
    -------
    Drift
        In the unit of the values, and that unit per second.

    Raises
    ------
    InputError
        If fewer than eight samples are there.

    Examples
    --------
    >>> drift(range(80), [2.0 * second for second in range(80)]).rate
    2.0
    """
    t, v = _record(time, values)
    good = np.isfinite(v)
    t, v = t[good], v[good]
    if t.size < _BLOCKS or t[-1] <= t[0]:
        raise InputError("values", t.size, f"{_BLOCKS} or more, over some time")
    block = np.minimum(((t - t[0]) / (t[-1] - t[0]) * _BLOCKS).astype(np.int64), _BLOCKS - 1)
    count = np.bincount(block, minlength=_BLOCKS)
    there = count > 0
    middle = np.bincount(block, t - t[0], _BLOCKS)[there] / count[there]
    mean = np.bincount(block, v, _BLOCKS)[there] / count[there]
    if middle.size < 3:
        raise InputError("values", "in one or two clumps", "spread over the stretch")
    centred = middle - np.mean(middle)
    spread = float(np.sum(centred**2))
    rate = float(np.sum(centred * mean)) / spread
    left = mean - np.mean(mean) - rate * centred
    error = float(np.sqrt(np.sum(left**2) / (middle.size - 2) / spread))
    return Drift(float(np.mean(v)), rate, error)


@dataclass(frozen=True, slots=True)
class _Bins:
    """Medians of equal stretches of time; a bin is missing where no sample fell into it.

    ``noise`` is the standard deviation of such a median, from the samples: medians of a load that
    swings fast scatter too, and that isn't noise.
    """

    number: npt.NDArray[np.int64]
    middle: FloatArray
    value: FloatArray
    first: npt.NDArray[np.int64]
    last: npt.NDArray[np.int64]
    noise: float

    @classmethod
    def of(cls, t: FloatArray, p: FloatArray, width: float) -> "_Bins":
        good = np.flatnonzero(np.isfinite(p))
        # A bin number before the first sample can't be: times rise.
        number = np.floor((t[good] - t[good[0]]) / width + 1e-9).astype(np.int64)
        order = np.lexsort((p[good], number))
        names, begins, counts = np.unique(number, return_index=True, return_counts=True)
        value = p[good][order]
        low, high = begins + (counts - 1) // 2, begins + counts // 2
        floor = noise_floor(p[good])
        # Variance of a median of normal samples is about π/2 that of their mean.
        noise = floor * float(np.sqrt(np.pi / 2 / np.median(counts)))
        middles = np.add.reduceat(t[good] - t[0], begins) / counts
        return cls(
            names,
            middles,
            (value[low] + value[high]) / 2,
            good[begins],
            good[begins + counts - 1],
            0.0 if np.isnan(noise) else noise,
        )

    def part(self, first: int, last: int) -> "_Bins":
        """Some bins in a row, both ends included."""
        rows = slice(first, last + 1)
        return _Bins(
            self.number[rows],
            self.middle[rows],
            self.value[rows],
            self.first[rows],
            self.last[rows],
            self.noise,
        )


def _levels(bins: _Bins, window: int, share: float, tolerance: float) -> Iterator[tuple[int, int]]:
    """Bins of each stretch at one level; what still travels is searched again by its own rate.

    After yield the load rises so slowly that a ramp is as slow as the holds before it were.
    """
    for span in spans_where(_still(bins, window, share)):
        cuts = np.flatnonzero(np.diff(bins.number[span.first : span.last + 1]) > 1) + 1
        edges = [0, *cuts.tolist(), span.rows]
        for begin, end in pairwise(edges):
            first, last = span.first + begin, span.first + end - 1
            part = bins.part(first, last)
            whole = first == 0 and last == bins.value.size - 1
            if np.ptp(part.value) <= 3 * tolerance or whole or part.value.size < 2 * window:
                yield first, last
                continue
            inside = list(_levels(part, window, share, tolerance))
            # A load that only relaxed has no level of its own inside: it is the hold itself.
            for begins, ends in inside or [(0, last - first)]:
                yield first + begins, first + ends


def _still(bins: _Bins, window: int, share: float) -> npt.NDArray[np.bool_]:
    """Bins that lie in a window whose slope is small."""
    size = bins.value.size
    still = np.zeros(size, dtype=np.bool_)
    if size < window:
        return still
    slope = _slopes(bins, window)
    # Windows over a gap of the record say nothing of either side.
    whole = bins.number[window - 1 :] - bins.number[: size - window + 1] == window - 1
    slope = np.where(whole, slope, np.nan)
    known = np.abs(slope[np.isfinite(slope)])
    if not known.size:
        return still
    order = np.sort(known)
    travel = np.cumsum(order)
    usual = order[int(np.searchsorted(travel, travel[-1] / 2))]
    width = float(np.median(np.diff(bins.middle) / np.diff(bins.number)))
    # Standard error of a slope through equally spaced points of that noise.
    error = bins.noise / (width * np.sqrt(window * (window**2 - 1) / 12))
    flat = np.flatnonzero(np.abs(slope) <= max(share * usual, 3 * error))
    for shift in range(window):
        still[flat + shift] = True
    return still


def _slopes(bins: _Bins, window: int) -> FloatArray:
    """Least-squares slope of every window of bins in a row."""
    x, y = bins.middle - bins.middle[0], bins.value - bins.value[0]
    ones = np.ones(window)
    sums = [np.convolve(part, ones, "valid") for part in (x, y, x * y, x * x)]
    across, up, both, square = sums
    spread = square - across**2 / window
    return np.asarray((both - across * up / window) / np.where(spread > 0, spread, np.nan))


def _tolerance(bins: _Bins) -> float:
    spread = float(bins.value.max() - bins.value.min())
    return max(4 * bins.noise, 0.01 * spread)


def _hold(bins: _Bins, record: tuple[FloatArray, FloatArray], first: int, last: int) -> Hold | None:
    """Hold of some bins, its ends cut back to where the load had arrived; None if it swings."""
    inside = bins.value[first : last + 1]
    level = float(np.median(inside))
    near = np.flatnonzero(np.abs(inside - level) <= _tolerance(bins))
    if near.size < _FEWEST:
        return None
    first, last = _arrived(bins, first + int(near[0]), first + int(near[-1]))
    rows = slice(int(bins.first[first]), int(bins.last[last]) + 1)
    part = record[1][rows]
    floor = noise_floor(part)
    if robust_spread(part) > max(4 * (0.0 if np.isnan(floor) else floor), _tolerance(bins) / 2):
        return None
    return Hold(rows.start, rows.stop - 1, level)


def _arrived(bins: _Bins, first: int, last: int) -> tuple[int, int]:
    """Ends moved inwards over bins in which the load was still on its way."""
    steps = np.abs(np.diff(bins.value[first : last + 1]))
    usual = max(float(np.median(steps)), 2 * bins.noise)
    calm = np.flatnonzero(steps <= 3 * usual)
    if not calm.size:
        return first, last
    most = _BINS // 2  # as far as a window reaches over the end of a hold
    begin, end = min(int(calm[0]), most), max(int(calm[-1]) + 1, last - first - most)
    return (first + begin, first + end) if end - begin >= _FEWEST - 1 else (first, last)


def _merged(
    found: list[Hold], record: tuple[FloatArray, FloatArray], pause: float, tolerance: float
) -> list[Hold]:
    """Holds between which the load only wandered, or twitched for a moment, are one."""
    made: list[Hold] = []
    for hold in found:
        before = made[-1] if made else None
        if before is not None and abs(hold.level - before.level) <= tolerance:
            t, between = (part[before.last : hold.first + 1] for part in record)
            low, high = sorted((before.level, hold.level))
            away = (between < low - tolerance / 2) | (between > high + tolerance / 2)
            seen = float(np.max(np.diff(t))) < pause
            if seen and np.count_nonzero(away) <= max(0.1 * between.size, 3):
                made[-1] = Hold(before.first, hold.last, hold.level)
                continue
        made.append(hold)
    return made


def _record(time: ArrayLike, values: ArrayLike) -> tuple[FloatArray, FloatArray]:
    t = np.asarray(time, dtype=np.float64)
    v = np.asarray(values, dtype=np.float64)
    if t.ndim != 1 or t.shape != v.shape:
        raise InputError("time", t.shape, f"one row as long as the readings {v.shape}")
    if t.size and not np.all(np.diff(t) >= 0):
        raise InputError("time", "not rising", "rising", "put the samples in order of time")
    return t, v
