"""Stress of reinforcing steel from its strain, and how much each property weighs in it."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "StressPartials",
    "bar_strain_beyond_yield",
    "beyond_curve",
    "bilinear_stress",
    "bilinear_stress_partials",
    "elastic_stress",
    "elastic_stress_partials",
    "flat_strain_beyond_yield",
    "hardening_modulus_en1992",
    "measured_stress",
]


@dataclass(frozen=True, slots=True)
class StressPartials:
    """Derivatives of stress, each broadcast to the strain it was asked at.

    Attributes
    ----------
    strain : array
        By strain: the tangent modulus [Pa].
    elastic_modulus : array
        By the modulus of elasticity [1].
    yield_strength : array
        By the yield strength [1].
    hardening_modulus : array
        By the slope after yield [1].
    """

    strain: FloatArray
    elastic_modulus: FloatArray
    yield_strength: FloatArray
    hardening_modulus: FloatArray


def elastic_stress(strain: ArrayLike, elastic_modulus: ArrayLike) -> FloatArray:
    """Stress by Hooke's law in a bar pulled along its axis: E ε.

    Parameters
    ----------
    strain : array of any shape
        Mechanical strain, free of thermal expansion [1].
    elastic_modulus : float or array
        Of the steel [Pa].

    Returns
    -------
    stress : array of the broadcast shape
        Tension positive [Pa].

    Raises
    ------
    InputError
        If the modulus isn't positive.
    """
    modulus = allowed.positive("elastic_modulus", elastic_modulus)
    return np.asarray(modulus * np.asarray(strain, dtype=np.float64))


def elastic_stress_partials(strain: ArrayLike, elastic_modulus: ArrayLike) -> StressPartials:
    """Derivatives of ``elastic_stress``.

    Parameters
    ----------
    strain : array of any shape
        Mechanical strain [1].
    elastic_modulus : float or array
        Of the steel [Pa].

    Returns
    -------
    StressPartials
        With zeros for the properties that play no part.

    Raises
    ------
    InputError
        If the modulus isn't positive.
    """
    modulus = allowed.positive("elastic_modulus", elastic_modulus)
    value, slope = np.broadcast_arrays(np.asarray(strain, dtype=np.float64), modulus)
    nothing = np.where(np.isnan(value), np.nan, 0.0)
    return StressPartials(np.where(np.isnan(value), np.nan, slope), value.copy(), nothing, nothing)


def bilinear_stress(
    strain: ArrayLike,
    elastic_modulus: ArrayLike,
    yield_strength: ArrayLike,
    hardening_modulus: ArrayLike = 0.0,
) -> FloatArray:
    """Stress on first loading, elastic up to yield and along a straight line after it.

    With a slope of zero the horizontal branch of EN 1992-1-1:2004, 3.2.7(2)b; with the slope of
    ``hardening_modulus_en1992`` its inclined branch (a). The same in compression. No strain limit
    is applied, and unloading follows another line: see ``steel_history``.

    Parameters
    ----------
    strain : array of any shape
        Mechanical strain [1].
    elastic_modulus : float or array
        Of the steel [Pa].
    yield_strength : float or array
        Measured, or the design value where a design is checked [Pa].
    hardening_modulus : float or array
        Slope after yield, from zero to below the modulus of elasticity [Pa].

    Returns
    -------
    stress : array of the broadcast shape
        Tension positive [Pa].

    Raises
    ------
    InputError
        If a property is impossible.

    Examples
    --------
    >>> (bilinear_stress([0.001, 0.01, -0.01], 200e9, 500e6) / 1e6).round(6).tolist()
    [200.0, 500.0, -500.0]
    """
    value, modulus, strength, slope = _bilinear(
        strain, elastic_modulus, yield_strength, hardening_modulus
    )
    beyond = np.abs(value) - strength / modulus
    after = np.copysign(strength + slope * beyond, value)
    return np.where(beyond > 0, after, modulus * value)


def bilinear_stress_partials(
    strain: ArrayLike,
    elastic_modulus: ArrayLike,
    yield_strength: ArrayLike,
    hardening_modulus: ArrayLike = 0.0,
) -> StressPartials:
    """Derivatives of ``bilinear_stress``; right at yield those of the elastic side.

    Across the kink they jump, so where strain is uncertain by as much as its distance from yield
    a linear propagation errs and sampling must decide.

    Parameters
    ----------
    strain : array of any shape
        Mechanical strain [1].
    elastic_modulus : float or array
        Of the steel [Pa].
    yield_strength : float or array
        Of the steel [Pa].
    hardening_modulus : float or array
        Slope after yield [Pa].

    Returns
    -------
    StressPartials
        Of the broadcast shape.

    Raises
    ------
    InputError
        If a property is impossible.
    """
    value, modulus, strength, slope = _bilinear(
        strain, elastic_modulus, yield_strength, hardening_modulus
    )
    beyond = np.abs(value) - strength / modulus
    plastic, sign = beyond > 0, np.sign(value)
    missing = np.where(np.isnan(value), np.nan, 0.0)
    return StressPartials(
        strain=np.where(plastic, slope, modulus) + missing,
        elastic_modulus=np.where(plastic, sign * slope * strength / modulus**2, value),
        yield_strength=np.where(plastic, sign * (1 - slope / modulus), 0.0) + missing,
        hardening_modulus=np.where(plastic, sign * beyond, 0.0) + missing,
    )


def hardening_modulus_en1992(
    elastic_modulus: ArrayLike,
    yield_strength: ArrayLike,
    strength_ratio: ArrayLike,
    ultimate_strain: ArrayLike,
) -> FloatArray:
    """Slope of the inclined branch: (k - 1) f_y / (ε_uk - f_y / E).

    Source: EN 1992-1-1:2004, 3.2.7(2)a and figure 3.8 (from memory). The strain limit of the
    design, ε_ud, is the reader's to observe.

    Parameters
    ----------
    elastic_modulus : float or array
        Of the steel [Pa].
    yield_strength : float or array
        Characteristic, or divided by its partial factor [Pa].
    strength_ratio : float or array
        Tensile over yield strength, k: 1.05, 1.08 and 1.15 at least for classes A, B, C [1].
    ultimate_strain : float or array
        At maximum force, ε_uk [1].

    Returns
    -------
    hardening_modulus : array of the broadcast shape
        After yield [Pa].

    Raises
    ------
    InputError
        If the strength ratio is below 1 or the strain isn't beyond yield.
    """
    with allowed.Together("steel") as given:
        modulus = given.positive("elastic_modulus", elastic_modulus)
        strength = given.positive("yield_strength", yield_strength)
        rise = given.not_negative("strength_ratio - 1", np.asarray(strength_ratio) - 1.0)
        last = given.positive("ultimate_strain", ultimate_strain)
    span = allowed.positive("ultimate_strain less yield strain", last - strength / modulus)
    return np.asarray(rise * strength / span)


def measured_stress(
    strain: ArrayLike, curve_strain: ArrayLike, curve_stress: ArrayLike
) -> FloatArray:
    """Stress on first loading from a coupon's curve, by straight lines between its points.

    Parameters
    ----------
    strain : array of any shape
        Mechanical strain of the bar; in compression the same curve with its sign turned [1].
    curve_strain : array, shape (n_points,)
        Of the coupon, rising [1].
    curve_stress : array, shape (n_points,)
        Of the coupon [Pa].

    Returns
    -------
    stress : array shaped like ``strain``
        NaN beyond the last point, which ``beyond_curve`` marks [Pa].

    Raises
    ------
    InputError
        If the points aren't at least two, finite and rising in strain from zero.
    """
    value = np.asarray(strain, dtype=np.float64)
    points = np.asarray(curve_strain, dtype=np.float64)
    heights = np.asarray(curve_stress, dtype=np.float64)
    if points.ndim != 1 or points.size < 2 or points.shape != heights.shape:
        raise InputError(
            "curve_strain", f"of shape {points.shape}", "as many as stresses, two at least"
        )
    if points[0] != 0 or not np.all(np.diff(points) > 0):
        raise InputError("curve_strain", "not rising from zero", "zero first and then rising")
    if not np.all(np.isfinite(points) & np.isfinite(heights)):
        raise InputError(
            "curve_stress", "with gaps", "finite at every point", "leave such points out"
        )
    size = np.interp(np.abs(value), points, heights)
    return np.where(beyond_curve(value, points), np.nan, np.copysign(size, value))


def beyond_curve(strain: ArrayLike, curve_strain: ArrayLike) -> npt.NDArray[np.bool_]:
    """Where a strain lies beyond the last point of the coupon's curve.

    Parameters
    ----------
    strain : array of any shape
        Mechanical strain of the bar [1].
    curve_strain : array, shape (n_points,)
        Of the coupon [1].

    Returns
    -------
    array of bool, shaped like ``strain``
        True where the curve would have to be guessed on; missing samples aren't.
    """
    last = np.max(np.asarray(curve_strain, dtype=np.float64))
    return np.asarray(np.abs(np.asarray(strain, dtype=np.float64)) > last)


def bar_strain_beyond_yield(
    strain: ArrayLike,
    net_area: ArrayLike,
    area: ArrayLike,
    *,
    elastic_modulus: ArrayLike,
    yield_strength: ArrayLike,
    hardening_modulus: ArrayLike = 0.0,
) -> FloatArray:
    """Strain of the full bar that carries the force of the yielding flat: σ(ε) A = σ(ε_flat) A_net.

    On first loading of a bar kept straight. The flat yields first: while it runs along a plateau
    the full bar stays elastic, so ``strain`` may read several per cent beside a bar at 0.2 %.

    Parameters
    ----------
    strain : array of any shape
        Mechanical strain at the flat [1].
    net_area : float or array
        Left at the flat [m^2].
    area : float or array
        Of the bar [m^2].
    elastic_modulus : float or array
        Of the steel [Pa].
    yield_strength : float or array
        Of the steel [Pa].
    hardening_modulus : float or array
        Slope after yield [Pa].

    Returns
    -------
    strain : array of the broadcast shape
        Mechanical strain of the full bar [1].

    Raises
    ------
    InputError
        If an area or a property is impossible.
    """
    share = _share(net_area, area, (elastic_modulus, yield_strength, hardening_modulus))
    stress = bilinear_stress(strain, elastic_modulus, yield_strength, hardening_modulus) * share
    return _bilinear_strain(stress, elastic_modulus, yield_strength, hardening_modulus)


def flat_strain_beyond_yield(
    strain: ArrayLike,
    net_area: ArrayLike,
    area: ArrayLike,
    *,
    elastic_modulus: ArrayLike,
    yield_strength: ArrayLike,
    hardening_modulus: ArrayLike = 0.0,
) -> FloatArray:
    """Strain at the flat when the full bar is strained: σ(ε_flat) A_net = σ(ε) A.

    Parameters
    ----------
    strain : array of any shape
        Mechanical strain of the full bar [1].
    net_area : float or array
        Left at the flat [m^2].
    area : float or array
        Of the bar [m^2].
    elastic_modulus : float or array
        Of the steel [Pa].
    yield_strength : float or array
        Of the steel [Pa].
    hardening_modulus : float or array
        Slope after yield [Pa].

    Returns
    -------
    strain : array of the broadcast shape
        At the flat; NaN on a plateau, where no single strain carries the force [1].

    Raises
    ------
    InputError
        If an area or a property is impossible.
    """
    share = _share(net_area, area, (elastic_modulus, yield_strength, hardening_modulus))
    stress = bilinear_stress(strain, elastic_modulus, yield_strength, hardening_modulus) / share
    return _bilinear_strain(stress, elastic_modulus, yield_strength, hardening_modulus)


def _share(
    net_area: ArrayLike, area: ArrayLike, steel: tuple[ArrayLike, ArrayLike, ArrayLike]
) -> FloatArray:
    """Area left over area, refused together with what is wrong with the steel."""
    elastic_modulus, yield_strength, hardening_modulus = steel
    with allowed.Together("bar with a flat") as given:
        left, whole = given.positive("net_area", net_area), given.positive("area", area)
        given.positive("elastic_modulus", elastic_modulus)
        given.positive("yield_strength", yield_strength)
        given.not_negative("hardening_modulus", hardening_modulus)
    return allowed.within("net_area over area", left / whole, (0.0, 1.0))


def _bilinear_strain(
    stress: ArrayLike,
    elastic_modulus: ArrayLike,
    yield_strength: ArrayLike,
    hardening_modulus: ArrayLike,
) -> FloatArray:
    """Inverse of ``bilinear_stress``; NaN above yield when the branch is horizontal."""
    value, modulus, strength, slope = _bilinear(
        stress, elastic_modulus, yield_strength, hardening_modulus
    )
    above = np.abs(value) - strength
    plastic = np.where(slope > 0, above / np.where(slope > 0, slope, 1.0), np.nan)
    after = np.copysign(strength / modulus + plastic, value)
    # One unit in the last place above yield is rounding of a bar exactly at yield, not a plateau.
    return np.where(above > 1e-12 * strength, after, value / modulus)


def _bilinear(
    value: ArrayLike,
    elastic_modulus: ArrayLike,
    yield_strength: ArrayLike,
    hardening_modulus: ArrayLike,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    with allowed.Together("steel") as given:
        modulus = given.positive("elastic_modulus", elastic_modulus)
        strength = given.positive("yield_strength", yield_strength)
        slope = given.not_negative("hardening_modulus", hardening_modulus)
    if np.any(slope >= modulus):
        raise InputError("hardening_modulus", np.max(slope), "below the modulus of elasticity")
    arrays = np.broadcast_arrays(np.asarray(value, dtype=np.float64), modulus, strength, slope)
    return arrays[0], arrays[1], arrays[2], arrays[3]
