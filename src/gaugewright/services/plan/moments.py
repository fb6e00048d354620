"""How well planned gauges will tell the moment that bends a piece of bare metal."""

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import Faults, InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import Topology
from gaugewright.records.specimen import Question
from gaugewright.services.plan.answers import Part, PlannedAnswer, Unit, counted, units_of
from gaugewright.services.plan.bridges import expected_in
from gaugewright.services.plan.strains import Expected, PlannedReadings, in_member
from gaugewright.services.section.bare_metal import moment_per_strain

__all__ = ["moment_answer"]

_BENDING = (Topology.HALF_BENDING, Topology.FULL_BENDING)


def moment_answer(readings: PlannedReadings, question: Entry[Question]) -> PlannedAnswer:
    """Moment by each bending bridge and each opposite pair, towards its first gauge."""
    told: list[Expected] = []
    parts, cautions = [], []
    for unit in units_of(readings, question.record.stations):
        try:
            value = _moment(readings, unit, question.record.load, told)
        except (InputError, Faults) as problem:
            cautions.append(f"{unit.label}: {str(problem).splitlines()[0]}")
            continue
        # One gauge of a pair can't part bending from pull: without the other there is no moment.
        parts.append(Part(unit.label, (unit,), value))
    return counted(question, "moment", parts, told, cautions)


def _moment(
    readings: PlannedReadings, unit: Unit, load: float | None, told: list[Expected]
) -> Uncertain:
    gauge = unit.gauges[0]
    if in_member(readings.book, gauge):
        raise InputError(
            f"moment at {unit.label}", "in a cast member", "on bare metal", "ask for its curvature"
        )
    if unit.is_bridge and unit.circuits[0].record.topology in _BENDING:
        circuit = unit.circuits[0]
        told.append(expected_in(readings, circuit, gauge, load))
        bending = readings.strain(circuit, told[-1].strain)
    elif unit.is_pair:
        strains = []
        for circuit, one in zip(unit.circuits, unit.gauges, strict=True):
            told.append(readings.expected(one, load))
            strains.append(readings.strain(circuit, told[-1].strain))
        bending = (strains[0] - strains[1]) / 2
    else:
        raise InputError(
            f"reading of {unit.label}", "one that shows more", "a bending bridge or opposite gauges"
        )
    return bending * moment_per_strain(readings.book, gauge)
