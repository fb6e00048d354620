"""Survival of a campaign: a life table by hand, what the lost share, losses at exact moments."""

import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import Gate, GateCheck, Verdict
from gaugewright.records.readings import Decision, Finding, LoadStep, Severity
from gaugewright.services.campaign import campaigns
from gaugewright.services.campaign.book import Book
from gaugewright.services.laboratory import survival
from gaugewright.services.laboratory.survival import AtGate
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.store.campaign import CampaignStore


@pytest.fixture
def store(demo_campaign: Path, tmp_path: Path) -> Iterator[CampaignStore]:
    shutil.copytree(demo_campaign, tmp_path / "demo")
    with campaigns.opened(tmp_path / "demo") as opened:
        yield opened


def judge(store: CampaignStore, gate: Gate, verdicts: dict[str, Verdict]) -> None:
    """Give the last check of some gauges at a gate another verdict."""
    book = Book.read(store)
    for check in book.of(GateCheck):
        label = book.label(check.record.gauge)
        if check.record.gate is gate and label in verdicts:
            changed = replace(check.record, verdict=verdicts[label])
            store.revise(check.uid, check.version, changed, reason="as the test has it")


def by_gate(store: CampaignStore) -> dict[Gate, AtGate]:
    return {one.gate: one for one in survival.at_gates(Book.read(store))}


def curve(store: CampaignStore) -> survival.Curve:
    return survival.curve(Page.of(Desk(store, Book.read(store))))


def test_the_life_table_counts_each_loss_once_and_no_undecided_gauge(
    store: CampaignStore,
) -> None:
    before = by_gate(store)
    assert before[Gate.WIRED].repaired == 1
    assert before[Gate.AFTER_POUR].lost == ("L3-R6-S",)
    fail, cannot = Verdict.FAIL, Verdict.CANNOT_TELL
    judge(store, Gate.CAGED, {"L1-M-T": fail, "L1-M-U": fail, "L2-M-T": cannot})
    after = by_gate(store)
    caged = after[Gate.CAGED]
    assert (caged.exposed, caged.passed, caged.undecided) == (24, 21, 1)
    assert set(caged.lost) == {"L1-M-T", "L1-M-U"}
    assert caged.share == pytest.approx(21 / 23)
    # Lost at the cage: neither is exposed to the pour again.
    assert after[Gate.BEFORE_POUR].exposed == 22
    assert after[Gate.AFTER_POUR].since_first == pytest.approx(21 / 23 * 21 / 22)


def test_what_the_lost_share_is_told_without_what_all_share(store: CampaignStore) -> None:
    judge(store, Gate.CAGED, {"L1-M-T": Verdict.FAIL, "L1-M-U": Verdict.FAIL})
    found = {(one.kind, one.name): one for one in survival.common_losses(Book.read(store))}
    assert found["bar", "L1"].lost == ("L1-M-T", "L1-M-U")
    assert found["bar", "L1"].gauges == 2
    gauges = len(store.entries(Gauge))
    assert all(one.gauges < gauges for one in found.values())


def test_a_loss_in_the_recording_has_its_moment_and_a_rejected_one_has_none(
    store: CampaignStore,
) -> None:
    found = curve(store)
    assert [label for label, _ in found.lost] == ["L2-M-U"]
    assert any(one.startswith("L3-R6-S") for one in found.left_out)
    at = found.lost[0][1]
    steps = [entry.record for entry in store.entries(LoadStep)]
    whole = max(s.ends for s in steps) - min(s.begins for s in steps)
    assert 0 < at < whole.total_seconds()
    assert found.survival[-1] == pytest.approx(1 - 1 / found.exposed)
    book = Book.read(store)
    lost = next(
        f
        for f in book.of(Finding)
        if f.record.severity is Severity.LOST and book.label(f.record.subject) == "L2-M-U"
    )
    for finding in book.of(Finding):
        if finding.record.subject == lost.record.subject:
            no = replace(finding.record, decision=Decision.REJECTED, reason="a plug")
            store.revise(finding.uid, finding.version, no, reason="a plug")
    assert curve(store).lost == ()


def test_a_gauge_lost_after_the_end_of_the_test_came_through_it(store: CampaignStore) -> None:
    before = curve(store)
    [(label, at)] = before.lost
    assert before.begins is not None
    ends = before.begins + timedelta(seconds=at - 1)
    for step in store.entries(LoadStep):
        if step.record.begins >= ends:
            store.withdraw(step.uid, step.version, reason="as the test has it")
        elif step.record.ends > ends:
            shorter = replace(step.record, ends=ends)
            store.revise(step.uid, step.version, shorter, reason="as the test has it")
    after = curve(store)
    assert after.lost == ()
    assert after.exposed == before.exposed
    assert not any(one.startswith(label) for one in after.left_out)


def test_a_test_without_load_steps_has_no_exact_times(store: CampaignStore) -> None:
    for step in store.entries(LoadStep):
        store.withdraw(step.uid, step.version, reason="as the test has it")
    assert "no load step" in curve(store).why
