"""Bridges with two or four active arms: from the reading to strain, shear strain, torque.

Arms are numbered as in ``bridge.four_arm_ratio``: a rise of 1 or 3 raises the output. Each form
is exact for changes of any size and has its exact inverse; what the arms had at the zero is the
matter of the chain's reference stage.
"""

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed, bridge
from gaugewright.quantities import FloatArray

__all__ = [
    "full_bridge_axial_arm_change",
    "full_bridge_axial_ratio",
    "full_bridge_bending_arm_change",
    "full_bridge_bending_ratio",
    "half_bridge_dummy_arm_change",
    "half_bridge_dummy_ratio",
    "half_bridge_opposite_arm_change",
    "half_bridge_opposite_ratio",
    "torque",
    "torsion_bridge_ratio",
    "torsion_bridge_shear_strain",
    "torsion_shear_strain",
]


def half_bridge_opposite_ratio(arm_change: ArrayLike) -> FloatArray:
    """Output of two opposite arms that change alike, as on two sides of a bar: x / (2 + x).

    Bending of the bar goes out to first order: arms x + b and x - b leave an error of -b²/4.

    Parameters
    ----------
    arm_change : array of any shape
        Of either arm [1].

    Returns
    -------
    bridge_ratio : array shaped like ``arm_change``
        NaN where an arm would have no positive resistance [V/V].

    Examples
    --------
    >>> half_bridge_opposite_ratio(0.002).round(9).item()
    0.000999001
    """
    change = np.asarray(arm_change, dtype=np.float64)
    change = np.where((change > -1) & (change < np.inf), change, np.nan)
    return change / (2 + change)


def half_bridge_opposite_arm_change(bridge_ratio: ArrayLike) -> FloatArray:
    """Change of two opposite arms that change alike, exact: x = 2r / (1 - r).

    Parameters
    ----------
    bridge_ratio : array of any shape
        Output over excitation [V/V].

    Returns
    -------
    arm_change : array shaped like ``bridge_ratio``
        NaN where no resistances give that ratio [1].
    """
    ratio = np.asarray(bridge_ratio, dtype=np.float64)
    ratio = np.where(np.abs(ratio) < 1, ratio, np.nan)
    return 2 * ratio / (1 - ratio)


def half_bridge_dummy_ratio(arm_change: ArrayLike, dummy_change: ArrayLike) -> FloatArray:
    """Output of an active arm beside a dummy that only feels temperature.

    Arms R(1 + x) and R(1 + t): r = (x - t) / (2 (2 + x + t)).

    Parameters
    ----------
    arm_change : array of any shape
        Of the active arm, strain and temperature together [1].
    dummy_change : array of any shape
        Of the dummy [1].

    Returns
    -------
    bridge_ratio : array of the broadcast shape
        NaN where an arm would have no positive resistance [V/V].

    Examples
    --------
    >>> half_bridge_dummy_ratio(0.001, 0.001).item()
    0.0
    """
    active = np.asarray(arm_change, dtype=np.float64)
    dummy = np.asarray(dummy_change, dtype=np.float64)
    whole = (active > -1) & (dummy > -1) & np.isfinite(active + dummy)
    active, dummy = np.where(whole, active, np.nan), np.where(whole, dummy, np.nan)
    return np.asarray((active - dummy) / (2 * (2 + active + dummy)))


def half_bridge_dummy_arm_change(bridge_ratio: ArrayLike) -> FloatArray:
    """Change of the active arm over that of its dummy, exact: (1 + x)/(1 + t) - 1 = 4r/(1 - 2r).

    The dummy divides out what both arms share, so no product of strain and temperature is left.

    Parameters
    ----------
    bridge_ratio : array of any shape
        Output over excitation [V/V].

    Returns
    -------
    arm_change : array shaped like ``bridge_ratio``
        NaN where no resistances give that ratio [1].
    """
    return bridge.quarter_bridge_arm_change(bridge_ratio)


