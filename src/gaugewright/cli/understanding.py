"""How is what was understood of a file shown, and which words answer its questions?"""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from gaugewright.cli.options import pairs
from gaugewright.cli.speech import table
from gaugewright.errors import InputError

if TYPE_CHECKING:
    from gaugewright.sources.delimited import Layout, Question, Understanding

__all__ = ["answers", "delimiter_named", "lines", "markers", "plain", "questions"]

NAMED_DELIMITERS = {"tab": "\t", "blanks": " ", "semicolon": ";", "comma": ","}
# By the beginning of a question's field: what a person types to answer it.
FLAGS = {
    "unit_": "--unit COLUMN=UNIT",
    "sign_": "--sign COLUMN=MEANING",
    "name_": "--name COLUMN=NAME",
    "role_": "--role COLUMN=ROLE",
    "date_order": "--day-first, --month-first or --stamp-pattern PATTERN",
    "zone": "--zone ZONE",
    "epoch": "--epoch 'YEAR-MONTH-DAY HOUR:MINUTE:SECOND', or --epoch none",
    "clock": "--clock COLUMN, --clock rate with --rate HZ, or --clock none",
    "time_unit": "--time-unit UNIT",
    "century": "--century YEAR",
    "months": "--months JAN,FEB,...",
    "numeric_markers": "--marker TEXT=CODE, or --marker none",
    "delimiter": "--delimiter MARK",
    "decimal": "--decimal MARK",
    "names_rows": "--names-row LINE",
    "table": "--table NAME",
    "tare_lines": "--tare-line LINE for each, or --tare-line 0",
}


def delimiter_named(text: str) -> str:
    """Delimiter as typed: a mark itself, or tab, blanks, semicolon, comma."""
    return NAMED_DELIMITERS.get(text, text)


def answers(
    seen: "Understanding",
    *,
    by_column: Mapping[str, Sequence[str]],
    clock: str = "",
    day_first: bool | None = None,
    plain: Mapping[str, Any],
) -> dict[str, Any]:
    """Answers by question field, from what was typed; columns by their name or number.

    ``by_column`` holds the texts NAME=VALUE of unit, sign and role; ``plain`` what needs no
    translation, left out where it is empty.

    Raises
    ------
    InputError
        If a column isn't in the file, or the order of day and month can't be as stated.
    """
    made: dict[str, Any] = {field: value for field, value in plain.items() if value}
    for part, texts in by_column.items():
        for name, value in pairs(f"--{part}", texts).items():
            made[f"{part}_{_number(seen, name)}"] = value
    if clock in ("rate", "none"):
        made["clock"] = clock
    elif clock:
        numbers = [str(_number(seen, name)) for name in clock.split("+")]
        made["clock"] = "column " + "+".join(numbers)
    if day_first is not None:
        made["date_order"] = _date_order(seen, day_first)
    return made


def _number(seen: "Understanding", name: str) -> int:
    for column in seen.columns:
        if name in (column.name, column.name_in_file):
            return column.number
    if name.isdecimal() and 1 <= int(name) <= len(seen.columns):
        return int(name)
    known = ", ".join(column.name for column in seen.columns)
    allowed = f"a column's name or its number from 1 to {len(seen.columns)}: {known}"
    raise InputError("column", name, allowed)


def _date_order(seen: "Understanding", day_first: bool) -> str:
    patterns = [pattern for stamp in seen.stamps_seen for pattern in stamp.patterns]
    for pattern in patterns:
        if "dd" in pattern and (pattern.find("dd") < pattern.find("mm")) is day_first:
            return pattern
    typed = "--day-first" if day_first else "--month-first"
    allowed = "one of " + ", ".join(patterns) if patterns else "left out: the file has no dates"
    raise InputError("order of day and month", typed, allowed)


def markers(texts: Sequence[str]) -> dict[str, str]:
    """Words or numbers that stand for no reading, each with its code; "none" says there are none.

    Raises
    ------
    InputError
        If a text isn't written TEXT=CODE.
    """
    return pairs("--marker", [text for text in texts if text != "none"])


