"""From readings to results: chains applied, yield loads, bar forces, bond, stress of plates."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import Faults, InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Connection
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.plain import canonical_text
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import LoadStep, Recording
from gaugewright.records.results import Chain, Result
from gaugewright.records.specimen import Question
from gaugewright.records.stated import State
from gaugewright.services import forces, reduction_results, rosettes, yields
from gaugewright.services.book import Book
from gaugewright.services.chains import BuiltChain, chain_for
from gaugewright.services.loads import load_at
from gaugewright.services.review import state_of_gauge
from gaugewright.services.series import campaign_seconds, stretches_of
from gaugewright.services.strain_files import write_strains
from gaugewright.services.strains import Desk
from gaugewright.store.campaign import CampaignStore

__all__ = [
    "GaugeSeries",
    "Progress",
    "Reduction",
    "YieldRow",
    "gauge_series",
    "reduce",
    "unreduced",
]

Progress = Callable[[int, int, str], None]


@dataclass(frozen=True, slots=True)
class YieldRow:
    """One line of the yield table [N]; ``load_n`` None when yield wasn't seen, then ``note``."""

    label: str
    station: str
    state: State
    load_n: float | None
    expanded_n: float | None
    coverage: float
    main_cause: str
    zero: str
    note: str


@dataclass(frozen=True, slots=True)
class Reduction:
    """What reducing a campaign gave; everything is in the store as records too."""

    chains: tuple[Entry[Chain], ...]
    results: tuple[Entry[Result], ...]
    yields: tuple[YieldRow, ...]
    derived: tuple[str, ...]
    skipped: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class GaugeSeries:
    """Strain of one circuit at samples chosen for a plot, with load and doubt.

    ``time`` is campaign time [s], ``load`` in N, ``strain`` mechanical strain since the zero.
    """

    label: str
    gauges: tuple[Entry[Gauge], ...]
    circuit: Entry[BridgeCircuit]
    state: State
    zero: ZeroKind
    time: FloatArray
    load: FloatArray
    strain: Uncertain


def reduce(store: CampaignStore, *, progress: Progress | None = None) -> Reduction:
    """Reduce everything that was read, and write chains and results down.

    Gauges whose state is doubtful or lost get their own row but no part in pairs, forces, bond
    or answers. Readings are never touched; running it twice writes nothing new.

    Raises
    ------
    Faults
        When no circuit at all could be reduced: what is missing for each.
    """
    tell = progress or (lambda done, total, what: None)
    desk = Desk(store, Book.read(store))
    chains, skipped = _written_chains(desk)
    if not chains:
        problems = [InputError(where, "not reduced", why) for where, why in skipped] or [
            InputError("readings", "none", "imported before reducing", "import a file first")
        ]
        raise Faults("nothing could be reduced", problems)
    desk = Desk(store, Book.read(store))
    recordings = desk.book.of(Recording)
    derived: list[str] = []
    for number, recording in enumerate(recordings):
        tell(number, len(recordings) + 3, f"reducing {recording.record.label}")
        key = write_strains(desk, recording, ZeroKind.BEFORE_TEST)
        derived += [key] if key is not None else []
    tell(len(recordings), len(recordings) + 3, "finding yield loads")
    onsets, results = _yield_results(desk)
    tell(len(recordings) + 1, len(recordings) + 3, "bar forces, bond and plates")
    results += _force_results(desk, onsets)
    entries = reduction_results.written_results(store, desk.book, results)
    tell(len(recordings) + 3, len(recordings) + 3, "results written")
    rows = tuple(_row(desk, onset) for onset in onsets)
    why = tuple(f"{where}: {reason}" for where, reason in skipped)
    return Reduction(chains, entries, rows, tuple(derived), why)


def _written_chains(desk: Desk) -> tuple[tuple[Entry[Chain], ...], list[tuple[str, str]]]:
    """Chains of all connections with readings, as records; and what could not be built."""
    known = {entry.record.connection: entry for entry in desk.book.of(Chain)}
    entries: list[Entry[Chain]] = []
    skipped: list[tuple[str, str]] = []
    with desk.store.several():
        for circuit in desk.book.of(BridgeCircuit):
            for connection in _read_through(desk, circuit):
                if _only_earlier_zero(desk, connection):
                    continue
                try:
                    built = chain_for(desk.book, connection)
                except InputError as problem:
                    skipped.append((f"{circuit.record.label}, {_when(connection)}", str(problem)))
                    continue
                record = _chain_record(built)
                entry = known.get(connection.uid)
                if entry is None:
                    entry = desk.store.add(record, reason="reduced")
                elif entry.record != record:
                    entry = desk.store.revise(
                        entry.uid, entry.version, record, reason="reduced again"
                    )
                entries.append(entry)
    return tuple(entries), skipped


