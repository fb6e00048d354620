"""From a path to a proposal: the sample, its structure and its columns put together."""

from pathlib import Path

from gaugewright.errors import InputError
from gaugewright.sources.columns import find_columns, find_names
from gaugewright.sources.layout import Clock, Column, Layout
from gaugewright.sources.lines import Cells
from gaugewright.sources.sniff import sample, structure
from gaugewright.sources.understanding import Stated, Understanding

__all__ = ["understand"]

_SHOWN_ROWS = 20


def understand(
    path: Path | str,
    *,
    encoding: str | None = None,
    delimiter: str | None = None,
    decimal: str | None = None,
    thousands: str | None = None,
    comment: str | None = None,
    first_data_row: int | None = None,
    names_rows: tuple[int, ...] | None = None,
    units_row: int | None = None,
) -> Understanding:
    """Proposal for reading a file, with evidence and questions; what is stated isn't sought.

    Reads at most about 1 MB of the file, whatever its size.

    Parameters
    ----------
    path : path
        Delimited text.
    encoding, delimiter, decimal, thousands, comment : str, optional
        As in ``Layout``; an empty ``thousands`` or ``comment`` says there is none.
    first_data_row, units_row : int, optional
        Lines, counted from 1; ``units_row`` 0 says there is none.
    names_rows : tuple of int, optional
        Lines whose fields together are the names; empty says there are none.

    Raises
    ------
    FileError
        If the file can't be read or has no rows of readings.
    """
    stated = Stated(
        encoding, delimiter, decimal, thousands, comment, first_data_row, names_rows, units_row
    )
    return _understood(Path(path), stated)


def _understood(path: Path, stated: Stated) -> Understanding:
    lines = sample(path, stated)
    _refuse_lines_elsewhere(stated, len(lines.head), path.name)
    found = structure(lines, stated, path)
    find_names(lines, found, stated.names_rows, stated.units_row)
    columns = find_columns(found, _cells(found.delimiter, found.decimal, found.thousands))
    return Understanding(
        path=path,
        size_bytes=lines.size_bytes,
        sampled_bytes=lines.sampled_bytes,
        stated=stated,
        encoding=lines.encoding,
        line_end=lines.line_end,
        delimiter=found.delimiter,
        decimal=found.decimal,
        thousands=found.thousands,
        comment=found.comment,
        head_rows=lines.head[: found.first_data_row - 1],
        names_rows=found.names_rows,
        units_row=found.units_row,
        first_data_row=found.first_data_row,
        columns=columns.columns,
        stamps_seen=columns.stamps,
        clock=columns.clock,
        zone_needed=columns.zone_needed,
        markers=columns.markers,
        questions=(*found.questions, *columns.questions),
        sample_rows=tuple(tuple(row) for row in found.rows[:_SHOWN_ROWS]),
        evidence=(*lines.evidence, *found.evidence, *columns.evidence),
        again=_understood,
    )


def _refuse_lines_elsewhere(stated: Stated, lines: int, file_name: str) -> None:
    """Refuse line numbers that aren't among the lines looked at."""
    given = [("names_rows", row) for row in stated.names_rows or ()]
    given += [("units_row", stated.units_row)] if stated.units_row else []
    if stated.first_data_row is not None:
        given.append(("first_data_row", stated.first_data_row))
    for name, line in given:
        if not 1 <= line <= lines:
            allowed = f"a line of the file's beginning, from 1 to {lines}"
            raise InputError(f"{name} of {file_name}", line, allowed)


def _cells(delimiter: str, decimal: str, thousands: str) -> Cells:
    """Meaning of cells with the marks found; numeric markers are a person's to declare."""
    columns = (Column("any"),)
    return Cells(Layout(columns, delimiter, Clock(), decimal=decimal, thousands=thousands))
