"""A small spreadsheet as a grid of words: a workbook's sheet, or what was pasted from one.

Nothing is understood here: cells stand as they are shown, with the sheet's own row numbers, and
with what only a workbook knows: which cells are merged, which rows and columns are hidden.
"""

import csv
import io
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.utils import column_index_from_string

from gaugewright.errors import InputError
from gaugewright.sources.tables import chosen
from gaugewright.sources.workbook import Workbook

__all__ = ["MOST_COLUMNS", "MOST_ROWS", "Grid", "grid_of_text", "grid_of_workbook", "text_of_grid"]

MOST_ROWS, MOST_COLUMNS = 2000, 60


@dataclass(frozen=True, slots=True)
class Grid:
    """Cells as words, row by row.

    ``merged`` are spans: first row, first column, last row, last column, counted from 1, as are
    hidden rows and columns.
    """

    rows: tuple[tuple[str, ...], ...]
    merged: tuple[tuple[int, int, int, int], ...] = ()
    hidden_rows: tuple[int, ...] = ()
    hidden_columns: tuple[int, ...] = ()


def grid_of_text(text: str) -> Grid:
    """Grid of pasted cells: tabs between them, else semicolons, else commas.

    Raises
    ------
    InputError
        If there is nothing in it, or too much.
    """
    sign = next((sign for sign in "\t;," if sign in text), "\t")
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=sign, strict=True))
    except csv.Error as error:
        raise InputError(
            "table", str(error), "cells parted by tabs", "copy the cells once more"
        ) from error
    return _grid([[cell.strip() for cell in row] for row in rows], (), (), ())


def grid_of_workbook(path: Path, sheet: str = "") -> Grid:
    """Grid of one sheet of a workbook (.xlsx); the only one with anything in it if none is named.

    Raises
    ------
    InputError
        If the sheet isn't there, several could be meant, it is empty or too large.
    FileError
        If it isn't a workbook, or it is damaged.
    """
    tables = Workbook().tables(path)
    if len(tables) > 1 and not sheet:
        names = ", ".join(table.name for table in tables)
        raise InputError("sheet", "", f"one of those with anything in them: {names}", "name it")
    name = chosen(path, tables, sheet).name
    book = openpyxl.load_workbook(path, data_only=True)
    try:
        page = book[name]
        if page.max_row > MOST_ROWS * 5:
            raise InputError("rows of the sheet", page.max_row, f"at most {MOST_ROWS}")
        rows = [[_words(cell) for cell in row] for row in page.iter_rows(values_only=True)]
        merged = tuple(
            (span.min_row, span.min_col, span.max_row, span.max_col)
            for span in page.merged_cells.ranges
        )
        hidden_rows = tuple(n for n, row in page.row_dimensions.items() if row.hidden)
        hidden_columns = tuple(
            column_index_from_string(letter)
            for letter, column in page.column_dimensions.items()
            if column.hidden
        )
    finally:
        book.close()
    return _grid(rows, merged, hidden_rows, hidden_columns)


def _words(cell: Any) -> str:
    """A cell as a person reads it: whole numbers without a point, others by their last digit."""
    if cell is None:
        return ""
    if isinstance(cell, float):
        return f"{cell:.15g}"
    if isinstance(cell, datetime | date):
        return cell.isoformat()
    return str(cell).strip()


def _grid(
    rows: list[list[str]],
    merged: tuple[tuple[int, int, int, int], ...],
    hidden_rows: tuple[int, ...],
    hidden_columns: tuple[int, ...],
) -> Grid:
    while rows and not any(rows[-1]):
        rows.pop()
    width = max((n for row in rows for n, cell in enumerate(row, 1) if cell), default=0)
    if not width:
        raise InputError(
            "table", "empty", "cells with something in them", "copy or choose it again"
        )
    if len(rows) > MOST_ROWS or width > MOST_COLUMNS:
        size = f"{len(rows)} rows, {width} columns"
        allowed = f"at most {MOST_ROWS} rows and {MOST_COLUMNS} columns"
        raise InputError("table", size, allowed, "take the list of stations alone")
    cells = tuple(tuple([*row, *[""] * width][:width]) for row in rows)
    return Grid(cells, merged, hidden_rows, hidden_columns)


def text_of_grid(grid: Grid) -> str:
    """A grid as tab-separated text, to be read again by ``grid_of_text``."""
    out = io.StringIO()
    csv.writer(out, delimiter="\t", lineterminator="\n").writerows(grid.rows)
    return out.getvalue()
