"""Made-up gauges on a bench, sound and faulty, with meters that are off: by a solver of its own.

Nothing here is taken from the package: circuits are lists of resistors, solved by nodal equations
in this file, and every fault is drawn from wider ranges than the fault finder is told.
"""

from dataclasses import dataclass, field

import numpy as np

OPEN = np.inf
PAIRS = ("A-B", "A-C", "B-C")


def resistance(parts, first, second):
    """What an ohmmeter reads: (node, node, ohm) parts, by nodal equations."""
    parts = [(a, b, ohm) for a, b, ohm in parts if ohm < 1e11]
    merged = {}

    def root(node):
        while merged.get(node, node) != node:
            node = merged[node]
        return node

    for a, b, ohm in parts:
        if ohm < 1e-9:
            merged[root(a)] = root(b)
    parts = [(root(a), root(b), ohm) for a, b, ohm in parts if ohm >= 1e-9 and root(a) != root(b)]
    first, second = root(first), root(second)
    if first == second:
        return 0.0
    reached = {second}
    while True:
        more = {n for a, b, _ in parts for n in (a, b) if (a in reached) or (b in reached)}
        if more <= reached:
            break
        reached |= more
    if first not in reached:
        return OPEN
    nodes = sorted(reached - {second})
    at = {node: n for n, node in enumerate(nodes)}
    matrix = np.zeros((len(nodes), len(nodes)))
    for a, b, ohm in parts:
        if a not in reached:
            continue
        for one, other in ((a, b), (b, a)):
            if one in at:
                matrix[at[one], at[one]] += 1 / ohm
                if other in at:
                    matrix[at[one], at[other]] -= 1 / ohm
    current = np.zeros(len(nodes))
    current[at[first]] = 1.0
    return float(np.linalg.solve(matrix, current)[at[first]])


def divider(parts, plus, minus, out):
    """Voltage of a node with one volt between two others, by nodal equations."""
    parts = [(a, b, max(ohm, 1e-5)) for a, b, ohm in parts if ohm < 1e11]
    nodes = sorted({n for a, b, _ in parts for n in (a, b)} | {out} - {plus, minus})
    nodes = [n for n in nodes if n not in (plus, minus)]
    at = {node: n for n, node in enumerate(nodes)}
    matrix, right = 1e-13 * np.eye(len(nodes)), np.zeros(len(nodes))
    for a, b, ohm in parts:
        for one, other in ((a, b), (b, a)):
            if one in at:
                matrix[at[one], at[one]] += 1 / ohm
                if other in at:
                    matrix[at[one], at[other]] -= 1 / ohm
                elif other == plus:
                    right[at[one]] += 1 / ohm
    return float(np.linalg.solve(matrix, right)[at[out]]) if out in at else float(out == plus)


@dataclass
class Bench:
    """A gauge with three leads as it truly is."""

    nominal: float
    wire: float
    grid: float
    wires: list
    completion: float
    insulation: float
    pins: str = "ABC"
    joint: list = field(default_factory=lambda: [0.0, 0.0, 0.0])
    joint_grid: float = 0.0
    extra: list = field(default_factory=list)
    at: float = 0.5
    offset: float = 0.0
    factor: float = 1.0
    parallel_at_plug: float = OPEN

    def parts(self):
        lead = dict(zip("ABC", self.wires, strict=True))
        found = [("T1", "G", self.grid), ("G", "T2", self.joint_grid), *self.extra]
        tab = {"A": "T1", "B": "T2", "C": "T2"}
        for letter, pin, joint in zip("ABC", self.pins, self.joint, strict=True):
            found.append((f"pin {pin}", f"X{letter}", lead[letter] * self.at))
            found.append((f"X{letter}", tab[letter], lead[letter] * (1 - self.at) + joint))
        if self.parallel_at_plug < OPEN:
            found.append(("pin A", "pin B", self.parallel_at_plug))
        return found

    def truth(self, shunt):
        """Every reading without meter errors."""
        parts = self.parts()
        tied = [*parts, ("pin A", "pin B", 0.0), ("pin A", "pin C", 0.0)]
        to_bar = resistance(tied, "pin A", "BAR")
        instrument = [
            ("plus", "pin B", self.completion),
            ("plus", "M", self.nominal),
            ("M", "pin A", self.nominal),
            ("pin C", "M", 1e9),
        ]
        whole = [*parts, *instrument]
        plain = self._ratio(whole)
        shunted = self._ratio([*whole, ("pin A", "pin C", shunt)])
        return {
            "A-B": resistance(parts, "pin A", "pin B"),
            "A-C": resistance(parts, "pin A", "pin C"),
            "B-C": resistance(parts, "pin B", "pin C"),
            "insulation": 1 / (1 / to_bar + 1 / self.insulation),
            "A to bar": resistance(parts, "pin A", "BAR"),
            "B to bar": resistance(parts, "pin B", "BAR"),
            "tab 1 to tab 2": resistance(parts, "T1", "T2"),
            "A to tab 1": resistance(parts, f"pin {self.pins[0]}", "T1"),
            "bridge": self.factor * plain + self.offset,
            "shunt step": self.factor * (shunted - plain),
        }

    @staticmethod
    def _ratio(parts):
        out, middle = (divider(parts, "plus", "pin A", node) for node in ("pin C", "M"))
        return out - middle


