"""How well planned gauges will tell the moment that bends a piece of bare metal, and how much."""

from collections.abc import Callable

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import Faults, InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import Topology
from gaugewright.records.specimen import Question
from gaugewright.services.members.bare_metal import arm_of, moment_per_strain
from gaugewright.services.plan.answers import Part, PlannedAnswer, Unit, counted, units_of
from gaugewright.services.plan.bridges import expected_in
from gaugewright.services.plan.strains import Expected, PlannedReadings, in_member

__all__ = ["bare_curvature_answer", "moment_answer"]

_Way = Callable[[PlannedReadings, Unit, float | None, list[Expected]], Uncertain]

_BENDING = (Topology.HALF_BENDING, Topology.FULL_BENDING)


def moment_answer(readings: PlannedReadings, question: Entry[Question]) -> PlannedAnswer:
    """Moment by each bending bridge and each opposite pair, towards its first gauge."""
    return _each(readings, question, "moment", _moment)


def bare_curvature_answer(readings: PlannedReadings, question: Entry[Question]) -> PlannedAnswer:
    """Curvature of bare metal by each bending bridge and each opposite pair."""
    return _each(readings, question, "curvature", _curvature)


def _each(
    readings: PlannedReadings, question: Entry[Question], quantity: str, way: _Way
) -> PlannedAnswer:
    told: list[Expected] = []
    parts, cautions = [], []
    for unit in units_of(readings, question.record.stations):
        try:
            value = way(readings, unit, question.record.load, told)
        except (InputError, Faults) as problem:
            cautions.append(f"{unit.label}: {str(problem).splitlines()[0]}")
            continue
        # One gauge of a pair can't part bending from pull: without the other there is no moment.
        parts.append(Part(unit.label, (unit,), value))
    return counted(question, quantity, parts, told, cautions)


def _moment(
    readings: PlannedReadings, unit: Unit, load: float | None, told: list[Expected]
) -> Uncertain:
    gauge = unit.gauges[0]
    if in_member(readings.book, gauge):
        raise InputError(
            f"moment at {unit.label}", "in a cast member", "on bare metal", "ask for its curvature"
        )
    return _bending(readings, unit, load, told) * moment_per_strain(readings.book, gauge)


def _curvature(
    readings: PlannedReadings, unit: Unit, load: float | None, told: list[Expected]
) -> Uncertain:
    return _bending(readings, unit, load, told) / arm_of(readings.book, unit.gauges[0])


def _bending(
    readings: PlannedReadings, unit: Unit, load: float | None, told: list[Expected]
) -> Uncertain:
    """Strain by bending at the first gauge of a reading."""
    gauge = unit.gauges[0]
    if unit.is_bridge and unit.circuits[0].record.topology in _BENDING:
        circuit = unit.circuits[0]
        told.append(expected_in(readings, circuit, gauge, load))
        return readings.strain(circuit, told[-1].strain)
    if unit.is_pair:
        strains = []
        for circuit, one in zip(unit.circuits, unit.gauges, strict=True):
            told.append(readings.expected(one, load))
            strains.append(readings.strain(circuit, told[-1].strain))
        return (strains[0] - strains[1]) / 2
    raise InputError(
        f"reading of {unit.label}", "one that shows more", "a bending bridge or opposite gauges"
    )
