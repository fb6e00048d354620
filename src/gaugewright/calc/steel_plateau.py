"""Hot-rolled steel on first loading after Mander: elastic, plateau, a power curve of hardening."""

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.quantities import FloatArray

__all__ = ["mander_exponent", "mander_stress"]


def mander_stress(
    strain: ArrayLike,
    elastic_modulus: float,
    yield_strength: float,
    tensile_strength: float,
    *,
    hardening_strain: float,
    hardening_onset_modulus: float,
    ultimate_strain: float,
) -> FloatArray:
    """Stress with a plateau and f_u - (f_u - f_y) ((ε_u - ε) / (ε_u - ε_sh))^p beyond it.

    p is ``mander_exponent``, by which the curve leaves the plateau with the slope E_sh and comes to
    the tensile strength with a level tangent. Source: Mander, Priestley & Park, Seismic Design of
    Bridge Piers, University of Canterbury report 84-2 (1984), chapter 3 (from memory). Odd in
    strain; first loading only.

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
    hardening_onset_modulus : float
        Slope where the plateau ends [Pa].
    ultimate_strain : float
        At maximum force [1].

    Returns
    -------
    stress : array shaped like ``strain``
        Tension positive; NaN beyond ``ultimate_strain`` [Pa].

    Raises
    ------
    InputError
        If a strength, a strain or a slope isn't in its order.
    Faults
        If several aren't.

    Examples
    --------
    >>> steel = {"hardening_strain": 0.01, "hardening_onset_modulus": 6e9, "ultimate_strain": 0.1}
    >>> found = mander_stress([0.001, 0.005, 0.03, 0.1], 200e9, 500e6, 620e6, **steel)
    >>> (found / 1e6).round(1).tolist()
    [200.0, 500.0, 581.3, 620.0]
    """
    with allowed.Together("steel with a plateau") as given:
        modulus = given.positive("elastic_modulus", elastic_modulus)
        power = _exponent(
            given,
            (yield_strength, tensile_strength),
            (hardening_strain, ultimate_strain),
            hardening_onset_modulus,
        )
        early = bool(np.any(hardening_strain * modulus < yield_strength))
        given.holds(
            "hardening_strain", hardening_strain, "at least the yield strain", if_=not early
        )
    value = np.asarray(strain, dtype=np.float64)
    size = np.abs(value)
    left = np.clip((ultimate_strain - size) / (ultimate_strain - hardening_strain), 0.0, 1.0)
    hardened = tensile_strength - (tensile_strength - yield_strength) * left**power
    stress = np.where(size > hardening_strain, hardened, np.minimum(modulus * size, yield_strength))
    return np.copysign(np.where(size > ultimate_strain, np.nan, stress), value)


def mander_exponent(
    yield_strength: float,
    tensile_strength: float,
    *,
    hardening_strain: float,
    hardening_onset_modulus: float,
    ultimate_strain: float,
) -> FloatArray:
    """Exponent of the curve of hardening: E_sh (ε_u - ε_sh) / (f_u - f_y).

    Parameters
    ----------
    yield_strength : float
        Height of the plateau [Pa].
    tensile_strength : float
        At maximum force [Pa].
    hardening_strain : float
        End of the plateau [1].
    hardening_onset_modulus : float
        Slope where the plateau ends [Pa].
    ultimate_strain : float
        At maximum force [1].

    Returns
    -------
    exponent : array
        1 for a straight line; below it the slope would grow without bound at the end [1].

    Raises
    ------
    InputError
        If strengths or strains aren't in their order, or the slope is less than that of the
        straight line from the end of the plateau to maximum force.
    Faults
        If several of these are so.

    Examples
    --------
    >>> steel = {"hardening_strain": 0.01, "hardening_onset_modulus": 6e9, "ultimate_strain": 0.1}
    >>> mander_exponent(500e6, 620e6, **steel).round(3).item()
    4.5
    """
    with allowed.Together("steel with a plateau") as given:
        power = _exponent(
            given,
            (yield_strength, tensile_strength),
            (hardening_strain, ultimate_strain),
            hardening_onset_modulus,
        )
    return power


def _exponent(
    given: allowed.Together,
    strengths: tuple[float, float],
    strains: tuple[float, float],
    onset_modulus: float,
) -> FloatArray:
    """Exponent of the curve from the end of the plateau to maximum force, or its faults."""
    low = given.positive("yield_strength", strengths[0])
    high = given.positive("tensile_strength", strengths[1])
    begins = given.positive("hardening_strain", strains[0])
    ends = given.positive("ultimate_strain", strains[1])
    slope = given.positive("hardening_onset_modulus", onset_modulus)
    # Written so that a refused setting, NaN here, isn't told twice.
    weak, past = bool(np.any(high <= low)), bool(np.any(ends <= begins))
    given.holds("tensile_strength", strengths[1], "above the yield strength", if_=not weak)
    given.holds("ultimate_strain", strains[1], "beyond the hardening strain", if_=not past)
    if weak or past:
        return np.full((), np.nan)
    line = (high - low) / (ends - begins)
    given.holds(
        "hardening_onset_modulus",
        onset_modulus,
        f"{line:.4g} at least, the straight line to maximum force",
        if_=not np.any(slope * (ends - begins) < high - low),
    )
    return np.asarray(slope * (ends - begins) / (high - low))
