"""Where strain leaves its straight line on the first loading: onset of yield, and of cracking."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike
from scipy import stats

from gaugewright.calc import allowed
from gaugewright.calc.onset import Passage, first_passage
from gaugewright.calc.quality import line_through, noise_floor, robust_spread
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "Bend",
    "Jump",
    "Line",
    "bend",
    "departure",
    "first_loading",
    "jump",
    "line_between",
    "plateau",
    "softening",
]

_BINS = 120  # of load, that a bend is looked for in
_FEWEST = 8  # bins on each side of a bend
_SIFTINGS = 10  # times that a line is drawn anew without its outliers
_BESIDE = 5  # samples before and after a step that are compared


@dataclass(frozen=True, slots=True)
class Line:
    """Strain as a straight line of load, ``at_zero`` + ``slope`` · P, and how sure its slope is.

    ``slope`` and its standard error in 1/N; ``scatter`` of strain about it, at samples from row
    ``first`` on; ``middle`` is the mean load of those [N].
    """

    slope: float
    at_zero: float
    slope_error: float
    scatter: float
    middle: float
    first: int


@dataclass(frozen=True, slots=True)
class Bend:
    """Load [N] at which one straight line gives way to a steeper one, and its evidence.

    ``low`` to ``high`` hold 95 %; ``chance`` is that of such a bend in a straight record of that
    scatter; slopes before and after in 1/N.
    """

    load: float
    low: float
    high: float
    before: float
    after: float
    chance: float


@dataclass(frozen=True, slots=True)
class Jump:
    """A step of strain that load doesn't explain: after row ``row``, its height and its limit."""

    row: int
    height: float
    limit: float


def first_loading(load: ArrayLike) -> npt.NDArray[np.bool_]:
    """Which samples belong to the first loading: the load is as high as it ever was.

    Unloading and loading again is left out: cracked concrete and yielded steel go another way
    then. A fall counts as one where it is larger than five standard deviations of the load's
    noise and a thousandth of its largest value.

    Parameters
    ----------
    load : array, shape (n_samples,)
        In order of time, rising from zero [N].

    Returns
    -------
    array of bool, shape (n_samples,)
        False too where the load is missing [1].
    """
    p = np.asarray(load, dtype=np.float64)
    if not np.isfinite(p).any():
        return np.zeros(p.shape, dtype=np.bool_)
    floor = noise_floor(p)
    slack = max(5 * (0.0 if np.isnan(floor) else floor), 1e-3 * float(np.nanmax(np.abs(p))))
    return np.asarray(p >= np.fmax.accumulate(p) - slack)


def line_between(load: ArrayLike, strain: ArrayLike, low: float, high: float) -> Line:
    """Straight line through the samples whose strain lies between two values.

    Parameters
    ----------
    load : array, shape (n_samples,)
        Of the first loading only [N].
    strain : array, shape (n_samples,)
        At the same instants [1].
    low, high : float
        Strains between which the line is taken [1].

    Returns
    -------
    Line
        By least squares of strain on load, the better known of the two. Samples farther than
        five robust standard deviations from it are left out: a spike that falls into the range
        comes from another load and would tilt the line.

    Raises
    ------
    InputError
        If too few samples lie there, or strain does not rise with load.
    """
    p, e = _pairs(load, strain)
    with np.errstate(invalid="ignore"):
        inside = (e >= low) & (e <= high) & np.isfinite(p)
    if np.count_nonzero(inside) < _FEWEST or np.ptp(p[inside]) == 0:
        raise InputError(
            "strain",
            f"{np.count_nonzero(inside)} samples between {low:.3g} and {high:.3g}",
            f"{_FEWEST} or more while the load rises",
            "no straight line can be told apart there",
        )
    rows = np.flatnonzero(inside)
    for _ in range(_SIFTINGS):
        slope, at_zero, error = line_through(p[rows], e[rows])
        left = e[rows] - at_zero - slope * p[rows]
        kept = np.abs(left) <= 5 * robust_spread(left)
        if kept.all() or np.count_nonzero(kept) < _FEWEST:
            break
        rows = rows[kept]
    if not slope > 0:
        raise InputError("slope", slope, "above 0: strain must rise with load")
    left = e[rows] - at_zero - slope * p[rows]
    middle = float(np.mean(p[rows]))
    return Line(slope, at_zero, error, float(np.std(left)), middle, int(rows[0]))