def sound(rng, nominal, wire):
    """A gauge within its card, with a cable longer or shorter than recorded."""
    length = wire * (1 + rng.uniform(-0.08, 0.08))
    return Bench(
        nominal,
        wire,
        nominal * (1 + rng.uniform(-0.005, 0.005)),
        [length + rng.uniform(-0.03, 0.03) for _ in range(3)],
        nominal * (1 + rng.uniform(-0.001, 0.001)),
        10 ** rng.uniform(9.0, 11.5),
    )


def _log(rng, low, high):
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def _joint(place):
    def make(bench, rng):
        bench.joint[place] += _log(rng, 0.03, 2e5)

    return make


def _opened(*places):
    def make(bench, rng):
        bench.at = rng.uniform(0.0, 1.0)
        for place in places:
            bench.joint[place] = OPEN

    return make


def _crush(first, second):
    def make(bench, rng):
        bench.at = rng.uniform(0.02, 0.98)
        bench.extra.append((f"X{first}", f"X{second}", _log(rng, 1e-4, 1.5)))

    return make


def _swap(pins):
    def make(bench, rng):
        bench.pins = pins

    return make


def _leak(node, low=3e2, high=5e8):
    def make(bench, rng):
        bench.extra.append((node, "BAR", _log(rng, low, high)))

    return make


def _grid(low, high):
    def make(bench, rng):
        bench.grid *= rng.uniform(low, high)

    return make


def _both_ends(bench, rng):
    for node in ("T1", "T2"):
        bench.extra.append((node, "BAR", _log(rng, 50.0, 3e6)))


def _across(bench, rng):
    bench.extra.append(("T1", "T2", _log(rng, 200.0, 2e6)))


def _shorted(bench, rng):
    bench.extra.append(("T1", "T2", _log(rng, 1e-5, 0.8)))


def _grid_open(bench, rng):
    bench.joint_grid = OPEN


def _at_grid(bench, rng):
    bench.joint_grid = _log(rng, 0.03, 2e5)


def _longer(bench, rng):
    bench.wires[1] += rng.uniform(0.03, 1.5)


def _other_nominal(bench, rng):
    bench.grid *= 350 / 120 if bench.nominal < 200 else 120 / 350


def _wrong_completion(bench, rng):
    bench.completion *= 350 / 120 if bench.nominal < 200 else 120 / 350


def _bad_port(bench, rng):
    bench.offset = rng.choice([-1, 1]) * rng.uniform(0.002, 0.5)


def _half_setting(bench, rng):
    bench.factor = 0.5


