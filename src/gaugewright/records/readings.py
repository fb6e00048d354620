"""Readings and what happened while they were taken: recordings, clocks, events, findings."""

import enum
from dataclasses import dataclass
from datetime import datetime

from gaugewright.errors import InputError
from gaugewright.records.identity import Uid
from gaugewright.records.stated import Stated, check_finite, check_label

__all__ = [
    "Clock",
    "ClockMap",
    "Decision",
    "Event",
    "Finding",
    "LoadStep",
    "MarkCount",
    "ReadingProfile",
    "Recording",
    "RecordingColumn",
    "Severity",
    "TareValue",
]


@dataclass(frozen=True, slots=True)
class ReadingProfile:
    """How files of one kind are read, as a person confirmed it; ``layout`` is canonical JSON."""

    label: str
    importer: str
    layout: str

    def __post_init__(self) -> None:
        check_label("label", self.label)


@dataclass(frozen=True, slots=True)
class Clock:
    """A clock that stamps recordings, and the zone it shows (empty: elapsed time only)."""

    label: str
    zone: str
    resolution: float

    def __post_init__(self) -> None:
        check_label("label", self.label)


@dataclass(frozen=True, slots=True)
class ClockMap:
    """Campaign time = ``offset`` + (1 + ``rate``) x elapsed: a view, applied on reading.

    ``epoch`` is the campaign instant that elapsed zero of the recording stands for before
    ``offset`` (s) is added; ``offset`` carries the uncertainty of joining.
    """

    recording: Uid
    epoch: datetime
    offset: Stated
    rate: float
    method: str

    def __post_init__(self) -> None:
        check_finite("rate", self.rate)
        if not self.method.strip():
            raise InputError("method", self.method, "how the clocks were joined, in words")


@dataclass(frozen=True, slots=True)
class RecordingColumn:
    """A column of a recording: its name in the file, its field in the parts, its unit.

    ``unit`` is as in the file ("" for text); numbers in the parts are in that unit, untouched.
    """

    name: str
    field: str
    unit: str
    role: str


@dataclass(frozen=True, slots=True)
class MarkCount:
    """How often a marker stood in a column instead of a number."""

    column: str
    code: str
    count: int


@dataclass(frozen=True, slots=True)
class TareValue:
    """A value that stood ahead of the record: its line, its column, and the text as written.

    In the column's unit. It is kept, never applied: whether the readings are less it already, a
    person must know.
    """

    line: int
    column: str
    text: str


@dataclass(frozen=True, slots=True)
class Recording:
    """One file brought in: bytes as received, rows kept and reported, columns, marks.

    ``tare_values`` stood ahead of the rows; nothing is taken off the readings for them.
    """

    label: str
    file_name: str
    original_sha256: str
    profile: Uid
    clock: Uid
    instrument: Uid | None
    rows: int
    rows_reported: int
    columns: tuple[RecordingColumn, ...]
    marks: tuple[MarkCount, ...]
    first_stamp: str
    importer: str
    tare_values: tuple[TareValue, ...] = ()

    def __post_init__(self) -> None:
        check_label("label", self.label)
        if self.rows < 0 or self.rows_reported < 0:
            raise InputError("rows", (self.rows, self.rows_reported), "0 or more")


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened, at an instant, in words."""

    at: datetime
    kind: str
    text: str
    subject: Uid | None = None

    def __post_init__(self) -> None:
        check_label("kind", self.kind)


@dataclass(frozen=True, slots=True)
class LoadStep:
    """A stretch of the test between two instants, with the load that was meant (N)."""

    label: str
    begins: datetime
    ends: datetime
    load: float

    def __post_init__(self) -> None:
        check_label("label", self.label)
        if self.ends <= self.begins:
            raise InputError("ends", self.ends, "after it begins")


class Severity(enum.Enum):
    """What a finding means for the gauge it names."""

    NOTE = "note"
    DOUBTFUL = "doubtful"
    LOST = "lost"


class Decision(enum.Enum):
    """What a person made of a finding."""

    OPEN = "open"
    ACCEPTED = "accepted"
    EXCLUDED = "excluded"
    REJECTED = "rejected"


@dataclass(frozen=True, slots=True)
class Finding:
    """What looks wrong: where, the number, the limit it broke. It changes no reading."""

    code: str
    subject: Uid
    recording: Uid | None
    first_row: int | None
    last_row: int | None
    measured: float
    unit: str
    limit: float
    limit_source: str
    sentence: str
    severity: Severity
    decision: Decision = Decision.OPEN
    reason: str = ""

    def __post_init__(self) -> None:
        check_label("code", self.code)
        if self.decision is not Decision.OPEN and not self.reason.strip():
            raise InputError("reason", self.reason, "given when a finding is decided")
