"""Where a campaign stands, what is at risk and what comes next, from its records alone."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from gaugewright.present.captions import listed
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Connection
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Gate, GateCheck, Zero, ZeroKind
from gaugewright.records.readings import ClockMap, Decision, Finding, LoadStep, Recording
from gaugewright.records.results import Chain, Result
from gaugewright.records.scheduling import BenchDays
from gaugewright.records.specimen import Campaign, Question
from gaugewright.records.stated import State
from gaugewright.services.bench.coming import steps_of
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.exact import exact_words, taken_as_exact
from gaugewright.services.campaign.gates import gate_number, gates_of
from gaugewright.services.campaign.questions import (
    AT_RISK,
    FEWER,
    UNUSABLE,
    QuestionLine,
    question_line,
)
from gaugewright.services.campaign.states import standing_of_gauge
from gaugewright.services.overview.steps import at_bench, failed_words
from gaugewright.services.plan.order import next_stage, stage_facts
from gaugewright.services.wiring.identifying import identities, proved_words

__all__ = ["GaugeLine", "NextThing", "Overview", "overview", "reports_in"]

NEAR_DAYS = 14  # curing of covers and repair of what fails a gate take days: common practice


@dataclass(frozen=True, slots=True)
class GaugeLine:
    """One gauge: its state and why, where it sits [m, rad], and the last gate it saw."""

    uid: Uid
    label: str
    state: State
    bar: str
    station: str
    datum: str
    distance: float
    angle: float
    last_gate: str
    why: str


@dataclass(frozen=True, slots=True)
class NextThing:
    """One thing to do now; ``step`` names the part of the work it belongs to."""

    step: str
    sentence: str
    gauge: str = ""


@dataclass(frozen=True, slots=True)
class Overview:
    """Everything the first page of a campaign says."""

    where: str
    gauges: tuple[GaugeLine, ...]
    counts: tuple[tuple[State, int], ...]
    risk: str
    questions: tuple[QuestionLine, ...]
    next_things: tuple[NextThing, ...]

    @property
    def at_risk(self) -> tuple[GaugeLine, ...]:
        """Gauges that need a look, the worst first."""
        order = list(State)
        bad = [g for g in self.gauges if g.state in (*UNUSABLE, State.WATCH)]
        return tuple(sorted(bad, key=lambda g: -order.index(g.state)))


def overview(
    book: Book, *, reports: int, last_report: datetime | None = None, now: datetime | None = None
) -> Overview:
    """Facts of a campaign: ``reports`` are how many were built, ``last_report`` when.

    With ``now`` a pour that nears is told, with the gauges that aren't ready for it.
    """
    lines = tuple(_gauge_lines(book))
    counts = Counter(line.state for line in lines)
    questions = tuple(question_line(book, entry) for entry in book.of(Question))
    near = None if now is None else _pour_near(book, lines, now)
    risk = _risk(lines, questions) or _too_sure(book)
    things = tuple(_next_things(book, lines, questions, last_report))
    if near is not None:
        risk = near.told if near.late else risk
        things = (near.next_thing, *things) if near.next_thing else things
    return Overview(
        _where(book, reports) + ("" if near is None else f" {near.when}"),
        lines,
        tuple((state, counts[state]) for state in State if counts[state]),
        risk,
        questions,
        things,
    )


@dataclass(frozen=True, slots=True)
class _Near:
    """A pour to come: when, how many gauges aren't ready, and what to do for it."""

    when: str
    told: str
    late: bool
    next_thing: NextThing | None


def _pour_near(book: Book, lines: tuple[GaugeLine, ...], now: datetime) -> _Near | None:
    """The pour that days at the bench were planned for, as long as it is to come."""
    planned = book.of(BenchDays)
    if not planned or not lines:
        return None
    days = planned[-1].record
    zone = ZoneInfo(book.of(Campaign)[-1].record.zone)
    left = (days.pour_day - now.astimezone(zone).date()).days
    if left < 0:
        return None
    day = f"{days.pour_day.day} {days.pour_day:%B}"
    when = f"in {_counted(left, 'day', 'days')}, on {day}" if left else f"today, {day}"
    order = list(Gate)
    ready = {
        check.record.gauge
        for check in book.of(GateCheck)
        if order.index(check.record.gate) >= order.index(Gate.BEFORE_POUR)
    }
    waiting = [g for g in lines if g.uid not in ready and g.state is not State.LOST]
    told = (
        f"The pour is {when}, and {len(waiting)} of {len(lines)} gauges haven’t been through "
        "the gate before it."
    )
    others = f" and {len(waiting) - 1} more" if len(waiting) > 1 else ""
    thing = (
        NextThing(
            "gates",
            f"Bring {waiting[0].label}{others} through gate before pour by {day}.",
            waiting[0].label,
        )
        if waiting
        else None
    )
    late = bool(waiting) and left <= NEAR_DAYS
    return _Near(f"Pour {when}.", told, late, thing if late else None)