def full_bridge_bending_ratio(arm_change: ArrayLike) -> FloatArray:
    """Output of four arms +x, -x, +x, -x: r = x, without nonlinearity.

    Parameters
    ----------
    arm_change : array of any shape
        Of the arms that count positive [1].

    Returns
    -------
    bridge_ratio : array shaped like ``arm_change``
        NaN where an arm would have no positive resistance [V/V].
    """
    change = np.asarray(arm_change, dtype=np.float64)
    return np.where(np.abs(change) < 1, change, np.nan)


def full_bridge_bending_arm_change(bridge_ratio: ArrayLike) -> FloatArray:
    """Change of the positive arms of a full bending bridge, exact: x = r.

    Parameters
    ----------
    bridge_ratio : array of any shape
        Output over excitation [V/V].

    Returns
    -------
    arm_change : array shaped like ``bridge_ratio``
        NaN where no resistances give that ratio [1].
    """
    ratio = np.asarray(bridge_ratio, dtype=np.float64)
    return np.where(np.abs(ratio) < 1, ratio, np.nan)


def full_bridge_axial_ratio(arm_change: ArrayLike, poisson_ratio: ArrayLike) -> FloatArray:
    """Output of two arms along a bar and two across: changes x, -νx, x, -νx.

    r = x (1 + ν) / (2 + x (1 - ν)); bending of the bar goes out to first order.

    Parameters
    ----------
    arm_change : array of any shape
        Of the arms along the bar [1].
    poisson_ratio : float or array
        Of the metal; 0.5 once it has yielded far [1].

    Returns
    -------
    bridge_ratio : array of the broadcast shape
        NaN where an arm would have no positive resistance [V/V].

    Raises
    ------
    InputError
        If ``poisson_ratio`` isn't from 0 to 0.5.

    Examples
    --------
    >>> full_bridge_axial_ratio(0.002, 0.3).round(10).item()
    0.0012990906
    """
    nu = allowed.within("poisson_ratio", poisson_ratio, (0.0, 0.5))
    change = np.asarray(arm_change, dtype=np.float64)
    change = np.where((change > -1) & (nu * change < 1), change, np.nan)
    return change * (1 + nu) / (2 + change * (1 - nu))


def full_bridge_axial_arm_change(bridge_ratio: ArrayLike, poisson_ratio: ArrayLike) -> FloatArray:
    """Change of the arms along the bar, exact: x = 2r / ((1 + ν) - r (1 - ν)).

    Parameters
    ----------
    bridge_ratio : array of any shape
        Output over excitation [V/V].
    poisson_ratio : float or array
        Of the metal [1].

    Returns
    -------
    arm_change : array of the broadcast shape
        NaN where no resistances give that ratio [1].

    Raises
    ------
    InputError
        If ``poisson_ratio`` isn't from 0 to 0.5.
    """
    nu = allowed.within("poisson_ratio", poisson_ratio, (0.0, 0.5))
    ratio = np.asarray(bridge_ratio, dtype=np.float64)
    ratio = np.where(np.abs(ratio) < 1, ratio, np.nan)
    change = 2 * ratio / ((1 + nu) - ratio * (1 - nu))
    return np.where((change > -1) & (nu * change < 1), change, np.nan)


def torsion_bridge_ratio(shear_strain: ArrayLike, gauge_factor: ArrayLike) -> FloatArray:
    """Output of four grids at 45° to a twisted bar: their strains are ±γ/2, so r = k γ / 2.

    Axial strain, bending and temperature change all four alike, or opposite arms alike, and go
    out; the transverse sensitivity of the grids is a matter of their gauge factor in shear.

    Parameters
    ----------
    shear_strain : array of any shape
        Engineering shear strain of the surface, positive where arm 1 is stretched [1].
    gauge_factor : float or array
        Of the grids [1].

    Returns
    -------
    bridge_ratio : array of the broadcast shape
        NaN where an arm would have no positive resistance [V/V].

    Raises
    ------
    InputError
        If ``gauge_factor`` isn't positive.
    """
    factor = allowed.positive("gauge_factor", gauge_factor)
    return full_bridge_bending_ratio(factor * np.asarray(shear_strain, dtype=np.float64) / 2)


