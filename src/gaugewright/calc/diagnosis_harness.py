"""Gauges in other circuits than a quarter bridge with three wires, and what a meter reads of them.

Half bridges with three wires, opposite pairs with four, full bridges with four or six, and single
gauges with two or four. Arms are numbered as in ``bridge.four_arm_ratio``: 1 and 3 raise the
output, 2 and 4 lower it. Every fault is an element put into the circuit of the harness.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from gaugewright.calc.diagnosis_circuit import (
    ELEMENTS,
    MEASURABLE,
    OPEN,
    QUARTER,
    Setup,
    beside,
    ohms_between,
)
from gaugewright.calc.star_mesh import Mesh
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "DOUBTS",
    "EVERY_ELEMENT",
    "EVERY_READING",
    "HARNESSES",
    "Harness",
    "doubts_of",
    "elements_of",
    "harness_of",
    "names_of",
    "predicted",
]

_TOUCH, _INPUT = 1e-6, 1e9
_PINS = "ABC"  # as causes are written whose wires all stand where they belong
# What a sound gauge with three leads may be off by, in the order of the clouds' last axis.
DOUBTS = ("grid", "lead", "wire a", "wire b", "wire c", "completion", "insulation", "shield")


@dataclass(frozen=True, slots=True)
class Harness:
    """Wires from plug to gauge, grids between their ends, and what the instrument has inside.

    Attributes
    ----------
    wires : tuple of (wire, node)
        Each wire, by the name of its pin, and the node at the gauge it ends on.
    grids : tuple of (arm, node, node)
        Each grid by the number of its arm.
    supply : tuple of (pin, pin)
        Plus and minus of the supply; nothing where no bridge reads it.
    signal : tuple of (pin, pin)
        Plus and minus of the signal; ``M`` is the middle of the instrument's own half bridge.
    completions : tuple of (node, node)
        Fixed arms in the instrument; the first may be set wrong.
    sensed : tuple of (pin, pin)
        Where the supply is sensed by wires of its own.
    pairs : tuple of str
        Pairs of pins that an ohmmeter is put on.
    """

    wires: tuple[tuple[str, str], ...]
    grids: tuple[tuple[int, str, str], ...]
    supply: tuple[str, str] | tuple[()]
    signal: tuple[str, str] | tuple[()]
    completions: tuple[tuple[str, str], ...]
    pairs: tuple[str, ...]
    sensed: tuple[str, str] | tuple[()] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the wires."""
        return tuple(wire for wire, _ in self.wires)

    @property
    def nodes(self) -> tuple[str, ...]:
        """Nodes at the gauge, each once."""
        return tuple(dict.fromkeys(node for _, node in self.wires))

    @property
    def crossings(self) -> tuple[tuple[str, str], ...]:
        """Every two wires."""
        return tuple(combinations(self.names, 2))


