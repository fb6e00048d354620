"""Stations from a spreadsheet, however it looks: what is plain is taken, what isn't is asked.

Nothing is guessed: a heading that may mean two things, a number without a unit, a comma that may
part thousands, a blank below a merged cell, a bar nobody entered and a label that stands twice are
questions beside the column or row. Nothing is written until every one of them is answered.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from gaugewright.errors import FileError, InputError
from gaugewright.records.identity import Ref
from gaugewright.records.specimen import Station
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering.sheet_columns import Columns, columns_of
from gaugewright.services.entering.sheet_rows import PlacedRow, Rows, rows_of
from gaugewright.services.entering.sheet_words import Asked, heading_of, is_units, letter
from gaugewright.sources.plan_sheet import Grid, grid_of_text, grid_of_workbook
from gaugewright.store.campaign import CampaignStore

__all__ = ["Understood", "grid_of_file", "kept", "understood"]

_LOOKED = 40  # headings stand within the first rows, if anywhere


@dataclass(frozen=True, slots=True)
class Understood:
    """What a sheet says, what must be asked first, and what was taken as plain, in words."""

    grid: Grid
    heading_row: int
    columns: Columns | None
    asked: tuple[Asked, ...]
    told: tuple[str, ...]
    rows: tuple[PlacedRow, ...]

    @property
    def is_ready(self) -> bool:
        """Whether the stations can be written."""
        return not self.asked and bool(self.rows)


def grid_of_file(path: Path, sheet: str = "") -> Grid:
    """Grid of a file: a sheet of a workbook, or text in UTF-8.

    Raises
    ------
    FileError
        If it can't be read.
    InputError
        If its sheet isn't there, it is empty or too large.
    """
    if path.suffix.casefold() == ".xlsx":
        return grid_of_workbook(path, sheet)
    try:
        return grid_of_text(path.read_text(encoding="utf-8-sig"))
    except UnicodeDecodeError as error:
        do = "save it as CSV in UTF-8, or as a workbook (.xlsx)"
        raise FileError(path, "isn't text in UTF-8", do=do) from error


def understood(book: Book, grid: Grid, answers: Mapping[str, str]) -> Understood:
    """What a grid says, with what a person answered so far."""
    row, asked, told = _heading_row(grid, answers)
    if asked is not None:
        return Understood(grid, 0, None, (asked,), tuple(told), ())
    begins = row + 1
    units: tuple[str, ...] = ()
    if row and row < len(grid.rows) and is_units(grid.rows[row]):
        units, begins = grid.rows[row], row + 2
        told.append(f"Row {row + 1} holds units.")
    columns = columns_of(book, grid, row, begins, units=units, answers=answers)
    told += columns.told
    told += _hidden(grid)
    if columns.asked:
        return Understood(grid, row, columns, columns.asked, tuple(told), ())
    found: Rows = rows_of(book, grid, columns, begins, answers)
    return Understood(grid, row, columns, found.asked, (*told, *found.told), found.placed)


def _heading_row(grid: Grid, answers: Mapping[str, str]) -> tuple[int, Asked | None, list[str]]:
    """Row of the headings; 0 where a person said that there is none."""
    answer = answers.get("headings", "")
    if answer.isdecimal() and int(answer) <= len(grid.rows):
        return int(answer), None, []
    found = [
        number
        for number, row in enumerate(grid.rows[:_LOOKED], start=1)
        if sum(heading_of(cell).role is not None for cell in row if cell) >= 2
    ]
    # The same headings again further down are a new page of the same list.
    first = grid.rows[found[0] - 1] if found else ()
    different = [n for n in found if grid.rows[n - 1] != first]
    if found and not different:
        above = [" ".join(cell for cell in row if cell) for row in grid.rows[: found[0] - 1]]
        titles = "; ".join(f"“{words}”" for words in above if words)
        told = [f"Row {found[0]} has the headings."]
        if titles:
            told.append(f"Above it stands {titles}: taken as a title and left out.")
        return found[0], None, told
    choices = [
        (str(number), f"row {number}: {_short(row)}")
        for number, row in enumerate(grid.rows[:12], start=1)
        if any(row)
    ]
    choices.append(("0", "none: every row is a station"))
    return 0, Asked("headings", "Which row has the headings?", tuple(choices)), []


def _short(row: tuple[str, ...]) -> str:
    words = " | ".join(cell for cell in row if cell)
    return words if len(words) <= 60 else words[:57] + "…"


def _hidden(grid: Grid) -> list[str]:
    told = []
    if grid.hidden_rows:
        told.append(f"Rows hidden in the sheet are read too: {_listed(grid.hidden_rows)}.")
    if grid.hidden_columns:
        names = ", ".join(letter(n) for n in sorted(grid.hidden_columns))
        told.append(f"Columns hidden in the sheet are read too: {names}.")
    return told


def _listed(numbers: tuple[int, ...]) -> str:
    return ", ".join(str(n) for n in sorted(numbers))


def kept(store: CampaignStore, found: Understood) -> tuple[Ref, ...]:
    """Write the stations of a sheet, all of them or none.

    Raises
    ------
    InputError
        If a question is open, or there is no station.
    """
    if found.asked:
        words = "; ".join(one.words for one in found.asked[:3])
        raise InputError("sheet", f"with {len(found.asked)} questions open", "answered", words)
    if not found.rows:
        raise InputError("sheet", "without a station", "one that has a row for each")
    refs: list[Ref] = []
    with store.several():
        for row in found.rows:
            refs.append(_written(store, row))
    return tuple(refs)


def _written(store: CampaignStore, row: PlacedRow) -> Ref:
    reason = f"row {row.row} of a spreadsheet"
    station = Station(row.label, row.bar, row.datum, row.distance, row.angle)
    if row.instead_of is None:
        return store.add(station, reason=reason).ref
    before = row.instead_of
    later = replace(
        before.record,
        bar=row.bar,
        datum=row.datum,
        distance_planned=row.distance,
        angle_planned=row.angle,
    )
    return store.revise(before.uid, before.version, later, reason=reason).ref
