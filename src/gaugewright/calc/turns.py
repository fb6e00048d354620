"""Where a record of strain or stress turns, by more than its noise."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike

from gaugewright.calc import allowed, kernels
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["CountState", "last_extreme", "turning_points", "turns_of_block", "whole_signal"]


def _nothing() -> FloatArray:
    return np.empty(0)


@dataclass(frozen=True, slots=True, eq=False)
class CountState:
    """What is still open at the end of a block.

    Attributes
    ----------
    samples : int
        Seen so far.
    pending : tuple of 5 float
        Direction, highest and its place, lowest and its place since the last turn.
    residue : array, shape (n_open,)
        Turning points not yet in a closed cycle [1].
    residue_places : array, shape (n_open,)
        Numbers of their samples, as floats.
    """

    samples: int = 0
    pending: tuple[float, ...] = (0.0, -np.inf, 0.0, np.inf, 0.0)
    residue: FloatArray = field(default_factory=_nothing)
    residue_places: FloatArray = field(default_factory=_nothing)


def turning_points(
    values: ArrayLike, gate: float = 0.0, *, fast: bool = False
) -> tuple[FloatArray, npt.NDArray[np.int64]]:
    """First sample, every turn and the last extreme of a signal.

    A turn counts when the signal has come back from it by ``gate`` and by more than nothing; with
    a gate the wandering before the first such move, and after the last, is left out with it. Where
    samples are equal the first of them is the turn.

    Parameters
    ----------
    values : array, shape (n_samples,)
        In order of time; a missing sample is NaN and is passed over: an extreme in a gap isn't
        known. In any one unit [1].
    gate : float
        In the same unit: a few standard deviations of its noise [1].
    fast : bool
        Compiled, with the extra ``fast``; the same numbers.

    Returns
    -------
    array, shape (n_points,)
        Values of the turning points [1].
    array of int, shape (n_points,)
        Numbers of their samples, from 0 [1].

    Raises
    ------
    InputError
        If the signal isn't one row of samples, a sample is infinite, or the gate is negative.
    MissingExtraError
        If ``fast`` is asked for and isn't installed.

    Examples
    --------
    >>> turning_points([0.0, 1.0, 3.0, 2.9, 4.0, 1.0], gate=0.5)[0].tolist()
    [0.0, 4.0, 1.0]
    """
    points, state = turns_of_block(values, gate, CountState(), fast=fast)
    found = np.concatenate([points, last_extreme(state)], axis=1)
    return found[0], found[1].astype(np.int64)


def turns_of_block(
    values: ArrayLike, gate: float, before: CountState, *, fast: bool = False
) -> tuple[FloatArray, CountState]:
    """Turns that a block makes certain, and what is still pending.

    Parameters
    ----------
    values : array, shape (n_samples,)
        Next block of the signal [1].
    gate : float
        As ``turning_points`` [1].
    before : CountState
        Of the block before.
    fast : bool
        Compiled, with the extra ``fast``.

    Returns
    -------
    array, shape (2, n_points)
        Values, and the numbers of their samples [1].
    CountState
        With the open cycles as they were [1].

    Raises
    ------
    InputError
        As ``turning_points``.
    """
    signal = whole_signal(values)
    allowed.not_negative("gate", gate)
    if fast:
        pending: Any = np.array(before.pending)
        points = np.empty((2, signal.size))
        run: Callable[..., int] = kernels.compiled(kernels.turning_points)
        found = run(signal, before.samples, float(gate), pending, points)
        made = points[:, :found]
    else:
        pending = list(before.pending)
        lists = [[0.0] * signal.size, [0.0] * signal.size]
        found = kernels.turning_points(signal.tolist(), before.samples, float(gate), pending, lists)
        made = np.array([side[:found] for side in lists])
    state = CountState(
        before.samples + signal.size,
        tuple(float(number) for number in pending),
        before.residue,
        before.residue_places,
    )
    return made, state


def whole_signal(values: ArrayLike) -> FloatArray:
    """Samples of one signal as an array; NaN where missing.

    Parameters
    ----------
    values : array, shape (n_samples,)
        In any one unit [1].

    Returns
    -------
    array, shape (n_samples,)
        The same numbers [1].

    Raises
    ------
    InputError
        If they aren't one row, or one is infinite.
    """
    signal = np.ascontiguousarray(values, dtype=np.float64)
    if np.ndim(values) != 1:
        raise InputError("values", f"of {np.ndim(values)} axes", "one row of samples")
    if np.any(np.isinf(signal)):
        raise InputError("values", "infinite", "finite, or NaN where a sample is missing")
    return signal


def last_extreme(state: CountState) -> FloatArray:
    """Where the signal got to since its last turn; its earlier extreme if it never moved.

    Parameters
    ----------
    state : CountState
        After some block.

    Returns
    -------
    array, shape (2, 0 or 1)
        Value, and number of its sample; nothing before the first sample [1].
    """
    direction, high, high_at, low, low_at = state.pending
    if direction > 0:
        return np.array([[high], [high_at]])
    if direction < 0:
        return np.array([[low], [low_at]])
    if not np.isfinite(high):
        return np.empty((2, 0))
    return np.array([[high], [high_at]] if high_at <= low_at else [[low], [low_at]])
