"""Where does a series leap: a spike, a step that stays, a dropout, a clipped top?

Each finds what one sensor does that nothing it is bonded to can do at that rate. Whether a step
is the gauge's or the specimen's (a crack, a slip of the load) isn't known from one series: its
neighbours and the load decide.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy.ndimage
from numpy.typing import ArrayLike

from gaugewright.calc.allowed import Together
from gaugewright.calc.quality import Span, equal_runs, noise_floor, spans_where
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["Leap", "clipped", "dropouts", "leaps", "spikes", "steps"]

_NEAR = 5  # samples whose median a spike is held against
_AROUND = 101  # samples that show what is usual hereabouts
_QUICK = 5.0  # times the usual quickest moves: quicker ones are leaps
_PLAIN = 9.0  # noises that a step is above by itself
_SPARSE = 50  # of so many readings one may be looked at by itself, more are filtered at once
_SHARP = 0.6  # share of a step that two samples must hold: slower ones are loading


@dataclass(frozen=True, slots=True)
class Leap:
    """Rows that leapt, by how much in the readings' unit, and that over the usual scatter."""

    span: Span
    size: float
    times_noise: float


def spikes(values: ArrayLike, *, limit: float) -> tuple[Leap, ...]:
    """Single readings, or two together, that stand away from those around and come back.

    Readings are held against the median of five, which keeps ramps and steps; the usual scatter
    is the larger of the noise of the whole series and that of the hundred readings around, so
    that a quick cycle isn't a row of spikes.

    Parameters
    ----------
    values : array, shape (n_samples,)
        Readings in any one unit, NaN where missing [1].
    limit : float
        How many standard deviations of the usual scatter a spike has at least [1].

    Returns
    -------
    tuple of Leap
        In order; sizes in the readings' unit [1].

    Raises
    ------
    InputError
        If ``limit`` isn't positive.
    """
    with Together("spikes") as given:
        given.positive("limit", limit)
    return _spikes(_made_ready(values), limit)


def _spikes(ready: "_Ready", limit: float) -> tuple[Leap, ...]:
    data, rows = ready.data, ready.rows
    if data.size < _NEAR:
        return ()
    away = data - ready.smooth
    far, usual = _far(away, ready.floor, limit)
    outside = np.zeros(data.size, dtype=bool)
    outside[far] = True
    found = []
    for span in spans_where(outside) if far.size else ():
        if span.rows > 2:
            continue
        worst = span.first + int(np.argmax(np.abs(away[span.first : span.last + 1])))
        times = float(abs(away[worst]) / usual[np.searchsorted(far, worst)])
        at = Span(int(rows[span.first]), int(rows[span.last]))
        found.append(Leap(at, float(away[worst]), times))
    return tuple(found)


def steps(values: ArrayLike, *, limit: float, window: int) -> tuple[Leap, ...]:
    """Places where the level changes between two readings and stays changed.

    Straight lines are laid through ``window`` readings before and after each place and carried
    to it; their difference has a variance of 8 s^2 / window for noise s (4 s^2 / n at the end of
    a line through n points). At least six tenths of the step must lie within two readings:
    what takes longer is a load.

    Parameters
    ----------
    values : array, shape (n_samples,)
        Readings in any one unit, NaN where missing [1].
    limit : float
        How many standard deviations a step has at least [1].
    window : int
        Readings on either side [1].

    Returns
    -------
    tuple of Leap
        The last reading before and the first after each; sizes in the readings' unit [1].

    Raises
    ------
    InputError
        If ``limit`` isn't positive or ``window`` is below four.
    """
    with Together("steps") as given:
        given.positive("limit", limit)
        if window < 4:
            given.faults.append(InputError("window", window, "4 or more readings"))
    return _steps(_made_ready(values), limit, window)


@dataclass(frozen=True, slots=True)
class Leaps:
    """Leaps of one series by kind, and its noise in the readings' unit, NaN where unknown."""

    spikes: tuple[Leap, ...]
    steps: tuple[Leap, ...]
    dropouts: tuple[Leap, ...]
    noise: float


