"""Causes of a gauge in another circuit, made from those that are known of three leads.

The list of faults speaks of leads A, B and C. What it says of one lead, how often it is met and
between which values it lies, holds for each wire of another harness; of the grid, for each grid.
"""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import combinations

from gaugewright.calc.diagnosis_causes import Cause, Effort, Range
from gaugewright.calc.diagnosis_circuit import Setup
from gaugewright.calc.diagnosis_harness import (
    EVERY_READING,
    Harness,
    elements_of,
    harness_of,
    names_of,
)

__all__ = ["causes_of", "efforts_of", "like_of", "node_shown", "reading_shown", "wire_shown"]

_WIRES = {"SP": "S+", "SN": "S−", "KP": "K+", "KN": "K−"}
_NODES = {
    "T1": "tab 1",
    "T2": "tab 2",
    "E1": "the end of grid 1",
    "E2": "the end of grid 2",
    "MID": "the middle",
    "TA": "the tab of lead A",
    "TB": "the tab of lead B",
    "TC": "the tab of lead C",
    "TD": "the tab of lead D",
    "CP": "corner P",
    "CN": "corner N",
    "CSP": "corner S+",
    "CSN": "corner S−",
}
# Only of a grid on its own with three leads: elsewhere there is no such thing, or it is made anew.
_ONLY_THREE = frozenset({"leads A of two gauges exchanged", "several gauges leaking to one cage"})
_ONLY_QUARTER = frozenset({"half bridge reckoned for a quarter", "read with two wires"})
_ONE_GRID = frozenset({"two gauges in parallel", "two gauges in series"})

_Maker = Callable[[Harness, Cause], Iterator[Cause]]


def wire_shown(name: str) -> str:
    """Name of a wire for a person.

    Parameters
    ----------
    name : str
        As in a harness.

    Returns
    -------
    str
        With signs for the letters P and N of signal and sense.
    """
    return _WIRES.get(name, name)


def reading_shown(what: str) -> str:
    """Name of a reading for a person.

    Parameters
    ----------
    what : str
        As in a harness.

    Returns
    -------
    str
        With signs for the letters P and N of signal and sense.
    """
    for name, shown in _WIRES.items():
        what = re.sub(rf"\b{name}\b", shown, what)
    return what


def node_shown(node: str) -> str:
    """Name of a node at the gauge for a person.

    Parameters
    ----------
    node : str
        As in a harness.

    Returns
    -------
    str
        A tab, a corner, or where two grids meet.
    """
    return _NODES[node]


def causes_of(setup: Setup, causes: Sequence[Cause]) -> tuple[Cause, ...]:
    """Causes that a gauge in this harness can have.

    Parameters
    ----------
    setup : Setup
        Of the sound gauge.
    causes : sequence of Cause
        As known of three leads, without two at once.

    Returns
    -------
    tuple of Cause
        The same for three leads. Else those of wires and grids are made for each of its own, and
        those that need something it hasn't got are left out.
    """
    harness = harness_of(setup)
    if harness is None:
        return tuple(causes)
    known = elements_of(setup)
    found: dict[str, Cause] = {}
    for cause in causes:
        if cause.label in _MADE:
            made = tuple(_MADE[cause.label](harness, cause))
        elif _stays(harness, cause, known):
            made = (cause,)
        else:
            made = ()
        for one in made:
            found.setdefault(one.label, one)
    return tuple(found.values())


def _stays(harness: Harness, cause: Cause, known: frozenset[str]) -> bool:
    if cause.label in _ONLY_THREE or cause.pins != "ABC":
        return False
    if cause.label in _ONLY_QUARTER | _ONE_GRID and len(harness.grids) > 1:
        return False
    elements = {one.element for one in cause.ranges}
    is_set = "completion_factor" in elements
    return elements <= known and not (is_set and not _is_completed(harness))


def _is_completed(harness: Harness) -> bool:
    """Whether a fixed arm of the instrument stands beside a grid, and may be set wrong."""
    ends = {node for _, node in harness.completions}
    return bool(ends & (set(harness.signal) - {"M"}))


def _moved(ranges: Sequence[Range], names: Mapping[str, str]) -> tuple[Range, ...]:
    return tuple(replace(one, element=names.get(one.element, one.element)) for one in ranges)


def _pairs_with(harness: Harness, wire: str) -> str:
    return ", ".join(pair for pair in harness.pairs if wire in pair.split("-"))


