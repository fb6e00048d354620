"""The command that proves which channel reads which gauge: identity."""

from pathlib import Path
from typing import Annotated

import typer

from gaugewright.cli.lists import CsvFile, ListName, printed
from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result
from gaugewright.cli.teaching import teaching

__all__ = ["add_to"]

IDENTITY = teaching(
    does="""Show for every gauge whether it is proved to be where its label says, and which
    channels are exchanged. With --gauge write a proof down: the gauge was touched, warmed or
    pressed, and a channel moved, whichever way. Which one is typed with --moved or found in a
    recording between two times. Once a gauge is cast in and plugged anew, "told by its leads"
    holds its pairs against those of every gauge at the gate before.""",
    when="before the pour, gauge by gauge; after each new plug, by the leads.",
    example="""gaugewright identity beams-2026 --gauge L1-M-T --stimulus touched
    --recording "touching" --from "2026-10-05 09:00:10" --to "2026-10-05 09:00:40\"""",
    after="gaugewright gate beams-2026, before pour",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("identity", help=IDENTITY)(identity)


def identity(
    context: typer.Context,
    folder: CampaignFolder,
    gauge: Annotated[
        str, typer.Option(metavar="LABEL", help="Gauge that was touched; shows all without it.")
    ] = "",
    stimulus: Annotated[
        str, typer.Option(help='"touched", "warmed", "pressed" or "told by its leads".')
    ] = "touched",
    moved: Annotated[
        str,
        typer.Option(
            metavar="CHANNELS", help='Labels with commas, the most first; "none" if none did.'
        ),
    ] = "",
    recording: Annotated[
        str, typer.Option(metavar="LABEL", help="Recording to find it in instead.")
    ] = "",
    begins: Annotated[str, typer.Option("--from", metavar="TIME", help="Of the stretch.")] = "",
    ends: Annotated[str, typer.Option("--to", metavar="TIME", help="Of the stretch.")] = "",
    at: Annotated[str, typer.Option("--at", metavar="TIME", help="When; now if left out.")] = "",
    only: ListName = "",
    csv: CsvFile = None,
    as_json: AsJson = False,
) -> None:
    """Show what is proved, or write a proof down."""
    from gaugewright.services.wiring.identifying_typed import identity_lists

    if not gauge:
        printed(context, folder, identity_lists, only=only, csv=csv, as_json=as_json)
        return
    typed = {"gauge": gauge, "stimulus": stimulus, "moved": moved, "recording": recording}
    _prove(context, folder, typed | {"begins": begins, "ends": ends, "at": at}, as_json)


def _prove(context: typer.Context, folder: Path, typed: dict[str, str], as_json: bool) -> None:
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.wiring import identifying_typed

    with campaigns.opened(folder, settings_of(context)) as store:
        kept = identifying_typed.proved(store, typed)
        book = Book.read(store)
        told = identifying_typed.told_of(book, kept)
    plain = {
        "campaign": str(folder),
        "gauge": typed["gauge"],
        "moved": [book.label(uid) for uid in kept.record.moved],
        "told": told,
        "uid": kept.uid,
    }
    result(as_json, plain, [told])
