"""A step at the bench written down, for one gauge or a batch, and what its air and supplies say."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from zoneinfo import ZoneInfo

from gaugewright.calc.dew_point import dew_point
from gaugewright.errors import InputError
from gaugewright.present.numbers import fixed_text
from gaugewright.present.typed import number_typed, quantity_typed
from gaugewright.records import Entry
from gaugewright.records.gauges import BenchStep, Gauge, Supply
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Person
from gaugewright.services import campaigns
from gaugewright.services.book import Book
from gaugewright.services.events import instant_typed
from gaugewright.store.campaign import CampaignStore

__all__ = ["FIELDS", "noted", "step_words"]

# What may be typed of a step; gauges and supplies are labels with semicolons between.
FIELDS = (
    "gauges",
    "step",
    "person",
    "begun",
    "ended",
    "supplies",
    "temperature",
    "humidity",
    "parked",
    "note",
)


def noted(store: CampaignStore, typed: Mapping[str, str]) -> tuple[Entry[BenchStep], ...]:
    """Write down a step as typed, once for each gauge: all of them are kept, or none.

    Raises
    ------
    InputError
        If something typed can't be, or names what the campaign doesn't have.
    """
    book, now = Book.read(store), store.context.now()
    zone, system = ZoneInfo(store.campaign.record.zone), campaigns.system_of(store)
    gauges = [book.labelled(Gauge, label).uid for label in _labels(typed, "gauges")]
    if not gauges:
        raise InputError("gauges", "", "one gauge or more, with semicolons between")
    begun = _moment(typed, "begun", zone, now) or now
    humidity = typed.get("humidity", "").strip().removesuffix("%").strip()
    air = typed.get("temperature", "").strip()
    made = BenchStep(
        gauges[0],
        typed.get("step", "").strip(),
        begun,
        _moment(typed, "ended", zone, now),
        _person(book, store, typed.get("person", "").strip()),
        tuple(book.labelled(Supply, label).uid for label in _labels(typed, "supplies")),
        quantity_typed("temperature", air, "temperature_degc", system) if air else None,
        number_typed("humidity", humidity) / 100 if humidity else None,
        typed.get("parked", "").strip(),
        typed.get("note", "").strip(),
    )
    if made.humidity is not None and not 0 < made.humidity <= 1:
        raise InputError("humidity", typed["humidity"], "above 0 and up to 100 %")
    with store.several():
        return tuple(_kept(store, book, made, uid) for uid in gauges)


def _kept(store: CampaignStore, book: Book, made: BenchStep, gauge: Uid) -> Entry[BenchStep]:
    reason = f"{made.step} of {book.label(gauge)}"
    return store.add(replace(made, gauge=gauge), reason=reason)


def _labels(typed: Mapping[str, str], name: str) -> list[str]:
    return [one.strip() for one in typed.get(name, "").split(";") if one.strip()]


def _moment(typed: Mapping[str, str], name: str, zone: ZoneInfo, now: datetime) -> datetime | None:
    text = typed.get(name, "").strip()
    return instant_typed(text, zone, now) if text else None


def _person(book: Book, store: CampaignStore, label: str) -> Uid:
    if label:
        return book.labelled(Person, label).uid
    if store.context.person is None:
        raise InputError("person", "", "the label of whoever did it")
    return store.context.person


def step_words(book: Book, steps: tuple[Entry[BenchStep], ...]) -> tuple[str, ...]:
    """What a step's air and supplies say, held to the campaign's limits; cautions name theirs."""
    step = steps[0].record
    told = [f"{step.step}: written down for {len(steps)} gauge{'s' if len(steps) != 1 else ''}."]
    if step.parked:
        told.append(f"Put aside: {step.parked}.")
    for uid in step.supplies:
        supply = book.entry(uid, Supply).record
        if supply.expires is not None and step.begun.date() > supply.expires:
            told.append(f"{supply.what}, batch {supply.batch}, was past its date {supply.expires}.")
    if step.temperature_degc is not None and step.humidity is not None:
        told.append(_dew(book, step.temperature_degc, step.humidity))
    return tuple(told)


def _dew(book: Book, temperature_degc: float, humidity: float) -> str:
    """How far the dew point is below, for metal as warm as the air: colder metal has less."""
    dew = float(dew_point(temperature_degc, humidity))
    limit = book.limit("above dew point").record
    margin = temperature_degc - dew
    words = f"Dew point {fixed_text(dew, 1)} °C, {fixed_text(margin, 1)} K below the air"
    if margin >= limit.value:
        return f"{words}; metal must be warmer than {fixed_text(dew + limit.value, 1)} °C."
    unsure = ", unverified" if limit.unverified else ""
    return (
        f"{words}: less than the {fixed_text(limit.value, 1)} K wanted ({limit.source}{unsure}). "
        "Warm the metal or wait; the product's data sheet comes first."
    )