def _open(harness: Harness, like: Cause) -> Iterator[Cause]:
    for wire in harness.names:
        shown = wire_shown(wire)
        yield replace(
            like,
            label=f"lead {shown} open",
            ranges=(Range(f"joint_{wire.lower()}", 1e12, 1e12),),
            floats=wire in harness.signal or wire in harness.sensed,
            symptom=f"open: {_pairs_with(harness, wire)}",
            check=f"the pairs without {shown} are as they should be",
        )


def _open_all(harness: Harness, like: Cause) -> Iterator[Cause]:
    ranges = tuple(Range(f"joint_{wire.lower()}", 1e12, 1e12) for wire in harness.names)
    yield replace(like, label="all leads open", ranges=ranges, floats=True)
    if len(harness.names) == 2:
        return
    for one, other in harness.crossings:
        shown = f"leads {wire_shown(one)} and {wire_shown(other)} open"
        both = tuple(Range(f"joint_{wire.lower()}", 1e12, 1e12) for wire in (one, other))
        prior = like.prior / len(harness.crossings)
        yield replace(like, label=shown, prior=prior, ranges=both, floats=True)


def _high(harness: Harness, like: Cause) -> Iterator[Cause]:
    for wire in harness.names:
        yield replace(
            like,
            label=f"high joint in lead {wire_shown(wire)}",
            ranges=_moved(like.ranges, {"joint_b": f"joint_{wire.lower()}"}),
            symptom=f"more than it should be, all alike: {_pairs_with(harness, wire)}",
            check="solve the pairs: this wire isn't like its fellows",
        )


def _longer(harness: Harness, like: Cause) -> Iterator[Cause]:
    for wire in harness.names:
        yield replace(
            like,
            label=f"lead {wire_shown(wire)} longer",
            ranges=_moved(like.ranges, {"joint_b": f"joint_{wire.lower()}"}),
            symptom=f"somewhat more than it should be: {_pairs_with(harness, wire)}",
            check="solve the pairs: this wire isn't like its fellows",
        )


def _grids(element: str, made: str, label: str) -> _Maker:
    """Causes of each grid from one of the grid."""

    def make(harness: Harness, like: Cause) -> Iterator[Cause]:
        single = len(harness.grids) == 1
        for arm, *_ in harness.grids:
            name = label if single else label.replace("grid", f"grid {arm}", 1)
            ranges = _moved(like.ranges, {element: made.format(arm)})
            check = like.check if single else "pairs across this grid against those across others"
            yield replace(like, label=name, ranges=ranges, check=check)

    return make


def _strained(harness: Harness, like: Cause) -> Iterator[Cause]:
    single = len(harness.grids) == 1
    for arm, *_ in harness.grids:
        label = like.label if single else f"grid {arm}: {like.label}"
        yield replace(like, label=label, ranges=_moved(like.ranges, {"grid_factor": f"grid_{arm}"}))


def _other_kind(harness: Harness, like: Cause) -> Iterator[Cause]:
    yield like
    if len(harness.grids) > 1:
        yield from _strained(harness, like)


def _leak(harness: Harness, like: Cause) -> Iterator[Cause]:
    element = like.ranges[0].element
    for place, node in enumerate(harness.nodes):
        yield replace(
            like,
            label=f"leak to the bar at {node_shown(node)}",
            pairs=like.pairs and place == 0,
            prior=2 * like.prior / len(harness.nodes),
            ranges=_moved(like.ranges, {element: f"leak_at_{node.lower()}"}),
            check="each lead to the bar: the nearest in ohms names the end",
        )


def _wet(harness: Harness, like: Cause) -> Iterator[Cause]:
    node = harness.nodes[-1].lower()
    yield replace(like, ranges=_moved(like.ranges, {"leak_tab_2": f"leak_at_{node}"}))


def _cable(harness: Harness, like: Cause) -> Iterator[Cause]:
    wire = harness.names[1].lower()
    yield replace(like, ranges=_moved(like.ranges, {"leak_b": f"leak_{wire}"}))


def _both_ends(harness: Harness, like: Cause) -> Iterator[Cause]:
    single = len(harness.grids) == 1
    for arm, first, second in harness.grids:
        names = {
            "leak_tab_1": f"leak_at_{first.lower()}",
            "leak_tab_2": f"leak_at_{second.lower()}",
        }
        label = like.label if single else f"leaks to the bar at both ends of grid {arm}"
        prior = like.prior / len(harness.grids)
        yield replace(like, label=label, prior=prior, ranges=_moved(like.ranges, names))


