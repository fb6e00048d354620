"""Questions whose parts rest on several places: bond, curvature, rosettes, and loads at yield."""

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from gaugewright.calc import bond
from gaugewright.calc.answer_chance import Needed
from gaugewright.calc.propagation import propagated
from gaugewright.calc.smooth_field import FieldPoint
from gaugewright.calc.strain_plane import PlanePoint, fit_plane
from gaugewright.calc.uncertainty import Uncertain, combination
from gaugewright.errors import Faults, InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import Topology
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.specimen import Bar, Question
from gaugewright.services.along_bars.profiles import perimeter_of
from gaugewright.services.bars.flat_equilibrium import bar_of_flat
from gaugewright.services.bars.forces import bending_share, distance_of, net_area_of
from gaugewright.services.loading.yields import yield_strain
from gaugewright.services.members.members import GridPlace, WholeMember, grid_place, member_of
from gaugewright.services.plan.answers import (
    Part,
    PlannedAnswer,
    Unit,
    counted,
    each_unit,
    force_of_unit,
    strain_of_unit,
    stress_of_unit,
    units_of,
)
from gaugewright.services.plan.bridges import expected_in
from gaugewright.services.plan.moments import bare_curvature_answer, moment_answer
from gaugewright.services.plan.strains import (
    Expected,
    PlannedReadings,
    bare_yield_load,
    in_member,
    load_doubt,
)
from gaugewright.services.planes.gauges import SAME_PLACE
from gaugewright.services.specimen import rosettes
from gaugewright.services.specimen.specimens import TORQUE

__all__ = ["ANSWERED", "planned_answer"]

_DEPTHS = 1e-3  # grids nearer in depth stand at one depth [m]
_BELOW, _NEAR = 0.8, 0.95  # shares of a yield load between which strain still rises straight


def planned_answer(readings: PlannedReadings, question: Entry[Question]) -> PlannedAnswer:
    """What the plan makes of a question; why nothing, where nothing can be said in advance."""
    way = ANSWERED.get(question.record.quantity)
    if way is None:
        known = ", ".join(ANSWERED)
        why = f"“{question.record.quantity}” isn't worked out in advance; these are: {known}"
        return PlannedAnswer(question, "", why=why)
    if not question.record.stations:
        return PlannedAnswer(question, "", why="it names no station yet")
    try:
        return way(readings, question)
    except Faults as problem:
        return PlannedAnswer(question, "", why="; ".join(str(problem).splitlines()[1:]))
    except InputError as problem:
        return PlannedAnswer(question, "", why=str(problem))


def _strain(readings: PlannedReadings, question: Entry[Question]) -> PlannedAnswer:
    return each_unit(readings, question, strain_of_unit, "strain")


def _stress(readings: PlannedReadings, question: Entry[Question]) -> PlannedAnswer:
    return each_unit(readings, question, stress_of_unit, "stress")


def _force(readings: PlannedReadings, question: Entry[Question]) -> PlannedAnswer:
    return each_unit(readings, question, force_of_unit, "force")


def _bond(readings: PlannedReadings, question: Entry[Question]) -> PlannedAnswer:
    """Mean bond stress between neighbouring stations of each bar, by their forces."""
    told: list[Expected] = []
    parts, cautions = [], []
    by_bar: dict[str, list[Unit]] = {}
    for unit in units_of(readings, question.record.stations):
        if unit.is_bridge:
            cautions.append(f"{unit.label}: several grids in one bridge give no force here")
            continue
        by_bar.setdefault(readings.book.bar_of(unit.gauges[0]).uid, []).append(unit)
    for units in by_bar.values():
        bar = readings.book.bar_of(units[0].gauges[0])
        if len(units) < 2:
            cautions.append(f"{bar.record.label}: bond needs gauges at two places or more")
            continue
        parts += _bond_of(readings, question, bar, units, told)
    return counted(question, "bond_stress", parts, told, cautions)


