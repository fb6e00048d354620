"""Rows of a test as they come, through the same chains as reduction, in bounded memory."""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import Instrument
from gaugewright.records.identity import Uid
from gaugewright.services.follow_checks import Runs
from gaugewright.services.follow_memory import Ring, Thinned
from gaugewright.services.follow_sides import Sides
from gaugewright.services.follow_wiring import Wire, Wired, apparent_chain, needed, wired
from gaugewright.services.loads import load_sensor
from gaugewright.services.strains import Desk
from gaugewright.sources.blocks import Block
from gaugewright.sources.layout import Layout

__all__ = ["Rows"]


@dataclass(slots=True)
class _Columns:
    """Where values of a block go: their names, and each one's place."""

    names: tuple[str, ...]
    place: dict[str, int]


class Rows:
    """Readings and strains of the last minutes, and means of all before.

    ``value`` of a column is strain for a gauge circuit, load in N for the load cell, else the
    reading in SI.
    """

    def __init__(self, desk: Desk, instrument: Entry[Instrument], layout: Layout) -> None:
        values = tuple(column for column in layout.columns if column.role == "value")
        names = tuple(column.name for column in values)
        self._instrument = instrument
        self._layout = layout
        self._columns = _Columns(names, {name: n for n, name in enumerate(names)})
        self.time = Ring(1)
        self.reading = Ring(len(names))
        self.value = Ring(len(names))
        self.past = Thinned(len(names))
        self.runs = Runs(len(names))
        self.newest = math.nan
        self._sides: Sides | None = None
        self.wired = Wired((), ())
        self.desk = desk
        self.load_place: int | None = None

    @property
    def told(self) -> tuple[str, ...]:
        """What is held or missing, in sentences."""
        said = list(self._sides.told.values()) if self._sides is not None else []
        if self.wired.unnamed:
            names = ", ".join(self.wired.unnamed[:8])
            more = f" and {len(self.wired.unnamed) - 8} more" if self.wired.unnamed[8:] else ""
            said.append(f"no channel is entered for column {names}{more}")
        return tuple(said)

    @property
    def columns(self) -> int:
        """How many columns of values there are."""
        return len(self._columns.names)

    def rewired(self, desk: Desk, since: float) -> None:
        """Take connections, chains and zeros as the records have them now.

        Raises
        ------
        InputError
            If a column's unit can't be what its channel is set to write.
        """
        self.desk = desk
        self.wired = wired(desk.book, self._instrument, self._layout.columns, since=since)
        subjects = frozenset(wire.subject for wire in self.wired.wires)
        self._sides = Sides(desk, subjects)
        self.load_place = _load_place(desk, self.wired)

    def take(self, block: Block, time: FloatArray) -> FloatArray:
        """Take rows in at their campaign seconds; the numbers as in the file come back."""
        raw = block.values.to_numpy().astype(np.float64, order="C", copy=True)
        raw[np.isnan(raw)] = np.nan
        if self._sides is None or not len(raw):
            return raw
        reading = np.full(raw.shape, np.nan)
        value = np.full(raw.shape, np.nan)
        shared = self._needed()
        for wire in self.wired.wires:
            at = time + wire.shift
            inside = (at >= wire.begins) & (at < wire.ends)
            if inside.any():
                self._one(wire, raw, (at, inside), (reading, value), shared)
        marks = [
            (self._columns.place[m.column], m)
            for m in block.marks
            if m.column in self._columns.place
        ]
        self.runs.take(reading, value, marks, block.first_row + block.rows - 1)
        self.time.add(time[:, None])
        self.reading.add(reading)
        self.value.add(value)
        self.past.add(time, value)
        known = time[np.isfinite(time)]
        self.newest = float(known[-1]) if known.size else self.newest
        return raw

    def _needed(self) -> frozenset[Uid]:
        return frozenset(
            uid for wire in self.wired.wires if wire.built for uid in needed(wire.built).values()
        )

    def _one(
        self,
        wire: Wire,
        raw: FloatArray,
        when: tuple[FloatArray, npt.NDArray[np.bool_]],
        made: tuple[FloatArray, FloatArray],
        shared: frozenset[Uid],
    ) -> None:
        """Fill in one wire's readings and values at the rows it was connected."""
        if self._sides is None:
            return
        (at, inside), (reading, value) = when, made
        own = wire.reading(raw[inside, wire.place])
        reading[inside, wire.place] = own
        if wire.built is not None:
            columns = self._sides.columns(wire.built, at[inside])
            value[inside, wire.place] = wire.built.chain.strain(own, columns)
            if wire.subject in shared:
                chain = apparent_chain(wire.built)
                beside = {name: columns[name] for name in chain.columns}
                self._sides.take(wire.subject, at[inside], chain.strain(own, beside))
            return
        if wire.place == self.load_place and wire.sensor is not None:
            cell = wire.sensor.record
            own = cell.sign * (cell.gain.value * own + cell.offset.value)
        value[inside, wire.place] = own
        if wire.subject in shared:
            self._sides.take(wire.subject, at[inside], wire.reading(raw[inside, wire.place]))

    def wire_now(self, place: int) -> Wire | None:
        """Connection that a column is read through at the newest row."""
        for wire in self.wired.wires:
            if wire.place == place and wire.begins <= self.newest + wire.shift < wire.ends:
                return wire
        return None

    def window(self, seconds: float) -> tuple[FloatArray, FloatArray]:
        """Campaign seconds and values of the rows of the last seconds."""
        time = self.time.last()[:, 0]
        rows = int(np.count_nonzero(time > self.newest - seconds))
        return time[len(time) - rows :], self.value.last(rows)

    def beside(self, wire: Wire, time: float) -> dict[str, FloatArray]:
        """Columns of a wire's chains at one instant."""
        if self._sides is None or wire.built is None:
            raise InputError(f"chain of column {wire.place}", None, "built from records")
        return self._sides.columns(wire.built, np.asarray([time]))


def _load_place(desk: Desk, found: Wired) -> int | None:
    """Column of the load cell; None where the campaign has none, or the file hasn't it."""
    try:
        cell = load_sensor(desk)
    except InputError:
        return None
    return next((wire.place for wire in found.wires if wire.subject == cell.uid), None)
