"""Proof that a gauge works and what its zeros are worth: meters, gates, zeros, signatures."""

import enum
from dataclasses import dataclass
from datetime import date, datetime

from gaugewright.errors import InputError
from gaugewright.records.benching import MethodStep
from gaugewright.records.identity import Ref, Uid
from gaugewright.records.stated import Stated, check_finite, check_label

__all__ = [
    "Calibration",
    "Censor",
    "Gate",
    "GateCheck",
    "GateReading",
    "Limit",
    "LoadedSeries",
    "Meter",
    "Method",
    "Person",
    "Signature",
    "Verdict",
    "Zero",
    "ZeroKind",
]


class Gate(enum.Enum):
    """The gates a gauge passes, in order of time."""

    BONDED = "bonded"
    WIRED = "wired"
    PROTECTED = "protected"
    CALIBRATED = "calibrated"
    CAGED = "caged"
    BEFORE_POUR = "before pour"
    AFTER_POUR = "after pour"
    BEFORE_TEST = "before test"


class Verdict(enum.Enum):
    """What a gate check decides; a meter that can't tell says so."""

    PASS = "pass"
    FAIL = "fail"
    CANNOT_TELL = "this meter cannot tell"


class Censor(enum.Enum):
    """A reading that is a bound, not a value: honest answers, never errors."""

    EXACT = "exact"
    ABOVE = "above"
    BELOW = "below"
    OPEN = "open"


class ZeroKind(enum.Enum):
    """Which state of the specimen a zero was taken in."""

    BARE_BAR = "bare bar"
    BEFORE_POUR = "before pour"
    BEFORE_TEST = "before test"
    AFTER_SEATING = "after seating"


@dataclass(frozen=True, slots=True)
class Meter:
    """A hand meter: what it measures, its limits of error and certificate.

    Error limit = ``error_share`` of reading + ``error_fixed``, in the unit of ``unit``.
    """

    label: str
    unit: str
    error_share: float
    error_fixed: float
    highest: float | None = None
    test_voltage: float | None = None
    certificate: str = ""

    def __post_init__(self) -> None:
        check_label("label", self.label)
        if self.error_share < 0 or self.error_fixed < 0:
            raise InputError("meter error", (self.error_share, self.error_fixed), "0 or more")


@dataclass(frozen=True, slots=True)
class GateReading:
    """One reading at a gate: which, its value (SI) or its bound, the resolution as typed."""

    what: str
    value: float | None
    censor: Censor
    meter: Uid
    typed: str
    temperature_degc: float | None
    measured: datetime
    entered: datetime

    def __post_init__(self) -> None:
        check_label("what", self.what)
        if self.censor is Censor.OPEN:
            if self.value is not None:
                raise InputError("value", self.value, "left out when the reading is open")
        elif self.value is None:
            raise InputError("value", None, "given unless the reading is open")
        else:
            check_finite("value", self.value)


@dataclass(frozen=True, slots=True)
class GateCheck:
    """Everything read of one gauge at one gate, the verdict, and the limits it was held to.

    ``flags`` are sentences about what passed but is odd enough to be looked at again.
    """

    gauge: Uid
    gate: Gate
    readings: tuple[GateReading, ...]
    verdict: Verdict
    reason: str
    limits: tuple[Ref, ...]
    person: Uid
    second_person: Uid | None = None
    flags: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.readings:
            raise InputError("readings", self.readings, "one reading or more")
        if not self.reason.strip():
            raise InputError("reason", self.reason, "a sentence that says why")


@dataclass(frozen=True, slots=True)
class Zero:
    """A zero of one connection: bridge ratio (V/V) at a temperature, and what carries it over.

    ``transfer`` is the extra doubt, in bridge ratio, for using this zero on readings of a later
    connection of the same circuit; ``carried_to`` lists those connections.
    """

    kind: ZeroKind
    connection: Uid
    bridge_ratio: Stated
    temperature: Stated
    measured: datetime
    recording: Uid | None = None
    first_row: int | None = None
    last_row: int | None = None
    carried_to: tuple[Uid, ...] = ()
    transfer: Stated | None = None

    def __post_init__(self) -> None:
        if self.carried_to and self.transfer is None:
            raise InputError("transfer", None, "given when the zero is carried to a new connection")


