"""How do two clocks go together, when both recorders followed the same thing without a trigger?"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy.fft
import scipy.ndimage
from numpy.typing import ArrayLike

from gaugewright.calc.allowed import Together
from gaugewright.calc.quality import noise_floor
from gaugewright.calc.trapezoids import area_until
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["SignalFit", "clock_by_signal"]

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

# Common practice, no source: quartz clocks of recorders differ by less than 0.2 ms each second.
QUARTZ_RATE = 2e-4
# Smoothed readings of one thing are alike to better than this, but for their noise. A relation
# that isn't straight pulls the delay by more than any doubt shows: strains of a cracking beam
# against its load were 0.994 alike and 0.2 s off.
LEAST_ALIKE = 0.999
# How much of the slope's power may be noise: it makes a delay look better known than it is.
NOISE_IN_SLOPE = 0.05
# Of two places that explain the signal, the worse must leave so much more unexplained.
CLEARLY_WORSE = 1.25
FEWEST = 32
_NEXT_TO_NOTHING = 1e-6
_STEPS = 40
_SETTLING = 4
_WIDEST = 512


@dataclass(frozen=True, slots=True)
class SignalFit:
    """Reference time = ``offset`` + (1 + ``rate``) x other time, and how well the two agree.

    ``offset`` in s at other time 0; ``standard_uncertainty`` in s, one for each instant asked
    for. ``gain`` and ``zero`` take the reference's readings to the other's; ``correlation`` is
    that of the readings laid over each other, ``smoothed_over`` the width in s by which both were
    smoothed alike.
    """

    offset: float
    rate: float
    standard_uncertainty: FloatArray
    gain: float
    zero: float
    correlation: float
    smoothed_over: float


def clock_by_signal(
    reference_time: ArrayLike,
    reference_signal: ArrayLike,
    time: ArrayLike,
    signal: ArrayLike,
    *,
    largest_offset: float,
    instants: ArrayLike,
    largest_rate: float = QUARTZ_RATE,
) -> SignalFit:
    """Offset and rate between two clocks from one quantity that both recorded.

    The readings may differ by a gain and a zero: a load and a strain that follows it will do.
    Both are brought to one even grid, as wide as the slower recorder's step, and smoothed alike
    until noise is at most 5 % of the power of the slope. A first place is the largest
    correlation; offset, rate, gain and zero then follow by least squares on the difference of
    the two, whose covariance counts that neighbouring differences are alike (W. K. Newey and
    K. D. West, Econometrica 55 (1987) 703, eq. 5, from memory). With the two-parameter time
    shift linearised this is delay estimation by generalised least squares.

    Parameters
    ----------
    reference_time, time : array, shape (n_samples,)
        Elapsed time on either clock, rising [s].
    reference_signal, signal : array, shape (n_samples,)
        Readings, NaN where missing [1].
    largest_offset : float
        How far the clocks may be apart, either way [s].
    instants : array of any shape
        Instants on the other clock at which the uncertainty is wanted [s].
    largest_rate : float
        How much the rates of the clocks may differ, a limit, rectangular: it counts beside what
        the readings themselves say of the rate [1].

    Returns
    -------
    SignalFit
        The line and its standard uncertainty at each of those instants.

    Raises
    ------
    InputError
        If lengths don't match, too little is common, nothing moves, the readings aren't alike
        but for a gain and a zero, or two places fit alike, as with a repeated load.
    """
    kept = _known(reference_time, reference_signal, "reference")
    theirs = _known(time, signal, "signal")
    with Together("clocks") as given:
        given.positive("largest_offset", largest_offset)
        given.positive("largest_rate", largest_rate)
    step = max(float(np.median(np.diff(kept[0]))), float(np.median(np.diff(theirs[0]))))
    grid, other = _even(*kept, step), _even(*theirs, step)
    width = max(_width(grid[1]), _width(other[1]))
    smooth = tuple(scipy.ndimage.gaussian_filter1d(part[1], width) for part in (grid, other))
    lag = _first_place(grid[0], smooth[0], other[0], smooth[1], largest_offset)
    noise = sum(
        _noise_left(part[1], smoothed, width)
        for part, smoothed in zip((grid, other), smooth, strict=True)
    )
    fit = _Fit(grid[0], smooth[0], other[0], smooth[1], width)
    wanted = np.asarray(instants, dtype=np.float64)
    found = fit.from_lag(lag, wanted, width * step, largest_rate / np.sqrt(3))
    _refuse_unlike(found.correlation, noise)
    return found


def _known(time: ArrayLike, values: ArrayLike, name: str) -> tuple[FloatArray, FloatArray]:
    when = np.asarray(time, dtype=np.float64)
    read = np.asarray(values, dtype=np.float64)
    if when.ndim != 1 or when.shape != read.shape:
        raise InputError(name, read.shape, f"as long as its time, {when.shape}")
    good = np.isfinite(when) & np.isfinite(read)
    when, read = when[good], read[good]
    if len(when) < FEWEST:
        raise InputError(f"samples of {name}", len(when), f"at least {FEWEST}")
    if np.any(np.diff(when) < 0):
        raise InputError(f"time of {name}", "goes back", "rising", "cut it where it does")
    if np.ptp(read) == 0:
        raise InputError(name, "always the same", "moving", "choose another column")
    rising = np.concatenate([[True], np.diff(when) > 0])
    return when[rising], read[rising]


def _even(time: FloatArray, values: FloatArray, step: float) -> tuple[FloatArray, FloatArray]:
    """Readings at even steps, the quicker recorder's blurred as much as the slower one's are.

    Straight lines between samples a period p apart blur like a triangle of variance p^2 / 6. A
    box of width sqrt(2 (step^2 - p^2)) makes up what a quicker recorder lacks; without it every
    kink of the signal would pull the delay.
    """
    count = int((time[-1] - time[0]) / step) + 1
    at = time[0] + step * np.arange(count)
    period = float(np.median(np.diff(time)))
    box = np.sqrt(max(0.0, 2 * (step**2 - period**2)))
    if box < period / 10:
        return at, np.interp(at, time, values)
    left, right = np.clip(at - box / 2, *time[[0, -1]]), np.clip(at + box / 2, *time[[0, -1]])
    area = area_until(time, values, right) - area_until(time, values, left)
    return at, area / (right - left)


def _width(values: FloatArray) -> float:
    """Width of smoothing in steps that leaves little of the slope to noise.

    A Gaussian of width w lets a white noise of deviation s into the slope with
    s / (sqrt(2) pi^(1/4) w^(3/2)): the square root of the integral of its squared derivative,
    1 / (4 sqrt(pi) w^3), times s.
    """
    noise = noise_floor(values)
    if noise == 0:
        return 1.0
    width = 1.0
    while width < min(_WIDEST, len(values) / 16):
        slope = np.gradient(scipy.ndimage.gaussian_filter1d(values, width))
        let_in = noise**2 / (4 * np.sqrt(np.pi) * width**3)
        if let_in <= NOISE_IN_SLOPE * float(np.mean(slope**2)):
            return width
        width *= 1.5
    raise InputError(
        "signal",
        f"noise of {noise:.3g} hides how it changes",
        "one that changes by more than its noise within a sixteenth of the record",
        "choose a column that moves more, or join the clocks by a trigger",
    )


def _noise_left(values: FloatArray, smoothed: FloatArray, width: float) -> float:
    """Share of a smoothed record's variance that is noise: s^2 / (2 sqrt(pi) w) of white noise."""
    left = noise_floor(values) ** 2 / (2 * np.sqrt(np.pi) * width)
    return float(left / np.var(smoothed))