def leaps(
    values: ArrayLike, *, spike_limit: float, step_limit: float, dropout_limit: float, window: int
) -> Leaps:
    """Spikes, steps and dropouts of one series; what all look at is worked out once.

    Parameters
    ----------
    values : array, shape (n_samples,)
        Readings in any one unit, NaN where missing [1].
    spike_limit, step_limit, dropout_limit : float
        As ``limit`` of ``spikes``, ``steps`` and ``dropouts``; infinite to find none [1].
    window : int
        As for ``steps`` [1].

    Returns
    -------
    Leaps
        As those three give them, and what ``noise_floor`` gives [1].

    Raises
    ------
    InputError
        If a limit isn't positive or ``window`` is below four; all are named.
    """
    with Together("leaps") as given:
        limits = (spike_limit, step_limit, dropout_limit)
        for name, limit in zip(("spike_limit", "step_limit", "dropout_limit"), limits, strict=True):
            if not limit > 0:
                given.faults.append(InputError(name, limit, "positive"))
        if window < 4:
            given.faults.append(InputError("window", window, "4 or more readings"))
    ready = _made_ready(values)
    whole = ready.rows.size == np.size(values)
    return Leaps(
        _spikes(ready, spike_limit),
        _steps(ready, step_limit, window) if step_limit < np.inf else (),
        _dropped(ready, dropout_limit),
        ready.noise if whole else noise_floor(values),
    )


@dataclass(frozen=True, slots=True)
class _Ready:
    """Readings that are there with their rows, smoothed, and the noise of the whole series."""

    data: FloatArray
    rows: npt.NDArray[np.int64]
    smooth: FloatArray
    noise: float
    least: float

    @property
    def floor(self) -> float:
        """Scatter that none is below: of the series, else of the numbers themselves."""
        tiny, step = float(np.finfo(float).tiny), float(np.finfo(float).eps)
        return max(self.least, step * float(np.abs(self.data).max()), tiny)


def _made_ready(values: ArrayLike) -> _Ready:
    data, rows = _known(values)
    if not data.size:
        return _Ready(data, rows, data, float("nan"), 0.0)
    smooth = scipy.ndimage.median_filter(data, _NEAR, mode="nearest")
    noise = noise_floor(data)
    return _Ready(data, rows, smooth, noise, _least(data, noise))


def _without_dropouts(ready: _Ready, limit: float) -> _Ready:
    """The readings less those that only repeat one far number: their ends aren't steps."""
    gone = _dropouts(ready.data, limit, ready.least)
    if not gone:
        return ready
    read = np.full(int(ready.rows[-1]) + 1, np.nan)
    read[ready.rows] = ready.data
    for first, last, _, _ in gone:
        read[ready.rows[first] : ready.rows[last] + 1] = np.nan
    return _made_ready(read)


def _steps(ready: _Ready, limit: float, window: int) -> tuple[Leap, ...]:
    ready = _without_dropouts(ready, limit)
    data, rows, smooth = ready.data, ready.rows, ready.smooth
    if data.size < 2 * window + 2:
        return ()
    least_noise = ready.floor
    far, _ = _far(data - smooth, least_noise, limit)
    level = data.copy()
    level[far] = smooth[far]
    gap = np.diff(rows) > 1
    if gap.any():
        gap = scipy.ndimage.binary_dilation(gap, iterations=2)
    found = []
    for begin, end, places in _steep(level, _PLAIN * least_noise, window):
        strong, jump = _strengths(level[begin:end], places - begin, window, least_noise)
        strong[gap[places]] = 0  # what happened in a gap took its time
        passed = strong > limit
        mask = np.zeros(end - begin, dtype=bool)
        mask[places[passed] - begin] = True
        for span in spans_where(mask):
            here = slice(*np.searchsorted(places, [begin + span.first, begin + span.last + 1]))
            best = here.start + int(np.argmax(strong[here]))
            place = int(places[best])
            at = Span(int(rows[place]), int(rows[place + 1]))
            found.append(Leap(at, float(jump[best]), float(strong[best])))
    return _apart(found, window)


def dropouts(values: ArrayLike, *, limit: float) -> tuple[Leap, ...]:
    """Stretches of one repeated number, far from the readings around, that end as they began.

    A plug that shakes, or a recorder that writes a number of its own for nothing. Missing cells
    are no dropout: they say what they are.

    Parameters
    ----------
    values : array, shape (n_samples,)
        Readings in any one unit, NaN where missing [1].
    limit : float
        How many standard deviations of the usual scatter lie between [1].

    Returns
    -------
    tuple of Leap
        In order; sizes in the readings' unit [1].

    Raises
    ------
    InputError
        If ``limit`` isn't positive.
    """
    with Together("dropouts") as given:
        given.positive("limit", limit)
    return _dropped(_made_ready(values), limit)


