"""Do two channels that recorded one quantity agree: gain, offset, and what neither explains?"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc.allowed import Together
from gaugewright.calc.trapezoids import area_until
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["Agreement", "StraightLine", "agreement", "line_both_doubtful", "means_around"]

PARTS = 20  # that are left out in turn to see how far gain and offset depend on any
FEWEST = 64
_TURNS = 100
_STILL = 1e-14


@dataclass(frozen=True, slots=True)
class StraightLine:
    """y = ``gain`` x + ``zero`` through points that are doubtful both ways.

    Standard uncertainties as the points' own doubts imply, ``covariance`` of gain and zero;
    ``misfit`` is the sum of weighted squares over its degrees of freedom, about 1 when the
    doubts explain what is left.
    """

    gain: float
    zero: float
    gain_uncertainty: float
    zero_uncertainty: float
    covariance: float
    misfit: float


@dataclass(frozen=True, slots=True)
class Agreement:
    """What a second channel reads where the first reads x: ``gain`` x + ``zero``.

    Standard uncertainties with ``degrees_of_freedom``, from leaving out parts of the record in
    turn: they hold whatever is alike between neighbours. ``middle`` is the mean of the first and
    ``at_middle`` the second's there, known better than ``zero``. ``residual`` is the standard
    deviation of the second about the line, ``noise`` what the scan-to-scan noise of both makes
    of it.
    """

    gain: float
    gain_uncertainty: float
    zero: float
    zero_uncertainty: float
    middle: float
    at_middle: float
    at_middle_uncertainty: float
    degrees_of_freedom: float
    residual: float
    noise: float
    samples: int


def line_both_doubtful(
    x: ArrayLike, y: ArrayLike, doubts_x: ArrayLike, doubts_y: ArrayLike
) -> StraightLine:
    """Straight line where both coordinates of every point are doubtful, independently.

    D. York, N. M. Evensen, M. López Martínez and J. De Basabe Delgado, Am. J. Phys. 72 (2004)
    367, equations 13a to 14 (from memory), without correlation within a point: the least sum of
    weighted squares of both distances, found by iteration from the line of ordinary least
    squares.

    Parameters
    ----------
    x, y : array, shape (n,)
        Three points or more [1].
    doubts_x, doubts_y : array that goes with ``x``
        Standard uncertainties, not both 0 anywhere [1].

    Returns
    -------
    StraightLine
        In the units of x and y.

    Raises
    ------
    InputError
        If sizes differ, a number is missing, or the line doesn't settle.
    """
    along, up = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    if along.ndim != 1 or along.shape != up.shape or along.size < 3:
        raise InputError("x and y", (along.shape, up.shape), "3 or more, as many of each")
    with Together("line") as given:
        given.finite("x", along)
        given.finite("y", up)
        one = given.not_negative("doubts_x", np.broadcast_to(doubts_x, along.shape))
        two = given.not_negative("doubts_y", np.broadcast_to(doubts_y, along.shape))
    if np.any((one == 0) & (two == 0)):
        raise InputError("doubts_x and doubts_y", 0.0, "not both 0 at one point")
    if np.ptp(along) == 0:
        raise InputError("x", "one value", "several")
    gain = float(np.polynomial.polynomial.polyfit(along, up, 1)[1])
    for _ in range(_TURNS):
        before = gain
        gain, weights, moved = _turned(along, up, one**2, two**2, gain)
        if abs(gain - before) <= _STILL * abs(gain):
            break
    else:
        raise InputError("line", gain, "one that settles", "look at the points")
    total = float(np.sum(weights))
    middle_x, middle_y = (float(np.sum(weights * part) / total) for part in (along, up))
    adjusted = middle_x + moved
    centre = float(np.sum(weights * adjusted) / total)
    of_gain = 1 / float(np.sum(weights * (adjusted - centre) ** 2))
    zero = middle_y - gain * middle_x
    rest = float(np.sum(weights * (up - gain * along - zero) ** 2)) / (along.size - 2)
    of_zero = 1 / total + centre**2 * of_gain
    return StraightLine(
        gain, zero, float(np.sqrt(of_gain)), float(np.sqrt(of_zero)), -centre * of_gain, rest
    )


def _turned(
    x: FloatArray, y: FloatArray, var_x: FloatArray, var_y: FloatArray, gain: float
) -> tuple[float, FloatArray, FloatArray]:
    """One step: a better gain, weights, and how far each adjusted x stands from the middle."""
    weights = 1 / (var_y + gain**2 * var_x)
    u = x - np.sum(weights * x) / np.sum(weights)
    v = y - np.sum(weights * y) / np.sum(weights)
    moved = weights * (u * var_y + gain * v * var_x)
    return float(np.sum(weights * moved * v) / np.sum(weights * moved * u)), weights, moved


def agreement(
    channel_readings: ArrayLike,
    other_readings: ArrayLike,
    *,
    noise_first: float,
    noise_second: float,
) -> Agreement:
    """Gain and offset of a channel against another that recorded the same, sample by sample.

    The line allows for noise in both, as ``line_both_doubtful``: ordinary least squares would
    read the gain low by the first's noise. Its uncertainty comes from a jackknife over twenty
    stretches of the record (B. Efron, The Jackknife, SIAM 1982, from memory), because what two
    channels differ by is alike for long: warming, hysteresis, clocks.

    Parameters
    ----------
    channel_readings, other_readings : array, shape (n_samples,)
        Readings at the same instants, NaN where missing [1].
    noise_first, noise_second : float
        Standard deviation of either one's noise at these instants [1].

    Returns
    -------
    Agreement
        In the readings' units.

    Raises
    ------
    InputError
        If sizes differ, fewer than 64 samples are common, or the first doesn't move.
    """
    x = np.asarray(channel_readings, dtype=np.float64)
    y = np.asarray(other_readings, dtype=np.float64)
    with Together("noise") as given:
        given.not_negative("noise_first", noise_first)
        given.not_negative("noise_second", noise_second)
        same = x.ndim == 1 and x.shape == y.shape
        given.holds("other_readings", y.shape, f"as long as the first, {x.shape}", if_=same)
    good = np.isfinite(x) & np.isfinite(y)
    x, y = x[good], y[good]
    if x.size < FEWEST:
        raise InputError("samples in common", int(x.size), f"{FEWEST} or more")
    # Readings without noise are weighed by the second's distances alone.
    doubts = (noise_first, noise_second if noise_first or noise_second else 1.0)
    middle = float(x.mean())
    whole = _at(x, y, doubts, middle)
    group = np.arange(x.size) * PARTS // x.size
    without = np.array([_at(x[group != n], y[group != n], doubts, middle) for n in range(PARTS)])
    spread = np.sqrt((PARTS - 1) / PARTS * np.sum((without - without.mean(axis=0)) ** 2, axis=0))
    gain, zero, there = whole
    rest = y - gain * x - zero
    return Agreement(
        gain,
        float(spread[0]),
        zero,
        float(spread[1]),
        middle,
        there,
        float(spread[2]),
        PARTS - 1.0,
        float(np.std(rest, ddof=2)),
        float(np.hypot(gain * noise_first, noise_second)),
        int(x.size),
    )


def _at(
    x: FloatArray, y: FloatArray, doubts: tuple[float, float], middle: float
) -> tuple[float, float, float]:
    line = line_both_doubtful(x, y, doubts[0], doubts[1])
    return line.gain, line.zero, line.gain * middle + line.zero


def means_around(
    time: ArrayLike, values: ArrayLike, instants: ArrayLike, *, period: float
) -> FloatArray:
    """Means over a stretch of time centred at each instant, of straight lines between samples.

    The integral of the lines over the stretch, divided by its length: centred whatever the
    samples' places in it, which a mean of the samples inside isn't.

    Parameters
    ----------
    time : array, shape (n_samples,)
        Rising, two or more [s].
    values : array, shape (n_samples,)
        Readings, none missing [1].
    instants : array of any shape
        Middles of the stretches [s].
    period : float
        Their length [s].

    Returns
    -------
    array shaped like ``instants``
        NaN where the stretch leaves the record [1].

    Raises
    ------
    InputError
        If sizes differ, a number is missing, time doesn't rise, or the period isn't positive.

    Examples
    --------
    >>> means_around([0, 1, 2, 3], [0, 2, 4, 6], [1.25, 2.9], period=1.0).tolist()
    [2.5, nan]
    """
    when, read = np.asarray(time, dtype=np.float64), np.asarray(values, dtype=np.float64)
    at = np.asarray(instants, dtype=np.float64)
    with Together("means") as given:
        given.positive("period", period)
        enough = when.ndim == 1 and when.size > 1 and read.shape == when.shape
        sizes = "two or more, as many of both"
        given.holds("time and values", (when.shape, read.shape), sizes, if_=enough)
        given.finite("time", when)
        given.finite("values", read)
        given.holds("order of time", "falling", "rising", if_=bool(np.all(np.diff(when) >= 0)))
    low, high = at - period / 2, at + period / 2
    area = area_until(when, read, high) - area_until(when, read, low)
    inside = (low >= when[0]) & (high <= when[-1])
    return np.asarray(np.where(inside, area / period, np.nan))
