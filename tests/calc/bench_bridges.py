"""Made-up gauges in half and full bridges, and with two, four and six wires, sound and faulty.

As in ``benches``: nothing of the package, resistors solved by nodal equations, wider ranges than
the fault finder is told. A sound bridge is drawn first, then one thing is done to it.
"""

from dataclasses import dataclass, field
from itertools import combinations

import numpy as np

from tests.calc import benches
from tests.calc.benches import OPEN, divider, resistance

# Circuit -> wires with their ends at the gauge, grids by arm, pins of supply and signal, and the
# instrument's own arms. Written from the drawing of each bridge, not from the package.
FULL = {
    "wires": {"P": "cp", "N": "cn", "SP": "csp", "SN": "csn"},
    "grids": {1: ("csp", "cn"), 2: ("cp", "csp"), 3: ("cp", "csn"), 4: ("csn", "cn")},
    "reads": ("P", "N", "SP", "SN"),
    "inside": [],
    "pairs": ("P-N", "SP-SN", "P-SP", "P-SN", "N-SP", "N-SN"),
}
CIRCUITS = {
    "quarter 2": {
        "wires": {"A": "t1", "B": "t2"},
        "grids": {1: ("t1", "t2")},
        "reads": ("plus", "A", "B", "middle"),
        "inside": [("plus", "B"), ("plus", "middle"), ("middle", "A")],
        "pairs": ("A-B",),
    },
    "quarter 4": {
        "wires": {"A": "t1", "D": "t1", "B": "t2", "C": "t2"},
        "grids": {1: ("t1", "t2")},
        "reads": None,
        "inside": [],
        "pairs": ("A-B", "A-D", "B-C", "A-C", "D-B", "D-C"),
    },
    "half 3": {
        "wires": {"A": "e1", "C": "mid", "B": "e2"},
        "grids": {1: ("e1", "mid"), 2: ("mid", "e2")},
        "reads": ("B", "A", "C", "middle"),
        "inside": [("B", "middle"), ("middle", "A")],
        "pairs": ("A-B", "A-C", "B-C"),
    },
    "opposite 4": {
        "wires": {"A": "t1", "B": "t2", "C": "t3", "D": "t4"},
        "grids": {1: ("t1", "t2"), 3: ("t3", "t4")},
        "reads": ("C", "A", "B", "D"),
        "inside": [("C", "B"), ("D", "A")],
        "pairs": ("A-B", "C-D"),
    },
    "full 4": FULL,
    "full 6": {
        **FULL,
        "wires": {**FULL["wires"], "KP": "cp", "KN": "cn"},
        "pairs": (*FULL["pairs"], "P-KP", "N-KN", "KP-KN"),
    },
}
SHOWN = {"SP": "S+", "SN": "S−", "KP": "K+", "KN": "K−"}


@dataclass
class Bridge:
    """One bridge as it truly is."""

    circuit: str
    nominal: float
    wire: float
    wires: dict
    grids: dict
    insulation: float
    pins: dict
    inside: float
    joint: dict = field(default_factory=dict)
    broken: dict = field(default_factory=dict)
    extra: list = field(default_factory=list)
    at: float = 0.5

    def parts(self):
        made = CIRCUITS[self.circuit]
        found = list(self.extra)
        for wire, end in made["wires"].items():
            ohm = self.wires[wire]
            found.append((f"pin {self.pins[wire]}", f"X{wire}", ohm * self.at))
            found.append((f"X{wire}", end, ohm * (1 - self.at) + self.joint.get(wire, 0.0)))
        for arm, (one, other) in made["grids"].items():
            found.append((one, f"g{arm}", self.grids[arm]))
            found.append((f"g{arm}", other, self.broken.get(arm, 0.0)))
        return found

    def truth(self):
        made, parts = CIRCUITS[self.circuit], self.parts()
        first, *others = (f"pin {wire}" for wire in made["wires"])
        tied = [*parts, *((first, other, 0.0) for other in others)]
        found = {
            pair: resistance(parts, *(f"pin {wire}" for wire in pair.split("-")))
            for pair in made["pairs"]
        }
        found["insulation"] = 1 / (1 / resistance(tied, first, "BAR") + 1 / self.insulation)
        if made["reads"]:
            pins = [name if name in ("plus", "middle") else f"pin {name}" for name in made["reads"]]
            plus, minus, high, low = pins
            inside = [
                tuple(n if n in ("plus", "middle") else f"pin {n}" for n in ends)
                for ends in made["inside"]
            ]
            whole = [*parts, *((*ends, self.inside) for ends in inside), (high, low, 1e9)]
            volts = {n: divider(whole, plus, minus, n) for n in (high, low)}
            over = 1.0
            if "KP" in made["wires"]:
                whole.append(("pin KP", "pin KN", 1e9))
                over = divider(whole, plus, minus, "pin KP") - divider(whole, plus, minus, "pin KN")
            if abs(over) > 1e-3:
                found["bridge"] = (volts[high] - volts[low]) / over
        return found


