"""Moments of simply supported beams: from a load to the moment at a station.

Positive with the lower face pulled. Distances count from the left support; a station that
overhangs a support carries nothing of these loads. The beam's own weight is a spread load.
"""

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "four_point_moment",
    "point_loads_moment",
    "spread_load_moment",
    "three_point_moment",
]


def four_point_moment(
    load: ArrayLike, length: float, shear_span: float, distance: ArrayLike
) -> FloatArray:
    """Moment under two equal loads, each half of the machine's, at equal distances from supports.

    Parameters
    ----------
    load : float or array
        Of the machine, both points together [N].
    length : float
        Between supports [m].
    shear_span : float
        From a support to the nearer load [m].
    distance : float or array
        Of the station from the left support [m].

    Returns
    -------
    moment : array of the broadcast shape
        Load times shear span over two between the loads [N m].

    Raises
    ------
    InputError
        If a length isn't positive or the loads would have changed sides.

    Examples
    --------
    >>> four_point_moment(100e3, 3.0, 1.0, [0.0, 0.5, 1.5, 2.5]).tolist()
    [0.0, 25000.0, 50000.0, 25000.0]
    """
    with allowed.Together("four point moment") as given:
        total = float(given.positive("length", length))
        arm = float(given.positive("shear_span", shear_span))
    if arm > total / 2:
        raise InputError("shear_span", arm, f"up to half of {total:g} m")
    nearer = _to_support(distance, total)
    return np.asarray(np.asarray(load, dtype=np.float64) / 2 * np.minimum(nearer, arm))


def three_point_moment(
    load: ArrayLike, length: float, distance: ArrayLike, *, shear_span: float | None = None
) -> FloatArray:
    """Moment under one load.

    Parameters
    ----------
    load : float or array
        Of the machine [N].
    length : float
        Between supports [m].
    distance : float or array
        Of the station from the left support [m].
    shear_span : float, optional
        From the left support to the load; the middle when left out [m].

    Returns
    -------
    moment : array of the broadcast shape
        A quarter of load times length in the middle [N m].

    Raises
    ------
    InputError
        If a length isn't positive or the load stands beyond a support.
    """
    with allowed.Together("three point moment") as given:
        total = float(given.positive("length", length))
        left = total / 2 if shear_span is None else float(given.positive("shear_span", shear_span))
    if left >= total:
        raise InputError("shear_span", left, f"below {total:g} m")
    at = np.asarray(distance, dtype=np.float64)
    force = np.asarray(load, dtype=np.float64)
    rising, falling = at * (total - left) / total, (total - at) * left / total
    return np.asarray(force * np.clip(np.minimum(rising, falling), 0.0, None))


def point_loads_moment(
    load: ArrayLike,
    supports: tuple[float, float],
    load_distances: ArrayLike,
    load_shares: ArrayLike,
    distance: ArrayLike,
) -> FloatArray:
    """Moment under any point loads of a beam on two supports, overhangs included.

    By equilibrium of the part left of the station: M = A (x - a)+ + B (x - b)+ - Σ s P (x - p)+.

    Parameters
    ----------
    load : float or array
        Of the machine, all points together [N].
    supports : tuple of float
        Places of the two, the nearer one first, on any scale along the beam [m].
    load_distances : array, shape (n_points,)
        Places of the points on the same scale [m].
    load_shares : array, shape (n_points,)
        Part of the load that each point brings down [1].
    distance : float or array
        Of the station on the same scale [m].

    Returns
    -------
    moment : array of the broadcast shape
        Positive with the lower face pulled; zero beyond the last point or support [N m].

    Raises
    ------
    InputError
        If the supports aren't in order, or points and shares aren't as many.

    Examples
    --------
    >>> point_loads_moment(100e3, (0.0, 3.0), [1.0, 2.0], [0.5, 0.5], [0.5, 1.5]).tolist()
    [25000.0, 50000.0]
    """
    first, last = supports
    if not first < last:
        raise InputError("supports", supports, "two, the nearer one first")
    places = np.atleast_1d(np.asarray(load_distances, dtype=np.float64))
    shares = np.atleast_1d(np.asarray(load_shares, dtype=np.float64))
    if places.shape != shares.shape:
        raise InputError("load_shares", shares.shape, f"as many as places, {places.shape}")
    far = float(np.sum(shares * (places - first))) / (last - first)
    near = float(np.sum(shares)) - far
    at = np.asarray(distance, dtype=np.float64)
    lever = near * np.clip(at - first, 0.0, None) + far * np.clip(at - last, 0.0, None)
    for place, share in zip(places, shares, strict=True):
        lever = lever - share * np.clip(at - place, 0.0, None)
    return np.asarray(np.asarray(load, dtype=np.float64) * lever)


def spread_load_moment(
    load_per_length: ArrayLike, length: float, distance: ArrayLike
) -> FloatArray:
    """Moment under a load spread evenly between the supports, own weight for one.

    Parameters
    ----------
    load_per_length : float or array
        Of the beam [N/m].
    length : float
        Between supports [m].
    distance : float or array
        Of the station from the left support [m].

    Returns
    -------
    moment : array of the broadcast shape
        An eighth of load times length squared in the middle [N m].

    Raises
    ------
    InputError
        If the length isn't positive.
    """
    total = float(allowed.positive("length", length))
    nearer = _to_support(distance, total)
    return np.asarray(np.asarray(load_per_length, dtype=np.float64) / 2 * nearer * (total - nearer))


def _to_support(distance: ArrayLike, length: float) -> FloatArray:
    at = np.asarray(distance, dtype=np.float64)
    return np.clip(np.minimum(at, length - at), 0.0, None)
