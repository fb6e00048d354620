"""From readings to results: chains applied, yield loads, bar forces, bond, stress of plates."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import Faults, GaugewrightError, InputError
from gaugewright.present.captions import listed
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Channel, Connection
from gaugewright.records.gauges import Gauge
from gaugewright.records.plain import canonical_text
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import Recording
from gaugewright.records.results import Chain, Result
from gaugewright.records.stated import State
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.campaign.states import state_of_gauge
from gaugewright.services.chaining.chains import BuiltChain, chain_for
from gaugewright.services.loading import yields
from gaugewright.services.loading.asked_strains import strain_results
from gaugewright.services.loading.yield_results import yield_results
from gaugewright.services.reading.series import read_through
from gaugewright.services.reducing.force_results import force_results
from gaugewright.services.results import results as reduction_results
from gaugewright.services.strain.strain_files import write_strains
from gaugewright.services.strain.strains import Desk
from gaugewright.services.under_load.loads import load_at
from gaugewright.services.work.spread import Spread
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
STEPS = 3  # strain, yield loads, then forces and results: progress counts rows in each


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


def reduce(
    store: CampaignStore, *, progress: Progress | None = None, spread: Spread | None = None
) -> Reduction:
    """Reduce everything that was read, and write chains and results down.

    ``spread`` has strain worked out by other processes or machines, to the same bits.

    Gauges whose state is doubtful or lost get their own row but no part in pairs, forces, bond
    or answers. Readings are never touched; running it twice writes nothing new. What an earlier
    reduction wrote and this one doesn't find is taken back; it stays readable with its history.

    Raises
    ------
    Faults
        When no circuit at all could be reduced: what is missing for each.
    """
    tell = progress or (lambda done, total, what: None)
    desk = Desk(store, Book.read(store))
    chains, skipped = _written_chains(desk)
    if not chains:
        raise Faults("nothing could be reduced", _each_once(skipped) or [_missing(desk.book)])
    _take_back_others(desk, chains)
    desk = Desk(store, Book.read(store))
    recordings = desk.book.of(Recording)
    rows = sum(recording.record.rows for recording in recordings)
    chained = frozenset(chain.record.connection for chain in chains)
    derived: list[str] = []
    done = 0
    for recording in recordings:
        tell(done, STEPS * rows, f"reducing {recording.record.label}")
        key = write_strains(
            desk,
            recording,
            ZeroKind.BEFORE_TEST,
            connections=chained,
            spread=spread,
            progress=_after(tell, done, rows),
        )
        derived += [key] if key is not None else []
        done += recording.record.rows
    onsets, results = yield_results(desk, progress=_counted_as(tell, rows))
    tell(2 * rows, STEPS * rows, "bar forces, bond and plates")
    results += force_results(desk, onsets)
    results += strain_results(desk)
    entries = reduction_results.written_results(store, desk.book, results)
    tell(STEPS * rows, STEPS * rows, "results written")
    table = tuple(_row(desk, onset) for onset in onsets)
    why = tuple(f"{where}: {reason}" for where, reason in skipped)
    return Reduction(chains, entries, table, tuple(derived), why)


def _each_once(skipped: list[tuple[str, str]]) -> list[GaugewrightError]:
    """Every reason once, with all it stands in the way of."""
    by_reason: dict[str, list[str]] = {}
    for where, why in skipped:
        by_reason.setdefault(why, []).append(where.partition(", ")[0])
    return [
        GaugewrightError(f"{listed(list(dict.fromkeys(labels)))}: {why}")
        for why, labels in by_reason.items()
    ]


def _after(tell: Progress, before: int, rows: int) -> Progress:
    """Rows of one recording told as rows of all of them, the first of the steps."""
    return lambda done, total, what: tell(before + done, STEPS * rows, what)


def _counted_as(tell: Progress, rows: int) -> Progress:
    """Gauges told as parts of the second step, which looks at every row once more."""
    return lambda done, total, what: tell(rows + rows * done // max(total, 1), STEPS * rows, what)


def _missing(book: Book) -> InputError:
    """What stands first between the records and any number, where no circuit has readings."""
    entered = "enter {} with the Python library"
    for name, kind, allowed, do in (
        ("readings", Recording, "imported before reducing", "import a file first"),
        ("gauges", Gauge, "entered before reducing", entered.format("gauges")),
        ("circuits", BridgeCircuit, "entered before reducing", entered.format("circuits")),
        ("channels", Channel, "entered before reducing", entered.format("channels")),
        ("connections", Connection, "entered before reducing", entered.format("connections")),
    ):
        if not book.of(kind):
            return InputError(name, "none", allowed, do)
    return InputError(
        "connections with readings",
        "none",
        "at least one circuit that was on a recorded channel while it was recorded",
        "compare the channels' columns and the connections' times with the recordings",
    )


def _written_chains(desk: Desk) -> tuple[tuple[Entry[Chain], ...], list[tuple[str, str]]]:
    """Chains of all connections with readings, as records; and what could not be built."""
    known = {entry.record.connection: entry for entry in desk.book.of(Chain)}
    entries: list[Entry[Chain]] = []
    skipped: list[tuple[str, str]] = []
    with desk.store.several():
        for circuit in desk.book.of(BridgeCircuit):
            for connection in read_through(desk.store, desk.book, circuit.uid):
                if _only_earlier_zero(desk, connection):
                    continue
                try:
                    built = chain_for(desk.book, connection)
                except (InputError, Faults) as problem:
                    skipped.append((f"{circuit.record.label}, {_when(connection)}", str(problem)))
                    continue
                record = _chain_record(desk, built)
                entry = known.get(connection.uid)
                if entry is None:
                    entry = desk.store.add(record, reason="reduced")
                elif entry.record != record:
                    entry = desk.store.revise(
                        entry.uid, entry.version, record, reason="reduced again"
                    )
                entries.append(entry)
    return tuple(entries), skipped


def _take_back_others(desk: Desk, made: tuple[Entry[Chain], ...]) -> None:
    """Take back chains of connections that gave none this time: no number stands on them now."""
    kept = {chain.uid for chain in made}
    with desk.store.several():
        for chain in desk.book.of(Chain):
            if chain.uid not in kept:
                desk.store.withdraw(chain.uid, chain.version, reason=reduction_results.NOT_AGAIN)


def _only_earlier_zero(desk: Desk, connection: Entry[Connection]) -> bool:
    """Whether a connection served only for a zero taken before the test's own."""
    kinds = [kind for kind in ZeroKind if desk.book.holds_zero(connection, kind)]
    return bool(kinds) and ZeroKind.BEFORE_TEST not in kinds


def _when(connection: Entry[Connection]) -> str:
    return f"connection from {connection.record.begins:%Y-%m-%d %H:%M} UTC"


def _chain_record(desk: Desk, built: BuiltChain) -> Chain:
    circuit, connection = built.subject.circuit, built.subject.connection
    label = circuit.record.label
    if connection.version > 1 and any(
        one.record.subject != circuit.uid for one in desk.store.history(connection.uid)
    ):
        # Plugs put right since: the other circuit's chain of that moment is called like this one.
        label += f" on {desk.book.label(connection.record.channel)}"
    return Chain(
        f"{label}, {_when(connection)}",
        circuit.uid,
        connection.uid,
        canonical_text(built.chain.as_plain()),
        built.sources,
    )


def _row(desk: Desk, onset: yields.Onset) -> YieldRow:
    states = [state_of_gauge(desk.book, desk.book.entry(uid, Gauge)) for uid in onset.gauges]
    order = list(State)
    worst = max(states, key=order.index)
    coverage = COVERAGE
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
