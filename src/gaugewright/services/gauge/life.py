"""One gauge's whole life as its page tells it: what it is, how it was bonded, wired and proved."""

from dataclasses import dataclass

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.present.captions import listed
from gaugewright.present.numbers import significant_text
from gaugewright.present.units_shown import quantity_shown
from gaugewright.records import Entry
from gaugewright.records.gauges import (
    BenchStep,
    Gauge,
    GaugePack,
    Protection,
    Supply,
)
from gaugewright.records.proof import Person
from gaugewright.records.specimen import SmoothedZone, Station
from gaugewright.services.bars.forces import net_area_of
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.showing.facts import Fact, stated_fact
from gaugewright.services.showing.page import Page

__all__ = ["BenchRow", "as_bonded", "bench_rows", "pack_facts", "place_sentence"]


@dataclass(frozen=True, slots=True)
class BenchRow:
    """A step of the bench as it was done."""

    step: str
    begun: str
    ended: str
    person: str
    supplies: str
    air: str
    note: str


def place_sentence(page: Page, gauge: Entry[Gauge]) -> str:
    """Where a gauge sits, as built where that was measured, else as planned."""
    station = page.book.station_of(gauge).record
    built, turned = station.distance_built, station.angle_built
    distance = _plain(page, "distance", station.distance_planned if built is None else built.value)
    angle = _plain(page, "angle", station.angle_planned if turned is None else turned.value)
    how = "as built" if built else "as planned"
    return f"{distance} from the {station.datum}, {how}, at {angle} round the bar."


def _plain(page: Page, quantity: str, value: float) -> str:
    return quantity_shown(quantity, value, None, page.system).text


def pack_facts(page: Page, gauge: Entry[Gauge]) -> tuple[Fact, ...]:
    """The card of the pack as it came."""
    pack = page.book.pack_of(gauge).record
    at = _plain(page, "temperature_degc", pack.gauge_factor_temperature_degc)
    length, width = (_plain(page, "distance", size) for size in (pack.grid_length, pack.grid_width))
    facts = [
        stated_fact(page, "Resistance", "gauge_resistance", pack.gauge_resistance),
        stated_fact(page, f"Gauge factor at {at}", "gauge_factor", pack.gauge_factor),
    ]
    if pack.gauge_factor_slope is not None:
        slope = pack.gauge_factor_slope
        facts.append(stated_fact(page, "Slope with temperature", "gauge_factor_slope", slope))
    across = pack.transverse_sensitivity
    facts.append(stated_fact(page, "Transverse sensitivity", "transverse_sensitivity", across))
    facts += _thermal(page, pack)
    facts.append(Fact("Grid", f"{length} long, {width} wide"))
    facts.append(Fact("Strain limit", _limit(page, pack)))
    if pack.expires is not None:
        facts.append(Fact("Best before", f"{pack.expires.day} {pack.expires:%B %Y}"))
    return tuple(facts)


def _thermal(page: Page, pack: GaugePack) -> list[Fact]:
    output, matched = pack.thermal_output, pack.matched_expansion
    if matched is not None:
        metal = quantity_shown("thermal_expansion", matched, None, page.system).text
        return [Fact("Thermal output", f"no curve; self-temperature-compensated for {metal}")]
    if output is None:
        return [Fact("Thermal output", "not on the card")]
    metal = quantity_shown("thermal_expansion", output.thermal_expansion, None, page.system).text
    low, high = (_plain(page, "temperature_degc", t) for t in (output.low_degc, output.high_degc))
    factor = significant_text(output.gauge_factor)
    words = f"a curve for metal of {metal}, gauge factor {factor}, from {low} to {high}"
    return [Fact("Thermal output", words)]


def _limit(page: Page, pack: GaugePack) -> str:
    if pack.strain_limit is None:
        return "not on the card"
    limit = _plain(page, "strain", pack.strain_limit)
    return f"{limit}; above 1 %: {pack.large_strain_law.value}"