def _read_through(desk: Desk, circuit: Entry[BridgeCircuit]) -> list[Entry[Connection]]:
    stretches = stretches_of(desk.store, desk.book, circuit.uid)
    return list({s.connection.uid: s.connection for s in stretches}.values())


def _only_earlier_zero(desk: Desk, connection: Entry[Connection]) -> bool:
    """Whether a connection served only for a zero taken before the test's own."""
    kinds = [kind for kind in ZeroKind if desk.book.holds_zero(connection, kind)]
    return bool(kinds) and ZeroKind.BEFORE_TEST not in kinds


def _when(connection: Entry[Connection]) -> str:
    return f"connection from {connection.record.begins:%Y-%m-%d %H:%M} UTC"


def _chain_record(built: BuiltChain) -> Chain:
    circuit, connection = built.subject.circuit, built.subject.connection
    return Chain(
        f"{circuit.record.label}, {_when(connection)}",
        circuit.uid,
        connection.uid,
        canonical_text(built.chain.as_plain()),
        built.sources,
    )


def usable(desk: Desk, gauge: Entry[Gauge]) -> bool:
    """Whether a gauge may stand for something: not doubtful, not lost."""
    return state_of_gauge(desk.book, gauge) not in (State.DOUBTFUL, State.LOST, State.REPAIR)


def quarter_circuits(desk: Desk) -> list[tuple[Entry[BridgeCircuit], Entry[Gauge]]]:
    """Circuits of one gauge on a bar that have a chain, with it; no dummies, no rosettes."""
    dummies = {c.record.dummy for c in desk.book.of(BridgeCircuit)}
    chained = {chain.record.circuit for chain in desk.book.of(Chain)}
    found: list[tuple[Entry[BridgeCircuit], Entry[Gauge]]] = []
    for circuit in desk.book.of(BridgeCircuit):
        gauges = desk.book.gauges_of(circuit)
        alone = len(gauges) == 1 and not gauges[0].record.group
        if alone and circuit.uid in chained and circuit.uid not in dummies:
            found.append((circuit, gauges[0]))
    return found


def opposite_pairs(
    desk: Desk,
) -> list[
    tuple[tuple[Entry[BridgeCircuit], Entry[BridgeCircuit]], tuple[Entry[Gauge], Entry[Gauge]]]
]:
    """Usable opposite gauges with their circuits."""
    by_gauge = {gauge.uid: (circuit, gauge) for circuit, gauge in quarter_circuits(desk)}
    pairs = []
    for circuit, gauge in by_gauge.values():
        partner = by_gauge.get(gauge.record.opposite) if gauge.record.opposite else None
        if partner and usable(desk, gauge) and usable(desk, partner[1]):
            pairs.append(((partner[0], circuit), (partner[1], gauge)))
    return pairs


def _yield_results(desk: Desk) -> tuple[list[yields.Onset], list[Result]]:
    onsets: list[yields.Onset] = []
    for circuit, gauge in quarter_circuits(desk):
        onset = yields.yield_of_gauge(desk, circuit, gauge)
        onsets += [onset] if onset is not None else []
    for circuits, gauges in opposite_pairs(desk):
        onset = yields.yield_of_pair(desk, circuits, gauges)
        onsets += [onset] if onset is not None else []
    results = [_yield_result(desk, onset) for onset in onsets]
    return onsets, results + _mean_yields(desk, onsets)


def _mean_yields(desk: Desk, onsets: list[yields.Onset]) -> list[Result]:
    """Mean load of the pairs each question names: what they share does not average out."""
    made: list[Result] = []
    for question in desk.book.of(Question):
        if question.record.quantity != "yield load":
            continue
        stations = set(question.record.stations)
        pairs = [
            onset
            for onset in onsets
            if len(onset.gauges) == 2
            and onset.load is not None
            and all(desk.book.entry(uid, Gauge).record.station in stations for uid in onset.gauges)
        ]
        loads = [onset.load for onset in pairs if onset.load is not None]
        if len(loads) < 2:
            continue
        total = loads[0]
        for load in loads[1:]:
            total = total + load
        made.append(
            reduction_results.result_of(
                desk.book,
                total / len(loads),
                label=f"yield load, mean of {len(loads)} pairs ({question.record.label})",
                quantity="yield load",
                unit="N",
                criterion=f"mean over opposite pairs; each: {yields.CRITERION}",
                subjects=tuple(uid for onset in pairs for uid in onset.gauges),
                circuits=tuple(uid for onset in pairs for uid in onset.circuits),
                zero=f"zero {pairs[0].zero.value}",
                note="pairs: " + "; ".join(onset.label for onset in pairs),
            )
        )
    return made


