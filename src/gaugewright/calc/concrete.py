"""Stress of concrete from its strain: compression by named laws, tension up to and past cracking.

Compression is negative, strengths are positive numbers. Every law of compression gives zero in
tension and the other way round, so that two of them may be added; NaN stands where a law ends.
"""

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "brittle_tension_stress",
    "elastic_compression_stress",
    "hognestad_stress",
    "parabola_rectangle_stress",
    "rectangular_block_stress",
    "sargin_stress",
    "softening_tension_stress",
]


def elastic_compression_stress(strain: ArrayLike, elastic_modulus: ArrayLike) -> FloatArray:
    """Stress of concrete that is linear in compression and carries no tension.

    The assumption of the cracked elastic section; good up to about 0.4 of the strength.

    Parameters
    ----------
    strain : array of any shape
        Mechanical strain of the concrete [1].
    elastic_modulus : float or array
        Of the concrete [Pa].

    Returns
    -------
    stress : array of the broadcast shape
        Zero or negative [Pa].

    Raises
    ------
    InputError
        If the modulus isn't positive.
    """
    modulus = allowed.positive("elastic_modulus", elastic_modulus)
    return np.asarray(modulus * np.minimum(np.asarray(strain, dtype=np.float64), 0.0))


def parabola_rectangle_stress(
    strain: ArrayLike,
    compressive_strength: ArrayLike,
    *,
    peak_strain: ArrayLike = 0.002,
    crushing_strain: ArrayLike = 0.0035,
    exponent: ArrayLike = 2.0,
) -> FloatArray:
    """Stress by the parabola-rectangle diagram: f (1 - (1 - ε/ε_c2)^n), then f up to ε_cu2.

    Source: EN 1992-1-1:2004, equations 3.17 and 3.18 (from memory). The defaults hold up to
    f_ck = 50 MPa; ``concrete_properties.parabola_rectangle_en1992`` gives them above.

    Parameters
    ----------
    strain : array of any shape
        Mechanical strain of the concrete [1].
    compressive_strength : float or array
        Design, characteristic or measured, as the comparison needs it [Pa].
    peak_strain : float or array
        Where the strength is reached, as a positive number [1].
    crushing_strain : float or array
        Where the law ends, as a positive number [1].
    exponent : float or array
        Of the parabola [1].

    Returns
    -------
    stress : array of the broadcast shape
        Zero in tension, NaN beyond the crushing strain [Pa].

    Raises
    ------
    InputError
        If a property is impossible.

    Examples
    --------
    >>> (parabola_rectangle_stress([-0.001, -0.003, 0.001], 30e6) / 1e6).round(6).tolist()
    [-22.5, -30.0, 0.0]
    """
    shortening = _shortening(strain)
    with allowed.Together("concrete in compression") as given:
        strength = given.positive("compressive_strength", compressive_strength)
        peak, last = _strains(given, peak_strain, crushing_strain)
        power = given.positive("exponent", exponent)
    left = np.clip(1.0 - shortening / peak, 0.0, None)
    return _compression(strength * (1.0 - left**power), shortening, last)


def sargin_stress(
    strain: ArrayLike,
    mean_strength: ArrayLike,
    elastic_modulus: ArrayLike,
    *,
    peak_strain: ArrayLike,
    crushing_strain: ArrayLike = 0.0035,
) -> FloatArray:
    """Stress by the law for nonlinear analysis: f_cm (k η - η²)/(1 + (k - 2) η), η = ε/ε_c1.

    Source: EN 1992-1-1:2004, equation 3.14, with k = 1.05 E_cm ε_c1 / f_cm (from memory); the
    form goes back to Sargin (1971).

    Parameters
    ----------
    strain : array of any shape
        Mechanical strain of the concrete [1].
    mean_strength : float or array
        Mean cylinder strength, measured on the day [Pa].
    elastic_modulus : float or array
        Secant modulus E_cm between 0 and 0.4 f_cm [Pa].
    peak_strain : float or array
        At the strength, as a positive number [1].
    crushing_strain : float or array
        Where the law ends, as a positive number [1].

    Returns
    -------
    stress : array of the broadcast shape
        Zero in tension, NaN beyond the crushing strain [Pa].

    Raises
    ------
    InputError
        If a property is impossible, or k isn't above 1 and so the peak no peak.

    Examples
    --------
    >>> (sargin_stress([-0.0022, -0.001], 38e6, 33e9, peak_strain=0.0022) / 1e6).round(2).tolist()
    [-38.0, -26.73]
    """
    shortening = _shortening(strain)
    with allowed.Together("concrete in compression") as given:
        strength = given.positive("mean_strength", mean_strength)
        modulus = given.positive("elastic_modulus", elastic_modulus)
        peak, last = _strains(given, peak_strain, crushing_strain)
    k = 1.05 * modulus * peak / strength
    if np.any(k <= 1.0):
        raise InputError("1.05 E ε_c1 / f_cm", float(np.min(k)), "above 1", "look at the modulus")
    eta = np.minimum(shortening, last) / peak
    stress = strength * np.clip((k * eta - eta**2) / (1.0 + (k - 2.0) * eta), 0.0, None)
    return _compression(stress, shortening, last)