def _dropped(ready: _Ready, limit: float) -> tuple[Leap, ...]:
    rows = ready.rows
    return tuple(
        Leap(Span(int(rows[first]), int(rows[last])), away, times)
        for first, last, away, times in _dropouts(ready.data, limit, ready.least)
    )


def _dropouts(data: FloatArray, limit: float, least: float) -> list[tuple[int, int, float, float]]:
    """First and last place of each dropout, how far it is away, and that over the noise."""
    first, last = _repeats(data)
    before, after = data[first - 1], data[last + 1]
    away = data[first] - (before + after) / 2
    comes_back = np.abs(after - before) < np.abs(away) / 4
    first, last, away = first[comes_back], last[comes_back], away[comes_back]
    passed = np.flatnonzero(np.abs(away) > limit * least).tolist() if least > 0 else []
    return [
        (int(first[k]), int(last[k]), float(away[k]), float(abs(away[k]) / least)) for k in passed
    ]


def _repeats(data: FloatArray) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """First and last of three or more equal readings, without those at either end."""
    same = np.concatenate(([False], data[1:] == data[:-1], [False]))
    edges = np.flatnonzero(same[1:] != same[:-1]).astype(np.int64)
    first, last = edges[::2], edges[1::2]
    inside = (last - first >= 2) & (first > 0) & (last < data.size - 1)
    return first[inside], last[inside]


def clipped(values: ArrayLike, *, at_least: int) -> tuple[Span, ...]:
    """Stretches cut flat at the highest or lowest reading of the series.

    A recorder at the end of its range writes the same number while the rest of the series is
    restless. A signal that merely rests at its top has noise there, or was never restless.

    Parameters
    ----------
    values : array, shape (n_samples,)
        Readings in any one unit, NaN where missing [1].
    at_least : int
        Shortest stretch, in readings [1].

    Returns
    -------
    tuple of Span
        In order; rows [1].

    Raises
    ------
    InputError
        If ``at_least`` is below two.
    """
    data = np.asarray(values, dtype=np.float64)
    good = data[np.isfinite(data)]
    runs = equal_runs(data, at_least=at_least)
    if not good.size or noise_floor(data) == 0 or good.min() == good.max():
        return ()
    usual = _QUICK * float(np.quantile(np.abs(np.diff(good)), 0.99))
    return tuple(
        run
        for run in runs
        if data[run.first] in (good.min(), good.max()) and _reached(data, run) <= usual
    )


def _reached(data: FloatArray, run: Span) -> float:
    """Largest move into or out of a run; a range is reached by moves like any others."""
    around = [data[max(run.first - 1, 0)], data[min(run.last + 1, data.size - 1)]]
    return float(np.nan_to_num(np.nanmax(np.abs(np.asarray(around) - data[run.first]))))


def _known(values: ArrayLike) -> tuple[FloatArray, npt.NDArray[np.int64]]:
    """Readings that are there, and their rows."""
    data = np.asarray(values, dtype=np.float64)
    known = np.isfinite(data)
    if known.all():
        return data, np.arange(data.size, dtype=np.int64)
    rows = np.flatnonzero(known)
    return data[rows], rows


def _least(data: FloatArray, noise: float) -> float:
    """Noise, and where digits hide it the scatter of the digits themselves: step / sqrt(12)."""
    floor = float(np.nan_to_num(noise))
    moves = np.diff(data)
    np.abs(moves, out=moves)
    smallest = float(np.min(moves, where=moves > 0, initial=np.inf))
    digit = smallest / np.sqrt(12) if smallest < np.inf else 0.0
    if digit <= floor:
        return floor
    moves = moves[moves > 0]
    # The smallest move is the digit only where many moves are whole multiples of it.
    whole = bool(np.mean(np.abs(moves / moves.min() - np.round(moves / moves.min())) < 0.01) > 0.9)
    return digit if whole else floor


def _far(away: FloatArray, floor: float, limit: float) -> tuple[npt.NDArray[np.int64], FloatArray]:
    """Readings further away than is usual hereabouts, and what is usual there.

    The usual scatter is worked out only where the noise of the whole series is exceeded, which it
    is never below: nearly everywhere that decides.
    """
    scatter = np.abs(away)
    beyond = np.flatnonzero(scatter > limit * floor).astype(np.int64)
    usual = _usual(scatter, beyond, floor) if beyond.size else np.empty(0)
    passed = scatter[beyond] > limit * usual
    return beyond[passed], usual[passed]


