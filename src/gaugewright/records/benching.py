"""Work at the bench: the steps of a method, what a step records, and limits that ran out."""

import enum
from dataclasses import dataclass

from gaugewright.errors import InputError
from gaugewright.records.identity import Ref, Uid
from gaugewright.records.stated import check_finite, check_label, check_positive, check_seconds

__all__ = [
    "BenchOverride",
    "BenchReading",
    "ClockKind",
    "CureRow",
    "MethodClock",
    "MethodField",
    "MethodStep",
    "RanOut",
    "StepKind",
    "SupplySheet",
]


class StepKind(enum.Enum):
    """What is done at the bench, in the order in which a gauge meets it."""

    SMOOTH = "smooth"
    CLEAN = "clean"
    LAY_OUT = "lay out"
    BOND = "bond"
    CURE = "cure"
    WIRE = "wire"
    PROTECT = "protect"
    ROUTE = "route"
    LABEL = "label"


class ClockKind(enum.Enum):
    """Whether a clock bounds a time from above, or asks for a time to pass."""

    AT_MOST = "at most"
    AT_LEAST = "at least"


@dataclass(frozen=True, slots=True)
class MethodField:
    """What a step records: ``quantity`` is one of the names in ``quantities``, "" for words.

    A number outside ``lowest`` to ``highest`` (SI) is odd: asked about where another unit or a
    shifted point would make it likely, else kept with a flag. ``each`` says whether every gauge of
    a batch has its own, ``wanted`` whether the step is done for it: left out, it is asked about.
    """

    name: str
    quantity: str = ""
    lowest: float | None = None
    highest: float | None = None
    note: str = ""
    each: bool = True
    wanted: bool = False

    def __post_init__(self) -> None:
        check_label("name", self.name)
        if ":" in self.name:
            raise InputError("name", self.name, "without a colon")
        for name in ("lowest", "highest"):
            value = getattr(self, name)
            if value is not None:
                check_finite(name, value)
        if self.lowest is not None and self.highest is not None and self.lowest >= self.highest:
            raise InputError("highest", self.highest, f"above lowest ({self.lowest})")


@dataclass(frozen=True, slots=True)
class MethodClock:
    """A time between an earlier step and this one, or the next layer.

    It runs from the end of the step ``since``, is held to ``limit``, the label of one of the
    campaign's limits, and ``redo`` names the step to do again when it ran out. ``sheet`` is
    "pot life", "pressing" or "next layer": the supply's own data sheet then goes before the limit.
    """

    name: str
    kind: ClockKind
    since: str
    limit: str = ""
    sheet: str = ""
    redo: str = ""

    def __post_init__(self) -> None:
        check_label("name", self.name)
        if self.sheet not in ("", "pot life", "pressing", "next layer"):
            raise InputError("sheet", self.sheet, "pot life, pressing, next layer, or empty")
        if not (self.limit or self.sheet):
            raise InputError("limit", "", "the label of a limit where no sheet gives the time")


@dataclass(frozen=True, slots=True)
class MethodStep:
    """One step of a method: what to do, what to record, limits, hazards, cautions, clocks.

    ``hands_on`` is what one gauge takes a person, ``waiting`` what it then waits [s]: for planning
    the days, None where nobody said.
    """

    name: str
    kind: StepKind
    text: str
    fields: tuple[MethodField, ...] = ()
    limits: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    supplies: tuple[str, ...] = ()
    clocks: tuple[MethodClock, ...] = ()
    hands_on: float | None = None
    waiting: float | None = None

    def __post_init__(self) -> None:
        check_label("name", self.name)
        for name in ("hands_on", "waiting"):
            value = getattr(self, name)
            if value is not None:
                check_seconds(name, value)
        if not self.text.strip():
            raise InputError("text", self.text, "what to do, in words")
        names = [field.name for field in self.fields]
        if len(set(names)) < len(names):
            raise InputError("fields", ", ".join(names), "each named once")


@dataclass(frozen=True, slots=True)
class CureRow:
    """A row of a data sheet: cured after so long [s] at a temperature."""

    temperature_degc: float
    time: float

    def __post_init__(self) -> None:
        check_finite("temperature_degc", self.temperature_degc)
        check_positive("time", self.time)


@dataclass(frozen=True, slots=True)
class SupplySheet:
    """Times that a supply's own data sheet gives [s], with which sheet it was.

    ``highest_degc`` is the temperature that the sheet allows at most.
    """

    source: str
    pot_life: float | None = None
    pressing: float | None = None
    next_layer: float | None = None
    cure: tuple[CureRow, ...] = ()
    highest_degc: float | None = None

    def __post_init__(self) -> None:
        if not self.source.strip():
            raise InputError("source", self.source, "which sheet it is, with its date")
        for name in ("pot_life", "pressing", "next_layer"):
            value = getattr(self, name)
            if value is not None:
                check_positive(name, value)
        warmths = [row.temperature_degc for row in self.cure]
        times = [row.time for row in self.cure]
        if len(set(warmths)) < len(warmths):
            raise InputError("cure", warmths, "one row for each temperature")
        if [t for _, t in sorted(zip(warmths, times, strict=True))] != sorted(times, reverse=True):
            raise InputError("cure", times, "a shorter time the warmer it is")


@dataclass(frozen=True, slots=True)
class BenchReading:
    """What was read at a step: number in SI, or words; the text as typed stays beside it."""

    what: str
    typed: str
    quantity: str = ""
    value: float | None = None

    def __post_init__(self) -> None:
        check_label("what", self.what)
        if self.value is not None:
            check_finite("value", self.value)


@dataclass(frozen=True, slots=True)
class RanOut:
    """A limit that a step didn't keep: which, in a sentence, and the step to do again."""

    what: str
    sentence: str
    redo: str
    limit: Ref | None = None

    def __post_init__(self) -> None:
        check_label("what", self.what)
        if not self.sentence.strip():
            raise InputError("sentence", self.sentence, "what ran out, in words")


@dataclass(frozen=True, slots=True)
class BenchOverride:
    """A named person's word that a step stands although a limit ran out, and why."""

    step: Uid
    what: str
    person: Uid
    reason: str

    def __post_init__(self) -> None:
        check_label("what", self.what)
        if not self.reason.strip():
            raise InputError("reason", self.reason, "why the step stands all the same")
