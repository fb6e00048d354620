"""Tables inside files that aren't text, and how their cells are written out as text.

One reader then serves every file: what a person is asked, how a missing value is marked and how
rows are counted is the same whether a logger wrote text or a workbook.
"""

import datetime as dt
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from gaugewright.errors import FileError, InputError

__all__ = ["COMMA", "DELIMITER", "OPEN_COMMA", "Table", "chosen", "line", "text_of", "write_rows"]

DELIMITER = "\t"
# Numbers kept as text, with a comma for a decimal mark; and those whose comma may divide thousands.
COMMA = re.compile(r"\s*[+-]?\d+,\d+([eE][+-]?\d+)?\s*", re.ASCII)
OPEN_COMMA = re.compile(r"\s*[+-]?[1-9]\d{0,2},\d{3}\s*", re.ASCII)


@dataclass(frozen=True, slots=True)
class Table:
    """A table in a file: its name there, rows (0 when unknown before reading) and columns.

    ``note`` is what a person who chooses one should know of it, such as that it is hidden.
    """

    name: str
    rows: int
    columns: int
    note: str = ""

    @property
    def cells(self) -> int:
        """How much is in it, to propose the largest."""
        return self.rows * self.columns


def chosen(path: Path, found: Sequence[Table], name: str) -> Table:
    """Table of that name, or the largest when no name is given.

    Raises
    ------
    FileError
        If there is no table with anything in it.
    InputError
        If there is none of that name.
    """
    if not found:
        raise FileError(path, "holds no table", expected="columns of readings")
    if not name:
        return max(found, key=lambda table: table.cells)
    for table in found:
        if table.name == name:
            return table
    raise InputError(
        f"table of {path.name}", name, "one of " + ", ".join(table.name for table in found)
    )


def text_of(cell: object) -> str:
    """A cell as text that reads back to the same value.

    Numbers are written by ``repr``, stamps as ISO text, a time span in seconds, nothing as
    nothing. A number that isn't finite becomes the word for it, which the reader marks.
    """
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "TRUE" if cell else "FALSE"
    if isinstance(cell, dt.datetime):
        return cell.isoformat(timespec="microseconds")
    if isinstance(cell, dt.date | dt.time):
        return cell.isoformat()
    if isinstance(cell, dt.timedelta):
        return repr(cell / dt.timedelta(seconds=1))
    if isinstance(cell, bytes):
        return cell.decode("utf-8", errors="backslashreplace")
    text = str(cell)
    return " ".join(text.split()) if any(mark in text for mark in "\t\n\r\v\f") else text


def line(cells: Sequence[object]) -> str:
    """Cells as one line; one that holds a quotation mark is quoted, empty rows are blank lines."""
    texts = [text_of(cell) for cell in cells]
    if not any(texts):
        return "\n"
    quoted = ['"' + text.replace('"', '""') + '"' if '"' in text else text for text in texts]
    return DELIMITER.join(quoted) + "\n"


def write_rows(file: IO[str], rows: Iterable[Sequence[object]]) -> int:
    """Write rows and say how many they were."""
    count = 0
    for row in rows:
        file.write(line(row))
        count += 1
    return count
