"""Commands that turn readings into numbers and numbers into paper: reduce, report."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.progress import Progress
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching
from gaugewright.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gaugewright.present.units_shown import System
    from gaugewright.services.reducing.reduction import YieldRow

__all__ = ["add_to", "yield_lines", "yields_plain"]

REDUCE = teaching(
    does="""Correct readings to strain and find yield loads. First the readings are looked
    through for what is wrong; then they are corrected in one declared order, and the load at
    which each gauged bar yields is found with its uncertainty and the main cause of that.
    Readings are never changed; what looks wrong becomes a finding that a person decides.""",
    when="after readings are in, clocks joined and zeros taken; again after any record changed.",
    example="gaugewright reduce beams-2026",
    after="gaugewright report beams-2026",
)
REPORT = teaching(
    does="""Write the report as PDF. It holds gauges and their gates, doubtful and lost gauges
    with reasons, corrections, curves, yield loads with uncertainty. The journal's head is
    printed in it, so that the archive can prove it unchanged.""",
    when="after reduce.",
    example="gaugewright report beams-2026 --out beams-2026.pdf",
    after="read it, have a second person check it, hand it over",
)


def add_to(app: typer.Typer) -> None:
    """Give the commands of this module their names."""
    app.command("reduce", help=REDUCE)(reduce)
    app.command("report", help=REPORT)(report)


def reduce(context: typer.Context, folder: CampaignFolder, as_json: AsJson = False) -> None:
    """Correct readings to strain and find yield loads."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.reducing import reduction
    from gaugewright.services.reviewing import review

    with campaigns.opened(folder, settings_of(context)) as store, Progress() as progress:
        findings = review.find(store, progress=progress)
        done = reduction.reduce(store, progress=progress)
    plain = {
        "campaign": str(folder),
        "findings": len(findings),
        "results": len(done.results),
        "yields": yields_plain(done.yields),
        "not_reduced": list(done.skipped),
    }
    left_out = reduction.unreduced(done)
    lines = [
        f"{len(findings)} findings, {len(done.results)} results.",
        *([left_out] if left_out else []),
        "",
        *yield_lines(done.yields, campaigns.system_of(store)),
        "",
        f"Next: gaugewright report {folder}",
    ]
    result(as_json, plain, lines)


def report(
    context: typer.Context,
    folder: CampaignFolder,
    out: Annotated[
        Path | None,
        typer.Option(help="Where the PDF goes; the campaign's own folder when left out."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Write the report."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.handover import report as handover

    if out is not None and not out.absolute().parent.is_dir():
        do = "make it first, or name another one"
        raise InputError("folder of --out", str(out.parent), "a folder that exists", do)
    with campaigns.opened(folder, settings_of(context)) as store, Progress() as progress:
        handover.refuse_without_gauges(Book.read(store))
        path = handover.report(store, out=out, progress=progress)
    result(as_json, {"campaign": str(folder), "report": str(path)}, [str(path)])


def yields_plain(rows: "Sequence[YieldRow]") -> list[dict[str, Any]]:
    """Yield loads as JSON values, in newton."""
    return [
        {
            "gauge": row.label,
            "station": row.station,
            "state": row.state.value,
            "load_n": row.load_n,
            "expanded_uncertainty_n": row.expanded_n,
            "coverage": row.coverage,
            "main_cause": row.main_cause,
            "zero": row.zero,
            "note": row.note,
        }
        for row in rows
    ]


def yield_lines(rows: "Sequence[YieldRow]", system: "System") -> list[str]:
    """Yield loads as a table; a gauge without a number says why."""
    from gaugewright.present.units_shown import quantity_shown

    if not rows:
        return ["No yield loads: no gauge passed yield, or none could be reduced."]
    cells = []
    for row in rows:
        load = ""
        if row.load_n is not None:
            load = quantity_shown("force", row.load_n, row.expanded_n, system).text
        cells.append((row.label, row.state.value, load, row.main_cause, row.note))
    coverage = f"{100 * rows[0].coverage:g} %"
    heads = ("gauge", "state", f"load at yield ({coverage})", "main cause", "note")
    return table(heads, cells)
