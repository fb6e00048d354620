"""Loops of load against strain: where they begin and end, the area inside, and its partials."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc.turns import turning_points
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["Loop", "LoopArea", "Unloading", "loop_area", "loops", "unloadings"]


@dataclass(frozen=True, slots=True)
class Unloading:
    """Rows from a peak of the load to the trough after it, both included."""

    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Loop:
    """Unloading from row ``first``, turn at ``turn``, and back to the load it left at ``last``.

    ``closed`` is False where the load never came back so far: the loop then ends at the next peak.
    """

    first: int
    turn: int
    last: int
    closed: bool


@dataclass(frozen=True, slots=True)
class LoopArea:
    """Area inside a loop [N], and what each sample's strain and load move it by."""

    area: float
    by_strain: FloatArray
    by_load: FloatArray
    gap: float


def unloadings(load: ArrayLike, gate: float) -> tuple[Unloading, ...]:
    """Every fall of the load from a peak to the trough after it.

    Parameters
    ----------
    load : array, shape (n_samples,)
        In order of time; NaN is passed over [N].
    gate : float
        Smallest fall of load that counts, in newtons like it, above its noise [1].

    Returns
    -------
    tuple of Unloading
        In order.
    """
    places = _turns(load, gate)
    values = np.asarray(load, dtype=np.float64)[places]
    return tuple(
        Unloading(a, b)
        for a, b, high, low in zip(
            places[:-1].tolist(), places[1:].tolist(), values[:-1], values[1:], strict=True
        )
        if high > low
    )


def loops(load: ArrayLike, gate: float) -> tuple[Loop, ...]:
    """Every loop: from a peak down, and up again to the load of that peak.

    Where the next peak stays lower, the loop ends at that peak and isn't closed.

    Parameters
    ----------
    load : array, shape (n_samples,)
        In order of time; NaN is passed over [N].
    gate : float
        Smallest fall of load that counts, in newtons like it, above its noise [1].

    Returns
    -------
    tuple of Loop
        In order; a last fall without a rise after it makes none.
    """
    values = np.asarray(load, dtype=np.float64)
    places = _turns(values, gate).tolist()
    found = []
    for first, turn, peak in zip(places[:-2], places[1:-1], places[2:], strict=True):
        if values[first] <= values[turn]:
            continue
        back = np.flatnonzero(values[turn : peak + 1] >= values[first])
        end = turn + int(back[0]) if back.size else peak
        # A peak lower by less than the gate is the same load again.
        closed = bool(back.size) or bool(values[peak] >= values[first] - gate)
        found.append(Loop(first, turn, end, closed))
    return tuple(found)


def loop_area(load: ArrayLike, strain: ArrayLike) -> LoopArea:
    """Area inside a loop of load against strain, ∮ P dε, closed by a straight line.

    Area of a polygon from its corners, A = ½ Σ (P_i + P_(i+1)) (ε_(i+1) - ε_i), positive where
    the loading branch lies above the unloading one: work that didn't come back, per length of the
    gauge. It is exact for straight lines between samples; an ellipse of n corners is short by
    (2π/n)²/6, a sixtieth per cent at 200.

    Parameters
    ----------
    load : array, shape (n_samples,)
        Along the loop [N].
    strain : array, shape (n_samples,)
        At the same instants; pairs with NaN are left out, the line goes straight past them [1].

    Returns
    -------
    LoopArea
        Area [N]; partials by each sample, zero where it was left out; ``gap`` is how far the
        strain at the end lies from the strain at the beginning [1].

    Raises
    ------
    InputError
        If fewer than three pairs are there, or the arrays differ in length.

    Examples
    --------
    >>> loop_area([0.0, 2.0, 2.0, 0.0], [0.0, 0.0, 0.5, 0.5]).area
    1.0
    """
    p = np.asarray(load, dtype=np.float64)
    e = np.asarray(strain, dtype=np.float64)
    if p.ndim != 1 or p.shape != e.shape:
        raise InputError("load", p.shape, f"one row as long as strain {e.shape}")
    good = np.flatnonzero(np.isfinite(p) & np.isfinite(e))
    if good.size < 3:
        raise InputError("strain", good.size, "three samples or more that have a load")
    x, y = e[good], p[good]
    ahead, behind = np.roll(y, -1), np.roll(y, 1)
    # From the middle: products of large numbers that cancel would cost digits.
    middle = float(np.mean(x))
    area = float(np.sum((x - middle) * (behind - ahead)) / 2)
    by_strain, by_load = np.zeros(p.shape), np.zeros(p.shape)
    by_strain[good] = (behind - ahead) / 2
    by_load[good] = (np.roll(x, -1) - np.roll(x, 1)) / 2
    return LoopArea(area, by_strain, by_load, float(x[-1] - x[0]))


def _turns(load: ArrayLike, gate: float) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
    if not gate > 0:
        raise InputError("gate", gate, "above 0, and above the noise of the load")
    return turning_points(load, gate)[1]
