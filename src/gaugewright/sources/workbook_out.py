"""Tables written as a workbook (ISO/IEC 29500, .xlsx) in which no cell is a formula."""

import io
from collections.abc import Iterable, Sequence

import openpyxl

__all__ = ["sheets_bytes", "workbook_bytes"]

_Row = Sequence[str | float | None]


def workbook_bytes(title: str, heads: Sequence[str], rows: Iterable[_Row]) -> bytes:
    """Workbook of one sheet; text stays text whatever sign it begins with."""
    return sheets_bytes([(title, heads, rows)])


def sheets_bytes(sheets: Iterable[tuple[str, Sequence[str], Iterable[_Row]]]) -> bytes:
    """Workbook of several sheets, each with its title, heads and rows."""
    book = openpyxl.Workbook()
    for sheet in book.worksheets:
        book.remove(sheet)
    for title, heads, rows in sheets:
        sheet = book.create_sheet(title[:31])  # the format's own limit
        for number, row in enumerate((heads, *rows), start=1):
            for place, value in enumerate(row, start=1):
                if value is None or value == "":
                    continue
                cell = sheet.cell(number, place)
                cell.value = value
                if isinstance(value, str):
                    cell.data_type = "s"
        sheet.freeze_panes = "B2"
    kept = io.BytesIO()
    book.save(kept)
    return kept.getvalue()