# Fault -> what it does, electrical or not, and causes that B0 calls identical or alike.
OPEN_A = {"grid open", "lead A open", "leads A of two gauges exchanged"}
HIGH_A = {
    "high joint in lead A",
    "high joint between tab 2 and grid",
    "lead A longer",
    "corrosion of tab or foil",
    "grid strained or heated at bonding",
}
SHORTED = {"grid shorted", "all leads on one tab", "cable crushed, all wires"}
LOW_GRID = {
    "grid partly shorted",
    "moisture path across the grid",
    "leaks to the bar at both ends of the grid",
    "two gauges in parallel",
    "grid strained or heated at bonding",
}
LEAK = {
    "leak to the bar at tab 1",
    "leak to the bar at tab 2",
    "leak of the cable to the bar",
    "wet joint to the bar",
    "several gauges leaking to one cage",
    "lead A touches the bar",
    "lead B touches the bar",
    "lead C touches the bar",
    "leaks to the bar at both ends of the grid",
}
PORT = {"port set for a half bridge, or defective", "killed by a surge"}
FAULTS = {
    "grid open": (_grid_open, OPEN_A),
    "lead A open": (_opened(0), OPEN_A),
    "lead B open": (_opened(1), {"lead B open"}),
    "lead C open": (_opened(2), {"lead C open"}),
    "two leads open": (_opened(0, 2), {"two or three leads open"}),
    "grid shorted": (_shorted, SHORTED),
    "crush A to B": (_crush("A", "B"), {"crush A to B"}),
    "crush A to C": (_crush("A", "C"), {"crush A to C"}),
    "crush B to C": (_crush("B", "C"), {"crush B to C"}),
    "grid partly shorted": (_grid(0.25, 0.94), LOW_GRID),
    "moisture path across the grid": (_across, LOW_GRID),
    "leak at tab 1": (_leak("T1"), LEAK),
    "leak at tab 2": (_leak("T2"), LEAK),
    "leak of the cable": (_leak("XB", 1e-2), LEAK),
    "leaks at both ends": (_both_ends, LEAK | LOW_GRID),
    "A and B swapped": (_swap("BAC"), {"A and B swapped"}),
    "A and C swapped": (_swap("CBA"), {"A and C swapped"}),
    "high joint in A": (_joint(0), HIGH_A),
    "high joint in B": (_joint(1), {"high joint in lead B", "lead B longer"}),
    "high joint in C": (_joint(2), {"high joint in lead C", "lead C longer"}),
    "high joint at the grid": (_at_grid, HIGH_A),
    "lead B longer": (_longer, {"high joint in lead B", "lead B longer"}),
    "other nominal": (
        _other_nominal,
        {"gauge of 350 Ω where 120 Ω is expected", "gauge of 120 Ω where 350 Ω is expected"},
    ),
    "two in parallel": (_grid(0.498, 0.502), LOW_GRID),
    "two in series": (_grid(1.995, 2.005), {"two gauges in series", *HIGH_A}),
    "wrong completion": (
        _wrong_completion,
        {"completion of 350 Ω set for 120 Ω", "completion of 120 Ω set for 350 Ω", *PORT},
    ),
    "bad port": (_bad_port, PORT),
    "half bridge reckoned": (_half_setting, {"half bridge reckoned for a quarter"}),
}
TWO = (
    ("high joint in B", "leak at tab 1"),
    ("high joint in A", "leak at tab 1"),
    ("crush B to C", "leak at tab 1"),
    ("high joint in C", "leak at tab 1"),
    ("high joint in B", "high joint in C"),
    ("high joint in A", "high joint in B"),
)


def _all_joints(bench, rng):
    for place in range(3):
        bench.joint[place] += _log(rng, 2.0, 200.0)


def _left_in_plug(bench, rng):
    bench.parallel_at_plug = _log(rng, 80.0, 5e3)


def _two_crushes(bench, rng):
    _crush("A", "B")(bench, rng)
    bench.extra.append(("pin B", "pin C", _log(rng, 0.05, 1.0)))


UNLISTED = {
    "all joints high": _all_joints,
    "resistor left in the plug": _left_in_plug,
    "crushes at two places": _two_crushes,
}


@dataclass(frozen=True)
class Hand:
    """A meter as certified (limits), its digit and its end."""

    share: float
    fixed: float
    digit: float
    highest: float


OHMMETER = Hand(5e-4, 0.03, 0.01, 2e6)
COARSE = Hand(3e-3, 0.1, 0.1, 2e7)
INSULATION = Hand(0.05, 1e5, 1e5, 2e9)
BRIDGE = Hand(1e-3, 1e-5, 1e-6, 0.05)


def hand_of(what, ohmmeter):
    if what in ("bridge", "shunt step"):
        return BRIDGE
    return INSULATION if what == "insulation" else ohmmeter


@dataclass(frozen=True)
class Shown:
    """A reading as a person writes it down: value or ``above``/``below`` with its limit."""

    what: str
    value: float
    bound: str
    hand: Hand


def shown(truth, whats, ohmmeter, rng):
    """Readings of meters with a gain and an offset of their own, one set for each meter."""
    off = {hand: rng.uniform(-1.0, 1.0, size=2) for hand in (ohmmeter, INSULATION, BRIDGE)}
    found = []
    for what in whats:
        hand, true = hand_of(what, ohmmeter), truth[what]
        if not np.isfinite(true):
            found.append(Shown(what, hand.highest, "above", hand))
            continue
        gain, zero = off[hand]
        value = true * (1 + gain * hand.share) + zero * hand.fixed
        value += 0.3 * hand.digit * rng.standard_normal()
        value = round(value / hand.digit) * hand.digit
        if abs(value) >= hand.highest:
            sign = "above" if value > 0 else "below"
            found.append(Shown(what, float(np.sign(value)) * hand.highest, sign, hand))
        elif what == "insulation" and value <= 0:
            found.append(Shown(what, hand.fixed, "below", hand))
        else:
            found.append(Shown(what, max(value, 0.0) if hand is ohmmeter else value, "", hand))
    return tuple(found)


