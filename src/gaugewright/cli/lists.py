"""Commands that print what records say: bench, wiring, zeros."""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching

if TYPE_CHECKING:
    from gaugewright.present.units_shown import System
    from gaugewright.services.showing.listings import Listing
    from gaugewright.services.showing.page import Page

__all__ = ["CsvFile", "ListName", "add_to", "printed", "printed_lists"]

BENCH = teaching(
    does="""Show what was done at the bench: gauges against steps with day and person, steps put
    aside and why, supplies with batch and date, covers, and every step in full. Nothing is
    written.""",
    when="before a gate, and when a batch turns out bad.",
    example="gaugewright bench beams-2026 --list supplies",
    after="gaugewright wiring beams-2026",
)
WIRING = teaching(
    does="""Show which channel reads what: circuit, sensor or temperature point, since when, by
    which plug and how it is set; circuits with their leads and colours; recorders; every
    connection there ever was. Nothing is written.""",
    when="before readings are taken, and when a plug was touched.",
    example="gaugewright wiring beams-2026 --list channels",
    after="gaugewright import beams-2026 FILE",
)
ZEROS = teaching(
    does="""Show how far each gauge moved from one zero to the next and what explains it:
    temperature, a plug made again, a leak, a wire, shortening or bending from opposite faces.
    Then every zero with what it is worth now. With --take a kind of zero is taken of everything
    plugged in, from a quiet stretch of recordings.""",
    when="after each zero: before the pour, before the test, after seating.",
    example="""gaugewright zeros beams-2026 --take "before test" --from "2026-10-13 09:00"
    --to "2026-10-13 09:04" --recording "zero before test, Recorder A\"""",
    after="gaugewright reduce beams-2026",
)
ListName = Annotated[
    str, typer.Option("--list", metavar="NAME", help="One list alone; all when left out.")
]
CsvFile = Annotated[
    Path | None,
    typer.Option("--csv", metavar="FILE", help="Write the one list named by --list as CSV."),
]


def add_to(app: typer.Typer) -> None:
    """Give the commands of this module their names."""
    app.command("bench", help=BENCH)(_showing(_bench))
    app.command("wiring", help=WIRING)(_showing(_wiring))
    app.command("zeros", help=ZEROS)(zeros)


def _showing(lists: "Callable[[Page], tuple[Listing, ...]]") -> Callable[..., None]:
    """A command that shows lists and does nothing else."""

    def show(
        context: typer.Context,
        folder: CampaignFolder,
        only: ListName = "",
        csv: CsvFile = None,
        as_json: AsJson = False,
    ) -> None:
        printed(context, folder, lists, only=only, csv=csv, as_json=as_json)

    return show


def _bench(page: "Page") -> "tuple[Listing, ...]":
    from gaugewright.services.bench.lists import bench_lists

    return bench_lists(page.book, page.zone)


def _wiring(page: "Page") -> "tuple[Listing, ...]":
    from gaugewright.services.wiring.lists import wiring_lists

    return wiring_lists(page.book, page.zone, page.system)


def zeros(
    context: typer.Context,
    folder: CampaignFolder,
    only: ListName = "",
    csv: CsvFile = None,
    take: Annotated[
        str, typer.Option(metavar="KIND", help="Take zeros of this kind instead of showing them.")
    ] = "",
    begins: Annotated[str, typer.Option("--from", metavar="TIME", help="Of the stretch.")] = "",
    ends: Annotated[str, typer.Option("--to", metavar="TIME", help="Of the stretch.")] = "",
    recording: Annotated[
        list[str] | None,
        typer.Option(metavar="LABEL", help="Recording it lies in; one for each recorder."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Show zeros and the way from each to its next."""
    from gaugewright.services.zeros.lists import zero_lists

    if not take:
        printed(context, folder, zero_lists, only=only, csv=csv, as_json=as_json)
        return
    typed = {"kind": take, "begins": begins, "ends": ends}
    _take(context, folder, typed | {"recordings": ";".join(recording or ())}, as_json)


def _take(context: typer.Context, folder: Path, typed: dict[str, str], as_json: bool) -> None:
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.zeros import typed as zero_typed

    with campaigns.opened(folder, settings_of(context)) as store:
        found = zero_typed.taken(store, typed)
        book = Book.read(store)
    plain = {
        "campaign": str(folder),
        "taken": [entry.uid for entry in found.taken],
        "missed": {book.label(uid): why for uid, why in found.missed},
    }
    result(as_json, plain, zero_typed.taken_words(book, found))


def printed(
    context: typer.Context,
    folder: Path,
    lists: "Callable[[Page], tuple[Listing, ...]]",
    *,
    only: str,
    csv: Path | None,
    as_json: bool,
) -> None:
    """Print lists of a campaign, or write one of them as CSV."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.showing.page import Page
    from gaugewright.services.strain.strains import Desk

    with campaigns.opened(folder, settings_of(context), read_only=True) as store:
        page = Page.of(Desk(store, Book.read(store)))
        found = lists(page)
        system = page.system
    printed_lists(folder, found, system, only=only, csv=csv, as_json=as_json)


def printed_lists(
    folder: Path,
    found: "tuple[Listing, ...]",
    system: "System",
    *,
    only: str,
    csv: Path | None,
    as_json: bool,
    more: Mapping[str, Any] | None = None,
) -> None:
    """Print lists, or write one of them as CSV; ``more`` is what JSON has beside them."""
    from gaugewright.errors import InputError
    from gaugewright.services.showing import listings

    if only:
        found = (listings.named(found, only),)
    if csv is not None:
        if len(found) != 1:
            names = ", ".join(one.key for one in found)
            raise InputError("--csv", str(csv), "given with --list NAME", f"one of {names}")
        csv.write_text(listings.listing_csv(found[0], system), encoding="utf-8", newline="")
    plain: dict[str, Any] = {"campaign": str(folder), **(more or {})}
    plain |= {one.key: listings.plain(one) for one in found}
    lines = [line for one in found for line in _lines(one, system)]
    result(as_json, plain, lines[:-1] if lines else lines)


def _lines(listing: "Listing", system: "System") -> list[str]:
    from gaugewright.services.showing import listings

    start = [f"{listing.title} ({listing.key})", ""]
    if not listing.rows:
        return [*start, listing.empty, ""]
    rows = [
        tuple(
            listings.cell_text(cell, column.quantity, system)
            for cell, column in zip(row, listing.columns, strict=True)
        )
        for row in listing.rows
    ]
    told = table(listings.heads(listing, system), rows)
    return [*start, *told, *([listing.about] if listing.about else []), ""]
