"""Where a campaign stands, what is at risk and what comes next, from its records alone."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Connection
from gaugewright.records.gauges import BenchStep, Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Gate, GateCheck, Verdict, Zero, ZeroKind
from gaugewright.records.readings import ClockMap, Decision, Finding, Recording, Severity
from gaugewright.records.results import Result
from gaugewright.records.specimen import Question
from gaugewright.records.stated import State
from gaugewright.services.book import Book

__all__ = [
    "STEPS",
    "GaugeLine",
    "NextThing",
    "Overview",
    "QuestionLine",
    "StepLine",
    "overview",
    "reports_in",
    "states_of_gauges",
]

# The person's work in eight steps, as the chain at the head of every page.
STEPS = ("plan", "bench", "gates", "wiring", "readings", "review", "results", "handover")
DONE, UNDER_WAY, TO_COME = "done", "under way", "to come"
_BAD = (State.DOUBTFUL, State.LOST, State.REPAIR)


@dataclass(frozen=True, slots=True)
class StepLine:
    """One step of the work: done, under way or to come, and a sentence with the numbers."""

    step: str
    progress: str
    sentence: str


@dataclass(frozen=True, slots=True)
class GaugeLine:
    """One gauge: its state, where it sits, the last gate it saw, and why it is in that state."""

    uid: Uid
    label: str
    state: State
    bar: str
    station: str
    distance: float
    angle: float
    last_gate: str
    why: str


@dataclass(frozen=True, slots=True)
class QuestionLine:
    """A question and how well it can still be answered: safe, thin or at risk."""

    uid: Uid
    label: str
    text: str
    standing: str
    sentence: str
    answered: bool


@dataclass(frozen=True, slots=True)
class NextThing:
    """One thing to do now; ``step`` names the part of the work it belongs to."""

    step: str
    sentence: str
    gauge: str = ""


@dataclass(frozen=True, slots=True)
class Overview:
    """Everything the first page of a campaign says."""

    steps: tuple[StepLine, ...]
    gauges: tuple[GaugeLine, ...]
    counts: tuple[tuple[State, int], ...]
    questions: tuple[QuestionLine, ...]
    next_things: tuple[NextThing, ...]


def states_of_gauges(book: Book) -> dict[Uid, tuple[State, str]]:
    """State of every gauge with its reason, found in one pass over findings and gates."""
    worst: dict[Uid, tuple[State, str]] = {}
    scale = {
        Severity.LOST: State.LOST,
        Severity.DOUBTFUL: State.DOUBTFUL,
        Severity.NOTE: State.WATCH,
    }
    order = list(State)
    for entry in book.of(Finding):
        finding = entry.record
        if finding.decision is Decision.REJECTED:
            continue
        state = scale[finding.severity]
        known = worst.get(finding.subject)
        if known is None or order.index(state) > order.index(known[0]):
            worst[finding.subject] = (state, finding.sentence)
    checked = {check.record.gauge for check in book.of(GateCheck)}
    found: dict[Uid, tuple[State, str]] = {}
    for gauge in book.of(Gauge):
        nothing = (State.SOUND, "") if gauge.uid in checked else (State.NOT_YET, "nothing measured")
        found[gauge.uid] = worst.get(gauge.uid, nothing)
    return found


def overview(book: Book, *, reports: int, last_report: datetime | None = None) -> Overview:
    """Facts of a campaign: ``reports`` are how many were built, ``last_report`` when."""
    states = states_of_gauges(book)
    lines = tuple(_gauge_lines(book, states))
    counts = Counter(line.state for line in lines)
    questions = tuple(_question_line(book, entry, states) for entry in book.of(Question))
    steps = tuple(_steps(book, reports, last_report))
    things = tuple(_next_things(book, lines, steps, questions))
    return Overview(
        steps,
        lines,
        tuple((state, counts[state]) for state in State if counts[state]),
        questions,
        things,
    )


def reports_in(folder: Path) -> tuple[Path, ...]:
    """Reports built for a campaign, oldest first."""
    found = (folder / "handover").glob("report-*.pdf")
    return tuple(sorted(found, key=lambda path: (path.stat().st_mtime, path.name)))


def _last_gates(book: Book) -> dict[Uid, Entry[GateCheck]]:
    order = list(Gate)
    last: dict[Uid, Entry[GateCheck]] = {}
    for check in book.of(GateCheck):
        known = last.get(check.record.gauge)
        if known is None or order.index(check.record.gate) >= order.index(known.record.gate):
            last[check.record.gauge] = check
    return last


def _gauge_lines(book: Book, states: dict[Uid, tuple[State, str]]) -> Iterator[GaugeLine]:
    last = _last_gates(book)
    for gauge in book.of(Gauge):
        state, why = states[gauge.uid]
        station, bar = book.station_of(gauge).record, book.bar_of(gauge).record
        built, turned = station.distance_built, station.angle_built
        check = last.get(gauge.uid)
        yield GaugeLine(
            gauge.uid,
            gauge.record.label,
            state,
            bar.label,
            station.label,
            station.distance_planned if built is None else built.value,
            station.angle_planned if turned is None else turned.value,
            "" if check is None else f"{check.record.gate.value}: {check.record.verdict.value}",
            why,
        )


def _question_line(
    book: Book, entry: Entry[Question], states: dict[Uid, tuple[State, str]]
) -> QuestionLine:
    stations = set(entry.record.stations)
    mine = [gauge for gauge in book.of(Gauge) if gauge.record.station in stations]
    usable = [gauge for gauge in mine if states[gauge.uid][0] not in _BAD]
    standing = "safe"
    if len(usable) < len(mine):
        standing = "thin"
    if len(usable) <= 1:
        standing = "at risk"
    sentence = f"{len(usable)} of {len(mine)} gauges can be used"
    if not mine:
        standing, sentence = "at risk", "no gauge is placed for it"
    answered = any(
        result.record.question == entry.uid and result.record.value is not None
        for result in book.of(Result)
    )
    return QuestionLine(
        entry.uid, entry.record.label, entry.record.text, standing, sentence, answered
    )


def _progress(done: int, total: int) -> str:
    if not done:
        return TO_COME
    return DONE if done >= total else UNDER_WAY


def _steps(book: Book, reports: int, last_report: datetime | None) -> Iterator[StepLine]:
    gauges, questions = book.of(Gauge), book.of(Question)
    yield StepLine(
        "plan",
        DONE if gauges and questions else UNDER_WAY if gauges or questions else TO_COME,
        f"{len(questions)} questions, {len(gauges)} gauges placed",
    )
    benched = {step.record.gauge for step in book.of(BenchStep)}
    yield StepLine(
        "bench",
        _progress(len(benched), len(gauges)),
        f"bench work recorded for {len(benched)} of {len(gauges)} gauges",
    )
    last = _last_gates(book)
    through = [c for c in last.values() if c.record.gate is Gate.BEFORE_TEST]
    passed = sum(check.record.verdict is Verdict.PASS for check in through)
    yield StepLine(
        "gates",
        _progress(len(through), len(gauges)) if through else UNDER_WAY if last else TO_COME,
        f"{passed} of {len(gauges)} gauges passed the gate before test",
    )
    circuits = book.of(BridgeCircuit)
    connected = {c.record.subject for c in book.of(Connection)} & {c.uid for c in circuits}
    yield StepLine(
        "wiring",
        _progress(len(connected), len(circuits)),
        f"{len(connected)} of {len(circuits)} circuits have a channel",
    )
    yield from _later_steps(book, reports, last_report)


def _later_steps(book: Book, reports: int, last_report: datetime | None) -> Iterator[StepLine]:
    recordings = book.of(Recording)
    joined = {clock.record.recording for clock in book.of(ClockMap)}
    yield StepLine(
        "readings",
        _progress(len([r for r in recordings if r.uid in joined]), len(recordings)),
        f"{len(recordings)} recordings, {sum(r.record.rows for r in recordings)} rows, "
        f"{len(joined)} with their clock joined",
    )
    findings = book.of(Finding)
    undecided = sum(f.record.decision is Decision.OPEN for f in findings)
    results = book.of(Result)
    yield StepLine(
        "review",
        UNDER_WAY if undecided else DONE if findings or results else TO_COME,
        f"{len(findings)} findings, {undecided} not decided",
    )
    newest = max((r.at for r in recordings), default=None)
    stale = bool(results) and newest is not None and max(r.at for r in results) < newest
    yield StepLine(
        "results",
        TO_COME if not results else UNDER_WAY if stale else DONE,
        f"{len(results)} results" + (", older than the newest recording" if stale else ""),
    )
    changed = max((r.at for r in results), default=None)
    behind = last_report is not None and changed is not None and last_report < changed
    yield StepLine(
        "handover",
        TO_COME if not reports else UNDER_WAY if behind else DONE,
        f"{reports} reports" + (", results changed since the last" if behind else ""),
    )


def _next_things(
    book: Book,
    lines: tuple[GaugeLine, ...],
    steps: tuple[StepLine, ...],
    questions: tuple[QuestionLine, ...],
) -> Iterator[NextThing]:
    progress = {step.step: step.progress for step in steps}
    if not lines:
        yield NextThing("plan", "Place the gauges: nothing is placed yet.")
        return
    for line in lines:
        if line.state is State.REPAIR:
            yield NextThing("gates", f"Repair {line.label} while it can be reached.", line.label)
    if progress["readings"] == TO_COME:
        yield NextThing("readings", "Bring in the first recording.")
        return
    if not any(zero.record.kind is ZeroKind.BEFORE_TEST for zero in book.of(Zero)):
        yield NextThing("gates", "Take the zero before the test from a quiet recording.")
    undecided = [f for f in book.of(Finding) if f.record.decision is Decision.OPEN]
    if undecided:
        count = len(undecided)
        words = "1 finding is" if count == 1 else f"{count} findings are"
        yield NextThing("review", f"{words} not decided: accept, exclude or reject with a reason.")
    if progress["results"] != DONE:
        yield NextThing("results", "Reduce the readings to results.")
    elif progress["handover"] != DONE:
        yield NextThing("handover", "Build the report.")
    for question in questions:
        if question.standing == "at risk":
            yield NextThing("plan", f"“{question.text}” hangs on one gauge or none.")
