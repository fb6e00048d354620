"""Gauges round a bar: the axial part of their strains, and the bending that is left."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "AxialAndBending",
    "OppositePair",
    "axial_and_bending",
    "opposite_pair",
    "plane_through",
]


@dataclass(frozen=True, slots=True)
class OppositePair:
    """Strains of two opposite gauges taken apart.

    Attributes
    ----------
    axial : array
        Mean of the two [1].
    bending : array
        Half their difference, positive where the first reads more [1].
    curvature : array
        Positive where the first side is longer [1/m].
    """

    axial: FloatArray
    bending: FloatArray
    curvature: FloatArray


def opposite_pair(
    strain: ArrayLike, opposite_strain: ArrayLike, gauge_distance: ArrayLike
) -> OppositePair:
    """Axial and bending part of two gauges on opposite sides of a bar.

    Bending at right angles to the pair isn't seen, and doesn't disturb the mean.

    Parameters
    ----------
    strain : array of any shape
        Of the first gauge [1].
    opposite_strain : array of any shape
        Of the other; a lost partner gives NaN, since the mean can't be had from one [1].
    gauge_distance : float or array
        Between the two grids, diameter less both depths [m].

    Returns
    -------
    OppositePair
        Of the broadcast shape.

    Raises
    ------
    InputError
        If the distance isn't positive.

    Examples
    --------
    >>> pair = opposite_pair(1100e-6, 900e-6, 15e-3)
    >>> round(pair.axial.item(), 9), round(pair.bending.item(), 9), round(pair.curvature.item(), 9)
    (0.001, 0.0001, 0.013333333)
    """
    first = np.asarray(strain, dtype=np.float64)
    second = np.asarray(opposite_strain, dtype=np.float64)
    apart = allowed.positive("gauge_distance", gauge_distance)
    return OppositePair(
        axial=np.asarray((first + second) / 2),
        bending=np.asarray((first - second) / 2),
        curvature=np.asarray((first - second) / apart),
    )


@dataclass(frozen=True, slots=True)
class AxialAndBending:
    """Plane through the strains of gauges round a bar.

    Attributes
    ----------
    axial : array, shape (...)
        At the axis [1].
    curvature_x : array, shape (...)
        Strain per distance towards angle 0; NaN where the gauges can't tell [1/m].
    curvature_y : array, shape (...)
        Strain per distance towards angle π/2; NaN where the gauges can't tell [1/m].
    residual : array, shape (..., n_gauges)
        Strain less plane: zero for three gauges or fewer [1].
    """

    axial: FloatArray
    curvature_x: FloatArray
    curvature_y: FloatArray
    residual: FloatArray


def axial_and_bending(
    strains: ArrayLike, clock_angles: ArrayLike, gauge_radius: ArrayLike
) -> AxialAndBending:
    """Least-squares plane ε0 + ρ (κx cos θ + κy sin θ) through gauges at any angles round a bar.

    Parameters
    ----------
    strains : array, shape (..., n_gauges)
        NaN in any gauge gives NaN: leave a lost gauge out of all three arguments [1].
    clock_angles : array, shape (n_gauges,)
        Of the gauges, all counted the same way round [rad].
    gauge_radius : float or array, shape (n_gauges,)
        Distance of the grids from the axis [m].

    Returns
    -------
    AxialAndBending
        Curvatures that the angles can't determine are NaN.

    Raises
    ------
    InputError
        If the angles can't separate axial strain from bending, or lengths differ.

    Examples
    --------
    >>> three = axial_and_bending([1.1e-3, 0.95e-3, 0.95e-3], np.radians([0, 120, 240]), 0.01)
    >>> round(three.axial.item(), 9), round(three.curvature_x.item(), 9)
    (0.001, 0.01)
    """
    reading = np.asarray(strains, dtype=np.float64)
    angle = np.asarray(clock_angles, dtype=np.float64)
    if angle.ndim != 1 or reading.ndim == 0 or reading.shape[-1] != angle.size:
        raise InputError(
            "clock_angles",
            f"of shape {angle.shape}",
            "one for each gauge on the last axis of strains",
        )
    with allowed.Together("gauges round a bar") as given:
        distance = given.positive("gauge_radius", gauge_radius)
        if given.finite("clock_angles", angle):
            # Where a radius is refused the angles are still judged, as on a circle.
            radius = np.broadcast_to(np.where(distance > 0, distance, 1.0), angle.shape)
            scale, design, inverse = plane_through(angle, radius)
            # A coefficient is determined where the fit would give it back untouched.
            told = np.isclose(np.diag(inverse @ design), 1.0, atol=1e-6)
            given.holds(
                "clock_angles",
                np.degrees(angle).round(1).tolist(),
                "two opposite gauges or three spread round the bar",
                if_=bool(told[0]),
                do="one side alone can't separate axial strain from bending",
            )
    found = reading @ inverse.T
    found_or_nan = np.where(told, found, np.nan)
    return AxialAndBending(
        axial=np.asarray(found[..., 0]),
        curvature_x=np.asarray(found_or_nan[..., 1] / scale),
        curvature_y=np.asarray(found_or_nan[..., 2] / scale),
        residual=np.asarray(reading - found @ design.T),
    )


def plane_through(
    clock_angles: FloatArray, gauge_radius: FloatArray
) -> tuple[float, FloatArray, FloatArray]:
    """What gauges round an axis see of axial strain and two curvatures, and how to turn it back.

    Distances in units of their mean keep the columns alike, so that rank is judged fairly.

    Parameters
    ----------
    clock_angles : array, shape (n_gauges,)
        Of the gauges [rad].
    gauge_radius : array, shape (n_gauges,)
        Distance of their grids from the axis [m].

    Returns
    -------
    scale : float
        Unit of distance: the mean radius [m].
    design : array, shape (n_gauges, 3)
        Strain of each gauge by axial strain and by curvature times ``scale`` [1].
    inverse : array, shape (3, n_gauges)
        Its pseudo-inverse [1].
    """
    angle = clock_angles
    scale = float(gauge_radius.mean()) if angle.size else 1.0
    across = gauge_radius / scale
    design = np.stack([np.ones_like(angle), across * np.cos(angle), across * np.sin(angle)], axis=1)
    return scale, design, np.asarray(np.linalg.pinv(design, rcond=1e-9), dtype=np.float64)
