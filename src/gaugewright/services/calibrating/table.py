"""A typed or exported table of a calibration: force beside readings, cut into its series."""

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from gaugewright.errors import InputError, InputFaults
from gaugewright.present.typed import number_typed
from gaugewright.quantities import parse_unit, to_si
from gaugewright.records.proof import LoadedSeries
from gaugewright.units import Unit

__all__ = ["CalibrationTable", "Column", "read_table", "runs_by_turn"]

_HEAD = re.compile(r"^(?P<name>[^\[(]+?)\s*[\[(](?P<unit>[^\])]+)[\])]\s*$")
SERIES, FORCE = "series", "force"


@dataclass(frozen=True, slots=True)
class Column:
    """Readings of one circuit as the table names it, in SI, with the unit they were in."""

    name: str
    unit: Unit
    readings: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class CalibrationTable:
    """Forces [N], the readings beside them, and to which run each row belongs."""

    force: tuple[float, ...]
    columns: tuple[Column, ...]
    runs: tuple[tuple[int, ...], ...]
    left_out: int

    def series(self, column: Column) -> tuple[LoadedSeries, ...]:
        """Runs of one column, as the record keeps them."""
        return tuple(
            LoadedSeries(
                tuple(self.force[row] for row in run), tuple(column.readings[row] for row in run)
            )
            for run in self.runs
        )


def read_table(text: str) -> CalibrationTable:
    """Table with a heading: ``force [kN]``, a column for each circuit, and perhaps ``series``.

    Units stand in brackets and are never guessed. Commas, semicolons or tabs part the columns. A
    row that lacks a number is left out of all columns and counted. Without ``series`` a new run
    begins wherever the load, having fallen, rises again.

    Raises
    ------
    InputError
        If something can't be read.
    Faults
        If several things can't.
    """
    lines = [line for line in text.splitlines() if line.strip()]
    if len(lines) < 2:
        raise InputError("table", f"{len(lines)} lines", "a heading and the rows below it")
    delimiter = next((mark for mark in "\t;" if mark in lines[0]), ",")
    rows = list(csv.reader(io.StringIO("\n".join(lines)), delimiter=delimiter))
    heads, units = _heads(rows[0])
    cells, left_out = _cells(rows[1:], heads)
    if not cells:
        raise InputError("rows of the table", "none complete", "with a force and every reading")
    values = {
        name: [float(to_si(number, units[name])) for number in column]
        for name, column in zip(heads, zip(*cells, strict=True), strict=True)
        if name != SERIES
    }
    force = tuple(values.pop(FORCE))
    numbers = [row[heads.index(SERIES)] for row in cells] if SERIES in heads else None
    return CalibrationTable(
        force,
        tuple(Column(name, units[name], tuple(column)) for name, column in values.items()),
        _runs_named(numbers) if numbers is not None else runs_by_turn(force),
        left_out,
    )


def _heads(row: Sequence[str]) -> tuple[list[str], Mapping[str, Unit]]:
    """Names of the columns and their units; everything wrong with them at once."""
    names: list[str] = []
    units: dict[str, Unit] = {}
    faults: list[InputError] = []
    for head in row:
        if head.strip().lower() == SERIES:
            names.append(SERIES)
            continue
        found = _HEAD.match(head.strip())
        unit = parse_unit(found["unit"].strip()) if found else None
        if found is None or unit is None:
            faults.append(
                InputError("heading", head, "a name with a unit that is known, like force [kN]")
            )
            continue
        name = found["name"].strip()
        name = FORCE if name.lower() == FORCE else name
        names.append(name)
        units[name] = unit
    if not faults:
        faults += _missing(names, units)
    if len(faults) == 1:
        raise faults[0]
    if faults:
        raise InputFaults("headings of the calibration table", faults)
    return names, units


def _missing(names: Sequence[str], units: Mapping[str, Unit]) -> list[InputError]:
    if FORCE not in names:
        return [InputError("headings", ", ".join(names), "with force [kN] among them")]
    if units[FORCE].dimension != "force":
        return [InputError("unit of the force", units[FORCE].name, "a unit of force, like kN")]
    if len(units) < 2:
        return [InputError("headings", ", ".join(names), "with a reading beside the force")]
    if len(set(names)) != len(names):
        return [InputError("headings", ", ".join(names), "each name once")]
    return []


def _cells(rows: Sequence[Sequence[str]], heads: Sequence[str]) -> tuple[list[list[float]], int]:
    """Numbers of every complete row, and how many rows were not complete."""
    cells: list[list[float]] = []
    left_out = 0
    faults: list[InputError] = []
    for line, row in enumerate(rows, start=2):
        texts = [text.strip() for text in row]
        if len(texts) != len(heads):
            allowed = f"{len(heads)} cells, as the heading has"
            faults.append(InputError(f"line {line} of the table", f"{len(texts)} cells", allowed))
            continue
        if any(text in ("", "-", "–") for text in texts):
            left_out += 1
            continue
        numbers = []
        for name, text in zip(heads, texts, strict=True):
            try:
                numbers.append(number_typed(f"{name}, line {line} of the table", text))
            except InputError as fault:
                faults.append(fault)
        cells.append(numbers)
    if len(faults) == 1:
        raise faults[0]
    if faults:
        raise InputFaults("rows of the calibration table", faults)
    return cells, left_out


def _runs_named(numbers: Sequence[float]) -> tuple[tuple[int, ...], ...]:
    order = dict.fromkeys(numbers)
    return tuple(
        tuple(row for row, number in enumerate(numbers) if number == name) for name in order
    )


def runs_by_turn(force: Sequence[float]) -> tuple[tuple[int, ...], ...]:
    """Rows of each rise and fall; a lowest row between two runs belongs to both."""
    away = np.asarray(force) - force[0]
    size = away * np.sign(away[int(np.argmax(np.abs(away)))])
    runs: list[tuple[int, ...]] = []
    start, last = 0, len(size) - 1
    while start < last:
        row = start
        while row < last and size[row + 1] > size[row]:
            row += 1
        while row < last and size[row + 1] < size[row]:
            row += 1
        runs.append(tuple(range(start, row + 1)))
        if row == last:
            break
        # Two rows at the same lowest load: one closes this run, the other opens the next.
        start = row + 1 if size[row + 1] == size[row] else row
        if start == runs[-1][0]:
            start += 1
    return tuple(run for run in runs if len(run) > 1)