def _touch(harness: Harness, like: Cause) -> Iterator[Cause]:
    for wire in harness.names:
        shown = wire_shown(wire)
        yield replace(
            like,
            label=f"lead {shown} touches the bar",
            ranges=_moved(like.ranges, {"leak_a": f"leak_{wire.lower()}"}),
            check=f"{shown} to bar is the smallest of all leads to bar",
        )


def _crush(harness: Harness, like: Cause) -> Iterator[Cause]:
    for one, other in harness.crossings:
        yield replace(
            like,
            label=f"crush {wire_shown(one)} to {wire_shown(other)}",
            ranges=_moved(like.ranges, {"short_ab": f"short_{one.lower()}_{other.lower()}"}),
            symptom=f"{wire_shown(one)} to {wire_shown(other)} far too small",
            check="the pair over its wires tells how far off",
        )


def _crush_all(harness: Harness, like: Cause) -> Iterator[Cause]:
    if len(harness.names) < 3:
        return
    short = like.ranges[1]
    names = list(zip(harness.names, harness.names[1:], strict=False))
    yield replace(
        like,
        ranges=(
            like.ranges[0],
            *(replace(short, element=f"short_{a.lower()}_{b.lower()}") for a, b in names),
        ),
    )


def _swap(harness: Harness, like: Cause) -> Iterator[Cause]:
    ends = dict(harness.wires)
    for one, other in combinations(harness.names, 2):
        if ends[one] == ends[other]:
            continue  # leads of one tab may be exchanged
        turned = {one: other, other: one}
        pins = " ".join(turned.get(wire, wire) for wire in harness.names)
        shown = f"{wire_shown(one)} and {wire_shown(other)} swapped"
        yield replace(like, label=shown, pins=pins)


def _shield(harness: Harness, like: Cause) -> Iterator[Cause]:
    first = harness.names[0].lower()
    yield replace(like, ranges=_moved(like.ranges, {"shield_a": f"shield_{first}"}))


_MADE: dict[str, _Maker] = {
    "lead B open": _open,
    "lead A open": lambda harness, like: iter(()),
    "lead C open": lambda harness, like: iter(()),
    "two or three leads open": _open_all,
    "grid open": _grids("joint_grid", "joint_grid_{}", "grid open"),
    "grid shorted": _grids("across", "across_{}", "grid shorted"),
    "grid partly shorted": _grids("grid_factor", "grid_{}", "grid partly shorted"),
    "moisture path across the grid": _grids("across", "across_{}", "moisture path across the grid"),
    "high joint between tab 2 and grid": _grids(
        "joint_grid", "joint_grid_{}", "high joint at the grid"
    ),
    "all leads on one tab": lambda harness, like: iter(()),
    "crush A to B": _crush,
    "cable crushed, all wires": _crush_all,
    "leak to the bar at tab 1": _leak,
    "leak of the cable to the bar": _cable,
    "wet joint to the bar": _wet,
    "leaks to the bar at both ends of the grid": _both_ends,
    "lead A touches the bar": _touch,
    "lead touches the shield": _shield,
    "high joint in lead B": _high,
    "lead B longer": _longer,
    "A and B swapped": _swap,
    "gauge of 350 Ω where 120 Ω is expected": _other_kind,
    "gauge of 120 Ω where 350 Ω is expected": _other_kind,
    "grid strained or heated at bonding": _strained,
    "corrosion of tab or foil": _strained,
}


def like_of(what: str) -> str:
    """Reading of three leads that a reading of another harness is taken like.

    Parameters
    ----------
    what : str
        Reading of any harness.

    Returns
    -------
    str
        The same, where three leads have it too; its meter and its minutes hold.
    """
    if what.endswith(" to bar") and what not in ("shield to bar",):
        return "A to bar"
    if what.endswith(" to its end"):
        return "A to tab 1"
    is_pair = "-" in what and EVERY_READING.get(what) == "ohm"
    return "A-B" if is_pair else what


def efforts_of(setup: Setup, efforts: Sequence[Effort]) -> tuple[Effort, ...]:
    """How long each reading of a gauge takes, by the like of it of three leads.

    Parameters
    ----------
    setup : Setup
        Of the gauge.
    efforts : sequence of Effort
        As known of three leads.

    Returns
    -------
    tuple of Effort
        The same for three leads.
    """
    if harness_of(setup) is None:
        return tuple(efforts)
    known = {effort.what: effort for effort in efforts}
    found = []
    for what in names_of(setup):
        like = known.get(like_of(what))
        if like is not None:
            found.append(replace(like, what=what))
    return tuple(found)
