"""What a person types about a file that waits: into answers, and back into fields with faults."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any
from zoneinfo import available_timezones

from gaugewright.errors import Faults, GaugewrightError, InputError
from gaugewright.records import Entry
from gaugewright.records.readings import ReadingProfile
from gaugewright.services.reading import beginnings, layouts
from gaugewright.sources.delimited import Layout, Question, Understanding
from gaugewright.units import parse_unit
from gaugewright.web.forms import Choice, Field
from gaugewright.web.import_beginning import OTHER, beginning, beginning_fields

__all__ = [
    "ROLES",
    "STRUCTURE",
    "UNITS",
    "ZONES",
    "Answered",
    "ColumnForm",
    "answered",
    "answered_by",
    "asked_fields",
    "clock_words",
    "columns",
    "other_fields",
    "refused",
    "structure",
    "structure_fields",
]

UNITS = ("µm/m", "mV/V", "µV/V", "kN", "N", "mm", "µm", "°C", "MPa", "V", "mV", "%", "s", "none")
ZONES = ("none", "UTC", *sorted(available_timezones() - {"UTC"}))
DELIMITERS = {"tab": "\t", "blanks": " ", "semicolon": ";", "comma": ","}
# Their choices are all there are; any other question takes what is typed.
CLOSED = ("date_order", "time_unit", "century", "decimal", "delimiter", "names_rows", "clock",
          "table")  # fmt: skip
# Fields that state how the file is divided; it is looked into anew with them.
STRUCTURE = (
    "importer",
    "encoding",
    "delimiter",
    "decimal",
    "thousands",
    "comment",
    "first_data_row",
    "names_rows",
    "units_row",
    "table",
    "tare_lines",
)
ROLES = (
    Choice("value", "readings"),
    Choice("time", "time"),
    Choice("text", "text"),
    Choice("empty", "nothing"),
)
SIGNS = (
    Choice("", "not said"),
    Choice("tension", "tension"),
    Choice("compression", "compression"),
    Choice("none", "neither"),
)
_OF_COLUMN = re.compile(r"(unit|sign|name|role)_(\d+)")
_NUMBER_FIELDS = ("rate_hz", "century")


@dataclass(frozen=True, slots=True)
class ColumnForm:
    """A column as understood, with fields to say otherwise."""

    number: int
    name: str
    unit_in_file: str
    sample: str
    role: Field
    unit: Field
    sign: Field


@dataclass(frozen=True, slots=True)
class Answered:
    """Outcome of the answers: a layout, or the questions and faults that are in its way.

    ``asked`` are all questions about the file, answered or not, the first of them first.
    """

    layout: Layout | None
    open: tuple[Question, ...]
    wrong: Mapping[str, str]
    failures: tuple[str, ...]
    asked: tuple[Question, ...] = ()


def structure(typed: Mapping[str, str]) -> dict[str, Any]:
    """Parts of the structure that were stated; what is left empty is found in the file.

    Raises
    ------
    InputError
        If a line number isn't one.
    """
    made: dict[str, Any] = {}
    for name in ("importer", "encoding", "decimal", "table"):
        if _given(typed, name):
            made[name] = _given(typed, name)
    delimiter = _given(typed, "delimiter")
    if delimiter:
        made["delimiter"] = DELIMITERS.get(delimiter, delimiter)
    for name in ("thousands", "comment"):
        if _given(typed, name):
            made[name] = "" if _given(typed, name) == "none" else _given(typed, name)
    for name in ("first_data_row", "units_row"):
        if _given(typed, name):
            made[name] = _line(name, _given(typed, name))
    for name in ("names_rows", "tare_lines"):
        if name == "tare_lines" and _given(typed, name) == "none":
            made[name] = ()
        elif _given(typed, name):
            made[name] = tuple(_line(name, n) for n in re.findall(r"[^\s,;()]+", typed[name]))
    return made


def answered(seen: Understanding, typed: Mapping[str, str]) -> Answered:
    """What the answers make of a file: everything that is wrong is said at once."""
    wrong: dict[str, str] = {}
    answers = _answers(seen, typed, wrong)
    markers = _markers(typed, wrong)
    if _given(typed, "numeric_markers") == "none":
        answers["numeric_markers"] = "none"
    begin = beginnings.questions(seen, answers)
    still_open = _open_beginning(begin, answers, typed)
    still_open += _others(layouts.open_questions(seen, answers, markers), begin)
    asked = begin + _others(seen.questions, begin)
    # The structure was stated when the file was looked into: its questions are answered by that.
    still_open = tuple(
        q for q in still_open if not (q.field in STRUCTURE and _given(typed, q.field))
    )
    if still_open or wrong:
        return Answered(None, still_open, wrong, (), asked)
    try:
        return Answered(layouts.confirmed(seen, answers, markers), (), {}, (), asked)
    except GaugewrightError as error:
        faults = error.faults if isinstance(error, Faults) else (error,)
        failures = []
        for fault in faults:
            name = getattr(fault, "name", "")
            if name in _GENERAL:
                wrong[name] = str(fault)
            else:
                failures.append(str(fault))
        return Answered(None, (), wrong, tuple(failures), asked)


def _open_beginning(
    asked: tuple[Question, ...], answers: Mapping[str, Any], typed: Mapping[str, str]
) -> tuple[Question, ...]:
    """Questions about the beginning left open; joined to another recording, it has its time."""
    if typed.get("joint") in ("trigger", "signal"):
        return ()
    return beginnings.open_about(asked, answers)


def _others(questions: Sequence[Question], than: Sequence[Question]) -> tuple[Question, ...]:
    fields = {question.field for question in than}
    return tuple(question for question in questions if question.field not in fields)


def answered_by(
    profile: Entry[ReadingProfile], seen: Understanding, typed: Mapping[str, str]
) -> Answered:
    """What a profile's layout makes of a file, and the questions that it doesn't answer.

    Raises
    ------
    InputError
        If the file's columns aren't those of the profile.
    """
    layout = layouts.layout_of(profile, seen)
    wrong: dict[str, str] = {}
    markers = _markers(typed, wrong)
    is_none = _given(typed, "numeric_markers") == "none"
    answers = {"numeric_markers": "none"} if is_none else {}
    begin = beginnings.begun(layouts.kept_layout(profile), layout, seen)
    epoch = beginning(typed)
    still_open = _open_beginning(begin, {"epoch": epoch}, typed)
    asked, open_numbers = layouts.undeclared(layout, seen, answers, markers)
    asked, still_open = (*begin, *asked), (*still_open, *open_numbers)
    try:
        made = beginnings.completed(layout, seen, epoch) if begin else layout
    except InputError as error:
        wrong["epoch"] = str(error)
    if still_open or wrong:
        return Answered(None, still_open, wrong, (), asked)
    return Answered(layouts.completed(made, answers, markers), (), {}, (), asked)


def refused(error: InputError) -> Answered:
    """Outcome when a stated part of the structure can't be used."""
    name = next((each for each in STRUCTURE if error.name.startswith(each)), "")
    if name:
        return Answered(None, (), {name: str(error)}, ())
    return Answered(None, (), {}, (str(error),))


