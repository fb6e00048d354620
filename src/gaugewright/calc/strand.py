"""A strand calibrated by a pull: force per strain of a wire, and the modulus that seems to be."""

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["apparent_modulus", "force_per_strain", "wire_strain_share"]


def force_per_strain(strain: ArrayLike, force: ArrayLike) -> FloatArray:
    """Slope of force over strain of a calibration pull: least squares with a free origin.

    Strain is taken as exact and force as scattered, which errs by less than 0.01 % once the pull
    reaches 100 times the noise of the strain. Seating lies in the origin and not in the slope.

    Parameters
    ----------
    strain : array, shape (n_samples,)
        Of the gauge on the wire, elastic; NaN where missing [1].
    force : array, shape (n_samples,)
        Of the load cell at the same instants; NaN where missing [N].

    Returns
    -------
    force_per_strain : array
        One number, by which later strains of this gauge are multiplied [N].

    Raises
    ------
    InputError
        If fewer than three samples have both, or strain stays the same.

    Examples
    --------
    >>> force_per_strain([0.0, 0.001, 0.002], [1e3, 29.5e3, 58e3]).round(1).item()
    28500000.0
    """
    e, p = np.asarray(strain, dtype=np.float64), np.asarray(force, dtype=np.float64)
    if e.ndim != 1 or e.shape != p.shape:
        raise InputError("strain", f"of shape {e.shape}", f"one for each force, {p.shape}")
    known = np.isfinite(e) & np.isfinite(p)
    if known.sum() < 3 or np.ptp(e[known]) == 0:
        raise InputError(
            "strain", f"of {int(known.sum())} samples", "three or more with force, pulled apart"
        )
    way = e[known] - np.mean(e[known])
    return np.asarray(np.sum(way * p[known]) / np.sum(way**2))


def apparent_modulus(force_per_strain: ArrayLike, area: ArrayLike) -> FloatArray:
    """Modulus that strand seems to have by the strain of one of its wires: slope over area.

    Neither the wire's own modulus nor that of the strand over a length: an outer wire runs round
    and its strain is less than the strand's.

    Parameters
    ----------
    force_per_strain : float or array
        Of the calibration pull [N].
    area : float or array
        Of all wires together [m^2].

    Returns
    -------
    elastic_modulus : array of the broadcast shape
        Apparent [Pa].

    Raises
    ------
    InputError
        If a setting isn't positive.

    Examples
    --------
    >>> (apparent_modulus(28.5e6, 140e-6) / 1e9).round(1).item()
    203.6
    """
    with allowed.Together("strand") as given:
        slope = given.positive("force_per_strain", force_per_strain)
        section = given.positive("area", area)
    return np.asarray(slope / section)


def wire_strain_share(diameter: ArrayLike, length: ArrayLike) -> FloatArray:
    """Strain along an outer wire over strain of the strand, if its radius stays: cos² of the lay.

    A wire of length sqrt(L² + (π D)²) in each lay of the strand stretches with L alone. Plain
    geometry; the wires' closing in makes it smaller still.

    Parameters
    ----------
    diameter : float or array
        Of the circle through the outer wires' middles [m].
    length : float or array
        Of one lay [m].

    Returns
    -------
    share : array of the broadcast shape
        0.97 to 0.98 for a lay of 12 to 16 times the strand's diameter [1].

    Raises
    ------
    InputError
        If a setting isn't positive.

    Examples
    --------
    >>> wire_strain_share(10e-3, 220e-3).round(4).item()
    0.98
    """
    with allowed.Together("strand") as given:
        circle = given.positive("diameter", diameter)
        lay = given.positive("length", length)
    return np.asarray(lay**2 / (lay**2 + (np.pi * circle) ** 2))
