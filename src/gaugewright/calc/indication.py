"""Instruments that state strain: what they show for a bridge output, and back to the output."""

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed, bridge
from gaugewright.quantities import FloatArray

__all__ = [
    "bridge_ratio_from_linear_indication",
    "bridge_ratio_from_linearised_indication",
    "linear_indication",
    "linearised_indication",
]


def linear_indication(
    bridge_ratio: ArrayLike, set_gauge_factor: ArrayLike, bridge_factor: ArrayLike = 1.0
) -> FloatArray:
    """What an instrument shows that takes the straight line: 4r / (k B).

    Parameters
    ----------
    bridge_ratio : array of any shape
        Output over excitation [V/V].
    set_gauge_factor : float or array
        Set in the instrument, whatever the gauge's own [1].
    bridge_factor : float or array
        Number of active arms set in the instrument: 1, 2, 1 + ν, ... [1].

    Returns
    -------
    indicated_strain : array shaped like ``bridge_ratio``
        Of one arm [1].

    Raises
    ------
    InputError
        If a factor isn't positive.
    """
    scale = _scale(set_gauge_factor, bridge_factor)
    return 4 * np.asarray(bridge_ratio, dtype=np.float64) / scale


def bridge_ratio_from_linear_indication(
    indicated_strain: ArrayLike, set_gauge_factor: ArrayLike, bridge_factor: ArrayLike = 1.0
) -> FloatArray:
    """Bridge output behind the reading of a straight-line instrument: ε k B / 4.

    Parameters
    ----------
    indicated_strain : array of any shape
        As the instrument states it [1].
    set_gauge_factor : float or array
        Set in the instrument [1].
    bridge_factor : float or array
        Number of active arms set in the instrument [1].

    Returns
    -------
    bridge_ratio : array shaped like ``indicated_strain``
        Output over excitation [V/V].

    Raises
    ------
    InputError
        If a factor isn't positive.
    """
    scale = _scale(set_gauge_factor, bridge_factor)
    return np.asarray(indicated_strain, dtype=np.float64) * scale / 4


def linearised_indication(bridge_ratio: ArrayLike, set_gauge_factor: ArrayLike) -> FloatArray:
    """What an instrument shows that undoes the quarter bridge exactly: 4r / (k (1 - 2r)).

    Parameters
    ----------
    bridge_ratio : array of any shape
        Output over excitation [V/V].
    set_gauge_factor : float or array
        Set in the instrument [1].

    Returns
    -------
    indicated_strain : array shaped like ``bridge_ratio``
        NaN where no resistance gives that ratio [1].

    Raises
    ------
    InputError
        If ``set_gauge_factor`` isn't positive.
    """
    return bridge.quarter_bridge_arm_change(bridge_ratio) / allowed.positive(
        "set_gauge_factor", set_gauge_factor
    )


def bridge_ratio_from_linearised_indication(
    indicated_strain: ArrayLike, set_gauge_factor: ArrayLike
) -> FloatArray:
    """Bridge output behind the reading of a linearising quarter-bridge instrument.

    Parameters
    ----------
    indicated_strain : array of any shape
        As the instrument states it [1].
    set_gauge_factor : float or array
        Set in the instrument [1].

    Returns
    -------
    bridge_ratio : array shaped like ``indicated_strain``
        Output over excitation [V/V].

    Raises
    ------
    InputError
        If ``set_gauge_factor`` isn't positive.
    """
    factor = allowed.positive("set_gauge_factor", set_gauge_factor)
    return bridge.quarter_bridge_ratio(np.asarray(indicated_strain, dtype=np.float64) * factor)


def _scale(set_gauge_factor: ArrayLike, bridge_factor: ArrayLike) -> FloatArray:
    with allowed.Together("channel scale") as given:
        factor = given.positive("set_gauge_factor", set_gauge_factor)
        bridges = given.positive("bridge_factor", bridge_factor)
    return np.asarray(factor * bridges)
