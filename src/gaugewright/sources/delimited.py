r"""Delimited text of any recorder, read block by block as a person declared it.

``understand`` proposes and asks, a person answers, ``Layout`` is what was decided, ``read``
follows it. Rows in the file are rows kept plus rows reported, counted in the bytes.

Examples
--------
>>> from pathlib import Path
>>> from tempfile import TemporaryDirectory
>>> with TemporaryDirectory() as folder:
...     path = Path(folder) / "pull.csv"
...     _ = path.write_text("Time;Strain\n(s);(um/m)\n0,0;1,5\n0,1;OVERRANGE\n")
...     reading = read(path, understand(path).layout())
...     [block] = list(reading)
>>> block.values.rows(), block.elapsed_ns.to_list(), reading.report.accounted
([(1.5,), (None,)], [0, 100000000], True)
>>> block.marks[0].text
'OVERRANGE'
"""

from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import numpy.typing as npt
import polars as pl

from gaugewright.errors import FileError, InputError
from gaugewright.sources import doubled_hours, stamps, stream
from gaugewright.sources.blocks import (
    Block,
    Mark,
    Marks,
    Report,
    RowProblem,
    Runs,
    runs_from_cells,
)
from gaugewright.sources.layout import Clock, Column, Layout, Marker
from gaugewright.sources.lines import Cells
from gaugewright.sources.proposal import understand
from gaugewright.sources.regular import Piece, column_key, is_numeric, pieces
from gaugewright.sources.understanding import Question, Understanding

__all__ = [
    "TARE",
    "Block",
    "Clock",
    "Column",
    "Feed",
    "Layout",
    "Mark",
    "Marker",
    "Question",
    "Reading",
    "Report",
    "RowProblem",
    "Understanding",
    "read",
    "understand",
]

IntArray = npt.NDArray[np.int64]
TARE = "tare values"
SHOWN_TARE = 20_000  # a line of values of a few hundred channels is kept whole
AHEAD = 1  # pieces parsed while another is written; each holds some 100 MB meanwhile
Progress = Callable[[int, int], None]


def read(
    path: Path | str,
    layout: Layout,
    *,
    block_rows: int = 65_536,
    progress: Progress | None = None,
) -> "Reading":
    """Blocks of a file, in file order; memory doesn't grow with the file.

    Parameters
    ----------
    path : path
        The file as received.
    layout : Layout
        What a person confirmed.
    block_rows : int
        Rows of every block but the last.
    progress : callable, optional
        Called with bytes done and bytes in all after each piece of about 16 MB.

    Returns
    -------
    Reading
        Iterate over it for the blocks; its ``report`` is complete after the last.

    Raises
    ------
    FileError
        If the file can't be read.
    InputError
        If ``block_rows`` isn't positive.
    """
    if block_rows < 1:
        raise InputError("block_rows", block_rows, "1 or more")
    source = Path(path)
    if not source.is_file():
        raise FileError(source, "isn't there", do="check the path")
    return Reading(source, layout, block_rows, progress)


class Feed:
    """Lines in order, as they come, made into blocks with an account of every line."""

    def __init__(
        self, layout: Layout, block_rows: int, turns: tuple[doubled_hours.Turn, ...] = ()
    ) -> None:
        self.layout = layout
        self.report = Report(turns=[turn.why for turn in turns if turn.why])
        self._cells = Cells(layout)
        self._timeline = _Timeline(layout, self.report, turns)
        self._pending = _Pending(layout, block_rows)

    def take(self, lines: stream.Lines) -> None:
        """Parse whole lines; those before the first row of data are passed over."""
        self.parsed(lines, self.parse(lines))

    def parse(self, lines: stream.Lines) -> list[Piece]:
        """Whole lines parsed, none of them counted yet: other threads may do this ahead."""
        rows = _from_line(lines, self.layout.first_data_row)
        return pieces(rows.data, rows.first, self.layout, self._cells, open_end=rows.open_end)

    def parsed(self, lines: stream.Lines, found: list[Piece]) -> None:
        """Count lines and take the rows that were found in them, in the file's order."""
        for number in self.layout.tare_lines:
            if lines.first <= number < lines.first + lines.count:
                text = _text_of(lines, number)
                self.report.lines += 1
                self._pending.report(RowProblem(number, text, TARE, "a row of readings"))
        passed = min(max(self.layout.first_data_row - lines.first, 0), lines.count)
        self.report.lines += lines.count - passed
        self.report.last_line_open = lines.open_end and lines.count > passed
        for piece in found:
            self._add(piece)

    def full(self) -> Iterator[Block]:
        """Blocks that are full."""
        return self._counted(self._pending.full())

    def rest(self) -> Iterator[Block]:
        """Rows that wait for more, as the last block or as all there is so far."""
        return self._counted(self._pending.rest())

    def _add(self, piece: Piece) -> None:
        report = self.report
        elapsed, time_marks = self._timeline.elapsed(piece.frame, report.rows_kept)
        self._pending.add(piece, elapsed, report.rows_kept, time_marks)
        report.rows_kept += piece.frame.height
        report.blank_lines += piece.blank
        report.comment_lines += piece.comments

    def _counted(self, blocks: Iterator[Block]) -> Iterator[Block]:
        for block in blocks:
            self.report.add(block.marks, block.problems)
            yield block