_FULL_WIRES = (("P", "CP"), ("N", "CN"), ("SP", "CSP"), ("SN", "CSN"))
_FULL_GRIDS = ((1, "CSP", "CN"), (2, "CP", "CSP"), (3, "CP", "CSN"), (4, "CSN", "CN"))
HARNESSES: dict[str, Harness] = {
    "quarter 2": Harness(
        (("A", "T1"), ("B", "T2")),
        ((1, "T1", "T2"),),
        ("EP", "A"),
        ("B", "M"),
        (("EP", "B"), ("EP", "M"), ("M", "A")),
        ("A-B",),
    ),
    "quarter 4": Harness(
        (("A", "T1"), ("D", "T1"), ("B", "T2"), ("C", "T2")),
        ((1, "T1", "T2"),),
        (),
        (),
        (),
        ("A-B", "A-D", "B-C", "A-C", "D-B", "D-C"),
    ),
    "half 3": Harness(
        (("A", "E1"), ("C", "MID"), ("B", "E2")),
        ((1, "E1", "MID"), (2, "MID", "E2")),
        ("B", "A"),
        ("C", "M"),
        (("B", "M"), ("M", "A")),
        ("A-B", "A-C", "B-C"),
    ),
    "opposite 4": Harness(
        (("A", "TA"), ("B", "TB"), ("C", "TC"), ("D", "TD")),
        ((1, "TA", "TB"), (3, "TC", "TD")),
        ("C", "A"),
        ("B", "D"),
        (("C", "B"), ("D", "A")),
        ("A-B", "C-D"),
    ),
    "full 4": Harness(
        _FULL_WIRES,
        _FULL_GRIDS,
        ("P", "N"),
        ("SP", "SN"),
        (),
        ("P-N", "SP-SN", "P-SP", "P-SN", "N-SP", "N-SN"),
    ),
    "full 6": Harness(
        (*_FULL_WIRES, ("KP", "CP"), ("KN", "CN")),
        _FULL_GRIDS,
        ("P", "N"),
        ("SP", "SN"),
        (),
        ("P-N", "SP-SN", "P-KP", "N-KN", "KP-KN", "P-SP", "P-SN", "N-SP", "N-SN"),
        ("KP", "KN"),
    ),
}


def _elements(harness: Harness) -> dict[str, float]:
    """What can be put into the circuit of a harness, with what each is when nothing is wrong."""
    found = {
        name: ELEMENTS[name]
        for name in (
            *("grid_factor", "lead_factor", "at", "insulation", "shield_insulation"),
            *("electrolytic", "completion_factor", "reading_factor", "reading_offset"),
            *("port_offset", "meter_factor", "meter_offset", "shield_bar"),
        )
    }
    for wire in harness.names:
        found |= {f"joint_{wire.lower()}": 0.0, f"leak_{wire.lower()}": np.inf}
    for one, other in harness.crossings:
        found[_crossing(one, other)] = np.inf
    for node in harness.nodes:
        found[f"leak_at_{node.lower()}"] = np.inf
    for arm, *_ in harness.grids:
        found |= {f"grid_{arm}": 1.0, f"joint_grid_{arm}": 0.0, f"across_{arm}": np.inf}
    found[f"shield_{harness.names[0].lower()}"] = np.inf
    return found


def _crossing(one: str, other: str) -> str:
    return f"short_{one.lower()}_{other.lower()}"


def _readings(harness: Harness) -> dict[str, str]:
    """What can be read of a harness, and its unit."""
    found = dict.fromkeys(harness.pairs, "ohm")
    to_bar = ("insulation", "insulation, polarity reversed", "insulation to shield")
    found |= dict.fromkeys((*to_bar, "shield to bar"), "ohm")
    found |= {f"{wire} to bar": "ohm" for wire in harness.names}
    found |= {f"{wire} to its end": "ohm" for wire in harness.names}
    if harness.signal:
        found["bridge"] = "V/V"
    found["known resistor on the meter"] = "ohm"
    return found


_ELEMENTS = {name: _elements(harness) for name, harness in HARNESSES.items()}
_READINGS = {name: _readings(harness) for name, harness in HARNESSES.items()}
EVERY_ELEMENT = frozenset(ELEMENTS).union(*_ELEMENTS.values())
EVERY_READING: dict[str, str] = dict(MEASURABLE)
for _one in _READINGS.values():
    EVERY_READING |= _one


def harness_of(setup: Setup) -> Harness | None:
    """Harness of a gauge; None for a quarter bridge with three wires, which has its own circuit.

    Raises
    ------
    InputError
        If no such harness is known.
    """
    if setup.harness == QUARTER:
        return None
    if setup.harness not in HARNESSES:
        allowed = "one of " + ", ".join((QUARTER, *HARNESSES))
        raise InputError("harness", setup.harness, allowed)
    return HARNESSES[setup.harness]


def elements_of(setup: Setup) -> frozenset[str]:
    """Elements that the circuit of a gauge has."""
    harness = harness_of(setup)
    return frozenset(ELEMENTS if harness is None else _ELEMENTS[setup.harness])


