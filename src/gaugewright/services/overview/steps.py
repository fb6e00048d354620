"""How far is each of the eight steps of the work, by what the records hold?"""

import enum
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Connection
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Gate, GateCheck, Verdict
from gaugewright.records.readings import Decision, Finding, Recording
from gaugewright.records.results import Result
from gaugewright.services.bench.coming import Place, standing, steps_of
from gaugewright.services.bench.methods import method_of
from gaugewright.services.campaign.book import Book
from gaugewright.services.plan.order import stage_facts

__all__ = [
    "STEPS",
    "AtBench",
    "Progress",
    "StepFacts",
    "at_bench",
    "failed_earlier",
    "failed_words",
    "steps",
]

STEPS = ("plan", "bench", "gates", "wiring", "readings", "review", "results", "handover")
_VERDICTS = ((Verdict.PASS, "pass"), (Verdict.FAIL, "fail"), (Verdict.CANNOT_TELL, "can’t tell"))


class Progress(enum.Enum):
    """How far a step is."""

    OPEN = "nothing yet"
    HALF = "under way"
    DONE = "done"


@dataclass(frozen=True, slots=True)
class StepFacts:
    """A step: how far it is, and that in a few words."""

    step: str
    progress: Progress
    words: str


def steps(book: Book, reports: int, now: datetime | None = None) -> tuple[StepFacts, ...]:
    """Every step of a campaign in order; ``reports`` is how many were made.

    With ``now`` a plug that is written down for later is told as planned.
    """
    gauges = {entry.uid for entry in book.of(Gauge)}
    found = [
        _plan(book),
        _bench(book),
        _gates(book, gauges),
        _wiring(book, gauges, now),
        _counted("readings", len(book.of(Recording)), "recording", "recordings"),
        _review(book),
        _counted("results", len(book.of(Result)), "number", "numbers"),
        _counted("handover", reports, "report", "reports"),
    ]
    return tuple(found)


def _plan(book: Book) -> StepFacts:
    """Done when every part that the job can't go on without is there."""
    found = stage_facts(book)
    if not any(one.count for one in found):
        return StepFacts("plan", Progress.OPEN, Progress.OPEN.value)
    stations, gauges = (
        next(one.count for one in found if one.stage.key == key) for key in ("station", "gauge")
    )
    words = _counted_words(gauges, "gauge", "gauges") if gauges else "no gauge yet"
    if gauges < stations:
        words = f"{gauges} of {stations} gauges"
    lacking = next((one for one in found if one.stage.is_needed and not one.is_done), None)
    if lacking is not None and gauges and gauges >= stations:
        words += f"; open: {lacking.stage.name.lower()}"
    return StepFacts("plan", Progress.HALF if lacking else Progress.DONE, words)


@dataclass(frozen=True, slots=True)
class AtBench:
    """Gauges at the bench: through all steps, begun, and with a step to be done again."""

    through: int
    begun: int
    again: tuple[Entry[Gauge], ...]
    open: tuple[tuple[Entry[Gauge], str], ...]


def at_bench(book: Book) -> AtBench:
    """How far the bench is. A gauge that was measured before the pour, or later, is through.

    ``open`` are the others, each with the step that comes next.
    """
    return book.once("gauges at the bench", _at_bench)


def _at_bench(book: Book) -> AtBench:
    order = list(Gate)
    past = {
        check.record.gauge
        for check in book.of(GateCheck)
        if order.index(check.record.gate) >= order.index(Gate.BEFORE_POUR)
    }
    written = steps_of(book)
    through = 0
    again: list[Entry[Gauge]] = []
    left: list[tuple[Entry[Gauge], str]] = []
    for gauge in book.of(Gauge):
        coming = None
        if gauge.uid not in past:
            coming = standing(book, gauge, method_of(book, gauge)).next_place
        if coming is None:
            through += gauge.uid in past or gauge.uid in written
            continue
        left.append((gauge, coming.step.name))
        again += [gauge] if coming.place is Place.REDO else []
    gauges = {gauge.uid for gauge in book.of(Gauge)}
    return AtBench(through, len(gauges & written.keys()), tuple(again), tuple(left))


def _bench(book: Book) -> StepFacts:
    gauges, found = len(book.of(Gauge)), at_bench(book)
    if not found.begun:
        return StepFacts("bench", Progress.OPEN, Progress.OPEN.value)
    if found.through == gauges:
        return StepFacts("bench", Progress.DONE, f"{gauges} of {gauges}")
    words = (
        f"{found.through} of {gauges} done" if found.through else f"{found.begun} of {gauges} begun"
    )
    if found.again:
        words += f", {len(found.again)} to do again"
    return StepFacts("bench", Progress.HALF, words)