class Reading(Iterator[Block]):
    """A file being read: an iterator of blocks with an account of every line."""

    def __init__(
        self, path: Path, layout: Layout, block_rows: int, progress: Progress | None
    ) -> None:
        self.path = path
        self.layout = layout
        self._feed = Feed(layout, block_rows, doubled_hours.looked_for(path, layout))
        self.report = self._feed.report
        self._progress = progress
        self._blocks = self._run()

    def __next__(self) -> Block:
        """Return the next block."""
        return next(self._blocks)

    def _run(self) -> Iterator[Block]:
        total = self.path.stat().st_size
        layout = self.layout
        for lines, found in self._ahead(
            stream.line_pieces(self.path, layout.encoding, line_end=layout.line_end)
        ):
            self._feed.parsed(lines, found)
            if self._progress is not None:
                self._progress(lines.done, total)
            yield from self._feed.full()
        yield from self._feed.rest()
        self.report.complete = True
        if not self.report.accounted:
            raise FileError(
                self.path,
                "lines counted in the bytes and lines accounted for differ",
                expected=f"{self.report.lines} lines",
                got=self.report,
                do="this is a fault of the importer: keep the file and report it",
            )

    def _ahead(
        self, pieces_of_file: Iterator[stream.Lines]
    ) -> Iterator[tuple[stream.Lines, list[Piece]]]:
        """Pieces in the file's order, the next one parsed while one is being dealt with."""
        waiting: deque[tuple[stream.Lines, Future[list[Piece]]]] = deque()
        with ThreadPoolExecutor(AHEAD) as workers:
            for lines in pieces_of_file:
                waiting.append((lines, workers.submit(self._feed.parse, lines)))
                if len(waiting) > AHEAD:
                    first, found = waiting.popleft()
                    yield first, found.result()
            while waiting:
                first, found = waiting.popleft()
                yield first, found.result()


def _text_of(lines: stream.Lines, number: int) -> str:
    """One line of a piece as text."""
    data = lines.data.split(b"\n", number - lines.first + 1)[number - lines.first]
    return data.decode("utf-8", errors="backslashreplace").removesuffix("\r")[:SHOWN_TARE]


def _from_line(lines: stream.Lines, first: int) -> stream.Lines:
    """The part of a piece from line ``first`` on."""
    data, skip = lines.data, min(max(first - lines.first, 0), lines.count)
    if not skip:
        return lines
    if skip == lines.count:
        return replace(lines, first=lines.first + skip, count=0, data=b"")
    begin = 0
    for _ in range(skip):
        begin = data.index(b"\n", begin) + 1
    return replace(lines, first=lines.first + skip, count=lines.count - skip, data=data[begin:])


