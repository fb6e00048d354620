"""Bridge circuits: from the measured voltage ratio to the change of resistance that caused it.

Every inverse is exact for readings of any size: bridge arms, excitation at constant voltage,
output into an open circuit. Tension raises the gauge's resistance and makes the output positive.
"""

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "four_arm_change",
    "four_arm_ratio",
    "half_bridge_bending_arm_change",
    "half_bridge_bending_ratio",
    "half_bridge_poisson_arm_change",
    "half_bridge_poisson_ratio",
    "quarter_bridge_arm_change",
    "quarter_bridge_nonlinearity",
    "quarter_bridge_ratio",
    "quarter_bridge_strain",
    "relative_arm_change",
]


def quarter_bridge_ratio(arm_change: ArrayLike) -> FloatArray:
    """Output of a bridge with one active arm.

    Arms R(1 + x), R, R, R: r = x / (4 + 2x) by voltage division.

    Parameters
    ----------
    arm_change : array of any shape
        Of the whole active arm, leads in it included [1].

    Returns
    -------
    bridge_ratio : array shaped like ``arm_change``
        NaN where the arm would have no positive resistance [V/V].

    Examples
    --------
    >>> quarter_bridge_ratio(0.002).round(10).item()
    0.0004995005
    """
    change = np.asarray(arm_change, dtype=np.float64)
    change = np.where((change > -1) & (change < np.inf), change, np.nan)
    return change / (4 + 2 * change)


def quarter_bridge_arm_change(bridge_ratio: ArrayLike) -> FloatArray:
    """Change of the active arm of a quarter bridge, exact: x = 4r / (1 - 2r).

    Parameters
    ----------
    bridge_ratio : array of any shape
        Output over excitation of the bridge that was balanced with equal arms [V/V].

    Returns
    -------
    arm_change : array shaped like ``bridge_ratio``
        NaN where no resistance gives that ratio: open or shorted arm [1].

    Examples
    --------
    >>> quarter_bridge_arm_change([0.0004995005, 0.5]).round(9).tolist()
    [0.002, nan]
    """
    ratio = np.asarray(bridge_ratio, dtype=np.float64)
    ratio = np.where(np.abs(ratio) < 0.5, ratio, np.nan)
    return 4 * ratio / (1 - 2 * ratio)


def quarter_bridge_strain(bridge_ratio: ArrayLike, gauge_factor: ArrayLike) -> FloatArray:
    """Strain under one active gauge without lead resistance, exact for readings of any size.

    The straight line 4r/k reads tension low by kε/2: 0.1 % at a strain of 0.001.

    Parameters
    ----------
    bridge_ratio : array of any shape
        Output over excitation, zero subtracted, tension positive [V/V].
    gauge_factor : float or array
        Of the gauge alone, at the temperature of the test [1].

    Returns
    -------
    strain : array shaped like ``bridge_ratio``
        NaN where no resistance gives that ratio: open or shorted arm [1].

    Raises
    ------
    InputError
        If ``gauge_factor`` is not a positive number.

    Examples
    --------
    >>> quarter_bridge_strain([0.0, 0.5e-3], gauge_factor=2.0).round(9).tolist()
    [0.0, 0.001001001]
    """
    return quarter_bridge_arm_change(bridge_ratio) / allowed.positive("gauge_factor", gauge_factor)


def quarter_bridge_nonlinearity(arm_change: ArrayLike) -> FloatArray:
    """Relative error of the straight line 4r taken for the arm change: -x / (2 + x).

    Parameters
    ----------
    arm_change : array of any shape
        True change of the active arm [1].

    Returns
    -------
    nonlinearity : array shaped like ``arm_change``
        Negative where the straight line reads low, as in tension [1].

    Examples
    --------
    >>> quarter_bridge_nonlinearity(0.002).round(6).item()
    -0.000999
    """
    change = np.asarray(arm_change, dtype=np.float64)
    change = np.where((change > -1) & (change < np.inf), change, np.nan)
    return -change / (2 + change)


