"""Forms for lot cards of packs and for gauges, one by one or at every station at once."""

import math
from collections.abc import Sequence
from typing import Any

from gaugewright.errors import InputError
from gaugewright.present.typed import text_to_type
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge, GaugePack, LargeStrainLaw, ThermalOutput
from gaugewright.records.identity import Ref
from gaugewright.records.specimen import Station
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering.blanks import Blank, Kind, Reader
from gaugewright.services.entering.kinds import (
    Asking,
    EntryKind,
    ManyKind,
    label_blank,
    plain_build,
    plain_spread,
)
from gaugewright.store.campaign import CampaignStore

__all__ = ["GAUGE", "GAUGES", "PACK"]

_CARD, _GRID, _THERMAL = "The card", "The grid", "Thermal output"
_STATED_AT_DEGC = 23.0  # temperature of the room in which cards' numbers hold: common practice
_SAME_PLACE = 0.001  # two stations this near to each other along a bar are one section [m]
_OPPOSITE = 0.05  # and this near to half a turn apart they are opposite [rad]
_POWERS = 5  # c0 to c4: what the stages of thermal output take off; the record holds one more
_CARD_NUMBERS = (
    ("thermal_coefficients", "coefficients"),
    ("thermal_gauge_factor", "gauge_factor"),
    ("thermal_metal", "thermal_expansion"),
    ("thermal_low", "low_degc"),
    ("thermal_high", "high_degc"),
    ("thermal_doubt", "slope_uncertainty"),
)


_GRID_BLANKS = (
    Blank("grid_length", "Length", Kind.NUMBER, "distance", is_needed=True, group=_GRID),
    Blank(
        "grid_width",
        "Width",
        Kind.NUMBER,
        "distance",
        hint="Of the grid, not of its backing. Where the card doesn’t have it, by a rule or a "
        "magnifier to 0.2 mm: how much heat the gauge can give off follows from it.",
        is_needed=True,
        group=_GRID,
    ),
    Blank(
        "strain_limit",
        "Strain limit",
        Kind.NUMBER,
        "strain",
        hint="Such as 80 000, or 8 %",
        group=_GRID,
    ),
    Blank(
        "large_strain_law",
        "Above 1 % strain",
        Kind.CHOICE,
        hint="Reduction stops at 1 % until a law is declared.",
        choices=tuple((law.value, law.value) for law in LargeStrainLaw),
        of_enum=LargeStrainLaw,
        is_needed=True,
        group=_GRID,
        standing=LargeStrainLaw.NOT_DECLARED.value,
    ),
)
_ON_CARD = (
    Blank(
        "thermal_coefficients",
        "Coefficients, constant first",
        Kind.NUMBERS,
        "strain",
        hint="In µε for degrees Celsius, with semicolons: −18.2; 1.31; −0.0247; 6.5e-5",
        is_needed=True,
        group=_THERMAL,
    ),
    Blank(
        "thermal_gauge_factor",
        "At a set gauge factor of",
        Kind.NUMBER,
        is_needed=True,
        group=_THERMAL,
    ),
    Blank(
        "thermal_metal",
        "On metal that expands by",
        Kind.NUMBER,
        "thermal_expansion",
        is_needed=True,
        group=_THERMAL,
    ),
    Blank("thermal_low", "From", Kind.NUMBER, "temperature_degc", is_needed=True, group=_THERMAL),
    Blank("thermal_high", "To", Kind.NUMBER, "temperature_degc", is_needed=True, group=_THERMAL),
    Blank(
        "thermal_doubt",
        "Doubt per degree",
        Kind.STATED,
        "thermal_output_slope",
        hint="Such as 0 ± 0.6 (k=2), away from the zero",
        is_needed=True,
        group=_THERMAL,
    ),
)