def columns(
    seen: Understanding, typed: Mapping[str, str], found: Answered, *, is_sent: bool
) -> tuple[ColumnForm, ...]:
    """Columns with their fields; a question about one stands beside it."""
    asked = {question.field: question for question in found.open}

    def field(name: str, label: str, value: str) -> Field:
        wrong = found.wrong.get(name, "")
        if not wrong and name in asked:
            wrong = _capital(asked[name].what) if not is_sent else f"Open: {asked[name].what}"
        return Field(name, label, value=typed.get(name, value), wrong=wrong)

    made = []
    for column in seen.columns:
        number = column.number
        known = column.unit.name if column.unit else ""
        named = f"column {number}, {column.name}"
        made.append(
            ColumnForm(
                number,
                column.name,
                column.unit_in_file,
                seen.sample_rows[0][number - 1] if seen.sample_rows else "",
                replace(field(f"role_{number}", f"Role of {named}", column.role), choices=ROLES),
                replace(field(f"unit_{number}", f"Unit of {named}", known), list="units"),
                replace(field(f"sign_{number}", f"Sign of {named}", ""), choices=SIGNS),
            )
        )
    return tuple(made)


def asked_fields(
    typed: Mapping[str, str], found: Answered, *, is_sent: bool, zone: str
) -> tuple[Field, ...]:
    """Fields for what the file can't tell, columns apart; answered ones stay to be changed.

    ``zone`` is the campaign's own.
    """
    open_now = {question.field for question in found.open}
    made = []
    for question in found.asked:
        if _OF_COLUMN.fullmatch(question.field):
            continue
        wrong = found.wrong.get(question.field, "")
        if not wrong and is_sent and question.field in open_now:
            wrong = "This must be answered before anything is brought in"
        field = Field(
            question.field,
            _capital(question.what),
            value=typed.get(question.field, ""),
            hint=_hint(question, zone),
            wrong=wrong,
            choices=_choices(question),
            list="zones" if question.field == "zone" else "",
        )
        made += beginning_fields(field, typed) if question.field == "epoch" else [field]
    return tuple(made)


