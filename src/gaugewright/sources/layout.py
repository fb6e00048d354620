"""What a person confirmed about a delimited file: everything needed to read it without guessing."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, replace
from typing import Any, Literal, TypeVar, cast, get_args

from gaugewright.errors import InputError
from gaugewright.quantities import parse_unit
from gaugewright.sources import stamps

__all__ = [
    "BLANKS",
    "MARK_CODES",
    "TEXT_MARKERS",
    "Clock",
    "Column",
    "Layout",
    "Marker",
    "Role",
]

T = TypeVar("T")

Role = Literal["time", "value", "text", "empty"]
ClockKind = Literal["elapsed", "stamp", "epoch", "rate", "none"]

# Days that numbers are counted from by convention, in every file alike: of operating systems,
# workbooks and satellites. Any other epoch is taken to be that of one file.
_COUNTED_FROM = frozenset(
    stamps.epoch_ns(day)
    for day in ("1601-01-01", "1899-12-30", "1899-12-31", "1900-01-01", "1904-01-01",
                "1970-01-01", "1980-01-06", "2000-01-01")
)  # fmt: skip

# As a delimiter: one or more blanks or tabs, with none counted at the ends of a line.
BLANKS = " "

MARK_CODES: dict[str, str] = {
    "empty": "nothing was written in the cell",
    "missing": "a word that says there is no reading",
    "overrange": "a word that says the input was beyond its range",
    "error": "a word that says the instrument failed to read",
    "declared": "a number that was declared to be no reading",
    "unreadable": "text that is neither a number nor a known word",
    "out_of_float": "a number too large for 64-bit floating point",
    "unexpected": "text in a column that was declared empty",
    "time_unreadable": "the clock's column can't be read as its rule says",
    "hour_twice": "a local time that occurred twice when the clock went back",
    "hour_missing": "a local time that was skipped when the clock went forward",
}


@dataclass(frozen=True, slots=True)
class Marker:
    """A word or number written in place of a reading, and the mark it becomes."""

    text: str
    code: str = "declared"

    def __post_init__(self) -> None:
        if self.code not in MARK_CODES:
            raise InputError("code", self.code, "one of " + ", ".join(MARK_CODES))


def _text_markers() -> tuple[Marker, ...]:
    words = {
        "missing": "NaN NA N/A #N/A #NA - -- --- ---- . ? NULL None missing nil blank",
        "overrange": "OVERRANGE OVER +OVER -OVER OVL +OVL -OVL OFL +OFL -OFL OL +OL -OL OVRNG "
        "OVERLOAD OVERFLOW OVERRUN UNDERRANGE UNDERFLOW INF +INF -INF INFINITY +INFINITY "
        "-INFINITY >>> <<< +++++",
        "error": "ERR ERROR #DIV/0! #VALUE! #NUM! #REF! FAULT OPEN",
    }
    listed = [Marker(word, code) for code, text in words.items() for word in text.split()]
    return (
        *listed,
        Marker("1.#INF", "overrange"),
        Marker("1.#QNAN", "missing"),
        Marker("-1.#IND", "missing"),
    )


# Compared without regard to case; a row of asterisks or hashes of any length counts as overrange.
TEXT_MARKERS: tuple[Marker, ...] = _text_markers()


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its unique name here, name and unit as in the file, confirmed unit and role.

    ``unit`` is a name known to ``quantities`` or empty for a plain number. ``sign`` states what a
    positive number means ("tension" or "compression"), empty when nobody said.
    """

    name: str
    role: Role = "value"
    unit: str = ""
    name_in_file: str = ""
    unit_in_file: str = ""
    sign: str = ""

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise InputError("name", self.name, "text that isn't blank")
        if self.role not in get_args(Role):
            raise InputError("role", self.role, "one of " + ", ".join(get_args(Role)))
        if self.unit and parse_unit(self.unit) is None:
            raise InputError("unit", self.unit, "a unit known to quantities, or empty")
        if self.sign not in ("", "tension", "compression"):
            raise InputError("sign", self.sign, "tension, compression or empty")