def hognestad_stress(
    strain: ArrayLike,
    compressive_strength: ArrayLike,
    *,
    peak_strain: ArrayLike = 0.002,
    crushing_strain: ArrayLike = 0.0038,
    strength_left: ArrayLike = 0.85,
) -> FloatArray:
    """Stress by a parabola up to the strength and a straight fall to a share of it.

    Source: Hognestad, University of Illinois Bulletin 399 (1951): 0.85 left at 0.0038 (from
    memory). With nothing lost and another end it's the parabola with a plateau.

    Parameters
    ----------
    strain : array of any shape
        Mechanical strain of the concrete [1].
    compressive_strength : float or array
        In the member, f''_c; Hognestad took 0.85 of the cylinder's [Pa].
    peak_strain : float or array
        At the strength, as a positive number; Hognestad took 2 f''_c / E [1].
    crushing_strain : float or array
        Where the law ends, as a positive number [1].
    strength_left : float or array
        Share of the strength at the crushing strain [1].

    Returns
    -------
    stress : array of the broadcast shape
        Zero in tension, NaN beyond the crushing strain [Pa].

    Raises
    ------
    InputError
        If a property is impossible.

    Examples
    --------
    >>> (hognestad_stress([-0.001, -0.002, -0.0038], 30e6) / 1e6).round(6).tolist()
    [-22.5, -30.0, -25.5]
    """
    shortening = _shortening(strain)
    with allowed.Together("concrete in compression") as given:
        strength = given.positive("compressive_strength", compressive_strength)
        peak, last = _strains(given, peak_strain, crushing_strain)
        left = given.within("strength_left", strength_left, (0.0, 1.0))
    if np.any(last <= peak):
        raise InputError("crushing_strain", float(np.min(last)), "beyond the peak strain")
    eta = np.minimum(shortening / peak, 1.0)
    fall = (1.0 - left) * np.clip((shortening - peak) / (last - peak), 0.0, None)
    return _compression(strength * (2.0 * eta - eta**2 - fall), shortening, last)


def rectangular_block_stress(
    strain: ArrayLike,
    compressive_strength: ArrayLike,
    *,
    block_stress_ratio: ArrayLike,
    block_depth_ratio: ArrayLike,
    crushing_strain: ArrayLike,
) -> FloatArray:
    """Equivalent rectangular block as a law of strain: α f beyond (1 - γ) ε_cu, else nothing.

    True to the block only when the extreme fibre is at the crushing strain, where the block
    then reaches over γ of the depth of the neutral axis.

    Parameters
    ----------
    strain : array of any shape
        Mechanical strain of the concrete [1].
    compressive_strength : float or array
        Of the cylinder [Pa].
    block_stress_ratio : float or array
        Stress of the block over the strength, α [1].
    block_depth_ratio : float or array
        Depth of the block over that of the neutral axis, γ [1].
    crushing_strain : float or array
        Of the extreme fibre, as a positive number [1].

    Returns
    -------
    stress : array of the broadcast shape
        Zero or minus α f; NaN beyond the crushing strain [Pa].

    Raises
    ------
    InputError
        If a property is impossible.
    """
    shortening = _shortening(strain)
    with allowed.Together("stress block") as given:
        strength = given.positive("compressive_strength", compressive_strength)
        share = given.positive("block_stress_ratio", block_stress_ratio)
        depth = given.within("block_depth_ratio", block_depth_ratio, (0.0, 1.0))
        last = given.positive("crushing_strain", crushing_strain)
    inside = shortening >= (1.0 - depth) * last
    return _compression(np.where(inside, share * strength, 0.0), shortening, last)