def _usual(scatter: FloatArray, places: npt.NDArray[np.int64], floor: float) -> FloatArray:
    """Usual scatter at some readings: of the side, before or after it, that is less quiet."""
    size = max(min(_AROUND, scatter.size // 2 * 2 - 1), 1)
    half = size // 2
    before = np.maximum(places - half, 0)
    after = np.minimum(places + half, scatter.size - 1)
    if places.size * _SPARSE > scatter.size:
        around = scipy.ndimage.median_filter(scatter, size, mode="nearest")
        sides = np.maximum(around[before], around[after])
    else:
        sides = np.maximum(_medians(scatter, before, half), _medians(scatter, after, half))
    # The median of five holds part of a reading itself: what is left is smaller than the noise.
    return np.asarray(np.maximum(1.6 * (1.4826 * sides), floor))


def _medians(values: FloatArray, places: npt.NDArray[np.int64], half: int) -> FloatArray:
    """Median of the readings round some places, as the running median has it there."""
    found = np.empty(places.size)
    reach = np.arange(-half, half + 1)
    for begin in range(0, places.size, 4096):
        cut = slice(begin, begin + 4096)
        around = np.clip(places[cut, np.newaxis] + reach, 0, values.size - 1)
        found[cut] = np.partition(values[around], half, axis=1)[:, half]
    return found


def _steep(
    level: FloatArray, least: float, window: int
) -> Iterator[tuple[int, int, npt.NDArray[np.int64]]]:
    """Stretches round the places where two or three readings show a move of a step's least size.

    Elsewhere no step can be, whatever the lines through its windows say, and none are laid.
    """
    quick = np.abs(np.diff(level)) >= least
    quick[:-1] |= np.abs(level[2:] - level[:-2]) >= least
    places = np.flatnonzero(quick).astype(np.int64)
    margin = 2 * window + 4
    cuts = np.flatnonzero(np.diff(places) > 2 * margin) + 1
    for group in np.split(places, cuts) if places.size else ():
        yield max(int(group[0]) - margin, 0), min(int(group[-1]) + margin, level.size), group


def _strengths(
    level: FloatArray, places: npt.NDArray[np.int64], window: int, least_noise: float
) -> tuple[FloatArray, FloatArray]:
    """Steps at some places over their doubt, 0 where what moved isn't sharp; and their sizes."""
    jumps, slopes, roughs = _ends(level, window)
    jump, slope, rough = jumps[places], slopes[places], roughs[places]
    noise = np.maximum(rough, least_noise)
    # Where a ramp begins the two lines miss each other too, but no two readings show it.
    least = np.maximum(_SHARP * np.abs(jump), _PLAIN * noise)
    sharp = np.abs(level[places + 1] - level[places]) - slope >= least
    third = np.minimum(places + 2, level.size - 1)
    sharp |= (np.abs(level[third] - level[places]) - 2 * slope >= least) & (third == places + 2)
    strong = np.nan_to_num(np.abs(jump) / (np.sqrt(8 / window) * noise))  # NaN: too near an end
    strong[~sharp] = 0
    return strong, jump


def _ends(level: FloatArray, window: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Between each pair of neighbours: how far apart the lines are, how steep, how rough."""
    place = np.arange(window) - (window - 1) / 2
    reach = window / 2  # from the middle of a window to half a step beyond its end
    weights = 1 / window + reach * place / np.sum(place**2)
    pad = np.full(window - 1, np.nan)
    before = np.concatenate([pad, np.correlate(level, weights, "valid")[:-1]])
    after = np.concatenate([np.correlate(level, weights[::-1], "valid")[1:], pad])
    slopes = np.abs(np.correlate(level, place / np.sum(place**2), "valid"))
    slope = np.fmax(np.concatenate([pad, slopes[:-1]]), np.concatenate([slopes[1:], pad]))
    second = np.abs(np.diff(level, 2, prepend=level[0], append=level[-1]))
    rough = 1.4826 * scipy.ndimage.median_filter(second, 2 * window + 1, mode="nearest")
    return after - before, slope, (rough / np.sqrt(6.0))[:-1]


def _apart(found: list[Leap], window: int) -> tuple[Leap, ...]:
    """Of steps closer together than a window, the strongest: the others are its edges."""
    kept: list[Leap] = []
    for leap in sorted(found, key=lambda leap: -leap.times_noise):
        if all(abs(leap.span.first - other.span.first) > window for other in kept):
            kept.append(leap)
    return tuple(sorted(kept, key=lambda leap: leap.span.first))
