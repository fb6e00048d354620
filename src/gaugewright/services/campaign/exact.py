"""Which numbers of a plan count as exact because nobody said how well they are known?

A value typed without ± has no doubt that a budget could count: it comes out too small, and nothing
in it shows why. What is told here is for the person who can still say.
"""

from collections.abc import Iterator
from dataclasses import dataclass, fields, is_dataclass
from typing import Any

from gaugewright.records import Entry, label_of
from gaugewright.records.electrical import BridgeCircuit, Instrument, Lead
from gaugewright.records.gauges import GaugePack
from gaugewright.records.member import Concrete, Member
from gaugewright.records.sensors import Sensor, TemperaturePoint
from gaugewright.records.specimen import Bar, Material
from gaugewright.records.stated import Stated
from gaugewright.services.campaign.book import Book

__all__ = ["TakenAsExact", "exact_in", "exact_words", "taken_as_exact"]

# What budgets are made of, in the order in which a plan is entered.
_KINDS: tuple[type, ...] = (
    Material,
    Bar,
    Concrete,
    Member,
    GaugePack,
    Lead,
    BridgeCircuit,
    Instrument,
    Sensor,
    TemperaturePoint,
)
# Where an axis begins somebody decides: 0 there is no measurement.
_PLACES = ("begins", "across", "distance", "supports")
_SAID = {
    "begins": "place of its datum",
    "distance": "place of a load",
    "supports": "place of a support",
    "poisson_ratio": "Poisson’s ratio",
    "gain": "reading over truth",
    "offset": "what is added",
}
_SHOWN = 3


@dataclass(frozen=True, slots=True)
class TakenAsExact:
    """A record and those of its numbers, in words, that have no ±."""

    entry: Entry[Any]
    numbers: tuple[str, ...]


def taken_as_exact(book: Book) -> tuple[TakenAsExact, ...]:
    """Every record that budgets take from and that has a number without ±."""
    found = []
    for kind in _KINDS:
        entries: tuple[Entry[Any], ...] = book.of(kind)
        found += [TakenAsExact(entry, exact_in(entry.record)) for entry in entries]
    return tuple(one for one in found if one.numbers)


def exact_in(record: Any) -> tuple[str, ...]:
    """Numbers of one record that have no ±, in words, each once."""
    return tuple(dict.fromkeys(_named(record)))


def exact_words(found: tuple[TakenAsExact, ...]) -> str:
    """What counts as exact, in one sentence; "" where nothing does."""
    if not found:
        return ""
    told = [f"{label_of(one.entry.record)} ({', '.join(one.numbers)})" for one in found[:_SHOWN]]
    more = f" and {len(found) - _SHOWN} more" if len(found) > _SHOWN else ""
    return f"Taken as exact, since no ± was given: {'; '.join(told)}{more}."


def _named(record: Any) -> Iterator[str]:
    for each in fields(record):
        for value in _several(getattr(record, each.name)):
            if isinstance(value, Stated):
                is_zero_place = each.name in _PLACES and not value.value
                if value.plus_minus is None and not is_zero_place:
                    yield _SAID.get(each.name, each.name.replace("_degc", "").replace("_", " "))
            elif is_dataclass(value):
                yield from _named(value)


def _several(value: Any) -> tuple[Any, ...]:
    return value if isinstance(value, tuple) else (value,)
