"""What a grid sees of a bar in uniaxial stress, by how it lies and how much it feels sideways."""

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.quantities import FloatArray

__all__ = ["bar_strain", "contraction_seen"]


def contraction_seen(
    poisson_ratio: ArrayLike, transverse_sensitivity: ArrayLike, mean_squared_sine: ArrayLike
) -> FloatArray:
    """Minus the reading of a grid across the bar over that of a grid along it.

    By Mohr's circle a grid askew by φ sees ε (1 - (1 + ν) sin² φ), and one across, askew by as
    much, -ε (ν - (1 + ν) sin² φ); each then adds K_t times the other (``transverse_indication``).
    It takes the place of ν in the bridges that have grids across, and is ν itself without both.

    Parameters
    ----------
    poisson_ratio : float or array
        Of the bar [1].
    transverse_sensitivity : float or array
        Of the grids, as a ratio [1].
    mean_squared_sine : float or array
        Of the angle between grid and bar, sin² φ [1].

    Returns
    -------
    poisson_ratio : array of the broadcast shape
        As the grids see it [1].

    Examples
    --------
    >>> contraction_seen(0.3, 0.0, 0.0).item()
    0.3
    """
    along, across = _seen(poisson_ratio, mean_squared_sine)
    side = np.asarray(transverse_sensitivity, dtype=np.float64)
    return np.asarray((across - side * along) / (along - side * across))


def bar_strain(
    indicated_strain: ArrayLike,
    transverse_sensitivity: ArrayLike,
    mean_squared_sine: ArrayLike,
    poisson_ratio: ArrayLike,
    calibration_poisson_ratio: ArrayLike,
) -> FloatArray:
    """Strain of the bar from what a grid along it indicates by the gauge factor of its card.

    e (1 - ν0 K_t) / (a - K_t b), a = 1 - (1 + ν) sin² φ along the grid and b = ν - (1 + ν) sin² φ
    across it: ``transverse_indication`` of the strains of Mohr's circle, solved for ε.

    Parameters
    ----------
    indicated_strain : array of any shape
        By the gauge factor of the card [1].
    transverse_sensitivity : float or array
        Of the gauge, as a ratio [1].
    mean_squared_sine : float or array
        Of the angle between grid and bar, sin² φ [1].
    poisson_ratio : float or array
        Of the bar [1].
    calibration_poisson_ratio : float or array
        Of the beam the gauge factor was measured on [1].

    Returns
    -------
    strain : array of the broadcast shape
        Along the bar [1].

    Examples
    --------
    >>> bar_strain(0.001, 0.0, 0.0, 0.3, 0.285).item()
    0.001
    """
    along, across = _seen(poisson_ratio, mean_squared_sine)
    side = np.asarray(transverse_sensitivity, dtype=np.float64)
    beam = np.asarray(calibration_poisson_ratio, dtype=np.float64)
    indicated = np.asarray(indicated_strain, dtype=np.float64)
    return np.asarray(indicated * (1 - beam * side) / (along - side * across))


def _seen(poisson_ratio: ArrayLike, mean_squared_sine: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Share of the bar's strain along a grid, and of its contraction across it."""
    nu = np.asarray(poisson_ratio, dtype=np.float64)
    lost = (1 + nu) * np.asarray(mean_squared_sine, dtype=np.float64)
    return np.asarray(1 - lost), np.asarray(nu - lost)
