"""Findings as a person decides them: number against limit, place, company, what would follow."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from gaugewright.errors import InputError
from gaugewright.present.captions import listed
from gaugewright.present.numbers import fixed_text
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import Person
from gaugewright.records.readings import Decision, Finding, Recording
from gaugewright.records.results import Result
from gaugewright.records.stated import State
from gaugewright.services.campaign import states
from gaugewright.services.campaign.book import Book
from gaugewright.services.gauge.proof import GateLine, gate_lines
from gaugewright.services.reading.looking import instants
from gaugewright.services.reviewing.company import alike
from gaugewright.services.showing.page import UNUSABLE, Page
from gaugewright.services.telling.gauges import finding_row

__all__ = [
    "Case",
    "Companion",
    "Outcome",
    "cases",
    "companions",
    "company_of",
    "decided_by",
    "finding_named",
    "gates_of",
    "other_findings",
    "outcomes",
]

ELAPSED = "elapsed_ns"
OUTCOMES = (Decision.ACCEPTED, Decision.EXCLUDED, Decision.REJECTED)


@dataclass(frozen=True, slots=True)
class Case:
    """One finding in words: ``says`` is the state it claims, ``stands`` the gauge's state now."""

    entry: Entry[Finding]
    gauge: str
    says: State
    stands: State
    measured: str
    limit: str
    recording: str
    rows: str
    time: str

    @property
    def is_open(self) -> bool:
        """Whether nobody has decided it."""
        return self.entry.record.decision is Decision.OPEN


@dataclass(frozen=True, slots=True)
class Companion:
    """A gauge that should read alike, how it stands, and how it is a companion."""

    label: str
    how: str
    state: State
    why: str


@dataclass(frozen=True, slots=True)
class Outcome:
    """A decision and what would follow, or why it can't be made."""

    decision: Decision
    sentence: str
    is_allowed: bool = True


def cases(page: Page) -> tuple[Case, ...]:
    """Every finding: open ones first, what claims the worst first among them."""
    order = list(State)
    found = [_case(page, entry) for entry in page.book.of(Finding)]
    return tuple(sorted(found, key=lambda case: (not case.is_open, -order.index(case.says))))


def _case(page: Page, entry: Entry[Finding]) -> Case:
    row = finding_row(page, entry)
    finding = entry.record
    rows, time, recording = "", "", ""
    if finding.recording is not None:
        recording = page.book.label(finding.recording)
    if finding.first_row is not None and finding.last_row is not None:
        span = [fixed_text(row, 0) for row in (finding.first_row, finding.last_row)]
        rows = f"rows {span[0]} to {span[1]}" if span[0] != span[1] else f"row {span[0]}"
        time = _time(page, finding)
    gauge = page.book.entry(finding.subject, Gauge)
    return Case(
        entry,
        row.gauge,
        states.counts_as(replace(finding, decision=Decision.OPEN)),
        page.state(gauge),
        row.evidence,
        row.limit,
        recording,
        rows,
        time,
    )


def _time(page: Page, finding: Finding) -> str:
    """From when to when, on the campaign's clock; "" where the recording isn't joined to it."""
    if finding.recording is None or finding.first_row is None or finding.last_row is None:
        return ""
    recording = page.book.entry(finding.recording, Recording)
    readings = page.desk.store.readings(recording.uid)
    rows = (finding.first_row, finding.last_row)
    ticks = [readings.window(row, row, [ELAPSED])[ELAPSED].to_numpy()[0] / 1e9 for row in rows]
    first, last = (
        None if instant is None else instant.astimezone(page.zone)
        for instant in instants(page.book, recording, np.asarray(ticks, dtype=np.float64))
    )
    if first is None or last is None:
        return ""
    end = f"{last:%H:%M:%S}"
    if first.date() != last.date():
        end = f"{last.day} {last:%B %Y}, {end}"
    return f"{first.day} {first:%B %Y}, {first:%H:%M:%S} to {end}"


def outcomes(page: Page, case: Case) -> tuple[Outcome, ...]:
    """What each decision would do to the gauge's state and to its numbers."""
    return tuple(_outcome(page, case, decision) for decision in OUTCOMES)


