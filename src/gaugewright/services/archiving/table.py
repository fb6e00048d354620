"""A table for whoever has no gaugewright: written as text and as Parquet, each column explained."""

import csv
import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Literal

import polars as pl

from gaugewright.records.identity import instant_text

__all__ = ["Cell", "Column", "Table", "write_csv", "write_parquet"]

Kind = Literal["string", "number", "integer", "boolean", "datetime"]
Cell = str | float | int | bool | datetime | None
_POLARS = {
    "string": pl.String,
    "number": pl.Float64,
    "integer": pl.Int64,
    "boolean": pl.Boolean,
    "datetime": pl.Datetime("us", "UTC"),
}


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its name, kind, what it means; ``unit`` is "" for words and counts."""

    name: str
    kind: Kind
    meaning: str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of plain values under columns; ``key`` names the columns that tell rows apart."""

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    key: tuple[str, ...] = ("uid",)


def write_csv(table: Table, path: Path) -> None:
    """Write a table as comma-separated text (RFC 4180): UTF-8, a header, empty for nothing."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\r\n")
        writer.writerow(column.name for column in table.columns)
        writer.writerows([_text(cell) for cell in row] for row in table.rows)


def write_parquet(table: Table, path: Path) -> None:
    """Write a table as Parquet, with each column's kind; what it means is in the file's data."""
    schema: dict[str, Any] = {column.name: _POLARS[column.kind] for column in table.columns}
    rows = [
        [_typed(cell, column.kind) for cell, column in zip(row, table.columns, strict=True)]
        for row in table.rows
    ]
    told = [
        {"name": c.name, "meaning": c.meaning, "unit": c.unit, "kind": c.kind}
        for c in table.columns
    ]
    words = json.dumps({"title": table.title, "columns": told}, ensure_ascii=False, sort_keys=True)
    frame = pl.DataFrame(rows, schema=schema, orient="row")
    frame.write_parquet(path, compression="zstd", metadata={"gaugewright": words})


def _typed(cell: Cell, kind: Kind) -> Cell:
    return float(cell) if kind == "number" and isinstance(cell, int) else cell


def _text(cell: Cell) -> str:
    """Cell as text. A sheet program would run text that begins like a formula: it is kept quiet."""
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, datetime):
        return instant_text(cell)
    if isinstance(cell, str):
        return f"'{cell}" if cell[:1] in ("=", "+", "-", "@", "\t", "\r") else cell
    return repr(cell)
