"""Load steps as the load cell shows them: mean strain, stress, and whether the hold had settled."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gaugewright.calc import load_steps
from gaugewright.calc.load_steps import Drift, Hold
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.readings import LoadStep
from gaugewright.records.specimen import SteelLaw
from gaugewright.services.causes import uncertain_of_stated
from gaugewright.services.forces import SETTLED, stress_of
from gaugewright.services.gauge_record import GaugeRecord
from gaugewright.services.loads import load_series
from gaugewright.services.series import campaign_seconds
from gaugewright.services.strains import Desk
from gaugewright.services.yields import yield_strain

__all__ = ["SETTLED_WHEN", "HeldLoad", "HoldRow", "held_loads", "hold_rows"]

SHORTEST = 10.0  # [s]
SHARE_A_MINUTE = 0.01
SETTLED_WHEN = (
    "settled: over the last third strain moves in a minute by less than 1 % of the step before "
    "(common practice, no source) or by less than it is known"
)
_RUNNING = 5  # samples of the running median that a highest strain is taken from


@dataclass(frozen=True, slots=True)
class HeldLoad:
    """A hold that the load cell shows, with the load step that a person noted there, if any."""

    label: str
    begins: float
    ends: float
    level: float


@dataclass(frozen=True, slots=True)
class HoldRow:
    """One gauge in one hold: means over the settled part with their doubt.

    ``steel`` is "elastic", "yielded" or "unloaded after yield", "" where nothing is known;
    ``drift`` is of strain [1/s]; ``row`` is the last one of the hold.
    """

    held: HeldLoad
    row: int
    load: Uncertain
    strain: Uncertain | None
    stress: Uncertain | None
    steel: str
    drift: Drift | None
    settled: bool | None
    note: str


def held_loads(desk: Desk) -> tuple[HeldLoad, ...]:
    """Holds of the test from the last one before it was loaded, found in the load alone."""
    series = load_series(desk)
    found = load_steps.holds(series.time, series.value, shortest=SHORTEST)
    if not found:
        return ()
    largest = float(np.nanmax(np.abs(series.value)))
    loaded = next((n for n, hold in enumerate(found) if abs(hold.level) > 0.05 * largest), 0)
    steps = desk.book.of(LoadStep)
    return tuple(_held(hold, series.time, steps) for hold in found[max(loaded - 1, 0) :])


def _held(
    hold: Hold, time: npt.NDArray[np.float64], steps: tuple[Entry[LoadStep], ...]
) -> HeldLoad:
    begins, ends = float(time[hold.first]), float(time[hold.last])
    shared = [
        (_shared(begins, ends, step.record), step.record.label)
        for step in steps
        if _shared(begins, ends, step.record) > 0
    ]
    # What a person noted counts where half of it, or half of the hold, is the same time.
    label = max(shared)[1] if shared and max(shared)[0] > 0.5 else ""
    return HeldLoad(label, begins, ends, hold.level)


def _shared(begins: float, ends: float, step: LoadStep) -> float:
    first, last = campaign_seconds(step.begins), campaign_seconds(step.ends)
    return (min(ends, last) - max(begins, first)) / max(min(ends - begins, last - first), 1e-9)


def hold_rows(record: GaugeRecord, held: tuple[HeldLoad, ...]) -> tuple[HoldRow, ...]:
    """Every hold at one gauge or pair."""
    running = _running_highest(record)
    made: list[HoldRow] = []
    before: Uncertain | None = None
    for one in held:
        row = _row(record, one, running, before)
        if row is None:
            continue
        made.append(row)
        before = row.strain if row.strain is not None else before
    return tuple(made)


def _row(
    record: GaugeRecord,
    held: HeldLoad,
    running: npt.NDArray[np.float64],
    before: Uncertain | None,
) -> HoldRow | None:
    begins = held.ends - SETTLED * (held.ends - held.begins)
    inside = (record.time >= begins) & (record.time <= held.ends)
    rows = np.flatnonzero(inside & np.isfinite(record.load))
    if not rows.size:
        return None
    load, last = record.mean_load(rows), int(rows[-1])
    good = rows[np.isfinite(record.strain[rows])]
    if not good.size:
        return HoldRow(held, last, load, None, None, "", None, None, "no strain was read here")
    strain = record.mean(good)
    note = ""
    try:
        stress, steel = _stress(record, strain, float(running[last]))
    except InputError as problem:
        stress, steel, note = None, "", str(problem)
    drift = _drift(record, good)
    settled = None if drift is None else _settled(drift, strain, before)
    return HoldRow(held, last, load, strain, stress, steel, drift, settled, note)


def _drift(record: GaugeRecord, rows: npt.NDArray[np.int64]) -> Drift | None:
    try:
        return load_steps.drift(record.time[rows], record.strain[rows])
    except InputError:
        return None


def _settled(drift: Drift, strain: Uncertain, before: Uncertain | None) -> bool:
    step = abs(strain.value.item() - (0.0 if before is None else before.value.item()))
    a_minute = 60 * abs(drift.rate)
    return a_minute < max(SHARE_A_MINUTE * step, 2 * 60 * drift.rate_error)


def _running_highest(record: GaugeRecord) -> npt.NDArray[np.float64]:
    """Highest strain so far by its size, from medians of five: a spike is no strain."""
    strain = record.strain
    if strain.size < _RUNNING:
        return np.fmax.accumulate(strain)
    windows = np.lib.stride_tricks.sliding_window_view(strain, _RUNNING)
    good = np.isfinite(windows).all(axis=1)
    middle = np.full(strain.size, np.nan)
    middle[_RUNNING - 1 :][good] = np.median(windows[good], axis=1)
    return np.fmax.accumulate(middle)


def _stress(record: GaugeRecord, strain: Uncertain, highest: float) -> tuple[Uncertain, str]:
    """Stress by the bar's law, along its history: back from the highest strain with slope E.

    Raises
    ------
    InputError
        If the law lacks a value, or the bar has yielded in compression, where this law ends.
    """
    desk, material = record.desk, record.material
    if material.record.law is SteelLaw.ELASTIC:
        return stress_of(desk, material, strain), "elastic"
    limit = yield_strain(desk, material).value.item()
    value = strain.value.item()
    if not highest > limit:
        if value < -limit:
            return stress_of(desk, material, strain), "yielded in compression"
        return stress_of(desk, material, strain), "elastic"
    # Within the noise of the readings the highest strain is this one.
    if value >= highest - 0.01 * limit:
        return stress_of(desk, material, strain), "yielded"
    modulus = uncertain_of_stated(
        f"modulus@{material.uid}", material.record.elastic_modulus, "modulus of the steel"
    )
    # Both strains were read by this gauge: their common errors are those of the strain here.
    top = strain * (highest / value) if value else strain + highest
    stress = stress_of(desk, material, top) - modulus * (top - strain)
    if stress.value.item() < -limit * modulus.value.item():
        raise InputError("stress", "past yield the other way", "within the range this law knows")
    return stress, "unloaded after yield"
