"""What looks wrong in a campaign: findings with evidence, decided by a person, changing nothing."""

import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from functools import partial

from gaugewright.errors import Faults, InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.identity import Uid
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import Decision, Finding, Severity
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.states import has_rows
from gaugewright.services.reviewing import checks, company, leaps, levels, pairs, signals
from gaugewright.services.strain.strains import Desk
from gaugewright.services.work.side_by_side import side_by_side
from gaugewright.store.campaign import CampaignStore

__all__ = ["Progress", "decide", "everybody", "find"]

Progress = Callable[[int, int, str], None]

_OF_ONE = (
    checks.over_range,
    checks.no_reading,
    checks.frozen,
    checks.failed_gates,
    leaps.dropouts,
    signals.noise,
    signals.hums,
    signals.rest,
)
_OF_ALL = (
    (company.falling_away, "looked for gauges that fall away"),
    (company.out_of_company, "held each gauge against its likes"),
    (company.silent, "looked for silent gauges"),
    (company.exchanged_places, "looked for exchanged places"),
)
_OF_PAIRS = (
    (leaps.lone_leaps, "asked others about each leap"),
    (pairs.twins, "looked for channels written twice"),
    (pairs.reversed_signs, "looked for reversed signs"),
    (pairs.exchanged, "looked for exchanged channels"),
    (levels.noise_floors, "compared noise"),
    (levels.against_prediction, "held strains against predictions"),
)
OFTEN_S = 0.25  # between two looks, within one comparison, at whether to go on


def find(store: CampaignStore, *, progress: Progress | None = None) -> tuple[Entry[Finding], ...]:
    """Look at every gauge and write down what looks wrong; raw readings are never touched.

    A finding that is there already, decided or not, is not written again. Gauges known to be
    lost are left out of the company that others are judged by.
    """
    desk = Desk(store, Book.read(store))
    watched = tuple(everybody(desk))
    # Asking each gauge how it answers to load is a step of its own.
    told = _Told(progress, len(watched) + len(_OF_PAIRS) + 1 + len(_OF_ALL))
    found: list[Finding] = []
    alone = side_by_side(lambda one: _alone(desk, one), watched, at_once=desk.at_once)
    for one, own in zip(watched, alone, strict=True):
        found += own
        told.step(f"reviewed {one.gauge.record.label}")
    # Whoever is known to be bad by itself, or against its neighbour, is no company for others.
    reading = _InTurn.of(_without(watched, found), told)
    for compare, words in _OF_PAIRS:
        found += compare(desk, reading)
        told.step(words)
    able = tuple(one for one in _without(watched, found) if _has_strain(desk, one))
    answers = company.answers_to_load(desk, able, between=told.still)
    told.step("asked each gauge how it answers to load")
    for judge, words in _OF_ALL:
        found += judge(desk, answers)
        told.step(words)
    return _written(store, desk.book, found)  # whoever stops, stops before: all of it or nothing


class _Told:
    """Progress by gauges and comparisons that are done; whoever is told may stop the work."""

    def __init__(self, progress: Progress | None, total: int) -> None:
        self._progress = progress
        self._total = total
        self._done = 0
        self._said = "reviewing"
        self._at = float("-inf")

    def step(self, said: str) -> None:
        """One more gauge or comparison is done."""
        self._done += 1
        self._said = said
        self._tell()

    def still(self) -> None:
        """Nothing more is done: a chance to stop, taken no more often than is needed."""
        if time.monotonic() - self._at >= OFTEN_S:
            self._tell()

    def _tell(self) -> None:
        self._at = time.monotonic()
        if self._progress is not None:
            self._progress(self._done, self._total, self._said)


class _InTurn(tuple[checks.Watched, ...]):
    """Gauges to be compared: each time one is taken there is a chance to stop."""

    told: _Told

    @classmethod
    def of(cls, watched: Iterable[checks.Watched], told: _Told) -> "_InTurn":
        """Gauges, and who is told."""
        made = cls(watched)
        made.told = told
        return made

    def __iter__(self) -> Iterator[checks.Watched]:
        """Each gauge, after a look at whether to go on."""
        for one in super().__iter__():
            self.told.still()
            yield one


def _alone(desk: Desk, one: checks.Watched) -> list[Finding]:
    """What looks wrong with one gauge by itself, and what its company will be asked of it.

    Its readings are in memory now: what others need of them is taken and kept, so that they
    needn't be read again.
    """
    found = [finding for check in _OF_ONE for finding in check(desk, one)]
    pairs.heads_of(one)
    if _has_strain(desk, one):
        pairs.slope_of(desk, one)
        pairs.fit_of(desk, one)
        levels.noise_of(desk, one)
        if company.on_yielding_bar(desk, one) and company.has_load(desk):
            company.nearing_yield(desk, one)
    return found


def _without(
    watched: tuple[checks.Watched, ...], found: list[Finding]
) -> tuple[checks.Watched, ...]:
    bad = {finding.subject for finding in found if finding.severity is not Severity.NOTE}
    return tuple(one for one in watched if one.gauge.uid not in bad)


def everybody(desk: Desk) -> Iterator[checks.Watched]:
    """Circuits of one gauge with what was read through them; dummies carry no load."""
    dummies = {c.record.dummy for c in desk.book.of(BridgeCircuit)}
    for circuit in desk.book.of(BridgeCircuit):
        gauges = desk.book.gauges_of(circuit)
        if len(gauges) == 1 and circuit.uid not in dummies:
            yield checks.Watched(circuit, gauges[0], partial(desk.stretches, circuit.uid))


def _has_strain(desk: Desk, watched: checks.Watched) -> bool:
    """Whether readings become strain; what is missing where they don't, reducing tells."""

    def found() -> bool:
        try:
            desk.strain(watched.circuit, ZeroKind.BEFORE_TEST)
        except (InputError, Faults):
            return False
        return True

    return watched.once("has strain", found)


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

    Accepted, it counts against the gauge as it stands. Excluded, its rows are left out wherever
    strain is worked out and the gauge's other readings count. Rejected, it counts for nothing.

    Raises
    ------
    StaleEdit
        If somebody decided it since ``from_version``.
    InputError
        If the uid isn't a finding's, no reason was given, or there are no rows to exclude.
    """
    record = store.entry(finding).record
    if not isinstance(record, Finding):
        raise InputError("finding", finding, "the uid of a finding")
    reason = reason.strip()
    if decision is not Decision.OPEN and not reason:
        raise InputError("reason", reason, "a few words", "say why: it goes into the report")
    if decision is Decision.EXCLUDED and not has_rows(record):
        raise InputError(
            "decision", decision.value, "accepted or rejected", "it names no rows to leave out"
        )
    return store.revise(
        finding, from_version, replace(record, decision=decision, reason=reason), reason=reason
    )
