"""A calibration read from a recording: every load step held still becomes a row of the table."""

import numpy as np

from gaugewright.errors import InputError
from gaugewright.quantities import parse_unit
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.readings import LoadStep, Recording
from gaugewright.records.specimen import Bar
from gaugewright.services.bars.forces import SETTLED
from gaugewright.services.calibrating.calibrations import circuits_of_bar
from gaugewright.services.calibrating.table import CalibrationTable, Column, runs_by_turn
from gaugewright.services.campaign.book import Book
from gaugewright.services.reading.series import Stretch, campaign_seconds, stretches_of
from gaugewright.services.strain.strains import Desk
from gaugewright.services.under_load.loads import load_at
from gaugewright.store.campaign import CampaignStore

__all__ = ["table_of_recording"]


def table_of_recording(
    store: CampaignStore, bar: Entry[Bar], recording: Entry[Recording]
) -> CalibrationTable:
    """Mean force and readings in the settled part of each load step within a recording.

    A step at which a circuit or the load has no reading is left out and counted.

    Raises
    ------
    InputError
        If no circuit of the bar was read in it, or no load step lies in it.
    """
    desk = Desk(store, Book.read(store))
    read = {
        circuit.uid: (circuit, stretches)
        for circuit in circuits_of_bar(desk.book, bar)
        if (stretches := _stretches(desk, circuit, recording))
    }
    label = recording.record.label
    if not read:
        raise InputError(f"circuits of {bar.record.label} in {label}", "none", "at least one")
    steps = _steps(desk, [part for _, parts in read.values() for part in parts])
    if len(steps) < 3:
        do = "name the loads that were held still as load steps, or type the rows"
        raise InputError(f"load steps in {label}", len(steps), "3 or more", do)
    rows = []
    for step in steps:
        load: list[float] = []
        readings: list[float] = []
        for _, stretches in read.values():
            held, reading = _held(desk, stretches, step.record)
            load.append(held)
            readings.append(reading)
        rows.append([float(np.mean(load)), *readings])
    table = np.array(rows)
    whole = table[np.isfinite(table).all(axis=1)]
    if not len(whole):
        raise InputError(f"load steps in {label}", "none complete", "with load and every reading")
    force = tuple(whole[:, 0].tolist())
    columns = [
        _column(desk, circuit, stretches[0], tuple(whole[:, place].tolist()))
        for place, (circuit, stretches) in enumerate(read.values(), start=1)
    ]
    return CalibrationTable(force, tuple(columns), runs_by_turn(force), len(table) - len(whole))


def _stretches(
    desk: Desk, circuit: Entry[BridgeCircuit], recording: Entry[Recording]
) -> tuple[Stretch, ...]:
    found = stretches_of(desk.store, desk.book, circuit.uid)
    return tuple(part for part in found if part.recording.uid == recording.uid)


def _steps(desk: Desk, parts: list[Stretch]) -> list[Entry[LoadStep]]:
    begins = min(float(part.time[0]) for part in parts)
    ends = max(float(part.time[-1]) for part in parts)
    found = [
        step
        for step in desk.book.of(LoadStep)
        if campaign_seconds(step.record.begins) >= begins - 1.0
        and campaign_seconds(step.record.ends) <= ends + 1.0
    ]
    return sorted(found, key=lambda step: step.record.begins)


def _held(desk: Desk, stretches: tuple[Stretch, ...], step: LoadStep) -> tuple[float, float]:
    """Mean load and reading in the last part of a step; NaN where there is none."""
    begins, ends = campaign_seconds(step.begins), campaign_seconds(step.ends)
    settled = ends - SETTLED * (ends - begins)
    time = np.concatenate([part.time for part in stretches])
    reading = np.concatenate([part.reading for part in stretches])
    inside = (time >= settled) & (time < ends)
    load = load_at(desk, time[inside])
    good = np.isfinite(load) & np.isfinite(reading[inside])
    if not good.any():
        return float("nan"), float("nan")
    return float(load[good].mean()), float(reading[inside][good].mean())


def _column(
    desk: Desk, circuit: Entry[BridgeCircuit], stretch: Stretch, readings: tuple[float, ...]
) -> Column:
    spelling = desk.book.setting_of(stretch.connection).record.unit
    unit = parse_unit(spelling)
    if unit is None:
        raise InputError("unit of the channel setting", spelling, "a unit this package knows")
    return Column(circuit.record.label, unit, readings)
