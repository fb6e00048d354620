"""Which cycles a gauge has seen, counted over recordings of any length, and what they used up."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from enum import Enum

import numpy as np

from gaugewright.calc import quality
from gaugewright.calc.cycles import Cycles, cycle_matrix, cycles_of_block, residue_cycles
from gaugewright.calc.turns import CountState
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.services.coupon.cyclic import GATES_OF_NOISE, is_compiled

__all__ = ["CLASSES", "Counted", "Extent", "History", "counted", "extent_of"]

CLASSES = 32
STEPS = 200
_KEPT = 64
# Noise is that of the first samples: the same however the record is cut.
_NOISE_SAMPLES = 65_536

Blocks = Callable[[], Iterable[tuple[FloatArray, FloatArray]]]
Told = Callable[[Cycles], None]


class History(Enum):
    """How the record is taken: once as it was, open ranges as halves; or again and again."""

    ONCE = "once"
    REPEATING = "repeating"


@dataclass(frozen=True, slots=True)
class Extent:
    """What must be known before counting: size, range, noise, where the greatest value is.

    ``noise`` is a standard deviation from sample to sample; ``step_times`` are times [s] at
    ``STEPS`` equal numbers of samples and at the end.
    """

    samples: int
    missing: int
    lowest: float
    highest: float
    top_place: int
    noise: float
    step_times: FloatArray


@dataclass(frozen=True, slots=True)
class Counted:
    """Cycles of one signal: by class of range and of mean, and the largest one by one.

    ``matrix`` has one row a class of range and one column a class of mean; ``half_cycles`` is the
    number of open ranges and beginnings that count as halves.
    """

    history: History
    extent: Extent
    gate: float
    range_edges: FloatArray
    mean_edges: FloatArray
    matrix: FloatArray
    cycles: float
    half_cycles: float
    largest: Cycles

    @property
    def by_range(self) -> FloatArray:
        """Cycles in each class of range."""
        return np.asarray(self.matrix.sum(axis=1))


def extent_of(blocks: Blocks) -> Extent:
    """Look once through a signal: ``blocks`` gives time and value of each block, any time anew.

    Raises
    ------
    InputError
        If there is no sample with a value.
    """
    samples = missing = top_place = 0
    lowest, highest = np.inf, -np.inf
    begin: list[FloatArray] = []
    times: list[FloatArray] = []
    for time, values in blocks():
        known = np.isfinite(values)
        missing += int(values.size - known.sum())
        if known.any():
            high = float(np.nanmax(values))
            if high > highest:
                highest, top_place = high, samples + int(np.nanargmax(values))
            lowest = min(lowest, float(np.nanmin(values)))
        if samples < _NOISE_SAMPLES:
            begin.append(values[: _NOISE_SAMPLES - samples])
        # Enough to find the time of any step to a small part of it, whatever the length.
        times.append(np.array([samples, time[0], samples + time.size - 1, time[-1]]))
        samples += values.size
    if not np.isfinite(highest):
        raise InputError("samples", "all missing", "at least one with a value")
    knots = np.concatenate([knot.reshape(2, 2) for knot in times])
    steps = np.linspace(0, samples - 1, STEPS + 1)
    noise = quality.noise_floor(np.concatenate(begin))
    return Extent(
        samples,
        missing,
        lowest,
        highest,
        top_place,
        0.0 if np.isnan(noise) else noise,
        np.interp(steps, knots[:, 0], knots[:, 1]),
    )


def counted(
    blocks: Blocks,
    *,
    extent: Extent | None = None,
    gate: float | None = None,
    history: History = History.ONCE,
    told: Told | None = None,
) -> Counted:
    """Count a signal by rainflow, block by block, open cycles carried from one to the next.

    A history that repeats is begun at its greatest value and closed there. Memory holds one
    block, what is open, and classes: however long the record is and however it is cut, the
    classes come out the same.

    Parameters
    ----------
    blocks : callable
        Gives time and value of each block, from the first at every call.
    extent : Extent, optional
        Of the same signal; looked for when left out.
    gate : float, optional
        Smallest move that is a turn, in the signal's unit; six standard deviations of its noise
        when left out.
    history : History
        Once, or again and again.
    told : callable, optional
        Gets the cycles of each block as they close.

    Raises
    ------
    InputError
        If the gate is negative or must be stated, or a sample is infinite.
    """
    known = extent or extent_of(blocks)
    least = _usual_gate(known) if gate is None else gate
    edges = _edges(known)
    total = _Sum(edges)
    state = CountState()
    fast = is_compiled()
    for values in _in_order(blocks, known, history):
        found, state = cycles_of_block(values, state, least, fast=fast)
        total.add(_in_place(found, known, history), told)
    total.add(_in_place(residue_cycles(state), known, history), told)
    return Counted(
        history,
        known,
        least,
        edges[0],
        edges[1],
        total.matrix,
        total.cycles,
        total.halves,
        total.largest(),
    )


def _usual_gate(extent: Extent) -> float:
    """Six standard deviations of the noise, unless what changes from sample to sample isn't noise.

    A few hundred samples of noise alone spread over more than six of their deviations.
    """
    gate = GATES_OF_NOISE * extent.noise
    whole = extent.highest - extent.lowest
    if whole and gate > whole:
        raise InputError(
            "gate",
            None,
            "stated where a record changes from sample to sample as much as over its whole length",
            "state the smallest move that counts: noise and cycles can't be told apart here",
        )
    return gate


class _Sum:
    """Classes filled cycle by cycle, and the largest cycles kept."""

    def __init__(self, edges: tuple[FloatArray, FloatArray]) -> None:
        self._edges = edges
        self.matrix = np.zeros((edges[0].size - 1, edges[1].size - 1))
        self.cycles = self.halves = 0.0
        self._largest: Cycles | None = None

    def add(self, found: Cycles, told: Told | None) -> None:
        if not found.counts.size:
            return
        self.matrix += cycle_matrix(found, *self._edges)
        self.cycles += float(found.counts.sum())
        self.halves += float(np.count_nonzero(found.counts == 0.5))
        both = found if self._largest is None else self._largest.together(found)
        self._largest = _largest(both)
        if told is not None:
            told(found)

    def largest(self) -> Cycles:
        if self._largest is None:
            nothing = np.empty(0)
            places = np.empty(0, dtype=np.int64)
            return Cycles(nothing, nothing, places, places, nothing)
        return self._largest


def _largest(cycles: Cycles) -> Cycles:
    rows = np.argsort(-cycles.ranges, kind="stable")[:_KEPT]
    names = ("first", "second", "first_place", "second_place", "counts")
    return Cycles(*(getattr(cycles, name)[rows] for name in names))


def _edges(extent: Extent) -> tuple[FloatArray, FloatArray]:
    """Borders of the classes: equal, from nothing to the whole range, and from end to end."""
    whole = extent.highest - extent.lowest
    # A signal that never moves has no cycles; its classes only must have a width.
    width = whole or max(abs(extent.highest), 1.0)
    ranges = np.linspace(0.0, width, CLASSES + 1)
    means = np.linspace(extent.lowest, extent.lowest + width, CLASSES + 1)
    # Sums and differences of the ends may come out one bit beyond them.
    ranges[-1] = np.nextafter(ranges[-1] * (1 + 1e-12), np.inf)
    means[0] -= 1e-12 * width
    means[-1] += 1e-12 * width
    return ranges, means


def _in_order(blocks: Blocks, extent: Extent, history: History) -> Iterator[FloatArray]:
    """Values of each block; of a repeating history from its greatest value round to it again."""
    if history is History.ONCE:
        for _, values in blocks():
            yield values
        return
    place = 0
    for _, values in blocks():
        if place + values.size > extent.top_place:
            yield values[max(extent.top_place - place, 0) :]
        place += values.size
    place = 0
    for _, values in blocks():
        if place > extent.top_place:
            return
        yield values[: extent.top_place - place + 1]
        place += values.size


def _in_place(cycles: Cycles, extent: Extent, history: History) -> Cycles:
    """Numbers of samples as they are in the record, not as a repeating history was gone through."""
    if history is History.ONCE:
        return cycles
    first, second = (
        (places + extent.top_place) % extent.samples
        for places in (cycles.first_place, cycles.second_place)
    )
    return replace(cycles, first_place=first, second_place=second)
