"""Forms for stations, one by one or in a table, and for what was ground at them."""

from collections.abc import Sequence
from typing import Any

from gaugewright.records import Entry
from gaugewright.records.identity import Ref
from gaugewright.records.specimen import Bar, Flat, SmoothedZone, Station
from gaugewright.records.stated import Basis
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering.blanks import Blank, Kind
from gaugewright.services.entering.kinds import (
    Asking,
    EntryKind,
    ManyKind,
    label_blank,
    plain_build,
)
from gaugewright.store.campaign import CampaignStore

__all__ = ["FLAT", "SMOOTHED", "STATION", "STATIONS"]

_CLOCK = (
    "Clock angle seen along the way in which distances grow: 0 top, 90 right, 180 under. On a flat "
    "piece 0 is one face and 180 the other."
)


_BUILT = (
    Blank(
        "distance_built",
        "Distance",
        Kind.STATED,
        "distance",
        hint="Such as 2070 ± 2 mm (limit)",
        group="As built, once it is measured",
        basis=Basis.MEASURED,
    ),
    Blank(
        "angle_built",
        "Place round the bar",
        Kind.STATED,
        "angle",
        hint="Such as 180 ± 5 (limit)",
        group="As built, once it is measured",
        basis=Basis.MEASURED,
    ),
)


def _station_blanks(asking: Asking) -> Sequence[Blank]:
    return (
        label_blank("Such as: L2-M-T"),
        Blank("bar", "Bar", Kind.PICK, is_needed=True, of=Bar),
        Blank(
            "datum",
            "Distance counts from",
            hint="A hard edge, in words: west end of the bar.",
            is_needed=True,
            standing=last_datum(asking.book),
        ),
        Blank(
            "distance_planned",
            "Distance",
            Kind.NUMBER,
            "distance",
            is_needed=True,
            group="As planned",
        ),
        Blank(
            "angle_planned",
            "Place round the bar",
            Kind.NUMBER,
            "angle",
            hint=_CLOCK,
            is_needed=True,
            group="As planned",
            standing="0",
        ),
        *_BUILT,
    )


def last_datum(book: Book) -> str:
    """Words from which the station entered last counts; "" where there is none."""
    stations = book.of(Station)
    return stations[-1].record.datum if stations else ""


STATION = EntryKind(
    "station",
    "a station",
    "Stations",
    "A place for a gauge: which bar, how far from a hard datum, and where round the bar. Planned "
    "and as built stand side by side.",
    Station,
    _station_blanks,
    plain_build(Station),
    after="gauges",
)

_ROW = (
    Blank("label", "Station", is_needed=True),
    Blank("bar", "Bar", Kind.PICK, is_needed=True, of=Bar),
    Blank("distance", "Distance", Kind.NUMBER, "distance", is_needed=True),
    Blank("angle", "Clock angle", Kind.NUMBER, "angle", is_needed=True),
)


def _stations_blanks(asking: Asking) -> Sequence[Blank]:
    return (
        Blank(
            "datum",
            "Distances count from",
            hint="The same for every row: west end of the bar.",
            is_needed=True,
            standing=last_datum(asking.book),
        ),
        Blank("rows", "Stations", Kind.ROWS, hint=_CLOCK, is_needed=True, columns=_ROW),
    )


def _stations(store: CampaignStore, book: Book, values: dict[str, Any]) -> tuple[Ref, ...]:
    return tuple(
        store.add(
            Station(row["label"], row["bar"], values["datum"], row["distance"], row["angle"]),
            reason="planned, in a table",
        ).ref
        for row in values["rows"]
    )


STATIONS = ManyKind(
    "stations",
    "Stations in a table",
    "One row for each place.",
    "Keep the stations",
    "station",
    _stations_blanks,
    _stations,
    after="gauges",
)


def _by_station(book: Book, entry: Entry[Any]) -> str:
    return book.label(entry.record.station)


def _flat_blanks(asking: Asking) -> Sequence[Blank]:
    return (
        Blank("station", "Station", Kind.PICK, is_needed=True, of=Station),
        Blank(
            "width",
            "Width of the flat",
            Kind.STATED,
            "flat_width",
            hint="By calliper, such as 4.8 ± 0.3 mm (limit); before it is ground, as planned.",
            is_needed=True,
            basis=Basis.MEASURED,
        ),
        Blank("depth", "Depth", Kind.STATED, "flat_depth", basis=Basis.MEASURED),
        Blank("opposite", "A like flat on the other side", Kind.YES, standing="no"),
    )


FLAT = EntryKind(
    "flat",
    "a flat",
    "Flats",
    "A flat takes metal away, and strain on it is higher than in the bar: its width decides how "
    "much.",
    Flat,
    _flat_blanks,
    plain_build(Flat),
    named=_by_station,
)


def _smoothed_blanks(asking: Asking) -> Sequence[Blank]:
    return (
        Blank("station", "Station", Kind.PICK, is_needed=True, of=Station),
        Blank(
            "length",
            "Length without ribs",
            Kind.STATED,
            "distance",
            is_needed=True,
            basis=Basis.MEASURED,
        ),
        Blank(
            "diameter_left",
            "Diameter left",
            Kind.STATED,
            "diameter",
            is_needed=True,
            basis=Basis.MEASURED,
        ),
        Blank("note", "Note", Kind.LONG),
    )


SMOOTHED = EntryKind(
    "smoothed",
    "a smoothed zone",
    "Smoothed zones",
    "Where ribs were taken off: bond is lost there, and a little metal.",
    SmoothedZone,
    _smoothed_blanks,
    plain_build(SmoothedZone),
    named=_by_station,
)