def torsion_bridge_shear_strain(bridge_ratio: ArrayLike, gauge_factor: ArrayLike) -> FloatArray:
    """Engineering shear strain behind the output of a torsion bridge, exact: γ = 2r / k.

    Parameters
    ----------
    bridge_ratio : array of any shape
        Output over excitation [V/V].
    gauge_factor : float or array
        Of the grids [1].

    Returns
    -------
    shear_strain : array of the broadcast shape
        Of the surface [1].

    Raises
    ------
    InputError
        If ``gauge_factor`` isn't positive.

    Examples
    --------
    >>> torsion_bridge_shear_strain(0.001, 2.0).item()
    0.001
    """
    factor = allowed.positive("gauge_factor", gauge_factor)
    return 2 * full_bridge_bending_arm_change(bridge_ratio) / factor


def torque(
    shear_strain: ArrayLike,
    diameter: ArrayLike,
    elastic_modulus: ArrayLike,
    poisson_ratio: ArrayLike,
    bore: ArrayLike = 0.0,
) -> FloatArray:
    """Elastic torque of a round bar or tube: G γ π (d⁴ - b⁴) / (16 d), with G = E / (2 (1 + ν)).

    Source: Saint-Venant torsion of a circular section, any text on strength of materials.

    Parameters
    ----------
    shear_strain : array of any shape
        Engineering shear strain of the outer surface [1].
    diameter : float or array
        Outer [m].
    elastic_modulus : float or array
        Of the metal [Pa].
    poisson_ratio : float or array
        Of the metal [1].
    bore : float or array
        Inner diameter, zero for a solid bar [m].

    Returns
    -------
    torque : array of the broadcast shape
        Signed as the shear strain [N m].

    Raises
    ------
    InputError
        If a setting is impossible.
    Faults
        If several are.

    Examples
    --------
    >>> torque(0.001, 20e-3, 200e9, 0.3).round(2).item()
    120.83
    """
    stiffness = _torsion_stiffness(diameter, elastic_modulus, poisson_ratio, bore)
    return np.asarray(np.asarray(shear_strain, dtype=np.float64) * stiffness)


def torsion_shear_strain(
    torque: ArrayLike,
    diameter: ArrayLike,
    elastic_modulus: ArrayLike,
    poisson_ratio: ArrayLike,
    bore: ArrayLike = 0.0,
) -> FloatArray:
    """Engineering shear strain of the outer surface under a torque: the inverse of ``torque``.

    Parameters
    ----------
    torque : array of any shape
        On the bar [N m].
    diameter : float or array
        Outer [m].
    elastic_modulus : float or array
        Of the metal [Pa].
    poisson_ratio : float or array
        Of the metal [1].
    bore : float or array
        Inner diameter, zero for a solid bar [m].

    Returns
    -------
    shear_strain : array of the broadcast shape
        Signed as the torque [1].

    Raises
    ------
    InputError
        If a setting is impossible.
    Faults
        If several are.
    """
    stiffness = _torsion_stiffness(diameter, elastic_modulus, poisson_ratio, bore)
    return np.asarray(np.asarray(torque, dtype=np.float64) / stiffness)


def _torsion_stiffness(
    diameter: ArrayLike, elastic_modulus: ArrayLike, poisson_ratio: ArrayLike, bore: ArrayLike
) -> FloatArray:
    """Torque per engineering shear strain of the outer surface."""
    with allowed.Together("bar under torsion") as given:
        outer = given.positive("diameter", diameter)
        modulus = given.positive("elastic_modulus", elastic_modulus)
        nu = given.within("poisson_ratio", poisson_ratio, (0.0, 0.5))
        inner = given.not_negative("bore", bore)
        narrower = bool(np.all(~(inner >= outer)))
        given.holds("bore", bore, "smaller than the diameter", if_=narrower)
    shear_modulus = modulus / (2 * (1 + nu))
    return np.asarray(shear_modulus * np.pi * (outer**4 - inner**4) / (16 * outer))