def _yield_result(desk: Desk, onset: yields.Onset) -> Result:
    label = f"yield load {onset.label}"
    zero = f"zero {onset.zero.value}"
    if onset.load is None:
        return reduction_results.missing_result(
            desk.book,
            label=label,
            quantity="yield load",
            unit="N",
            criterion=yields.CRITERION,
            subjects=onset.gauges,
            circuits=onset.circuits,
            zero=zero,
            note=onset.note,
        )
    return reduction_results.result_of(
        desk.book,
        onset.load,
        label=label,
        quantity="yield load",
        unit="N",
        criterion=yields.CRITERION,
        subjects=onset.gauges,
        circuits=onset.circuits,
        zero=zero,
    )


def _row(desk: Desk, onset: yields.Onset) -> YieldRow:
    states = [state_of_gauge(desk.book, desk.book.entry(uid, Gauge)) for uid in onset.gauges]
    order = list(State)
    worst = max(states, key=order.index)
    coverage = reduction_results.COVERAGE
    if onset.load is None:
        return YieldRow(
            onset.label,
            onset.station,
            worst,
            None,
            None,
            coverage,
            "",
            onset.zero.value,
            onset.note,
        )
    budget = onset.load.budget(None, coverage=coverage)
    note = "" if worst is State.SOUND else f"{worst.value}: no part in answers"
    if worst is State.WATCH:
        note = "watch"
    return YieldRow(
        onset.label,
        onset.station,
        worst,
        onset.load.value.item(),
        onset.load.expanded(coverage).item(),
        coverage,
        budget.lines[0].meaning,
        onset.zero.value,
        note,
    )


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


def _force_results(desk: Desk, onsets: list[yields.Onset]) -> list[Result]:
    service = service_step(desk, onsets)
    results: list[Result] = []
    for step in asked_steps(desk, "force", service):
        results += [_force_result(desk, force) for force in bar_forces(desk, step)]
    for step in asked_steps(desk, "bond stress", service):
        # Change since the test began: what the load does, without the doubt of remade contacts.
        along = bar_forces(desk, step, zero=ZeroKind.BEFORE_TEST)
        results += [_bond_result(desk, bond) for bond in forces.bond_between(desk, along)]
    for step in asked_steps(desk, "principal stress", service):
        results += rosettes.results(desk, step)
    return results


def _force_result(desk: Desk, force: forces.BarForce) -> Result:
    step = force.step.record.label
    return reduction_results.result_of(
        desk.book,
        force.force,
        label=f"bar force {force.label} at {step}",
        quantity="force",
        unit="N",
        criterion=f"mean of the settled part of load step {step}",
        subjects=tuple(gauge.uid for gauge in force.gauges),
        circuits=force.circuits,
        zero=f"zero {force.zero.value}",
    )


def _bond_result(desk: Desk, bond: forces.BondStress) -> Result:
    ends = bond.between
    step = ends[0].step.record.label
    return reduction_results.result_of(
        desk.book,
        bond.stress,
        label=f"bond stress {ends[0].label} to {ends[1].label} at {step}",
        quantity="bond stress",
        unit="Pa",
        criterion="equilibrium of the bar between two stations",
        subjects=tuple(gauge.uid for force in ends for gauge in force.gauges),
        circuits=tuple(uid for force in ends for uid in force.circuits),
        zero=f"zero {ends[0].zero.value}",
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


def gauge_series(
    desk: Desk, circuit: Entry[BridgeCircuit], *, zero: ZeroKind, samples: int = 600
) -> GaugeSeries:
    """Strain of one circuit for a plot: samples spread evenly over rows with a known load.

    Raises
    ------
    InputError
        If the circuit has no readings while the load was recorded.
    """
    strain = desk.strain(circuit, zero)
    load = load_at(desk, strain.time)
    known = np.flatnonzero(np.isfinite(load))
    if not known.size:
        raise InputError(f"load beside {circuit.record.label}", "none", "recorded at the same time")
    rows = known[np.unique(np.linspace(0, known.size - 1, min(samples, known.size)).astype(int))]
    gauges = desk.book.gauges_of(circuit)
    order = list(State)
    states = [state_of_gauge(desk.book, gauge) for gauge in gauges]
    return GaugeSeries(
        circuit.record.label,
        gauges,
        circuit,
        max(states, key=order.index),
        zero,
        strain.time[rows],
        load[rows],
        strain.uncertain(rows),
    )


def unreduced(reduction: Reduction) -> str:
    """One sentence on what could not be reduced, or "" when everything was."""
    if not reduction.skipped:
        return ""
    return f"{len(reduction.skipped)} connection(s) not reduced: " + "; ".join(reduction.skipped)
