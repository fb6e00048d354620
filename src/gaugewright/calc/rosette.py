"""Rosettes: from strains along several directions to the state of strain and stress of a surface.

Angles run counter-clockwise from the x axis; shear strain is the engineering one, positive where
the right angle between x and y closes. Strains are small: above 1 % the formulas show their error.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "PlaneStress",
    "Principal",
    "SurfaceStrain",
    "delta_rosette",
    "direct_strain",
    "directions",
    "plane_strain_from_stress",
    "plane_stress",
    "principal",
    "rectangular_rosette",
    "shear_strain",
    "surface_strain",
]


@dataclass(frozen=True, slots=True)
class SurfaceStrain:
    """State of strain of a surface.

    Attributes
    ----------
    strain_x : array
        Along x [1].
    strain_y : array
        Along y [1].
    shear_strain : array
        Engineering shear strain [1].
    residual : array, shape (..., n_gauges)
        Indicated less fitted strain; zero for three gauges [1].
    """

    strain_x: FloatArray
    strain_y: FloatArray
    shear_strain: FloatArray
    residual: FloatArray


@dataclass(frozen=True, slots=True)
class Principal:
    """Largest and smallest strain (or stress) in the surface.

    Attributes
    ----------
    first : array
        The algebraically larger.
    second : array
        The smaller.
    angle : array
        From x to the axis of ``first``; NaN where all directions are alike [rad].
    """

    first: FloatArray
    second: FloatArray
    angle: FloatArray


@dataclass(frozen=True, slots=True)
class PlaneStress:
    """State of stress of a free surface.

    Attributes
    ----------
    stress_x : array
        Along x [Pa].
    stress_y : array
        Along y [Pa].
    shear_stress : array
        On the faces normal to x and y [Pa].
    """

    stress_x: FloatArray
    stress_y: FloatArray
    shear_stress: FloatArray


def surface_strain(
    indicated_strains: ArrayLike,
    grid_angles: ArrayLike,
    transverse_sensitivities: ArrayLike = 0.0,
    calibration_poisson_ratio: float = 0.285,
) -> SurfaceStrain:
    """State of strain from three or more grids at any angles, by least squares.

    Each grid indicates (ε(θ) + K_t ε(θ + 90°)) / (1 - ν0 K_t) with its own K_t, so the transverse
    correction is part of the fit and exact for any layout.

    Parameters
    ----------
    indicated_strains : array, shape (..., n_gauges)
        By the gauge factors of the card; NaN in one gives NaN for all three results [1].
    grid_angles : array, shape (n_gauges,)
        From x [rad].
    transverse_sensitivities : float or array, shape (n_gauges,)
        As ratios; zero when left out [1].
    calibration_poisson_ratio : float
        Of the beam the gauge factors were measured on [1].

    Returns
    -------
    SurfaceStrain
        With the residual of the fit.

    Raises
    ------
    InputError
        If the angles are fewer than three different directions.

    Examples
    --------
    >>> found = surface_strain([60e-6, 135e-6, 264e-6], np.radians([0.0, 60.0, 120.0]))
    >>> round(found.strain_y.item() * 1e6, 3), round(found.shear_strain.item() * 1e6, 3)
    (246.0, -148.956)
    """
    reading = np.asarray(indicated_strains, dtype=np.float64)
    angle = np.asarray(grid_angles, dtype=np.float64)
    if angle.ndim != 1 or reading.ndim == 0 or reading.shape[-1] != angle.size:
        raise InputError(
            "grid_angles",
            f"of shape {angle.shape}",
            "one for each grid on the last axis of strains",
        )
    with allowed.Together("rosette") as given:
        given.finite("grid_angles", angle)
        felt = given.within("transverse_sensitivities", transverse_sensitivities, (-0.5, 0.5))
        given.within("calibration_poisson_ratio", calibration_poisson_ratio, (0.0, 0.5))
    sensitivity = np.broadcast_to(felt, angle.shape)[:, np.newaxis]
    along, across = directions(angle), directions(angle + np.pi / 2)
    design = (along + sensitivity * across) / (1 - calibration_poisson_ratio * sensitivity)
    if np.linalg.matrix_rank(design, tol=1e-9) < 3:
        raise InputError(
            "grid_angles",
            np.degrees(angle).round(3).tolist(),
            "three different directions at least",
        )
    found = reading @ np.linalg.pinv(design).T
    return SurfaceStrain(
        strain_x=np.asarray(found[..., 0]),
        strain_y=np.asarray(found[..., 1]),
        shear_strain=np.asarray(found[..., 2]),
        residual=np.asarray(reading - found @ design.T),
    )


def rectangular_rosette(strain_a: ArrayLike, strain_b: ArrayLike, strain_c: ArrayLike) -> Principal:
    """Principal strains of a rosette at 0°, 45° and 90°; angles count from the first grid.

    Source: ASTM E1561 and the textbooks (from memory).

    Parameters
    ----------
    strain_a : array of any shape
        At 0°, transverse sensitivity corrected [1].
    strain_b : array of any shape
        At 45° counter-clockwise [1].
    strain_c : array of any shape
        At 90° [1].

    Returns
    -------
    Principal
        Strains [1] and the angle of the larger [rad].
    """
    a, b, c = (np.asarray(value, dtype=np.float64) for value in (strain_a, strain_b, strain_c))
    return _principal((a + c) / 2, (a - c) / 2, (2 * b - a - c) / 2)


def delta_rosette(strain_a: ArrayLike, strain_b: ArrayLike, strain_c: ArrayLike) -> Principal:
    """Principal strains of a rosette at 0°, 60° and 120°; angles count from the first grid.

    Source: ASTM E1561 and the textbooks (from memory).

    Parameters
    ----------
    strain_a : array of any shape
        At 0°, transverse sensitivity corrected [1].
    strain_b : array of any shape
        At 60° counter-clockwise [1].
    strain_c : array of any shape
        At 120° [1].

    Returns
    -------
    Principal
        Strains [1] and the angle of the larger [rad].
    """
    a, b, c = (np.asarray(value, dtype=np.float64) for value in (strain_a, strain_b, strain_c))
    return _principal((a + b + c) / 3, (2 * a - b - c) / 3, (b - c) / np.sqrt(3.0))


def principal(strain_x: ArrayLike, strain_y: ArrayLike, shear_strain: ArrayLike) -> Principal:
    """Principal strains in the surface and their direction, by the arctangent of two arguments.

    Parameters
    ----------
    strain_x : array of any shape
        Along x [1].
    strain_y : array of any shape
        Along y [1].
    shear_strain : array of any shape
        Engineering shear strain [1].

    Returns
    -------
    Principal
        Strains [1] and the angle of the larger [rad].

    Examples
    --------
    >>> found = principal(-500e-6, 300e-6, -600e-6)
    >>> round(found.first.item(), 9), round(np.degrees(found.angle).item(), 2)
    (0.0004, -71.57)
    """
    x, y, shear = (np.asarray(v, dtype=np.float64) for v in (strain_x, strain_y, shear_strain))
    return _principal((x + y) / 2, (x - y) / 2, shear / 2)


def direct_strain(
    strain_x: ArrayLike, strain_y: ArrayLike, shear_strain: ArrayLike, angle: ArrayLike
) -> FloatArray:
    """Strain of the surface along one direction.

    Parameters
    ----------
    strain_x : array of any shape
        Along x [1].
    strain_y : array of any shape
        Along y [1].
    shear_strain : array of any shape
        Engineering shear strain [1].
    angle : float or array
        From x [rad].

    Returns
    -------
    strain : array of the broadcast shape
        Along that direction [1].
    """
    x, y, shear = (np.asarray(v, dtype=np.float64) for v in (strain_x, strain_y, shear_strain))
    cosine, sine = np.cos(angle), np.sin(angle)
    return np.asarray(x * cosine**2 + y * sine**2 + shear * sine * cosine)


def shear_strain(
    strain_x: ArrayLike, strain_y: ArrayLike, shear_strain: ArrayLike, angle: ArrayLike
) -> FloatArray:
    """Engineering shear strain between a direction and the one at right angles to it.

    Parameters
    ----------
    strain_x : array of any shape
        Along x [1].
    strain_y : array of any shape
        Along y [1].
    shear_strain : array of any shape
        Between x and y [1].
    angle : float or array
        From x to the first direction [rad].

    Returns
    -------
    shear_strain : array of the broadcast shape
        In the turned axes [1].
    """
    x, y, shear = (np.asarray(v, dtype=np.float64) for v in (strain_x, strain_y, shear_strain))
    double = 2 * np.asarray(angle, dtype=np.float64)
    return np.asarray((y - x) * np.sin(double) + shear * np.cos(double))


def plane_stress(
    strain_x: ArrayLike,
    strain_y: ArrayLike,
    shear_strain: ArrayLike,
    elastic_modulus: ArrayLike,
    poisson_ratio: ArrayLike,
) -> PlaneStress:
    """Elastic stress of a free surface: σx = E (εx + ν εy) / (1 - ν²), τ = E γ / (2 (1 + ν)).

    Parameters
    ----------
    strain_x : array of any shape
        Mechanical strain along x [1].
    strain_y : array of any shape
        Mechanical strain along y [1].
    shear_strain : array of any shape
        Engineering shear strain; zero along principal axes [1].
    elastic_modulus : float or array
        Of the metal [Pa].
    poisson_ratio : float or array
        Of the metal [1].

    Returns
    -------
    PlaneStress
        Of the broadcast shape.

    Raises
    ------
    InputError
        If a property is impossible.
    """
    with allowed.Together("plane stress") as given:
        modulus = given.positive("elastic_modulus", elastic_modulus)
        nu = given.within("poisson_ratio", poisson_ratio, (0.0, 0.5))
    x, y, shear = (np.asarray(v, dtype=np.float64) for v in (strain_x, strain_y, shear_strain))
    scale = modulus / (1 - nu**2)
    return PlaneStress(
        stress_x=np.asarray(scale * (x + nu * y)),
        stress_y=np.asarray(scale * (y + nu * x)),
        shear_stress=np.asarray(modulus * shear / (2 * (1 + nu))),
    )


def plane_strain_from_stress(
    stress_x: ArrayLike,
    stress_y: ArrayLike,
    shear_stress: ArrayLike,
    elastic_modulus: ArrayLike,
    poisson_ratio: ArrayLike,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Elastic strain of a free surface under stress: the inverse of ``plane_stress``.

    Parameters
    ----------
    stress_x : array of any shape
        Along x [Pa].
    stress_y : array of any shape
        Along y [Pa].
    shear_stress : array of any shape
        On the faces normal to x and y [Pa].
    elastic_modulus : float or array
        Of the metal [Pa].
    poisson_ratio : float or array
        Of the metal [1].

    Returns
    -------
    strain_x : array
        Along x [1].
    strain_y : array
        Along y [1].
    shear_strain : array
        Engineering shear strain [1].

    Raises
    ------
    InputError
        If a property is impossible.
    """
    with allowed.Together("plane strain from stress") as given:
        modulus = given.positive("elastic_modulus", elastic_modulus)
        nu = given.within("poisson_ratio", poisson_ratio, (0.0, 0.5))
    x, y, shear = (np.asarray(v, dtype=np.float64) for v in (stress_x, stress_y, shear_stress))
    return (
        np.asarray((x - nu * y) / modulus),
        np.asarray((y - nu * x) / modulus),
        np.asarray(shear * 2 * (1 + nu) / modulus),
    )


def _principal(mean: FloatArray, difference: FloatArray, shear: FloatArray) -> Principal:
    """Mohr's circle: its centre, and the point of the x axis as seen from there."""
    radius = np.hypot(difference, shear)
    angle = np.arctan2(shear, difference) / 2
    return Principal(
        first=np.asarray(mean + radius),
        second=np.asarray(mean - radius),
        angle=np.where(radius > 0, angle, np.nan),
    )


def directions(angle: FloatArray) -> FloatArray:
    """Rows that turn (ε_x, ε_y, γ) into strain along each angle.

    cos² θ, sin² θ and sin θ cos θ. Source: transformation of plane strain, any textbook.

    Parameters
    ----------
    angle : float or array, shape (n_grids,)
        From the x axis, towards y [rad].

    Returns
    -------
    array, shape (3,) or (n_grids, 3)
        One row for each angle [1].
    """
    cosine, sine = np.cos(angle), np.sin(angle)
    return np.stack([cosine**2, sine**2, sine * cosine], axis=-1)
