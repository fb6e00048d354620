"""A bar with four gauges as a load cell: its sensitivity, its force, what bending leaves in it."""

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.calc.active_arms import full_bridge_axial_arm_change, full_bridge_axial_ratio
from gaugewright.calc.bridge import four_arm_ratio
from gaugewright.quantities import FloatArray

__all__ = ["bending_left_over", "column_force", "column_ratio"]


def column_ratio(
    force: ArrayLike,
    area: ArrayLike,
    elastic_modulus: ArrayLike,
    *,
    poisson_ratio: ArrayLike,
    gauge_factor: ArrayLike,
) -> FloatArray:
    """Output of a column with two gauges along it and two across: its sensitivity at a force.

    The arms along change by k F / (E A), those across by -ν times as much, wired so that all four
    add up: about k F (1 + ν) / (2 E A), and exactly ``full_bridge_axial_ratio``. Hooke's law and
    the division of voltage; any text on transducers.

    Parameters
    ----------
    force : array of any shape
        Tension positive [N].
    area : float or array
        Of the column's section [m^2].
    elastic_modulus : float or array
        Of the metal [Pa].
    poisson_ratio : float or array
        Of the metal [1].
    gauge_factor : float or array
        Of all four gauges [1].

    Returns
    -------
    bridge_ratio : array of the broadcast shape
        1000 times it in mV/V [V/V].

    Raises
    ------
    InputError
        If a setting is impossible.
    Faults
        If several are.

    Examples
    --------
    >>> steel = {"poisson_ratio": 0.3, "gauge_factor": 2.0}
    >>> (1e3 * column_ratio(100e3, 500e-6, 200e9, **steel)).round(4).item()
    1.2991
    """
    stiffness, nu, factor = _column(area, elastic_modulus, poisson_ratio, gauge_factor)
    strain = np.asarray(force, dtype=np.float64) / stiffness
    return full_bridge_axial_ratio(factor * strain, nu)


def column_force(
    bridge_ratio: ArrayLike,
    area: ArrayLike,
    elastic_modulus: ArrayLike,
    *,
    poisson_ratio: ArrayLike,
    gauge_factor: ArrayLike,
) -> FloatArray:
    """Force on a column from the output of its bridge: the exact inverse of ``column_ratio``.

    From stated properties it is as good as E, A, ν and k are: 1 to 3 %. A calibration against a
    traceable load takes the place of all four.

    Parameters
    ----------
    bridge_ratio : array of any shape
        Output over excitation, zero subtracted [V/V].
    area : float or array
        Of the column's section [m^2].
    elastic_modulus : float or array
        Of the metal [Pa].
    poisson_ratio : float or array
        Of the metal [1].
    gauge_factor : float or array
        Of all four gauges [1].

    Returns
    -------
    force : array of the broadcast shape
        Tension positive; NaN where no resistances give that ratio [N].

    Raises
    ------
    InputError
        If a setting is impossible.
    Faults
        If several are.
    """
    stiffness, nu, factor = _column(area, elastic_modulus, poisson_ratio, gauge_factor)
    return np.asarray(full_bridge_axial_arm_change(bridge_ratio, nu) / factor * stiffness)


def bending_left_over(
    arm_change: ArrayLike, bending_share: ArrayLike, poisson_ratio: ArrayLike
) -> FloatArray:
    """Share of its output that a column's bridge errs by when the column also bends.

    The two sides change by x (1 + β) and x (1 - β), their cross gauges by -ν times as much. The
    bending goes out to first order; what is left is found from the four resistances and is about
    -x β² (1 - ν) / 2: 0.0007 % at a strain of 0.001 and β = 0.1 with k = 2. Gauges that differ or
    sit askew leave more: bending then comes in with the share by which the two sides differ.

    Parameters
    ----------
    arm_change : array of any shape
        Of the arms along the column without bending [1].
    bending_share : array of any shape
        Bending over axial strain at the gauges, β [1].
    poisson_ratio : float or array
        Of the metal [1].

    Returns
    -------
    nonlinearity : array of the broadcast shape
        Output with bending over output without, less 1 [1].

    Raises
    ------
    InputError
        If ``poisson_ratio`` isn't from 0 to 0.5.

    Examples
    --------
    >>> bending_left_over(0.002, 0.1, 0.3).round(8).item()
    -6.99e-06
    """
    nu = allowed.within("poisson_ratio", poisson_ratio, (0.0, 0.5))
    change, share = np.broadcast_arrays(
        np.asarray(arm_change, dtype=np.float64), np.asarray(bending_share, dtype=np.float64)
    )
    near, far = change * (1 + share), change * (1 - share)
    bent = four_arm_ratio(np.stack(np.broadcast_arrays(near, -nu * near, far, -nu * far), axis=-1))
    straight = full_bridge_axial_ratio(change, nu)
    return np.asarray(bent / np.where(straight == 0, np.nan, straight) - 1)


def _column(
    area: ArrayLike, elastic_modulus: ArrayLike, poisson_ratio: ArrayLike, gauge_factor: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    with allowed.Together("column of a load cell") as given:
        section = given.positive("area", area)
        modulus = given.positive("elastic_modulus", elastic_modulus)
        nu = given.within("poisson_ratio", poisson_ratio, (0.0, 0.5))
        factor = given.positive("gauge_factor", gauge_factor)
    return np.asarray(section * modulus), nu, factor