def reports_in(folder: Path) -> tuple[Path, ...]:
    """Reports built for a campaign, oldest first."""
    found = (folder / "handover").glob("report-*.pdf")
    return tuple(sorted(found, key=lambda path: (path.stat().st_mtime, path.name)))


def _gauge_lines(book: Book) -> Iterator[GaugeLine]:
    last = _last_gates(book)
    for gauge in book.of(Gauge):
        standing = standing_of_gauge(book, gauge)
        station, bar = book.station_of(gauge).record, book.bar_of(gauge).record
        built, turned = station.distance_built, station.angle_built
        check = last.get(gauge.uid)
        yield GaugeLine(
            gauge.uid,
            gauge.record.label,
            standing.state,
            bar.label,
            station.label,
            station.datum,
            station.distance_planned if built is None else built.value,
            station.angle_planned if turned is None else turned.value,
            "" if check is None else f"{check.record.gate.value}: {check.record.verdict.value}",
            standing.why,
        )


def _last_gates(book: Book) -> dict[Uid, Entry[GateCheck]]:
    order = {gate: place for place, gate in enumerate(Gate)}
    last: dict[Uid, Entry[GateCheck]] = {}
    for check in book.of(GateCheck):
        known = last.get(check.record.gauge)
        if known is None or order[check.record.gate] >= order[known.record.gate]:
            last[check.record.gauge] = check
    return last


def _where(book: Book, reports: int) -> str:
    """The furthest the work has come, in one sentence."""
    gauges, recordings, results = book.of(Gauge), book.of(Recording), book.of(Result)
    if not gauges and recordings:
        are = _counted(len(recordings), "recording is", "recordings are")
        return f"{are} in; no gauge is placed that they could belong to."
    if not gauges:
        return _planned_so_far(book)
    if results:
        built = _counted(reports, "report is", "reports are") + " built" if reports else ""
        numbers = _counted(len(results), "result", "results")
        from_ = _counted(len(recordings), "recording", "recordings")
        return f"{numbers} from {from_}; {built or 'no report is built yet'}."
    if recordings:
        are = _counted(len(recordings), "recording is", "recordings are")
        return f"{are} in; nothing is reduced yet."
    checks = book.of(GateCheck)
    if checks:
        latest = max((c.record.gate for c in checks), key=list(Gate).index)
        through = {c.record.gauge for c in checks if c.record.gate is latest}
        at_it = f"{len(through)} of {len(gauges)} gauges measured."
        told = f"Gate {gate_number(book, latest)} of {len(gates_of(book))}, {latest.value}: {at_it}"
        return f"{told} {failed_words(book)}".strip()
    bench = at_bench(book)
    if bench.begun:
        through_all = f"{bench.through or 'none'} through all steps"
        return f"At the bench: {bench.begun} of {len(gauges)} gauges begun, {through_all}."
    return f"{_counted(len(gauges), 'gauge is', 'gauges are')} placed; none is bonded yet."


def _planned_so_far(book: Book) -> str:
    """What a plan without gauges has."""
    have = [one.stage.name.lower() for one in stage_facts(book) if one.count]
    if not have:
        return "Nothing is placed yet: the campaign has been begun."
    return f"The plan is begun: {listed(have)} are there; no gauge is placed yet."