class _Pending:
    """Rows that wait until a block is full."""

    def __init__(self, layout: Layout, block_rows: int) -> None:
        self._layout = layout
        self._block_rows = block_rows
        self._frames: list[pl.DataFrame] = []
        self._rows = 0
        self._first_row = 0
        self._marks: dict[int, list[Runs]] = {}
        self._problems: list[RowProblem] = []

    def add(
        self,
        piece: Piece,
        elapsed: pl.Series,
        first_row: int,
        time_marks: list[tuple[int, Runs]],
    ) -> None:
        self._problems += piece.problems
        if not piece.frame.height:
            return
        self._frames.append(piece.frame.with_columns(elapsed.alias("elapsed_ns")))
        self._rows += piece.frame.height
        for cell in piece.marks:
            name = self._layout.columns[cell.column].name
            runs = runs_from_cells(name, cell.rows + first_row, cell.texts, cell.codes)
            self._append(cell.column, runs)
        for column, runs in time_marks:
            self._append(column, runs)

    def _append(self, column: int, runs: Runs) -> None:
        known = self._marks.setdefault(column, [])
        if known and known[-1].goes_on_in(runs):
            known[-1] = known[-1].to_row(int(runs.last[0]))
            runs = runs.part(1, len(runs.first))
        if len(runs.first):
            known.append(runs)

    def report(self, problem: RowProblem) -> None:
        """Keep a line that is no row, to be told with the next block."""
        self._problems.append(problem)

    def full(self) -> Iterator[Block]:
        if self._rows < self._block_rows:
            return
        table = pl.concat(self._frames)
        while table.height >= self._block_rows:
            yield self._block(table.head(self._block_rows))
            table = table.slice(self._block_rows)
        self._frames, self._rows = [table], table.height

    def rest(self) -> Iterator[Block]:
        if self._rows:
            yield self._block(pl.concat(self._frames))
        elif self._problems:
            yield self._block(self._no_rows())
        self._frames, self._rows = [], 0

    def _no_rows(self) -> pl.DataFrame:
        schema: dict[str, type[pl.DataType]] = {
            column_key(i): pl.Float64 if is_numeric(self._layout, i) else pl.String
            for i, column in enumerate(self._layout.columns)
            if column.role != "empty"
        }
        return pl.DataFrame(schema={**schema, "elapsed_ns": pl.Int64})

    def _block(self, table: pl.DataFrame) -> Block:
        first, end = self._first_row, self._first_row + table.height
        problems, self._problems = tuple(self._problems), []
        self._first_row = end
        by_role: dict[str, dict[str, str]] = {"time": {}, "value": {}, "text": {}, "empty": {}}
        for position, column in enumerate(self._layout.columns):
            by_role[column.role][column_key(position)] = column.name
        parts = {
            role: table.select(list(names)).rename(names).rechunk()
            for role, names in by_role.items()
            if role != "empty"
        }
        elapsed = table["elapsed_ns"].rechunk()
        return Block(
            first,
            parts["time"],
            elapsed,
            parts["value"],
            parts["text"],
            self._marks_before(end),
            problems,
        )

    def _marks_before(self, end: int) -> Marks:
        taken: list[Runs] = []
        for column in sorted(self._marks):
            # Of small blocks many wait: those that begin later are not looked into each time.
            begun = [runs for runs in self._marks[column] if runs.first[0] < end]
            later = [runs for runs in self._marks[column] if runs.first[0] >= end]
            divided = [runs.divided(end) for runs in begun]
            taken += [here for here, _ in divided]
            self._marks[column] = [rest for _, rest in divided if len(rest.first)] + later
        return Marks(taken)


