"""Budgets and limits on their pages: reached by a click, from the records, honest where none is."""

import dataclasses
import re

from starlette.testclient import TestClient

from gaugewright.records.gauges import Gauge
from gaugewright.records.results import Result
from gaugewright.services.campaign.book import Book
from gaugewright.web.pages.limits import LimitsPage
from gaugewright.web.pages.results_budget import BudgetPage
from tests.web.reading import rows, words


def test_each_number_leads_to_its_budget(reader: TestClient, records: Book) -> None:
    text = reader.get("/c/demo/results").text
    for entry in records.of(Result):
        url = f"/c/demo/results/budget/{entry.uid}"
        assert (url in text) == (entry.record.value is not None)


def test_answers_and_the_numbers_in_short_lead_to_their_budgets(
    reader: TestClient, records: Book
) -> None:
    named = {f"/c/demo/results/budget/{e.uid}": e.record for e in records.of(Result)}
    large = re.compile(
        r'q-figure">(?:<span class="label">[^<]*</span>)?'
        r'<a class="to-budget" href="([^"]+)">(.*?)</a>',
        re.DOTALL,
    )
    own = next(r for r in named.values() if r.value is not None and len(r.subjects) == 1)
    gauge = records.entry(own.subjects[0], Gauge).record.label
    for page, fewest in (("results", 2), (f"gauges/{gauge}", 1)):
        found = large.findall(reader.get(f"/c/demo/{page}").text)
        assert len(found) >= fewest
        assert reader.get(f"/c/demo/{page}").text.count('class="q-figure"') == len(found)
        for url, shown in found:
            assert named[url].value is not None
            # The budget's own heading is the same number.
            assert words(shown) in words(reader.get(url).text)


def test_a_budget_holds_every_cause_and_input(reader: TestClient, records: Book) -> None:
    entry = next(e for e in records.of(Result) if e.record.value is not None)
    text = reader.get(f"/c/demo/results/budget/{entry.uid}").text
    found = rows(text)
    causes = [row for row in found if len(row) == 6][1:]
    inputs = [row for row in found if len(row) == 5][1:]
    assert len(causes) == len(entry.record.budget)
    assert len(inputs) == len([line for line in entry.record.budget if line.input])
    assert entry.record.budget[0].meaning in causes[0][0]
    assert "version" in inputs[0][4]


def test_a_result_without_a_number_says_why(reader: TestClient, records: Book) -> None:
    entry = next(e for e in records.of(Result) if e.record.value is None)
    seen = words(reader.get(f"/c/demo/results/budget/{entry.uid}").text)
    assert "No budget." in seen
    assert entry.record.note in seen


def test_no_such_result_is_a_page_that_says_so(reader: TestClient) -> None:
    assert reader.get("/c/demo/results/budget/0000").status_code == 404


def test_a_gauge_leads_to_the_budgets_of_its_numbers(reader: TestClient) -> None:
    text = reader.get("/c/demo/gauges/L1-M-U").text
    assert 'href="/c/demo/results/budget/' in text
    assert "Zero in this chain: before test" in words(text)
    assert "MOhm" not in text


def test_limits_are_listed_with_source_and_reach(reader: TestClient) -> None:
    response = reader.get("/c/demo/limits")
    assert response.status_code == 200
    seen = words(response.text)
    assert "installation scatter" in seen
    assert "unverified" in seen
    assert "Limits that reach nothing here" in seen


def test_an_empty_campaign_says_that_nothing_reaches_a_number(client: TestClient) -> None:
    assert "No limit reaches a verdict" in words(client.get("/c/beam/limits").text)


def test_contexts_are_frozen() -> None:
    for kind in (BudgetPage, LimitsPage):
        assert dataclasses.is_dataclass(kind)
