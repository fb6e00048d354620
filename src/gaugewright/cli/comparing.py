"""The command that tells what differs between two campaigns or two moments of one: compare."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching
from gaugewright.errors import InputError

if TYPE_CHECKING:
    from gaugewright.services.showing.listings import Listing

__all__ = ["add_to"]

COMPARE = teaching(
    does="""Tell what changed and why: numbers with how far they moved against their own
    uncertainty and the causes that changed, parameters of the corrections, and every record,
    field by field, with who changed it, when and for which reason. Either two campaigns, or one
    campaign as it stood after an entry of its journal and as it stands now.""",
    when="""when a second report says something else than the first: the entry is printed in the
    first one's provenance.""",
    example="gaugewright compare beams-2026 --since 1099",
    after="gaugewright results evidence beams-2026 ID for a number that moved",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("compare", help=COMPARE)(compare)


def compare(
    context: typer.Context,
    folder: CampaignFolder,
    other: Annotated[
        Path | None, typer.Argument(help="Another campaign; left out to compare with the past.")
    ] = None,
    since: Annotated[
        int | None, typer.Option(help="Entry of the journal to compare with how it is now.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Tell what differs, and why."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.comparing import comparing
    from gaugewright.services.showing.listings import plain
    from gaugewright.services.showing.page import Page
    from gaugewright.services.strain.strains import Desk

    if (other is None) == (since is None):
        do = "name another campaign, or --since an entry of the journal"
        raise InputError("what to compare with", None, "one of the two", do)
    given = settings_of(context)
    with campaigns.opened(folder, given, read_only=True) as store:
        page = Page.of(Desk(store, Book.read(store)))
        if since is not None:
            before = comparing.at_entry(page, since, f"entry {since}")
            lists = comparing.compared(before, comparing.of_now(page, "now"))
        else:
            with campaigns.opened(Path(str(other)), given, read_only=True) as second:
                beside = Page.of(Desk(second, Book.read(second)))
                names = (page.desk.store.campaign.record.label, second.campaign.record.label)
                sides = (comparing.of_now(page, names[0]), comparing.of_now(beside, names[1]))
                lists = comparing.compared(*sides)
    result(as_json, {one.key: plain(one) for one in lists}, _lines(lists))


def _lines(lists: "tuple[Listing, ...]") -> list[str]:
    lines: list[str] = []
    for one in lists:
        lines += ["", one.title]
        if one.rows:
            cells = [tuple(str(cell) for cell in row) for row in one.rows]
            lines += table(tuple(column.head for column in one.columns), cells)
        else:
            lines.append(one.empty)
        lines += [one.about] if one.about else []
    return lines[1:]