class _Timeline:
    """Elapsed time from the first row whose time is known, by the layout's clock."""

    def __init__(
        self, layout: Layout, report: Report, turns: tuple[doubled_hours.Turn, ...]
    ) -> None:
        self._layout = layout
        self._clock = layout.clock
        self._turns = turns
        self._report = report
        report.counted_time = layout.clock.kind == "rate"
        self._zone = stamps.zone_named(self._clock.zone)
        self._pattern = self._clock.stamp_pattern() if self._clock.kind == "stamp" else None
        self._start: float | int | None = None
        self._last: int | None = None

    def elapsed(
        self, frame: pl.DataFrame, first_row: int
    ) -> tuple[pl.Series, list[tuple[int, Runs]]]:
        """Nanoseconds of every row, null where they can't be known, and marks that say why."""
        kind = self._clock.kind
        marks: list[tuple[int, Runs]] = []
        if kind == "none" or not frame.height:
            return pl.Series("elapsed_ns", [None] * frame.height, dtype=pl.Int64), marks
        if kind == "rate":
            self._begin_evenly()
            rows = np.arange(first_row, first_row + frame.height, dtype=np.float64)
            ns = np.rint(rows * (1e9 / self._clock.rate_hz)).astype(np.int64)
        elif kind == "stamp":
            ns, marks = self._from_stamps(frame, first_row)
        else:
            ns = self._from_numbers(frame)
        unknown = ns == stamps.NO_TIME
        self._report.rows_without_time += int(unknown.sum())
        self._count_steps_back(ns[~unknown])
        series = pl.Series("elapsed_ns", ns)
        return (series.set(pl.Series(unknown), None) if unknown.any() else series), marks

    def _from_numbers(self, frame: pl.DataFrame) -> IntArray:
        numbers = frame[column_key(self._clock.columns[0])].to_numpy().astype(np.float64)
        known = np.isfinite(numbers)
        if self._start is None and known.any():
            self._start = float(numbers[known][0])
            self._say_start(repr(self._start), None)
        start = 0.0 if self._start is None else self._start
        seconds = (numbers - start) * self._clock.seconds_per_unit()
        known &= np.abs(seconds) < 9.2e9  # 64 bits of nanoseconds hold 292 years
        ns = np.full(len(numbers), stamps.NO_TIME, dtype=np.int64)
        ns[known] = np.rint(seconds[known] * 1e9).astype(np.int64)
        return ns

    def _from_stamps(
        self, frame: pl.DataFrame, first_row: int
    ) -> tuple[IntArray, list[tuple[int, Runs]]]:
        if self._pattern is None:
            raise InputError("clock", self._clock.kind, "stamp")
        keys = [column_key(position) for position in self._clock.columns]
        texts: list[str] = frame[keys[0]].to_list()
        if len(keys) > 1:
            texts = [" ".join(parts) for parts in frame.select(keys).iter_rows()]
        ns, offset = stamps.local_ns(texts, self._pattern)
        codes = np.where(ns == stamps.NO_TIME, "time_unreadable", "").astype(object)
        if self._clock.epoch and not self._pattern.has_date:
            ns = np.where(ns == stamps.NO_TIME, ns, ns + stamps.epoch_ns(self._clock.epoch))
        if self._pattern.has_offset:
            ns = np.where(ns == stamps.NO_TIME, ns, ns - offset)
        elif self._zone is not None:
            local = ns
            ns, masks = stamps.utc_ns(ns, self._zone)
            for turn in self._turns:
                inside = masks["hour_twice"] & (local >= turn.begins) & (local < turn.ends)
                rows = np.flatnonzero(inside)
                ns[rows] = turn.instants(local[rows], rows + first_row)
            for code, mask in masks.items():
                codes[mask] = code
        known = ns != stamps.NO_TIME
        if self._start is None and known.any():
            self._start = int(ns[known][0])
            self._say_start(texts[int(np.flatnonzero(known)[0])], self._start)
        ns[known] -= int(self._start or 0)
        rows = np.flatnonzero(~known).astype(np.int64)
        if not len(rows):
            return ns, []
        column = self._clock.columns[0]
        name = self._layout.columns[column].name
        said, why = [texts[row] for row in rows], [str(codes[row]) for row in rows]
        return ns, [(column, runs_from_cells(name, rows + first_row, said, why))]

    def _begin_evenly(self) -> None:
        """Where rows come evenly, the first is of the instant that was stated, if one was."""
        epoch = self._clock.epoch
        if self._start is not None or not epoch:
            return
        self._start = stamps.epoch_ns(epoch)
        local = np.array([self._start])
        utc = local if self._zone is None else stamps.utc_ns(local, self._zone)[0]
        self._say_start(epoch, int(utc[0]))

    def _say_start(self, text: str, start_ns: int | None) -> None:
        """Keep the first stamp, and its instant where the zone is known."""
        report, clock = self._report, self._clock
        report.start_text = text
        if clock.kind == "epoch" and isinstance(self._start, float) and self._zone is not None:
            seconds = self._start * clock.seconds_per_unit()
            whole = int(seconds)  # a century in nanoseconds is more than a float holds
            local = stamps.epoch_ns(clock.epoch) + whole * 10**9 + round((seconds - whole) * 1e9)
            start_ns = int(stamps.utc_ns(np.array([local]), self._zone)[0][0])
        known = self._zone is not None or (self._pattern is not None and self._pattern.has_offset)
        dated = self._pattern is None or self._pattern.has_date or bool(clock.epoch)
        if start_ns not in (None, stamps.NO_TIME) and known and dated:
            moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=start_ns // 1000)
            report.start_utc = moment.isoformat(timespec="microseconds").replace("+00:00", "Z")

    def _count_steps_back(self, known: IntArray) -> None:
        if not len(known):
            return
        before = known[0] if self._last is None else self._last
        steps = np.diff(known, prepend=before)
        back = steps[steps < 0]
        self._last = int(known[-1])
        self._report.steps_back += len(back)
        if len(back):
            most = max(self._report.largest_step_back_ns, int(-back.min()))
            self._report.largest_step_back_ns = most
