"""Form for what the days at the bench are planned with."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from gaugewright.errors import InputError
from gaugewright.records.gauges import Supply
from gaugewright.records.proof import Person
from gaugewright.records.scheduling import (
    DAYS,
    BenchDays,
    BenchFixture,
    StepTime,
    WorkingHours,
)
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering.blanks import Blank, Kind, Reader
from gaugewright.services.entering.kinds import Asking, EntryKind, label_blank

__all__ = ["DAY_BLANKS", "SCHEDULE"]

_WEEK = tuple((day, day) for day in DAYS)
_HOURS = (
    Blank("first_day", "From", Kind.CHOICE, choices=(("", ""), *_WEEK), is_needed=True),
    Blank("last_day", "To", Kind.CHOICE, choices=(("", ""), *_WEEK), is_needed=True),
    Blank("begins", "Begins", is_needed=True),
    Blank("ends", "Ends", is_needed=True),
)
_FIXTURES = (
    Blank("label", "What", is_needed=True),
    Blank("count", "How many", Kind.COUNT, is_needed=True),
    Blank("steps", "For the steps", Kind.LIST, is_needed=True),
    Blank("is_held", "Stays on while it waits", Kind.CHOICE, choices=(("", "no"), ("yes", "yes"))),
    Blank("temperature_degc", "Cures at", Kind.NUMBER, "temperature_degc"),
)
_TIMES = (
    Blank("step", "Step", is_needed=True),
    Blank("hands_on", "Hands on", Kind.NUMBER, "time", unit="min"),
    Blank("waiting", "Then waits", Kind.NUMBER, "time", unit="h"),
    Blank("source", "By what"),
)
DAY_BLANKS = (
    label_blank("Such as: bench days"),
    Blank("pour_day", "Ready for the pour, or the first loading, on", Kind.DAY, is_needed=True),
    Blank(
        "pour_time",
        "At",
        hint="In time of the hall, such as 07:30.",
        is_needed=True,
        standing="07:30",
    ),
    Blank(
        "reserve",
        "Kept free before it",
        Kind.NUMBER,
        "time",
        hint="What goes wrong eats from this first.",
        unit="h",
        standing="24",
    ),
    Blank("begins_day", "Work can’t begin before", Kind.DAY, hint="Empty: it can at once."),
    Blank(
        "hours",
        "Working hours",
        Kind.ROWS,
        hint="In time of the hall; a break is a row that ends and another that begins. Hands-on "
        "work never runs over the end of a row, waiting does.",
        is_needed=True,
        columns=_HOURS,
        group="Who and when",
    ),
    Blank(
        "days_off",
        "Days off",
        Kind.LIST,
        hint="Days such as 2026-10-03 with semicolons between.",
        group="Who and when",
    ),
    Blank(
        "people",
        "People at the bench",
        Kind.PICKS,
        hint="Each works on one gauge at a time.",
        is_needed=True,
        of=Person,
        group="Who and when",
    ),
    Blank(
        "temperature_degc",
        "Coldest the hall will be",
        Kind.NUMBER,
        "temperature_degc",
        hint="Nights included: cures are planned by the row of the sheet that this reaches.",
        is_needed=True,
        group="With what",
    ),
    Blank(
        "supplies",
        "Supplies whose sheets are planned by",
        Kind.PICKS,
        hint="Adhesive and coating with their tables of cure, times and pot lives.",
        of=Supply,
        group="With what",
    ),
    Blank(
        "fixtures",
        "Fixtures",
        Kind.ROWS,
        hint="What there are only so many of: clamps for “bond” that stay on while it cures, "
        "soldering stations for “wire”, a heated box for “cure” with its temperature.",
        columns=_FIXTURES,
        group="With what",
    ),
    Blank(
        "times",
        "Times of your own",
        Kind.ROWS,
        hint="Where a step takes longer or shorter here than its method says. "
        "A waiting time typed for a cure goes before the sheet’s.",
        columns=_TIMES,
        group="How long",
    ),
    Blank("note", "Note", Kind.LONG),
)


def _blanks(asking: Asking) -> Sequence[Blank]:
    return DAY_BLANKS


def _days(values: dict[str, Any], before: Any, reader: Reader) -> BenchDays:
    made = dict(values)
    made["hours"] = tuple(WorkingHours(**row) for row in values["hours"])
    made["fixtures"] = tuple(
        BenchFixture(**(row | {"is_held": row["is_held"] == "yes"})) for row in values["fixtures"]
    )
    made["times"] = tuple(StepTime(**row) for row in values["times"])
    made["days_off"] = tuple(_day(text) for text in values["days_off"])
    made["reserve"] = values["reserve"] or 0.0
    return BenchDays(**made)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise InputError("days_off", text, "days such as 2026-10-14") from error


def _spread(record: BenchDays, book: Book) -> dict[str, Any]:
    found: dict[str, Any] = {name: getattr(record, name) for name in record.__dataclass_fields__}
    for name in ("hours", "fixtures", "times"):
        found[name] = tuple(
            {field: getattr(row, field) for field in row.__dataclass_fields__}
            for row in found[name]
        )
    for row in found["fixtures"]:
        row["is_held"] = "yes" if row["is_held"] else ""
    found["days_off"] = tuple(day.isoformat() for day in record.days_off)
    return found


SCHEDULE = EntryKind(
    "schedule",
    "the days of bonding",
    "Days at the bench",
    "When all gauges must be ready, who works when, and with what: the days are planned backward "
    "from there.",
    BenchDays,
    _blanks,
    _days,
    _spread,
)
