"""Where stations may be put on a drawing: the specimen of a bar, its section, round places."""

import math
from dataclasses import dataclass

from gaugewright.errors import InputError
from gaugewright.present.units_shown import System, in_shown, unit_shown
from gaugewright.records import Entry
from gaugewright.records.member import Held, Member, OutlineShape
from gaugewright.records.specimen import Bar, Station
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering.places import last_datum

__all__ = ["BarPlaced", "Cell", "Site", "free_label", "site_of", "sites", "unit_of"]

_CELLS = 48  # places along a bar: each is wide enough to be tapped at 1:1
_STEPS: dict[System, tuple[float, ...]] = {
    "si": (1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0, 250.0, 500.0, 1000.0),
    "us": (0.125, 0.25, 0.5, 1.0, 2.0, 3.0, 6.0, 12.0, 24.0, 48.0),
}
FACES = tuple(n * math.pi / 4 for n in range(8))


@dataclass(frozen=True, slots=True)
class BarPlaced:
    """A bar on the drawing [m]: its ends on the scale of its member, depth and place across."""

    label: str
    first: float
    last: float
    depth: float
    across: float
    diameter: float


@dataclass(frozen=True, slots=True)
class Cell:
    """A round place along the bar: its distance as a field shows it, and its borders [m]."""

    text: str
    distance: float
    first: float
    last: float


@dataclass(frozen=True, slots=True)
class Site:
    """Everything a drawing for one bar needs [m]; ``height`` is None where nothing holds the bar.

    ``stations`` are label, place on the drawing's scale and depth of those on the drawn bars.
    """

    bar: Entry[Bar]
    here: BarPlaced
    bars: tuple[BarPlaced, ...]
    shape: str
    height: float | None
    width: float
    flange_width: float
    flange_depth: float
    supports: tuple[float, ...]
    loads: tuple[float, ...]
    stations: tuple[tuple[str, float, float, bool], ...]
    cells: tuple[Cell, ...]
    unit: str
    datum: str


def unit_of(system: System) -> str:
    """Unit of the distances that are tapped."""
    return unit_shown("distance", system).text


def sites(book: Book) -> tuple[Entry[Bar], ...]:
    """Bars that can be drawn: those whose length is entered."""
    return tuple(bar for bar in book.of(Bar) if bar.record.length is not None)


def site_of(book: Book, label: str, system: System) -> Site:
    """What is drawn for a bar.

    Raises
    ------
    InputError
        If there is no such bar, or its length isn't entered.
    """
    bar = book.labelled(Bar, label)
    if bar.record.length is None:
        raise InputError(
            f"length of bar {label}", None, "entered before places are tapped on it", "type it in"
        )
    member = _member_of(book, bar)
    here = _placed(bar, member)
    bars: tuple[BarPlaced, ...] = (here,)
    if member is not None:
        bars = tuple(
            _placed(other, member)
            for place in member.bars
            if (other := book.entry(place.bar, Bar)).record.length is not None
        )
    outline = member.outline if member is not None else None
    return Site(
        bar,
        here,
        bars,
        _SHAPES[outline.shape] if outline is not None else "",
        outline.height.value if outline is not None else None,
        outline.width.value if outline is not None and outline.width else _high(outline),
        outline.flange_width.value if outline is not None and outline.flange_width else 0.0,
        outline.flange_depth.value if outline is not None and outline.flange_depth else 0.0,
        _held_at(member),
        tuple(point.distance.value for point in member.load_points) if member is not None else (),
        tuple(_stations(book, bars, bar)),
        _cells(here, system),
        unit_shown("distance", system).text,
        _datum(book, bar),
    )


def _held_at(member: Member | None) -> tuple[float, ...]:
    """Places of supports and clamps; a free end is none."""
    if member is None:
        return ()
    held = member.supports[:1] if member.held is Held.ONE_END else member.supports
    return tuple(one.value for one in held)


_SHAPES = {
    OutlineShape.RECTANGLE: "rectangle",
    OutlineShape.TEE: "tee",
    OutlineShape.CIRCLE: "circle",
}


def _high(outline: object) -> float:
    height = getattr(outline, "height", None)
    return float(height.value) if height is not None else 0.0


def _member_of(book: Book, bar: Entry[Bar]) -> Member | None:
    for entry in book.of(Member):
        if any(place.bar == bar.uid for place in entry.record.bars):
            return entry.record
    return None


def _placed(bar: Entry[Bar], member: Member | None) -> BarPlaced:
    record = bar.record
    length = record.length or 0.0
    diameter = record.diameter.value if record.diameter is not None else 0.012
    if member is None:
        return BarPlaced(record.label, 0.0, length, 0.0, 0.0, diameter)
    place = next(place for place in member.bars if place.bar == bar.uid)
    begins = place.begins.value
    return BarPlaced(
        record.label, begins, begins + length, place.depth.value, place.across.value, diameter
    )


def _stations(
    book: Book, bars: tuple[BarPlaced, ...], here: Entry[Bar]
) -> list[tuple[str, float, float, bool]]:
    known = {bar.label: bar for bar in bars}
    found = []
    for station in book.of(Station):
        bar = known.get(book.label(station.record.bar))
        if bar is not None:
            at = bar.first + station.record.distance_planned
            on_it = station.record.bar == here.uid
            found.append((station.record.label, at, bar.depth, on_it))
    return found


def _cells(bar: BarPlaced, system: System) -> tuple[Cell, ...]:
    length = in_shown(bar.last - bar.first, "distance", system)
    factor = unit_shown("distance", system).factor
    step = next((s for s in _STEPS[system] if length / s <= _CELLS), length / _CELLS)
    cells = []
    for n in range(math.floor(length / step) + 1):
        at = n * step
        first, last = max(0.0, at - step / 2), min(length, at + step / 2)
        distance = float(f"{at * factor:.12g}")
        cells.append(
            Cell(f"{at:g}", distance, bar.first + first * factor, bar.first + last * factor)
        )
    return tuple(cells)


def _datum(book: Book, bar: Entry[Bar]) -> str:
    """From where stations of this bar, else the last one entered, count."""
    mine = [s.record.datum for s in book.of(Station) if s.record.bar == bar.uid]
    return mine[-1] if mine else last_datum(book)


def free_label(book: Book, bar: str) -> str:
    """A label that no station has yet, for a person to change: L2-3 for the third one on L2."""
    taken = {station.record.label for station in book.of(Station)}
    number = 1
    while f"{bar}-{number}" in taken:
        number += 1
    return f"{bar}-{number}"
