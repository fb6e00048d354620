"""A printed number is followed back to every record it stands on, in the very versions used."""

from pathlib import Path

import pytest

from gaugewright.errors import InputError
from gaugewright.records.identity import working_context
from gaugewright.records.proof import GateCheck
from gaugewright.records.readings import Recording
from gaugewright.records.results import Result
from gaugewright.services.campaign.book import Book
from gaugewright.services.handover import answers as handover_answers
from gaugewright.services.handover import report as handover
from gaugewright.services.showing.listings import named
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.services.tracing.evidence import short_id, trail_of
from gaugewright.store.campaign import CampaignStore


@pytest.fixture(scope="module")
def page(demo_campaign: Path):
    with CampaignStore.open(demo_campaign, working_context(), read_only=True) as store:
        yield Page.of(Desk(store, Book.read(store)))


def test_every_number_at_the_head_of_an_answer_has_its_id(page: Page) -> None:
    answers = [a for a in handover_answers.answers(page) if a.number is not None]
    heads = handover_answers.heading_results(page)
    assert [a.id for a in answers] == [short_id(entry.uid) for entry in heads]
    assert len({a.id for a in answers}) == len(answers)


def test_no_two_results_share_an_id(page: Page) -> None:
    ids = [short_id(entry.uid) for entry in page.book.of(Result)]
    assert len(set(ids)) == len(ids)


def test_a_number_leads_to_its_chain_readings_gates_and_people(page: Page) -> None:
    entry = handover_answers.heading_results(page)[0]
    trail = trail_of(page, short_id(entry.uid))
    assert trail.result is entry
    chains = named(trail.steps, "chains").rows
    assert {row[4] for row in chains} == {
        f"{short_id(ref.uid)}, {ref.version}" for ref in entry.record.chains
    }
    names = {row[1] for row in named(trail.steps, "readings").rows if row[0] == "recording"}
    assert names
    assert names <= {e.record.label for e in page.book.of(Recording)}
    files = {e.record.file_name for e in page.book.of(Recording)}
    # Words in front, so that a page that begins sentences with a capital leaves the name alone.
    told = [row[5] for row in named(trail.steps, "readings").rows if row[0] == "recording"]
    assert all(any(words.startswith(f"file {name}, SHA-256") for name in files) for words in told)
    gauges = {row[1] for row in named(trail.steps, "gauges").rows if row[0] == "gauge"}
    assert gauges == {page.book.label(uid) for uid in entry.record.subjects}
    gates = named(trail.steps, "gates").rows
    expected = [e for e in page.book.of(GateCheck) if e.record.gauge in entry.record.subjects]
    assert len(gates) == len(expected)
    assert all(row[2] and row[3] for step in trail.steps for row in step.rows)


def test_sources_are_the_versions_that_were_used(page: Page) -> None:
    entry = handover_answers.heading_results(page)[0]
    trail = trail_of(page, entry.record.label)
    told = {row[4] for row in named(trail.steps, "budget").rows}
    refs = {line.source for line in entry.record.budget if line.source is not None}
    assert told == {f"{short_id(ref.uid)}, {ref.version}" for ref in refs}
    assert refs


def test_numbers_told_of_a_gauge_are_found_by_its_label(page: Page) -> None:
    trail = trail_of(page, "L1-M-U")
    assert trail.result is None
    assert {row[1] for row in named(trail.steps, "gauges").rows if row[0] == "gauge"} == {"L1-M-U"}
    assert named(trail.steps, "chains").rows
    assert named(trail.steps, "readings").rows
    assert len(named(trail.steps, "gates").rows) >= 7


def test_a_part_of_an_answer_is_found_by_the_words_that_stand_there(page: Page) -> None:
    (answer,) = (a for a in handover_answers.answers(page) if "bar carry" in a.question)
    words = "L3-M-T with L3-M-U at 160 kN"
    assert words in answer.sentence
    trail = trail_of(page, words)
    assert trail.result is not None
    assert trail.result.record.label == f"bar force {words}"


def test_what_is_no_number_is_refused_with_some_that_are(page: Page) -> None:
    with pytest.raises(InputError, match="such as"):
        trail_of(page, "ZZZZZZZZ")
    with pytest.raises(InputError, match="one result"):
        trail_of(page, "")


def test_the_report_prints_the_ids(page: Page) -> None:
    document = handover.report_document(page.desk.store, 1)
    assert all(row.id for row in document.yields)
    assert all(table.id for table in document.budgets)
