"""What changed between two states of a campaign is told with its cause, and nothing else is."""

import dataclasses
from pathlib import Path

import pytest

from gaugewright.errors import InputError
from gaugewright.records.gauges import GaugePack
from gaugewright.records.identity import working_context
from gaugewright.records.results import Result
from gaugewright.records.specimen import Bar
from gaugewright.services.campaign.book import Book
from gaugewright.services.comparing.comparing import at_entry, compared, of_now
from gaugewright.services.reducing import reduction
from gaugewright.services.showing.listings import named
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.store.campaign import CampaignStore


@pytest.fixture
def store(demo_campaign: Path, tmp_path: Path):
    with CampaignStore.open(demo_campaign, working_context(), read_only=True) as made:
        made.copy_to(tmp_path / "copy")
    with CampaignStore.open(tmp_path / "copy", working_context()) as store:
        yield store


def page_of(store: CampaignStore) -> Page:
    return Page.of(Desk(store, Book.read(store)))


def test_nothing_differs_where_nothing_changed(store: CampaignStore) -> None:
    page = page_of(store)
    head = store.head().seq
    for one in compared(at_entry(page, head, "then"), of_now(page, "now")):
        assert one.rows == ()


def test_a_changed_record_is_told_field_by_field_with_its_reason(store: CampaignStore) -> None:
    head = store.head().seq
    bar = store.entries(Bar)[0]
    store.revise(
        bar.uid, bar.version, dataclasses.replace(bar.record, size="18"), reason="measured"
    )
    page = page_of(store)
    records = named(compared(at_entry(page, head, "then"), of_now(page, "now")), "records")
    ((kind, label, changes, told),) = records.rows
    assert (kind, label) == ("bar", bar.record.label)
    assert changes == f"size: {bar.record.size} became 18"
    assert told.endswith("measured")
    back = named(compared(of_now(page, "now"), at_entry(page, head, "then")), "records")
    assert back.rows[0][2] == f"size: 18 became {bar.record.size}"


def test_an_entry_that_isnt_there_is_refused(store: CampaignStore) -> None:
    with pytest.raises(InputError, match="entry of the journal"):
        at_entry(page_of(store), store.head().seq + 1, "then")


@pytest.mark.full
def test_a_number_that_moved_names_the_value_that_moved_it(store: CampaignStore) -> None:
    head = store.head().seq
    before = {e.record.label: e.record for e in store.entries(Result)}
    pack = store.entries(GaugePack)[0]
    factor = pack.record.gauge_factor
    changed = dataclasses.replace(factor, value=factor.value * 1.01)
    record = dataclasses.replace(pack.record, gauge_factor=changed)
    store.revise(pack.uid, pack.version, record, reason="card read again")
    reduction.reduce(store)
    page = page_of(store)
    lists = compared(at_entry(page, head, "then"), of_now(page, "now"))
    rows = {row[0]: row for row in named(lists, "results").rows}
    label = "bar force L3-M-T with L3-M-U at 160 kN"
    after = next(e.record for e in store.entries(Result) if e.record.label == label)
    # A gauge factor larger by 1 % makes strain, and an elastic force with it, 1 % smaller.
    assert after.value / before[label].value == pytest.approx(1 / 1.01, rel=2e-3)
    assert "gauge factor" in rows[label][-1]
    corrections = named(lists, "corrections").rows
    assert {row[1] for row in corrections} >= {"gauge factor@1"}
    ((kind, name, *_),) = named(lists, "records").rows
    assert (kind, name) == ("gauge pack", pack.record.label)
