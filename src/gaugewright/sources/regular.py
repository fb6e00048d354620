"""Regular stretches of a delimited file read at the speed of the table engine.

Three traps are closed here: an engine pads short lines with nulls (fields are counted in the
bytes first), takes a point as decimal mark in a decimal-comma file (points are counted), and
turns every unknown word into null (each null is looked up in the bytes and must be explained).
"""

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import numpy.typing as npt
import polars as pl

from gaugewright.sources.blocks import RowProblem
from gaugewright.sources.layout import BLANKS, Layout
from gaugewright.sources.lines import PADDING, Cells, Rows, parse_lines

__all__ = ["CellMarks", "Piece", "column_key", "is_numeric", "pieces"]

IntArray = npt.NDArray[np.int64]

# Below this a stretch with an odd line in it is parsed line by line.
SMALL = 1 << 16
_PARTS = 8
# More odd lines than this in one stretch: divide it evenly and look again.
_MOST_CUTS = 200

_BLANK_LINE = re.compile(rb"^[ \t\r]*$(?!\Z)", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class CellMarks:
    """Cells of one column without a number: rows within the piece, texts and codes."""

    column: int
    rows: IntArray
    texts: list[str]
    codes: list[str]


@dataclass(frozen=True, slots=True)
class Piece:
    """Consecutive lines, parsed: the rows as a table and an account of the other lines."""

    frame: pl.DataFrame
    marks: list[CellMarks]
    problems: list[RowProblem] = field(default_factory=list)
    blank: int = 0
    comments: int = 0


def column_key(position: int) -> str:
    """Name of a column inside the tables of pieces; a file's own names come later."""
    return f"c{position}"


def is_numeric(layout: Layout, position: int) -> bool:
    """Whether a column is read as numbers: values, and times not written as stamps."""
    column = layout.columns[position]
    if column.role == "value":
        return True
    if column.role != "time":
        return False
    if position in layout.clock.columns:
        return layout.clock.kind in ("elapsed", "epoch")
    return bool(column.unit)


def pieces(
    data: bytes, first_line: int, layout: Layout, cells: Cells, *, open_end: bool = False
) -> list[Piece]:
    """Parse whole lines: fast where they are regular, line by line around what isn't."""
    if not data:
        return []
    piece = _regular(data, layout, cells)
    if piece is not None:
        return [piece]
    if len(data) <= SMALL:
        return [from_rows(parse_lines(data, first_line, layout, open_end=open_end), layout, cells)]
    found: list[Piece] = []
    for cut in _cuts(data, layout):
        part, is_last = cut.data, open_end and cut.ends_it
        piece = _regular(part, layout, cells, known=cut.shape) if cut.shape is not None else None
        if piece is not None:
            found.append(piece)
        elif cut.lines == 1:
            rows = parse_lines(part, first_line, layout, open_end=is_last)
            found.append(from_rows(rows, layout, cells))
        else:
            found += pieces(part, first_line, layout, cells, open_end=is_last)
        first_line += cut.lines
    return found


@dataclass(frozen=True, slots=True)
class _Cut:
    """Some of the lines; their shape where each was found to have its share of delimiters."""

    data: bytes
    lines: int
    ends_it: bool
    shape: "_Shape | None"


def _cuts(data: bytes, layout: Layout) -> Iterator[_Cut]:
    """Lines that aren't regular as a whole, divided: around the odd ones, if they are few."""
    signs = np.frombuffer(data, dtype=np.uint8)
    ends = np.flatnonzero(signs == ord("\n"))
    marks = None
    if layout.delimiter != BLANKS:
        marks = np.flatnonzero(signs == ord(layout.delimiter))
    odd = _odd_lines(data, signs, ends, marks, layout)
    border = np.flatnonzero(odd[1:] | odd[:-1])
    are_few = 0 < len(border) <= _MOST_CUTS
    if not are_few:
        step = max(len(ends) // _PARTS, 1)
        border = np.arange(step - 1, len(ends) - 1, step)
    first = 0
    for last in [*border.tolist(), len(ends) - 1]:
        begin, end = int(ends[first - 1]) + 1 if first else 0, int(ends[last]) + 1
        part, shape = data[begin:end], None
        if are_few and marks is not None and len(layout.columns) > 1 and not odd[first]:
            shape = _shape_within(part, marks, ends[first : last + 1], begin, layout)
        yield _Cut(part, last - first + 1, end == len(data), shape)
        first = last + 1


def _shape_within(
    part: bytes, marks: IntArray, ends: IntArray, begin: int, layout: Layout
) -> "_Shape":
    """Shape of even lines from what was found in the lines they are a part of."""
    first, last = np.searchsorted(marks, [begin, begin + len(part)]).tolist()
    ends = ends - begin
    begins = np.r_[0, ends[:-1] + 1]
    wanted = len(layout.columns)
    return _Shape(part, layout.delimiter.encode(), begins, ends, wanted, marks[first:last] - begin)


def _odd_lines(
    data: bytes,
    signs: npt.NDArray[np.uint8],
    ends: IntArray,
    marks: IntArray | None,
    layout: Layout,
) -> npt.NDArray[np.bool_]:
    """Lines with another number of delimiters, or with signs that the fast path refuses."""
    if marks is None:
        odd = np.zeros(len(ends), dtype=np.bool_)
    else:
        odd = np.diff(np.searchsorted(marks, ends), prepend=0) != len(layout.columns) - 1
    for sign in ("\x00", "\x1a", layout.quote):
        if sign and sign.encode() in data:
            odd[np.searchsorted(ends, np.flatnonzero(signs == ord(sign)))] = True
    heads = [head.strip().encode() for head in layout.head_texts]
    places = [place for head in heads if head for place in _places(data, head)]
    if layout.comment:
        comment = layout.comment.encode()
        places += [place + 1 for place in _places(data, b"\n" + comment)]
        places += [0] if data.startswith(comment) else []
    if b"\r" in data and data.count(b"\r") != data.count(b"\r\n"):
        places += [match.start() for match in re.finditer(rb"\r(?!\n)", data)]
    odd[np.searchsorted(ends, places)] = True
    return odd


def _places(data: bytes, text: bytes) -> list[int]:
    found: list[int] = []
    place = data.find(text)
    while place >= 0:
        found.append(place)
        place = data.find(text, place + 1)
    return found


def from_rows(rows: Rows, layout: Layout, cells: Cells) -> Piece:
    """Piece from fields that were split line by line."""
    series: list[pl.Series] = []
    marks: list[CellMarks] = []
    for position, texts in enumerate(rows.fields):
        role = layout.columns[position].role
        key = column_key(position)
        if is_numeric(layout, position):
            read = [cells.value(text, markers=role == "value") for text in texts]
            series.append(pl.Series(key, [number for number, _ in read], dtype=pl.Float64))
            odd = [row for row, (_, code) in enumerate(read) if code]
            codes = [read[row][1] for row in odd]
        else:
            if role != "empty":
                series.append(pl.Series(key, texts, dtype=pl.String))
            odd = [row for row, text in enumerate(texts) if text] if role == "empty" else []
            codes = ["unexpected"] * len(odd)
        if odd:
            where = np.asarray(odd, dtype=np.int64)
            marks.append(CellMarks(position, where, [texts[row] for row in odd], codes))
    return Piece(_frame(series, rows.kept), marks, rows.problems, rows.blank, rows.comments)


def _frame(series: list[pl.Series], height: int) -> pl.DataFrame:
    # A table without columns has no height, so a row number keeps it.
    return pl.DataFrame([pl.Series("row", np.arange(height, dtype=np.int64)), *series])


@dataclass(frozen=True)  # without slots: delimiters are found at the first asking
class _Shape:
    """Where fields begin and end in lines that all have the same number of them."""

    data: bytes
    delimiter: bytes
    begins: IntArray
    ends: IntArray
    wanted: int
    marks: IntArray | None = None  # places of the delimiters where they were found before

    @cached_property
    def grid(self) -> IntArray:
        """Places of the delimiters, a row for each line."""
        marks = self.marks
        if self.wanted == 1:
            marks = np.empty(0, dtype=np.int64)
        elif marks is None:
            signs = np.frombuffer(self.data, dtype=np.uint8)
            marks = np.flatnonzero(signs == ord(self.delimiter))
        return marks.reshape(len(self.ends), self.wanted - 1)

    @property
    def is_even(self) -> bool:
        """Whether every line has its own share of the delimiters, not only all of them together."""
        if self.wanted == 1:
            return True
        inside = self.grid[:, -1] < self.ends
        return bool(inside.all() and (self.grid[1:, 0] > self.ends[:-1]).all())

    def cells(self, column: int, rows: IntArray) -> list[bytes]:
        """Fields of a column as they stand in the file."""
        begins = self.begins[rows] if column == 0 else self.grid[rows, column - 1] + 1
        ends = self.ends[rows] if column == self.wanted - 1 else self.grid[rows, column]
        data = self.data
        return [data[begin:end] for begin, end in zip(begins.tolist(), ends.tolist(), strict=True)]

    def texts(self, column: int, rows: IntArray) -> list[str]:
        """Fields of a column without padding."""
        return [_text(cell) for cell in self.cells(column, rows)]


def _text(cell: bytes) -> str:
    return cell.decode("utf-8", errors="backslashreplace").strip(PADDING + "\r")


def _regular(
    data: bytes, layout: Layout, cells: Cells, *, known: _Shape | None = None
) -> Piece | None:
    """Lines at the engine's speed; None unless they are even and hold nothing odd.

    ``known`` is the shape of lines that were looked at one by one: even, no oddity, no quote.
    """
    if known is None and _has_oddities(data, layout):
        return None
    delimiter, quote = layout.delimiter.encode(), layout.quote.encode()
    if known is None and quote and quote in data:
        unquoted = _unquoted(data, quote, delimiter)
        if unquoted is None:
            return None
        data = unquoted
    data, padded = _without_padding(data, delimiter)
    wanted = len(layout.columns)
    shape = known if known and not padded else _shape(data, delimiter, wanted)
    if shape is None:
        return None
    frame = _table(data, delimiter, layout)
    if frame is None or frame.height != len(shape.ends):
        return None
    # As many delimiters as there should be in all, and no line short of its last number: then
    # no line has too many either. Otherwise each line is looked at.
    full = is_numeric(layout, wanted - 1) and not frame.to_series(wanted - 1).null_count()
    if not known and not full and not shape.is_even:
        return None
    if layout.decimal == "," and not _points_explained(data, frame):
        return None
    return _explained(frame, shape, layout, cells, padded=padded)


def _has_oddities(data: bytes, layout: Layout) -> bool:
    """Anything whose meaning depends on more than the cell it stands in."""
    if b"\x00" in data or b"\x1a" in data:
        return True
    if layout.comment:
        comment = layout.comment.encode()
        if data.startswith(comment) or b"\n" + comment in data:
            return True
    if any(head.strip() and head.strip().encode() in data for head in layout.head_texts):
        return True
    return b"\r" in data and data.count(b"\r") != data.count(b"\r\n")


def _unquoted(data: bytes, quote: bytes, delimiter: bytes) -> bytes | None:
    """Lines without their quotes, where quotes only stand around whole plain fields."""
    signs = np.frombuffer(data, dtype=np.uint8)
    quotes = np.flatnonzero(signs == ord(quote))
    if len(quotes) % 2 or b" " + quote in data or quote + b" " in data:
        return None
    if delimiter != b"\t" and b"\t" in data:
        return None  # padding may be inside the quotes
    opening, closing = quotes[0::2], quotes[1::2]
    borders = np.flatnonzero((signs == ord(delimiter)) | (signs == ord("\n")))
    if (np.searchsorted(borders, opening) != np.searchsorted(borders, closing)).any():
        return None  # a delimiter inside quotes
    before = signs[np.maximum(opening - 1, 0)]
    after = signs[np.minimum(closing + 1, len(signs) - 1)]
    fine = (before == ord(delimiter)) | (before == ord("\n")) | (opening == 0)
    fine &= (after == ord(delimiter)) | (after == ord("\n")) | (after == ord("\r"))
    return data.replace(quote, b"") if fine.all() else None


def _without_padding(data: bytes, delimiter: bytes) -> tuple[bytes, bool]:
    if delimiter == BLANKS.encode():
        data = re.sub(rb"[ \t]+", b" ", data).replace(b" \r\n", b"\r\n")
        data = data.replace(b"\n ", b"\n").replace(b" \n", b"\n")
        return data.removeprefix(b" "), True
    if b" " not in data:
        return data, False
    found = (b" " + delimiter, delimiter + b" ", b"\n ", b" \n", b" \r")
    padded = data.startswith(b" ") or any(mark in data for mark in found)
    if padded:
        mark = re.escape(delimiter)
        data = re.sub(rb" *" + mark + rb" *", lambda _: delimiter, data)
    return data, padded


def _shape(data: bytes, delimiter: bytes, wanted: int) -> _Shape | None:
    signs = np.frombuffer(data, dtype=np.uint8)
    ends = np.flatnonzero(signs == ord("\n"))
    begins = np.r_[0, ends[:-1] + 1]
    if wanted == 1:
        if delimiter in data or _BLANK_LINE.search(data):
            return None  # a blank line would pass for an empty cell
        return _Shape(data, delimiter, begins, ends, wanted)
    if np.count_nonzero(signs == ord(delimiter)) != len(ends) * (wanted - 1):
        return None
    return _Shape(data, delimiter, begins, ends, wanted)


def _table(data: bytes, delimiter: bytes, layout: Layout) -> pl.DataFrame | None:
    schema: dict[str, type[pl.DataType]] = {
        column_key(position): pl.Float64 if is_numeric(layout, position) else pl.String
        for position in range(len(layout.columns))
    }
    try:
        return pl.read_csv(
            data,
            has_header=False,
            schema=schema,
            separator=delimiter.decode(),
            quote_char=None,
            decimal_comma=layout.decimal == ",",
            ignore_errors=True,
        )
    except pl.exceptions.PolarsError:
        return None  # broken UTF-8 in a text column: the careful path spells it out


def _points_explained(data: bytes, frame: pl.DataFrame) -> bool:
    points = data.count(b".") if b"." in data else 0
    for series in frame.iter_columns():
        if points and series.dtype == pl.String:
            points -= int(series.str.count_matches(".", literal=True).sum() or 0)
    return points == 0


def _explained(
    frame: pl.DataFrame, shape: _Shape, layout: Layout, cells: Cells, *, padded: bool
) -> Piece:
    series: list[pl.Series] = []
    marks: list[CellMarks] = []
    odd = _odd_rows(frame, layout, cells)
    for position, column in enumerate(layout.columns):
        got = frame.to_series(position)
        if is_numeric(layout, position):
            if got.name in odd:
                where = shape, position, odd[got.name]
                got, found = _numbers(got, cells, *where, markers=column.role == "value")
                marks += found
        elif column.role == "empty":
            rows = np.flatnonzero(got.is_not_null().to_numpy()).astype(np.int64)
            texts = shape.texts(position, rows)
            kept = [place for place, text in enumerate(texts) if text]
            if kept:
                said = [texts[place] for place in kept]
                marks.append(CellMarks(position, rows[kept], said, ["unexpected"] * len(kept)))
            continue
        else:
            got = got.fill_null("")
            got = got.str.strip_chars(PADDING) if padded or b"\t" in shape.data else got
        series.append(got)
    return Piece(_frame(series, frame.height), marks)


def _odd_rows(frame: pl.DataFrame, layout: Layout, cells: Cells) -> dict[str, IntArray]:
    """Rows with a null, an infinity or a declared marker, of numeric columns that have any."""
    asked: list[pl.Expr] = []
    markers = list(cells.numeric_markers)
    for position, column in enumerate(layout.columns):
        if not is_numeric(layout, position):
            continue
        got, read = frame.to_series(position), pl.col(column_key(position))
        is_marked = bool(markers) and column.role == "value"
        # A sum shows an infinity among the numbers; one that overflows only costs a closer look.
        is_finite = np.isfinite(float(got.sum()))
        if not is_marked and is_finite and not got.null_count():
            continue
        is_odd = read.is_null() if is_finite else read.is_null() | ~read.is_finite()
        is_odd = is_odd | read.is_in(markers) if is_marked else is_odd
        asked.append(is_odd.arg_true().cast(pl.Int64).implode())
    if not asked:
        return {}
    found = {one.name: one.item().to_numpy() for one in frame.select(asked).iter_columns()}
    return {name: rows for name, rows in found.items() if len(rows)}


def _numbers(
    got: pl.Series,
    cells: Cells,
    shape: _Shape,
    position: int,
    rows: IntArray,
    *,
    markers: bool,
) -> tuple[pl.Series, list[CellMarks]]:
    """Numbers of one column and the marks that explain every null among its odd rows."""
    said = shape.cells(position, rows)
    known = {cell: _read(cell, cells, markers=markers) for cell in set(said)}  # words are few
    texts = [known[cell][0] for cell in said]
    codes = [known[cell][2] for cell in said]
    marked = [place for place, code in enumerate(codes) if code]
    if len(marked) == len(rows) == got.null_count():
        return got, [CellMarks(position, rows, texts, codes)]
    values = np.array(got.to_numpy())  # nulls become NaN
    values[rows] = [known[cell][1] for cell in said]
    mended = pl.Series(got.name, values, nan_to_null=True)
    if len(marked) == len(rows):
        return mended, [CellMarks(position, rows, texts, codes)]
    if not marked:
        return mended, []
    named, why = [texts[place] for place in marked], [codes[place] for place in marked]
    return mended, [CellMarks(position, rows[marked], named, why)]


def _read(cell: bytes, cells: Cells, *, markers: bool) -> tuple[str, float, str]:
    """Text of a cell, its number or NaN, and the code of the mark in its place."""
    text = _text(cell)
    number, code = cells.value(text, markers=markers)
    return text, math.nan if number is None else number, code
