"""Which of several channels moved while somebody touched, warmed or pressed a gauge?"""

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc.quality import noise_floor
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["largest_departure", "which_moved"]

_FEWEST = 12
_ABOVE_NOISE = 8.0  # medians of three of white noise stay below 5 in a million readings
_ABOVE_OTHERS = 3.0  # choice of this project, no source


def largest_departure(values: ArrayLike) -> float:
    """How far a series goes from the straight line between its two ends, whatever the sign.

    A slow drift lies along the line and counts for nothing; the median of three neighbours is
    taken so that a single wild reading counts for nothing either.

    Parameters
    ----------
    values : array, shape (n_samples,)
        Readings in any one unit, NaN where missing [1].

    Returns
    -------
    value : float
        In the same unit, never negative [1].

    Raises
    ------
    InputError
        If fewer than twelve readings are there.

    Examples
    --------
    >>> touched = [0.0] * 10 + [-4.0, -5.0, -4.0] + [0.0] * 10
    >>> largest_departure(touched)
    4.0
    """
    data = np.asarray(values, dtype=np.float64)
    data = data[np.isfinite(data)]
    if data.size < _FEWEST:
        raise InputError("readings", int(data.size), f"{_FEWEST} or more", "take a longer stretch")
    smooth = np.median(np.lib.stride_tricks.sliding_window_view(data, 3), axis=1)
    end = max(3, smooth.size // 10)
    place = np.arange(smooth.size, dtype=np.float64)
    first, last = np.median(smooth[:end]), np.median(smooth[-end:])
    from_, to = place[:end].mean(), place[-end:].mean()
    line = first + (last - first) * (place - from_) / (to - from_)
    return float(np.abs(smooth - line).max())


def which_moved(values: FloatArray) -> tuple[tuple[int, float, float], ...]:
    """Channels that moved, the one that moved most first, each with departure and noise.

    A channel moved where its departure is eight times its own noise and a third or more of that
    of the channel that moved most: what a whole cage does together is no answer to a finger.

    Parameters
    ----------
    values : array, shape (n_channels, n_samples)
        Readings of each channel in one unit [1].

    Returns
    -------
    tuple of (place, value, standard_uncertainty)
        Place of the channel, its departure and its noise, in the unit of the readings [1].

    Raises
    ------
    InputError
        If fewer than twelve readings are there.
    """
    found = [(largest_departure(row), noise_floor(row)) for row in values]
    moved = [
        (place, away, noise)
        for place, (away, noise) in enumerate(found)
        if away > 0 and away >= _ABOVE_NOISE * noise
    ]
    moved.sort(key=lambda one: -one[1])
    return tuple(one for one in moved if one[1] * _ABOVE_OTHERS >= moved[0][1])
