"""What sheets share: lists as tables, gauges in words, people to call."""

from dataclasses import dataclass

from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import Person
from gaugewright.report.parts import Part, PartTable
from gaugewright.services.showing.listings import Listing, cell_text, heads
from gaugewright.services.showing.page import Page

__all__ = ["Said", "listing_part", "part_table", "people_lines", "place_words"]


_MANY = 8  # columns of words that fit beside each other by their own width


@dataclass(frozen=True, slots=True)
class Said:
    """What stands on a sheet under its title."""

    lead: str
    parts: tuple[Part, ...]
    is_large: bool = False


def part_table(page: Page, listing: Listing, *, columns: tuple[str, ...] = ()) -> PartTable:
    """A list as a printed table; only the columns named by their heads, all when none is."""
    wanted = [
        n for n, column in enumerate(listing.columns) if not columns or column.head in columns
    ]
    named = heads(listing, page.system)
    rows = tuple(
        tuple(cell_text(row[n], listing.columns[n].quantity, page.system) or "–" for n in wanted)
        for row in listing.rows
    )
    is_number = [
        all(not isinstance(row[n], str) for row in listing.rows) and bool(listing.rows)
        for n in wanted
    ]
    words = [at for at, number in enumerate(is_number) if not number]
    longest = max(words, key=lambda at: max((len(r[at]) for r in rows), default=0), default=0)
    # Where many columns of words leave no room, the one that takes the rest would get none.
    wide = (longest,) if len(words) <= _MANY else tuple(words)
    return PartTable(
        tuple(named[n] for n in wanted),
        rows,
        listing.empty,
        wide=wide,
        right=tuple(at for at, number in enumerate(is_number) if number),
    )


def listing_part(page: Page, listing: Listing, *, columns: tuple[str, ...] = ()) -> Part:
    """An entry of the sheet that is a list."""
    table = part_table(page, listing, columns=columns)
    return Part(listing.title, listing.about, table=table)


def people_lines(page: Page) -> tuple[str, ...]:
    """People of the campaign with what they do."""
    return tuple(
        f"{e.record.name}{', ' + e.record.role if e.record.role else ''}"
        for e in page.book.of(Person)
    )


def place_words(page: Page, gauge: Entry[Gauge]) -> str:
    """Where a gauge sits: bar, distance from the datum, as built where that was measured."""
    station = page.book.station_of(gauge).record
    built = station.distance_built
    value = built.value if built else station.distance_planned
    number = page.number(value, None, "m").text
    known = "" if built else " as planned"
    return f"{page.book.label(station.bar)}, {number}{known} from the {station.datum}"