def departure(
    load: ArrayLike, strain: ArrayLike, line: Line, offset: float, *, persist: int = 5
) -> Passage | None:
    """Where strain lies by more than an offset beyond its own straight line, for good.

    Parameters
    ----------
    load : array, shape (n_samples,)
        NaN outside the first loading [N].
    strain : array, shape (n_samples,)
        At the same instants [1].
    line : Line
        What strain would follow.
    offset : float
        Strain beyond the line that counts: 0.002 as for a proof strength, 0.0001 for a first
        sign (choice of this project, no source) [1].
    persist : int
        Samples in a row [1].

    Returns
    -------
    Passage or None
        Its ``strain`` counts from the line and its ``slope`` is that of what lies beyond it,
        infinite where it grew at one load; its load is moved to the offset along that slope. None
        where strain never leaves the line.
    """
    p, e = _pairs(load, strain)
    beyond = np.where(np.isfinite(p), e - line.at_zero - line.slope * p, np.nan)
    # Load is missing outside the first loading: only samples of it follow one another. What came
    # before the line is another matter: uncracked concrete lies beyond it too.
    rows = np.flatnonzero(np.isfinite(beyond))
    rows = rows[rows > line.first]
    index = first_passage(beyond[rows], offset, persist=persist)
    if index is None:
        return None
    first, last = max(index - persist, 0), max(index, 1)
    x, y = p[rows], beyond[rows]
    there, over = float(np.median(x[first:last])), float(np.median(y[first:last]))
    slope = _rate_beyond(x, y, index, offset)
    at = min(there + (offset - over) / slope, float(np.max(x[first : index + 1])))
    leap = float(y[index] - y[index - 1]) if index else 0.0
    if leap > offset / 2 and y[index - 1] < offset:
        # It leaps over the offset between two samples: there it is, and nowhere before.
        there, over = float(x[index - 1]), float(y[index - 1])
        way = max(float(x[index]) - there, 0.0)
        slope = leap / way if way > 0 else np.inf
        at = there + way * (offset - over) / leap
    return Passage(
        int(rows[index]), at, slope, over, there, int(rows[first]), int(rows[last - 1]) + 1
    )


def _rate_beyond(p: FloatArray, beyond: FloatArray, index: int, offset: float) -> float:
    """How fast strain leaves its line with load; infinite where it runs away at one load."""
    below = np.flatnonzero(beyond[:index] < offset / 2)
    begin = int(below[-1]) if below.size else 0
    x, y = p[begin : index + 1], beyond[begin : index + 1]
    on_the_way = np.abs(y) < 1.5 * offset  # the rest are spikes
    x, y = (x[on_the_way], y[on_the_way]) if np.count_nonzero(on_the_way) > 1 else (x, y)
    centred = x - np.mean(x)
    spread = float(np.sum(centred**2))
    slope = float(np.sum(centred * y)) / spread if spread > 0 else np.inf
    return slope if slope > 0 else np.inf


def softening(
    load: ArrayLike,
    strain: ArrayLike,
    line: Line,
    share: float = 1 / 3,
    *,
    piece: float = 100e-6,
    persist: int = 5,
) -> int | None:
    """First sample from which the stiffness dP/dε is below a share of that of the line.

    The record is cut where strain has grown by ``piece``, which must be well above its noise;
    stiffness is the rise of load over each such piece, and ``persist`` pieces in a row must be
    soft. Holds are left out by that: strain that creeps at constant load fills few pieces. Share
    and count: common practice, no source.

    Parameters
    ----------
    load : array, shape (n_samples,)
        NaN outside the first loading [N].
    strain : array, shape (n_samples,)
        At the same instants [1].
    line : Line
        Whose stiffness is compared with.
    share : float
        Of that stiffness [1].
    piece : float
        Strain over which a stiffness is taken [1].
    persist : int
        Pieces in a row [1].

    Returns
    -------
    int or None
        None where it never goes so soft [1].
    """
    with allowed.Together("softening") as given:
        given.positive("share", share)
        given.positive("piece", piece)
    p, e = _pairs(load, strain)
    rows = np.flatnonzero(np.isfinite(p) & np.isfinite(e))
    if rows.size < persist:
        return None
    highest = np.maximum.accumulate(e[rows])
    level = np.floor((highest - highest[0]) / piece)
    edges = np.flatnonzero(np.diff(level, prepend=-1.0) > 0)
    if edges.size <= persist:
        return None
    rise = np.diff(p[rows][edges]) / np.diff(highest[edges])
    soft = rise < share / line.slope
    total = np.concatenate(([0], np.cumsum(soft)))
    full = np.flatnonzero(total[persist:] - total[:-persist] == persist)
    return int(rows[edges[full[0]]]) if full.size else None


