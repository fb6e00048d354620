"""Workbooks in the open spreadsheet format (ISO/IEC 29500, .xlsx), written out as text.

Cells come as they are stored: numbers to the last bit, formulas by their kept result or, where
none was kept, by what they say, error values as their words. Numbers written as text with a comma
that can't divide thousands come with a point. A title merged over some columns of the head stands
in each of them, over all of them in its first cell. Row numbers of the sheet are line numbers of
the text, so that whatever is said about a line can be found in the sheet.
"""

import re
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from itertools import islice, repeat
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import ParseError

import openpyxl
from openpyxl.utils import column_index_from_string
from openpyxl.utils.exceptions import InvalidFileException

from gaugewright.errors import FileError
from gaugewright.sources.match import Match
from gaugewright.sources.tables import COMMA, OPEN_COMMA, Table, chosen, write_rows

__all__ = ["Workbook"]

MOST_UNPACKED = 1 << 32  # a few hundred bytes can unpack to terabytes; no logger writes such files
_ZIP = b"PK\x03\x04"
_HEAD_ROWS = 50  # below them nobody writes titles
_CHUNK, _OVERLAP = 1 << 20, 128
_MERGED = re.compile(rb'<(?:\w+:)?mergeCell ref="([A-Z]+)(\d+):([A-Z]+)(\d+)"')
_FORMULA = re.compile(rb"<(?:\w+:)?f[ >/]")


class Workbook:
    """The importer for workbooks."""

    label = "workbook"

    def match(self, head: bytes) -> Match:
        """Judge the first bytes: a zip archive whose first entries are a workbook's."""
        if not head.startswith(_ZIP):
            return Match(0.0, "not a zip archive, as workbooks are")
        if b"[Content_Types].xml" in head or b"xl/" in head:
            return Match(0.9, "a zip archive that begins as a workbook does")
        return Match(0.2, "a zip archive, perhaps a workbook")

    def tables(self, path: Path) -> tuple[Table, ...]:
        """Sheets with anything in them.

        Raises
        ------
        FileError
            If it isn't a workbook, or it is damaged.
        """
        with _opened(path) as book:
            found = []
            for sheet in book.worksheets:
                sheet.reset_dimensions()  # what the file says of itself is often wrong
                extent = _extent(sheet)
                note = "" if sheet.sheet_state == "visible" else "hidden"
                if extent.rows:
                    found.append(Table(sheet.title, extent.rows, extent.columns, note))
            return tuple(found)

    def as_text(self, path: Path, table: str, folder: Path, *, rows: int | None = None) -> Path:
        """Write a sheet as delimited text into ``folder``; only its first ``rows`` if given.

        Raises
        ------
        FileError
            If it isn't a workbook, or the sheet is empty.
        InputError
            If there is no sheet of that name.
        """
        name = chosen(path, self.tables(path), table).name
        target = folder / "sheet.txt"
        with ExitStack() as stack:
            sheet = stack.enter_context(_opened(path))[name]
            sheet.reset_dimensions()
            extent, written = _extent(sheet), _written(path, sheet)
            formulas: Iterator[Sequence[object]] = repeat(())
            if written.formulas:
                asked = stack.enter_context(_opened(path, results=False))[name]
                asked.reset_dimensions()
                formulas = asked.iter_rows(values_only=True)
            file = stack.enter_context(target.open("w", encoding="utf-8", newline=""))
            write_rows(file, islice(_rows(sheet, extent, written, formulas), rows))
        return target


@dataclass(slots=True)
class _Extent:
    """Rows and columns up to the last that holds something; whether commas in texts are decimal."""

    rows: int = 0
    columns: int = 0
    decimal_comma: bool = False


@dataclass(slots=True)
class _Written:
    """What only a sheet's own text says: cells merged in its head, by row; formulas anywhere."""

    merged: dict[int, list[tuple[int, int]]] = field(default_factory=dict)
    formulas: bool = False


def _extent(sheet: Any) -> _Extent:
    found = _Extent()
    for number, row in enumerate(sheet.iter_rows(values_only=True), start=1):
        filled = 0
        for place, cell in enumerate(row, 1):
            if cell is not None:
                filled = place
                if type(cell) is str and not found.decimal_comma and COMMA.fullmatch(cell):
                    found.decimal_comma = not OPEN_COMMA.fullmatch(cell)
        if filled:
            found.rows, found.columns = number, max(found.columns, filled)
    return found


def _written(path: Path, sheet: Any) -> _Written:
    """Look through a sheet's text, which is far quicker than to parse it once more."""
    found = _Written()
    with zipfile.ZipFile(path) as archive, archive.open(sheet._worksheet_path) as text:
        before = b""
        while part := text.read(_CHUNK):
            both = before + part
            found.formulas = found.formulas or _FORMULA.search(both) is not None
            for left, top, right, bottom in _MERGED.findall(both):
                row = int(top)
                span = tuple(column_index_from_string(each.decode()) - 1 for each in (left, right))
                spans = found.merged.setdefault(row, [])
                if row <= _HEAD_ROWS and top == bottom and span not in spans:
                    spans.append((span[0], span[1]))
            before = both[-_OVERLAP:]
    return found


def _rows(
    sheet: Any, extent: _Extent, written: _Written, formulas: Iterator[Sequence[object]]
) -> Iterator[Sequence[object]]:
    waiting = 0  # empty rows are written only when something follows them
    width = extent.columns
    for number, (row, said) in enumerate(
        zip(sheet.iter_rows(values_only=True), formulas, strict=False), start=1
    ):
        cells = list(row[:width])
        for place, formula in enumerate(said[:width]):
            if place < len(cells) and cells[place] is None and formula is not None:
                cells[place] = getattr(formula, "text", formula)  # nobody kept its result
        for first, last in written.merged.get(number, ()):
            if last - first + 1 < width and first < len(cells):
                cells += [None] * (last + 1 - len(cells))
                cells[first : last + 1] = [cells[first]] * (last - first + 1)
        if extent.decimal_comma:
            cells = [_with_point(cell) for cell in cells]
        if all(cell is None for cell in cells):
            waiting += 1
            continue
        for _ in range(waiting):
            yield ()
        waiting = 0
        yield cells + [None] * (width - len(cells))


def _with_point(cell: object) -> object:
    return cell.replace(",", ".") if type(cell) is str and COMMA.fullmatch(cell) else cell


@contextmanager
def _opened(path: Path, *, results: bool = True) -> Iterator[Any]:
    try:
        _refuse_bomb(path)
        book = openpyxl.load_workbook(path, read_only=True, data_only=results)
    except (zipfile.BadZipFile, InvalidFileException, KeyError, ParseError, ValueError) as error:
        problem = f"can't be read as a workbook ({error})"
        raise FileError(path, problem, do="save it again as .xlsx, or export it as text") from error
    except OSError as error:
        raise FileError(path, f"can't be read ({error.strerror or error})") from error
    try:
        yield book
    except (zipfile.BadZipFile, ParseError, EOFError) as error:
        problem = f"is damaged inside ({error})"
        raise FileError(path, problem, do="copy it again from where it was written") from error
    finally:
        book.close()


def _refuse_bomb(path: Path) -> None:
    with zipfile.ZipFile(path) as archive:
        size = sum(entry.file_size for entry in archive.infolist())
    if size > MOST_UNPACKED:
        allowed = f"at most {MOST_UNPACKED} bytes"
        raise FileError(path, "unpacks to too much", expected=allowed, got=f"{size} bytes")