def questions(asked: "Sequence[Question]") -> list[str]:
    """Questions for a person, each with the flag that answers it."""
    told: list[str] = []
    for question in asked:
        flag = next((f for start, f in FLAGS.items() if question.field.startswith(start)), "")
        examples = f" ({'; '.join(question.choices)})" if question.choices else ""
        told.append(f"  {question.what}{examples}")
        told.append(f"    answer with {flag}")
    return told


def lines(seen: "Understanding", layout: "Layout | None") -> list[str]:
    """What was understood, for a person to confirm; ``layout`` once no question is open."""
    looked = "all of it" if seen.whole else f"{seen.sampled_bytes} bytes of it"
    told = [f"{seen.path.name}: {seen.size_bytes} bytes, looked at {looked}"]
    told += [f"  {each.decision}: {each.words}" for each in seen.evidence]
    names = "+".join(map(str, seen.names_rows)) or "none"
    told.append(
        f"  lines: names {names}, units {seen.units_row or 'none'}, data from {seen.first_data_row}"
    )
    told += ["", *_columns(seen, layout), "", f"  clock: {_clock(seen, layout)}"]
    if seen.markers:
        told += ["", "  instead of readings stood:"]
        told += [f"    {m.text!r} {m.count} times, kept as mark '{m.code}'" for m in seen.markers]
    told += ["", "  first rows:", *("    " + " | ".join(row) for row in seen.sample_rows[:3])]
    return told


def _columns(seen: "Understanding", layout: "Layout | None") -> list[str]:
    rows: list[tuple[str, ...]] = []
    for column in seen.columns:
        unit = column.unit.name if column.unit else "" if column.role != "value" else "?"
        role: str = column.role
        if layout is not None:
            decided = layout.columns[column.number - 1]
            role = decided.role
            unit = decided.unit or ("none" if role == "value" else "")
        rows.append((str(column.number), column.name, column.unit_in_file, unit, role))
    heads = ("", "column", "unit in the file", "unit understood", "role")
    return ["  " + line for line in table(heads, rows)]


def _clock(seen: "Understanding", layout: "Layout | None") -> str:
    clock = layout.clock if layout is not None else seen.clock
    if clock is None:
        return "not known yet"
    columns = ", ".join(seen.columns[position].name for position in clock.columns)
    words = {
        "elapsed": f"elapsed time in {columns} [{clock.unit}]",
        "epoch": f"{clock.unit} since {clock.epoch} in {columns}",
        "stamp": f"stamps in {columns}, written {clock.pattern}",
        "rate": f"{clock.rate_hz:g} rows a second",
        "none": "no time is known",
    }[clock.kind]
    if clock.kind in ("stamp", "rate") and clock.epoch:
        words += f", from {clock.epoch} on"
    if clock.kind in ("stamp", "epoch") or clock.epoch:
        words += f", zone {clock.zone or 'not known'}"
    return words


def plain(
    seen: "Understanding", layout: "Layout | None", asked: "Sequence[Question]"
) -> dict[str, Any]:
    """What was understood as JSON values."""
    return {
        "file": str(seen.path),
        "size_bytes": seen.size_bytes,
        "sampled_bytes": seen.sampled_bytes,
        "importer": seen.importer,
        "table": seen.table,
        "encoding": seen.encoding,
        "delimiter": seen.delimiter,
        "decimal": seen.decimal,
        "thousands": seen.thousands,
        "names_rows": list(seen.names_rows),
        "units_row": seen.units_row,
        "first_data_row": seen.first_data_row,
        "columns": [
            {
                "number": column.number,
                "name": column.name,
                "unit_in_file": column.unit_in_file,
                "unit": column.unit.name if column.unit else None,
                "role": column.role,
            }
            for column in seen.columns
        ],
        "markers": [asdict(marker) for marker in seen.markers],
        "evidence": [asdict(each) for each in seen.evidence],
        "questions": [asdict(question) for question in asked],
        "layout": layout.as_plain() if layout is not None else None,
    }