def plateau(
    load: ArrayLike,
    strain: ArrayLike,
    begin: float,
    rise: float,
    *,
    share: float = 0.01,
    persist: int = 5,
) -> tuple[int, int] | None:
    """First stretch in which strain runs on while the load stays: a plateau's front passing.

    Parameters
    ----------
    load : array, shape (n_samples,)
        NaN outside the first loading [N].
    strain : array, shape (n_samples,)
        At the same instants [1].
    begin : float
        Strain from which on a plateau may begin [1].
    rise : float
        By which strain grows in it (choice of this project, no source) [1].
    share : float
        Of its value by which the load may have risen meanwhile [1].
    persist : int
        Samples in a row that must lie so far on: a spike is none [1].

    Returns
    -------
    tuple of int or None
        First and last sample of the stretch; None where there is none [1].
    """
    with allowed.Together("plateau") as given:
        given.positive("begin", begin)
        given.positive("rise", rise)
        given.positive("share", share)
    p, e = _pairs(load, strain)
    rows = np.flatnonzero(np.isfinite(p) & np.isfinite(e))
    if rows.size <= persist:
        return None
    # What so many samples in a row have reached; a spike hasn't.
    held = np.lib.stride_tricks.sliding_window_view(e[rows], persist).min(axis=1)
    reached, carried = np.maximum.accumulate(held), np.maximum.accumulate(p[rows])
    started = np.flatnonzero(held >= begin)
    ends = np.searchsorted(reached, held[started] + rise)
    inside = ends < reached.size
    started, ends = started[inside], ends[inside]
    flat = np.flatnonzero(carried[ends] - carried[started] <= share * np.abs(carried[started]))
    if not flat.size:
        return None
    return int(rows[started[flat[0]]]), int(rows[ends[flat[0]]])


def bend(
    load: ArrayLike, strain: ArrayLike, *, steeper: float = 1.5, significance: float = 0.001
) -> Bend | None:
    """Load at which strain begins to rise more steeply with load, as first cracking makes it.

    The first loading is cut into equal steps of load, and one straight line is compared with two,
    one below and one above every load at which it could bend: least squares, and the F statistic
    of the better fit with three more parameters, a line's two and the load itself. The two needn't
    meet, since cracking makes strain jump. (D. V. Hinkley, Inference about the intersection in
    two-phase regression, Biometrika 56 (1969), 495: from memory.) The interval holds every load
    whose sum of squares is not worse by more than F allows at 95 %. What bends gently in truth is
    counted as scatter and widens the interval.

    Parameters
    ----------
    load : array, shape (n_samples,)
        NaN outside the first loading [N].
    strain : array, shape (n_samples,)
        At the same instants, below yield [1].
    steeper : float
        Slope after over slope before, from which on it is a bend [1].
    significance : float
        Chance of a false alarm that is accepted; the search over all loads is allowed for by
        dividing it by their number [1].

    Returns
    -------
    Bend or None
        None where one line will do.
    """
    with allowed.Together("bend") as given:
        given.positive("steeper", steeper)
        given.positive("significance", significance)
    x, y = _steps(*_pairs(load, strain))
    if x.size < 2 * _FEWEST + 1:
        return None
    knots = (x[_FEWEST - 1 : -_FEWEST] + x[_FEWEST : 1 - _FEWEST]) / 2
    squares = np.empty(knots.size)
    slopes = np.empty((knots.size, 2))
    for place in range(knots.size):
        cut = place + _FEWEST
        lines = [line_through(x[part], y[part]) for part in (slice(cut), slice(cut, None))]
        left = [
            y[part] - line[1] - line[0] * x[part]
            for part, line in zip((slice(cut), slice(cut, None)), lines, strict=True)
        ]
        squares[place] = sum(float(np.sum(one**2)) for one in left)
        slopes[place] = lines[0][0], lines[1][0]
    best = int(np.argmin(squares))
    free = x.size - 5
    one = line_through(x, y)
    straight = float(np.sum((y - one[1] - one[0] * x) ** 2))
    variance = max(squares[best] / free, 1e-30)
    chance = float(stats.f.sf((straight - squares[best]) / 3 / variance, 3, free)) * knots.size
    before, after = slopes[best]
    if chance > significance or not after > steeper * max(before, 0.0):
        return None
    allowed_worse = squares[best] + variance * float(stats.f.ppf(0.95, 1, free))
    inside = np.flatnonzero(squares <= allowed_worse)
    # No knot is known better than to between the two steps round it.
    low, high = float(x[inside[0] + _FEWEST - 1]), float(x[inside[-1] + _FEWEST])
    return Bend(float(knots[best]), low, high, float(before), float(after), min(chance, 1.0))