def as_bonded(page: Page, gauge: Entry[Gauge]) -> tuple[Fact, ...]:
    """Station, flat and cover as they were measured; what wasn't is said to be as planned."""
    book = page.book
    station, bar = book.station_of(gauge).record, book.bar_of(gauge).record
    facts = [
        Fact("Station", f"{station.label}, bar {bar.label}" + (f", {bar.size}" if bar.size else ""))
    ]
    facts += _places(page, station)
    axis = _plain(page, "angle", gauge.record.angle_to_axis)
    facts.append(Fact("Grid to the bar's axis", axis))
    if gauge.record.opposite is not None:
        facts.append(Fact("Opposite", book.label(gauge.record.opposite)))
    for zone in book.of(SmoothedZone):
        if zone.record.station == gauge.record.station:
            facts.append(stated_fact(page, "Ribs taken off over", "distance", zone.record.length))
            left = zone.record.diameter_left
            facts.append(stated_fact(page, "Diameter left", "diameter", left))
    facts += _flat(page, gauge)
    for cover in book.of(Protection):
        if cover.record.gauge == gauge.uid:
            facts += _cover(page, cover.record)
    return tuple(facts)


def _places(page: Page, station: Station) -> list[Fact]:
    """Distance and angle, planned and built, in one line each."""
    rows = (
        ("Distance", "distance", station.distance_planned, station.distance_built),
        ("Angle round the bar", "angle", station.angle_planned, station.angle_built),
    )
    found = []
    for term, quantity, planned, built in rows:
        meant = _plain(page, quantity, planned)
        if built is None:
            found.append(Fact(term, f"{meant} planned; not measured as built"))
            continue
        fact = stated_fact(page, term, quantity, built)
        found.append(Fact(term, f"{fact.words}; planned {meant}", fact.source, fact.assumed))
    return found


def _flat(page: Page, gauge: Entry[Gauge]) -> list[Fact]:
    """Flat, whole area and what the flat leaves of it."""
    flat, bar = page.book.flat_of(gauge), page.book.bar_of(gauge).record
    facts = []
    if flat is not None:
        facts.append(stated_fact(page, "Flat, width", "flat_width", flat.record.width))
        if flat.record.depth is not None:
            facts.append(stated_fact(page, "Flat, depth", "flat_depth", flat.record.depth))
        if flat.record.opposite:
            facts.append(Fact("Flat, opposite", "a like one on the other side"))
    if bar.area is not None:
        facts.append(stated_fact(page, "Area of the bar", "area", bar.area))
        if flat is not None and bar.diameter is not None:
            facts.append(_area_left(page, net_area_of(page.desk, gauge)))
    return facts


def _area_left(page: Page, left: Uncertain) -> Fact:
    doubt = float(left.expanded(COVERAGE)) or None
    shown = quantity_shown("net_area", float(left.value), doubt, page.system)
    return Fact("Area at the gauge", shown.text, "area less what the flats cut off; ± covers 95 %")


def _cover(page: Page, cover: Protection) -> list[Fact]:
    wrap = "all round the bar" if cover.full_wrap else "over the gauge"
    return [
        Fact("Protection, from the metal out", f"{listed(cover.layers)}, {wrap}"),
        stated_fact(page, "Covered length", "covered_length", cover.covered_length),
    ]


def bench_rows(page: Page, gauge: Entry[Gauge]) -> tuple[BenchRow, ...]:
    """Steps at the bench in the order in which they were begun."""
    mine = [step for step in page.book.of(BenchStep) if step.record.gauge == gauge.uid]
    mine.sort(key=lambda step: step.record.begun)
    return tuple(_bench_row(page, step.record) for step in mine)


def _bench_row(page: Page, step: BenchStep) -> BenchRow:
    book = page.book
    supplies = [book.entry(uid, Supply).record for uid in step.supplies]
    air = []
    if step.temperature_degc is not None:
        air.append(_plain(page, "temperature_degc", step.temperature_degc))
    if step.humidity is not None:
        air.append(f"{significant_text(100 * step.humidity)} % relative humidity")
    notes = [f"parked: {step.parked}"] if step.parked else []
    notes += [f"not read: {', '.join(step.not_read)}"] if step.not_read else []
    notes += [step.note] if step.note else []
    return BenchRow(
        step.step,
        page.moment(step.begun),
        "" if step.ended is None else page.moment(step.ended),
        book.entry(step.person, Person).record.name,
        "; ".join(f"{s.what}, batch {s.batch}" for s in supplies),
        ", ".join(air),
        "; ".join(notes),
    )
