"""How each gauge stands on the one scale, from its findings and gates."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import GateCheck
from gaugewright.records.readings import Decision, Finding, Severity
from gaugewright.records.stated import State
from gaugewright.services.campaign.book import Book

__all__ = [
    "Standing",
    "counts_as",
    "has_rows",
    "standing_if",
    "standing_of_gauge",
    "state_of_gauge",
]

_MEANS = {
    Severity.NOTE: State.WATCH,
    Severity.DOUBTFUL: State.DOUBTFUL,
    Severity.LOST: State.LOST,
}


@dataclass(frozen=True, slots=True)
class Standing:
    """State of a gauge and why, in a sentence; "" when nothing counts against it."""

    state: State
    why: str


_SOUND = Standing(State.SOUND, "")


_NOT_YET = Standing(State.NOT_YET, "nothing measured")


def state_of_gauge(book: Book, gauge: Entry[Gauge]) -> State:
    """State of a gauge on the one scale, from its findings and gates."""
    return standing_of_gauge(book, gauge).state


def standing_of_gauge(book: Book, gauge: Entry[Gauge]) -> Standing:
    """State of a gauge, and the sentence of the finding behind it."""
    known = book.once("standing of gauges", _standings)
    return known.get(gauge.uid, _NOT_YET)


def standing_if(book: Book, finding: Entry[Finding], decision: Decision) -> Standing:
    """How a finding's gauge would stand after a decision that isn't made yet."""
    decided = replace(finding.record, decision=decision, reason="asked")
    subject = finding.record.subject
    others = (e.record for e in book.of(Finding) if e.uid != finding.uid)
    mine = (decided, *(other for other in others if other.subject == subject))
    worst = _worst(_SOUND, mine)
    is_measured = any(check.record.gauge == subject for check in book.of(GateCheck))
    return worst if is_measured or worst is not _SOUND else _NOT_YET


def has_rows(finding: Finding) -> bool:
    """Whether a finding names rows of a recording, which can be left out."""
    return None not in (finding.recording, finding.first_row, finding.last_row)


def counts_as(finding: Finding) -> State:
    """What a finding, as decided, says of its gauge.

    Of a gauge whose doubtful rows are excluded the rest is believed, and watched. One that was
    lost stays lost: no value will come again.
    """
    if finding.decision is Decision.REJECTED:
        return State.SOUND
    state = _MEANS[finding.severity]
    is_cut_out = finding.decision is Decision.EXCLUDED and state is State.DOUBTFUL
    return State.WATCH if is_cut_out else state


def _standings(book: Book) -> dict[Uid, Standing]:
    """Every gauge that was measured or found wrong: the worst that counts against it."""
    found = {check.record.gauge: _SOUND for check in book.of(GateCheck)}
    for entry in book.of(Finding):
        worst = _worst(found.get(entry.record.subject, _SOUND), (entry.record,))
        if worst is not _SOUND:
            found[entry.record.subject] = worst
    return found


def _worst(known: Standing, findings: Iterable[Finding]) -> Standing:
    order = list(State)
    for finding in findings:
        state = counts_as(finding)
        if order.index(state) > order.index(known.state):
            known = Standing(state, finding.sentence)
    return known
