"""The load that belongs to a reading, with the doubt of its cell and of joining two clocks."""

import numpy as np

from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import Channel, Instrument
from gaugewright.records.identity import Uid
from gaugewright.records.sensors import Sensor
from gaugewright.services.campaign.book import Book
from gaugewright.services.chaining.causes import input_of_stated, uncertain_of_stated
from gaugewright.services.reading.series import Series, series_of
from gaugewright.services.strain.strains import CircuitStrain, Desk

__all__ = ["clock_doubt", "load_at", "load_sensor", "load_series", "load_uncertain"]


def load_sensor(desk: Desk) -> Entry[Sensor]:
    """The one load cell of the campaign.

    Raises
    ------
    InputError
        If there is none, or more than one (then nobody has said which is meant).
    """
    cells = [s for s in desk.book.of(Sensor) if s.record.quantity == "force"]
    if len(cells) != 1:
        found = ", ".join(s.record.label for s in cells) or "none"
        raise InputError("load cell", found, "one sensor whose quantity is force")
    return cells[0]


def load_series(desk: Desk) -> Series:
    """Load over time [N], as the cell's calibration turns its reading."""
    entry = load_sensor(desk)

    def calibrated(book: Book) -> Series:
        cell = entry.record
        raw = series_of(desk.store, book, entry.uid)  # not the desk's, which would keep it as well
        value = cell.gain.value * raw.value
        value += cell.offset.value
        value *= cell.sign
        return Series(raw.time, value)

    return desk.book.once("load", calibrated)


def load_at(desk: Desk, time: FloatArray) -> FloatArray:
    """Load at other instants [N], straight between two samples; NaN outside the record."""
    return desk.beside("load", load_series(desk), time)


def load_uncertain(desk: Desk, load: FloatArray) -> Uncertain:
    """Loads with the doubt of the cell's calibration [N]."""
    entry = load_sensor(desk)
    cell = entry.record
    raw = (load / cell.sign - cell.offset.value) / cell.gain.value
    gain = uncertain_of_stated(f"load_gain@{entry.uid}", cell.gain, "gain of the load cell")
    offset = uncertain_of_stated(f"load_zero@{entry.uid}", cell.offset, "zero of the load cell")
    return (gain * raw + offset) * float(cell.sign)


def clock_doubt(desk: Desk, strain: CircuitStrain, rows: FloatArray, load: FloatArray) -> Uncertain:
    """What the recorders' times leave open in a load [N]: its rate times the doubt.

    Clocks were joined, and each recorder's filter is late by a delay that is known so well.
    Nothing where load and gauge were written by one recorder.
    """
    left_open = Uncertain.exact(np.zeros(load.shape))
    piece = next(
        p
        for p, begin in zip(strain.pieces, strain.begins, strict=True)
        if begin <= rows[0] < begin + p.stretch.reading.size
    )
    recording = piece.stretch.recording
    if _same_recorder(desk, recording.record.instrument):
        return left_open
    offset = desk.book.clock_map_of(recording).record.offset
    joined = input_of_stated(f"clock@{recording.uid}", offset, "clocks of two recorders")
    doubts = [] if joined is None else [(joined, 1.0)]
    doubts += _delays(desk, recording.record.instrument)
    if not doubts:
        return left_open
    time = strain.time[rows.astype(np.int64)]
    series = load_series(desk)
    half = 2.0  # seconds to each side: longer than a scan, shorter than a load step
    rate = (series.at(time + half) - series.at(time - half)) / (2 * half)
    for doubt, sign in doubts:
        part = Uncertain.from_input(np.zeros(load.shape), doubt, sign * np.nan_to_num(rate))
        left_open = left_open + part
    return left_open


def _delays(desk: Desk, instrument: Uid | None) -> list[tuple[InputQuantity, float]]:
    """Doubts of both filters' delays, where they are stated: the gauge's and the load cell's."""
    cells = [
        desk.book.entry(connection.record.channel, Channel).record.instrument
        for connection in desk.book.connections_of(load_sensor(desk).uid)
    ]
    found = []
    for uid, sign in ((instrument, -1.0), (next(iter(cells), None), 1.0)):
        delay = None if uid is None else desk.book.entry(uid, Instrument).record.filter_delay
        if delay is None or not delay.plus_minus:
            continue
        made = input_of_stated(f"filter_delay@{uid}", delay, "delay of a recorder's filter")
        found += [] if made is None else [(made, sign)]
    return found


def _same_recorder(desk: Desk, instrument: object) -> bool:
    cell = load_sensor(desk)
    return any(
        desk.book.entry(connection.record.channel, Channel).record.instrument == instrument
        for connection in desk.book.connections_of(cell.uid)
    )
