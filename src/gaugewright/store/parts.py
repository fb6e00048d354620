"""Readings on disk: parts of a recording that never change, and the marks beside them."""

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import polars as pl

from gaugewright.errors import InputError, StoreError
from gaugewright.quantities import FloatArray
from gaugewright.records.identity import Uid
from gaugewright.records.readings import Recording, RecordingColumn

__all__ = [
    "BLOCK_ROWS",
    "ELAPSED",
    "MARKS_FILE",
    "MARKS_SCHEMA",
    "PARTS_SCHEMA",
    "PartFile",
    "Readings",
    "footer",
    "part_name",
]

BLOCK_ROWS = 65_536  # rows of a row group and of a block of work
PARTS_SCHEMA = 1
ELAPSED = "elapsed_ns"
MARKS_FILE = "marks.parquet"
MARKS_SCHEMA = {
    "column": pl.String,
    "first_row": pl.Int64,
    "last_row": pl.Int64,
    "code": pl.String,
    "text": pl.String,
}


@dataclass(frozen=True, slots=True)
class PartFile:
    """One file of a recording as the database lists it."""

    file: str
    first_row: int
    rows: int
    sha256: str

    @property
    def end(self) -> int:
        """Row after the last one."""
        return self.first_row + self.rows


def part_name(number: int) -> str:
    """Name of a part file, numbered from 0."""
    return f"part-{number:06d}.parquet"


def footer(
    recording: Uid, first_row: int, fields: Sequence[str], columns: Sequence[RecordingColumn]
) -> dict[str, str]:
    """What a part says of itself, so that it can be understood without the database.

    Numbers are as received: no zero, no sign and no scale has been applied to them.
    """
    told = {
        "columns": [
            {
                "field": column.field,
                "name": column.name,
                "role": column.role,
                "sign": "as received",
                "source_channel": column.name,
                "unit": column.unit,
            }
            for column in columns
        ],
        "elapsed": {"field": ELAPSED, "unit": "ns", "from": "first row of the recording"},
        "fields": list(fields),
        "first_row": first_row,
        "recording": recording,
        "schema": PARTS_SCHEMA,
    }
    return {"gaugewright": json.dumps(told, ensure_ascii=False, sort_keys=True)}


class Readings:
    """Raw readings of one recording, as received; rows count from 0."""

    def __init__(self, folder: Path, recording: Recording, files: Sequence[PartFile]) -> None:
        self._folder = folder
        self._recording = recording
        self._parts = tuple(
            sorted((f for f in files if f.file != MARKS_FILE), key=lambda f: f.first_row)
        )
        self._fields: tuple[str, ...] = ()

    @property
    def rows(self) -> int:
        """How many rows there are."""
        return self._parts[-1].end if self._parts else 0

    @property
    def columns(self) -> tuple[RecordingColumn, ...]:
        """Columns of the recording: name in the file, field here, unit, role."""
        return self._recording.columns

    @property
    def fields(self) -> tuple[str, ...]:
        """Fields of the parts: ``elapsed_ns``, time columns, values."""
        if not self._fields:  # parts never change: their schema is read once
            self._fields = tuple(self.scan().collect_schema().names())
        return self._fields

    @property
    def hashes(self) -> tuple[str, ...]:
        """SHA-256 of each part in row order: what derived series are keyed by."""
        return tuple(part.sha256 for part in self._parts)

    def scan(self) -> pl.LazyFrame:
        """All rows and fields, nothing read yet.

        Raises
        ------
        StoreError
            If a part's file is missing.
        """
        return pl.scan_parquet([self._path(part) for part in self._parts])

    def window(self, first: int, last: int, fields: Sequence[str]) -> pl.DataFrame:
        """Rows ``first`` to ``last``, both included as everywhere in the records.

        Raises
        ------
        InputError
            If the rows or a field aren't in the recording.
        """
        if not 0 <= first <= last < self.rows:
            raise InputError("rows", (first, last), f"within 0 and {self.rows - 1}, in order")
        wanted = list(dict.fromkeys(fields))
        self._refuse_unknown(wanted)
        pieces = []
        for part in self._parts:
            begin, end = max(first, part.first_row), min(last + 1, part.end)
            if begin < end:
                lazy = pl.scan_parquet(self._path(part)).select(wanted)
                pieces.append(lazy.slice(begin - part.first_row, end - begin).collect())
        return pl.concat(pieces, rechunk=True)

    def blocks(
        self, fields: Sequence[str], block_rows: int = BLOCK_ROWS, *, first: int = 0
    ) -> Iterator[tuple[int, pl.DataFrame]]:
        """Blocks of rows from row ``first`` on, each with the number of its first row."""
        if block_rows < 1:
            raise InputError("block_rows", block_rows, "1 or more")
        for begin in range(first, self.rows, block_rows):
            yield begin, self.window(begin, min(begin + block_rows, self.rows) - 1, fields)

    def elapsed_s(self) -> FloatArray:
        """Seconds since the first row, by the recording's own clock."""
        return np.asarray(self.elapsed_ns().to_numpy(), dtype=np.float64) / 1e9

    def elapsed_ns(self) -> pl.Series:
        """Nanoseconds since the first row, null where nobody knows."""
        return self.scan().select(ELAPSED).collect().to_series()

    def values(self, field: str) -> FloatArray:
        """All values of one field as received; NaN where the sample is bad.

        Raises
        ------
        InputError
            If there is no such field or it doesn't hold numbers.
        """
        self._refuse_unknown([field])
        series = self.scan().select(field).collect().to_series()
        if not series.dtype.is_numeric():
            raise InputError("field", field, "one that holds numbers")
        return series.cast(pl.Float64).fill_null(float("nan")).to_numpy()

    def marks(self) -> pl.DataFrame:
        """What stood where no number was: column, first row, last row, code, original text."""
        path = self._folder / MARKS_FILE
        if not path.is_file():
            raise StoreError(f"{path} is missing; take it from a copy of the campaign")
        return pl.read_parquet(path)

    def _path(self, part: PartFile) -> Path:
        path = self._folder / part.file
        if not path.is_file():
            raise StoreError(f"{path} is missing; take it from a copy of the campaign")
        return path

    def _refuse_unknown(self, fields: Sequence[str]) -> None:
        known = self.fields
        for field in fields:
            if field not in known:
                raise InputError("field", field, "one of " + ", ".join(known))
