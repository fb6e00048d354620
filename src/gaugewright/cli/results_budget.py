"""The command that shows what one number's uncertainty is made of: results budget."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching

if TYPE_CHECKING:
    from gaugewright.records import Entry
    from gaugewright.records.results import BudgetInput, Result
    from gaugewright.report.document import BudgetTable, InputRow

__all__ = ["add_to"]

BUDGET = teaching(
    does="""What one number's uncertainty is made of: every cause, the largest first, with its
    share of the variance and the uncertainty that would be left if it were halved; then every
    input with its value, where it came from and which version of which record. The budget was
    kept when the number was worked out, so both belong together.""",
    when="after reduce; before somebody asks.",
    example='gaugewright results budget beams-2026 "yield load L1-M-U"',
    after="gaugewright limits beams-2026, for what is assumed",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("budget", help=BUDGET)(budget)


def budget(
    context: typer.Context,
    folder: CampaignFolder,
    name: Annotated[
        str,
        typer.Argument(metavar="RESULT", help="The result's name or its uid.", show_default=False),
    ],
    as_json: AsJson = False,
) -> None:
    """Show the budget of one result."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.showing.page import Page
    from gaugewright.services.strain.strains import Desk
    from gaugewright.services.tracing import budget as result_budget

    with campaigns.opened(folder, settings_of(context), read_only=True) as store:
        page = Page.of(Desk(store, Book.read(store)))
        entry = result_budget.result_named(page.book, name)
        told = result_budget.budget_table(page, entry)
        inputs = result_budget.input_rows(page, [entry])
    result(as_json, _plain(entry), _lines(told, inputs))


def _lines(told: "BudgetTable", inputs: "tuple[InputRow, ...]") -> list[str]:
    lines = [f"{told.name}: {told.number.text}", f"{told.terms}.", ""]
    lines += table(
        ("cause", "of", "known how", "sensitivity", "brings", "share", "halved"),
        [
            (r.meaning, r.of, r.basis, r.sensitivity, r.contribution, r.share, r.half)
            for r in told.rows
        ],
    )
    lines += ["", "Inputs:", ""]
    lines += table(
        ("input", "of", "value", "standard u.", "distribution", "freedom", "known how", "from"),
        [
            (r.name, r.of, r.value, r.uncertainty, r.distribution, r.freedom, r.basis, r.source)
            for r in inputs
        ],
    )
    return lines


def _plain(entry: "Entry[Result]") -> dict[str, Any]:
    """The record's own numbers in coherent units, and what follows from them."""
    from gaugewright.services.tracing import budget as result_budget

    record = entry.record
    value = result_budget.budget_of(entry)
    whole = value.budget(coverage=record.coverage)
    kept = {line.input: line for line in record.budget}
    return {
        "result": record.label,
        "uid": entry.uid,
        "version": entry.version,
        "value": whole.value,
        "unit": record.unit,
        "standard_uncertainty": whole.standard_uncertainty,
        "degrees_of_freedom": _number(whole.degrees_of_freedom),
        "expanded_uncertainty": whole.expanded,
        "coverage": whole.coverage,
        "causes": [
            {
                **_input(kept[line.input]),
                "contribution": line.contribution,
                "share": whole.share(line),
                "expanded_if_halved": result_budget.expanded_if_halved(
                    value, line.input, record.coverage
                ),
            }
            for line in whole.lines
        ],
    }


def _input(line: "BudgetInput") -> dict[str, Any]:
    source = line.source
    return {
        "input": line.input,
        "meaning": line.meaning,
        "basis": line.basis,
        "value": line.value,
        "quantity": line.quantity,
        "standard_uncertainty": line.standard_uncertainty,
        "distribution": line.distribution,
        "degrees_of_freedom": line.degrees_of_freedom,
        "sensitivity": line.sensitivity,
        "source": None if source is None else {"uid": source.uid, "version": source.version},
    }


def _number(value: float) -> float | None:
    """A number for JSON, which has no infinity."""
    import math

    return value if math.isfinite(value) else None