_CURVE, _MATCH, _NOTHING = "yes", "match", "no"
_ON_TEMPERATURE = (
    (_MATCH, "only the metal it is matched to"),
    (_CURVE, "a curve of thermal output"),
    (_NOTHING, "nothing"),
)
_MATCHED = Blank(
    "matched_expansion",
    "Self-temperature-compensated for",
    Kind.NUMBER,
    "thermal_expansion",
    hint="11×10⁻⁶/K for one matched to ferritic steel. Packs are chosen by it; without a curve or "
    "a dummy thermal output counts as none on that metal, with a doubt that is assumed.",
    is_needed=True,
    group=_THERMAL,
)


def _pack_blanks(asking: Asking) -> Sequence[Blank]:
    blanks = [
        label_blank("What you call it, such as: 350 Ω, annealed"),
        Blank("lot", "Lot", hint="As printed on the card.", is_needed=True),
        _card("gauge_resistance", "Resistance", "Such as 350 ± 1.05 (limit)"),
        _card("gauge_factor", "Gauge factor", "Such as 2.08 ± 1 % (k=2)"),
        _card(
            "transverse_sensitivity",
            "Transverse sensitivity",
            "Such as 0.4 ± 0.2 (limit), in per cent",
        ),
        Blank(
            "gauge_factor_temperature_degc",
            "Stated at",
            Kind.NUMBER,
            "temperature_degc",
            is_needed=True,
            group=_CARD,
            standing=text_to_type(_STATED_AT_DEGC, "temperature_degc", asking.system),
        ),
        Blank("gauge_factor_slope", "Its slope", Kind.STATED, "gauge_factor_slope", group=_CARD),
        *_GRID_BLANKS,
        Blank("expires", "Expires", Kind.DAY),
        Blank(
            "has_thermal",
            "Of temperature the card gives",
            Kind.CHOICE,
            choices=_ON_TEMPERATURE,
            decides=True,
            is_needed=True,
            group=_THERMAL,
            standing=_MATCH,
        ),
    ]
    told = asking.text("has_thermal", _MATCH)
    if told == _CURVE:
        blanks += _ON_CARD
    elif told == _MATCH:
        blanks.append(_MATCHED)
    blanks.append(Blank("note", "Note", Kind.LONG, group="Else"))
    return blanks


def _card(name: str, label: str, hint: str) -> Blank:
    return Blank(name, label, Kind.STATED, name, hint=hint, is_needed=True, group=_CARD)


_PACK = plain_build(GaugePack)


def _pack(values: dict[str, Any], before: Any, reader: Reader) -> GaugePack:
    rest = dict(values)
    given = {field: rest.pop(name, None) for name, field in _CARD_NUMBERS}
    has_curve = rest.pop("has_thermal") == _CURVE
    if has_curve and len(given["coefficients"] or ()) > _POWERS:
        allowed = f"{_POWERS} at most: the chain goes to the fourth power of temperature"
        raise InputError("coefficients", f"{len(given['coefficients'])} numbers", allowed)
    rest["thermal_output"] = ThermalOutput(**given) if has_curve else None
    rest.setdefault("matched_expansion", None)
    made: GaugePack = _PACK(rest, before, reader)
    return made


def _pack_spread(record: GaugePack, book: Book) -> dict[str, Any]:
    card = record.thermal_output
    told = _NOTHING if record.matched_expansion is None else _MATCH
    values = plain_spread(record, book) | {"has_thermal": told if card is None else _CURVE}
    if card is not None:
        values |= {name: getattr(card, field) for name, field in _CARD_NUMBERS}
    return values


PACK = EntryKind(
    "pack",
    "a pack",
    "Packs of gauges",
    "What the card of a pack says, typed once and true for every gauge of it. A laboratory’s own "
    "packs come with a new campaign.",
    GaugePack,
    _pack_blanks,
    _pack,
    _pack_spread,
    places=(
        ("coefficients", "thermal_coefficients"),
        ("high_degc", "thermal_high"),
        ("thermal_expansion", "thermal_metal"),
    ),
    after="gauges",
)


