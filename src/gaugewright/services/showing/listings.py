"""A list of what a campaign's records say: one table for the page, the command line and CSV."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from gaugewright.errors import InputError
from gaugewright.present.cells import csv_text
from gaugewright.present.numbers import Shown, shown, significant_text
from gaugewright.present.units_shown import System, in_shown, quantity_shown, unit_shown
from gaugewright.quantities import QUANTITIES
from gaugewright.records.stated import Stated

__all__ = [
    "Cell",
    "Column",
    "Doubted",
    "Listing",
    "cell_shown",
    "cell_text",
    "csv_cells",
    "heads",
    "listing_csv",
    "named",
    "plain",
]


@dataclass(frozen=True, slots=True)
class Doubted:
    """A number worked out, with its uncertainty expanded for 95 %."""

    value: float
    expanded: float


Cell = str | float | int | Stated | Doubted | None


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its words, and the quantity of its numbers, "" for words and bare numbers."""

    head: str
    quantity: str = ""


@dataclass(frozen=True, slots=True)
class Listing:
    """A table in the units inside; ``empty`` is what stands where it has no rows."""

    key: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    empty: str
    about: str = ""


def named(listings: Sequence[Listing], key: str) -> Listing:
    """One of several lists by its key.

    Raises
    ------
    InputError
        If none has it.
    """
    for listing in listings:
        if listing.key == key:
            return listing
    raise InputError("list", key, "one of " + ", ".join(one.key for one in listings))


def heads(listing: Listing, system: System) -> tuple[str, ...]:
    """Heads with their units in brackets, as plain tables and CSV have them."""
    return tuple(_head(column, system) for column in listing.columns)


def _head(column: Column, system: System) -> str:
    unit = unit_shown(column.quantity, system).text if column.quantity else ""
    return f"{column.head} [{unit}]" if unit else column.head


def cell_text(cell: Cell, quantity: str, system: System) -> str:
    """A cell as a person reads it, its unit standing in the head.

    A plus-minus stands as it was stated; what it means stands with the record.
    """
    if cell is None or isinstance(cell, str):
        return cell or ""
    if isinstance(cell, Stated | Doubted):
        number = cell_shown(cell, quantity, system)
        return f"{number.value} ± {number.plus_minus}" if number.plus_minus else number.value
    if quantity:
        return quantity_shown(quantity, float(cell), None, system).value
    return significant_text(float(cell)) if isinstance(cell, float) else str(cell)


def cell_shown(cell: Stated | Doubted, quantity: str, system: System) -> Shown:
    """A number with its plus-minus; a bare number where it has no quantity."""
    doubt = _width(cell) or None
    if not quantity:
        return shown(cell.value, doubt)
    return quantity_shown(quantity, cell.value, doubt, system)


def _width(cell: Stated | Doubted) -> float | None:
    return cell.plus_minus if isinstance(cell, Stated) else cell.expanded


def _meaning(cell: Stated | Doubted) -> str:
    return cell.meaning.value if isinstance(cell, Stated) else "expanded, 95 %"


def listing_csv(listing: Listing, system: System) -> str:
    """CSV in the shown units: values by ``repr``, each plus-minus in a column of its own."""
    doubted = [
        any(isinstance(row[n], Stated | Doubted) for row in listing.rows)
        for n in range(len(listing.columns))
    ]
    names: list[str] = []
    for column, is_doubted in zip(listing.columns, doubted, strict=True):
        names.append(_head(column, system))
        if is_doubted:
            names += [f"± of {_head(column, system)}", f"meaning of ± of {column.head}"]
    rows = [
        [
            value
            for cell, column, is_doubted in zip(row, listing.columns, doubted, strict=True)
            for value in _csv_cells(cell, column.quantity, system, is_doubted)
        ]
        for row in listing.rows
    ]
    return csv_text(names, rows)


def csv_cells(listing: Listing, row: tuple[Cell, ...], system: System) -> list[str | float | None]:
    """Cells of a row as other programs take them: numbers as numbers, in the shown units."""
    return [
        _csv_cells(cell, column.quantity, system, False)[0]
        for cell, column in zip(row, listing.columns, strict=True)
    ]


def _csv_cells(
    cell: Cell, quantity: str, system: System, is_doubted: bool
) -> list[str | float | None]:
    if cell is None or isinstance(cell, str):
        return [cell, None, None] if is_doubted else [cell]
    if not isinstance(cell, Stated | Doubted):
        value = in_shown(float(cell), quantity, system) if quantity else cell
        return [value, None, None] if is_doubted else [value]
    if not quantity:
        return [cell.value, _width(cell), _meaning(cell)]
    width = _width(cell)
    if width is not None:
        # A difference has no offset: °F become K by their factor alone.
        width = in_shown(width, quantity, system) - in_shown(0.0, quantity, system)
    return [in_shown(cell.value, quantity, system), width, _meaning(cell)]


def plain(listing: Listing) -> dict[str, Any]:
    """The list for machines, in the units inside."""
    return {
        "title": listing.title,
        "columns": [
            {
                "head": column.head,
                "quantity": column.quantity,
                "unit": QUANTITIES[column.quantity].unit if column.quantity else "",
            }
            for column in listing.columns
        ],
        "rows": [[_plain_cell(cell) for cell in row] for row in listing.rows],
    }


def _plain_cell(cell: Cell) -> Any:
    if isinstance(cell, Doubted):
        return {"value": cell.value, "expanded_uncertainty": cell.expanded, "coverage": 0.95}
    if not isinstance(cell, Stated):
        return cell
    return {
        "value": cell.value,
        "plus_minus": cell.plus_minus,
        "meaning": cell.meaning.value,
        "basis": cell.basis.value,
    }