def _bond_of(
    readings: PlannedReadings,
    question: Entry[Question],
    bar: Entry[Bar],
    units: Sequence[Unit],
    told: list[Expected],
) -> list[Part]:
    load = question.record.load
    named = {unit.label: unit for unit in units}

    def steps(reduce: bool) -> tuple[bond.BondStep, ...]:
        points = [
            FieldPoint(
                unit.label,
                distance_of(readings.plan.desk, unit.gauges[0]),
                force_of_unit(readings, unit.alone() if reduce else unit, load, told),
            )
            for unit in units
        ]
        return bond.bond_between_stations(points, perimeter_of(bar))

    reduced = steps(True) if all(unit.is_pair for unit in units) else None
    return [
        Part(
            " to ".join(step.between),
            tuple(named[name] for name in step.between),
            step.stress,
            None if reduced is None else reduced[number].stress,
        )
        for number, step in enumerate(steps(False))
    ]


def _yield_load(readings: PlannedReadings, question: Entry[Question]) -> PlannedAnswer:
    """Load at which a bar yields by a pair, or a gauge by itself."""

    def load_of(
        readings: PlannedReadings, unit: Unit, load: float | None, told: list[Expected]
    ) -> Uncertain:
        loads = [_load_at_yield(readings, gauge) for gauge in unit.gauges]
        at = math.fsum(loads) / len(loads)
        slopes = [_slope(readings, g, own) for g, own in zip(unit.gauges, loads, strict=True)]
        slope = math.fsum(slopes) / len(slopes)
        threshold = yield_strain(readings.plan.desk, readings.book.material_of(unit.gauges[0]))
        told.append(Expected(float(threshold.value), "strain per load below yield"))
        read = [readings.strain(circuit, float(threshold.value)) for circuit in unit.circuits]
        strain = read[0] if len(read) == 1 else (read[0] + read[1]) / 2
        there = load_doubt(readings, at)
        return combination(
            np.asarray(at), [(there, 1.0), (threshold, 1 / slope), (strain, -1 / slope)]
        )

    return each_unit(readings, question, load_of, "force")


def _load_at_yield(readings: PlannedReadings, gauge: Entry[Gauge]) -> float:
    if in_member(readings.book, gauge):
        found = readings.prediction(gauge).yield_load
    else:
        found = bare_yield_load(readings, gauge)
    if found is None:
        raise InputError(
            f"yield load of {gauge.record.label}",
            None,
            "reached before the member crushes, by metal whose law yields",
            "place the gauge where the metal yields first",
        )
    return float(found.value)


def _slope(readings: PlannedReadings, gauge: Entry[Gauge], load: float) -> float:
    """Strain per load below yield [1/N]."""
    ends = [readings.expected(gauge, share * load) for share in (_BELOW, _NEAR)]
    if any(end.is_level for end in ends):
        raise InputError(
            f"strain per load at {gauge.record.label}", None, "predicted", ends[0].words
        )
    return (ends[1].strain - ends[0].strain) / ((_NEAR - _BELOW) * load)


def _curvature(readings: PlannedReadings, question: Entry[Question]) -> PlannedAnswer:
    """Curvature of each section with gauges at two depths, by the plane through all its gauges.

    On bare metal that no member describes: by opposite gauges and the depth between them.
    """
    gauges = [g for s in question.record.stations for g in readings.plan.gauges_at(s)]
    if not any(in_member(readings.book, gauge) for gauge in gauges):
        return bare_curvature_answer(readings, question)
    told: list[Expected] = []
    parts, cautions, needs = [], [], []
    for gauges in _sections(readings, question):
        try:
            part, need = _plane(readings, question, gauges, told)
        except (InputError, Faults) as problem:
            cautions.append(str(problem).splitlines()[0])
            continue
        parts.append(part)
        needs.append((gauges, need))
    found = counted(question, "curvature", parts, told, cautions)
    if found.needed is None:
        return found
    return _with_depths(found, needs)


def _sections(readings: PlannedReadings, question: Entry[Question]) -> list[list[Entry[Gauge]]]:
    """Single gauges along bars, by their place along the member."""
    placed = []
    for unit in units_of(readings, question.record.stations):
        for gauge in () if unit.is_bridge else unit.gauges:
            if not in_member(readings.book, gauge):
                raise InputError(
                    f"place of {gauge.record.label} in a section",
                    None,
                    "in a described member",
                    "write down the member: curvature is of its section",
                )
            member = member_of(readings.book, readings.book.bar_of(gauge))
            at = float(grid_place(readings.book, member, gauge).distance.value)
            placed.append((member.label, at, gauge))
    placed.sort(key=lambda one: one[:2])
    groups: list[list[Entry[Gauge]]] = []
    last: tuple[str, float] | None = None
    for label, at, gauge in placed:
        if last is None or label != last[0] or at - last[1] > SAME_PLACE:
            groups.append([])
        groups[-1].append(gauge)
        last = (label, at)
    return groups


