"""What looks wrong in a campaign: findings with evidence, decided by a person, changing nothing."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import GateCheck
from gaugewright.records.readings import Decision, Finding, Severity
from gaugewright.records.stated import State
from gaugewright.services import review_checks as checks
from gaugewright.services import review_company as company
from gaugewright.services.book import Book
from gaugewright.services.series import stretches_of
from gaugewright.services.strains import Desk
from gaugewright.store.campaign import CampaignStore

__all__ = ["Progress", "Standing", "decide", "find", "standing_of_gauge", "state_of_gauge"]

Progress = Callable[[int, int, str], None]

_MEANS = {
    Severity.NOTE: State.WATCH,
    Severity.DOUBTFUL: State.DOUBTFUL,
    Severity.LOST: State.LOST,
}
_OF_ONE = (checks.over_range, checks.no_reading, checks.frozen, checks.failed_gates)
_OF_ALL = (company.falling_away, company.out_of_company, company.silent)


@dataclass(frozen=True, slots=True)
class Standing:
    """State of a gauge and why, in a sentence; "" when nothing counts against it."""

    state: State
    why: str


def find(store: CampaignStore, *, progress: Progress | None = None) -> tuple[Entry[Finding], ...]:
    """Look at every gauge and write down what looks wrong; raw readings are never touched.

    A finding that is there already, decided or not, is not written again. Gauges known to be
    lost are left out of the company that others are judged by.
    """
    desk = Desk(store, Book.read(store))
    watched = tuple(_watched(desk))
    found: list[Finding] = []
    for number, one in enumerate(watched):
        for check in _OF_ONE:
            found += check(desk, one)
        if progress is not None:
            progress(number + 1, len(watched) + 1, f"reviewed {one.gauge.record.label}")
    bad = {finding.subject for finding in found if finding.severity is not Severity.NOTE}
    answers = company.answers_to_load(
        desk, tuple(one for one in watched if one.gauge.uid not in bad)
    )
    for judge in _OF_ALL:
        found += judge(desk, answers)
    if progress is not None:
        progress(len(watched) + 1, len(watched) + 1, "compared gauges with each other")
    return _written(store, desk.book, found)


def _watched(desk: Desk) -> Iterator[checks.Watched]:
    """Circuits of one gauge with what was read through them; dummies carry no load."""
    dummies = {c.record.dummy for c in desk.book.of(BridgeCircuit)}
    for circuit in desk.book.of(BridgeCircuit):
        gauges = desk.book.gauges_of(circuit)
        if len(gauges) == 1 and circuit.uid not in dummies:
            stretches = stretches_of(desk.store, desk.book, circuit.uid)
            yield checks.Watched(circuit, gauges[0], stretches)


def _written(store: CampaignStore, book: Book, found: list[Finding]) -> tuple[Entry[Finding], ...]:
    known = {_key(entry.record): entry for entry in book.of(Finding)}
    entries: list[Entry[Finding]] = []
    with store.several():
        for finding in found:
            entry = known.get(_key(finding))
            entries.append(entry if entry is not None else store.add(finding, reason="review"))
    return tuple(entries)


def _key(finding: Finding) -> tuple[str, Uid, Uid | None, int | None]:
    return (finding.code, finding.subject, finding.recording, finding.first_row)


def decide(
    store: CampaignStore, finding: Uid, from_version: int, decision: Decision, reason: str
) -> Entry[Finding]:
    """Accept, reject or exclude a finding, with a reason; undoing is deciding again.

    Raises
    ------
    InputError
        If the uid isn't a finding's, or no reason was given.
    """
    record = store.entry(finding).record
    if not isinstance(record, Finding):
        raise InputError("finding", finding, "the uid of a finding")
    return store.revise(
        finding, from_version, replace(record, decision=decision, reason=reason), reason=reason
    )


def state_of_gauge(book: Book, gauge: Entry[Gauge]) -> State:
    """State of a gauge on the one scale, from its findings and gates."""
    return standing_of_gauge(book, gauge).state


def standing_of_gauge(book: Book, gauge: Entry[Gauge]) -> Standing:
    """State of a gauge, and the sentence of the finding behind it."""
    known = book.once("standing of gauges", _standings)
    return known.get(gauge.uid, Standing(State.NOT_YET, "nothing measured"))


def _standings(book: Book) -> dict[Uid, Standing]:
    """Every gauge that was measured or found wrong: the worst that counts against it."""
    sound = Standing(State.SOUND, "")
    found = {check.record.gauge: sound for check in book.of(GateCheck)}
    order = list(State)
    for entry in book.of(Finding):
        finding = entry.record
        if finding.decision is Decision.REJECTED:
            continue
        state = _MEANS[finding.severity]
        known = found.get(finding.subject, sound)
        if order.index(state) > order.index(known.state):
            found[finding.subject] = Standing(state, finding.sentence)
    return found
