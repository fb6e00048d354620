"""How well a force transducer repeats itself, in the terms of ISO 376 and ASTM E74.

Both standards describe force-proving instruments; a gauged bar loaded before it is cast is one.
ISO 376 states shares of the reading, ASTM E74 a deviation about the fitted curve.

Terms only. The limits by which ISO 376 sorts instruments into classes 00, 0.5, 1 and 2 are not
given: no copy of its table could be read, and a class also asks for a force standard of known
class, three mountings and a creep test, which a bar in a testing machine seldom gets. Creep (the
change of the reading at constant largest force or after its removal, as a share of the reading at
the largest) is a term of both standards too; it isn't computed, since a load series here is rows
of force and reading without their times.
"""

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "LOWEST_LOADS",
    "interpolation_error",
    "lower_limit_factor",
    "lowest_load",
    "repeatability",
    "reproducibility",
    "reversibility",
    "zero_return",
]

# ASTM E74, classes: the loading range begins at this multiple of the lower limit factor
# (from memory).
LOWEST_LOADS = {"AA": 2000.0, "A": 400.0}


def repeatability(first_series: ArrayLike, second_series: ArrayLike) -> FloatArray:
    """Difference of two rising series without re-mounting, over their mean: b' of ISO 376.

    |X2 - X1| / |mean|. Source: ISO 376:2011, 7.5 (from memory).

    Parameters
    ----------
    first_series : array, shape (n_steps,)
        Readings less their zero, first series [1].
    second_series : array, shape (n_steps,)
        The same steps again [1].

    Returns
    -------
    share : array, shape (n_steps,)
        NaN at no load [1].
    """
    one = np.asarray(first_series, dtype=np.float64)
    two = np.asarray(second_series, dtype=np.float64)
    return _share(np.abs(two - one), np.abs(one + two) / 2)


def reproducibility(readings: ArrayLike) -> FloatArray:
    """Range of rising series with re-mounting between them, over their mean: b of ISO 376.

    (largest - smallest) / |mean|. Source: ISO 376:2011, 7.5 (from memory).

    Parameters
    ----------
    readings : array, shape (n_series, n_steps)
        Readings less their zero, the bar turned or mounted afresh between series [1].

    Returns
    -------
    share : array, shape (n_steps,)
        NaN at no load [1].

    Raises
    ------
    InputError
        If there are fewer than two series.
    """
    series = np.asarray(readings, dtype=np.float64)
    if series.ndim != 2 or series.shape[0] < 2:
        raise InputError("shape of readings", series.shape, "(series, steps) with 2 series or more")
    return _share(series.max(axis=0) - series.min(axis=0), np.abs(series.mean(axis=0)))


def interpolation_error(readings: ArrayLike, fitted: ArrayLike) -> FloatArray:
    """Mean reading less fitted curve, over the curve: f_c of ISO 376, signed.

    Source: ISO 376:2011, 7.5 (from memory).

    Parameters
    ----------
    readings : array, shape (n_steps,)
        Mean of the rising series at each step, less zero [1].
    fitted : array, shape (n_steps,)
        Of the curve at the same steps [1].

    Returns
    -------
    share : array, shape (n_steps,)
        NaN where the curve is zero [1].
    """
    curve = np.asarray(fitted, dtype=np.float64)
    return _share(np.asarray(readings, dtype=np.float64) - curve, curve)


def zero_return(zero_before: ArrayLike, zero_after: ArrayLike, largest: ArrayLike) -> FloatArray:
    """Zero after unloading less zero before, over the largest reading: f_0 of ISO 376, signed.

    Source: ISO 376:2011, 7.5 (from memory). ISO 376 reads the zero about 30 s after unloading.

    Parameters
    ----------
    zero_before : float or array
        Reading before loading [1].
    zero_after : float or array
        Reading after unloading [1].
    largest : float or array
        Reading at the largest load, less zero [1].

    Returns
    -------
    share : array of the broadcast shape
        Of the largest reading [1].
    """
    shift = np.asarray(zero_after, dtype=np.float64) - np.asarray(zero_before, dtype=np.float64)
    return _share(shift, np.asarray(largest, dtype=np.float64))


def reversibility(rising: ArrayLike, falling: ArrayLike) -> FloatArray:
    """Falling less rising reading at the same load, over the rising one: v of ISO 376.

    Source: ISO 376:2011, 7.5 (from memory); the standard averages its size over two series.

    Parameters
    ----------
    rising : array, shape (n_steps,)
        Readings less zero while the load rose [1].
    falling : array, shape (n_steps,)
        Readings less the same zero at the same loads while it fell [1].

    Returns
    -------
    share : array, shape (n_steps,)
        Hysteresis, without sign; NaN at no load [1].
    """
    up, down = np.asarray(rising, dtype=np.float64), np.asarray(falling, dtype=np.float64)
    return _share(np.abs(down - up), np.abs(up))


def lower_limit_factor(residual_deviation: ArrayLike) -> FloatArray:
    """2.4 times the deviation about the curve: LLF of ASTM E74, in the unit of the readings.

    2.4 standard deviations leave out about 1 % of readings. Source: ASTM E74-13, 8.5 (from
    memory); editions before 1998 used 2.0 with another wording.

    Parameters
    ----------
    residual_deviation : float or array
        sqrt(Σd²/(n - m - 1)) about a polynomial of degree m, as ``polynomial_fit`` gives it [1].

    Returns
    -------
    lower_limit_factor : array
        In the unit of the deviation [1].

    Raises
    ------
    InputError
        If the deviation is negative or missing.
    """
    return np.asarray(2.4 * allowed.not_negative("residual_deviation", residual_deviation))


def lowest_load(lower_limit_factor: ArrayLike, load_class: str) -> FloatArray:
    """Where the loading range of a class begins: 2000 LLF for AA, 400 LLF for A of ASTM E74.

    Parameters
    ----------
    lower_limit_factor : float or array
        In units of force [1].
    load_class : str
        One of ``LOWEST_LOADS``.

    Returns
    -------
    load : array
        Below it the class isn't kept; in the unit of the factor [N].

    Raises
    ------
    InputError
        If there is no such class.
    """
    if load_class not in LOWEST_LOADS:
        raise InputError("load_class", load_class, "one of " + ", ".join(LOWEST_LOADS))
    factor = allowed.not_negative("lower_limit_factor", lower_limit_factor)
    return np.asarray(LOWEST_LOADS[load_class] * factor)


def _share(part: FloatArray, whole: FloatArray) -> FloatArray:
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(whole == 0, np.nan, part / np.where(whole == 0, 1.0, whole)))