def _outcome(page: Page, case: Case, decision: Decision) -> Outcome:
    finding = case.entry.record
    if decision is Decision.EXCLUDED and not states.has_rows(finding):
        return Outcome(decision, "It names no rows that could be left out.", is_allowed=False)
    after = states.standing_if(page.book, case.entry, decision)
    is_unusable = after.state in UNUSABLE
    follows = f"{case.gauge} {'stays' if after.state is case.stands else 'becomes'} "
    follows += after.state.value
    if is_unusable:
        follows += " and takes no part in any answer"
    if after.why and after.why != finding.sentence:
        follows += ", for another finding"
    begins = {
        Decision.ACCEPTED: "It is so.",
        Decision.EXCLUDED: f"Left out of every strain: {case.rows}.",
        Decision.REJECTED: "It isn’t so.",
    }
    again = ""
    if decision is Decision.EXCLUDED and page.book.of(Result):
        again = " Numbers reduced already don’t know of it: reduce again."
    return Outcome(decision, f"{begins[decision]} {follows}.{again}")


def gates_of(page: Page, case: Case) -> tuple[GateLine, ...]:
    """How the gauge did at its gates, in order of time."""
    return gate_lines(page, page.book.entry(case.entry.record.subject, Gauge))


def company_of(page: Page, case: Case) -> tuple[Companion, ...]:
    """Gauges that should read alike, the opposite first."""
    book = page.book
    gauge = book.entry(case.entry.record.subject, Gauge)
    found = []
    for other in companions(book, gauge):
        standing = states.standing_of_gauge(book, other)
        how = "opposite" if _are_opposite(gauge, other) else "at the same distance"
        found.append(Companion(other.record.label, how, standing.state, standing.why))
    return tuple(found)


def companions(book: Book, gauge: Entry[Gauge]) -> tuple[Entry[Gauge], ...]:
    """Gauges that should read like one gauge: opposites, then the same bar, then like bars."""
    likes = [g for g in book.of(Gauge) if g.uid != gauge.uid and alike(book, gauge, g)]
    bar = book.bar_of(gauge).uid
    likes.sort(key=lambda g: (not _are_opposite(gauge, g), book.bar_of(g).uid != bar))
    return tuple(likes)


def _are_opposite(one: Entry[Gauge], other: Entry[Gauge]) -> bool:
    return one.record.opposite == other.uid or other.record.opposite == one.uid


def other_findings(found: tuple[Case, ...], case: Case) -> tuple[Case, ...]:
    """Other findings about the same gauge."""
    subject = case.entry.record.subject
    return tuple(
        other
        for other in found
        if other.entry.record.subject == subject and other.entry.uid != case.entry.uid
    )


def decided_by(page: Page, case: Case) -> str:
    """Who decided a finding; "" while nobody has."""
    if case.is_open:
        return ""
    person = case.entry.person
    return page.book.entry(person, Person).record.name if person else "nobody named"


def finding_named(book: Book, typed: str) -> Entry[Finding]:
    """Finding by its uid, or the one open finding of a gauge by the gauge's label.

    Raises
    ------
    InputError
        If there is none, or several of them.
    """
    wanted = typed.strip()
    for entry in book.of(Finding):
        if entry.uid == wanted.upper():
            return entry
    mine = list(_open_of(book, wanted))
    if len(mine) == 1:
        return mine[0]
    if mine:
        uids = [f"{entry.uid} ({entry.record.code})" for entry in mine]
        raise InputError(
            "finding", typed, "the uid of one finding", f"{wanted} has these: {listed(uids)}"
        )
    known = {book.label(e.record.subject) for e in book.of(Finding) if _is_open(e)}
    allowed = "the uid of a finding, or the label of a gauge with an open one"
    raise InputError(
        "finding", typed, allowed, f"open are those of: {listed(sorted(known)) or 'no gauge'}"
    )


def _open_of(book: Book, label: str) -> Iterator[Entry[Finding]]:
    for entry in book.of(Finding):
        if _is_open(entry) and book.label(entry.record.subject) == label:
            yield entry


def _is_open(entry: Entry[Finding]) -> bool:
    return entry.record.decision is Decision.OPEN
