"""Heat that the excitation makes in a grid, and the excitation a specimen can bear."""

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.quantities import FloatArray

__all__ = [
    "excitation_for_heating",
    "excitation_for_power_density",
    "gauge_power",
    "self_heating",
    "zero_shift_of_heating",
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
    Faults
        If several things are wrong.

    Examples
    --------
    >>> excitation_for_power_density(1000.0, 18e-6, 120.0).round(3).item()
    2.939
    """
    with allowed.Together("excitation") as given:
        density = given.positive("power_density", power_density)
        area = given.positive("grid_area", grid_area)
        resistance = given.positive("gauge_resistance", gauge_resistance)
    return np.asarray(2 * np.sqrt(density * area * resistance))


def zero_shift_of_heating(self_heating: ArrayLike, excitation_share: ArrayLike) -> FloatArray:
    """What the zero moves by when the excitation is lowered: h (1 - s²), heat going by V².

    Parameters
    ----------
    self_heating : float or array
        Apparent strain that the heat makes at full excitation [1].
    excitation_share : float or array
        Lower excitation over the full one: 0.5 in the usual test [1].

    Returns
    -------
    zero_shift : array of the broadcast shape
        Zero at full excitation less zero at the lower one [1].

    Raises
    ------
    InputError
        If the share isn't from 0 to below 1.
    """
    share = allowed.within("excitation_share", excitation_share, (0.0, np.nextafter(1.0, 0.0)))
    return np.asarray(np.asarray(self_heating, dtype=np.float64) * (1 - share**2))


def self_heating(zero_shift: ArrayLike, excitation_share: ArrayLike = 0.5) -> FloatArray:
    """Apparent strain of self-heating at full excitation, from the halving test.

    A zero that moves by z when the excitation is halved carries z / (1 - 1/4) = 4z/3 of heat at
    full excitation, and a third of z is still there at half. Both zeros must be as strain
    (output over excitation), settled, at one temperature of the metal. A drift that the test
    doesn't undo when the full excitation returns was not self-heating.

    Parameters
    ----------
    zero_shift : float or array
        Zero at full excitation less zero at the lower one [1].
    excitation_share : float or array
        Lower excitation over the full one [1].

    Returns
    -------
    self_heating : array of the broadcast shape
        Apparent strain at full excitation [1].

    Raises
    ------
    InputError
        If the share isn't from 0 to below 1.

    Examples
    --------
    >>> (self_heating(6e-6) * 1e6).round(3).item()
    8.0
    """
    share = allowed.within("excitation_share", excitation_share, (0.0, np.nextafter(1.0, 0.0)))
    return np.asarray(np.asarray(zero_shift, dtype=np.float64) / (1 - share**2))


def excitation_for_heating(
    excitation: ArrayLike, self_heating: ArrayLike, allowed_heating: ArrayLike
) -> FloatArray:
    """Excitation at which self-heating is what one will bear: V sqrt(h_allowed / |h|).

    Parameters
    ----------
    excitation : float or array
        At which ``self_heating`` was found [V].
    self_heating : float or array
        Apparent strain there, of either sign [1].
    allowed_heating : float or array
        Apparent strain one will bear [1].

    Returns
    -------
    excitation : array of the broadcast shape
        Infinite where no heating was found [V].

    Raises
    ------
    InputError
        If a setting is impossible.
    Faults
        If several are.

    Examples
    --------
    >>> excitation_for_heating(5.0, 8e-6, 2e-6).item()
    2.5
    """
    with allowed.Together("excitation") as given:
        volts = given.positive("excitation", excitation)
        limit = given.positive("allowed_heating", allowed_heating)
    found = np.abs(np.asarray(self_heating, dtype=np.float64))
    with np.errstate(divide="ignore"):
        return np.asarray(volts * np.sqrt(limit / found))
