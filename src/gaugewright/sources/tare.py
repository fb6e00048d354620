"""Lines of values ahead of a record that look like tare values: asked about, never applied."""

import re
from collections.abc import Sequence
from typing import Protocol

from gaugewright.sources.lines import split_fields
from gaugewright.sources.understanding import Evidence, Question, Stated

__all__ = ["Found", "find_tare"]

# What such a line is called where it is called anything; gains, ranges and serial numbers stand
# in lines of numbers too, under other words.
_TOLD = re.compile(r"tar[ea]|zero|nul|offset|initial|start|refer", re.IGNORECASE)
_LOOKED_AT = 200  # lines ahead of the record
_SHOWN = 60


class Found(Protocol):
    """What is known of a file's structure by then."""

    comment: str
    delimiter: str
    width: int
    tare_lines: tuple[int, ...]
    evidence: list[Evidence]
    questions: list[Question]


def find_tare(
    head: Sequence[str], first: int, typed: Sequence[int], stated: Stated, found: Found
) -> int:
    """First row of readings once lines of tare values are passed; a question about suspects.

    Suspects are lines ahead of the record with a number in most of its columns, and first rows
    without anything in the column that leads the others. A person says whether they are.
    """
    if stated.tare_lines is not None:
        found.tare_lines = stated.tare_lines
        if stated.tare_lines:
            words = "reported with the recording, taken off nothing"
            lines = ", ".join(map(str, stated.tare_lines))
            found.evidence.append(Evidence(f"tare values in line {lines}", words))
        return max([first, *(line + 1 for line in stated.tare_lines)])
    if stated.first_data_row is not None:
        return first  # what is stated isn't sought
    rows = [_fields(line, found) for line in head[: first + 2]]
    ahead = range(max(1, first - _LOOKED_AT), first)
    suspects = [line for line in ahead if _is_full(rows[line - 1], typed, found.width)]
    for line in range(first, min(first + 3, len(rows) + 1)):
        if typed and rows[line - 1] and not rows[line - 1][typed[0]] and _leads(head, line, found):
            suspects.append(line)
        else:
            break
    if suspects:
        found.tare_lines = tuple(line for line in suspects if line < first)
        lines = ", ".join(map(str, suspects))
        what = (
            f"are these values ahead of the record tare values, to be kept and not read as rows: "
            f"line {lines} ({head[suspects[0] - 1][:_SHOWN]})? List those lines that are, or none"
        )
        found.questions.append(Question("tare_lines", what, (lines, "none")))
    return first


def _fields(line: str, found: Found) -> list[str]:
    is_comment = bool(found.comment) and line.startswith(found.comment)
    fields = [] if is_comment else split_fields(line, found.delimiter) or []
    return fields if len(fields) == found.width else []


def _is_full(fields: list[str], typed: Sequence[int], width: int) -> bool:
    """Whether most columns of numbers have one here, and nothing says that they mean another."""
    if not fields or width < 2:
        return False
    words = " ".join(text for text in fields if any(sign.isalpha() for sign in text))
    told = bool(_TOLD.search(words))
    numbers = sum(_is_number(fields[column]) for column in typed)
    enough = 1 if told else max(2, (len(typed) - 1) * 0.75)
    return (told or not words) and numbers >= enough


def _leads(head: Sequence[str], line: int, found: Found) -> bool:
    """Whether the leading column is filled in the rows after the first few."""
    later = [_fields(text, found) for text in head[line + 2 : line + 12]]
    return bool(later) and all(fields and fields[0] for fields in later)


def _is_number(text: str) -> bool:
    try:
        float(text.replace(",", "."))
    except ValueError:
        return False
    return True
