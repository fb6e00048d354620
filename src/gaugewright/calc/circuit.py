"""Voltages, currents and meter readings of any resistive circuit, sound, shorted or open.

Exact and general: the referee of every closed form in this package. How it is solved, and why
shorts and opens cost no digits, is told in ``loops``.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import loops
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "CurrentSource",
    "Network",
    "Solution",
    "VoltageSource",
    "resistance_between",
    "solve",
    "voltage_ratio",
]


@dataclass(frozen=True, slots=True)
class VoltageSource:
    """Ideal source that holds ``plus`` above ``minus`` by ``voltage`` [V]."""

    name: str
    plus: str
    minus: str
    voltage: float


@dataclass(frozen=True, slots=True)
class CurrentSource:
    """Ideal source that pushes ``current`` [A] into node ``into`` and takes it from ``out_of``."""

    name: str
    into: str
    out_of: str
    current: float


@dataclass(frozen=True, slots=True)
class Network:
    """What is joined to what: resistive elements, sources and the node called zero.

    Resistances are not kept here but given to ``solve``, so one network serves a whole sweep.

    Attributes
    ----------
    elements : tuple of (name, node, node)
        A positive current runs from the first node to the second.
    sources : tuple of VoltageSource and CurrentSource
        May be empty when only ``resistance_between`` is asked for.
    ground : str
        The node whose voltage is zero.

    Raises
    ------
    InputError
        If a name is used twice, or ``ground`` touches nothing.

    Examples
    --------
    >>> supply = VoltageSource("V", "P", "N", 5.0)
    >>> divider = Network((("top", "P", "M"), ("low", "M", "N")), (supply,), "N")
    >>> solve(divider, [300.0, 100.0]).voltage("M").item()
    1.25
    """

    elements: tuple[tuple[str, str, str], ...]
    sources: tuple[VoltageSource | CurrentSource, ...] = ()
    ground: str = "GND"

    def __post_init__(self) -> None:
        names = [element[0] for element in self.elements] + [source.name for source in self.sources]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise InputError("elements", ", ".join(twice), "named once each")
        if self.ground not in self.nodes:
            raise InputError("ground", self.ground, "one of the nodes " + ", ".join(self.nodes))

    @property
    def names(self) -> tuple[str, ...]:
        """Element names, in the order of the last axis of ``resistance``."""
        return tuple(element[0] for element in self.elements)

    @property
    def nodes(self) -> tuple[str, ...]:
        """Nodes in order of first mention."""
        ends = [end for _, *pair in self.elements for end in pair]
        ends += [end for source in self.sources for end in _source_ends(source)]
        return tuple(dict.fromkeys(ends))

    def without(self, *names: str) -> "Network":
        """The same network with some elements or sources taken out.

        Raises
        ------
        InputError
            If a name isn't in the network.
        """
        known = {*self.names, *(source.name for source in self.sources)}
        unknown = sorted(set(names) - known)
        if unknown:
            raise InputError("names", ", ".join(unknown), "among " + ", ".join(sorted(known)))
        return Network(
            tuple(element for element in self.elements if element[0] not in names),
            tuple(source for source in self.sources if source.name not in names),
            self.ground,
        )

    def joined(self, onto: Mapping[str, str]) -> "Network":
        """The same network with nodes tied together: each key becomes the node it maps to."""
        return Network(
            tuple((name, onto.get(a, a), onto.get(b, b)) for name, a, b in self.elements),
            tuple(_joined_source(source, onto) for source in self.sources),
            onto.get(self.ground, self.ground),
        )


@dataclass(frozen=True, slots=True)
class Solution:
    """Voltages and currents of a solved network.

    Attributes
    ----------
    network : Network
        What was solved.
    node_voltage : array, shape (..., n_nodes)
        Against ground, in the order of ``network.nodes`` [V].
    branch_current : array, shape (..., n_elements)
        From the first node of each element to the second, in the order of ``network.names`` [A].
    """

    network: Network
    node_voltage: FloatArray
    branch_current: FloatArray

    def voltage(self, node: str) -> FloatArray:
        """Voltage of one node against ground, shape (...) [V].

        Raises
        ------
        InputError
            If the network has no such node.
        """
        return np.asarray(self.node_voltage[..., _place(node, self.network.nodes, "node")])

    def current(self, element: str) -> FloatArray:
        """Current through one element, first node to second, shape (...) [A].

        Raises
        ------
        InputError
            If the network has no such element.
        """
        return np.asarray(self.branch_current[..., _place(element, self.network.names, "element")])


def solve(network: Network, resistance: ArrayLike) -> Solution:
    """Voltages and currents of one network for any number of sets of resistances.

    A short is a small resistance (1e-6 ohm) and an open a large one (1e12 ohm); voltages keep
    about 14 digits of the excitation whatever the mixture.

    Parameters
    ----------
    network : Network
        Elements, sources and ground; every node must hang together.
    resistance : array, shape (..., n_elements)
        Positive and finite, in the order of ``network.names``; NaN gives NaN for its row [ohm].

    Returns
    -------
    Solution
        Arrays with the leading axes of ``resistance``.

    Raises
    ------
    InputError
        If a resistance isn't positive and finite, the last axis has the wrong length, a node
        hangs free, voltage sources close a loop or a current source has no path.

    Examples
    --------
    >>> supply = CurrentSource("I", "P", "N", 1.0)
    >>> pair = Network((("a", "P", "N"), ("b", "P", "N")), (supply,), "N")
    >>> solve(pair, [[2.0, 2.0], [1e-6, 1e12]]).voltage("P").round(9).tolist()
    [1.0, 1e-06]
    """
    ohms = _checked(network, resistance)
    rows = np.ascontiguousarray(ohms.reshape(-1, len(network.elements)).T)
    voltage, current = loops.solved(_graph(network), rows)
    shape = ohms.shape[:-1]
    return Solution(
        network,
        voltage.T.reshape(*shape, len(network.nodes)),
        current.T.reshape(*shape, len(network.elements)),
    )


def voltage_ratio(
    solution: Solution, out_plus: str, out_minus: str, ref_plus: str, ref_minus: str
) -> FloatArray:
    """Voltage between two nodes over the voltage between two others.

    Parameters
    ----------
    solution : Solution
        Of ``solve``.
    out_plus, out_minus : str
        Signal nodes.
    ref_plus, ref_minus : str
        Excitation nodes, or the sensed ones.

    Returns
    -------
    bridge_ratio : array, shape (...)
        NaN where the reference voltage is zero [V/V].

    Raises
    ------
    InputError
        If the network has no such node.
    """
    reference = solution.voltage(ref_plus) - solution.voltage(ref_minus)
    out = solution.voltage(out_plus) - solution.voltage(out_minus)
    return out / np.where(reference == 0, np.nan, reference)


def resistance_between(
    network: Network,
    node_a: str,
    node_b: str,
    resistance: ArrayLike,
    unplugged: Collection[str] = (),
) -> FloatArray:
    """What an ohmmeter reads between two nodes, all sources taken away.

    Parameters
    ----------
    network : Network
        Its sources and ground play no part.
    node_a, node_b : str
        Where the meter's probes are.
    resistance : array, shape (..., n_elements)
        Of all elements of ``network``, also of those unplugged [ohm].
    unplugged : collection of str
        Elements that belong to the instrument and go with it.

    Returns
    -------
    resistance : array, shape (...)
        Infinite where nothing joins the two nodes [ohm].

    Raises
    ------
    InputError
        If a node or an unplugged element isn't in the network, or a resistance is refused.

    Examples
    --------
    >>> chain = Network((("a", "P", "M"), ("b", "M", "N")), ground="N")
    >>> resistance_between(chain, "P", "N", [120.0, 0.5]).item()
    120.5
    """
    for node in (node_a, node_b):
        _place(node, network.nodes, "node")
    for name in unplugged:
        _place(name, network.names, "element")
    ohms = _checked(network, resistance)
    if node_a == node_b:
        return np.where(np.isnan(ohms).any(axis=-1), np.nan, 0.0)
    left = [e for e in network.elements if e[0] not in unplugged]
    reached = _reached(left, node_b)
    if node_a not in reached:
        return np.full(ohms.shape[:-1], np.inf)
    kept = [element for element in left if element[1] in reached]
    column = [network.names.index(element[0]) for element in kept]
    probe = CurrentSource("meter", node_a, node_b, 1.0)
    return solve(_renamed_clash(tuple(kept), probe, node_b), ohms[..., column]).voltage(node_a)


def _renamed_clash(
    elements: tuple[tuple[str, str, str], ...], probe: CurrentSource, ground: str
) -> Network:
    """Network with numbers for element names, so that none can be called like the probe."""
    return Network(tuple((str(i), a, b) for i, (_, a, b) in enumerate(elements)), (probe,), ground)


def _checked(network: Network, resistance: ArrayLike) -> FloatArray:
    ohms = np.asarray(resistance, dtype=np.float64)
    count = len(network.elements)
    if ohms.ndim == 0 or ohms.shape[-1] != count:
        raise InputError(
            "resistance",
            f"an array of shape {ohms.shape}",
            f"shaped (..., {count})",
            "one for each element",
        )
    refused = (ohms <= 0) | np.isinf(ohms)
    if refused.any():
        where = np.argwhere(refused)[0]
        raise InputError(
            f"resistance of {network.names[where[-1]]}",
            ohms[tuple(where)],
            "positive and finite",
            "write a short as 1e-6 ohm and an open as 1e12 ohm",
        )
    return ohms


@lru_cache(maxsize=4096)
def _graph(network: Network) -> loops.Graph:
    """The network as numbers, once it is known to have one solution."""
    at = {node: place for place, node in enumerate(network.nodes)}
    held = [source for source in network.sources if isinstance(source, VoltageSource)]
    held_ends = [(at[source.plus], at[source.minus]) for source in held]
    _, useful = loops.joined_groups(range(len(at)), held_ends)
    if not all(useful):
        looped = held[useful.index(False)].name
        raise InputError("sources", looped, "free of loops made of voltage sources alone")
    element_ends = [(at[first], at[second]) for _, first, second in network.elements]
    groups, _ = loops.joined_groups(range(len(at)), held_ends + element_ends)
    loose = [node for node in at if groups[at[node]] != groups[at[network.ground]]]
    if loose:
        raise InputError(
            "network",
            "in pieces at " + ", ".join(loose),
            f"joined to {network.ground} by elements",
            "write an open as an element of 1e12 ohm, and take out what hangs free",
        )
    source_ends = [_source_ends(source) for source in network.sources]
    return loops.Graph(
        n_nodes=len(at),
        ground=at[network.ground],
        ends=(*element_ends, *((at[first], at[second]) for first, second in source_ends)),
        source_voltage=tuple(
            source.voltage if isinstance(source, VoltageSource) else None
            for source in network.sources
        ),
        source_current=tuple(
            source.current if isinstance(source, CurrentSource) else None
            for source in network.sources
        ),
    )


def _source_ends(source: VoltageSource | CurrentSource) -> tuple[str, str]:
    """Ends of a source; its voltage, or its current, counts from the first to the second."""
    if isinstance(source, VoltageSource):
        return source.plus, source.minus
    return source.out_of, source.into


def _joined_source(
    source: VoltageSource | CurrentSource, onto: Mapping[str, str]
) -> VoltageSource | CurrentSource:
    first, second = (onto.get(end, end) for end in _source_ends(source))
    if isinstance(source, VoltageSource):
        return VoltageSource(source.name, first, second, source.voltage)
    return CurrentSource(source.name, second, first, source.current)


def _reached(elements: Sequence[tuple[str, str, str]], start: str) -> set[str]:
    reached = {start}
    grown = True
    while grown:
        grown = False
        for _, first, second in elements:
            if (first in reached) != (second in reached):
                reached |= {first, second}
                grown = True
    return reached


def _place(name: str, among: Sequence[str], what: str) -> int:
    if name not in among:
        raise InputError(what, name, "one of " + ", ".join(among))
    return among.index(name)