def _plane(
    readings: PlannedReadings,
    question: Entry[Question],
    gauges: Sequence[Entry[Gauge]],
    told: list[Expected],
) -> tuple[Part, Needed]:
    member = member_of(readings.book, readings.book.bar_of(gauges[0]))
    places = {gauge.uid: grid_place(readings.book, member, gauge) for gauge in gauges}
    points = [
        _point(readings, question, (member, gauge, places[gauge.uid]), told) for gauge in gauges
    ]
    depths = _by_depth(gauges, places)
    if len(depths) < 2:
        raise InputError(
            f"depths of gauges around {gauges[0].record.label}",
            "one",
            "two or more",
            "add gauges on a bar at another depth: curvature is strain over depth",
        )
    where = f"{float(places[gauges[0].uid].distance.value):.3g} m"
    value = fit_plane(points).curvature
    # The two outermost depths left with one gauge each: what a section can live with.
    least = [points[gauges.index(group[0])] for group in (depths[0], depths[-1])]
    reduced = fit_plane(least).curvature if len(points) > 2 else None
    units = tuple(Unit((g,), (readings.plan.circuits[g.uid],)) for g in gauges)
    number = {gauge.uid: place for place, gauge in enumerate(gauges)}
    need = Needed(2, tuple(Needed(1, tuple(number[g.uid] for g in group)) for group in depths))
    return Part(f"{member.label} at {where}", units, value, reduced), need


def _by_depth(
    gauges: Sequence[Entry[Gauge]], places: Mapping[Uid, GridPlace]
) -> list[list[Entry[Gauge]]]:
    ordered = sorted(gauges, key=lambda gauge: float(places[gauge.uid].depth.value))
    groups = [[ordered[0]]]
    for before, gauge in itertools.pairwise(ordered):
        apart = float(places[gauge.uid].depth.value - places[before.uid].depth.value)
        if apart > _DEPTHS:
            groups.append([])
        groups[-1].append(gauge)
    return groups


def _point(
    readings: PlannedReadings,
    question: Entry[Question],
    placed: tuple[WholeMember, Entry[Gauge], GridPlace],
    told: list[Expected],
) -> PlanePoint:
    """A gauge as the plane takes it: the bar beside its flat, its own bending in doubt."""
    member, gauge, place = placed
    expected = readings.expected(gauge, question.record.load)
    told.append(expected)
    desk = readings.plan.desk
    strain = readings.strain(readings.plan.circuits[gauge.uid], expected.strain)
    bar = readings.book.bar_of(gauge)
    station = readings.book.station_of(gauge).record
    angle = station.angle_planned if station.angle_built is None else station.angle_built.value
    for way, share in (("up and down", math.cos(angle)), ("sideways", math.sin(angle))):
        doubt = bending_share(desk, f"own_bending {way}@{bar.uid} {place.distance.value:.3g}", ())
        strain = strain + Uncertain.from_input(0.0, doubt, share * strain.value)
    number = member.index_of(bar.uid)
    left, whole = net_area_of(desk, gauge), member.values[f"bar_area_{number}"]
    share_left = propagated(lambda at: at["net"] / at["whole"], {"net": left, "whole": whole})
    law = member.law_of_bar(number)
    is_past = float(strain.value) > law.yield_strain
    of_bar = bar_of_flat(law, strain, share_left) if is_past else strain * share_left
    return PlanePoint(gauge.record.label, of_bar, place.depth)


