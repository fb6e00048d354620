"""Findings as a person meets them: worst first, in whose company, what would follow, by name."""

import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from gaugewright.errors import InputError
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import working_context
from gaugewright.records.readings import Decision, Finding, Severity
from gaugewright.services.campaign import states
from gaugewright.services.campaign.book import Book
from gaugewright.services.deciding import queue as review_queue
from gaugewright.services.deciding.plot import span_plot
from gaugewright.services.deciding.queue import Case
from gaugewright.services.reviewing import review
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.store.campaign import CampaignStore


@pytest.fixture
def store(demo_campaign: Path, tmp_path: Path) -> Iterator[CampaignStore]:
    folder = shutil.copytree(demo_campaign, tmp_path / "demo")
    with CampaignStore.open(folder, working_context()) as opened:
        yield opened


def page_of(store: CampaignStore) -> Page:
    return Page.of(Desk(store, Book.read(store)))


def case_of(page: Page, code: str) -> Case:
    return next(c for c in review_queue.cases(page) if c.entry.record.code == code)


def test_open_findings_come_first_and_the_worst_first_among_them(store: CampaignStore) -> None:
    first = review_queue.cases(page_of(store))[0]
    review.decide(store, first.entry.uid, 1, Decision.ACCEPTED, "seen")
    found = review_queue.cases(page_of(store))
    rank = {"lost": 0, "doubtful": 1, "watch": 2}
    order = [(not case.is_open, rank[case.says.value]) for case in found]
    assert order == sorted(order)
    assert found[-1].entry.uid == first.entry.uid
    assert found[-1].says == first.says  # what it claimed is told after it was decided too


def test_a_finding_decided_keeps_what_it_claims_whatever_the_decision(store: CampaignStore) -> None:
    entry = case_of(page_of(store), "over-range").entry
    for decision in (Decision.EXCLUDED, Decision.REJECTED):
        record = replace(entry.record, decision=decision, reason="tried")
        assert states.counts_as(replace(record, decision=Decision.OPEN)).value == "lost"
    assert states.counts_as(replace(record, severity=Severity.NOTE)).value == "sound"


def test_the_company_of_a_gauge_is_its_opposite_and_its_likes(store: CampaignStore) -> None:
    page = page_of(store)
    company = review_queue.company_of(page, case_of(page, "over-range"))
    assert company[0].how == "opposite"
    gauge = page.book.labelled(Gauge, "L2-M-U")
    here = page.book.station_of(gauge).record.distance_planned
    for one in company[1:]:
        other = page.book.labelled(Gauge, one.label)
        assert abs(page.book.station_of(other).record.distance_planned - here) < 0.025


def test_the_plot_holds_the_rows_and_their_neighbourhood(store: CampaignStore) -> None:
    page = page_of(store)
    case = case_of(page, "over-range")
    drawn = span_plot(page, case.entry)
    assert drawn is not None
    mine = drawn.plot.curves[0]
    assert mine.label == "L2-M-U"
    begins = drawn.plot.verticals[0][0]
    assert np.isnan(mine.y[mine.x > begins + 1]).all()  # off the scale: nothing is bridged
    assert np.isfinite(mine.y[mine.x < begins - 1]).all()
    assert all(np.nanmin(np.abs(curve.y[:2])) < 0.05 for curve in drawn.plot.curves)


def test_a_finding_at_a_gate_has_no_plot(store: CampaignStore) -> None:
    page = page_of(store)
    assert span_plot(page, case_of(page, "gate failed").entry) is None


@pytest.mark.full
def test_after_an_exclusion_looking_again_finds_the_same(store: CampaignStore) -> None:
    case = case_of(page_of(store), "differs from similar gauges")
    review.decide(store, case.entry.uid, 1, Decision.EXCLUDED, "bar bends here")
    before = {e.uid: e.version for e in Book.read(store).of(Finding)}
    review.find(store)
    after = {e.uid: e.version for e in Book.read(store).of(Finding)}
    assert before.items() <= after.items()


@pytest.mark.parametrize("typed", ["", "L1-M-T", "nobody", "L1-M-B"])
def test_a_name_that_means_no_one_finding_is_refused(store: CampaignStore, typed: str) -> None:
    with pytest.raises(InputError, match="finding"):
        review_queue.finding_named(Book.read(store), typed)


def test_a_finding_is_named_by_its_uid_in_either_case(store: CampaignStore) -> None:
    book = Book.read(store)
    for entry in book.of(Finding):
        assert review_queue.finding_named(book, entry.uid.lower()).uid == entry.uid


def test_a_gauge_that_falls_away_is_drawn_against_load_beside_its_likes(
    store: CampaignStore,
) -> None:
    page = page_of(store)
    drawn = span_plot(page, case_of(page, "falling away").entry)
    assert drawn is not None
    assert drawn.plot.x.words == "load"
    mine, *likes = drawn.plot.curves
    assert mine.label == "L1-M-T"
    assert likes
    # It stays behind its likes where the load is high, and not where it is low.
    slopes = []
    for curve in (mine, *likes):
        late = (curve.x > 200) & (curve.x < 230)
        early = (curve.x > 60) & (curve.x < 100)
        slopes.append([float(np.polyfit(curve.x[s], curve.y[s], 1)[0]) for s in (early, late)])
    ratios = [late / early for early, late in slopes]
    assert ratios[0] < 0.85 * min(ratios[1:])


def test_a_clipped_reading_stands_on_the_end_of_its_range(store: CampaignStore) -> None:
    page = page_of(store)
    drawn = span_plot(page, case_of(page, "clipped").entry)
    assert drawn is not None
    mine, *_, end = drawn.plot.curves
    assert end.label == "end of the range"
    assert drawn.plot.y.words == "reading as received"
    assert mine.y[np.isfinite(mine.y)] == pytest.approx(end.y[0], rel=1e-6)
