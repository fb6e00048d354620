"""Where each of the eight steps is, by what is written down and nothing else."""

from dataclasses import replace
from datetime import timedelta

import pytest

from gaugewright.records.electrical import Connection
from gaugewright.records.gauges import BenchStep
from gaugewright.records.proof import Censor, Gate, GateCheck, GateReading, Meter, Person, Verdict
from gaugewright.records.readings import Decision, Finding, Severity
from gaugewright.records.specimen import Bar, Question, Station
from gaugewright.services.bench.methods import complete_methods
from gaugewright.services.campaign.book import Book
from gaugewright.services.overview.steps import STEPS, Progress, at_bench, steps
from tests.services.conftest import BEGINS


def told(store, reports=0):
    return {facts.step: (facts.progress, facts.words) for facts in steps(Book.read(store), reports)}


def test_nothing_is_said_of_a_campaign_that_holds_nothing():
    found = steps(Book(()), 0)
    assert [facts.step for facts in found] == list(STEPS)
    assert {(facts.progress, facts.words) for facts in found} == {(Progress.OPEN, "nothing yet")}


def test_wiring_is_done_when_every_gauge_is_on_a_channel(tiny):
    assert told(tiny.store)["wiring"] == (Progress.DONE, "2 of 2")
    entry = tiny.store.entry(tiny.uid["connection G-T"])
    tiny.store.withdraw(entry.uid, entry.version, reason="it was never plugged")
    assert told(tiny.store)["wiring"] == (Progress.HALF, "1 of 2")


def test_a_plug_written_down_for_later_is_planned_until_then(tiny):
    book = Book.read(tiny.store)
    begins = max(entry.record.begins for entry in book.of(Connection))
    for now, expected in (
        (begins, (Progress.DONE, "2 of 2")),
        (begins - timedelta(days=1), (Progress.HALF, "2 planned")),
    ):
        found = next(facts for facts in steps(book, 0, now) if facts.step == "wiring")
        assert (found.progress, found.words) == expected


def test_a_plan_is_done_only_when_every_gauge_can_be_read(tiny):
    assert told(tiny.store)["plan"] == (Progress.HALF, "2 gauges; open: questions")
    book = Book(entry for entry in Book.read(tiny.store).every() if type(entry.record) is Bar)
    found = next(facts for facts in steps(book, 0) if facts.step == "plan")
    assert (found.progress, found.words) == (Progress.HALF, "no gauge yet")
    tiny.add("Q", Question("Q", "What is the force?", "force", 1e3))
    assert told(tiny.store)["plan"] == (Progress.HALF, "2 gauges; open: questions")  # no station
    question = tiny.store.entry(tiny.uid["Q"])
    stations = tuple(e.uid for e in Book.read(tiny.store).of(Station))
    told_of = replace(question.record, stations=stations)
    tiny.store.revise(question.uid, question.version, told_of, reason="where")
    assert told(tiny.store)["plan"] == (Progress.DONE, "2 gauges")


def test_the_bench_is_done_when_every_gauge_is_through_all_its_steps(tiny):
    person = tiny.add("AB", Person("AB", "A. Bonder (invented)"))
    for step in ("abraded", "bonded"):
        tiny.add(step, BenchStep(tiny.uid["G-T"], step, BEGINS, None, person))
    assert told(tiny.store)["bench"] == (Progress.HALF, "1 of 2 begun")
    last = complete_methods(Book.read(tiny.store))
    method = next(one for one in last if one.label == "bar to be cast in")
    ended = BEGINS + timedelta(hours=1)
    for place, step in enumerate(method.steps):
        at = BEGINS + timedelta(minutes=place)
        record = BenchStep(tiny.uid["G-T"], step.name, at, ended + timedelta(minutes=place), person)
        tiny.add(f"T {step.name}", record)
    assert told(tiny.store)["bench"] == (Progress.HALF, "1 of 2 done")
    assert [(g.record.label, step) for g, step in at_bench(Book.read(tiny.store)).open] == [
        ("G-U", method.steps[0].name)
    ]


