"""Currents round the loops of a resistive graph, for many sets of resistances at once.

The unknowns are branch currents, not only node voltages. A conductance matrix adds 1/R, so a
1e-6 ohm short beside a 1e12 ohm leak loses the digits that matter; here resistances are added.
A tree of the smallest resistances carries every node, each remaining branch closes one loop, and
Kirchhoff's voltage law round those loops is a small symmetric system, eliminated for all rows at
once. (G. Kirchhoff, 1847: the fundamental loops of a spanning tree.)
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from gaugewright.quantities import FloatArray

__all__ = ["Graph", "joined_groups", "solved"]

# Rows of one pass: small enough for the working arrays to stay in the processor's cache.
_ROWS = 4096
# A tree is shared by all rows in which no tree element exceeds the element closing its loop by
# more than this; it bounds the digits lost to 2 of 16, and lets ordinary sweeps share one tree.
_TREE_SLACK = 100.0

_Tree = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Graph:
    """A circuit as numbers: ends of each branch, resistive elements first, then sources.

    A source holds its voltage from first to second end, or drives its current from first to
    second, and has None for the other. All nodes hang together through elements and voltage
    sources, and voltage sources close no loop: whoever makes a graph has seen to that.
    """

    n_nodes: int
    ground: int
    ends: tuple[tuple[int, int], ...]
    source_voltage: tuple[float | None, ...]
    source_current: tuple[float | None, ...]

    @property
    def n_elements(self) -> int:
        """Number of resistive elements [1]."""
        return len(self.ends) - len(self.source_voltage)


@dataclass(frozen=True, slots=True)
class _Plan:
    """One tree, and what follows from it for every row solved with it.

    ``loops[k]`` maps tree branches to the sign with which the current of ``closing[k]`` runs on
    through them; ``descent`` lists (branch, known node, new node, sign) from ground outwards.
    """

    closing: tuple[int, ...]
    loops: tuple[Mapping[int, int], ...]
    descent: tuple[tuple[int, int, int, int], ...]


def solved(graph: Graph, resistance: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Node voltages and element currents of a graph.

    Parameters
    ----------
    graph : Graph
        What is joined to what.
    resistance : array, shape (n_elements, n_rows)
        Positive; NaN anywhere in a row makes the row NaN [ohm].

    Returns
    -------
    voltage : array, shape (n_nodes, n_rows)
        Against ground [V].
    current : array, shape (n_elements, n_rows)
        From the first end to the second [A].
    """
    voltage = np.full((graph.n_nodes, resistance.shape[1]), np.nan)
    current = np.full((graph.n_elements, resistance.shape[1]), np.nan)
    known: list[_Tree] = []
    for start in range(0, resistance.shape[1], _ROWS):
        part = slice(start, start + _ROWS)
        block = resistance[:, part]
        for plan, chosen in _shares(graph, block, known):
            found = _through(graph, plan, block[:, chosen])
            voltage[:, part][:, chosen], current[:, part][:, chosen] = found
    return voltage, current


def joined_groups(nodes: range, ends: Sequence[tuple[int, int]]) -> tuple[list[int], list[bool]]:
    """Which nodes hang together.

    Parameters
    ----------
    nodes : range
        Node numbers, from zero.
    ends : sequence of (node, node)
        Branches, taken in this order.

    Returns
    -------
    groups : list, one a node
        The same number for nodes that hang together.
    useful : list, one a branch
        Whether the branch joined two groups; the others close loops.
    """
    group = list(nodes)
    useful = []
    for first, second in ends:
        a, b = group[first], group[second]
        useful.append(a != b)
        if a != b:
            group = [a if g == b else g for g in group]
    return group, useful


def _shares(
    graph: Graph, block: FloatArray, known: list[_Tree]
) -> Iterator[tuple[_Plan, slice | npt.NDArray[np.intp]]]:
    """Rows of a block and the plan each is solved with; rows holding NaN belong to none."""
    left = np.flatnonzero(~np.isnan(block).any(axis=0))
    whole = left.size == block.shape[1]
    untried = list(known)
    while left.size:
        if not untried:
            untried.append(_tree(graph, block[:, left[0]]))
            known.append(untried[0])
        plan = _plan(graph, untried.pop(0))
        fits = _fits(graph, plan, block if whole else block[:, left])
        if whole and fits.all():
            yield plan, slice(None)
            return
        if fits.any():
            yield plan, left[fits]
            left = left[~fits]
            whole = False


def _fits(graph: Graph, plan: _Plan, ohms: FloatArray) -> npt.NDArray[np.bool_]:
    """Rows in which every tree element is small against the elements whose loops it carries."""
    fits = np.ones(ohms.shape[1], dtype=np.bool_)
    for branch, loop in zip(plan.closing, plan.loops, strict=True):
        if branch >= graph.n_elements:  # a current source closes its loop whatever the resistances
            continue
        limit = _TREE_SLACK * ohms[branch]
        for step in loop:
            if step < graph.n_elements:
                fits &= ohms[step] <= limit
    return fits


def _tree(graph: Graph, ohms: FloatArray) -> _Tree:
    """Branches that reach every node over the smallest resistances, voltage sources first."""
    order = [
        graph.n_elements + place
        for place, volts in enumerate(graph.source_voltage)
        if volts is not None
    ]
    order += np.argsort(ohms, kind="stable").tolist()
    _, useful = joined_groups(range(graph.n_nodes), [graph.ends[branch] for branch in order])
    return tuple(sorted(branch for branch, kept in zip(order, useful, strict=True) if kept))


