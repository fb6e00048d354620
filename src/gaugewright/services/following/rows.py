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
from gaugewright.services.following.checks import Runs
from gaugewright.services.following.memory import Ring, Thinned
from gaugewright.services.following.sides import Sides
from gaugewright.services.following.wiring import Wire, Wired, apparent_chain, wired
from gaugewright.services.strain.strains import Desk
from gaugewright.services.under_load.loads import load_sensor
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

    def __init__(
        self,
        desk: Desk,
        instrument: Entry[Instrument],
        layout: Layout,
        sides: Sides,
        source: int = 0,
    ) -> None:
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
        self.source = source
        self.wirings = 0
        self._second: FloatArray | None = None
        self._now: tuple[float, dict[int, Wire]] = (math.nan, {})
        self._sides = sides
        self.wired = Wired((), ())
        self.desk = desk
        self.load_place: int | None = None

    @property
    def told(self) -> tuple[str, ...]:
        """Columns that nobody named, in a sentence."""
        if not self.wired.unnamed:
            return ()
        names = ", ".join(self.wired.unnamed[:8])
        more = f" and {len(self.wired.unnamed) - 8} more" if self.wired.unnamed[8:] else ""
        return (f"no channel is entered for column {names}{more}",)

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
        self.wired = wired(
            desk.book, self._instrument, self._layout.columns, since=since, source=self.source
        )
        self.wirings += 1
        self._now = (math.nan, {})
        subjects = frozenset(wire.subject for wire in self.wired.wires)
        self._sides.renew(desk, self.source, subjects, self.wired.needs())
        self.load_place = _load_place(desk, self.wired)

    def take(self, block: Block, time: FloatArray) -> FloatArray:
        """Take rows in at their campaign seconds; the numbers as in the file come back."""
        raw = block.values.to_numpy().astype(np.float64, order="C", copy=True)
        raw[np.isnan(raw)] = np.nan
        if not self.wirings or not len(raw):
            return raw
        reading = np.full(raw.shape, np.nan)
        value = np.full(raw.shape, np.nan)
        shared = self._sides.wanted
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
        self._second = None
        return raw

    def _one(
        self,
        wire: Wire,
        raw: FloatArray,
        when: tuple[FloatArray, npt.NDArray[np.bool_]],
        made: tuple[FloatArray, FloatArray],
        shared: frozenset[Uid],
    ) -> None:
        """Fill in one wire's readings and values at the rows it was connected."""
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

    def wires_now(self) -> dict[int, Wire]:
        """Connection that each column is read through at the newest row."""
        at, known = self._now
        if at != self.newest:
            known = {
                wire.place: wire
                for wire in self.wired.wires
                if wire.begins <= self.newest + wire.shift < wire.ends
            }
            self._now = (self.newest, known)
        return known

    def window(self, seconds: float) -> tuple[FloatArray, FloatArray]:
        """Campaign seconds and values of the rows of the last seconds."""
        time = self.time.last()[:, 0]
        rows = int(np.count_nonzero(time > self.newest - seconds))
        return time[len(time) - rows :], self.value.last(rows)

    def second(self) -> FloatArray:
        """Mean of every column over the last second, or of the newest row where rows come slower.

        NaN where nothing was read.
        """
        if self._second is None:
            values = self.window(1.0)[1]
            known = np.isfinite(values)
            count = known.sum(axis=0)
            total = np.where(known, values, 0.0).sum(axis=0)
            self._second = np.where(count > 0, total / np.maximum(count, 1), np.nan)
        return self._second

    def mean_before(self, place: int, at: float) -> float:
        """Mean of a column over the second before an instant; NaN where nothing is held of it."""
        time = self.time.last()[:, 0]
        values = self.value.last()[(time > at - 1.0) & (time <= at), place]
        good = values[np.isfinite(values)]
        return float(np.mean(good)) if good.size else math.nan

    def beside(self, wire: Wire, time: float) -> dict[str, FloatArray]:
        """Columns of a wire's chains at one instant."""
        if wire.built is None:
            raise InputError(f"chain of column {wire.place}", None, "built from records")
        return self._sides.columns(wire.built, np.asarray([time]))


def _load_place(desk: Desk, found: Wired) -> int | None:
    """Column of the load cell; None where the campaign has none, or the file hasn't it."""
    try:
        cell = load_sensor(desk)
    except InputError:
        return None
    return next((wire.place for wire in found.wires if wire.subject == cell.uid), None)
