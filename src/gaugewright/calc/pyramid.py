"""Lowest and highest value of stretches of rows, so that a plot costs what its pixels cost."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike

from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["Bins", "bins_of", "joined_bins"]


@dataclass(frozen=True, slots=True)
class Bins:
    """Extremes of consecutive stretches of rows, in the unit of the values.

    Attributes
    ----------
    low : array, shape (n_bins,)
        Lowest value that is there; NaN where none is: a gap, to be drawn as one [1].
    high : array, shape (n_bins,)
        Highest value that is there; NaN where none is [1].
    missing : array of bool, shape (n_bins,)
        Whether any value of the stretch is missing.
    """

    low: FloatArray
    high: FloatArray
    missing: npt.NDArray[np.bool_]


def bins_of(values: ArrayLike, rows_per_bin: int) -> Bins:
    """Extremes of every ``rows_per_bin`` rows; the last bin may hold fewer.

    Parameters
    ----------
    values : array, shape (n_samples,)
        In order of rows, missing ones NaN [1].
    rows_per_bin : int
        One or more [1].

    Returns
    -------
    Bins
        n_samples over rows_per_bin of them, rounded up.

    Raises
    ------
    InputError
        If ``rows_per_bin`` is below one.

    Examples
    --------
    >>> bins_of([1.0, 5.0, np.nan, np.nan, 2.0], 2).high.tolist()
    [5.0, nan, 2.0]
    """
    if rows_per_bin < 1:
        raise InputError("rows_per_bin", rows_per_bin, "1 or more")
    data = np.asarray(values, dtype=np.float64)
    if not data.size:
        return Bins(data, data, np.zeros(0, dtype=bool))
    starts = np.arange(0, data.size, rows_per_bin)
    return Bins(
        np.fmin.reduceat(data, starts),
        np.fmax.reduceat(data, starts),
        np.logical_or.reduceat(np.isnan(data), starts),
    )


def joined_bins(bins: Bins, bins_per_bin: int) -> Bins:
    """Coarser bins made of ``bins_per_bin`` fine ones each.

    Parameters
    ----------
    bins : Bins
        In order of rows.
    bins_per_bin : int
        One or more [1].

    Returns
    -------
    Bins
        What ``bins_of`` would give on the rows themselves.

    Raises
    ------
    InputError
        If ``bins_per_bin`` is below one.
    """
    if bins_per_bin < 1:
        raise InputError("bins_per_bin", bins_per_bin, "1 or more")
    if not bins.low.size:
        return bins
    starts = np.arange(0, bins.low.size, bins_per_bin)
    return Bins(
        np.fmin.reduceat(bins.low, starts),
        np.fmax.reduceat(bins.high, starts),
        np.logical_or.reduceat(bins.missing, starts),
    )
