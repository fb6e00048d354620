"""Named curves of first loading: Ramberg and Osgood, Park and Paulay, Menegotto and Pinto."""

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "menegotto_pinto_stress",
    "park_paulay_stress",
    "ramberg_osgood_exponent",
    "ramberg_osgood_strain",
    "ramberg_osgood_stress",
]

_OFFSET = 0.002


def ramberg_osgood_strain(
    stress: ArrayLike,
    elastic_modulus: ArrayLike,
    proof_strength: ArrayLike,
    exponent: ArrayLike,
) -> FloatArray:
    """Strain of steel without a yield plateau: σ/E + 0.002 (σ / R_p0.2)^n.

    Source: Ramberg & Osgood, NACA TN 902 (1943), in the form of EN 1993-1-4 (from memory).

    Parameters
    ----------
    stress : array of any shape
        Tension positive; odd in stress [Pa].
    elastic_modulus : float or array
        Of the steel [Pa].
    proof_strength : float or array
        At 0.2 % offset [Pa].
    exponent : float or array
        Above 1 [1].

    Returns
    -------
    strain : array of the broadcast shape
        Mechanical strain [1].

    Raises
    ------
    InputError
        If a property isn't positive.

    Examples
    --------
    >>> ramberg_osgood_strain(500e6, 200e9, 500e6, 10.0).round(6).item()
    0.0045
    """
    value = np.asarray(stress, dtype=np.float64)
    with allowed.Together("steel") as given:
        modulus = given.positive("elastic_modulus", elastic_modulus)
        proof = given.positive("proof_strength", proof_strength)
        power = given.positive("exponent", exponent)
    plastic = _OFFSET * (np.abs(value) / proof) ** power
    return np.asarray(value / modulus + np.copysign(plastic, value))


def ramberg_osgood_stress(
    strain: ArrayLike,
    elastic_modulus: ArrayLike,
    proof_strength: ArrayLike,
    exponent: ArrayLike,
) -> FloatArray:
    """Stress of steel without a yield plateau: ``ramberg_osgood_strain`` solved for stress.

    Newton's method from above on a convex curve, so it can only come nearer; it ends when the
    strain is met to 1e-14 relative.

    Parameters
    ----------
    strain : array of any shape
        Mechanical strain [1].
    elastic_modulus : float or array
        Of the steel [Pa].
    proof_strength : float or array
        At 0.2 % offset [Pa].
    exponent : float or array
        At least 1 [1].

    Returns
    -------
    stress : array of the broadcast shape
        Tension positive [Pa].

    Raises
    ------
    InputError
        If a property isn't positive or the exponent is below 1.
    """
    with allowed.Together("steel") as given:
        modulus = given.positive("elastic_modulus", elastic_modulus)
        proof = given.positive("proof_strength", proof_strength)
        power = given.within("exponent", exponent, (1.0, 1e4))
    value = np.asarray(strain, dtype=np.float64)
    size = np.abs(value)
    # Neither part of the strain can exceed the whole, so the lesser of two stresses is above.
    stress = np.fmin(modulus * size, proof * (size / _OFFSET) ** (1 / power))
    for _ in range(100):
        plastic = _OFFSET * (stress / proof) ** power
        excess = stress / modulus + plastic - size
        slope = 1 / modulus + power * _OFFSET / proof * (stress / proof) ** (power - 1)
        stress = stress - excess / slope
        if not np.any(np.abs(excess) > 1e-14 * size):
            break
    return np.copysign(np.where(np.isnan(value), np.nan, stress), value)


def ramberg_osgood_exponent(proof_strength: ArrayLike, limit_strength: ArrayLike) -> FloatArray:
    """Exponent through the offsets of 0.2 % and 0.01 %: ln 20 / ln(R_p0.2 / R_p0.01).

    Source: EN 1993-1-4, Annex C (from memory).

    Parameters
    ----------
    proof_strength : float or array
        At 0.2 % offset [Pa].
    limit_strength : float or array
        At 0.01 % offset [Pa].

    Returns
    -------
    exponent : array of the broadcast shape
        For ``ramberg_osgood_strain`` [1].

    Raises
    ------
    InputError
        If the strength at the larger offset isn't the larger.
    """
    with allowed.Together("steel") as given:
        proof = given.positive("proof_strength", proof_strength)
        limit = given.positive("limit_strength", limit_strength)
    ratio = proof / limit
    if np.any(ratio <= 1):
        raise InputError("limit_strength", np.max(limit_strength), "below the proof strength")
    return np.asarray(np.log(20.0) / np.log(ratio))


