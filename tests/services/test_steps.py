"""Where each of the eight steps is, by what is written down and nothing else."""

import pytest

from gaugewright.records.gauges import BenchStep
from gaugewright.records.proof import Censor, Gate, GateCheck, GateReading, Meter, Person, Verdict
from gaugewright.records.readings import Decision, Finding, Severity
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.steps import STEPS, Progress, steps
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


def test_the_bench_counts_gauges_not_steps(tiny):
    person = tiny.add("AB", Person("AB", "A. Bonder (invented)"))
    for step in ("abraded", "bonded"):
        tiny.add(step, BenchStep(tiny.uid["G-T"], step, BEGINS, None, person))
    assert told(tiny.store)["bench"] == (Progress.HALF, "1 of 2")


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
