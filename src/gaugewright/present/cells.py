"""How is a value written into a table for other programs, so that it stays what it is?

Spreadsheet programs take text that begins with one of a few signs for a formula and run it. A
label or a note that a person typed must never become one, so such text gets an apostrophe first,
which those programs read as "this is text". Numbers stay numbers, to the last bit.
"""

import csv
import io
import math
import re
import unicodedata
from collections.abc import Iterable, Sequence

__all__ = ["csv_text", "safe_cell"]

_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+-]?[0-9]+)?")
_BEGINS = frozenset(
    "=+-@"
    "\N{FULLWIDTH EQUALS SIGN}\N{FULLWIDTH PLUS SIGN}"
    "\N{FULLWIDTH HYPHEN-MINUS}\N{FULLWIDTH COMMERCIAL AT}"
)


def safe_cell(text: str) -> str:
    """Text for a cell of CSV or XLSX that no program takes for a formula.

    What can't be seen before the sign (blanks, marks of order, line ends) doesn't hide it.

    Examples
    --------
    >>> safe_cell("=1+2"), safe_cell("G07"), safe_cell("-12.5")
    ("'=1+2", 'G07', '-12.5')
    """
    seen = next((sign for sign in text if unicodedata.category(sign)[0] not in "ZC"), "")
    if seen in _BEGINS and not _NUMBER.fullmatch(text):
        return "'" + text
    return text


def csv_text(heads: Sequence[str], rows: Iterable[Sequence[str | float | None]]) -> str:
    r"""Table as CSV with commas and points: numbers by ``repr``, missing ones as empty cells.

    Examples
    --------
    >>> csv_text(["gauge", "load in N"], [("=G1", 163900.5), ("G2", None)])
    "gauge,load in N\r\n'=G1,163900.5\r\nG2,\r\n"
    """
    written = io.StringIO(newline="")
    table = csv.writer(written)
    table.writerow([safe_cell(head) for head in heads])
    table.writerows([[_cell(value) for value in row] for row in rows])
    return written.getvalue()


def _cell(value: str | float | None) -> str:
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    return safe_cell(value) if isinstance(value, str) else repr(value)
