"""Tables of a bar at a moment, as its page prints them."""

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.present.units_shown import quantity_shown, unit_shown
from gaugewright.services.along_bars.profiles import Along, BarProfile
from gaugewright.services.along_bars.slip import LawPoint, PredictedAt
from gaugewright.services.along_bars.words import number_shown, station_note
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.showing.page import Page
from gaugewright.web.gauge_tables import Cell, NumberTable, Row

__all__ = ["tables"]


def tables(
    page: Page,
    profile: BarProfile,
    predicted: tuple[PredictedAt, ...],
    slip: Along | None,
    beside: tuple[LawPoint, ...],
) -> tuple[NumberTable, ...]:
    """Stations, bond stress between them, slip at them, and the local law."""
    found = [_stations(page, profile, predicted), _bond(page, profile)]
    if slip is not None:
        found.append(_slip(page, profile, slip))
    if beside:
        found.append(_law(page, beside))
    return tuple(found)


def _stations(page: Page, profile: BarProfile, predicted: tuple[PredictedAt, ...]) -> NumberTable:
    rows = tuple(
        Row(
            station.label,
            "",
            (
                Cell(station.state.value),
                _cell(page, "distance", station.distance),
                _cell(page, "strain", station.strain),
                _cell(page, "strain", one.cracked),
                _cell(page, "strain", one.uncracked),
                _cell(page, "stress", station.stress),
                _cell(page, "force", station.force),
            ),
            station_note(station),
        )
        for station, one in zip(profile.stations, predicted, strict=True)
    )
    strain = unit_shown("strain", page.system).text
    heads = (
        ("state", "", False),
        ("x", unit_shown("distance", page.system).text, True),
        ("strain", strain, True),
        ("predicted, cracked", strain, True),
        ("predicted, uncracked", strain, True),
        ("stress", unit_shown("stress", page.system).text, True),
        ("force", unit_shown("force", page.system).text, True),
    )
    about = (
        "Opposite gauges are averaged; a gauge alone carries the bending of its like as doubt. "
        "Predicted from the member, before anybody looked."
    )
    return NumberTable("stations", "Stations", "Station", heads, rows, "No station.", about)


def _bond(page: Page, profile: BarProfile) -> NumberTable:
    rows = tuple(
        Row(
            " to ".join(step.between),
            "",
            (
                _cell(page, "bond_stress", step.stress),
                Cell(number=quantity_shown("distance", step.last - step.first, None, page.system)),
                Cell(", ".join(step.over)),
            ),
        )
        for step in profile.steps
    )
    heads = (
        ("mean bond stress", unit_shown("bond_stress", page.system).text, True),
        ("over", unit_shown("distance", page.system).text, True),
        ("lost between", "", False),
    )
    about = "Change of force over perimeter and length; positive where force grows with x."
    empty = "Fewer than two stations have a force."
    return NumberTable("bond", "Bond stress", "Between", heads, rows, empty, about)


def _slip(page: Page, profile: BarProfile, slip: Along) -> NumberTable:
    rows = []
    for station in profile.stations:
        if station.total is None:
            continue
        place = float(station.distance.value)
        at = int(abs(slip.places - place).argmin())
        rows.append(
            Row(
                station.label,
                "",
                (
                    Cell(
                        number=quantity_shown("distance", float(slip.places[at]), None, page.system)
                    ),
                    _cell(page, "slip", slip.value[at]),
                    _cell(page, "strain", station.total),
                ),
            )
        )
    heads = (
        ("at", unit_shown("distance", page.system).text, True),
        ("slip", unit_shown("slip", page.system).text, True),
        ("total strain", unit_shown("strain", page.system).text, True),
    )
    about = "At the drawn place nearest to each station; total strain holds thermal expansion."
    return NumberTable("slip", "Slip", "Near", heads, tuple(rows), "No total strain.", about)


def _law(page: Page, beside: tuple[LawPoint, ...]) -> NumberTable:
    rows = []
    for one in beside:
        low, high = (
            quantity_shown("bond_stress", value, None, page.system)
            for value in (one.law_low, one.law_high)
        )
        rows.append(
            Row(
                quantity_shown("distance", one.place, None, page.system).text,
                "",
                (
                    Cell(
                        number=quantity_shown(
                            "slip", one.slip, one.slip_plus_minus or None, page.system
                        )
                    ),
                    Cell(
                        number=quantity_shown(
                            "bond_stress", one.measured, one.measured_plus_minus, page.system
                        )
                    ),
                    Cell(number=quantity_shown("bond_stress", one.law, None, page.system)),
                    Cell(f"{low.value} to {high.value}"),
                ),
            )
        )
    bond = unit_shown("bond_stress", page.system).text
    heads = (
        ("slip", unit_shown("slip", page.system).text, True),
        ("measured", bond, True),
        ("law", bond, True),
        (f"law over the doubt of slip, {bond}", "", False),
    )
    about = "fib Model Code 2010, table 6.1-1; exponent and rest from memory."
    return NumberTable("law", "Local law", "At x", heads, tuple(rows), "", about)


def _cell(page: Page, quantity: str, value: Uncertain | None) -> Cell:
    if value is None or not value.expanded(COVERAGE).item() < float("inf"):
        return Cell()
    return Cell(number=number_shown(page, quantity, value))
