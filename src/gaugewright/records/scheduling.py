"""The days at the bench: what they are planned with, and the plan that people work by."""

import re
from dataclasses import dataclass
from datetime import date, datetime

from gaugewright.errors import InputError
from gaugewright.records.identity import Ref, Uid
from gaugewright.records.stated import check_finite, check_label, check_seconds

__all__ = [
    "DAYS",
    "BenchDays",
    "BenchFixture",
    "BenchPiece",
    "BenchPlan",
    "StepTime",
    "WorkingHours",
    "check_time",
]

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_TIME = re.compile(r"([01]\d|2[0-3]):[0-5]\d")


def check_time(name: str, text: str) -> None:
    """Refuse what isn't a time of day such as 07:30.

    Raises
    ------
    InputError
        Naming the field.
    """
    if not _TIME.fullmatch(text):
        raise InputError(name, text, "a time of day such as 07:30")


@dataclass(frozen=True, slots=True)
class WorkingHours:
    """Hours of some days of the week, in time of the hall, such as Mon to Fri 08:00 to 12:00."""

    first_day: str
    last_day: str
    begins: str
    ends: str

    def __post_init__(self) -> None:
        for name in ("first_day", "last_day"):
            if getattr(self, name) not in DAYS:
                raise InputError(name, getattr(self, name), "one of " + ", ".join(DAYS))
        for name in ("begins", "ends"):
            check_time(name, getattr(self, name))
        if self.begins >= self.ends:
            raise InputError("ends", self.ends, f"later than it begins ({self.begins})")
        if DAYS.index(self.first_day) > DAYS.index(self.last_day):
            raise InputError("last_day", self.last_day, f"{self.first_day} or later in the week")

    def has(self, weekday: int) -> bool:
        """Whether they are of a day of the week, Monday being 0."""
        return DAYS.index(self.first_day) <= weekday <= DAYS.index(self.last_day)


@dataclass(frozen=True, slots=True)
class BenchFixture:
    """Something that steps need and of which there are only so many: clamps, soldering stations.

    ``is_held`` says whether it stays on while the step waits; ``temperature_degc`` how warm a
    cure is in it, None for that of the hall.
    """

    label: str
    count: int
    steps: tuple[str, ...]
    is_held: bool = False
    temperature_degc: float | None = None

    def __post_init__(self) -> None:
        check_label("label", self.label)
        if self.count < 1:
            raise InputError("count", self.count, "1 or more")
        if not self.steps:
            raise InputError("steps", "", "the names of the steps that need it")
        if self.temperature_degc is not None:
            check_finite("temperature_degc", self.temperature_degc)


@dataclass(frozen=True, slots=True)
class StepTime:
    """How long a step takes hands, and waits then, in this campaign [s]; with who says so."""

    step: str
    hands_on: float | None = None
    waiting: float | None = None
    source: str = ""

    def __post_init__(self) -> None:
        check_label("step", self.step)
        for name in ("hands_on", "waiting"):
            value = getattr(self, name)
            if value is not None:
                check_seconds(name, value)


@dataclass(frozen=True, slots=True)
class BenchDays:
    """What the days are planned with: when all must be ready, hours, people, fixtures, warmth.

    ``pour_day`` and ``pour_time`` are of the hall's clock: the pour, or whatever else all gauges
    must be ready for. ``reserve`` is kept free before it [s]. ``temperature_degc`` is the coldest
    that the hall is expected to be while something cures.
    """

    label: str
    pour_day: date
    pour_time: str
    hours: tuple[WorkingHours, ...]
    people: tuple[Uid, ...]
    temperature_degc: float
    reserve: float = 0.0
    days_off: tuple[date, ...] = ()
    fixtures: tuple[BenchFixture, ...] = ()
    supplies: tuple[Uid, ...] = ()
    times: tuple[StepTime, ...] = ()
    begins_day: date | None = None
    note: str = ""

    def __post_init__(self) -> None:
        check_label("label", self.label)
        check_time("pour_time", self.pour_time)
        check_finite("temperature_degc", self.temperature_degc)
        if not self.hours:
            raise InputError("hours", "", "working hours of one day or more")
        if not self.people:
            raise InputError("people", "", "one person or more")
        check_seconds("reserve", self.reserve)


@dataclass(frozen=True, slots=True)
class BenchPiece:
    """One piece of work in a plan: a step of a gauge, with the waiting that follows it."""

    gauge: Uid
    steps: tuple[str, ...]
    begins: datetime
    ends: datetime
    waits_until: datetime | None = None
    person: Uid | None = None

    def __post_init__(self) -> None:
        if not self.steps:
            raise InputError("steps", "", "one or more")
        if self.ends < self.begins:
            raise InputError("ends", self.ends, "not before it begins")


@dataclass(frozen=True, slots=True)
class BenchPlan:
    """The plan that people work by, with what it was made from and how good it is known to be.

    ``made_by`` is "list" or "CP-SAT"; ``outcome`` says gap, bound and proof in words.
    """

    label: str
    days: Ref
    pieces: tuple[BenchPiece, ...]
    made_by: str
    outcome: str = ""

    def __post_init__(self) -> None:
        check_label("label", self.label)
        if self.made_by not in ("list", "CP-SAT"):
            raise InputError("made_by", self.made_by, "list or CP-SAT")