def _wiring(book: Book, gauges: set[Uid], now: datetime | None) -> StepFacts:
    """Gauges that were ever plugged in, how many only are to be, and how many are out again.

    Out counts while nothing was recorded: after a test plugs are pulled and the step stays done.
    """
    have = len(gauges & _connected(book, now))
    planned = len(gauges & _connected(book, None)) - have
    if not have and not planned:
        return StepFacts("wiring", Progress.OPEN, Progress.OPEN.value)
    words = f"{have} of {len(gauges)}" if have else ""
    words += (", " if have and planned else "") + (f"{planned} planned" if planned else "")
    out = 0 if book.of(Recording) else have - len(gauges & _connected(book, now, standing=True))
    words += f", {out} out again" if out else ""
    done = have == len(gauges) and not out
    return StepFacts("wiring", Progress.DONE if done else Progress.HALF, words)


def _counted_words(have: int, one: str, many: str) -> str:
    return f"{have} {one if have == 1 else many}"


def _counted(step: str, have: int, one: str, many: str) -> StepFacts:
    """A step that only a person can call done, so that it stays under way."""
    if not have:
        return StepFacts(step, Progress.OPEN, Progress.OPEN.value)
    return StepFacts(step, Progress.HALF, _counted_words(have, one, many))


def _connected(book: Book, now: datetime | None, *, standing: bool = False) -> set[Uid]:
    """Gauges in circuits that were ever on a channel, or are; without ``now`` planned ones too."""
    subjects = {
        entry.record.subject
        for entry in book.of(Connection)
        if (now is None or entry.record.begins <= now)
        and not (standing and entry.record.ends is not None)
    }
    return {
        arm.gauge
        for circuit in book.of(BridgeCircuit)
        if circuit.uid in subjects
        for arm in circuit.record.arms
        if arm.gauge is not None
    }


def _gates(book: Book, gauges: set[Uid]) -> StepFacts:
    """The latest gate that any gauge was checked at, how many were, and how many failed it."""
    checks = book.of(GateCheck)
    order: Sequence[Gate] = tuple(Gate)
    if not checks:
        return StepFacts("gates", Progress.OPEN, Progress.OPEN.value)
    latest = max((entry.record.gate for entry in checks), key=order.index)
    at_it = [e for e in checks if e.record.gate is latest and e.record.gauge in gauges]
    at_it.sort(key=lambda entry: _measured(entry.record))
    verdicts = {entry.record.gauge: entry.record.verdict for entry in at_it}  # the last one holds
    counts = Counter(verdicts.values())
    passed = counts[Verdict.PASS] == len(verdicts)
    earlier = [gauge for gauge in failed_earlier(book) if verdicts.get(gauge) is Verdict.PASS]
    is_done = latest is order[-1] and verdicts.keys() == gauges and passed and not earlier
    words = f"{latest.value}, {len(verdicts)} of {len(gauges)}"
    if not passed:
        told = [f"{counts[verdict]} {word}" for verdict, word in _VERDICTS if counts[verdict]]
        not_yet = len(gauges) - len(verdicts)
        told += [f"{not_yet} not yet"] if not_yet else []
        words = f"{latest.value}: " + ", ".join(told)
    if earlier:
        words += f"; {len(earlier)} failed earlier"
    return StepFacts("gates", Progress.DONE if is_done else Progress.HALF, words)


def failed_words(book: Book) -> str:
    """Gauges that failed a gate and weren't measured there again, in a sentence; "" for none."""
    found = failed_earlier(book)
    named = [
        f"{book.label(gauge)} ({' and '.join(gate.value for gate in gates)})"
        for gauge, gates in found.items()
    ]
    if not named:
        return ""
    more = f" and {len(named) - 3} more" if len(named) > 3 else ""
    weren_t = "wasn’t" if len(named) == 1 else "weren’t"
    return f"Failed, and {weren_t} measured there again: {', '.join(named[:3])}{more}."


def failed_earlier(book: Book) -> dict[Uid, tuple[Gate, ...]]:
    """Gauges with the gates that they failed and weren't measured at again, in order."""
    last: dict[tuple[Uid, Gate], GateCheck] = {}
    for entry in book.of(GateCheck):
        check, key = entry.record, (entry.record.gauge, entry.record.gate)
        if key not in last or _measured(check) >= _measured(last[key]):
            last[key] = check
    found: dict[Uid, tuple[Gate, ...]] = {}
    for gate in Gate:
        for (gauge, at), check in last.items():
            if at is gate and check.verdict is Verdict.FAIL:
                found[gauge] = (*found.get(gauge, ()), gate)
    return found


def _measured(check: GateCheck) -> datetime:
    return max(reading.measured for reading in check.readings)


def _review(book: Book) -> StepFacts:
    findings = book.of(Finding)
    if not findings:
        return StepFacts("review", Progress.OPEN, Progress.OPEN.value)
    undecided = sum(entry.record.decision is Decision.OPEN for entry in findings)
    if undecided:
        return StepFacts("review", Progress.HALF, f"{undecided} to decide")
    return StepFacts("review", Progress.DONE, f"{len(findings)} decided")
