"""What an importer hands on: blocks of rows, marks for cells without a number, rows not kept."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import repeat
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import polars as pl

__all__ = ["Block", "Mark", "Report", "RowProblem", "marks_from_cells"]

# Longer texts are cut where they are kept for people to see; the original file stays whole.
SHOWN = 200


class Mark(NamedTuple):
    """Consecutive rows of one column without a number, and what was written there.

    Rows count from the recording's first kept row, ``last_row`` included.
    """

    column: str
    first_row: int
    last_row: int
    code: str
    text: str

    @property
    def cells(self) -> int:
        """How many there are."""
        return self.last_row - self.first_row + 1


@dataclass(frozen=True, slots=True)
class RowProblem:
    """A line of the data section that isn't a row: its number from 1, text and why."""

    line: int
    text: str
    what: str
    expected: str


@dataclass(frozen=True, slots=True)
class Block:
    """Rows in file order. ``values`` are in the file's units; missing numbers are null.

    ``times`` keeps every time column as written (numbers or text), ``texts`` the text columns;
    ``elapsed_ns`` counts from the recording's first row whose time is known, null where it isn't.
    """

    first_row: int
    times: pl.DataFrame
    elapsed_ns: pl.Series
    values: pl.DataFrame
    texts: pl.DataFrame
    marks: tuple[Mark, ...]
    problems: tuple[RowProblem, ...]

    @property
    def rows(self) -> int:
        """Number of rows."""
        return len(self.elapsed_ns)


@dataclass(slots=True)
class Report:
    """The account of a reading: ``lines`` were counted in the bytes, the rest by the parsers.

    After the last block ``lines == rows_kept + rows_reported + blank_lines + comment_lines``.
    """

    lines: int = 0
    rows_kept: int = 0
    rows_reported: int = 0
    blank_lines: int = 0
    comment_lines: int = 0
    marks: dict[str, dict[str, int]] = field(default_factory=dict)
    problems: dict[str, int] = field(default_factory=dict)
    rows_without_time: int = 0
    steps_back: int = 0
    largest_step_back_ns: int = 0
    last_line_open: bool = False
    start_text: str = ""
    start_utc: str = ""
    counted_time: bool = False
    turns: list[str] = field(default_factory=list)
    complete: bool = False

    @property
    def accounted(self) -> bool:
        """Whether every line of the data section is somewhere."""
        others = self.rows_reported + self.blank_lines + self.comment_lines
        return self.lines == self.rows_kept + others

    def add(self, marks: Iterable[Mark], problems: Iterable[RowProblem]) -> None:
        """Count marks and rows not kept."""
        counts: dict[tuple[str, str], int] = {}
        for name, first, last, code, _ in marks:
            counts[name, code] = counts.get((name, code), 0) + last - first + 1
        for (name, code), count in counts.items():
            column = self.marks.setdefault(name, {})
            column[code] = column.get(code, 0) + count
        for problem in problems:
            self.rows_reported += 1
            self.problems[problem.what] = self.problems.get(problem.what, 0) + 1

    def findings(self) -> tuple[str, ...]:
        """What a person should know, one sentence each."""
        said: list[str] = []
        if self.complete and not self.rows_kept:
            said.append("no line could be kept as a row: the layout doesn't fit this file")
        if self.counted_time and self.rows_reported:
            said.append("time comes from counting rows, so every line not kept shifts what follows")
        if self.rows_reported:
            kinds = ", ".join(f"{what}: {count}" for what, count in sorted(self.problems.items()))
            said.append(f"{self.rows_reported} line(s) of {self.lines} are not rows ({kinds})")
        if "tare values" in self.problems:
            said.append("tare values stand ahead of the record: kept with it, taken off nothing")
        if self.steps_back:
            said.append(
                f"the clock goes backwards on {self.steps_back} of "
                f"{max(self.rows_kept - 1, 0)} steps, "
                f"at most by {self.largest_step_back_ns / 1e9:.6g} s; rows stay in file order"
            )
        said += self.turns
        skipped = sum(codes.get("hour_missing", 0) for codes in self.marks.values())
        if skipped:
            said.append(
                f"{skipped} row(s) are in an hour that the zone skipped when its clocks went "
                "forward: this recorder's clock wasn't, so state the offset it showed, such as "
                "+01:00, instead of the zone"
            )
        if self.rows_without_time:
            said.append(f"{self.rows_without_time} row(s) have no time that can be known")
        if self.last_line_open:
            said.append("the last line has no line end: its last cell may have been cut short")
        return tuple(said)


def marks_from_cells(
    column: str,
    rows: npt.NDArray[np.int64],
    texts: Sequence[str],
    codes: Sequence[str],
) -> list[Mark]:
    """Marks from single cells in row order: neighbours with the same text become one mark."""
    if not texts:
        return []
    at, shown = rows.tolist(), texts
    if max(map(len, texts)) > SHOWN:
        shown = [text[:SHOWN] for text in texts]
    beside = np.diff(rows) == 1
    if not beside.any():  # the usual case where many single cells are marked
        return list(map(Mark._make, zip(repeat(column), at, at, codes, shown, strict=False)))
    firsts = [0, *(np.flatnonzero(~beside) + 1).tolist()]
    firsts += [
        n
        for n in (np.flatnonzero(beside) + 1).tolist()
        if texts[n] != texts[n - 1] or codes[n] != codes[n - 1]
    ]
    firsts.sort()
    lasts = [*(n - 1 for n in firsts[1:]), len(at) - 1]
    return [
        Mark(column, at[first], at[last], codes[first], shown[first])
        for first, last in zip(firsts, lasts, strict=True)
    ]