@dataclass(frozen=True, slots=True)
class Clock:
    """How the time of a row is known.

    kind
        ``elapsed`` (a number in ``unit``), ``epoch`` (a number in ``unit`` since the date
        ``epoch``), ``stamp`` (text written as ``pattern``), ``rate`` (no time column;
        ``rate_hz`` rows a second) or ``none`` (nothing is known).
    columns
        Positions from 0; several stamp columns are joined by a blank before ``pattern`` applies.
    epoch
        What a number counts from, ``1904-01-01``; also, as ``2027-01-12 09:15:00``, the instant
        at which this file's own numbers were 0, of the first row where rows come evenly, or the
        day of stamps that tell none. On the clock that ``zone`` names.
    epoch_line, epoch_pattern
        Line ahead of the readings that told it, and how; 0 and empty where a person typed it.
    zone
        IANA name, ``UTC`` or an offset such as ``+02:00``; empty when nobody knows, then only
        elapsed time is had and the clock is taken not to have been put forward or back.
    """

    kind: ClockKind = "none"
    columns: tuple[int, ...] = ()
    unit: str = "s"
    pattern: str = ""
    zone: str = ""
    epoch: str = ""
    rate_hz: float = 0.0
    century: int = 2000
    months: tuple[str, ...] = stamps.ENGLISH_MONTHS
    epoch_line: int = 0
    epoch_pattern: str = ""

    def __post_init__(self) -> None:
        if self.kind not in get_args(ClockKind):
            raise InputError("clock kind", self.kind, "one of " + ", ".join(get_args(ClockKind)))
        needs_column = self.kind in ("elapsed", "epoch", "stamp")
        if needs_column and not self.columns:
            raise InputError(
                "clock columns", self.columns, f"at least one column for kind {self.kind}"
            )
        if self.kind in ("elapsed", "epoch"):
            self.seconds_per_unit()
        if self.kind == "epoch" or self.epoch:
            stamps.epoch_ns(self.epoch)
        if self.kind == "stamp":
            self.stamp_pattern()
        if self.kind == "rate" and not 0 < self.rate_hz < float("inf"):
            raise InputError("rate_hz", self.rate_hz, "a positive number of rows a second")
        stamps.zone_named(self.zone)

    def seconds_per_unit(self) -> float:
        """Factor from the time column's numbers to seconds."""
        if self.unit == "d":
            return 86_400.0
        unit = parse_unit(self.unit)
        if unit is None or unit.dimension != "time":
            raise InputError("clock unit", self.unit, "a unit of time such as s, ms, min, h or d")
        return unit.factor

    @property
    def begins_with_the_file(self) -> bool:
        """Whether ``epoch`` is of this one file, and no date that every file counts from."""
        if not self.epoch:
            return False
        return self.kind != "epoch" or stamps.epoch_ns(self.epoch) not in _COUNTED_FROM

    def of_another_file(self, epoch: str = "") -> "Clock":
        """The same clock in another file, whose own ``epoch`` may be known."""
        if not self.begins_with_the_file:
            return self
        if epoch:
            return replace(self, epoch=epoch)
        kind: ClockKind = "elapsed" if self.kind == "epoch" else self.kind
        return replace(self, kind=kind, epoch="", epoch_line=0, epoch_pattern="")

    def epoch_step(self) -> float:
        """Smallest step of time that a file's own ``epoch`` shows [s]; 0 where there is none."""
        if not self.begins_with_the_file or (self.kind == "stamp"):
            return 0.0
        time_of_day = self.epoch.strip()[10:]
        if time_of_day.count(":") < 2:
            return 60.0 if ":" in time_of_day else 86_400.0
        return float(10.0 ** -len(time_of_day.replace(",", ".").partition(".")[2]))

    def stamp_pattern(self) -> "stamps.Pattern":
        """Compiled form of ``pattern``."""
        return stamps.compile_pattern(self.pattern, century=self.century, months=self.months)


