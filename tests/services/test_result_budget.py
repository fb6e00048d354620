"""A number's budget, as kept with it, against the record's own doubt and sums by hand."""

import dataclasses
import math
from collections.abc import Iterator
from pathlib import Path

import pytest

from gaugewright.errors import InputError
from gaugewright.records.identity import working_context
from gaugewright.records.results import BudgetInput, Result
from gaugewright.records.specimen import Question
from gaugewright.services.campaign.book import Book
from gaugewright.services.handover import answers as handover_answers
from gaugewright.services.laboratory import limits_in_force
from gaugewright.services.results.inputs import budget_inputs
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.services.telling.chains import chain_tables
from gaugewright.services.tracing import budget as result_budget
from gaugewright.store.campaign import CampaignStore


@pytest.fixture(scope="module")
def page(demo_campaign: Path) -> Iterator[Page]:
    with CampaignStore.open(demo_campaign, working_context(), read_only=True) as store:
        yield Page.of(Desk(store, Book.read(store)))


def numbers(page: Page) -> list:
    return [entry for entry in page.book.of(Result) if entry.record.value is not None]


def test_every_budget_gives_back_the_doubt_of_its_number(page: Page) -> None:
    assert numbers(page)
    for entry in numbers(page):
        whole = result_budget.budget_of(entry).budget(coverage=entry.record.coverage)
        assert whole.value == entry.record.value
        assert whole.expanded == pytest.approx(entry.record.expanded_uncertainty, rel=1e-9)
        by_hand = math.sqrt(
            sum((one.sensitivity * one.standard_uncertainty) ** 2 for one in entry.record.budget)
        )
        assert whole.standard_uncertainty == pytest.approx(by_hand, rel=1e-12)
        assert sum(whole.share(line) for line in whole.lines) == pytest.approx(1)


def test_every_input_names_the_version_of_a_record_that_is_there(page: Page) -> None:
    # Noise is nobody's; bending is told by the readings of the pairs themselves.
    for entry in numbers(page):
        for line in entry.record.budget:
            if not line.input or line.input.startswith(("local_bending@", "noise of ")):
                continue
            assert line.source is not None, line.input
            found = page.book.found(line.source.uid)
            assert found is not None
            assert 1 <= line.source.version <= found.version


def test_what_halving_gives_is_the_rest_and_half_of_it(page: Page) -> None:
    for entry in numbers(page)[:5]:
        value = result_budget.budget_of(entry)
        if not math.isinf(value.effective_degrees_of_freedom().item()):
            continue
        first = value.budget().lines[0]
        rest = value.standard_uncertainty().item() ** 2 - 0.75 * first.contribution**2
        left = result_budget.expanded_if_halved(value, first.input, 0.95)
        assert left <= 1.959964 * math.sqrt(rest) * 1.001


def test_a_result_of_an_earlier_version_says_to_reduce_again(page: Page) -> None:
    entry = numbers(page)[0]
    bare = dataclasses.replace(entry, record=dataclasses.replace(entry.record, budget=()))
    with pytest.raises(InputError, match="reduce the campaign again"):
        result_budget.budget_of(bare)


def test_a_result_without_a_value_tells_why(page: Page) -> None:
    entry = next(e for e in page.book.of(Result) if e.record.value is None)
    with pytest.raises(InputError, match="none"):
        result_budget.budget_table(page, entry)


def test_values_of_inputs_are_those_of_the_records(page: Page) -> None:
    entry = result_budget.result_named(page.book, "yield load L1-M-U")
    rows = {row.name: row for row in result_budget.input_rows(page, [entry])}
    assert rows["modulus of the steel"].value.startswith("199.0")
    assert rows["modulus of the steel"].basis == "measured"
    assert rows["installation of this gauge"].basis == "assumed"
    assert "limit installation scatter, version 1" in rows["installation of this gauge"].source


def test_a_cause_whose_name_is_not_known_keeps_its_record(page: Page) -> None:
    from gaugewright.calc.uncertainty import InputQuantity, Uncertain

    gauge = numbers(page)[0].record.subjects[0]
    (line,) = budget_inputs(
        page.book, Uncertain.from_input(1.0, InputQuantity(f"something@{gauge}", 0.1))
    )
    assert (line.value, line.source.uid) == (None, gauge)
    (stray,) = budget_inputs(page.book, Uncertain.from_input(1.0, InputQuantity("stray", 0.1)))
    assert stray.source is None


@pytest.mark.parametrize(
    ("field", "bad"),
    [("standard_uncertainty", -1.0), ("sensitivity", math.inf), ("degrees_of_freedom", 0.0)],
)
def test_an_impossible_line_is_refused(field: str, bad: float) -> None:
    good = BudgetInput("a@b", "words", "measured", "normal", 1.0, 1.0)
    with pytest.raises(InputError, match=field):
        dataclasses.replace(good, **{field: bad})


def test_small_causes_are_told_together_in_a_report(page: Page) -> None:
    heads = handover_answers.heading_results(page)
    tables, inputs = result_budget.report_budgets(page, heads)
    assert len(tables) == len(page.book.of(Question)) < len(numbers(page))
    rest = len(numbers(page)) - len(tables)
    assert result_budget.budgets_elsewhere(page, heads).startswith(f"{rest} further numbers")
    assert inputs
    for table in tables:
        assert table.rows
        assert "together" in table.rest


def test_each_limit_tells_where_it_reaches_a_number(page: Page) -> None:
    rows = {row.label: row for row in limits_in_force.limit_rows(page)}
    assert f"{len(numbers(page))} results" in rows["installation scatter"].reaches
    assert rows["installation scatter"].unverified
    assert rows["joint resistance"].reaches == ""
    assert "finding" in rows["falling away"].reaches
    assert "zeros carried over" in rows["contact change"].reaches
    assert rows["insulation after pour"].number.text.endswith("MΩ")
    assert "unverified" in limits_in_force.summary(tuple(rows.values()))


def test_a_limit_of_the_laboratory_tells_what_was_shipped(page: Page) -> None:
    from gaugewright.records.proof import Limit

    entry = page.book.limit("installation scatter")
    changed = dataclasses.replace(
        entry, record=dataclasses.replace(entry.record, value=0.02, source="own pairs of 2025")
    )
    others = [e for e in page.book.every() if e.uid != entry.uid]
    seen = dataclasses.replace(page, desk=Desk(page.desk.store, Book([*others, changed])))
    row = next(r for r in limits_in_force.limit_rows(seen) if r.label == "installation scatter")
    assert "shipped with 1.5" in row.changed
    assert "shipped source" in row.changed
    assert isinstance(changed.record, Limit)


def test_what_nobody_measured_is_listed(page: Page) -> None:
    rows = limits_in_force.assumption_rows(page)
    assert any("installation" in row.what and "chain" in row.reaches for row in rows)
    assert any(row.what.startswith("uncertainty: wires unequally warm") for row in rows)


def test_every_chain_says_which_zero_stands_in_it(page: Page) -> None:
    for table in chain_tables(page):
        assert table.zero[0].startswith("Zero in this chain: before test, taken on this")
        assert any("carried over" in line and "±" in line for line in table.zero)