def half_bridge_bending_ratio(arm_change: ArrayLike) -> FloatArray:
    """Output of two neighbouring arms that change by +x and -x: r = x/2, without nonlinearity.

    Parameters
    ----------
    arm_change : array of any shape
        Of the arm that counts positive [1].

    Returns
    -------
    bridge_ratio : array shaped like ``arm_change``
        NaN where an arm would have no positive resistance [V/V].
    """
    change = np.asarray(arm_change, dtype=np.float64)
    return np.where(np.abs(change) < 1, change, np.nan) / 2


def half_bridge_bending_arm_change(bridge_ratio: ArrayLike) -> FloatArray:
    """Change of the positive arm of a bending pair, exact: x = 2r.

    Parameters
    ----------
    bridge_ratio : array of any shape
        Output over excitation [V/V].

    Returns
    -------
    arm_change : array shaped like ``bridge_ratio``
        NaN where no pair of resistances gives that ratio [1].
    """
    ratio = np.asarray(bridge_ratio, dtype=np.float64)
    return 2 * np.where(np.abs(ratio) < 0.5, ratio, np.nan)


def half_bridge_poisson_ratio(arm_change: ArrayLike, poisson_ratio: ArrayLike) -> FloatArray:
    """Output of one arm along the bar and one across it: changes x and -νx in neighbouring arms.

    Parameters
    ----------
    arm_change : array of any shape
        Of the arm along the bar [1].
    poisson_ratio : float or array
        Of the metal; 0.5 once it has yielded far [1].

    Returns
    -------
    bridge_ratio : array shaped like ``arm_change``
        NaN where an arm would have no positive resistance [V/V].

    Raises
    ------
    InputError
        If ``poisson_ratio`` isn't from 0 to 0.5.

    Examples
    --------
    >>> half_bridge_poisson_ratio(0.002, 0.3).round(10).item()
    0.0006495453
    """
    nu = allowed.within("poisson_ratio", poisson_ratio, (0.0, 0.5))
    change = np.asarray(arm_change, dtype=np.float64)
    change = np.where((change > -1) & (nu * change < 1), change, np.nan)
    return change * (1 + nu) / (2 * (2 + change * (1 - nu)))


def half_bridge_poisson_arm_change(bridge_ratio: ArrayLike, poisson_ratio: ArrayLike) -> FloatArray:
    """Change of the arm along the bar, exact: x = 4r / ((1 + ν) - 2r (1 - ν)).

    Parameters
    ----------
    bridge_ratio : array of any shape
        Output over excitation [V/V].
    poisson_ratio : float or array
        Of the metal [1].

    Returns
    -------
    arm_change : array shaped like ``bridge_ratio``
        NaN where no pair of resistances gives that ratio [1].

    Raises
    ------
    InputError
        If ``poisson_ratio`` isn't from 0 to 0.5.
    """
    nu = allowed.within("poisson_ratio", poisson_ratio, (0.0, 0.5))
    ratio = np.asarray(bridge_ratio, dtype=np.float64)
    ratio = np.where(np.abs(ratio) < 0.5, ratio, np.nan)
    change = 4 * ratio / ((1 + nu) - 2 * ratio * (1 - nu))
    return np.where((change > -1) & (nu * change < 1), change, np.nan)


def four_arm_ratio(arm_changes: ArrayLike) -> FloatArray:
    """Output of a bridge whose four equal arms change in any way, exact.

    Arm 1 lies between signal + and excitation -, arm 2 between excitation + and signal +, arm 3
    between excitation + and signal -, arm 4 between signal - and excitation -: a rise of 1 or 3
    raises the output, a rise of 2 or 4 lowers it.

    Parameters
    ----------
    arm_changes : array, shape (..., 4)
        Relative change of resistance of arms 1 to 4 [1].

    Returns
    -------
    bridge_ratio : array, shape (...)
        NaN where an arm would have no positive resistance [V/V].

    Raises
    ------
    InputError
        If the last axis isn't four long.

    Examples
    --------
    >>> four_arm_ratio([0.001, -0.001, 0.001, -0.001]).item()
    0.001
    """
    change = _four("arm_changes", arm_changes)
    change = np.where((change > -1).all(axis=-1, keepdims=True), change, np.nan)
    x1, x2, x3, x4 = np.moveaxis(change, -1, 0)
    # Over a common denominator the ones cancel before anything is rounded.
    above = (x1 - x2 + x3 - x4) + x1 * x3 - x2 * x4
    return np.asarray(above / ((2 + x1 + x2) * (2 + x3 + x4)))


