"""Where does a series leap: a spike, a step that stays, a dropout, a clipped top?

Each finds what one sensor does that nothing it is bonded to can do at that rate. Whether a step
is the gauge's or the specimen's (a crack, a slip of the load) isn't known from one series: its
neighbours and the load decide.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy.ndimage
from numpy.typing import ArrayLike

from gaugewright.calc.allowed import Together
from gaugewright.calc.quality import Span, equal_runs, noise_floor, spans_where
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["Leap", "clipped", "dropouts", "spikes", "steps"]

_NEAR = 5  # samples whose median a spike is held against
_AROUND = 101  # samples that show what is usual hereabouts
_QUICK = 5.0  # times the usual quickest moves: quicker ones are leaps
_PLAIN = 9.0  # noises that a step is above by itself
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
    data, rows = _known(values)
    if data.size < _NEAR:
        return ()
    away = data - scipy.ndimage.median_filter(data, _NEAR, mode="nearest")
    usual = _usual(data, away)
    found = []
    for span in spans_where(np.abs(away) > limit * usual):
        if span.rows > 2:
            continue
        worst = span.first + int(np.argmax(np.abs(away[span.first : span.last + 1])))
        at = Span(int(rows[span.first]), int(rows[span.last]))
        found.append(Leap(at, float(away[worst]), float(abs(away[worst]) / usual[worst])))
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
    read = np.array(values, dtype=np.float64)
    for gone in dropouts(read, limit=limit):
        read[gone.span.first : gone.span.last + 1] = np.nan
    data, rows = _known(read)
    if data.size < 2 * window + 2:
        return ()
    smooth = scipy.ndimage.median_filter(data, _NEAR, mode="nearest")
    away = data - smooth
    level = np.where(np.abs(away) > limit * _usual(data, away), smooth, data)
    jump, slope, rough = _ends(level, window)
    noise = np.maximum(rough, max(_floor(data), np.finfo(float).tiny))
    doubt = np.sqrt(8 / window) * noise
    # Where a ramp begins the two lines miss each other too, but no two readings show it.
    least = np.maximum(_SHARP * np.abs(jump), _PLAIN * noise)
    sharp = np.abs(np.diff(level)) - slope >= least
    sharp[:-1] |= np.abs(level[2:] - level[:-2]) - 2 * slope[:-1] >= least[:-1]
    strong = np.abs(jump) / doubt
    strong = np.nan_to_num(strong)  # too near an end for a line
    gap = scipy.ndimage.binary_dilation(np.diff(rows) > 1, iterations=2)
    strong[gap] = 0  # what happened in a gap took its time
    found = []
    for span in spans_where((strong > limit) & sharp):
        place = span.first + int(np.argmax(strong[span.first : span.last + 1]))
        at = Span(int(rows[place]), int(rows[place + 1]))
        found.append(Leap(at, float(jump[place]), float(strong[place])))
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
    data, rows = _known(values)
    floor = _floor(data)
    found = []
    for run in equal_runs(data, at_least=3) if data.size else ():
        if run.first == 0 or run.last == data.size - 1:
            continue
        before, after = float(data[run.first - 1]), float(data[run.last + 1])
        away = float(data[run.first]) - (before + after) / 2
        comes_back = abs(after - before) < abs(away) / 4
        if floor > 0 and abs(away) > limit * floor and comes_back:
            at = Span(int(rows[run.first]), int(rows[run.last]))
            found.append(Leap(at, away, abs(away) / floor))
    return tuple(found)


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
    rows = np.flatnonzero(np.isfinite(data))
    return data[rows], rows


def _floor(data: FloatArray) -> float:
    """Noise, and where digits hide it the scatter of the digits themselves: step / sqrt(12)."""
    floor = noise_floor(data)
    moves = np.abs(np.diff(data))
    moves = moves[moves > 0]
    digit = float(moves.min()) / np.sqrt(12) if moves.size else 0.0
    # The smallest move is the digit only where many moves are whole multiples of it.
    whole = moves.size > 0 and bool(
        np.mean(np.abs(moves / moves.min() - np.round(moves / moves.min())) < 0.01) > 0.9
    )
    return max(0.0 if np.isnan(floor) else floor, digit if whole else 0.0)


def _usual(data: FloatArray, away: FloatArray) -> FloatArray:
    """Usual scatter at each reading: of the side, before or after it, that is less quiet."""
    size = max(min(_AROUND, data.size // 2 * 2 - 1), 1)
    around = 1.4826 * scipy.ndimage.median_filter(np.abs(away), size, mode="nearest")
    half = size // 2
    before = np.concatenate([np.repeat(around[:1], half), around[: data.size - half]])
    after = np.concatenate([around[half:], np.repeat(around[-1:], half)])
    floor = max(_floor(data), np.finfo(float).tiny)
    # The median of five holds part of a reading itself: what is left is smaller than the noise.
    return np.asarray(np.maximum(1.6 * np.maximum(before, after), floor))


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
