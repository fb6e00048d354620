"""Is a series as steady as it was: its noise, its level at rest, its answer to temperature?"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc.allowed import Together
from gaugewright.calc.quality import Span, noise_floor, spans_where
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["NoiseChange", "Trend", "at_rest", "drift", "follows", "noise_changes"]

_FEWEST = 12
_AT_ONCE = 1024  # windows


@dataclass(frozen=True, slots=True)
class NoiseChange:
    """Rows where the noise differs from the usual, and how many times larger it is."""

    span: Span
    ratio: float


@dataclass(frozen=True, slots=True)
class Trend:
    """A slope, its standard uncertainty and how many independent points it rests on."""

    slope: float
    standard_uncertainty: float
    points: int


def noise_changes(values: ArrayLike, *, window: int, limit: float) -> tuple[NoiseChange, ...]:
    """Stretches whose noise is ``limit`` times the usual or more.

    The noise of each window of readings is held against the median over all windows. From 200
    readings a noise is known to about 12 % (the second differences of white noise are correlated;
    the median absolute deviation has an efficiency of 37 %), so a limit of 2 isn't met by chance.

    Parameters
    ----------
    values : array, shape (n_samples,)
        Readings in any one unit, NaN where missing [1].
    window : int
        Readings in one window [1].
    limit : float
        How many times the usual noise [1].

    Returns
    -------
    tuple of NoiseChange
        In order; the ratio is that of the noisiest window of each [1].

    Raises
    ------
    InputError
        If ``window`` is below 20 or ``limit`` isn't above one; both are named.
    """
    with Together("noise") as given:
        if window < 20:
            given.faults.append(InputError("window", window, "20 or more readings"))
        if not limit > 1:
            given.faults.append(InputError("limit", limit, "above 1"))
    data = np.asarray(values, dtype=np.float64)
    count = len(data) // window
    floors = _floors(data[: count * window].reshape(count, window))
    known = floors[np.isfinite(floors) & (floors > 0)]
    if known.size < 4:
        return ()
    usual = float(np.median(known))
    found = []
    for span in spans_where(np.nan_to_num(floors) >= limit * usual):
        last = len(data) - 1 if span.last == count - 1 else (span.last + 1) * window - 1
        worst = float(np.nanmax(floors[span.first : span.last + 1]))
        found.append(NoiseChange(Span(span.first * window, last), worst / usual))
    return tuple(found)


def _floors(windows: FloatArray) -> FloatArray:
    """Noise of each window, as ``noise_floor`` has it; of whole ones many at once."""
    floors = np.empty(len(windows))
    for first in range(0, len(windows), _AT_ONCE):  # of a long record all at once is much memory
        part = windows[first : first + _AT_ONCE]
        whole = np.isfinite(part).all(axis=1)
        floors[first : first + _AT_ONCE][~whole] = [noise_floor(window) for window in part[~whole]]
        read = part[whole]
        second = read[:, 2:] - 2 * read[:, 1:-1] + read[:, :-2]
        away = np.abs(second - np.median(second, axis=1, keepdims=True))
        floors[first : first + _AT_ONCE][whole] = 1.4826 * np.median(away, axis=1) / np.sqrt(6.0)
    return floors


def at_rest(load: ArrayLike, *, window: int, load_band: float) -> tuple[Span, ...]:
    """Stretches in which a load stays within a band for at least a window of readings.

    Parameters
    ----------
    load : array, shape (n_samples,)
        NaN where missing [N].
    window : int
        Shortest stretch, in readings [1].
    load_band : float
        Width of the band [N].

    Returns
    -------
    tuple of Span
        In order, not overlapping; rows [1].

    Raises
    ------
    InputError
        If ``window`` is below two or ``load_band`` isn't positive; both are named.
    """
    with Together("rest") as given:
        if window < 2:
            given.faults.append(InputError("window", window, "2 or more readings"))
        given.positive("load_band", load_band)
    data = np.asarray(load, dtype=np.float64)
    if len(data) < window:
        return ()
    shaped = np.lib.stride_tricks.sliding_window_view(data, window)[:: max(1, window // 8)]
    calm = np.ptp(shaped, axis=1) <= load_band
    rest = np.zeros(len(data), dtype=bool)
    for place in np.flatnonzero(calm) * max(1, window // 8):
        rest[place : place + window] = True
    return spans_where(rest)


def drift(time: ArrayLike, values: ArrayLike) -> Trend:
    """Slope of a series at rest, with a doubt that counts slow wander as well as noise.

    Means of twelve equal stretches are taken and a line laid through them: where readings are
    alike over shorter times than a stretch, the scatter of the means holds all of it.

    Parameters
    ----------
    time : array, shape (n_samples,)
        Rising [s].
    values : array, shape (n_samples,)
        Readings at rest in any one unit, NaN where missing [1].

    Returns
    -------
    Trend
        Slope and its standard uncertainty, in the readings' unit each second [1].

    Raises
    ------
    InputError
        With fewer than 36 readings, or times that don't rise.
    """
    when, read = _together(time, values)
    if len(when) < 3 * _FEWEST:
        raise InputError("readings at rest", len(when), f"{3 * _FEWEST} or more")
    groups = np.array_split(np.arange(len(when)), _FEWEST)
    middles = np.array([[when[g].mean(), read[g].mean()] for g in groups])
    return _slope(middles[:, 0], middles[:, 1])


def follows(temperature_degc: ArrayLike, values: ArrayLike, time: ArrayLike) -> Trend:
    """How much a series at rest follows temperature, what both do in a straight line left out.

    Parameters
    ----------
    temperature_degc : array, shape (n_samples,)
        At the gauge [degC].
    values : array, shape (n_samples,)
        Readings at rest in any one unit, NaN where missing [1].
    time : array, shape (n_samples,)
        Rising [s].

    Returns
    -------
    Trend
        Slope and its standard uncertainty, in the readings' unit each kelvin [1].

    Raises
    ------
    InputError
        With fewer than 36 readings, or a temperature that only changes in a straight line.
    """
    when, read, warmth = _together(time, values, temperature_degc)
    if len(when) < 3 * _FEWEST:
        raise InputError("readings at rest", len(when), f"{3 * _FEWEST} or more")
    groups = np.array_split(np.arange(len(when)), _FEWEST)
    t, y, x = (np.array([part[g].mean() for g in groups]) for part in (when, read, warmth))
    line = np.column_stack([np.ones_like(t), t - t.mean()])
    left = [part - line @ np.linalg.lstsq(line, part, rcond=None)[0] for part in (x, y)]
    spread = float(np.sum(left[0] ** 2))
    if spread <= 1e-9 * len(t):
        raise InputError(
            "temperature", "one value, or a straight line in time", "one that varies otherwise"
        )
    slope = float(np.sum(left[0] * left[1])) / spread
    rest = left[1] - slope * left[0]
    doubt = float(np.sqrt(np.sum(rest**2) / (len(t) - 3) / spread))
    return Trend(slope, doubt, len(t))


def _slope(x: FloatArray, y: FloatArray) -> Trend:
    spread = float(np.sum((x - x.mean()) ** 2))
    if spread <= 0:
        raise InputError("time", "one instant", "rising")
    slope = float(np.sum((x - x.mean()) * y)) / spread
    rest = y - y.mean() - slope * (x - x.mean())
    return Trend(slope, float(np.sqrt(np.sum(rest**2) / (len(x) - 2) / spread)), len(x))


def _together(*series: ArrayLike) -> tuple[FloatArray, ...]:
    """Series of one length, only where all have a number."""
    arrays = [np.asarray(part, dtype=np.float64) for part in series]
    if len({part.shape for part in arrays}) > 1:
        shapes = ", ".join(str(part.shape) for part in arrays)
        raise InputError("series", shapes, "of one length")
    good = np.all([np.isfinite(part) for part in arrays], axis=0)
    return tuple(part[good] for part in arrays)
