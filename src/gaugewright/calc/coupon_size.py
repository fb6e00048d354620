"""Section of a coupon from what was measured of it, and how far it stretched until it broke."""

import math

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed, coupon_points
from gaugewright.calc.coupon import CouponValues
from gaugewright.calc.uncertainty import Uncertain, combination

__all__ = ["elongation_by_extensometer", "elongation_by_marks", "flat_area", "round_area"]

# A stretch of record that carries less than this part of the greatest stress is after fracture.
_BROKEN = 0.5


def round_area(diameter: Uncertain) -> Uncertain:
    """Area of a round coupon: π d² / 4.

    Parameters
    ----------
    diameter : Uncertain
        Mean over the parallel length [m].

    Returns
    -------
    Uncertain
        In m².

    Raises
    ------
    InputError
        If the diameter isn't positive.

    Examples
    --------
    >>> round(float(round_area(Uncertain.exact(0.01)).value) * 1e6, 3)
    78.54
    """
    size = allowed.positive("diameter", diameter.value)
    return diameter.mapped(math.pi / 4 * size**2, math.pi / 2 * size)


def flat_area(width: Uncertain, thickness: Uncertain) -> Uncertain:
    """Area of a flat coupon: b t.

    Parameters
    ----------
    width : Uncertain
        Mean over the parallel length [m].
    thickness : Uncertain
        Likewise [m].

    Returns
    -------
    Uncertain
        In m².

    Raises
    ------
    InputError
        If a side isn't positive.
    """
    with allowed.Together("coupon") as given:
        given.positive("width", width.value)
        given.positive("thickness", thickness.value)
    return width * thickness


def elongation_by_marks(original_length: Uncertain, final_length: Uncertain) -> Uncertain:
    """Elongation after fracture from marks on the coupon: L_u / L_0 - 1.

    ISO 6892-1, percentage elongation after fracture (from memory).

    Parameters
    ----------
    original_length : Uncertain
        Between the marks before the test [m].
    final_length : Uncertain
        After it, the pieces put together [m].

    Returns
    -------
    Uncertain
        A, a number of one.

    Raises
    ------
    InputError
        If a length isn't positive or the coupon got shorter.
    """
    found = coupon_points.elongation_after_fracture(original_length.value, final_length.value)
    first, last = original_length.value, final_length.value
    return combination(found, [(final_length, 1 / first), (original_length, -last / first**2)])


def elongation_by_extensometer(
    strain: ArrayLike, stress: ArrayLike, values: CouponValues, strain_factor: Uncertain
) -> Uncertain | None:
    """Plastic extension at fracture, where the extensometer stayed on: ε - ε_0 - σ/E there.

    Fracture is the last sample that carries half of the greatest stress or more (our own rule);
    the extensometer must read there.

    Parameters
    ----------
    strain : array, shape (n_samples,)
        As read times its factor; NaN where the extensometer was off [1].
    stress : array, shape (n_samples,)
        Force over the original area [Pa].
    values : CouponValues
        Of the same record.
    strain_factor : Uncertain
        True extension over reading.

    Returns
    -------
    Uncertain or None
        A, a number of one; None without a reading there, without an origin or a modulus, or where
        the record ends before the coupon broke.

    Raises
    ------
    InputError
        If no sample has a stress.
    """
    e, s = np.asarray(strain, dtype=np.float64), np.asarray(stress, dtype=np.float64)
    top = coupon_points.greatest_stress(e, s)
    carrying = np.flatnonzero(s >= _BROKEN * top.stress)
    last = int(carrying[-1])
    if values.axis_offset is None or values.elastic_modulus is None or last == s.size - 1:
        return None
    if not np.isfinite(e[last]):
        return None
    factor = strain_factor.value
    read = combination(e[last], [(strain_factor, e[last] / factor)])
    return read - values.axis_offset - float(s[last]) / values.elastic_modulus
