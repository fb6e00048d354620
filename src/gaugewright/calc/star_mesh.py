"""Resistances and voltages of a circuit by taking its nodes out one by one, star into mesh.

A node between others is replaced by resistors between each two of these (Rosen's theorem). Only
sums, products and quotients of positive numbers occur, so that shorts of microohms beside opens
of a million megohms cost no digits; and what is left serves every further question. ``circuit``
is the referee.
"""

from collections.abc import Collection, Iterable, Mapping

import numpy as np

from gaugewright.quantities import FloatArray

__all__ = ["Mesh"]

Parts = Iterable[tuple[str, str, FloatArray]]
_Edges = dict[tuple[str, str], FloatArray]


class Mesh:
    """Resistors between named nodes, any number of sets of values side by side.

    Parameters
    ----------
    parts : iterable of (node, node, array)
        Resistors [ohm], all arrays of one shape; those between the same nodes are side by side.
    """

    def __init__(self, parts: Parts) -> None:
        edges: _Edges = {}
        for first, second, ohms in parts:
            _put(edges, first, second, np.asarray(1.0 / ohms))
        self._edges = edges

    @classmethod
    def _of(cls, edges: _Edges) -> "Mesh":
        made = cls(())
        made._edges = edges
        return made

    @property
    def nodes(self) -> frozenset[str]:
        """Names of the nodes that are left."""
        return frozenset(node for ends in self._edges for node in ends)

    def with_parts(self, parts: Parts) -> "Mesh":
        """The same with more resistors."""
        edges = dict(self._edges)
        for first, second, ohms in parts:
            _put(edges, first, second, np.asarray(1.0 / ohms))
        return self._of(edges)

    def joined(self, tied: Mapping[str, str]) -> "Mesh":
        """The same with each node of ``tied`` held to another one."""
        edges: _Edges = {}
        for (first, second), siemens in self._edges.items():
            _put(edges, tied.get(first, first), tied.get(second, second), siemens)
        return self._of(edges)

    def left(self, kept: Collection[str]) -> "Mesh":
        """The same seen from some nodes only: every other one is taken out."""
        edges = dict(self._edges)
        gone = {node for ends in edges for node in ends} - set(kept)
        while gone:
            ends_of = {node: [ends for ends in edges if node in ends] for node in gone}
            node = min(sorted(gone), key=lambda one: len(ends_of[one]))
            gone.remove(node)
            arms = [
                (ends[1] if ends[0] == node else ends[0], edges.pop(ends)) for ends in ends_of[node]
            ]
            if len(arms) < 2:
                continue  # nothing flows into a dead end
            total = sum((siemens for _, siemens in arms[1:]), arms[0][1])
            for place, (first, one) in enumerate(arms):
                share = one / total
                for second, other in arms[place + 1 :]:
                    _put(edges, first, second, share * other)
        return self._of(edges)

    def between(self, first: str, second: str) -> FloatArray | None:
        """Resistance between two nodes, None where nothing joins them [ohm]."""
        found = self.left((first, second))._edges.get(_ends(first, second))
        return None if found is None else np.asarray(1.0 / found)

    def divided(self, node: str, plus: str, minus: str) -> FloatArray:
        """Voltage of a node over that between two others, counted from ``minus`` [1]."""
        edges = self.left((node, plus, minus))._edges
        up = edges.get(_ends(node, plus), np.zeros(1))
        down = edges.get(_ends(node, minus), np.zeros(1))
        return np.asarray(up / (up + down))


def _ends(first: str, second: str) -> tuple[str, str]:
    return (first, second) if first < second else (second, first)


def _put(edges: _Edges, first: str, second: str, siemens: FloatArray) -> None:
    if first == second:
        return
    ends = _ends(first, second)
    there = edges.get(ends)
    edges[ends] = siemens if there is None else there + siemens