def four_arm_change(bridge_ratio: ArrayLike, arm_weights: ArrayLike) -> FloatArray:
    """Change of resistance x behind a reading when arm i changes by its weight times x, exact.

    The output is a ratio of quadratics in x; the root that vanishes with the reading is taken.
    Weights of common bridges: quarter (1, 0, 0, 0); half, Poisson (1, -ν, 0, 0); full, bending
    (1, -1, 1, -1); full, axial with Poisson (1, -ν, 1, -ν); two opposite arms (1, 0, 1, 0).

    Parameters
    ----------
    bridge_ratio : array of any shape
        Output over excitation [V/V].
    arm_weights : array, shape (4,)
        Share of the change that each arm sees, arms as in ``four_arm_ratio`` [1].

    Returns
    -------
    arm_change : array shaped like ``bridge_ratio``
        NaN where no such resistances give that ratio [1].

    Raises
    ------
    InputError
        If the weights cancel, so that the bridge gives no output.

    Examples
    --------
    >>> four_arm_change(0.001, [1, -0.3, 1, -0.3]).round(9).item()
    0.00153929
    """
    weight = _four("arm_weights", arm_weights)
    if weight.ndim != 1:
        raise InputError("arm_weights", f"of shape {weight.shape}", "four numbers")
    w1, w2, w3, w4 = weight.tolist()
    factor = w1 - w2 + w3 - w4
    if not factor > 0:
        raise InputError(
            "arm_weights",
            weight.tolist(),
            "such that arms 1 and 3 outweigh arms 2 and 4",
            "exchange the signal leads in the record if the output is reversed",
        )
    ratio = np.asarray(bridge_ratio, dtype=np.float64)
    left, right = w1 + w2, w3 + w4
    square = w1 * w3 - w2 * w4 - ratio * left * right
    line = factor - 2 * ratio * (left + right)
    inside = line**2 + 16 * square * ratio
    root = np.sqrt(np.where(inside >= 0, inside, np.nan))
    below = line + root
    change = 8 * ratio / np.where(below > 0, below, np.nan)
    sound = (1 + change[..., np.newaxis] * weight > 0).all(axis=-1)
    return np.where(sound, change, np.nan)


def relative_arm_change(arm_change: ArrayLike, arm_change_zero: ArrayLike) -> FloatArray:
    """Change of the arm since the zero: (1 + x) / (1 + x0) - 1, both from absolute readings.

    Subtracting x0 instead errs by the share x0: an unbalance of 1500 µε at k = 2 costs 0.3 %.

    Parameters
    ----------
    arm_change : array of any shape
        From the absolute output [1].
    arm_change_zero : float or array
        From the absolute output at the zero [1].

    Returns
    -------
    arm_change : array of the broadcast shape
        Counted from the resistance at the zero [1].

    Raises
    ------
    InputError
        If a zero isn't above -1.

    Examples
    --------
    >>> relative_arm_change(0.005, 0.003).round(9).item()
    0.001994018
    """
    zero = np.asarray(arm_change_zero, dtype=np.float64)
    allowed.positive("arm_change_zero + 1", 1 + zero, "give the zero as an absolute reading")
    return (np.asarray(arm_change, dtype=np.float64) - zero) / (1 + zero)


def _four(name: str, value: ArrayLike) -> FloatArray:
    numbers = np.asarray(value, dtype=np.float64)
    if numbers.ndim == 0 or numbers.shape[-1] != 4:
        raise InputError(name, f"of shape {numbers.shape}", "shaped (..., 4), one for each arm")
    return numbers