def _counted(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def _risk(lines: tuple[GaugeLine, ...], questions: tuple[QuestionLine, ...]) -> str:
    """What is in danger, the gravest first, in one sentence; "" where no gauge is."""
    # Before there is a gauge nothing is at risk: it is planned.
    at_risk = [question for question in questions if lines and question.standing == AT_RISK]
    grave = [question for question in at_risk if question.placed]
    if at_risk and not grave:
        return f"“{at_risk[0].text}”: no gauge is placed for it yet."
    if grave:
        more = f", and {len(grave) - 1} more" if len(grave) > 1 else ""
        return f"The answer to “{grave[0].text}”{more}: one gauge or none can be used for it."
    bad = sum(line.state in UNUSABLE for line in lines)
    fewer = sum(question.standing == FEWER for question in questions)
    if bad and fewer:
        answers = _counted(fewer, "question rests", "questions rest")
        gauges = _counted(bad, "gauge is", "gauges are")
        return f"{answers} on fewer gauges than planned: {gauges} doubtful or lost."
    if bad:
        return (
            f"{_counted(bad, 'gauge is', 'gauges are')} doubtful or lost; every question is safe."
        )
    if any(line.state is State.WATCH for line in lines):
        return "Every question is safe; look again at the gauges on watch."
    return ""


def _too_sure(book: Book) -> str:
    """Numbers without ±, which make every budget that takes them too small."""
    found = taken_as_exact(book)
    if not found:
        return "Nothing that the records show."
    have = _counted(len(found), "record has", "records have")
    return f"No gauge. But {have} numbers without ±: budgets come out too small."


def _next_things(
    book: Book,
    lines: tuple[GaugeLine, ...],
    questions: tuple[QuestionLine, ...],
    last_report: datetime | None,
) -> Iterator[NextThing]:
    if not lines:
        yield from _of_plan(book)
        yield from _without_doubt(book)
        yield from _unjoined(book)
        return
    is_begun = bool(steps_of(book) or book.of(GateCheck) or book.of(Recording))
    if not is_begun:
        yield from _of_plan(book)
    for line in lines:
        if line.state is State.REPAIR:
            yield NextThing("gates", f"Repair {line.label} while it can be reached.", line.label)
    yield from _before_reading(book, lines)
    yield from _identity(book)
    if not book.of(Recording):
        if is_begun:
            yield from _of_plan(book)
        yield NextThing("readings", "Bring in the first recording.")
        yield from _without_doubt(book)
        return
    yield from _after_reading(book, last_report)
    for question in questions:
        if question.standing == AT_RISK:
            yield NextThing("plan", f"“{question.text}” hangs on one gauge or none.")


def _without_doubt(book: Book) -> Iterator[NextThing]:
    found = taken_as_exact(book)
    if found:
        yield NextThing("plan", f"Say how well numbers are known. {exact_words(found)}")


def _of_plan(book: Book) -> Iterator[NextThing]:
    """The part of the plan that comes next, as long as the job can't go on without."""
    coming = next_stage(book)
    if coming is not None and coming.stage.is_needed:
        begun = any(one.count for one in stage_facts(book))
        yield NextThing("plan", f"{'Go on with' if begun else 'Begin'} the plan. {coming.words}")


def _identity(book: Book) -> Iterator[NextThing]:
    """Exchanged channels at any time; what isn't proved as long as a finger can reach it."""
    found = identities(book)
    for one in found:
        if one.state is State.REPAIR:
            label = one.gauge.record.label
            yield NextThing("wiring", f"{label} isn’t where its label says: {one.words}.", label)
    if any(check.record.gate is Gate.AFTER_POUR for check in book.of(GateCheck)):
        return
    open_ones = [one.gauge.record.label for one in found if one.reads and one.proof is None]
    if open_ones:
        others = f" and {len(open_ones) - 1} more" if len(open_ones) > 1 else ""
        told = f"Touch {open_ones[0]}{others} and see which channel moves. {proved_words(book)}."
        yield NextThing("wiring", told, open_ones[0])


def _before_reading(book: Book, lines: tuple[GaugeLine, ...]) -> Iterator[NextThing]:
    unseen = [line for line in lines if line.state is State.NOT_YET]
    if not book.of(Recording):
        # What nobody has bonded can't be measured either.
        begun = steps_of(book).keys()
        unseen = [line for line in unseen if line.uid in begun]
    if unseen:
        one = unseen[0].label
        others = f" and {len(unseen) - 1} more" if len(unseen) > 1 else ""
        yield NextThing("gates", f"Measure {one}{others}: nothing was read of it yet.", one)
    bench = at_bench(book).open
    if bench and not book.of(Recording):
        waiting = [gauge.record.label for gauge, step in bench if step == bench[0][1]]
        others = f" and {len(waiting) - 1} more" if len(waiting) > 1 else ""
        yield NextThing("bench", f"At the bench, {bench[0][1]}: {waiting[0]}{others}.", waiting[0])
    connected = {connection.record.subject for connection in book.of(Connection)}
    loose = [c for c in book.of(BridgeCircuit) if c.uid not in connected]
    if loose:
        name = loose[0].record.label
        others = f" and {len(loose) - 1} more" if len(loose) > 1 else ""
        yield NextThing("wiring", f"Give circuit {name}{others} a channel.")


def _after_reading(book: Book, last_report: datetime | None) -> Iterator[NextThing]:
    yield from _unjoined(book)
    if not any(zero.record.kind is ZeroKind.BEFORE_TEST for zero in book.of(Zero)):
        yield NextThing("gates", "Take the zero before the test from a quiet recording.")
    undecided = sum(f.record.decision is Decision.OPEN for f in book.of(Finding))
    if undecided:
        words = _counted(undecided, "open finding", "open findings")
        yield NextThing("review", f"Decide {words}: accept, exclude or reject with a reason.")
    # Strain alone is a result too: what is lacking then stands under Results.
    results = [r.at for r in book.of(Result)] + [r.at for r in book.of(Chain)]
    newest = max([r.at for r in book.of(Recording)] + [r.at for r in book.of(LoadStep)])
    changed = max(results, default=None)
    if changed is None:
        yield NextThing("results", "Reduce the readings to results.")
    elif changed < newest:
        yield NextThing(
            "results", "Reduce again: a recording or a load step is newer than the results."
        )
    elif last_report is None:
        yield NextThing("handover", "Build the report.")
    elif last_report < changed:
        yield NextThing("handover", "Build the report again: results changed since the last.")


def _unjoined(book: Book) -> Iterator[NextThing]:
    joined = {clock.record.recording for clock in book.of(ClockMap)}
    for recording in book.of(Recording):
        if recording.uid not in joined:
            yield NextThing("readings", f"Join the clock of recording {recording.record.label}.")
