"""How far is each of the eight steps of the work, by what the records hold?"""

import enum
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from gaugewright.records.electrical import BridgeCircuit, Connection
from gaugewright.records.gauges import BenchStep, Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Gate, GateCheck, Verdict
from gaugewright.records.readings import Decision, Finding, Recording
from gaugewright.records.results import Result
from gaugewright.records.specimen import Station
from gaugewright.services.campaign.book import Book

__all__ = ["STEPS", "Progress", "StepFacts", "steps"]

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


def steps(book: Book, reports: int) -> tuple[StepFacts, ...]:
    """Every step of a campaign in order; ``reports`` is how many were made."""
    gauges = {entry.uid for entry in book.of(Gauge)}
    found = [
        _share("plan", len(book.of(Station)), len(book.of(Station)), "stations"),
        _share("bench", len(gauges & {e.record.gauge for e in book.of(BenchStep)}), len(gauges)),
        _gates(book, gauges),
        _share("wiring", len(gauges & _connected(book)), len(gauges)),
        _counted("readings", len(book.of(Recording)), "recording", "recordings"),
        _review(book),
        _counted("results", len(book.of(Result)), "number", "numbers"),
        _counted("handover", reports, "report", "reports"),
    ]
    return tuple(found)


def _share(step: str, have: int, of: int, what: str = "") -> StepFacts:
    if not have:
        return StepFacts(step, Progress.OPEN, Progress.OPEN.value)
    progress = Progress.DONE if have == of else Progress.HALF
    return StepFacts(step, progress, f"{have} {what}" if what else f"{have} of {of}")


def _counted(step: str, have: int, one: str, many: str) -> StepFacts:
    """A step that only a person can call done, so that it stays under way."""
    if not have:
        return StepFacts(step, Progress.OPEN, Progress.OPEN.value)
    return StepFacts(step, Progress.HALF, f"{have} {one if have == 1 else many}")


def _connected(book: Book) -> set[Uid]:
    """Gauges in circuits that were ever on a channel."""
    subjects = {entry.record.subject for entry in book.of(Connection)}
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
    at_it.sort(key=lambda entry: max(reading.measured for reading in entry.record.readings))
    verdicts = {entry.record.gauge: entry.record.verdict for entry in at_it}  # the last one holds
    counts = Counter(verdicts.values())
    passed = counts[Verdict.PASS] == len(verdicts)
    is_done = latest is order[-1] and verdicts.keys() == gauges and passed
    words = f"{latest.value}, {len(verdicts)} of {len(gauges)}"
    if not passed:
        told = [f"{counts[verdict]} {word}" for verdict, word in _VERDICTS if counts[verdict]]
        not_yet = len(gauges) - len(verdicts)
        told += [f"{not_yet} not yet"] if not_yet else []
        words = f"{latest.value}: " + ", ".join(told)
    return StepFacts("gates", Progress.DONE if is_done else Progress.HALF, words)


def _review(book: Book) -> StepFacts:
    findings = book.of(Finding)
    if not findings:
        return StepFacts("review", Progress.OPEN, Progress.OPEN.value)
    undecided = sum(entry.record.decision is Decision.OPEN for entry in findings)
    if undecided:
        return StepFacts("review", Progress.HALF, f"{undecided} to decide")
    return StepFacts("review", Progress.DONE, f"{len(findings)} decided")
