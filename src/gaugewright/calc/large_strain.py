"""Strain beyond about one per cent, where the law of the gauge must be declared."""

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.quantities import FloatArray

__all__ = [
    "engineering_strain",
    "grid_change_constant_factor",
    "grid_change_constant_volume",
    "large_strain_difference",
    "logarithmic_strain",
    "strain_constant_factor",
    "strain_constant_volume",
]


def strain_constant_factor(grid_change: ArrayLike, gauge_factor: ArrayLike) -> FloatArray:
    """Engineering strain if the gauge factor holds to any strain: x / k.

    Parameters
    ----------
    grid_change : array of any shape
        Relative change of resistance of the grid [1].
    gauge_factor : float or array
        Of the gauge [1].

    Returns
    -------
    strain : array of the broadcast shape
        Engineering strain [1].

    Raises
    ------
    InputError
        If ``gauge_factor`` isn't positive.
    """
    factor = allowed.positive("gauge_factor", gauge_factor)
    return np.asarray(np.asarray(grid_change, dtype=np.float64) / factor)


def grid_change_constant_factor(strain: ArrayLike, gauge_factor: ArrayLike) -> FloatArray:
    """Change of resistance if the gauge factor holds to any strain: k ε.

    Parameters
    ----------
    strain : array of any shape
        Engineering strain [1].
    gauge_factor : float or array
        Of the gauge [1].

    Returns
    -------
    grid_change : array of the broadcast shape
        Of the grid [1].

    Raises
    ------
    InputError
        If ``gauge_factor`` isn't positive.
    """
    factor = allowed.positive("gauge_factor", gauge_factor)
    return np.asarray(np.asarray(strain, dtype=np.float64) * factor)


def strain_constant_volume(grid_change: ArrayLike) -> FloatArray:
    """Engineering strain if the grid keeps its volume and resistivity: sqrt(1 + x) - 1.

    Then R grows with the square of length; the gauge factor is 2 at first and 2 + ε later.
    Annealed foil after yield comes near it.

    Parameters
    ----------
    grid_change : array of any shape
        Relative change of resistance of the grid [1].

    Returns
    -------
    strain : array shaped like ``grid_change``
        Engineering strain; NaN below -1 [1].

    Examples
    --------
    >>> strain_constant_volume(0.21).round(9).item()
    0.1
    """
    change = np.asarray(grid_change, dtype=np.float64)
    # expm1 and log1p keep small strains exact to the last digits.
    return np.expm1(np.log1p(np.where(change > -1, change, np.nan)) / 2)


def grid_change_constant_volume(strain: ArrayLike) -> FloatArray:
    """Change of resistance of a grid of constant volume and resistivity: (1 + ε)² - 1.

    Parameters
    ----------
    strain : array of any shape
        Engineering strain [1].

    Returns
    -------
    grid_change : array shaped like ``strain``
        Of the grid; NaN below -1 [1].
    """
    stretch = np.asarray(strain, dtype=np.float64)
    stretch = np.where(stretch > -1, stretch, np.nan)
    return np.asarray(stretch * (2 + stretch))


def large_strain_difference(grid_change: ArrayLike, gauge_factor: ArrayLike) -> FloatArray:
    """Constant gauge factor less constant volume: what not knowing the gauge's law may cost.

    The law of constant volume is scaled to the same gauge factor at small strain.

    Parameters
    ----------
    grid_change : array of any shape
        Relative change of resistance of the grid [1].
    gauge_factor : float or array
        Of the gauge [1].

    Returns
    -------
    strain : array of the broadcast shape
        Zero at small strain, positive at any other [1].

    Raises
    ------
    InputError
        If ``gauge_factor`` isn't positive.
    """
    scale = 2 / allowed.positive("gauge_factor", gauge_factor)
    linear = strain_constant_factor(grid_change, gauge_factor)
    return np.asarray(linear - scale * strain_constant_volume(grid_change))


def logarithmic_strain(strain: ArrayLike) -> FloatArray:
    """Logarithmic strain, which adds up over steps: ln(1 + ε).

    Parameters
    ----------
    strain : array of any shape
        Engineering strain [1].

    Returns
    -------
    logarithmic_strain : array shaped like ``strain``
        NaN at -1 and below [1].
    """
    value = np.asarray(strain, dtype=np.float64)
    return np.log1p(np.where(value > -1, value, np.nan))


def engineering_strain(logarithmic_strain: ArrayLike) -> FloatArray:
    """Engineering strain, change of length over first length: exp(ε_log) - 1.

    Parameters
    ----------
    logarithmic_strain : array of any shape
        Natural logarithm of the stretch [1].

    Returns
    -------
    strain : array shaped like ``logarithmic_strain``
        Engineering strain [1].
    """
    return np.expm1(np.asarray(logarithmic_strain, dtype=np.float64))