def _gauge_blanks(asking: Asking) -> Sequence[Blank]:
    return (
        label_blank("Usually that of its station"),
        Blank("pack", "Pack", Kind.PICK, is_needed=True, of=GaugePack),
        Blank("station", "Station", Kind.PICK, is_needed=True, of=Station),
        Blank(
            "angle_to_axis",
            "Angle of its grid to the axis",
            Kind.NUMBER,
            "angle",
            hint="0 along the bar, 90 across; 45 and −45 for torsion.",
            is_needed=True,
            standing="0",
        ),
        Blank(
            "opposite",
            "Opposite gauge",
            Kind.PICK,
            hint="On the other side of the same bar: their mean is the bar’s, their difference "
            "its bending.",
            of=Gauge,
        ),
        Blank("group", "Rosette", hint="One name for all arms of a rosette; else empty."),
        Blank("number_in_pack", "Number in the pack", Kind.COUNT),
    )


GAUGE = EntryKind(
    "gauge",
    "a gauge",
    "Gauges",
    "One grid: its pack, its station, its direction, and what sits opposite.",
    Gauge,
    _gauge_blanks,
    plain_build(Gauge),
    after="circuits",
)


def _without_gauge(book: Book) -> list[Entry[Station]]:
    taken = {gauge.record.station for gauge in book.of(Gauge)}
    return [station for station in book.of(Station) if station.uid not in taken]


def _gauges_blanks(asking: Asking) -> Sequence[Blank]:
    free = "; ".join(entry.record.label for entry in _without_gauge(asking.book))
    return (
        Blank("pack", "Pack", Kind.PICK, is_needed=True, of=GaugePack),
        Blank(
            "stations",
            "At these stations",
            Kind.PICKS,
            hint="Those that have no gauge yet. Each gauge is called as its station; two on "
            "opposite sides of one section of a bar become a pair.",
            is_needed=True,
            of=Station,
            standing=free,
        ),
        Blank(
            "angle_to_axis",
            "Angle of their grids to the axis",
            Kind.NUMBER,
            "angle",
            is_needed=True,
            standing="0",
        ),
    )


def _gauges(store: CampaignStore, book: Book, values: dict[str, Any]) -> tuple[Ref, ...]:
    numbers = [
        g.record.number_in_pack or 0 for g in book.of(Gauge) if g.record.pack == values["pack"]
    ]
    number = max(numbers, default=0)
    made: list[Entry[Gauge]] = []
    for uid in values["stations"]:
        station = book.entry(uid, Station)
        number += 1
        gauge = Gauge(
            station.record.label,
            values["pack"],
            uid,
            values["angle_to_axis"],
            _partner(book, station.record, made),
            number_in_pack=number,
        )
        made.append(store.add(gauge, reason="one for each station"))
    if not made:
        raise InputError("stations", "none", "one station or more", "place stations first")
    return tuple(entry.ref for entry in made)


def _partner(book: Book, station: Station, made: Sequence[Entry[Gauge]]) -> Any:
    """Gauge on the other side of the bar at the same section, of those made here or before."""
    everyone = (*made, *book.of(Gauge))
    taken = {one.record.opposite for one in everyone}
    for gauge in everyone:
        other = book.entry(gauge.record.station, Station).record
        if other.bar != station.bar or gauge.uid in taken:
            continue
        turn = math.remainder(station.angle_planned - other.angle_planned - math.pi, math.tau)
        near = abs(station.distance_planned - other.distance_planned) <= _SAME_PLACE
        if near and abs(turn) <= _OPPOSITE:
            return gauge.uid
    return None


GAUGES = ManyKind(
    "gauges",
    "A gauge at each station",
    "For stations that get gauges of one pack.",
    "Place the gauges",
    "gauge",
    _gauges_blanks,
    _gauges,
    after="circuits",
)