def other_fields(
    seen: Understanding,
    typed: Mapping[str, str],
    found: Answered,
    fitting: Sequence[tuple[str, str]] = (),
) -> tuple[Field, ...]:
    """Fields for what the file told well enough, to say otherwise.

    ``fitting`` are the importers that fit it, each with why.
    """
    asked = {question.field for question in found.asked}
    choices = {"clock": _clock_choices(seen), "importer": _importer_choices(fitting)}
    return tuple(
        replace(
            field,
            value=typed.get(field.name, ""),
            wrong=found.wrong.get(field.name, ""),
            choices=choices.get(field.name, field.choices),
        )
        for field in _GENERAL.values()
        if field.name not in asked
    )


def structure_fields(
    typed: Mapping[str, str], wrong_name: str, wrong: str, fitting: Sequence[tuple[str, str]]
) -> tuple[Field, ...]:
    """Fields that say how a file is divided, for one that couldn't be understood."""
    return tuple(
        replace(
            field,
            value=typed.get(field.name, ""),
            wrong=wrong if field.name == wrong_name else "",
            choices=_importer_choices(fitting) if field.name == "importer" else field.choices,
        )
        for field in _GENERAL.values()
        if field.name in STRUCTURE
    )


def _importer_choices(fitting: Sequence[tuple[str, str]]) -> tuple[Choice, ...]:
    named = (Choice(label, f"{label}: {why}") for label, why in fitting)
    return (Choice("", "the one that fits best"), *named)


def clock_words(seen: Understanding, layout: Layout | None) -> str:
    """How the time of a row is known, as far as it is."""
    clock = layout.clock if layout is not None else seen.clock
    if clock is None:
        return "not known yet"
    names = ", ".join(seen.columns[position].name for position in clock.columns)
    words = {
        "elapsed": f"elapsed time in {names}, {clock.unit}",
        "epoch": f"{clock.unit} since {clock.epoch} in {names}",
        "stamp": f"stamps in {names}, written {clock.pattern}",
        "rate": f"{clock.rate_hz:g} rows a second",
        "none": "no time is known",
    }[clock.kind]
    if clock.kind == "rate" and clock.epoch:
        words += f", the first at {clock.epoch}"
    if clock.kind == "stamp" and clock.epoch:
        words += f", from {clock.epoch} on"
    if clock.kind in ("stamp", "epoch") or clock.epoch:
        words += f", zone {clock.zone or 'not known'}"
    return words


_GENERAL = {
    field.name: field
    for field in (
        Field("importer", "Kind of file"),
        Field("clock", "What tells the time"),
        Field("pattern", "How stamps are written", hint="Such as dd.mm.yyyy hh:mm:ss.fff"),
        Field("zone", "Zone of the stamps", list="zones"),
        Field(
            "rate_hz", "Rows a second", unit="Hz", hint="When the clock is a rate.", kind="number"
        ),
        Field("time_unit", "Unit of a time in numbers", hint="s, ms, min, h or d"),
        Field(
            "epoch",
            "Date, or date and time, that a time in numbers counts from",
            hint="As 2027-01-12 09:15:00, or 1970-01-01; days of a workbook count from "
            "1899-12-30 or 1904-01-01",
        ),
        Field(
            "numeric_markers", "Numbers that stand for no reading", hint="Such as -9999; or none"
        ),
        Field(
            "word_markers", "Words that stand for no reading", hint="Such as OFF=missing, X=error"
        ),
        Field("delimiter", "Between columns", hint="A mark, or tab, blanks, semicolon, comma"),
        Field("decimal", "Decimal mark", hint="A point or a comma"),
        Field("thousands", "Between groups of three digits", hint="A mark, or none"),
        Field("comment", "Comment lines begin with", hint="A text, or none"),
        Field("encoding", "Text encoding", hint="Such as cp1252"),
        Field("first_data_row", "First line of readings", kind="number"),
        Field("names_rows", "Lines of column names", hint="Such as 2, or 2, 3"),
        Field("units_row", "Line of units", hint="0 when there is none", kind="number"),
        Field("table", "Sheet or table", hint="Where the file has several"),
        Field("tare_lines", "Lines of tare values ahead of the record", hint="28, 29; or none"),
    )
}