def _meter_doubt(hand, value):
    """Standard uncertainty by limits of gain and offset and by the digit."""
    return float(np.sqrt((hand.share * value) ** 2 / 3 + hand.fixed**2 / 3 + (hand.digit / 3) ** 2))


def _record_doubt(what, bench, known_before):
    """What card and cable leave open, unless the gauge was read at an earlier gate."""
    grid = (0.0003 if known_before else 0.003) * bench.nominal
    wire = (0.01 if known_before else 0.05) * bench.wire
    if what in ("A-B", "A-C"):
        return float(np.hypot(grid, 2 * wire))
    if what == "B-C":
        return 2 * wire
    # A zero of the bridge was never taken before: the grid is what its card says.
    return 0.003 / 4 if what == "bridge" else 0.0


def exceeds(bench, truths, readings, *, records=False, known_before=False):
    """Whether some reading differs from the sound gauge's by more than the doubt (k = 2).

    The doubt is the meter's alone, or with ``records`` also what card and cable leave open; the
    difference of A-B and A-C knows no card. ``truths`` are the sound and the faulty gauge's.
    """
    sound_truth, truth = truths
    exact = {}
    for one in readings:
        was, is_now, hand = sound_truth[one.what], truth[one.what], one.hand
        if one.bound or not np.isfinite(is_now):
            if (was < hand.highest) != (is_now < hand.highest):
                return True
            if one.bound == "below" and was > -hand.highest:
                return True
            continue
        exact[one.what] = (is_now - min(was, hand.highest), _meter_doubt(hand, is_now))
        doubt = exact[one.what][1]
        if records:
            doubt = np.hypot(doubt, _record_doubt(one.what, bench, known_before))
        if one.what == "insulation" and records:
            # Sound insulation starts at 1000 Mohm, and is no sharper than that.
            if one.value + 2 * doubt < 1e9:
                return True
            continue
        if abs(exact[one.what][0]) > 2 * doubt:
            return True
    if {"A-B", "A-C"} <= exact.keys():
        apart = exact["A-B"][0] - exact["A-C"][0]
        return bool(abs(apart) > 2 * np.hypot(0.03, exact["A-B"][1]))
    return False


def rule_table(nominal, wire, readings):
    """The plain table of a paper sheet: one line for each pattern, in the order of B0."""
    of = {one.what: one for one in readings}
    value = {w: (np.inf if r.bound == "above" else r.value) for w, r in of.items()}
    p, q, s = (value.get(w, np.nan) for w in PAIRS)
    gauge, two = nominal + 2 * wire, 2 * wire
    is_open = {w for w in PAIRS if value.get(w) == np.inf}
    small = {w for w in PAIRS if value.get(w, np.inf) < two + 2}
    for pattern, label in (
        ({"A-B", "A-C", "B-C"}, "two or three leads open"),
        ({"A-B", "A-C"}, "lead A open"),
        ({"A-B", "B-C"}, "lead B open"),
        ({"A-C", "B-C"}, "lead C open"),
    ):
        if is_open == pattern:
            return label
    if is_open:
        return "none of these"
    if {"A-B", "A-C"} <= small:
        if p < q - 0.2:
            return "crush A to B"
        return "crush A to C" if q < p - 0.2 else "grid shorted"
    if "A-C" in small:
        return "A and B swapped"
    if "A-B" in small:
        return "A and C swapped"
    return _rule_by_size(p, q, s, (nominal, gauge, two), value)


def _rule_by_size(p, q, s, sizes, value):
    nominal, gauge, two = sizes
    near = 0.01 * nominal
    if s < two - 0.2:
        return "crush B to C"
    if p > gauge + near and q <= gauge + near:
        return "high joint in lead B"
    if q > gauge + near and p <= gauge + near:
        return "high joint in lead C"
    mean = np.nanmean([p, q]) - two if np.isfinite([p, q]).any() else nominal
    for times, label in (
        (350 / 120, "gauge of 350 Ω where 120 Ω is expected"),
        (120 / 350, "gauge of 120 Ω where 350 Ω is expected"),
        (0.5, "two gauges in parallel"),
        (2.0, "two gauges in series"),
    ):
        if abs(mean / nominal / times - 1) < 0.02:
            return label
    if mean > nominal + near:
        return "high joint in lead A"
    if mean < nominal - near:
        return "grid partly shorted"
    if value.get("insulation", np.inf) < 1e9:
        return "leak to the bar at tab 1"
    if abs(value.get("bridge", 0.0)) > 0.005:
        return "port set for a half bridge, or defective"
    return "healthy"
