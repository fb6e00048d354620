"""A table written as a workbook (ISO/IEC 29500, .xlsx) in which no cell is a formula."""

import io
from collections.abc import Iterable, Sequence

import openpyxl

__all__ = ["workbook_bytes"]


def workbook_bytes(
    title: str, heads: Sequence[str], rows: Iterable[Sequence[str | float | None]]
) -> bytes:
    """Workbook of one sheet; text stays text whatever sign it begins with."""
    book = openpyxl.Workbook()
    for sheet in book.worksheets:
        book.remove(sheet)
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