def brittle_tension_stress(
    strain: ArrayLike, elastic_modulus: ArrayLike, concrete_tensile_strength: ArrayLike
) -> FloatArray:
    """Stress of concrete in tension: linear up to its strength, nothing after the crack.

    Right for the section through a crack, where a gauge reads its peak.

    Parameters
    ----------
    strain : array of any shape
        Mechanical strain of the concrete [1].
    elastic_modulus : float or array
        Of the concrete [Pa].
    concrete_tensile_strength : float or array
        Axial or flexural, as the comparison needs it [Pa].

    Returns
    -------
    stress : array of the broadcast shape
        Zero in compression [Pa].

    Raises
    ------
    InputError
        If the modulus isn't positive or the strength is negative.
    """
    with allowed.Together("concrete in tension") as given:
        modulus = given.positive("elastic_modulus", elastic_modulus)
        strength = given.not_negative("concrete_tensile_strength", concrete_tensile_strength)
    elongation = np.asarray(strain, dtype=np.float64)
    stress = modulus * np.maximum(elongation, 0.0)
    return _kept(np.where(stress <= strength, stress, 0.0), elongation)


def softening_tension_stress(
    strain: ArrayLike,
    elastic_modulus: ArrayLike,
    concrete_tensile_strength: ArrayLike,
    *,
    softening: ArrayLike = 500.0,
) -> FloatArray:
    """Mean stress of cracked concrete between its cracks: f_ct / (1 + √(c ε)) past the strength.

    Source: Collins & Mitchell, Prestressed Concrete Structures (1991), c = 500; Vecchio &
    Collins (1986) have c = 200 (both from memory). It averages over several cracks, and so may
    only be compared with averages.

    Parameters
    ----------
    strain : array of any shape
        Mean mechanical strain of the concrete [1].
    elastic_modulus : float or array
        Of the concrete [Pa].
    concrete_tensile_strength : float or array
        Axial [Pa].
    softening : float or array
        How fast the stress falls, c [1].

    Returns
    -------
    stress : array of the broadcast shape
        Zero in compression [Pa].

    Raises
    ------
    InputError
        If a property is impossible.
    """
    with allowed.Together("concrete in tension") as given:
        modulus = given.positive("elastic_modulus", elastic_modulus)
        strength = given.not_negative("concrete_tensile_strength", concrete_tensile_strength)
        fall = given.not_negative("softening", softening)
    elongation = np.asarray(strain, dtype=np.float64)
    stress = modulus * np.maximum(elongation, 0.0)
    after = strength / (1.0 + np.sqrt(fall * np.maximum(elongation, 0.0)))
    return _kept(np.where(stress <= strength, stress, after), elongation)


def _kept(stress: FloatArray, strain: FloatArray) -> FloatArray:
    """The stress, NaN where the strain was missing: a comparison with NaN would make it zero."""
    return np.where(np.isnan(strain), np.nan, stress)


def _shortening(strain: ArrayLike) -> FloatArray:
    return np.maximum(-np.asarray(strain, dtype=np.float64), 0.0)


def _strains(
    given: allowed.Together, peak_strain: ArrayLike, crushing_strain: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    peak = given.positive("peak_strain", peak_strain)
    last = given.positive("crushing_strain", crushing_strain)
    given.holds(
        "crushing_strain",
        np.min(last),
        "at the peak strain or beyond",
        if_=not np.any(last < peak),
        do="both positive",
    )
    return peak, last


def _compression(size: FloatArray, shortening: FloatArray, last: FloatArray) -> FloatArray:
    # Adding zero turns the minus zero of concrete in tension into zero.
    return np.where(shortening <= last * (1 + 1e-12), -size + 0.0, np.nan)
