"""The command that lists what a campaign holds to without having measured it: limits."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching

if TYPE_CHECKING:
    from gaugewright.records import Entry
    from gaugewright.records.proof import Limit
    from gaugewright.services.laboratory.limits_in_force import LimitRow

__all__ = ["add_to"]

LIMITS = teaching(
    does="""Limits and assumptions in force in a campaign: each limit with value, source, version,
    whether anybody has confirmed it, what was changed from the shipped one, and the verdicts,
    findings and results that it reaches; then every value that nobody measured or typed.
    Nothing is changed.""",
    when="before a number is relied on, and before a report is signed.",
    example="gaugewright limits beams-2026",
    after='gaugewright results budget beams-2026 "RESULT", for one number',
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("limits", help=LIMITS)(limits)


def limits(
    context: typer.Context,
    folder: CampaignFolder,
    every: Annotated[
        bool, typer.Option("--all", help="Also the limits that reach nothing here.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """List limits and assumptions in force."""
    from gaugewright.records.proof import Limit
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.laboratory.limits_in_force import assumption_rows, limit_rows, summary
    from gaugewright.services.showing.page import Page
    from gaugewright.services.strain.strains import Desk

    with campaigns.opened(folder, settings_of(context), read_only=True) as store:
        page = Page.of(Desk(store, Book.read(store)))
        found, assumed = limit_rows(page), assumption_rows(page)
        records = {e.record.label: e for e in page.book.of(Limit)}
    plain = {
        "campaign": str(folder),
        "limits": [_plain(row, records[row.label]) for row in found],
        "assumptions": [
            {"what": row.what, "from": row.words, "reaches": row.reaches} for row in assumed
        ],
    }
    lines = [summary(found), "", *_lines([row for row in found if every or row.is_used])]
    lines += ["", "Assumptions:", ""]
    lines += table(("assumed", "from", "reaches"), [(r.what, r.words, r.reaches) for r in assumed])
    result(as_json, plain, lines)


def _lines(rows: "list[LimitRow]") -> list[str]:
    heads = ("limit", "value", "", "version", "changed", "source", "reaches")
    cells = [
        (
            row.label,
            row.number.text,
            "unverified" if row.unverified else "confirmed",
            str(row.version),
            row.changed,
            row.source,
            row.reaches,
        )
        for row in rows
    ]
    return table(heads, cells)


def _plain(row: "LimitRow", entry: "Entry[Limit]") -> dict[str, Any]:
    """A limit as JSON values, in the unit of its record."""
    return {
        "label": row.label,
        "meaning": row.meaning,
        "value": entry.record.value,
        "unit": entry.record.unit,
        "source": row.source,
        "unverified": row.unverified,
        "version": row.version,
        "changed": row.changed,
        "reaches": row.reaches,
    }