def test_gates_tell_the_latest_gate_and_are_done_when_all_were_at_the_last(tiny):
    person = tiny.add("AB", Person("AB", "A. Bonder (invented)"))

    meter = tiny.add("meter", Meter("meter", "ohm", 0.001, 0.1))

    def check(label, gate, verdict=Verdict.PASS):
        reading = GateReading("A-B", 350.0, Censor.EXACT, meter, "350.0", 20.0, BEGINS, BEGINS)
        record = GateCheck(tiny.uid[label], gate, (reading,), verdict, "as it should", (), person)
        tiny.add(f"{label} {gate.value}", record)

    check("G-T", Gate.BONDED)
    check("G-U", Gate.BONDED)
    check("G-T", Gate.WIRED)
    assert told(tiny.store)["gates"] == (Progress.HALF, "wired, 1 of 2")
    check("G-T", Gate.BEFORE_TEST)
    check("G-U", Gate.BEFORE_TEST)
    assert told(tiny.store)["gates"] == (Progress.DONE, "before test, 2 of 2")
    tiny.store.withdraw(tiny.uid["G-U before test"], 1, reason="measured again")
    check("G-U", Gate.BEFORE_TEST, Verdict.FAIL)
    assert told(tiny.store)["gates"] == (Progress.HALF, "before test: 1 pass, 1 fail")
    tiny.store.withdraw(tiny.uid["G-T before test"], 1, reason="not this gauge")
    assert told(tiny.store)["gates"] == (Progress.HALF, "before test: 1 fail, 1 not yet")


def test_a_gate_that_was_failed_earlier_stays_in_what_is_said(tiny):
    person = tiny.add("AB", Person("AB", "A. Bonder (invented)"))
    meter = tiny.add("meter", Meter("meter", "ohm", 0.001, 0.1))

    def check(label, gate, verdict, hours):
        at = BEGINS + timedelta(hours=hours)
        reading = GateReading("A-B", 350.0, Censor.EXACT, meter, "350.0", 20.0, at, at)
        record = GateCheck(tiny.uid[label], gate, (reading,), verdict, "as it should", (), person)
        tiny.add(f"{label} {gate.value} {hours}", record)

    check("G-T", Gate.WIRED, Verdict.FAIL, 0)
    for label in ("G-T", "G-U"):
        check(label, Gate.BEFORE_TEST, Verdict.PASS, 1)
    assert told(tiny.store)["gates"] == (Progress.HALF, "before test, 2 of 2; 1 failed earlier")
    check("G-T", Gate.WIRED, Verdict.PASS, 2)
    assert told(tiny.store)["gates"] == (Progress.DONE, "before test, 2 of 2")


@pytest.mark.parametrize(
    ("decisions", "expected"),
    [
        ((Decision.OPEN, Decision.ACCEPTED), (Progress.HALF, "1 to decide")),
        ((Decision.EXCLUDED, Decision.ACCEPTED), (Progress.DONE, "2 decided")),
    ],
)
def test_review_is_done_when_everything_found_is_decided(tiny, decisions, expected):
    for number, decision in enumerate(decisions):
        reason = "" if decision is Decision.OPEN else "looked at"
        finding = Finding(
            f"code {number}",
            tiny.uid["G-T"],
            None,
            None,
            None,
            1.0,
            "1",
            0.5,
            "of this test",
            "something stands out",
            Severity.NOTE,
            decision,
            reason,
        )
        tiny.add(f"finding {number}", finding)
    assert told(tiny.store)["review"] == expected


def test_no_report_is_called_the_last_one(tiny):
    assert told(tiny.store, reports=1)["handover"] == (Progress.HALF, "1 report")
    assert told(tiny.store, reports=2)["handover"] == (Progress.HALF, "2 reports")
