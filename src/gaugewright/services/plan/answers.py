"""How well planned gauges will answer each question: the same sums as in a reduction, in advance.

A question is taken apart into what it asks at each place (a force in a bar, bond between two
stations). The worst part speaks for the question.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from gaugewright.calc.answer_chance import Needed
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import Faults, InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.specimen import Question
from gaugewright.services.bars.forces import bending_share, net_area_of, stress_of
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.plan.bridges import expected_in
from gaugewright.services.plan.strains import Expected, PlannedReadings, is_along

__all__ = ["Part", "PlannedAnswer", "Unit", "counted", "expanded", "force_of_unit", "units_of"]


@dataclass(frozen=True, slots=True, eq=False)
class Unit:
    """Gauges that are read together: an opposite pair, one gauge, or the grids of one bridge."""

    gauges: tuple[Entry[Gauge], ...]
    circuits: tuple[Entry[BridgeCircuit], ...]

    @property
    def label(self) -> str:
        """Gauges it is made of."""
        return " with ".join(gauge.record.label for gauge in self.gauges)

    @property
    def is_pair(self) -> bool:
        """Whether two gauges on circuits of their own lie opposite each other."""
        return len(self.circuits) == 2

    @property
    def is_bridge(self) -> bool:
        """Whether several grids make one reading."""
        return len(self.circuits) == 1 and len(self.gauges) > 1

    def alone(self) -> "Unit":
        """What is left of a pair after a loss."""
        return Unit(self.gauges[:1], self.circuits[:1])


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """One thing that a question asks: its value with what it owes, and with a gauge fewer.

    ``units`` are the readings it rests on, ``reduced`` the value when each pair has lost a gauge,
    None where that can't be had.
    """

    label: str
    units: tuple[Unit, ...]
    value: Uncertain
    reduced: Uncertain | None = None


@dataclass(frozen=True, slots=True, eq=False)
class PlannedAnswer:
    """What the plan makes of a question.

    ``like`` is the quantity its numbers are shown as; ``needed`` counts gauges by their place in
    ``gauges``; ``words`` says what strain was reckoned with; ``why`` stands where there is no part.
    ``levels`` says where that strain is only a level, for nothing could be predicted.
    """

    question: Entry[Question]
    like: str
    parts: tuple[Part, ...] = ()
    gauges: tuple[Entry[Gauge], ...] = ()
    needed: Needed | None = None
    needs: str = ""
    words: tuple[str, ...] = ()
    why: str = ""
    cautions: tuple[str, ...] = ()
    levels: tuple[str, ...] = ()

    @property
    def worst(self) -> Part | None:
        """The part with the widest uncertainty."""
        return max(self.parts, key=lambda part: expanded(part.value), default=None)

    @property
    def resolution(self) -> float:
        """Expanded uncertainty of the worst part; NaN without any."""
        return math.nan if self.worst is None else expanded(self.worst.value)

    @property
    def reduced(self) -> float:
        """Expanded uncertainty of the worst part when each pair has lost a gauge; NaN: none."""
        found = [expanded(part.reduced) for part in self.parts if part.reduced is not None]
        return max(found) if found and len(found) == len(self.parts) else math.nan

    @property
    def margin(self) -> float:
        """Uncertainty asked for over that of the worst part; NaN where nothing was asked for."""
        wanted = self.question.record.wanted
        return math.nan if wanted is None else wanted / self.resolution


def expanded(value: Uncertain) -> float:
    """Expanded uncertainty of one value."""
    return float(value.expanded(COVERAGE).reshape(-1)[0])


def units_of(readings: PlannedReadings, stations: Sequence[Uid]) -> tuple[Unit, ...]:
    """Readings at some stations: bridges, opposite pairs, single gauges along their bars."""
    gauges = [g for station in stations for g in readings.plan.gauges_at(station)]
    circuits = readings.plan.circuits
    made: dict[Uid, Unit] = {}
    done: set[Uid] = set()
    for gauge in gauges:
        circuit = circuits[gauge.uid]
        grids = readings.book.gauges_of(circuit)
        if len(grids) > 1:
            made[circuit.uid] = Unit(grids, (circuit,))
            done |= {grid.uid for grid in grids}
    along = {g.uid: g for g in gauges if g.uid not in done and is_along(g)}
    for gauge in along.values():
        partner = along.get(gauge.record.opposite) if gauge.record.opposite else None
        if partner is not None and not {gauge.uid, partner.uid} & done:
            pair = (partner, gauge)
            made[partner.uid] = Unit(pair, (circuits[partner.uid], circuits[gauge.uid]))
            done |= {gauge.uid, partner.uid}
    for gauge in along.values():
        if gauge.uid not in done:
            made[gauge.uid] = Unit((gauge,), (circuits[gauge.uid],))
    order = {gauge.uid: number for number, gauge in enumerate(gauges)}
    return tuple(sorted(made.values(), key=lambda unit: order.get(unit.gauges[0].uid, 0)))


def strain_of_unit(
    readings: PlannedReadings, unit: Unit, load: float | None, told: list[Expected]
) -> Uncertain:
    """Strain of a reading or the mean of a pair."""
    parts = []
    for circuit, gauge in _read(unit):
        expected = expected_in(readings, circuit, gauge, load)
        told.append(expected)
        parts.append(readings.strain(circuit, expected.strain))
    return parts[0] if len(parts) == 1 else (parts[0] + parts[1]) / 2


def stress_of_unit(
    readings: PlannedReadings, unit: Unit, load: float | None, told: list[Expected]
) -> Uncertain:
    """Stress along the bar: past yield the mean of two stresses, not the stress of a mean."""
    desk = readings.plan.desk
    parts = []
    for circuit, gauge in _read(unit):
        expected = expected_in(readings, circuit, gauge, load)
        told.append(expected)
        strain = readings.strain(circuit, expected.strain)
        if len(unit.gauges) == 1:
            name = f"local_bending@{gauge.uid}"
            doubt = bending_share(desk, name, ())
            strain = strain + Uncertain.from_input(0.0, doubt, strain.value)
        parts.append(stress_of(desk, readings.book.material_of(gauge), strain))
    return parts[0] if len(parts) == 1 else (parts[0] + parts[1]) / 2


def force_of_unit(
    readings: PlannedReadings, unit: Unit, load: float | None, told: list[Expected]
) -> Uncertain:
    """Force of the bar on the area left at the gauge."""
    area = net_area_of(readings.plan.desk, unit.gauges[0])
    return stress_of_unit(readings, unit, load, told) * area


def _read(unit: Unit) -> list[tuple[Entry[BridgeCircuit], Entry[Gauge]]]:
    """Circuits with the gauge whose strain each is told as."""
    if unit.is_bridge:
        return [(unit.circuits[0], unit.gauges[0])]
    return list(zip(unit.circuits, unit.gauges, strict=True))


Value = Callable[[PlannedReadings, Unit, float | None, list[Expected]], Uncertain]


def each_unit(
    readings: PlannedReadings, question: Entry[Question], value: Value, like: str
) -> PlannedAnswer:
    """Answer whose parts are the readings themselves, one a place."""
    told: list[Expected] = []
    parts, cautions = [], []
    for unit in units_of(readings, question.record.stations):
        try:
            load = question.record.load
            whole = value(readings, unit, load, told)
            less = value(readings, unit.alone(), load, told) if unit.is_pair else None
        except (InputError, Faults) as problem:
            cautions.append(f"{unit.label}: {str(problem).splitlines()[0]}")
            continue
        if not np.isfinite(whole.value).all():
            cautions.append(f"{unit.label}: the metal's law knows no value at that strain")
            continue
        parts.append(Part(unit.label, (unit,), whole, less))
    return counted(question, like, parts, told, cautions)


def counted(
    question: Entry[Question],
    like: str,
    parts: Sequence[Part],
    told: Sequence[Expected],
    cautions: Sequence[str] = (),
) -> PlannedAnswer:
    """An answer with what it needs: of each pair one gauge, where one is enough, else both.

    One is enough where the uncertainty asked for is kept with it, or nothing was asked for.
    """
    if not parts:
        why = "; ".join(cautions) or "no gauge along a bar stands at a station it names"
        return PlannedAnswer(question, like, why=why)
    units = list({unit.label: unit for part in parts for unit in part.units}.values())
    gauges = tuple(gauge for unit in units for gauge in unit.gauges)
    place = {gauge.uid: number for number, gauge in enumerate(gauges)}
    wanted = question.record.wanted
    least = {unit.label: 1 for unit in units}
    for part in parts:
        kept = wanted is None or (part.reduced is not None and expanded(part.reduced) <= wanted)
        for unit in part.units:
            if unit.is_bridge or (unit.is_pair and not kept):
                least[unit.label] = len(unit.gauges)
    needed = Needed(
        len(units),
        tuple(Needed(least[u.label], tuple(place[g.uid] for g in u.gauges)) for u in units),
    )
    both = sum(least[u.label] == 2 for u in units if u.is_pair)
    return PlannedAnswer(
        question,
        like,
        tuple(parts),
        gauges,
        needed,
        _needs(units, both),
        tuple(dict.fromkeys(expected.words for expected in told)),
        cautions=tuple(cautions),
        levels=tuple(dict.fromkeys(each.words for each in told if each.is_level)),
    )


def _needs(units: Sequence[Unit], both: int) -> str:
    pairs = sum(unit.is_pair for unit in units)
    told = []
    if pairs - both:
        told.append(f"one gauge of {_each(pairs - both, 'pair')}")
    if both:
        told.append(f"both gauges of {_each(both, 'pair')}")
    singles = sum(len(unit.gauges) == 1 for unit in units)
    if singles:
        told.append(_each(singles, "single gauge"))
    bridges = sum(unit.is_bridge for unit in units)
    if bridges:
        told.append(f"every grid of {_each(bridges, 'bridge')}")
    return "needs " + ", ".join(told)


def _each(count: int, what: str) -> str:
    return f"one {what}" if count == 1 else f"each of {count} {what}s"
