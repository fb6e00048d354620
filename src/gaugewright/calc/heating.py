"""Heat that the excitation makes in a grid, and the excitation a specimen can bear."""

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.quantities import FloatArray

__all__ = [
    "excitation_for_power_density",
    "gauge_power",
]


def gauge_power(excitation: ArrayLike, gauge_resistance: ArrayLike) -> FloatArray:
    """Heat in one grid of an equal-armed bridge: V² / (4 R), half the voltage on each arm.

    Parameters
    ----------
    excitation : float or array
        At the bridge [V].
    gauge_resistance : float or array
        Of the grid [ohm].

    Returns
    -------
    power : array
        In one grid [W].

    Raises
    ------
    InputError
        If ``gauge_resistance`` isn't positive.

    Examples
    --------
    >>> (gauge_power(2.5, 120.0) * 1e3).round(3).item()
    13.021
    """
    volts = np.asarray(excitation, dtype=np.float64)
    return volts**2 / (4 * allowed.positive("gauge_resistance", gauge_resistance))


def excitation_for_power_density(
    power_density: ArrayLike, grid_area: ArrayLike, gauge_resistance: ArrayLike
) -> FloatArray:
    """Bridge voltage that heats a grid by so much per area: V = 2 sqrt(p A R).

    Parameters
    ----------
    power_density : float or array
        Power per area of grid that the specimen can carry away [W/m^2].
    grid_area : float or array
        Of the grid [m^2].
    gauge_resistance : float or array
        Of the grid [ohm].

    Returns
    -------
    excitation : array
        At the bridge [V].

    Raises
    ------
    InputError
        If one of them isn't positive.

    Examples
    --------
    >>> excitation_for_power_density(1000.0, 18e-6, 120.0).round(3).item()
    2.939
    """
    density = allowed.positive("power_density", power_density)
    area = allowed.positive("grid_area", grid_area)
    resistance = allowed.positive("gauge_resistance", gauge_resistance)
    return np.asarray(2 * np.sqrt(density * area * resistance))