def _answers(
    seen: Understanding, typed: Mapping[str, str], wrong: dict[str, str]
) -> dict[str, Any]:
    """Answers by question field; only what differs from what was understood is one."""
    made: dict[str, Any] = {}
    for column in seen.columns:
        number = column.number
        role = _given(typed, f"role_{number}")
        if role and role != column.role:
            made[f"role_{number}"] = role
        unit = _given(typed, f"unit_{number}")
        if unit and unit != (column.unit.name if column.unit else ""):
            if unit not in ("none", "text", "1") and parse_unit(unit) is None:
                allowed = "one that is known, such as µm/m, mV/V, kN or °C; or none"
                wrong[f"unit_{number}"] = str(InputError("unit", unit, allowed))
            made[f"unit_{number}"] = unit
        if _given(typed, f"sign_{number}"):
            made[f"sign_{number}"] = _given(typed, f"sign_{number}")
    for name in ("clock", "date_order", "pattern", "zone", "time_unit", "century"):
        if _given(typed, name):
            made[name] = _given(typed, name)
    if beginning(typed):
        made["epoch"] = beginning(typed)
    if _given(typed, "months"):
        made["months"] = tuple(part.strip() for part in typed["months"].split(","))
    if _given(typed, "rate_hz"):
        made["rate_hz"] = _given(typed, "rate_hz").replace(",", ".")
    for name in _NUMBER_FIELDS:
        if name in made and not _is_number(made[name]):
            wrong[name] = str(InputError(name, made.pop(name), "a number"))
    return made


def _markers(typed: Mapping[str, str], wrong: dict[str, str]) -> dict[str, str]:
    """Texts that stand for no reading, each with the code of its mark."""
    made: dict[str, str] = {}
    numbers = _given(typed, "numeric_markers")
    for text in re.split(r"[\s;]+|,(?=\s)", "" if numbers == "none" else numbers):
        if text and not _is_number(text.replace(",", ".")):
            allowed = "numbers as in the file, parted by blanks, or none"
            wrong["numeric_markers"] = str(InputError("number", text, allowed))
        elif text:
            made[text] = "declared"
    for pair in _given(typed, "word_markers").split(","):
        text, sign, code = pair.partition("=")
        if not pair.strip():
            continue
        if not sign or code.strip() not in ("missing", "overrange", "error"):
            allowed = "WORD=missing, WORD=overrange or WORD=error"
            wrong["word_markers"] = str(InputError("word", pair.strip(), allowed))
        else:
            made[text.strip()] = code.strip()
    return made


def _choices(question: Question) -> tuple[Choice, ...]:
    """Choices of a question that has no others; the words after a bracket explain one."""
    is_offered = question.field == "epoch" and len(question.choices) > 1
    if question.field not in CLOSED and not is_offered:
        return ()
    made = [Choice("", "choose")]
    for choice in question.choices:
        value = choice.partition(" (")[0] if not choice.startswith("(") else choice
        made.append(Choice(value, choice.strip("(),") if choice.startswith("(") else choice))
    if is_offered:
        made.insert(-1, Choice(OTHER, "another date and time, typed beside"))
    return tuple(made)


def _clock_choices(seen: Understanding) -> tuple[Choice, ...]:
    named = [Choice(f"column {c.number}", f"column {c.number}, {c.name}") for c in seen.columns]
    return (
        Choice("", "as understood"),
        *named,
        Choice("rate", "rows come evenly"),
        Choice("none", "no time is known"),
    )


def _hint(question: Question, zone: str) -> str:
    if question.field in (*CLOSED, "epoch") or not question.choices:
        return ""
    if question.field == "zone":
        others = [each for each in question.choices if each.startswith(("UTC", "+", "none"))]
        return f"{zone} is this campaign's own; or such as " + ", ".join(others)
    return "Such as " + ", ".join(question.choices)


def _given(typed: Mapping[str, str], name: str) -> str:
    return typed.get(name, "").strip()


def _line(name: str, text: str) -> int:
    if not (text.isascii() and text.isdecimal() and len(text) < 10):
        raise InputError(name, text, "a line number, counted from 1")
    return int(text)


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