def sound(rng, circuit, nominal, wire):
    made = CIRCUITS[circuit]
    length = wire * (1 + rng.uniform(-0.08, 0.08))
    return Bridge(
        circuit,
        nominal,
        wire,
        {w: length + rng.uniform(-0.03, 0.03) for w in made["wires"]},
        {arm: nominal * (1 + rng.uniform(-0.005, 0.005)) for arm in made["grids"]},
        10 ** rng.uniform(9.0, 11.5),
        {w: w for w in made["wires"]},
        nominal,
    )


def _log(rng, low, high):
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def faulty(rng, bridge):
    """One fault put in; its kind, and what it may be called."""
    made = CIRCUITS[bridge.circuit]
    wires, arms = list(made["wires"]), list(made["grids"])
    wire = wires[rng.integers(len(wires))]
    arm = arms[rng.integers(len(arms))]
    kind = KINDS[rng.integers(len(KINDS))]
    if kind == "lead open":
        bridge.joint[wire] = OPEN
        names = {f"lead {SHOWN.get(wire, wire)} open"}
    elif kind == "grid open":
        bridge.broken[arm] = OPEN
        names = {f"{_grid(bridge, arm)} open"}
    elif kind == "high joint":
        bridge.joint[wire] = _log(rng, 0.5, 2e5)
        names = {f"high joint in lead {SHOWN.get(wire, wire)}"}
        names |= {f"lead {SHOWN.get(wire, wire)} longer"}
    elif kind == "grid shorted":
        bridge.extra.append((*made["grids"][arm], _log(rng, 1e-4, 0.8)))
        names = {f"{_grid(bridge, arm)} shorted"}
    elif kind == "grid partly shorted":
        bridge.grids[arm] *= rng.uniform(0.25, 0.94)
        names = {f"{_grid(bridge, arm)} partly shorted"}
    elif kind == "crush":
        pairs = list(combinations(wires, 2))
        one, other = pairs[rng.integers(len(pairs))]
        bridge.at = rng.uniform(0.02, 0.98)
        bridge.extra.append((f"X{one}", f"X{other}", _log(rng, 1e-4, 1.5)))
        names = {f"crush {SHOWN.get(one, one)} to {SHOWN.get(other, other)}"}
    else:
        node = next(iter(dict.fromkeys(made["wires"].values())))
        bridge.extra.append((node, "BAR", _log(rng, 3e2, 3e8)))
        names = {"leak"}
    return kind, alike(bridge, names)


KINDS = (
    *("lead open", "grid open", "high joint", "grid shorted", "grid partly shorted", "crush"),
    "leak",
)


def _grid(bridge, arm):
    return "grid" if len(bridge.grids) == 1 else f"grid {arm}"


# Grids with the leads that no pair reading can part from them, by drawing.
SERIES = {
    "quarter 2": {1: ("A", "B")},
    "quarter 4": {},
    "half 3": {1: ("A",), 2: ("B",)},
    "opposite 4": {1: ("A", "B"), 3: ("C", "D")},
    "full 4": {},
    "full 6": {},
}


