"""The cyclic law that comes nearest to a coupon strained to and fro, and how near it comes."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import least_squares

from gaugewright.calc import allowed
from gaugewright.calc.steel_cyclic import CyclicSteel, cyclic_stress, cyclic_stress_fast
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["CyclicFit", "fitted_cyclic_steel"]

# Where each property is looked for; a yield strength as a share of the greatest stress.
_BOUNDS: dict[str, tuple[float, float, float]] = {
    "yield_strength": (0.2, 0.7, 1.2),
    "hardening_share": (0.0, 0.01, 0.2),
    "curvature_exponent": (1.5, 15.0, 60.0),
    "curvature_loss": (0.0, 0.8, 0.99),
    "curvature_loss_half": (0.001, 0.15, 5.0),
    "compression_growth": (0.0, 0.02, 1.0),
    "tension_growth": (0.0, 0.02, 1.0),
}


@dataclass(frozen=True, slots=True)
class CyclicFit:
    """A fitted law and its quality.

    Attributes
    ----------
    steel : CyclicSteel
        That comes nearest by least squares.
    misfit : float
        Root mean square of the stress left over [Pa].
    greatest_misfit : float
        Largest stress left over, either way [Pa].
    determination : float
        1 less the squares left over the squares about the mean [1].
    at_bounds : tuple of str
        Properties that ended at an end of their range: the record doesn't determine them.
    samples : int
        With strain and stress both.
    settled : bool
        Whether the search came to rest.
    """

    steel: CyclicSteel
    misfit: float
    greatest_misfit: float
    determination: float
    at_bounds: tuple[str, ...]
    samples: int
    settled: bool


def fitted_cyclic_steel(
    strain: ArrayLike,
    stress: ArrayLike,
    elastic_modulus: float,
    *,
    gate: float = 0.0,
    fast: bool = False,
) -> CyclicFit:
    """Properties of the cyclic law by least squares of stress along one coupon's history.

    The modulus is that of the elastic line, which must have been fitted before. The properties
    lean on each other, so another set may come as near: the law is good for histories like the
    coupon's, and the misfit is the least that must be allowed for its stress. Every sample weighs
    the same; a record that dwells somewhere weighs that place more.

    Parameters
    ----------
    strain : array, shape (n_samples,)
        From the virgin state, origin taken off; NaN where missing [1].
    stress : array, shape (n_samples,)
        Measured, tension positive [Pa].
    elastic_modulus : float
        Of the same coupon [Pa].
    gate : float
        Reversals smaller than this are noise [1].
    fast : bool
        Compiled, with the extra ``fast``; without it some 10 000 samples take a minute.

    Returns
    -------
    CyclicFit
        With the quality of the fit.

    Raises
    ------
    InputError
        If strain and stress don't belong together, there are fewer than 20 samples, or the
        coupon has not yielded and turned.
    MissingExtraError
        If ``fast`` is asked for and isn't installed.
    """
    e, s = np.asarray(strain, dtype=np.float64), np.asarray(stress, dtype=np.float64)
    if e.ndim != 1 or e.shape != s.shape:
        raise InputError("strain", f"of shape {e.shape}", f"one for each stress, {s.shape}")
    modulus = float(allowed.positive("elastic_modulus", elastic_modulus))
    known = np.isfinite(e) & np.isfinite(s)
    e, s = e[known], s[known]
    if e.size < 20:
        raise InputError("strain", f"of {e.size} samples with stress", "20 or more")
    peak = float(np.max(np.abs(s)))
    if np.ptp(e) < 4 * peak / modulus:
        raise InputError("strain", f"over {np.ptp(e):.4g}", "a history that yields both ways")
    low, start, high = np.array(list(_BOUNDS.values())).T
    follow = cyclic_stress_fast if fast else cyclic_stress

    def left_over(sets: FloatArray) -> FloatArray:
        """Stress left over, in peaks: one column a set of properties."""
        steel = _steel(sets, modulus, peak)
        many = np.repeat(e[:, np.newaxis], sets.shape[1], axis=1)
        return np.asarray((follow(many, steel, gate=gate)[0] - s[:, np.newaxis]) / peak)

    def alone(at: FloatArray) -> FloatArray:
        return np.asarray(left_over(at[:, np.newaxis])[:, 0])

    def slopes(at: FloatArray) -> FloatArray:
        return _slopes(left_over, at, (low, high))

    found = least_squares(alone, start, jac=slopes, bounds=(low, high), x_scale=high - low)
    rest = found.fun * peak
    ends = np.minimum(found.x - low, high - found.x) < 1e-3 * (high - low)
    square = float(np.sum(rest**2))
    return CyclicFit(
        steel=_steel(found.x, modulus, peak),
        misfit=float(np.sqrt(square / e.size)),
        greatest_misfit=float(np.max(np.abs(rest))),
        determination=1 - square / float(np.sum((s - np.mean(s)) ** 2)),
        at_bounds=tuple(name for name, end in zip(_BOUNDS, ends, strict=True) if end),
        samples=int(e.size),
        settled=bool(found.success),
    )


def _slopes(
    left_over: Callable[[FloatArray], FloatArray],
    at: FloatArray,
    bounds: tuple[FloatArray, FloatArray],
) -> FloatArray:
    """Derivatives by all properties from one run with a channel for each."""
    low, high = bounds
    step = 1e-6 * (high - low)
    step = np.where(at + step > high, -step, step)
    moved = left_over(np.column_stack([at, at[:, np.newaxis] + np.diag(step)]))
    return np.asarray((moved[:, 1:] - moved[:, :1]) / step)


def _steel(sets: FloatArray, modulus: float, peak: float) -> CyclicSteel:
    named = dict(zip(_BOUNDS, sets, strict=True))
    named["yield_strength"] = named["yield_strength"] * peak
    return CyclicSteel(modulus, **named)
