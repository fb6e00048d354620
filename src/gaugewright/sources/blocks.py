"""What an importer hands on: blocks of rows, marks for cells without a number, rows not kept."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import NamedTuple, overload

import numpy as np
import numpy.typing as npt
import polars as pl

__all__ = ["Block", "Mark", "Marks", "Report", "RowProblem", "Runs", "runs_from_cells"]

IntArray = npt.NDArray[np.int64]

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
class Runs:
    """Marks of one column in order of rows: first and last rows, codes and texts beside them."""

    column: str
    first: IntArray
    last: IntArray
    codes: Sequence[str]
    texts: Sequence[str]

    def part(self, begin: int, end: int) -> "Runs":
        """Some of them, counted from 0, ``end`` excluded."""
        cut = slice(begin, end)
        return Runs(self.column, self.first[cut], self.last[cut], self.codes[cut], self.texts[cut])

    def divided(self, row: int) -> tuple["Runs", "Runs"]:
        """What lies before a row, and the rest; a mark that reaches across is cut in two."""
        count, size = int(np.searchsorted(self.first, row)), len(self.first)
        if not count or self.last[count - 1] < row:
            return self.part(0, count), self.part(count, size)
        here, later = self.part(0, count), self.part(count - 1, size)
        last, first = here.last.copy(), later.first.copy()
        last[-1], first[0] = row - 1, row
        return replace(here, last=last), replace(later, first=first)

    def goes_on_in(self, later: "Runs") -> bool:
        """Whether the first of ``later`` is the last one here, continued in the next row."""
        same = (self.codes[-1], self.texts[-1]) == (later.codes[0], later.texts[0])
        return same and bool(self.last[-1] + 1 == later.first[0])

    def to_row(self, last_row: int) -> "Runs":
        """The same with the last mark reaching to another row."""
        last = self.last.copy()
        last[-1] = last_row
        return replace(self, last=last)


class Marks(Sequence[Mark]):
    """Marks of a block in order of rows, then of columns; kept as columns until one is asked for.

    A file may hold a word in one cell of a hundred: a hundred thousand marks in a block.
    """

    def __init__(self, runs: Iterable[Runs] = ()) -> None:
        self._runs = tuple(one for one in runs if len(one.first))

    def __len__(self) -> int:
        """How many marks there are."""
        return sum(len(one.first) for one in self._runs)

    def __iter__(self) -> Iterator[Mark]:
        """Each mark in order."""
        return iter(self._made)

    @overload
    def __getitem__(self, place: int) -> Mark: ...
    @overload
    def __getitem__(self, place: slice) -> Sequence[Mark]: ...
    def __getitem__(self, place: int | slice) -> Mark | Sequence[Mark]:
        """One mark, or some."""
        return self._made[place]

    def cells(self) -> dict[tuple[str, str], int]:
        """How many cells of each column and code."""
        counts: Counter[tuple[str, str]] = Counter()
        for one in self._runs:
            sizes = one.last - one.first + 1
            if len(set(one.codes)) == 1:
                counts[one.column, one.codes[0]] += int(sizes.sum())
                continue
            for code, size in zip(one.codes, sizes.tolist(), strict=True):
                counts[one.column, code] += size
        return dict(counts)

    def table(self) -> pl.DataFrame:
        """Columns ``column``, ``first_row``, ``last_row``, ``code`` and ``text``."""
        parts = [
            pl.DataFrame(
                {
                    "first_row": one.first,
                    "last_row": one.last,
                    "code": pl.Series(one.codes, dtype=pl.String),
                    "text": pl.Series(one.texts, dtype=pl.String),
                }
            ).select(pl.lit(one.column).alias("column"), pl.all())
            for one in self._runs
        ]
        return pl.concat(parts).sort("first_row", maintain_order=True) if parts else _NO_MARKS

    @cached_property
    def _made(self) -> tuple[Mark, ...]:
        return tuple(map(Mark._make, self.table().iter_rows()))


_NO_MARKS = pl.DataFrame(
    schema={
        "column": pl.String,
        "first_row": pl.Int64,
        "last_row": pl.Int64,
        "code": pl.String,
        "text": pl.String,
    }
)


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
    marks: Marks
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

    def add(self, marks: Marks, problems: Iterable[RowProblem]) -> None:
        """Count marks and rows not kept."""
        for (name, code), count in marks.cells().items():
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


def runs_from_cells(
    column: str, rows: IntArray, texts: Sequence[str], codes: Sequence[str]
) -> Runs:
    """Marks from single cells in row order: neighbours with the same text become one mark."""
    shown = texts
    if max(map(len, texts), default=0) > SHOWN:
        shown = [text[:SHOWN] for text in texts]
    beside = np.diff(rows) == 1
    if not beside.any():  # the usual case where many single cells are marked
        return Runs(column, rows, rows, codes, shown)
    firsts = [0, *(np.flatnonzero(~beside) + 1).tolist()]
    firsts += [
        n
        for n in (np.flatnonzero(beside) + 1).tolist()
        if texts[n] != texts[n - 1] or codes[n] != codes[n - 1]
    ]
    firsts.sort()
    lasts = [*(n - 1 for n in firsts[1:]), len(rows) - 1]
    return Runs(
        column, rows[firsts], rows[lasts], [codes[n] for n in firsts], [shown[n] for n in firsts]
    )