def _refuse_unlike(correlation: float, noise: float) -> None:
    """Refuse readings that differ by more than a gain, a zero and their noise."""
    if 1 - correlation**2 > 1 - LEAST_ALIKE**2 + 4 * noise:
        raise InputError(
            "correlation of the two",
            round(correlation, 4),
            f"{LEAST_ALIKE} or more, either sign, but for noise",
            "choose columns that follow each other in a straight line, such as one sensor read "
            "twice, or join the clocks by a trigger",
        )


def _first_place(
    reference_time: FloatArray,
    reference: FloatArray,
    time: FloatArray,
    signal: FloatArray,
    largest_offset: float,
) -> float:
    """Lag [s] with the largest correlation; refused where another explains nearly as much."""
    step = float(reference_time[1] - reference_time[0])
    start = float(reference_time[0] - time[0])
    size = scipy.fft.next_fast_len(len(reference) + len(signal))
    whole = scipy.fft.rfft(_levelled(reference), size)
    parts = np.conj(scipy.fft.rfft(_levelled(signal), size))
    product = np.asarray(scipy.fft.irfft(whole * parts, size))
    shifts = np.arange(size)
    shifts = np.where(shifts > len(reference), shifts - size, shifts)
    lags = np.asarray(start + step * shifts, dtype=np.float64)
    common = _common(len(reference), len(signal), shifts)
    allowed = (np.abs(lags) <= largest_offset) & (common >= max(FEWEST, len(signal) // 4))
    if not allowed.any():
        raise InputError(
            "what both recorded",
            "nothing within the largest offset",
            f"at least {FEWEST} steps of {step:.3g} s, and a quarter of the other's record",
            "allow a larger offset, or choose recordings of the same time",
        )
    order = np.argsort(shifts)
    lags, allowed = lags[order], allowed[order]
    alike = _alike(_levelled(reference), _levelled(signal), shifts[order], product[order])
    alike = np.asarray(np.where(allowed, alike, 0.0))
    best = int(np.argmax(np.abs(alike)))
    _refuse_second(lags, np.abs(alike), best)
    return float(lags[best])


def _levelled(values: FloatArray) -> FloatArray:
    return np.asarray(values - values.mean())


def _common(reference: int, signal: int, shifts: IntArray) -> IntArray:
    """How many steps two records share when the second begins ``shifts`` steps into the first."""
    return np.minimum(reference, shifts + signal) - np.maximum(0, shifts)


def _alike(
    reference: FloatArray, signal: FloatArray, shifts: IntArray, product: FloatArray
) -> FloatArray:
    """Correlation over what is common at each shift, from running sums of both."""
    first = np.clip(np.maximum(0, shifts), 0, len(reference))
    last = np.clip(np.minimum(len(reference), shifts + len(signal)), 0, len(reference))
    last = np.maximum(last, first)
    sums = [np.concatenate([[0.0], np.cumsum(part)]) for part in (reference, reference**2)]
    other = [np.concatenate([[0.0], np.cumsum(part)]) for part in (signal, signal**2)]
    n = np.maximum(last - first, 1)
    begin = np.clip(first - shifts, 0, len(signal))
    end = np.clip(last - shifts, begin, len(signal))
    x, xx = (total[last] - total[first] for total in sums)
    y, yy = (total[end] - total[begin] for total in other)
    spread = (xx - x * x / n) * (yy - y * y / n)
    with np.errstate(divide="ignore", invalid="ignore"):
        found = (product - x * y / n) / np.sqrt(spread)
    return np.asarray(np.where(spread > 0, np.nan_to_num(found), 0.0))


def _refuse_second(lags: FloatArray, alike: FloatArray, best: int) -> None:
    """Refuse a place beside which another leaves little more unexplained."""
    left = np.maximum(1 - alike**2, _NEXT_TO_NOTHING)
    inner = np.r_[False, (alike[1:-1] > alike[:-2]) & (alike[1:-1] >= alike[2:]), False]
    inner[best] = False
    others = np.flatnonzero(inner)
    if not others.size:
        return
    second = int(others[np.argmax(alike[others])])
    if left[second] < CLEARLY_WORSE * left[best]:
        raise InputError(
            "offset between the clocks",
            f"{lags[best]:.6g} s or {lags[second]:.6g} s: both lay the signals over each other",
            "one place clearly better than any other",
            "allow a smaller offset, choose a stretch that isn't repeated, or use a trigger",
        )


class _Fit:
    """Least squares for offset, rate, gain and zero between two even, smoothed records."""

    def __init__(
        self,
        reference_time: FloatArray,
        reference: FloatArray,
        time: FloatArray,
        signal: FloatArray,
        width: float,
    ) -> None:
        self._reference_time = reference_time
        self._reference = reference
        self._slope = np.gradient(reference, reference_time)
        self._time = time
        self._signal = signal
        self._width = width  # of the smoothing, in steps

    def from_lag(
        self, lag: float, instants: FloatArray, smoothed_over: float, rate_doubt: float
    ) -> SignalFit:
        """Improve a first lag until it moves no more; then let what is known of the rate count."""
        rate, inside = 0.0, self._inside(lag, 0.0, 0.0)
        centre = float(self._time[inside].mean())
        for turn in range(_STEPS):
            if turn < _SETTLING:  # later the steps looked at must stay the same
                inside = self._inside(lag, rate, centre)
                _refuse_little(inside)
            design, gain, zero, rest = self._linear(lag, rate, centre, inside)
            moved, *_ = np.linalg.lstsq(design, rest, rcond=None)
            lag, rate = lag + moved[2], rate + moved[3]
            if turn >= _SETTLING and abs(moved[2]) < 1e-5 * (self._time[1] - self._time[0]):
                break
        else:
            raise InputError("offset between the clocks", lag, "one that settles", "use a trigger")
        covariance = self._covariance(design, rest)
        share = covariance[:, 3] / (covariance[3, 3] + rate_doubt**2)
        lag, rate = lag - share[2] * rate, rate - share[3] * rate
        covariance = covariance - np.outer(share, covariance[3])
        away = instants - centre
        doubt = covariance[2, 2] + 2 * away * covariance[2, 3] + away**2 * covariance[3, 3]
        over = float(np.corrcoef(design[:, 1], self._signal[inside])[0, 1])
        return SignalFit(
            lag - rate * centre,
            rate,
            np.asarray(np.sqrt(doubt)),
            gain,
            zero,
            float(over),
            smoothed_over,
        )

    def _inside(self, lag: float, rate: float, centre: float) -> BoolArray:
        at = self._time + lag + rate * (self._time - centre)
        edge = 4 * self._width * (self._time[1] - self._time[0])  # smoothing reached past the ends
        begin, end = self._reference_time[0] + edge, self._reference_time[-1] - edge
        own = (self._time >= self._time[0] + edge) & (self._time <= self._time[-1] - edge)
        return np.asarray((at >= begin) & (at <= end) & own)

    def _linear(
        self, lag: float, rate: float, centre: float, inside: BoolArray
    ) -> tuple[FloatArray, float, float, FloatArray]:
        """Columns one, reference, and what a change of lag and of rate does; gain, zero, rest."""
        time, signal = self._time[inside], self._signal[inside]
        at = time + lag + rate * (time - centre)
        there = np.interp(at, self._reference_time, self._reference)
        steep = np.interp(at, self._reference_time, self._slope)
        level = np.column_stack([np.ones_like(there), there])
        (zero, gain), *_ = np.linalg.lstsq(level, signal, rcond=None)
        design = np.column_stack([level, gain * steep, gain * steep * (time - centre)])
        return design, float(gain), float(zero), signal - zero - gain * there

    def _covariance(self, design: FloatArray, rest: FloatArray) -> FloatArray:
        """Covariance of the four: the larger of two, judged by the lag's.

        One takes the differences as white noise that was smoothed, whose neighbours are alike
        by exp(-k^2 / (4 w^2)); the other takes them as they are (Newey and West), which also sees
        kinks that the recorders rounded differently.
        """
        inverse = np.linalg.inv(design.T @ design)
        scores = design * rest[:, None]
        variance = float(rest @ rest) / max(len(rest) - 4, 1)
        as_noise = variance * design.T @ design
        as_found = scores.T @ scores
        reach = min(math.ceil(6 * self._width), len(rest) // 4)
        for apart in range(1, reach + 1):
            share = variance * math.exp(-((apart / (2 * self._width)) ** 2))
            part = design[apart:].T @ design[:-apart]
            as_noise += share * (part + part.T)
            part = scores[apart:].T @ scores[:-apart]
            as_found += (1 - apart / (reach + 1)) * (part + part.T)
        both = [np.asarray(inverse @ middle @ inverse) for middle in (as_noise, as_found)]
        return max(both, key=lambda covariance: float(covariance[2, 2]))


def _refuse_little(inside: BoolArray) -> None:
    if inside.sum() < FEWEST:
        raise InputError(
            "what both recorded",
            f"{int(inside.sum())} steps",
            f"at least {FEWEST}, less the ends that smoothing blurs",
            "choose longer recordings",
        )
