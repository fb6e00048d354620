"""Workbooks in the open spreadsheet format (ISO/IEC 29500, .xlsx), written out as text.

Cells come as they are stored: numbers to the last bit, formulas by their kept result, error
values as their words. Merged titles stand in their first cell. Row numbers of the sheet are line
numbers of the text, so that whatever is said about a line can be found in the sheet.
"""

import zipfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from itertools import islice
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import ParseError

import openpyxl
from openpyxl.utils.exceptions import InvalidFileException

from gaugewright.errors import FileError
from gaugewright.sources.match import Match
from gaugewright.sources.tables import Table, chosen, write_rows

__all__ = ["Workbook"]

MOST_UNPACKED = 1 << 32  # a few hundred bytes can unpack to terabytes; no logger writes such files
_ZIP = b"PK\x03\x04"


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
                rows, columns = _extent(sheet)
                if rows:
                    found.append(Table(sheet.title, rows, columns))
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
        with _opened(path) as book, target.open("w", encoding="utf-8", newline="") as file:
            sheet = book[name]
            sheet.reset_dimensions()
            _, width = _extent(sheet)
            write_rows(file, islice(_rows(sheet, width), rows))
        return target


def _extent(sheet: Any) -> tuple[int, int]:
    """Rows up to the last that holds something, and columns up to the last that does."""
    last, width = 0, 0
    for number, row in enumerate(sheet.iter_rows(values_only=True), start=1):
        filled = max((place for place, cell in enumerate(row, 1) if cell is not None), default=0)
        if filled:
            last, width = number, max(width, filled)
    return last, width


def _rows(sheet: Any, width: int) -> Iterator[Sequence[object]]:
    waiting = 0  # empty rows are written only when something follows them
    for row in sheet.iter_rows(values_only=True):
        cells = list(row[:width])
        if all(cell is None for cell in cells):
            waiting += 1
            continue
        for _ in range(waiting):
            yield ()
        waiting = 0
        yield cells + [None] * (width - len(cells))


@contextmanager
def _opened(path: Path) -> Iterator[Any]:
    try:
        _refuse_bomb(path)
        book = openpyxl.load_workbook(path, read_only=True, data_only=True)
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
