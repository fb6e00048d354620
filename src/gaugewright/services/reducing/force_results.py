"""Bar forces, bond stress and plate stress at the loads that questions name, as results."""

import numpy as np

from gaugewright.calc.bond import BondStep
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import LoadStep
from gaugewright.records.results import Result
from gaugewright.records.specimen import Question
from gaugewright.services.along_bars import profiles as bar_profiles
from gaugewright.services.along_bars.stations import StationValue
from gaugewright.services.bars import forces
from gaugewright.services.bars.together import opposite_pairs, quarter_circuits, usable
from gaugewright.services.loading import moments, yields
from gaugewright.services.reading.series import campaign_seconds
from gaugewright.services.results import results as reduction_results
from gaugewright.services.specimen import rosettes
from gaugewright.services.strain.strains import Desk

__all__ = ["asked_steps", "bar_forces", "force_results", "service_step"]


def service_step(desk: Desk, onsets: list[yields.Onset]) -> Entry[LoadStep] | None:
    """Highest load step that had settled before any usable gauge yielded; None without steps."""
    times = [
        onset.time
        for onset in onsets
        if onset.time is not None
        and all(usable(desk, desk.book.entry(uid, Gauge)) for uid in onset.gauges)
    ]
    first = min(times, default=float("inf"))
    steps = [
        step
        for step in desk.book.of(LoadStep)
        if campaign_seconds(step.record.ends) <= first and step.record.load > 0
    ]
    return max(steps, key=lambda step: step.record.load, default=None)


def asked_steps(
    desk: Desk, quantity: str, service: Entry[LoadStep] | None
) -> tuple[Entry[LoadStep], ...]:
    """Load steps at which a quantity is asked for, first time up; else the service step."""
    loads = {
        question.record.load
        for question in desk.book.of(Question)
        if question.record.quantity == quantity and question.record.load is not None
    }
    found: dict[float, Entry[LoadStep]] = {}
    for step in sorted(desk.book.of(LoadStep), key=lambda step: step.record.begins):
        if step.record.load in loads:
            found.setdefault(step.record.load, step)
    if not found and service is not None:
        return (service,)
    return tuple(found.values())


def force_results(desk: Desk, onsets: list[yields.Onset]) -> list[Result]:
    """Results at every load that a question names, or at the service step where none does."""
    service = service_step(desk, onsets)
    results: list[Result] = []
    for step in asked_steps(desk, "force", service):
        results += [_force_result(desk, force) for force in bar_forces(desk, step)]
    for step in asked_steps(desk, "bond stress", service):
        results += _bond_results(desk, step)
    for step in asked_steps(desk, "principal stress", service):
        results += rosettes.results(desk, step)
    return results


def _force_result(desk: Desk, force: forces.BarForce) -> Result:
    step = force.step.record.label
    return reduction_results.result_of(
        desk.book,
        force.force if np.isfinite(force.force.value) else None,
        label=f"bar force {force.label} at {step}",
        quantity="force",
        unit="N",
        criterion=f"mean of the settled part of load step {step}",
        subjects=tuple(gauge.uid for gauge in force.gauges),
        circuits=force.circuits,
        zero=f"zero {force.zero.value}",
        note=force.note,
    )


def _bond_results(desk: Desk, step: Entry[LoadStep]) -> list[Result]:
    """Mean bond stresses between neighbours that have a force, along every bar with a row."""
    made: list[Result] = []
    at = moments.moment_named(desk, step.record.label)
    for bar in bar_profiles.bars_with_rows(desk):
        if bar.record.diameter is None or bar.record.area is None:
            continue
        # Change since the test began: what the load does, without the doubt of remade contacts.
        stations, steps = bar_profiles.bond_steps(desk, bar, at, ZeroKind.BEFORE_TEST)
        by_label = {station.label: station for station in stations}
        made += [_bond_result(desk, bond, by_label, step) for bond in steps]
    return made


def _bond_result(
    desk: Desk, bond: BondStep, stations: dict[str, StationValue], step: Entry[LoadStep]
) -> Result:
    ends = [stations[name] for name in bond.between]
    over = f"; over the lost {', '.join(bond.over)}" if bond.over else ""
    return reduction_results.result_of(
        desk.book,
        bond.stress,
        label=f"bond stress {bond.between[0]} to {bond.between[1]} at {step.record.label}",
        quantity="bond stress",
        unit="Pa",
        criterion=f"equilibrium of the bar between two stations{over}",
        subjects=tuple(
            desk.book.gauges_of(desk.book.entry(uid, BridgeCircuit))[0].uid
            for station in ends
            for uid in station.circuits
        ),
        circuits=tuple(uid for station in ends for uid in station.circuits),
        zero=f"zero {ZeroKind.BEFORE_TEST.value}",
    )


def bar_forces(
    desk: Desk, step: Entry[LoadStep], *, zero: ZeroKind | None = None
) -> tuple[forces.BarForce, ...]:
    """Bar forces at a step: from pairs where both gauges are usable, else from single gauges.

    Strain is counted from ``zero``, or from the earliest zero that each gauge has: then restrained
    shrinkage and dead load are in the force.
    """
    pairs: list[forces.BarForce] = []
    paired: set[Uid] = set()
    for circuits, gauges in opposite_pairs(desk):
        kinds = {yields.stress_free_zero(desk, circuit) for circuit in circuits}
        counted = zero or (ZeroKind.BEFORE_TEST if len(kinds) > 1 else kinds.pop())
        force = forces.force_of_pair(desk, gauges, circuits, step, counted)
        if force is not None:
            pairs.append(force)
            paired |= {gauge.uid for gauge in gauges}
    singles: list[forces.BarForce] = []
    for circuit, gauge in quarter_circuits(desk):
        has_area = desk.book.bar_of(gauge).record.area is not None
        if gauge.uid in paired or not usable(desk, gauge) or not has_area:
            continue
        bending = forces.bending_share(desk, f"local_bending@{gauge.uid}", tuple(pairs))
        counted = zero or yields.stress_free_zero(desk, circuit)
        force = forces.force_of_single(desk, gauge, circuit, step, zero=counted, bending=bending)
        singles += [force] if force is not None else []
    return tuple(pairs + singles)
