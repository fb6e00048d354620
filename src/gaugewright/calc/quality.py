"""What looks wrong in a series of readings: spans and measured numbers, nothing is changed."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike

from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "Span",
    "equal_runs",
    "line_through",
    "noise_floor",
    "robust_spread",
    "spans_where",
]


@dataclass(frozen=True, slots=True)
class Span:
    """Rows ``first`` to ``last``, both included."""

    first: int
    last: int

    @property
    def rows(self) -> int:
        """How many rows [1]."""
        return self.last - self.first + 1


def spans_where(mask: npt.ArrayLike) -> tuple[Span, ...]:
    """Unbroken stretches of true.

    Parameters
    ----------
    mask : array of bool, shape (n_samples,)
        What is looked for [1].

    Returns
    -------
    tuple of Span
        In order, never touching each other; rows [1].

    Examples
    --------
    >>> spans_where([False, True, True, False, True])
    (Span(first=1, last=2), Span(first=4, last=4))
    """
    flags = np.concatenate(([False], np.asarray(mask, dtype=bool), [False]))
    edges = np.flatnonzero(flags[1:] != flags[:-1])
    return tuple(Span(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True))


def equal_runs(values: ArrayLike, *, at_least: int) -> tuple[Span, ...]:
    """Stretches in which a reading repeats itself to the last digit: frozen or clipped.

    Parameters
    ----------
    values : array, shape (n_samples,)
        Readings in any one unit; missing ones break a run [1].
    at_least : int
        Shortest run reported, in samples [1].

    Returns
    -------
    tuple of Span
        In order; rows [1].

    Raises
    ------
    InputError
        If ``at_least`` is below two.

    Examples
    --------
    >>> equal_runs([1.0, 2.0, 2.0, 2.0, 3.0], at_least=3)
    (Span(first=1, last=3),)
    """
    if at_least < 2:
        raise InputError("at_least", at_least, "2 or more")
    data = np.asarray(values, dtype=np.float64)
    same = np.concatenate(([False], data[1:] == data[:-1], [False]))
    edges = np.flatnonzero(same[1:] != same[:-1])
    first, last = edges[::2], edges[1::2]
    long = last - first + 1 >= at_least
    return tuple(Span(a, b) for a, b in zip(first[long].tolist(), last[long].tolist(), strict=True))


def noise_floor(values: ArrayLike) -> float:
    """Standard deviation of the scan-to-scan noise, blind to slow change and to few outliers.

    Second differences of white noise have six times its variance (1 + 4 + 1); their median
    absolute deviation times 1.4826 is a standard deviation for normal noise.

    Parameters
    ----------
    values : array, shape (n_samples,)
        Readings in any one unit [1].

    Returns
    -------
    float
        In the same unit; NaN with fewer than three readings in a row [1].
    """
    data = np.asarray(values, dtype=np.float64)
    if data.size < 3:
        return float("nan")
    # In one array: of a long record every copy of it costs as much as the record.
    second = 2 * data[1:-1]
    np.subtract(data[2:], second, out=second)
    second += data[:-2]
    return _spread_within(second) / float(np.sqrt(6.0))


def robust_spread(values: ArrayLike) -> float:
    """Standard deviation estimated from the median absolute deviation, for normal values.

    Parameters
    ----------
    values : array, shape (n,)
        Any numbers in one unit [1].

    Returns
    -------
    float
        In the same unit; NaN when there are no numbers [1].
    """
    return _spread_within(np.array(values, dtype=np.float64))


def _spread_within(data: FloatArray) -> float:
    """Robust spread of numbers that aren't needed afterwards: their array is worked in."""
    known = np.isfinite(data)
    if not known.all():
        data = data[known]
    if not data.size:
        return float("nan")
    data -= np.median(data, overwrite_input=True)
    np.abs(data, out=data)
    # 1.4826 = 1 / (quantile 0.75 of the standard normal distribution)
    return 1.4826 * float(np.median(data, overwrite_input=True))


def line_through(x: ArrayLike, y: ArrayLike) -> tuple[float, float, float]:
    """Straight line by least squares: slope, intercept and the standard error of the slope.

    Parameters
    ----------
    x : array, shape (n,)
        Missing points are left out [1].
    y : array, shape (n,)
        At the same places [1].

    Returns
    -------
    slope, intercept, standard error of the slope
        In the units of ``y`` over ``x``, ``y``, and ``y`` over ``x`` [1].

    Raises
    ------
    InputError
        With fewer than three points or no spread in ``x``.
    """
    xs: FloatArray = np.asarray(x, dtype=np.float64)
    ys: FloatArray = np.asarray(y, dtype=np.float64)
    good = np.isfinite(xs) & np.isfinite(ys)
    xs, ys = xs[good], ys[good]
    if xs.size < 3:
        raise InputError("points", xs.size, "three or more for a line with its doubt")
    centred = xs - np.mean(xs)
    spread = float(np.sum(centred**2))
    if spread == 0:
        raise InputError("x", "one value only", "spread out")
    slope = float(np.sum(centred * ys)) / spread
    intercept = float(np.mean(ys)) - slope * float(np.mean(xs))
    residual = ys - intercept - slope * xs
    error = float(np.sqrt(np.sum(residual**2) / (xs.size - 2) / spread))
    return slope, intercept, error