@dataclass(frozen=True, slots=True)
class LoadedSeries:
    """One run up to the largest load and back: force [N] and what the channel wrote beside it."""

    force: tuple[float, ...]
    reading: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.force) != len(self.reading):
            counts = f"{len(self.force)} and {len(self.reading)}"
            raise InputError("forces and readings of a series", counts, "as many of one as of both")
        for name, values in (("force", self.force), ("reading", self.reading)):
            for value in values:
                check_finite(name, value)


@dataclass(frozen=True, slots=True)
class Calibration:
    """A response found by a traceable stimulus: output = ``slope`` x input + ``offset`` (SI).

    For a gauged bar or bridge ``of`` is its circuit, input the relative change of the arm since
    the zero and output the force [N]. Then the ``series`` stand beside the numbers found from
    them, in SI as the channel of ``connection`` wrote them, with the power of the curve
    (``degree``), the relative error of the ``reference`` load (about 0) and the temperature.
    It holds for the connection it was made on and for those it was carried over to, with the
    reason. Calibrations of one bar with the same instant were read side by side. ``left_out``
    counts rows without a number.
    """

    of: Uid
    input_quantity: str
    output_quantity: str
    slope: Stated
    offset: Stated
    measured: datetime
    certificate: str = ""
    lowest: float | None = None
    highest: float | None = None
    series: tuple[LoadedSeries, ...] = ()
    degree: int = 1
    reference: Stated | None = None
    temperature: Stated | None = None
    connection: Uid | None = None
    carried_to: tuple[Uid, ...] = ()
    carried_why: str = ""
    valid_until: date | None = None
    left_out: int = 0
    note: str = ""

    def __post_init__(self) -> None:
        if self.carried_to and not self.carried_why.strip():
            do = "say why the bar answers there as it did, such as: same lead, only plugged anew"
            raise InputError("carried_why", "", "given when carried to another connection", do)
        if self.series and (self.reference is None or self.connection is None):
            raise InputError("series", "without reference or connection", "given with both")
        if self.left_out < 0:
            raise InputError("left_out", self.left_out, "0 or more")


@dataclass(frozen=True, slots=True)
class Limit:
    """A number that a verdict is held to; ``unverified`` until somebody has confirmed it.

    A limit that a laboratory worked out from its own measurements says from how many
    (``counted``), of what (``counted_what``), and with how many degrees of freedom.
    """

    label: str
    quantity: str
    value: float
    unit: str
    source: str
    unverified: bool = True
    meaning: str = ""
    counted: int | None = None
    counted_what: str = ""
    degrees_of_freedom: float | None = None

    def __post_init__(self) -> None:
        check_label("label", self.label)
        check_finite("value", self.value)
        if not self.source.strip():
            raise InputError("source", self.source, "given: where does this limit come from")
        if self.counted is not None and (self.counted < 1 or not self.counted_what.strip()):
            raise InputError("counted", self.counted, "1 or more, with what was counted")
        if self.degrees_of_freedom is not None and not self.degrees_of_freedom > 0:
            raise InputError("degrees_of_freedom", self.degrees_of_freedom, "a positive number")


@dataclass(frozen=True, slots=True)
class Method:
    """A way of working, as text a person follows; a complete one has the steps of the bench."""

    label: str
    text: str
    source: str
    unverified: bool = True
    steps: tuple[MethodStep, ...] = ()

    def __post_init__(self) -> None:
        check_label("label", self.label)
        names = [step.name for step in self.steps]
        if len(set(names)) < len(names):
            raise InputError("steps", ", ".join(names), "each named once")


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who works on the campaign."""

    label: str
    name: str
    role: str = ""

    def __post_init__(self) -> None:
        check_label("label", self.label)
        check_label("name", self.name)


@dataclass(frozen=True, slots=True)
class Signature:
    """A person's word for exact versions of records, at a journal head."""

    person: Uid
    statement: str
    of: tuple[Ref, ...]
    signed: datetime
    journal_head: str

    def __post_init__(self) -> None:
        if not self.of:
            raise InputError("of", self.of, "one record or more")
        if not self.journal_head:
            raise InputError("journal_head", self.journal_head, "hash of the journal's last entry")
