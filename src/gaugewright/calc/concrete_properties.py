"""What strength alone tells of concrete: modulus, tensile strength, strains, crack spacing.

All are rules for a mean of many mixes and miss a single one by 10 to 30 %: a measured value
replaces them wherever there is one.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.quantities import FloatArray

__all__ = [
    "CompressionStrains",
    "crack_spacing_en1992",
    "effective_tension_height_en1992",
    "flexural_strength_aci318",
    "flexural_strength_en1992",
    "flexural_strength_is456",
    "mean_strain_difference_en1992",
    "mean_strength_en1992",
    "modulus_aci318",
    "modulus_en1992",
    "parabola_rectangle_en1992",
    "sargin_en1992",
    "tensile_strength_en1992",
]

_MPA = 1e6
_HIGH_STRENGTH = 50.0


@dataclass(frozen=True, slots=True)
class CompressionStrains:
    """Strains and exponent that a law of compression needs, as positive numbers.

    Attributes
    ----------
    peak_strain : array
        Where the strength is reached [1].
    crushing_strain : array
        Where the law ends [1].
    exponent : array
        Of the parabola; NaN for a law without one [1].
    """

    peak_strain: FloatArray
    crushing_strain: FloatArray
    exponent: FloatArray


def mean_strength_en1992(characteristic_strength: ArrayLike) -> FloatArray:
    """Mean cylinder strength: f_ck + 8 MPa (EN 1992-1-1:2004, table 3.1; from memory).

    Parameters
    ----------
    characteristic_strength : float or array
        f_ck [Pa].

    Returns
    -------
    mean_strength : array
        f_cm [Pa].

    Raises
    ------
    InputError
        If the strength isn't positive.
    """
    strength = allowed.positive("characteristic_strength", characteristic_strength)
    return np.asarray(strength + 8.0 * _MPA)


def modulus_en1992(mean_strength: ArrayLike) -> FloatArray:
    """Secant modulus: 22 GPa (f_cm / 10 MPa)^0.3 (EN 1992-1-1:2004, table 3.1; from memory).

    For quartzite aggregate; the standard takes 10 % off for limestone, 30 % off for sandstone
    and adds 20 % for basalt.

    Parameters
    ----------
    mean_strength : float or array
        f_cm at the age in question [Pa].

    Returns
    -------
    elastic_modulus : array
        Of the concrete [Pa].

    Raises
    ------
    InputError
        If the strength isn't positive.

    Examples
    --------
    >>> (modulus_en1992(38e6) / 1e9).round(1).item()
    32.8
    """
    strength = allowed.positive("mean_strength", mean_strength)
    return np.asarray(22e9 * (strength / (10.0 * _MPA)) ** 0.3)


def modulus_aci318(compressive_strength: ArrayLike) -> FloatArray:
    """Modulus of normal-weight concrete: 4700 √f'_c in MPa (ACI 318M; from memory).

    Parameters
    ----------
    compressive_strength : float or array
        f'_c [Pa].

    Returns
    -------
    elastic_modulus : array
        Of the concrete [Pa].

    Raises
    ------
    InputError
        If the strength isn't positive.
    """
    return _root_of_strength(4700.0, "compressive_strength", compressive_strength)


def tensile_strength_en1992(characteristic_strength: ArrayLike) -> FloatArray:
    """Mean axial tensile strength: 0.30 f_ck^(2/3), above C50/60 2.12 ln(1 + f_cm / 10 MPa).

    Source: EN 1992-1-1:2004, table 3.1 (from memory). The 5 % fractile is 0.7 of it, the 95 %
    fractile 1.3.

    Parameters
    ----------
    characteristic_strength : float or array
        f_ck [Pa].

    Returns
    -------
    concrete_tensile_strength : array
        f_ctm [Pa].

    Raises
    ------
    InputError
        If the strength isn't positive.

    Examples
    --------
    >>> (tensile_strength_en1992([25e6, 60e6]) / 1e6).round(2).tolist()
    [2.56, 4.35]
    """
    strength = allowed.positive("characteristic_strength", characteristic_strength) / _MPA
    high = 2.12 * np.log1p((strength + 8.0) / 10.0)
    return np.where(strength <= _HIGH_STRENGTH, 0.30 * strength ** (2.0 / 3.0), high) * _MPA


def flexural_strength_en1992(concrete_tensile_strength: ArrayLike, height: ArrayLike) -> FloatArray:
    """Flexural tensile strength: the axial one times 1.6 - h / 1 m, once at least.

    Source: EN 1992-1-1:2004, equation 3.23 (from memory).

    Parameters
    ----------
    concrete_tensile_strength : float or array
        Axial [Pa].
    height : float or array
        Of the member [m].

    Returns
    -------
    concrete_tensile_strength : array
        Flexural [Pa].

    Raises
    ------
    InputError
        If a number isn't positive.
    """
    with allowed.Together("flexural strength") as given:
        axial = given.positive("concrete_tensile_strength", concrete_tensile_strength)
        deep = given.positive("height", height)
    return np.asarray(np.maximum(1.6 - deep, 1.0) * axial)


def flexural_strength_aci318(compressive_strength: ArrayLike) -> FloatArray:
    """Modulus of rupture of normal-weight concrete: 0.62 √f'_c in MPa (ACI 318M; from memory).

    Parameters
    ----------
    compressive_strength : float or array
        f'_c [Pa].

    Returns
    -------
    concrete_tensile_strength : array
        Flexural [Pa].

    Raises
    ------
    InputError
        If the strength isn't positive.
    """
    return _root_of_strength(0.62, "compressive_strength", compressive_strength)


def flexural_strength_is456(characteristic_strength: ArrayLike) -> FloatArray:
    """Flexural tensile strength: 0.7 √f_ck in MPa, f_ck of cubes (IS 456, 6.2.2; from memory).

    Parameters
    ----------
    characteristic_strength : float or array
        f_ck of cubes [Pa].

    Returns
    -------
    concrete_tensile_strength : array
        Flexural [Pa].

    Raises
    ------
    InputError
        If the strength isn't positive.
    """
    return _root_of_strength(0.7, "characteristic_strength", characteristic_strength)


def parabola_rectangle_en1992(characteristic_strength: ArrayLike) -> CompressionStrains:
    """Strains and exponent of the parabola-rectangle diagram.

    Source: EN 1992-1-1:2004, table 3.1, ε_c2, ε_cu2 and n (from memory).

    Parameters
    ----------
    characteristic_strength : float or array
        f_ck, up to 90 MPa [Pa].

    Returns
    -------
    CompressionStrains
        0.0020, 0.0035 and 2 up to 50 MPa.

    Raises
    ------
    InputError
        If the strength isn't positive or above the table's end.
    """
    span = (_MPA, 90.0 * _MPA)
    strength = allowed.within("characteristic_strength", characteristic_strength, span) / _MPA
    high = strength > _HIGH_STRENGTH
    above = np.clip(strength - _HIGH_STRENGTH, 0.0, None)
    left = ((90.0 - strength) / 100.0) ** 4
    return CompressionStrains(
        np.where(high, 2.0 + 0.085 * above**0.53, 2.0) / 1000.0,
        np.where(high, 2.6 + 35.0 * left, 3.5) / 1000.0,
        np.where(high, 1.4 + 23.4 * left, 2.0),
    )


def sargin_en1992(mean_strength: ArrayLike) -> CompressionStrains:
    """Strains of the law for nonlinear analysis: ε_c1 = 0.7 f_cm^0.31 ‰, 2.8 ‰ at most.

    Source: EN 1992-1-1:2004, table 3.1, ε_c1 and ε_cu1 (from memory).

    Parameters
    ----------
    mean_strength : float or array
        f_cm, up to 98 MPa [Pa].

    Returns
    -------
    CompressionStrains
        Without exponent.

    Raises
    ------
    InputError
        If the strength isn't positive or above the table's end.
    """
    strength = allowed.within("mean_strength", mean_strength, (_MPA, 98.0 * _MPA)) / _MPA
    high = strength - 8.0 > _HIGH_STRENGTH
    last = np.where(high, 2.8 + 27.0 * ((98.0 - strength) / 100.0) ** 4, 3.5)
    peak = np.minimum(0.7 * strength**0.31, 2.8)
    return CompressionStrains(peak / 1000.0, last / 1000.0, np.full(strength.shape, np.nan))


def effective_tension_height_en1992(
    height: ArrayLike, depth: ArrayLike, neutral_axis_depth: ArrayLike
) -> FloatArray:
    """Height of the concrete round the bars that takes part: least of 2.5 (h - d), (h - x)/3, h/2.

    Source: EN 1992-1-1:2004, 7.3.2(3) (from memory).

    Parameters
    ----------
    height : float or array
        Of the section [m].
    depth : float or array
        Of the tension bars below the compressed face [m].
    neutral_axis_depth : float or array
        Below the compressed face [m].

    Returns
    -------
    height : array
        Effective height h_c,ef [m].

    Raises
    ------
    InputError
        If a length isn't positive.
    """
    with allowed.Together("effective tension height") as given:
        whole = given.positive("height", height)
        to_bars = given.positive("depth", depth)
        axis = given.positive("neutral_axis_depth", neutral_axis_depth)
    return np.asarray(
        np.minimum(np.minimum(2.5 * (whole - to_bars), (whole - axis) / 3.0), whole / 2.0)
    )


def crack_spacing_en1992(
    cover: ArrayLike, diameter: ArrayLike, effective_ratio: ArrayLike
) -> FloatArray:
    """Largest spacing of cracks in bending with ribbed bars: 3.4 c + 0.425 · 0.8 · 0.5 φ/ρ_eff.

    Source: EN 1992-1-1:2004, equation 7.11 with its recommended factors (from memory). The mean
    spacing is about 1/1.7 of it. Under pure tension the second term is twice as large.

    Parameters
    ----------
    cover : float or array
        Of the bars [m].
    diameter : float or array
        Of the bars [m].
    effective_ratio : float or array
        Steel over effective area of concrete in tension [1].

    Returns
    -------
    length : array
        s_r,max [m].

    Raises
    ------
    InputError
        If a number isn't positive.
    """
    with allowed.Together("crack spacing") as given:
        ratio = given.positive("effective_ratio", effective_ratio)
        thick = given.positive("diameter", diameter)
        covered = given.not_negative("cover", cover)
    return np.asarray(3.4 * covered + 0.425 * 0.8 * 0.5 * thick / ratio)


def mean_strain_difference_en1992(
    stress: ArrayLike,
    concrete_tensile_strength: ArrayLike,
    effective_ratio: ArrayLike,
    *,
    elastic_modulus: ArrayLike,
    modular_ratio: ArrayLike,
    stiffening_factor: ArrayLike = 0.4,
) -> FloatArray:
    """Mean strain of the steel less that of the concrete between cracks, ε_sm - ε_cm.

    [σ_s - k_t f_ct/ρ (1 + α_e ρ)]/E_s, 0.6 σ_s/E_s at least. Source: EN 1992-1-1:2004,
    equation 7.9 (from memory). It counts from a state without stress: strains measured from a
    zero after shrinkage need the initial strain added first.

    Parameters
    ----------
    stress : float or array
        Of the steel in the crack [Pa].
    concrete_tensile_strength : float or array
        Mean, when the cracks form [Pa].
    effective_ratio : float or array
        Steel over effective area of concrete in tension [1].
    elastic_modulus : float or array
        Of the steel [Pa].
    modular_ratio : float or array
        E_s over E_cm [1].
    stiffening_factor : float or array
        k_t: 0.6 for short loading, 0.4 for long [1].

    Returns
    -------
    strain : array of the broadcast shape
        ε_sm - ε_cm [1].

    Raises
    ------
    InputError
        If a number is impossible.
    """
    bar_stress = np.asarray(stress, dtype=np.float64)
    with allowed.Together("mean strain difference") as given:
        tension = given.positive("concrete_tensile_strength", concrete_tensile_strength)
        ratio = given.positive("effective_ratio", effective_ratio)
        modulus = given.positive("elastic_modulus", elastic_modulus)
        alpha = given.positive("modular_ratio", modular_ratio)
        factor = given.within("stiffening_factor", stiffening_factor, (0.0, 1.0))
    taken_off = factor * tension / ratio * (1.0 + alpha * ratio)
    return np.asarray(np.maximum(bar_stress - taken_off, 0.6 * bar_stress) / modulus)


def _root_of_strength(factor: float, name: str, strength: ArrayLike) -> FloatArray:
    in_mpa = allowed.positive(name, strength) / _MPA
    return np.asarray(factor * np.sqrt(in_mpa) * _MPA)