def alike(bridge, names):
    """Names of everything that gives the same pairs, insulation and bridge."""
    found = set(names)
    for arm, leads in SERIES[bridge.circuit].items():
        grid = _grid(bridge, arm)
        before = "" if grid == "grid" else f"{grid}: "
        opened = {f"{grid} open", *(f"lead {lead} open" for lead in leads)}
        if leads == ("A", "B") or leads == ("C", "D"):
            opened |= {"all leads open"} if bridge.circuit == "quarter 2" else set()
            opened |= {f"leads {leads[0]} and {leads[1]} open"}
        high = {
            f"high joint at the {grid}",
            f"{before}corrosion of tab or foil",
            f"{before}grid strained or heated at bonding",
            *(f"high joint in lead {lead}" for lead in leads),
            *(f"lead {lead} longer" for lead in leads),
        }
        for together in (opened, high):
            if found & together:
                found |= together
    for arm, (one, other) in CIRCUITS[bridge.circuit]["grids"].items():
        grid = _grid(bridge, arm)
        lower = {f"{grid} partly shorted"}
        if len(bridge.grids) == 1 or bridge.circuit in ("half 3", "opposite 4", "full 4", "full 6"):
            where = "the grid" if grid == "grid" else grid
            lower |= {
                f"moisture path across {where}",
                f"leaks to the bar at both ends of {where}",
                f"{grid}: grid strained or heated at bonding",
                "grid strained or heated at bonding",
            }
        if found & lower:
            found |= lower
        ends = {w for w, end in CIRCUITS[bridge.circuit]["wires"].items() if end in (one, other)}
        short = {f"{grid} shorted"}
        if bridge.circuit in ("quarter 2", "opposite 4"):
            short |= {f"crush {a} to {b}" for a, b in combinations(sorted(ends), 2)}
        if found & short:
            found |= short
    return found


def is_right(cause, names):
    """Whether a cause names what is there; any leak to the bar names a leak."""
    label = cause.label
    if "leak" in names and not cause.parts:
        return label.startswith(("leak", "wet joint")) or label.endswith("touches the bar")
    return label in names


@dataclass(frozen=True)
class Case:
    """One bridge with what was read of it."""

    circuit: str
    size: tuple
    kind: str
    names: frozenset
    readings: tuple
    is_clear: bool


def drawn(rng, circuit):
    """One bridge, a quarter healthy; readings left out as people leave them out."""
    size = ((120.0, 0.6), (350.0, 1.34), (350.0, 3.0))[rng.integers(3)]
    bridge = sound(rng, circuit, *size)
    was = bridge.truth()
    kind, names = "healthy", {"healthy"}
    if rng.uniform() > 0.25:
        kind, names = faulty(rng, bridge)
    truth = bridge.truth()
    left_out = {"insulation": 0.2, "bridge": 0.5}
    whats = [w for w in truth if rng.uniform() > left_out.get(w, 0.1)]
    readings = benches.shown(truth, whats, benches.OHMMETER, rng)
    clear = any(_clear(was, truth, one, bridge) for one in readings)
    return Case(circuit, size, kind, frozenset(names), readings, clear)


def _clear(was, truth, one, bridge):
    """Whether a reading is off by more than meter and records leave open (k = 2)."""
    what, hand = one.what, one.hand
    if one.bound:
        return was.get(what, OPEN) < hand.highest
    if what == "insulation":
        return one.value < 1e9 - 2 * (hand.share * one.value + hand.fixed)
    if what not in was:
        return False
    records = 0.003 / 4 * len(bridge.grids) ** 0.5 if what == "bridge" else 0.0
    if what != "bridge":
        records = np.hypot(0.003 * bridge.nominal if was[what] > 20 else 0.0, 0.1 * bridge.wire)
    off = abs(truth[what] - min(was[what], hand.highest))
    return off > 2 * np.hypot(records, benches._meter_doubt(hand, truth[what]))
