"""The command that brings stations in from a spreadsheet: stations."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, pairs, settings_of
from gaugewright.cli.speech import result
from gaugewright.cli.teaching import teaching

if TYPE_CHECKING:
    from gaugewright.services.entering.sheet import Understood
    from gaugewright.store.campaign import CampaignStore

__all__ = ["add_to"]

STATIONS = teaching(
    does="""Bring planned stations in from a spreadsheet (.xlsx, or text with tabs, semicolons or
    commas), however it looks. What isn't plain is asked: which column holds what, in which unit,
    what a comma is, which bar a blank cell means, which of two rows holds. Answers are given with
    --answer; nothing is written while a question is open, then all stations or none.""",
    when="when the list of stations exists already; bars must have been entered.",
    example="""gaugewright stations beams-2026 schedule.xlsx --answer "unit C=in"
    --answer "blank B=above\"""",
    after="gaugewright plan beams-2026",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("stations", help=STATIONS)(stations)


def stations(
    context: typer.Context,
    folder: CampaignFolder,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Spreadsheet.", show_default=False)],
    sheet: Annotated[
        str, typer.Option(metavar="NAME", help="Sheet of the workbook, where several are filled.")
    ] = "",
    answer: Annotated[
        list[str] | None,
        typer.Option(metavar="QUESTION=ANSWER", help="An answer; may be repeated."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Bring stations in from a spreadsheet, or say what must be answered first."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.entering import sheet as plan_entry_sheet

    grid = plan_entry_sheet.grid_of_file(file, sheet)
    answers = pairs("--answer", answer or ())
    with campaigns.opened(folder, settings_of(context)) as store:
        found = plan_entry_sheet.understood(Book.read(store), grid, answers)
        if found.asked:
            _asked(found, folder, as_json)
            raise typer.Exit(code=2)
        _kept(store, folder, found, as_json)


def _asked(found: "Understood", folder: Path, as_json: bool) -> None:
    plain = {
        "campaign": str(folder),
        "written": 0,
        "told": list(found.told),
        "questions": [
            {
                "key": one.key,
                "question": one.words,
                "answers": [value for value, _ in one.choices],
                "wrong": one.wrong,
            }
            for one in found.asked
        ],
    }
    lines = [*found.told, "Nothing is written yet. To be answered first:"]
    for one in found.asked:
        lines.append(f"  {one.words}" + (f" ({one.wrong})" if one.wrong else ""))
        if one.choices:
            lines += [f'    --answer "{one.key}={value}"  {words}' for value, words in one.choices]
        else:
            lines.append(f'    --answer "{one.key}=…"')
    result(as_json, plain, lines)


def _kept(store: "CampaignStore", folder: Path, found: "Understood", as_json: bool) -> None:
    from gaugewright.services.entering import sheet as plan_entry_sheet

    refs = plan_entry_sheet.kept(store, found)
    plain = {
        "campaign": str(folder),
        "written": len(refs),
        "told": list(found.told),
        "stations": [
            {"station": row.label, "row": row.row, "distance": row.distance, "angle": row.angle}
            for row in found.rows
        ],
        "questions": [],
    }
    count = f"{len(refs)} station{'s' if len(refs) != 1 else ''}"
    result(as_json, plain, [*found.told, f"{count} kept."])
