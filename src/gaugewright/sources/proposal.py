"""From a path to a proposal: the sample, its structure and its columns put together."""

from pathlib import Path

from gaugewright.errors import InputError
from gaugewright.sources.columns import find_columns, find_names
from gaugewright.sources.layout import Clock, Column, Layout
from gaugewright.sources.lines import Cells
from gaugewright.sources.origins import origins_seen
from gaugewright.sources.sniff import Structure, is_number, sample, structure
from gaugewright.sources.understanding import Evidence, Stated, Understanding

__all__ = ["proposal", "understand"]

_SHOWN_ROWS = 20
_SHOWN_UNREAD = 5


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
    InputError
        If a stated part can't be used, or the stated marks leave most numbers of a column unread.
    """
    stated = Stated(
        encoding, delimiter, decimal, thousands, comment, first_data_row, names_rows, units_row
    )
    return proposal(Path(path), stated)


def proposal(path: Path, stated: Stated, *, marks_asked: bool = True) -> Understanding:
    """As ``understand``, with everything that is stated in one.

    Without ``marks_asked`` nobody stated the marks of numbers, and what they leave unread is shown
    among the markers.
    """
    lines = sample(path, stated)
    _refuse_lines_elsewhere(stated, len(lines.head), path.name)
    found = structure(lines, stated, path)
    find_names(lines, found, stated.names_rows, stated.units_row)
    if marks_asked and (stated.decimal or stated.thousands):
        _refuse_unreadable(stated, found)
    columns = find_columns(found, _cells(found.delimiter, found.decimal, found.thousands))
    names = (*found.names_rows, found.units_row, *found.tare_lines)
    origins = origins_seen(lines.head[: found.first_data_row - 1], names)
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
        evidence=(
            *lines.evidence,
            *found.evidence,
            *columns.evidence,
            *(Evidence(f"line {each.line} tells a date and a time", each.text) for each in origins),
        ),
        origins=origins,
        again=proposal,
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


def _refuse_unreadable(stated: Stated, found: Structure) -> None:
    """Refuse stated marks with which most cells of a column of numbers aren't numbers."""
    cells = _cells(found.delimiter, found.decimal, found.thousands)
    unread: list[str] = []
    total = 0
    for column in range(found.width):
        numbers = [row[column] for row in found.rows if is_number(row[column])]
        bad = [text for text in numbers if cells.number(text) is None]
        if 2 * len(bad) > len(numbers):
            unread += bad
            total += len(numbers)
    if not unread:
        return
    name = "decimal" if stated.decimal else "thousands"
    first = ", ".join(unread[:_SHOWN_UNREAD])
    allowed = (
        "the mark that the file's numbers are written with: "
        f"{len(unread)} of {total} sampled cells can't be read, the first {first}"
    )
    do = "leave it out, and it is found in the file"
    for other in (",", "."):
        with_other = _cells(found.delimiter, other, "")
        if all(with_other.number(text) is not None for text in unread):
            do = f"state {other} as the decimal mark"
            do += " and leave the thousands mark out" if stated.thousands else ""
    raise InputError(name, getattr(stated, name), allowed, do)


def _cells(delimiter: str, decimal: str, thousands: str) -> Cells:
    """Meaning of cells with the marks found; numeric markers are a person's to declare."""
    columns = (Column("any"),)
    return Cells(Layout(columns, delimiter, Clock(), decimal=decimal, thousands=thousands))
