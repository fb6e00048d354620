"""Zeros of many functions at once, each inside its own bracket."""

from collections.abc import Callable

import numpy as np

from gaugewright.quantities import FloatArray

__all__ = ["grown", "zeros"]

_MOST_STEPS = 100


def grown(
    function: Callable[[FloatArray], FloatArray], low: FloatArray, high: FloatArray, largest: float
) -> tuple[FloatArray, FloatArray]:
    """Brackets widened until a growing function is negative at one end, positive at the other.

    Parameters
    ----------
    function : callable
        Element-wise, not falling on the whole; NaN where it has no value.
    low : array
        First lower ends, in any unit [1].
    high : array
        First upper ends [1].
    largest : float
        How far an end may move [1].

    Returns
    -------
    low, high : array
        NaN where no bracket was found [1].
    """
    low, high = low.copy(), high.copy()
    step = np.maximum(high - low, largest * 1e-4)
    grew = 0 * step
    at_low, at_high = function(low), function(high)
    while True:
        short, long = ~(at_low <= 0), ~(at_high >= 0)
        # An end that has run off its law never comes back by growing.
        lost = np.isnan(at_low) | np.isnan(at_high) | (grew > largest)
        moving = (short | long) & ~lost
        if not np.any(moving):
            wrong = short | long
            return np.where(wrong, np.nan, low), np.where(wrong, np.nan, high)
        low = np.where(moving & short, low - step, low)
        high = np.where(moving & long, high + step, high)
        grew, step = grew + step, step * 2
        at_low, at_high = function(low), function(high)


def zeros(
    function: Callable[[FloatArray], FloatArray],
    low: FloatArray,
    high: FloatArray,
    tolerance: float,
) -> FloatArray:
    """A zero in each bracket, by inverse quadratic steps where they are safe and halving elsewhere.

    Chandrupatla, Advances in Engineering Software 28 (1997) 145-149 (from memory). At a jump
    through zero it ends at the jump.

    Parameters
    ----------
    function : callable
        Element-wise.
    low : array
        Lower ends, in any unit [1].
    high : array
        Upper ends, where the function has the other sign [1].
    tolerance : float
        Half-width of a bracket that is narrow enough, in the same unit [1].

    Returns
    -------
    array
        NaN where the ends don't bracket a zero [1].
    """
    a, b = high.copy(), low.copy()
    fa, fb = function(a), function(b)
    usable = np.sign(fa) * np.sign(fb) <= 0
    a, b = np.where(usable, a, np.nan), np.where(usable, b, np.nan)
    c, fc, share = a, fa, np.full(a.shape, 0.5)
    for _ in range(_MOST_STEPS):
        best = np.where(np.abs(fb) < np.abs(fa), b, a)
        narrow = tolerance + 4 * np.finfo(float).eps * np.abs(best)
        done = ~(np.abs(b - a) > 2 * narrow) | (fa == 0) | (fb == 0)
        if np.all(done):
            break
        x = np.where(done, best, a + share * (b - a))
        fx = function(x)
        same = np.sign(fx) == np.sign(fa)
        c, fc = np.where(same, a, b), np.where(same, fa, fb)
        b, fb = np.where(same, b, a), np.where(same, fb, fa)
        a, fa = np.where(done, a, x), np.where(done, fa, fx)
        b, fb = np.where(done, best, b), np.where(done, 0.0, fb)
        share = _share(np.stack([a, b, c]), np.stack([fa, fb, fc]), tolerance)
    return np.where(np.abs(fb) < np.abs(fa), b, a)


def _share(at: FloatArray, value: FloatArray, tolerance: float) -> FloatArray:
    """Where in the bracket to look next, from its two ends and the point before."""
    (a, b, c), (fa, fb, fc) = at, value
    with np.errstate(all="ignore"):  # what overflows is not safe, and is halved
        xi, phi = (a - b) / (c - b), (fa - fb) / (fc - fb)
        safe = (phi**2 < xi) & ((1 - phi) ** 2 < 1 - xi)
        quadratic = fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (
            fc - fb
        )
        edge = np.clip(tolerance / np.abs(b - a), 0.0, 0.5)
    share = np.where(safe & np.isfinite(quadratic), quadratic, 0.5)
    edge = np.where(np.isfinite(edge), edge, 0.5)
    return np.asarray(np.clip(share, edge, 1 - edge))