def park_paulay_stress(
    strain: ArrayLike,
    elastic_modulus: float,
    yield_strength: float,
    tensile_strength: float,
    *,
    hardening_strain: float,
    ultimate_strain: float,
) -> FloatArray:
    """Stress of hot-rolled bars: elastic, a plateau, and a curve of hardening up to maximum force.

    Source: Park & Paulay, Reinforced Concrete Structures (1975), equations 2.24 to 2.26
    (from memory). Odd in strain; first loading only.

    Parameters
    ----------
    strain : array of any shape
        Mechanical strain [1].
    elastic_modulus : float
        Of the steel [Pa].
    yield_strength : float
        Height of the plateau [Pa].
    tensile_strength : float
        At maximum force [Pa].
    hardening_strain : float
        End of the plateau [1].
    ultimate_strain : float
        At maximum force [1].

    Returns
    -------
    stress : array shaped like ``strain``
        Tension positive; NaN beyond ``ultimate_strain`` [Pa].

    Raises
    ------
    InputError
        If strengths or strains aren't in their order.
    """
    with allowed.Together("steel") as given:
        given.positive("elastic_modulus", elastic_modulus)
        given.positive("yield_strength", yield_strength)
        strongest = given.positive("tensile_strength", tensile_strength)
        rising = given.positive("hardening_strain", hardening_strain)
        last = given.positive("ultimate_strain", ultimate_strain)
        weaker = bool(strongest < yield_strength)
        given.holds(
            "tensile_strength", tensile_strength, "at least the yield strength", if_=not weaker
        )
        early = bool(rising * elastic_modulus < yield_strength)
        given.holds(
            "hardening_strain", hardening_strain, "at least the yield strain", if_=not early
        )
        past = bool(last <= rising)
        given.holds("ultimate_strain", ultimate_strain, "beyond the hardening strain", if_=not past)
    value = np.asarray(strain, dtype=np.float64)
    size = np.abs(value)
    span = ultimate_strain - hardening_strain
    long = 30 * span + 1
    m = ((tensile_strength / yield_strength) * long**2 - 60 * span - 1) / (15 * span**2)
    after = np.maximum(size - hardening_strain, 0.0)
    hardened = (m * after + 2) / (60 * after + 2) + after * (60 - m) / (2 * long**2)
    before = np.minimum(elastic_modulus * size, yield_strength)
    stress = np.where(size > hardening_strain, yield_strength * hardened, before)
    return np.copysign(np.where(size > ultimate_strain, np.nan, stress), value)


def menegotto_pinto_stress(
    strain: ArrayLike,
    elastic_modulus: ArrayLike,
    yield_strength: ArrayLike,
    hardening_modulus: ArrayLike,
    curvature_exponent: ArrayLike,
) -> FloatArray:
    """Stress on first loading along a smooth knee: b e + (1 - b) e / (1 + e^R)^(1/R), times f_y.

    e is strain over yield strain, b the slope after yield over E. Source: Menegotto & Pinto, IABSE
    Symposium, Lisbon (1973) (from memory). Its rules of unloading are not part of this function.

    Parameters
    ----------
    strain : array of any shape
        Mechanical strain [1].
    elastic_modulus : float or array
        Of the steel [Pa].
    yield_strength : float or array
        Where the two straight lines would meet [Pa].
    hardening_modulus : float or array
        Slope far beyond yield [Pa].
    curvature_exponent : float or array
        Sharpness of the knee, about 10 to 20 on first loading [1].

    Returns
    -------
    stress : array of the broadcast shape
        Tension positive [Pa].

    Raises
    ------
    InputError
        If a property isn't positive.
    """
    with allowed.Together("steel") as given:
        modulus = given.positive("elastic_modulus", elastic_modulus)
        strength = given.positive("yield_strength", yield_strength)
        share = given.not_negative("hardening_modulus", hardening_modulus) / modulus
        power = given.positive("curvature_exponent", curvature_exponent)
    value = np.asarray(strain, dtype=np.float64)
    size = np.abs(value) * modulus / strength
    # The root in a form that doesn't overflow far beyond yield: e / (1 + e^R)^(1/R).
    with np.errstate(divide="ignore"):
        knee = np.exp(-np.logaddexp(0.0, -power * np.log(size)) / power)
    return np.copysign(strength * (share * size + (1 - share) * knee), value)
