"""Area under a record between any two instants, its samples joined by straight lines."""

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.quantities import FloatArray

__all__ = ["area_until"]


def area_until(time: ArrayLike, values: ArrayLike, instants: ArrayLike) -> FloatArray:
    """Area from the first sample to each instant: the trapezoidal rule, cut where it must be.

    The difference of two of these over the time between is the mean of the record there.

    Parameters
    ----------
    time : array, shape (n_samples,)
        Never falling; two samples or more [s].
    values : array, shape (n_samples,)
        Finite [1].
    instants : array of any shape
        Beyond the record its first or last line goes on [s].

    Returns
    -------
    array shaped like ``instants``
        Values times seconds [1].

    Examples
    --------
    >>> area_until([0.0, 2.0, 4.0], [0.0, 2.0, 2.0], [1.0, 2.0, 3.0]).tolist()
    [0.5, 2.0, 4.0]
    """
    when, read = np.asarray(time, dtype=np.float64), np.asarray(values, dtype=np.float64)
    moment = np.asarray(instants, dtype=np.float64)
    whole = np.concatenate([[0.0], np.cumsum(np.diff(when) * (read[1:] + read[:-1]) / 2)])
    place = np.clip(np.searchsorted(when, moment, side="right") - 1, 0, when.size - 2)
    along = moment - when[place]
    # Two samples at one instant have no line between them, and no area either.
    gap = np.maximum(when[place + 1] - when[place], np.finfo(float).tiny)
    slope = (read[place + 1] - read[place]) / gap
    return np.asarray(whole[place] + along * (read[place] + slope * along / 2))