@dataclass(frozen=True, slots=True)
class Layout:
    """Every decision about a delimited text file, stated. Lines count from 1, columns from 0.

    ``importer`` wrote the file out as text where it isn't text itself, from its ``table`` of that
    name. ``head_texts`` are lines that are reported, not read, when met again among the data
    (a recording that was restarted). ``numeric_markers`` are numbers that mean "no reading";
    none is assumed. ``tare_lines`` stand ahead of the record and hold values that were, or must
    be, taken off: they are reported with their text, never rows and never taken off here.
    """

    columns: tuple[Column, ...]
    delimiter: str
    clock: Clock
    first_data_row: int = 1
    encoding: str = "utf-8"
    decimal: str = "."
    thousands: str = ""
    comment: str = ""
    quote: str = '"'
    line_end: str = "\n"
    text_markers: tuple[Marker, ...] = TEXT_MARKERS
    numeric_markers: tuple[Marker, ...] = ()
    head_texts: tuple[str, ...] = ()
    importer: str = "delimited text"
    table: str = ""
    tare_lines: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if not self.columns:
            raise InputError("columns", "()", "at least one column")
        names = [column.name for column in self.columns]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise InputError("column names", ", ".join(twice), "different from each other")
        if not (
            len(self.delimiter) == 1 and self.delimiter.isascii() and self.delimiter not in '\r\n"'
        ):
            raise InputError("delimiter", self.delimiter, "one character, such as ; , or a tab")
        if self.decimal not in (".", ","):
            raise InputError("decimal", self.decimal, "a point or a comma")
        if self.thousands and (
            len(self.thousands) > 1 or self.thousands in self.decimal + self.delimiter
        ):
            raise InputError(
                "thousands", self.thousands, "one character, not the decimal mark or delimiter"
            )
        if self.decimal == self.delimiter and not self.quote:
            raise InputError(
                "decimal", self.decimal, "different from the delimiter unless fields are quoted"
            )
        if self.line_end not in ("\n", "\r"):
            raise InputError(
                "line_end", self.line_end, "a line feed (also for CR LF) or a carriage return"
            )
        if self.first_data_row < 1:
            raise InputError("first_data_row", self.first_data_row, "a line number from 1")
        for line in self.tare_lines:
            if not 1 <= line < self.first_data_row:
                allowed = f"ahead of the first row of readings, line {self.first_data_row}"
                raise InputError("tare_lines", line, allowed)
        _refuse_unknown_encoding(self.encoding)
        for marker in self.numeric_markers:
            _number_of(marker)
        for position in self.clock.columns:
            if not 0 <= position < len(self.columns):
                raise InputError("clock columns", position, f"from 0 to {len(self.columns) - 1}")
            if self.columns[position].role != "time":
                raise InputError("role of the clock's column", self.columns[position].role, "time")

    def number_of_marker(self, marker: Marker) -> float:
        """The number a numeric marker stands for, read with a point or this file's decimal mark."""
        return _number_of(marker)

    def with_columns(self, *columns: Column) -> "Layout":
        """The same file read with other columns."""
        return replace(self, columns=columns)

    def as_plain(self) -> dict[str, Any]:
        """Lists, texts and numbers only, ready for JSON."""
        plain = cast(dict[str, Any], _plain(asdict(self)))
        if self.text_markers == TEXT_MARKERS:
            plain["text_markers"] = "shipped"
        if not self.tare_lines:  # as profiles were written before there were any
            del plain["tare_lines"]
        if not self.clock.epoch_line:
            del plain["clock"]["epoch_line"], plain["clock"]["epoch_pattern"]
        return plain

    @staticmethod
    def from_plain(plain: Mapping[str, Any]) -> "Layout":
        """Layout from what ``as_plain`` gave, perhaps through JSON.

        Raises
        ------
        InputError
            If a name is unknown or a value isn't allowed.
        """
        known = {field.name for field in fields(Layout)}
        for name in plain:
            if name not in known:
                raise InputError("layout field", name, "one of " + ", ".join(sorted(known)))
        for name in ("columns", "delimiter", "clock"):
            if name not in plain:
                raise InputError(f"layout field {name}", None, "given")
        made = dict(plain)
        made["columns"] = tuple(_made(Column, column) for column in plain["columns"])
        clock = dict(plain["clock"])
        for name in ("columns", "months"):
            if name in clock:
                clock[name] = tuple(clock[name])
        made["clock"] = _made(Clock, clock)
        for name in ("text_markers", "numeric_markers"):
            if isinstance(plain.get(name), list | tuple):
                made[name] = tuple(_made(Marker, marker) for marker in plain[name])
        if made.get("text_markers") == "shipped":
            del made["text_markers"]
        for name in ("head_texts", "tare_lines"):
            made[name] = tuple(plain.get(name, ()))
        return Layout(**made)


def _made(kind: type[T], plain: Mapping[str, Any]) -> T:
    try:
        return kind(**plain)
    except TypeError as error:
        raise InputError(kind.__name__.lower(), dict(plain), f"described fully ({error})") from None


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _plain(part) for name, part in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(part) for part in value]
    return value


def _number_of(marker: Marker) -> float:
    try:
        return float(marker.text.replace(",", "."))
    except ValueError:
        raise InputError("numeric marker", marker.text, "a number such as 9.9E37") from None


def _refuse_unknown_encoding(name: str) -> None:
    try:
        "".encode(name)
    except LookupError:
        raise InputError(
            "encoding", name, "a text encoding such as utf-8, utf-16 or cp1252"
        ) from None
