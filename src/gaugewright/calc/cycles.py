"""Cycles in a record of strain or stress: where it turns, what closes, how often."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike

from gaugewright.calc import allowed, kernels
from gaugewright.calc.turns import (
    CountState,
    last_extreme,
    turning_points,
    turns_of_block,
    whole_signal,
)
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "Cycles",
    "closed_history_cycles",
    "cycle_matrix",
    "cycles_of_block",
    "peak_counts",
    "rainflow_cycles",
    "range_cycles",
    "range_pair_cycles",
    "residue_cycles",
]


@dataclass(frozen=True, slots=True)
class Cycles:
    """Cycles in the order in which they close.

    Attributes
    ----------
    first, second : array, shape (n_cycles,)
        The two turning points of each, in the signal's unit [1].
    first_place, second_place : array of int
        Numbers of their samples, the record's first being 0.
    counts : array
        1 for a whole cycle, 0.5 for half of one [1].
    """

    first: FloatArray
    second: FloatArray
    first_place: npt.NDArray[np.int64]
    second_place: npt.NDArray[np.int64]
    counts: FloatArray

    @property
    def ranges(self) -> FloatArray:
        """Difference of the two turning points, never negative [1]."""
        return np.abs(self.second - self.first)

    @property
    def means(self) -> FloatArray:
        """Halfway between the two turning points [1]."""
        return np.asarray((self.first + self.second) / 2)

    def by_range(self) -> dict[float, float]:
        """How many cycles of every range occur, ranges rising.

        Returns
        -------
        mapping of range to count
            Ranges that differ in the last digit are two [1].
        """
        ranges, which = np.unique(self.ranges, return_inverse=True)
        sums = np.bincount(which, weights=self.counts, minlength=len(ranges))
        return dict(zip(ranges.tolist(), sums.tolist(), strict=True))

    def together(self, other: "Cycles") -> "Cycles":
        """These cycles and then the others.

        Parameters
        ----------
        other : Cycles
            Of the next block, or the residue at the end.

        Returns
        -------
        Cycles
            All of them.
        """
        return _joined([self, other])


_FIELDS = ("first", "second", "first_place", "second_place", "counts")
# Samples that the compiled loops take at a time, so that their room stays in the cache.
_BLOCK = 65_536


def rainflow_cycles(values: ArrayLike, gate: float = 0.0, *, fast: bool = False) -> Cycles:
    """Cycles by the rainflow rule; what is open at the end counts as halves.

    ASTM E1049-85 (2017), 5.4.4: of the last three turning points the earlier range is a cycle when
    the later one is at least as great; half a cycle when it begins at the start of the history.

    Parameters
    ----------
    values : array, shape (n_samples,)
        In order of time; NaN is passed over [1].
    gate : float
        Turns smaller than this are noise, in the signal's unit [1].
    fast : bool
        Compiled, with the extra ``fast``; the same numbers.

    Returns
    -------
    Cycles
        In the order in which they close, the open ones last.

    Raises
    ------
    InputError
        As ``turning_points``.
    MissingExtraError
        If ``fast`` is asked for and isn't installed.

    Examples
    --------
    >>> found = rainflow_cycles([-2, 1, -3, 5, -1, 3, -4, 4, -2])
    >>> found.by_range()
    {3.0: 0.5, 4.0: 1.5, 6.0: 0.5, 8.0: 1.0, 9.0: 0.5}
    """
    found, state = cycles_of_block(values, None, gate, fast=fast)
    # Room of the compiled loops is ours alone until the cycles are handed out.
    return (_ended if fast else Cycles.together)(found, residue_cycles(state))


def cycles_of_block(
    values: ArrayLike, state: CountState | None = None, gate: float = 0.0, *, fast: bool = False
) -> tuple[Cycles, CountState]:
    """Cycles that close within one block of a record that goes on.

    However a record is cut, the blocks' cycles and ``residue_cycles`` of the last state are those
    of ``rainflow_cycles``.

    Parameters
    ----------
    values : array, shape (n_samples,)
        Next block of the signal [1].
    state : CountState, optional
        Of the block before; left out at the start.
    gate : float
        The same for all blocks [1].
    fast : bool
        Compiled, with the extra ``fast``.

    Returns
    -------
    Cycles
        Closed in this block.
    CountState
        To be handed to the next block.

    Raises
    ------
    InputError
        As ``turning_points``.
    MissingExtraError
        If ``fast`` is asked for and isn't installed.
    """
    before = CountState() if state is None else state
    if fast:
        return _compiled_cycles(whole_signal(values), gate, before)
    points, after = turns_of_block(values, gate, before)
    found, (left, places) = _closed(points, (before.residue, before.residue_places))
    return found, replace(after, residue=left, residue_places=places)


def residue_cycles(state: CountState) -> Cycles:
    """What is left at the end of a record, and the cycles that its last sample closes.

    Parameters
    ----------
    state : CountState
        After the last block; it may still go on.

    Returns
    -------
    Cycles
        The open ranges as halves.
    """
    found, (values, places) = _closed(last_extreme(state), (state.residue, state.residue_places))
    return found.together(_ranges(values, places))


def closed_history_cycles(values: ArrayLike, gate: float = 0.0, *, fast: bool = False) -> Cycles:
    """Cycles of a history that repeats, begun at its greatest value: whole cycles only.

    ASTM E1049-85 (2017), 5.4.5.

    Parameters
    ----------
    values : array, shape (n_samples,)
        One turn of the history [1].
    gate : float
        Turns smaller than this are noise [1].
    fast : bool
        Compiled, with the extra ``fast``.

    Returns
    -------
    Cycles
        Places are those in ``values``.

    Raises
    ------
    InputError
        As ``turning_points``.
    MissingExtraError
        If ``fast`` is asked for and isn't installed.

    Examples
    --------
    >>> closed_history_cycles([-2, 1, -3, 5, -1, 3, -4, 4, -2]).by_range()
    {3.0: 1.0, 4.0: 1.0, 7.0: 1.0, 9.0: 1.0}
    """
    turns, places = turning_points(values, 0.0, fast=fast)
    if turns.size < 2:
        return _ranges(turns[:0], places[:0])
    top = int(np.argmax(turns))
    round_trip = np.concatenate([turns[top:], turns[: top + 1]])
    order = np.concatenate([places[top:], places[: top + 1]])
    kept, at = turning_points(round_trip, gate, fast=fast)
    points = np.array([kept, order[at]], dtype=np.float64)
    return _closed(points, closed=True, fast=fast)[0]


def range_cycles(values: ArrayLike, gate: float = 0.0) -> Cycles:
    """Every range between successive turns as half a cycle (ASTM E1049-85 (2017), 5.2).

    Parameters
    ----------
    values : array, shape (n_samples,)
        In order of time [1].
    gate : float
        Turns smaller than this are noise [1].

    Returns
    -------
    Cycles
        In order of time.

    Raises
    ------
    InputError
        As ``turning_points``.
    """
    turns, places = turning_points(values, gate)
    return _ranges(turns, places)


def range_pair_cycles(values: ArrayLike, gate: float = 0.0) -> Cycles:
    """Ranges that are matched by one the other way (ASTM E1049-85 (2017), 5.3).

    As rainflow without its rule for the start; what is left is gone through backwards. A range
    that has no partner in the end counts as half a cycle.

    Parameters
    ----------
    values : array, shape (n_samples,)
        In order of time [1].
    gate : float
        Turns smaller than this are noise [1].

    Returns
    -------
    Cycles
        In the order in which they are matched.

    Raises
    ------
    InputError
        As ``turning_points``.
    """
    turns, places = turning_points(values, gate)
    found, left = _closed(np.array([turns, places]), closed=True)
    back, rest = _closed(np.array(left)[:, ::-1], closed=True)
    return found.together(back).together(_ranges(*rest))


def peak_counts(
    values: ArrayLike, reference_level: float = 0.0, gate: float = 0.0
) -> dict[float, int]:
    """How many peaks lie above a level and valleys below it (ASTM E1049-85 (2017), 5.1).

    Parameters
    ----------
    values : array, shape (n_samples,)
        In order of time [1].
    reference_level : float
        In the same unit: peaks below and valleys above it aren't counted [1].
    gate : float
        Turns smaller than this are noise [1].

    Returns
    -------
    mapping of level to count
        Levels rising. The two ends of the signal are no turns [1].

    Raises
    ------
    InputError
        As ``turning_points``.
    """
    turns, _ = turning_points(values, gate)
    inner = turns[1:-1]
    peaks = inner > turns[:-2]
    counted = np.where(peaks, inner > reference_level, inner < reference_level)
    levels, numbers = np.unique(inner[counted], return_counts=True)
    return dict(zip(levels.tolist(), numbers.tolist(), strict=True))


def cycle_matrix(cycles: Cycles, range_edges: ArrayLike, mean_edges: ArrayLike) -> FloatArray:
    """Cycles by class of range and of mean.

    Parameters
    ----------
    cycles : Cycles
        By any rule.
    range_edges : array, shape (n_ranges + 1,)
        Rising; a class holds its lower border, the last one both [1].
    mean_edges : array, shape (n_means + 1,)
        Rising [1].

    Returns
    -------
    counts : array, shape (n_ranges, n_means)
        How many [1].

    Raises
    ------
    InputError
        If borders don't rise, or cycles lie outside them: none is dropped silently.
    """
    sides = (("range_edges", range_edges, cycles.ranges), ("mean_edges", mean_edges, cycles.means))
    for name, edges, found in sides:
        border = np.asarray(edges, dtype=np.float64)
        if border.ndim != 1 or border.size < 2 or not np.all(np.diff(border) > 0):
            raise InputError(name, border, "two borders or more, rising")
        outside = (found < border[0]) | (found > border[-1])
        if np.any(outside):
            raise InputError(
                name,
                f"from {border[0]:g} to {border[-1]:g}",
                f"wide enough for cycles at {found[outside][0]:g}",
                "set wider borders, or leave such cycles out first",
            )
    made, _, _ = np.histogram2d(
        cycles.ranges,
        cycles.means,
        bins=[np.asarray(range_edges), np.asarray(mean_edges)],
        weights=cycles.counts,
    )
    return np.asarray(made)


def _compiled_cycles(
    signal: FloatArray, gate: float, before: CountState
) -> tuple[Cycles, CountState]:
    """As ``cycles_of_block``, a stretch at a time in room that is used again."""
    allowed.not_negative("gate", gate)
    turn, close = kernels.compiled(kernels.turning_points), kernels.compiled(kernels.rainflow)
    pending, waiting = np.array(before.pending), before.residue.size
    points, stack = np.empty((2, _BLOCK)), np.empty((2, waiting + _BLOCK))
    stack[0, :waiting], stack[1, :waiting] = before.residue, before.residue_places
    out, done = _room(signal.size // 3 + waiting + _BLOCK), 0
    for begin in range(0, signal.size, _BLOCK):
        stretch = signal[begin : begin + _BLOCK]
        count = turn(stretch, before.samples + begin, float(gate), pending, points)
        if waiting + count > stack.shape[1]:
            stack = np.concatenate([stack[:, :waiting], np.empty((2, waiting + _BLOCK))], axis=1)
        if done + waiting + count > out[0].size:
            more = _room(out[0].size)
            out = tuple(np.concatenate(pair) for pair in zip(out, more, strict=True))
        free = tuple(side[done:] for side in out)
        found, waiting = close(points[:, :count], stack, waiting, False, free)
        done += found
    left, places = stack[:, :waiting].copy()
    state = CountState(before.samples + signal.size, tuple(pending.tolist()), left, places)
    return Cycles(*(side[:done] for side in out)), state


def _ended(found: Cycles, rest: Cycles) -> Cycles:
    """Cycles with those open at the end, put into what is left of the room: nothing is copied."""
    done, more = found.counts.size, rest.counts.size
    made = []
    for name in _FIELDS:
        room, tail = getattr(found, name).base, getattr(rest, name)
        if room is None or room.size < done + more:
            return found.together(rest)
        room[done : done + more] = tail
        made.append(room[: done + more])
    return Cycles(*made)


def _room(size: int) -> tuple[npt.NDArray[Any], ...]:
    """Room for the fields of ``Cycles``."""
    kinds = (np.float64, np.float64, np.int64, np.int64, np.float64)
    return tuple(np.empty(size, dtype=kind) for kind in kinds)


def _closed(
    points: FloatArray,
    before: tuple[FloatArray, FloatArray] | None = None,
    *,
    closed: bool = False,
    fast: bool = False,
) -> tuple[Cycles, FloatArray]:
    """Cycles that turning points close, after those already waiting; and what waits now."""
    kept = before or (np.empty(0), np.empty(0))
    waiting = len(kept[0])
    size = points.shape[1] + waiting
    if fast:
        stack: Any = np.empty((2, size))
        stack[0, :waiting], stack[1, :waiting] = kept
        out: Any = _room(size)
        run: Callable[..., tuple[int, int]] = kernels.compiled(kernels.rainflow)
        found, left = run(points, stack, waiting, closed, out)
        return Cycles(*(side[:found] for side in out)), stack[:, :left].copy()
    stack = [[*map(float, side), *[0.0] * points.shape[1]] for side in kept]
    out = [[0.0] * size for _ in range(5)]
    found, left = kernels.rainflow(points.tolist(), stack, waiting, closed, out)
    return _cycles(*(side[:found] for side in out)), np.array([side[:left] for side in stack])


def _cycles(
    first: ArrayLike, second: ArrayLike, first_at: ArrayLike, second_at: ArrayLike, n: ArrayLike
) -> Cycles:
    one, other, counts = (np.asarray(side, dtype=np.float64) for side in (first, second, n))
    begin, end = (np.asarray(side, dtype=np.float64) for side in (first_at, second_at))
    return Cycles(one, other, begin.astype(np.int64), end.astype(np.int64), counts)


def _joined(pieces: Sequence[Cycles]) -> Cycles:
    return Cycles(*(np.concatenate([getattr(piece, name) for piece in pieces]) for name in _FIELDS))


def _ranges(values: ArrayLike, places: ArrayLike) -> Cycles:
    """Ranges between successive points as halves."""
    turns, at = np.asarray(values, dtype=np.float64), np.asarray(places, dtype=np.float64)
    half = np.full(max(turns.size - 1, 0), 0.5)
    return _cycles(turns[:-1], turns[1:], at[:-1], at[1:], half)
