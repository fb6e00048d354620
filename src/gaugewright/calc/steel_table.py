"""Stress from a laboratory's own coupon curve: a table, a monotone curve through it, its end."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike
from scipy.interpolate import PchipInterpolator

from gaugewright.calc import allowed
from gaugewright.calc.large_strain import engineering_strain, logarithmic_strain
from gaugewright.quantities import FloatArray

__all__ = [
    "CurveStress",
    "coupon_curve_stress",
    "engineering_curve",
    "engineering_stress_of_true",
    "true_curve",
    "true_stress",
]


@dataclass(frozen=True, slots=True)
class CurveStress:
    """Stress from a table, and where the table says nothing.

    Attributes
    ----------
    stress : array
        NaN where ``extrapolated`` [Pa].
    slope : array
        Of the curve there [Pa].
    extrapolated : array of bool
        True where the strain lies beyond the last point that may be used.
    """

    stress: FloatArray
    slope: FloatArray
    extrapolated: npt.NDArray[np.bool_]


def coupon_curve_stress(
    strain: ArrayLike,
    curve_strain: ArrayLike,
    curve_stress: ArrayLike,
    *,
    uniform_elongation: float | None = None,
) -> CurveStress:
    """Stress on first loading along a monotone curve through a coupon's points.

    The first piece is straight, since it is the elastic line; a cubic bent by what comes after it
    would read a sharp knee's elastic stress 17 % high. Beyond it cubic pieces that rise where the
    points rise and overshoot nowhere: Fritsch & Carlson, SIAM J. Numer. Anal. 17 (1980), 238 (from
    memory), slopes at the points by Fritsch & Butland as the general library computes them. Between
    points of a smooth curve the error falls with the square of their distance at least; an upper
    yield point is followed as the table has it. Odd in strain. Past maximum force a neck forms and
    strain over a gauge length is nowhere the metal's own, so the curve ends at
    ``uniform_elongation`` even where the table goes on.

    Parameters
    ----------
    strain : array of any shape
        Mechanical strain of the bar [1].
    curve_strain : array, shape (n_points,)
        Of the coupon, from zero, rising [1].
    curve_stress : array, shape (n_points,)
        Of the coupon, in the same sense, engineering or true, as the strain [Pa].
    uniform_elongation : float, optional
        Strain at maximum force; the last point where it is left out [1].

    Returns
    -------
    CurveStress
        With a mark where the table would have to be guessed on.

    Raises
    ------
    InputError
        If the table isn't one from zero, rising in strain and finite.
    Faults
        If several things are wrong with it.

    Examples
    --------
    >>> table = ([0.0, 0.0025, 0.01, 0.05], [0.0, 500e6, 520e6, 600e6])
    >>> found = coupon_curve_stress([0.001, 0.02, 0.06], *table)
    >>> (found.stress / 1e6).round(1).tolist(), found.extrapolated.tolist()
    ([200.0, 543.1, nan], [False, False, True])
    """
    points, heights = _table(curve_strain, curve_stress, uniform_elongation)
    last = float(points[-1])
    if uniform_elongation is not None:
        last = min(last, float(uniform_elongation))
    value = np.asarray(strain, dtype=np.float64)
    size = np.abs(value)
    beyond = size > last
    inside = np.where(beyond, np.nan, size)
    first = heights[1] / points[1]
    height, slope = first * inside, np.where(np.isnan(inside), np.nan, first)
    if points.size > 2:
        curve = PchipInterpolator(points[1:], heights[1:], extrapolate=False)
        bent = inside > points[1]
        height = np.where(bent, curve(inside), height)
        slope = np.where(bent, curve.derivative()(inside), slope)
    return CurveStress(np.copysign(height, value), slope, np.asarray(beyond))


def true_stress(stress: ArrayLike, strain: ArrayLike) -> FloatArray:
    """Force over the present area from force over the first one: σ (1 + ε).

    Holds while volume is kept and strain is even along the coupon, which is from about yield to
    uniform elongation; in the elastic range it is off by 2 ν ε - ε, below 0.1 %. Any text on
    plasticity.

    Parameters
    ----------
    stress : array of any shape
        Force over the first area [Pa].
    strain : array of any shape
        Engineering, at the same points [1].

    Returns
    -------
    stress : array of the broadcast shape
        Force over the present area [Pa].

    Examples
    --------
    >>> (true_stress(600e6, 0.1) / 1e6).round(1).item()
    660.0
    """
    return np.asarray(
        np.asarray(stress, dtype=np.float64) * (1 + np.asarray(strain, dtype=np.float64))
    )


def engineering_stress_of_true(stress: ArrayLike, strain: ArrayLike) -> FloatArray:
    """Force over the first area from force over the present one: σ_true exp(-ε_log).

    Parameters
    ----------
    stress : array of any shape
        Force over the present area [Pa].
    strain : array of any shape
        Logarithmic, at the same points [1].

    Returns
    -------
    stress : array of the broadcast shape
        Force over the first area [Pa].
    """
    return np.asarray(
        np.asarray(stress, dtype=np.float64) * np.exp(-np.asarray(strain, dtype=np.float64))
    )


def true_curve(
    curve_strain: ArrayLike, curve_stress: ArrayLike, *, uniform_elongation: float
) -> tuple[FloatArray, FloatArray]:
    """Logarithmic strain and true stress of a coupon's engineering curve, up to maximum force.

    Parameters
    ----------
    curve_strain : array, shape (n_points,)
        Engineering, from zero, rising [1].
    curve_stress : array, shape (n_points,)
        Force over the first area [Pa].
    uniform_elongation : float
        Engineering strain at maximum force; points beyond it are left out [1].

    Returns
    -------
    curve_strain : array, shape (n_kept,)
        Logarithmic [1].
    curve_stress : array, shape (n_kept,)
        Force over the present area [Pa].

    Raises
    ------
    InputError
        If the table can't be used or no two points lie below ``uniform_elongation``.
    """
    points, heights = _table(curve_strain, curve_stress, uniform_elongation)
    last = float(uniform_elongation)
    kept = points <= last
    with allowed.Together("coupon curve") as given:
        given.holds(
            "curve_strain",
            f"with {int(kept.sum())} points up to {last:.4g}",
            "two points or more up to uniform elongation",
            if_=int(kept.sum()) >= 2,
        )
    return logarithmic_strain(points[kept]), true_stress(heights[kept], points[kept])


def engineering_curve(
    curve_strain: ArrayLike, curve_stress: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Engineering strain and stress of a curve that was written down in true values.

    A gauge's strain is engineering strain, and force is taken on the first area: that is what a
    true curve must be turned into before it meets them. At 10 % the two stresses differ by 10 %.

    Parameters
    ----------
    curve_strain : array, shape (n_points,)
        Logarithmic, from zero, rising [1].
    curve_stress : array, shape (n_points,)
        Force over the present area [Pa].

    Returns
    -------
    curve_strain : array, shape (n_points,)
        Engineering [1].
    curve_stress : array, shape (n_points,)
        Force over the first area [Pa].

    Raises
    ------
    InputError
        If the table can't be used.
    """
    points, heights = _table(curve_strain, curve_stress)
    return engineering_strain(points), engineering_stress_of_true(heights, points)


def _table(
    curve_strain: ArrayLike, curve_stress: ArrayLike, uniform_elongation: float | None = None
) -> tuple[FloatArray, FloatArray]:
    points = np.asarray(curve_strain, dtype=np.float64)
    heights = np.asarray(curve_stress, dtype=np.float64)
    paired = points.ndim == 1 and points.size >= 2 and points.shape == heights.shape
    with allowed.Together("coupon curve") as given:
        given.holds(
            "curve_strain",
            f"of shape {points.shape} beside {heights.shape} stresses",
            "one row, as many as stresses, two at least",
            if_=paired,
        )
        rises = bool(points.size and points.flat[0] == 0 and np.all(np.diff(points.ravel()) > 0))
        given.holds("curve_strain", "not rising from zero", "zero first and then rising", if_=rises)
        given.holds(
            "curve_stress",
            "with gaps",
            "finite at every point",
            if_=bool(np.all(np.isfinite(heights))),
            do="leave such points out",
        )
        if uniform_elongation is not None:
            given.positive("uniform_elongation", uniform_elongation)
        begins = bool(heights.size and heights.flat[0] == 0)
        given.holds("curve_stress", "not zero at no strain", "zero first", if_=begins)
    return points, heights
