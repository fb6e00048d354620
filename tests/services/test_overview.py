"""Where a campaign stands at each stage of the work: the demo with later records taken away."""

import dataclasses
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from gaugewright.records import Entry, kind_of
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid, working_context
from gaugewright.records.readings import Decision, Finding, Severity
from gaugewright.records.results import Result
from gaugewright.records.scheduling import BenchDays, WorkingHours
from gaugewright.records.specimen import Question
from gaugewright.services.campaign.book import Book
from gaugewright.services.handover.tables import results_are_behind
from gaugewright.services.overview.overview import overview
from gaugewright.store.campaign import CampaignStore

# Each stage lacks what the stages after it add.
LATER = ("result", "chain", "finding", "recording", "clock map", "zero", "gate check", "bench step")


@pytest.fixture(scope="module")
def every(demo_campaign: Path) -> tuple[Entry[object], ...]:
    with CampaignStore.open(demo_campaign, working_context(), read_only=True) as store:
        return Book.read(store).every()


def without(every: tuple[Entry[object], ...], *kinds: str) -> Book:
    return Book(entry for entry in every if kind_of(entry.record) not in kinds)


@pytest.mark.parametrize(
    ("lacks", "where", "to_do"),
    [
        (LATER[:3], "6 recordings are in; nothing is reduced yet.", "Reduce the readings"),
        (
            LATER[:6],
            "Gate 8 of 8, before test: 30 of 30 gauges measured. Failed, and wasn’t measured there "
            "again: L3-R6-S (after pour and before test).",
            "Bring in the first",
        ),
        (
            LATER[:7],
            "At the bench: 30 of 30 gauges begun, none through all steps.",
            "Measure L1-M-T",
        ),
        (
            LATER,
            "30 gauges are placed; none is bonded yet.",
            "At the bench, smooth: L1-M-T and 29 more.",
        ),
        (
            (*LATER, "gauge"),
            "The plan is begun: questions, specimens, metals, bars, stations, packs of gauges, "
            "bridge circuits, recorders, channels, circuits on channels, other sensors and "
            "temperature points are there; no gauge is placed yet.",
            "Go on with the plan. Next, gauges: one grid at each station.",
        ),
    ],
)
def test_each_stage_says_where_it_is_and_what_comes_next(
    every: tuple[Entry[object], ...], lacks: tuple[str, ...], where: str, to_do: str
) -> None:
    facts = overview(without(every, *lacks), reports=0)
    assert facts.where == where
    assert facts.next_things[0].sentence.startswith(to_do)


def test_a_recording_without_its_clock_joined_is_to_do(every: tuple[Entry[object], ...]) -> None:
    facts = overview(without(every, "clock map"), reports=1)
    joined = [thing for thing in facts.next_things if thing.sentence.startswith("Join the clock")]
    assert len(joined) == 6


def test_a_report_older_than_the_results_is_to_be_built_again(
    every: tuple[Entry[object], ...],
) -> None:
    book = without(every)
    newest = max(entry.at for entry in book.of(Result))
    for built, said in ((newest - timedelta(1), True), (newest + timedelta(1), False)):
        things = overview(book, reports=1, last_report=built).next_things
        assert any("Build the report again" in thing.sentence for thing in things) is said


def test_a_question_with_one_gauge_left_is_at_risk_and_comes_first(
    every: tuple[Entry[object], ...],
) -> None:
    book = without(every, "finding")
    question = book.of(Question)[0]
    mine = [g for g in book.of(Gauge) if g.record.station in question.record.stations]
    lost = [finding_on(gauge) for gauge in mine[1:]]
    facts = overview(Book((*book.every(), *lost)), reports=0)
    assert facts.questions[0].standing == "at risk"
    assert facts.questions[0].sentence.startswith(f"1 of {len(mine)} gauges can be used")
    assert question.record.text in facts.risk
    assert any("hangs on one gauge or none" in thing.sentence for thing in facts.next_things)
    assert {line.label for line in facts.at_risk} == {g.record.label for g in mine[1:]}