def names_of(setup: Setup) -> tuple[str, ...]:
    """What can be read of a gauge, in the order of the clouds."""
    return tuple(MEASURABLE if harness_of(setup) is None else _READINGS[setup.harness])


def doubts_of(setup: Setup) -> tuple[str, ...]:
    """What a sound gauge may be off by, in the order of the clouds' last axis."""
    harness = harness_of(setup)
    if harness is None:
        return DOUBTS
    grids = tuple(f"grid {arm}" for arm, *_ in harness.grids)
    wires = tuple(f"wire {wire.lower()}" for wire in harness.names)
    return (*grids, "lead", *wires, "completion", "insulation", "shield")


def predicted(
    setup: Setup, elements: Mapping[str, FloatArray], pins: str = _PINS
) -> dict[str, FloatArray]:
    """Everything of ``names_of`` for any number of sets of elements, without meter errors.

    Parameters
    ----------
    setup : Setup
        Of the sound gauge, in one of ``HARNESSES``.
    elements : mapping of name to array, shape (n,)
        Those of ``elements_of`` that aren't as in a sound gauge; at least one.
    pins : str
        Pins that the wires arrive at, in the order of the harness, with blanks between.

    Returns
    -------
    dict of name to array, shape (n,)
        Infinite where nothing joins two points.

    Raises
    ------
    InputError
        If an element isn't of this harness, or pins aren't its pins in some order.
    """
    known, harness = _ELEMENTS[setup.harness], HARNESSES[setup.harness]
    unknown = sorted(set(elements) - set(known))
    if unknown or not elements:
        raise InputError("elements", ", ".join(unknown) or "none", "among " + ", ".join(known))
    arrived = harness.names if pins == _PINS else tuple(pins.split())
    if sorted(arrived) != sorted(harness.names):
        raise InputError("pins", pins, "in some order: " + " ".join(harness.names))
    size = max(np.size(values) for values in elements.values())
    of = {
        name: np.broadcast_to(np.asarray(elements.get(name, sound), dtype=np.float64), (size,))
        for name, sound in known.items()
    }
    bench = _Bench(setup, harness, of, frozenset(elements), arrived)
    mesh = bench.mesh()
    found = {**bench.by_ohmmeter(mesh), **bench.to_bar(mesh), **bench.by_bridge(mesh)}
    return {name: found[name] for name in _READINGS[setup.harness]}


