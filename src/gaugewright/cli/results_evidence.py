"""Where one number came from, record by record: results evidence."""

from typing import Annotated

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching

__all__ = ["add_to"]

EVIDENCE = teaching(
    does="""Follow a number back to the readings: the result, who signed it, the records its
    uncertainty came from, the chains of corrections, channels, zeros, files as received, gauges,
    gates, bench steps and findings, each with who wrote it and when.""",
    when="when somebody asks where a number in a report is from; its id is printed beside it.",
    example="gaugewright results evidence beams-2026 000000V3",
    after="gaugewright archive verify shows that the readings give the number again",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("evidence", help=EVIDENCE)(evidence)


def evidence(
    context: typer.Context,
    folder: CampaignFolder,
    number: Annotated[
        str, typer.Argument(help="Id as printed beside the number, its label, or its gauge.")
    ],
    as_json: AsJson = False,
) -> None:
    """Follow a number back to the readings."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.showing.listings import plain
    from gaugewright.services.showing.page import Page
    from gaugewright.services.strain.strains import Desk
    from gaugewright.services.tracing.evidence import trail_of

    with campaigns.opened(folder, settings_of(context), read_only=True) as store:
        page = Page.of(Desk(store, Book.read(store)))
        trail = trail_of(page, number)
    told = {
        "number": trail.title,
        "id": trail.id,
        "uid": None if trail.result is None else trail.result.uid,
        "version": None if trail.result is None else trail.result.version,
        "steps": {one.key: plain(one) for one in trail.steps},
    }
    lines = [f"{trail.title} (id {trail.id})"]
    for one in trail.steps:
        if one.rows:
            cells = [tuple(str(cell) for cell in row) for row in one.rows]
            lines += ["", one.title, *table(tuple(c.head for c in one.columns), cells)]
    result(as_json, told, lines)