@lru_cache(maxsize=4096)
def _plan(graph: Graph, tree: _Tree) -> _Plan:
    # Path of every node to ground through the tree: (branch, +1 if it runs with the branch).
    path: dict[int, tuple[tuple[int, int], ...]] = {graph.ground: ()}
    descent: list[tuple[int, int, int, int]] = []
    waiting = list(tree)
    while waiting:
        branch = waiting.pop(0)
        first, second = graph.ends[branch]
        if first in path:
            path[second] = ((branch, -1), *path[first])
            descent.append((branch, first, second, -1))
        elif second in path:
            path[first] = ((branch, 1), *path[second])
            descent.append((branch, second, first, 1))
        else:
            waiting.append(branch)
    closing = tuple(branch for branch in range(len(graph.ends)) if branch not in tree)
    loops = []
    for branch in closing:
        first, second = graph.ends[branch]
        sign: dict[int, int] = {}
        # On from the second node down to ground, and back up to the first.
        for step, along in path[second]:
            sign[step] = sign.get(step, 0) + along
        for step, along in path[first]:
            sign[step] = sign.get(step, 0) - along
        loops.append({step: along for step, along in sorted(sign.items()) if along})
    return _Plan(closing, tuple(loops), tuple(descent))


def _through(graph: Graph, plan: _Plan, ohms: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Node voltages and element currents of rows that share a plan."""
    n_elements, rows = ohms.shape
    current = np.zeros((n_elements, rows))
    flows = _loop_currents(graph, plan, ohms)
    for branch, loop, flow in zip(plan.closing, plan.loops, flows, strict=True):
        if branch < n_elements:
            current[branch] = flow
        for step, sign in loop.items():
            if step < n_elements:
                current[step] += flow if sign > 0 else -flow
    voltage = np.zeros((graph.n_nodes, rows))
    for branch, known, new, sign in plan.descent:
        if branch < n_elements:
            drop = ohms[branch] * current[branch]
        else:
            drop = np.full(rows, graph.source_voltage[branch - n_elements], dtype=np.float64)
        voltage[new] = voltage[known] + (drop if sign > 0 else -drop)
    return voltage, current


def _loop_currents(graph: Graph, plan: _Plan, ohms: FloatArray) -> list[FloatArray]:
    """Current of each closing branch; those of current sources are given, the others solved for."""
    n_elements, rows = ohms.shape
    given = {
        place: np.full(rows, graph.source_current[branch - n_elements], dtype=np.float64)
        for place, branch in enumerate(plan.closing)
        if branch >= n_elements
    }
    free = [place for place in range(len(plan.closing)) if place not in given]
    matrix: dict[tuple[int, int], FloatArray] = {}
    right: list[FloatArray] = []
    for i, place in enumerate(free):
        loop = plan.loops[place]
        for j in range(i, len(free)):
            shared = _shared(loop, plan.loops[free[j]], ohms)
            if i == j:
                own = ohms[plan.closing[place]]
                matrix[i, i] = own if shared is None else own + shared
            elif shared is not None:
                matrix[i, j] = shared
        volts = [
            sign * (graph.source_voltage[step - n_elements] or 0.0)
            for step, sign in loop.items()
            if step >= n_elements
        ]
        total = np.full(rows, -sum(volts), dtype=np.float64)
        for other, flow in given.items():
            shared = _shared(loop, plan.loops[other], ohms)
            if shared is not None:
                total -= shared * flow
        right.append(total)
    found = dict(zip(free, _eliminated(matrix, right), strict=True)) | given
    return [found[place] for place in range(len(plan.closing))]


def _shared(
    one: Mapping[int, int], other: Mapping[int, int], ohms: FloatArray
) -> FloatArray | None:
    """Resistance two loops have in common, negative where they run against each other."""
    total: FloatArray | None = None
    for step, sign in one.items():
        if step < ohms.shape[0] and step in other:
            part = ohms[step] if sign == other[step] else -ohms[step]
            total = part if total is None else total + part
    return total


def _eliminated(
    matrix: dict[tuple[int, int], FloatArray], right: Sequence[FloatArray]
) -> list[FloatArray]:
    """Solution of a symmetric positive definite system held as its upper triangle, absent = zero.

    No pivoting is needed for such a system, and a loop of 1e12 ohm beside one of 240 ohm costs no
    digits, because elimination is indifferent to the scale of its rows.
    """
    size = len(right)
    value = list(right)
    for k in range(size):
        for i in range(k + 1, size):
            if (k, i) not in matrix:
                continue
            factor = matrix[k, i] / matrix[k, k]
            for j in range(i, size):
                if (k, j) in matrix:
                    taken = factor * matrix[k, j]
                    matrix[i, j] = matrix[i, j] - taken if (i, j) in matrix else -taken
            value[i] = value[i] - factor * value[k]
    for k in reversed(range(size)):
        for j in range(k + 1, size):
            if (k, j) in matrix:
                value[k] = value[k] - matrix[k, j] * value[j]
        value[k] = value[k] / matrix[k, k]
    return value
