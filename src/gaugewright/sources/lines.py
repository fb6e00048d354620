"""What one line and one cell of a delimited file say, decided one at a time.

This is the careful path: it names every line that isn't a row and every cell that isn't a
number. ``regular`` must give the same result faster, and falls back to this.
"""

import math
import re
from dataclasses import dataclass, field

from gaugewright.sources.blocks import SHOWN, RowProblem
from gaugewright.sources.layout import BLANKS, Layout

__all__ = ["PADDING", "Cells", "Rows", "parse_lines", "split_fields"]

# Taken off both ends of every field; a tab only where it isn't the delimiter.
PADDING = " \t"

_ROW_OF_SIGNS = re.compile(r"[+-]?(\*+|#{2,})")
_BLANKS = re.compile(f"[{PADDING}]+")
_PLAIN_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)


class Cells:
    """The meaning of a cell's text under one layout."""

    def __init__(self, layout: Layout) -> None:
        self._decimal = layout.decimal
        self._thousands = layout.thousands
        self._grouped = None
        if layout.thousands:
            mark = (
                r"[ \u00a0\u202f\u2009]" if layout.thousands == " " else re.escape(layout.thousands)
            )
            point = re.escape(layout.decimal)
            self._group_mark = re.compile(mark)
            self._grouped = re.compile(
                rf"[+-]?[1-9]\d{{0,2}}({mark}\d{{3}})+({point}\d*)?([eE][+-]?\d+)?", re.ASCII
            )
        self._words = {marker.text.casefold(): marker.code for marker in layout.text_markers}
        self._numbers = {
            layout.number_of_marker(marker): marker.code for marker in layout.numeric_markers
        }

    @property
    def numeric_markers(self) -> dict[float, str]:
        """Numbers that mean "no reading", with their codes."""
        return self._numbers

    def number(self, text: str) -> float | None:
        """Number written in ``text`` with this file's marks, or None."""
        if self._grouped is not None and self._grouped.fullmatch(text):
            text = self._group_mark.sub("", text)
        if self._decimal == ",":
            if "." in text:
                return None
            text = text.replace(",", ".", 1)
        return float(text) if _PLAIN_NUMBER.fullmatch(text) else None

    def value(self, text: str, *, markers: bool = True) -> tuple[float | None, str]:
        """Number, or None with the code of the mark that stands in its place."""
        text = text.strip(PADDING)
        if not text:
            return None, "empty"
        number = self.number(text)
        if number is None:
            return None, self.word(text)
        if not math.isfinite(number):
            return None, "out_of_float"
        code = self._numbers.get(number, "") if markers and self._numbers else ""
        return (None, code) if code else (number, "")

    def word(self, text: str) -> str:
        """Code of a text that isn't a number."""
        code = self._words.get(text.casefold())
        if code is None:
            return "overrange" if _ROW_OF_SIGNS.fullmatch(text) else "unreadable"
        return code


@dataclass(slots=True)
class Rows:
    """Fields of the lines that are rows, by column, and an account of the others."""

    fields: list[list[str]]
    kept: int = 0
    blank: int = 0
    comments: int = 0
    problems: list[RowProblem] = field(default_factory=list)


def split_fields(line: str, delimiter: str, quote: str = '"') -> list[str] | None:
    """Fields of one line without padding, or None when a quote is left open.

    A quoted field may hold delimiters, and doubled quotes that stand for one.
    """
    if delimiter == BLANKS and (not quote or quote not in line):
        # Not str.split(): it would also divide at no-break blanks inside numbers.
        bare = line.strip(PADDING)
        return _BLANKS.split(bare) if bare else []
    if not quote or quote not in line:
        return [part.strip(PADDING) for part in line.split(delimiter)]
    fields: list[str] = []
    position, length = 0, len(line)
    while True:
        while position < length and line[position] in PADDING and line[position] != delimiter:
            position += 1
        if delimiter == BLANKS and position < length and line[position] in PADDING:
            position += 1
            continue
        if position < length and line[position] == quote:
            text, position = _quoted(line, position + 1, quote)
            if position < 0:
                return None
        else:
            text = ""
        end = _next(line, position, delimiter)
        rest = line[position:end].strip(PADDING)
        if not (delimiter == BLANKS and position >= length and not text and not rest):
            fields.append(text + rest)
        if end >= length:
            return fields
        position = end + 1


def _next(line: str, position: int, delimiter: str) -> int:
    found = [line.find(mark, position) for mark in (PADDING if delimiter == BLANKS else delimiter)]
    return min((place for place in found if place >= 0), default=len(line))


def _quoted(line: str, position: int, quote: str) -> tuple[str, int]:
    parts: list[str] = []
    while True:
        end = line.find(quote, position)
        if end < 0:
            return "", -1
        parts.append(line[position:end])
        if line[end + 1 : end + 2] != quote:
            return "".join(parts), end + 1
        parts.append(quote)
        position = end + 2


def parse_lines(data: bytes, first_line: int, layout: Layout, *, open_end: bool = False) -> Rows:
    """Every line of ``data`` (each ended by a line feed) as a row or as something reported."""
    wanted = len(layout.columns)
    spare = 0  # columns at the end that hold nothing need not be written
    while spare < wanted - 1 and layout.columns[wanted - 1 - spare].role == "empty":
        spare += 1
    blanks = PADDING if layout.delimiter == BLANKS else " "
    heads = {text.strip() for text in layout.head_texts}
    rows = Rows(fields=[[] for _ in layout.columns])
    lines = data.decode("utf-8", errors="backslashreplace").split("\n")[:-1]
    for number, raw in enumerate(lines, start=first_line):
        line = raw.removesuffix("\r")
        if wanted > 1 and not line.strip(blanks):
            rows.blank += 1
            continue
        if layout.comment and line.startswith(layout.comment):
            rows.comments += 1
            continue
        is_last = open_end and number == first_line + len(lines) - 1
        fields, problem = _row(line, layout, heads, (wanted - spare, wanted), is_last)
        if fields is None:
            what, expected = problem
            rows.problems.append(RowProblem(number, line[:SHOWN], what, expected))
            continue
        rows.kept += 1
        for position, column in enumerate(rows.fields):
            column.append(fields[position] if position < len(fields) else "")
    return rows


def _row(
    line: str, layout: Layout, heads: set[str], counts: tuple[int, int], is_last: bool
) -> tuple[list[str] | None, tuple[str, str]]:
    """Fields of a line, or None and why it isn't a row."""
    fewest, most = counts
    expected = f"{most} fields divided by {_spoken(layout.delimiter)}"
    if "\x00" in line:
        return None, ("NUL bytes", expected)
    if not line.strip("\x1a \r"):
        what = "end-of-file sign" if "\x1a" in line else "blank line"
        return None, (what, "nothing after the last row" if "\x1a" in line else expected)
    if heads and line.strip() in heads:
        return None, ("head repeated", "a row; the recording was probably restarted here")
    fields = split_fields(line, layout.delimiter, layout.quote)
    if fields is None:
        return None, ("quote left open", expected)
    if not fewest <= len(fields) <= most:
        cut = is_last and len(fields) < fewest
        what = "last line cut short" if cut else f"{len(fields)} fields instead of {most}"
        return None, (what, expected)
    return fields, ("", "")


def _spoken(delimiter: str) -> str:
    return {"\t": "a tab", BLANKS: "blanks"}.get(delimiter, delimiter)