def _with_depths(
    found: PlannedAnswer, needs: Sequence[tuple[Sequence[Entry[Gauge]], Needed]]
) -> PlannedAnswer:
    """An answer that needs two depths of each section, where two are enough; else all gauges."""
    wanted = found.question.record.wanted
    enough = wanted is None or (math.isfinite(found.reduced) and found.reduced <= wanted)
    place = {gauge.uid: number for number, gauge in enumerate(found.gauges)}
    parts = []
    for gauges, need in needs:
        at = [place[gauge.uid] for gauge in gauges]
        if enough:
            depths = [part for part in need.parts if isinstance(part, Needed)]
            inner = tuple(
                Needed(1, tuple(at[n] for n in d.parts if isinstance(n, int))) for d in depths
            )
            parts.append(Needed(2, inner))
        else:
            parts.append(Needed(len(at), tuple(at)))
    words = "two depths with a gauge" if enough else "every gauge"
    needed = Needed(len(parts), tuple(parts))
    return replace(
        found, needed=needed, needs=f"needs {words} in every section, {len(parts)} in all"
    )


def _shear(readings: PlannedReadings, question: Entry[Question]) -> PlannedAnswer:
    return _twisted(readings, question, "", "shear_strain")


def _torque(readings: PlannedReadings, question: Entry[Question]) -> PlannedAnswer:
    return _twisted(readings, question, TORQUE, "torque")


def _twisted(
    readings: PlannedReadings, question: Entry[Question], stage: str, like: str
) -> PlannedAnswer:
    """Shear strain or torque by bridges in torsion; without a torque at yield after Mises."""

    def value(
        readings: PlannedReadings, unit: Unit, load: float | None, told: list[Expected]
    ) -> Uncertain:
        (circuit,) = unit.circuits if len(unit.circuits) == 1 else (None,)
        if circuit is None or circuit.record.topology is not Topology.FULL_TORSION:
            raise InputError(f"circuit of {unit.label}", None, "a full bridge in torsion")
        expected = expected_in(readings, circuit, unit.gauges[0], question.record.load)
        if expected.is_level:
            nu = readings.book.material_of(unit.gauges[0]).record.poisson_ratio.value
            shear = expected.strain * 2 * (1 + nu) / math.sqrt(3)
            expected = Expected(shear, f"shear strain of yield; {expected.words}", True)
        else:
            # Strain along its grids is half the shear strain that the circuit is told as.
            expected = Expected(2 * expected.strain, expected.words)
        told.append(expected)
        return readings.strain(circuit, expected.strain, stage)

    return each_unit(readings, question, value, like)


def _principal(readings: PlannedReadings, question: Entry[Question]) -> PlannedAnswer:
    """Larger principal stress of each rosette, at a pull along the axis that makes it yield."""
    groups: dict[str, list[rosettes.Arm]] = {}
    for station in question.record.stations:
        for gauge in readings.plan.gauges_at(station):
            if gauge.record.group:
                arm = (readings.plan.circuits[gauge.uid], gauge)
                groups.setdefault(gauge.record.group, []).append(arm)
    told: list[Expected] = []
    parts, cautions = [], []
    for name, arms in groups.items():
        group = rosettes.group_of_arms(readings.plan.desk, name, arms)
        read = []
        for circuit, gauge in group.arms:
            level = readings.level(gauge)
            nu = readings.book.material_of(gauge).record.poisson_ratio.value
            turn = gauge.record.angle_to_axis
            seen = level.strain * (math.cos(turn) ** 2 - nu * math.sin(turn) ** 2)
            told.append(
                Expected(seen, "a pull along the axis up to yield: a plate isn't predicted", True)
            )
            read.append(readings.strain(circuit, seen))
        try:
            first, _ = rosettes.stresses_of_arms(readings.plan.desk, group, read)
        except InputError as problem:
            cautions.append(str(problem))
            continue
        parts.append(Part(name, tuple(Unit((g,), (c,)) for c, g in group.arms), first))
    if not parts:
        why = "; ".join(cautions) or "no rosette stands at a station it names"
        return PlannedAnswer(question, "stress", why=why)
    return counted(question, "stress", parts, told, cautions)


_Way = Callable[[PlannedReadings, Entry[Question]], PlannedAnswer]
ANSWERED: dict[str, _Way] = {
    "force": _force,
    "strain": _strain,
    "mechanical strain": _strain,
    "stress": _stress,
    "bond stress": _bond,
    "curvature": _curvature,
    "yield load": _yield_load,
    "principal stress": _principal,
    "shear strain": _shear,
    "torque": _torque,
    "moment": moment_answer,
}