def test_numbers_are_behind_a_newer_finding_until_reduced_again(
    every: tuple[Entry[object], ...],
) -> None:
    book = without(every)
    assert not results_are_behind(book)
    newest = max(entry.at for entry in book.of(Result))
    late = dataclasses.replace(finding_on(book.of(Gauge)[0]), at=newest + timedelta(seconds=1))
    later = Book((*book.every(), late))
    assert results_are_behind(later)
    # Reduced after it: the numbers stand, though none of them changed and none is newer.
    assert not results_are_behind(later, newest + timedelta(seconds=2))
    assert results_are_behind(without(every, "result", "chain"))
    assert not results_are_behind(Book(()))


def finding_on(gauge: Entry[Gauge]) -> Entry[Finding]:
    label = gauge.record.label
    record = Finding(
        code="no reading",
        subject=gauge.uid,
        recording=None,
        first_row=None,
        last_row=None,
        measured=0.0,
        unit="scans",
        limit=1.0,
        limit_source="a test",
        sentence=f"{label} reads nothing",
        severity=Severity.LOST,
        decision=Decision.OPEN,
    )
    uid = working_context().new_uid()
    return Entry(uid, 1, datetime(2026, 1, 1, tzinfo=UTC), None, "", False, record)


def test_recordings_without_a_gauge_are_told_and_what_is_first_to_do(
    every: tuple[Entry[object], ...],
) -> None:
    facts = overview(without(every, *(set(LATER) - {"recording"}), "gauge"), reports=0)
    assert facts.where == "6 recordings are in; no gauge is placed that they could belong to."
    sentences = [thing.sentence for thing in facts.next_things]
    assert sentences[0].startswith("Go on with the plan.")
    assert sum(sentence.startswith("Join the clock of") for sentence in sentences) == 6


def days_until(day: date, gauge: Entry[Gauge]) -> Entry[BenchDays]:
    hours = (WorkingHours("Mon", "Fri", "08:00", "17:00"),)
    record = BenchDays("days", day, "12:00", hours, (gauge.uid,), 20.0)
    return Entry(Uid(gauge.uid[:-1] + "Z"), 1, gauge.at, None, "", False, record)


@pytest.mark.parametrize(
    ("days", "where", "is_at_risk"),
    [
        (20, "Pour in 20 days, on 21 September.", False),
        (3, "Pour in 3 days, on 4 September.", True),
        (1, "Pour in 1 day, on 2 September.", True),
        (0, "Pour today, 1 September.", True),
        (-1, "", False),
    ],
)
def test_a_pour_that_nears_is_told_with_the_gauges_that_arent_ready(
    every: tuple[Entry[object], ...], days: int, where: str, is_at_risk: bool
) -> None:
    now = datetime(2026, 9, 1, 9, tzinfo=UTC)
    book = without(every, *LATER[:7])
    entry = days_until(now.date() + timedelta(days), book.of(Gauge)[0])
    facts = overview(Book((*book.every(), entry)), reports=0, now=now)
    assert facts.where.endswith(where or "none through all steps.")
    assert ("30 of 30 gauges haven’t been through" in facts.risk) is is_at_risk
    assert ("through gate before pour by" in facts.next_things[0].sentence) is is_at_risk


def test_a_pour_that_every_gauge_is_ready_for_puts_nothing_at_risk(
    every: tuple[Entry[object], ...],
) -> None:
    book = without(every, *LATER[:3])
    entry = days_until(date(2026, 9, 2), book.of(Gauge)[0])
    facts = overview(
        Book((*book.every(), entry)), reports=0, now=datetime(2026, 9, 1, 9, tzinfo=UTC)
    )
    assert "Pour in 1 day" in facts.where
    assert "pour" not in facts.risk