def jump(
    load: ArrayLike, strain: ArrayLike, strain_per_load: float, *, least: float = 20e-6
) -> Jump | None:
    """First step of strain upwards that the change of load does not explain.

    Medians of five samples before and after are compared, so that a spike is no step; what the
    load changed meanwhile is taken off with the steepest slope that the gauge shows. A step is
    larger than ``least`` and than five standard deviations of the noise of such a difference.
    Limits: common practice, no source.

    Parameters
    ----------
    load : array, shape (n_samples,)
        NaN outside the first loading [N].
    strain : array, shape (n_samples,)
        At the same instants, below yield [1].
    strain_per_load : float
        What counts as explained [1/N].
    least : float
        Smallest step [1].

    Returns
    -------
    Jump or None
        Rows count in the arrays given; None where there is none.
    """
    p, e = _pairs(load, strain)
    rows = np.flatnonzero(np.isfinite(p) & np.isfinite(e))
    if rows.size < 2 * _BESIDE + 1:
        return None
    e, p = e[rows], p[rows]
    # Across a hold or an unloading that was left out, before and after are far apart.
    # A dip of a few samples is none of these: a crack makes one.
    together = rows[2 * _BESIDE - 1 :] - rows[: rows.size - 2 * _BESIDE + 1] < 10 * _BESIDE
    middle = np.median(np.lib.stride_tricks.sliding_window_view(e, _BESIDE), axis=1)
    under = np.median(np.lib.stride_tricks.sliding_window_view(p, _BESIDE), axis=1)
    rise = middle[_BESIDE:] - middle[:-_BESIDE]
    left = rise - strain_per_load * np.abs(under[_BESIDE:] - under[:-_BESIDE])
    # Variance of a median of normal samples is about π/2 that of their mean; two are compared.
    noise = noise_floor(e) * float(np.sqrt(np.pi / _BESIDE))
    limit = max(least, 5 * noise)
    over = np.flatnonzero((left > limit) & together)
    # A few spikes in a row come back; a step stays, seen by medians of many more samples.
    stays = (at for at in over.tolist() if _stays(p, e, at + _BESIDE, strain_per_load) > limit / 2)
    first = next(stays, None)
    if first is None:
        return None
    # The largest within one window's reach of the first: where the step itself is.
    near = over[(over >= first) & (over < first + 2 * _BESIDE)]
    at = int(near[np.argmax(left[near])])
    row = at + _parted(e[at : at + 2 * _BESIDE] - strain_per_load * p[at : at + 2 * _BESIDE])
    return Jump(int(rows[row]), float(left[at]), float(limit))


def _parted(values: FloatArray) -> int:
    """Last sample before a step: where two levels, each a median, leave the least over."""
    left = [
        np.sum(np.abs(part - np.median(part)))
        for cut in range(1, values.size)
        for part in (values[:cut], values[cut:])
    ]
    return int(np.argmin(np.asarray(left).reshape(-1, 2).sum(axis=1)))


def _stays(p: FloatArray, e: FloatArray, at: int, slope: float) -> float:
    """Step between medians of five times as many samples on each side of a place."""
    before = slice(max(at - 5 * _BESIDE, 0), at)
    after = slice(at + 1, at + 1 + 5 * _BESIDE)
    if e[after].size < 3 * _BESIDE:
        return -np.inf
    moved = np.median(p[after]) - np.median(p[before])
    return float(np.median(e[after]) - np.median(e[before]) - slope * abs(moved))


def _steps(p: FloatArray, e: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean load and strain in equal steps of load; empty steps are left out."""
    good = np.isfinite(p) & np.isfinite(e)
    p, e = p[good], e[good]
    if p.size < _BINS or np.ptp(p) == 0:
        return p, e
    number = np.minimum(((p - p.min()) / np.ptp(p) * _BINS).astype(np.int64), _BINS - 1)
    count = np.bincount(number, minlength=_BINS)
    there = count > 0
    x = np.bincount(number, p, _BINS)[there] / count[there]
    y = np.bincount(number, e, _BINS)[there] / count[there]
    return x, y


def _pairs(load: ArrayLike, strain: ArrayLike) -> tuple[FloatArray, FloatArray]:
    p = np.asarray(load, dtype=np.float64)
    e = np.asarray(strain, dtype=np.float64)
    if p.ndim != 1 or p.shape != e.shape:
        raise InputError("load", p.shape, f"one row as long as strain {e.shape}")
    return p, e
