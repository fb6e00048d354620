"""Lists of records as pages show them: tables that fold on a phone, each with its CSV."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from urllib.parse import quote

from starlette.responses import Response

from gaugewright.errors import InputError
from gaugewright.present.numbers import Shown
from gaugewright.present.units_shown import System, quantity_shown, unit_shown
from gaugewright.records.stated import Stated
from gaugewright.services.showing import listings
from gaugewright.services.showing.listings import Cell, Doubted, Listing
from gaugewright.web import frame, rooms
from gaugewright.web.gauge_tables import Cell as ShownCell
from gaugewright.web.gauge_tables import NumberTable, Row
from gaugewright.web.not_there import NotThere

__all__ = ["ListPage", "Listed", "MapShown", "csv_of", "listed"]

# A last column of one of these heads is too long for a column: it stands below its row.
BELOW = ("told", "set to")
_OWN_UNIT = re.compile(r"(.+) \[([^\[\]]+)\]")


@dataclass(frozen=True, slots=True)
class Listed:
    """A table with the address of its CSV; a long one is folded away.

    ``told`` is what stands below each row over its whole width: a last column of ``BELOW``; what
    would be the same below every row is ``told_once`` below them all.
    """

    table: NumberTable
    csv_url: str
    is_long: bool
    count: str
    told: tuple[str, ...]
    told_once: str
    columns: int


@dataclass(frozen=True, slots=True)
class MapShown:
    """A drawing for a wide and for a narrow sheet, and what it doesn't show."""

    title: str
    wide: str
    narrow: str
    note: str


@dataclass(frozen=True, slots=True)
class ListPage:
    """A page of lists."""

    sheet: frame.Sheet
    title: str
    lead: str
    margin: str
    links: tuple[tuple[str, str], ...]
    map: MapShown | None
    lists: tuple[Listed, ...]


def listed(
    room: rooms.Room,
    listing: Listing,
    url: str,
    link: Callable[[str], str] | None = None,
    *,
    is_long: bool = False,
) -> Listed:
    """A list as a page shows it; ``link`` gives the address of what a row is named after."""
    last = listing.columns[-1].head in BELOW
    places = range(1, len(listing.columns) - last)
    rows = tuple(
        Row(
            _name(row[0]),
            link(_name(row[0])) if link is not None else "",
            tuple(_cell(row[n], listing.columns[n].quantity, room.units) for n in places),
        )
        for row in listing.rows
    )
    table = NumberTable(
        listing.key,
        listing.title,
        _capital(listing.columns[0].head),
        tuple(_head(listing, n, room.units) for n in places),
        rows,
        listing.empty,
        listing.about,
    )
    count = f"{len(rows)} line{'s' if len(rows) != 1 else ''}"
    told = tuple(_name(row[-1]) for row in listing.rows) if last else ()
    once = told[0] if len(told) > 1 and len(set(told)) == 1 else ""
    return Listed(
        table,
        f"{url}?numbers={listing.key}",
        is_long,
        count,
        () if once else told,
        once,
        len(places) + 1,
    )


def csv_of(room: rooms.Room, lists: Sequence[Listing], key: str) -> Response:
    """One list as CSV.

    Raises
    ------
    NotThere
        If no list has that key.
    """
    try:
        listing = listings.named(lists, key)
    except InputError as error:
        raise NotThere("list", key, error.allowed) from error
    name = quote(f"{room.name}-{key}.csv", safe="")
    return Response(
        listings.listing_csv(listing, room.units),
        media_type="text/csv; charset=utf-8",
        headers={"content-disposition": f"attachment; filename*=UTF-8''{name}"},
    )


def _name(cell: Cell) -> str:
    return cell if isinstance(cell, str) else str(cell)


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _head(listing: Listing, place: int, system: System) -> tuple[str, str, bool]:
    column = listing.columns[place]
    unit = unit_shown(column.quantity, system).text if column.quantity else ""
    cells = [row[place] for row in listing.rows]
    is_number = any(cell is not None and not isinstance(cell, str) for cell in cells)
    # A unit of its own, such as %, stands in the words; a page has every unit below its head.
    alone = _OWN_UNIT.fullmatch(column.head)
    head, unit = (alone[1], alone[2]) if alone and not unit else (column.head, unit)
    return (_capital(head), unit, is_number)


def _cell(cell: Cell, quantity: str, system: System) -> ShownCell:
    if cell is None or isinstance(cell, str):
        return ShownCell(words=cell or "")
    if isinstance(cell, Stated | Doubted):
        return ShownCell(number=listings.cell_shown(cell, quantity, system))
    if quantity:
        return ShownCell(number=quantity_shown(quantity, float(cell), None, system))
    return ShownCell(number=Shown(listings.cell_text(cell, quantity, system), "", ""))