@dataclass(frozen=True, slots=True)
class _Bench:
    """A harness with what is wrong in it."""

    setup: Setup
    harness: Harness
    of: Mapping[str, FloatArray]
    given: frozenset[str]
    arrived: tuple[str, ...]

    def mesh(self) -> Mesh:
        """Wires, grids and what is wrong, from the pins of the plug on; pins begin with a blank."""
        of, at = self.of, self.of["at"]
        lead = self.setup.lead_resistance * of["lead_factor"]
        near = np.clip(lead * at, _TOUCH, None)
        parts = []
        for (wire, node), pin in zip(self.harness.wires, self.arrived, strict=True):
            far = np.clip(lead * (1 - at) + of[f"joint_{wire.lower()}"], _TOUCH, OPEN)
            parts += [(_pin(pin), f"X{wire}", near), (f"X{wire}", node, far)]
        for arm, first, second in self.harness.grids:
            grid = self.setup.gauge_resistance * of["grid_factor"] * of[f"grid_{arm}"]
            joint = np.clip(of[f"joint_grid_{arm}"], _TOUCH, OPEN)
            parts += [
                (first, f"G{arm}", np.clip(grid, _TOUCH, OPEN)),
                (f"G{arm}", second, joint),
            ]
        for name, (first, second) in self.places().items():
            if name in self.given:
                parts.append((first, second, np.clip(of[name], _TOUCH, OPEN)))
        pins = [_pin(wire) for wire in self.harness.names]
        return Mesh(parts).left((*pins, *self.harness.nodes, "BAR", "SH"))

    def places(self) -> dict[str, tuple[str, str]]:
        """Nodes between which each path that shouldn't be there lies."""
        harness = self.harness
        found = {f"across_{arm}": (first, second) for arm, first, second in harness.grids}
        for one, other in harness.crossings:
            found[_crossing(one, other)] = (f"X{one}", f"X{other}")
        found |= {f"leak_at_{node.lower()}": (node, "BAR") for node in harness.nodes}
        found |= {f"leak_{wire.lower()}": (f"X{wire}", "BAR") for wire in harness.names}
        first = harness.names[0]
        return found | {f"shield_{first.lower()}": (f"X{first}", "SH"), "shield_bar": ("SH", "BAR")}

    def between(self, mesh: Mesh, first: str, second: str) -> FloatArray:
        return ohms_between(mesh, first, second, self.of["at"].shape)

    def by_ohmmeter(self, mesh: Mesh) -> dict[str, FloatArray]:
        of = self.of
        true = {}
        for pair in self.harness.pairs:
            first, second = pair.split("-")
            true[pair] = self.between(mesh, _pin(first), _pin(second))
        for (wire, node), pin in zip(self.harness.wires, self.arrived, strict=True):
            true[f"{pin} to bar"] = self.between(mesh, _pin(pin), "BAR")
            true[f"{wire} to its end"] = self.between(mesh, _pin(pin), node)
        true["known resistor on the meter"] = np.full(of["at"].shape, self.setup.known_resistance)
        return {name: of["meter_factor"] * ohm + of["meter_offset"] for name, ohm in true.items()}

    def to_bar(self, mesh: Mesh) -> dict[str, FloatArray]:
        of = self.of
        first, *others = (_pin(wire) for wire in self.harness.names)
        tied = mesh.joined(dict.fromkeys(others, first))
        insulation = beside(self.between(tied, first, "BAR"), of["insulation"])
        shield = beside(self.between(mesh, "SH", "BAR"), of["shield_insulation"])
        return {
            "insulation": insulation,
            "insulation, polarity reversed": insulation * of["electrolytic"],
            "insulation to shield": beside(self.between(tied, first, "SH"), of["insulation"]),
            "shield to bar": shield,
        }

    def by_bridge(self, mesh: Mesh) -> dict[str, FloatArray]:
        """Output over supply, or over what is sensed of it."""
        harness, of = self.harness, self.of
        if not harness.signal:
            return {}
        plus, minus = (_pin(pin) for pin in harness.supply)
        high, low = (_pin(pin) for pin in harness.signal)
        fixed = np.full(of["at"].shape, self.setup.completion_resistance)
        parts = [(high, low, np.full_like(fixed, _INPUT))]
        for place, (first, second) in enumerate(harness.completions):
            arm = fixed * (of["completion_factor"] if place == 0 else 1.0)
            parts.append((_pin(first), _pin(second), arm))
        kept = [plus, minus, high, low]
        if harness.sensed:
            kept += [_pin(pin) for pin in harness.sensed]
            parts.append((kept[-2], kept[-1], np.full_like(fixed, _INPUT)))
        mesh = mesh.with_parts(parts).left(kept)
        ratio = mesh.divided(high, plus, minus) - mesh.divided(low, plus, minus)
        if harness.sensed:
            sensed = mesh.divided(kept[-2], plus, minus) - mesh.divided(kept[-1], plus, minus)
            ratio = np.clip(ratio / np.where(np.abs(sensed) < 1e-3, 1e-3, sensed), -10.0, 10.0)
        return {"bridge": of["reading_factor"] * ratio + of["reading_offset"] + of["port_offset"]}


def _pin(name: str) -> str:
    """Node of a pin, apart from nodes at the gauge with the same letter."""
    return name if name in ("EP", "EN", "M") else f"pin {name}"
