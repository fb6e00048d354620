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
from gaugewright.services.bars.forces import SETTLED
from gaugewright.services.reading.series import campaign_seconds
from gaugewright.services.strain.strains import Desk
from gaugewright.services.under_load.loads import load_series
from gaugewright.services.under_load.record import GaugeRecord, Rows
from gaugewright.services.under_load.stress import steel_words, stress_at

__all__ = ["SETTLED_WHEN", "HeldLoad", "HoldRow", "held_loads", "hold_rows"]

SHORTEST = 10.0  # [s]
LONGEST_STEP = 60.0  # [s] between two readings; longer, nothing was recorded between them
SHARE_A_MINUTE = 0.01
SETTLED_WHEN = (
    "settled: over the last third strain moves in a minute by less than 1 % of the step before "
    "(common practice, no source) or by less than it is known"
)
_OF_STRESS = 20  # samples of a hold that its stress is taken from


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
    found = load_steps.holds(series.time, series.value, shortest=_shortest(series.time))
    largest = float(np.nanmax(np.abs(series.value))) if found else 0.0
    loaded = next((n for n, hold in enumerate(found) if abs(hold.level) > 0.05 * largest), None)
    if loaded is None:  # none under load: those of the zeros belong to no test
        return ()
    steps = desk.book.of(LoadStep)
    return tuple(_held(hold, series.time, steps) for hold in found[max(loaded - 1, 0) :])


def _shortest(time: npt.NDArray[np.float64]) -> float:
    """Shortest hold looked for: in a test of days, one of ten seconds is a pause of the pump."""
    recorded = float(np.sum(np.minimum(np.diff(time), LONGEST_STEP)))
    return max(SHORTEST, recorded / 1000)


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
    found = [(one, rows) for one in held if (rows := _settled_rows(record, one)).size]
    stresses = _stresses(record, [rows for _, rows in found])
    made: list[HoldRow] = []
    before: Uncertain | None = None
    for (one, rows), (stress, steel, note) in zip(found, stresses, strict=True):
        load, last = record.mean_load(rows), int(rows[-1])
        good = rows[np.isfinite(record.strain[rows])]
        if not good.size:
            note = "no strain was read here"
            made.append(HoldRow(one, last, load, None, None, "", None, None, note))
            continue
        strain, drift = record.mean(good), _drift(record, good)
        settled = None if drift is None else _settled(drift, strain, before)
        made.append(HoldRow(one, last, load, strain, stress, steel, drift, settled, note))
        before = strain
    return tuple(made)


def _settled_rows(record: GaugeRecord, held: HeldLoad) -> Rows:
    """Rows of the last third of a hold that have a load."""
    begins = held.ends - SETTLED * (held.ends - held.begins)
    inside = (record.time >= begins) & (record.time <= held.ends)
    return np.flatnonzero(inside & np.isfinite(record.load)).astype(np.int64)


def _stresses(record: GaugeRecord, groups: list[Rows]) -> list[tuple[Uncertain | None, str, str]]:
    """Mean stress of every hold, what the steel did, and why there is no stress.

    All at once: the law is replayed from the first row, however few rows are asked for.
    """
    chosen = []
    for rows in groups:
        good = rows[np.isfinite(record.strain[rows])]
        chosen.append(good[:: max(good.size // _OF_STRESS, 1)])
    every = np.unique(np.concatenate([np.empty(0, np.int64), *chosen])).astype(np.int64)
    if not every.size:
        return [(None, "", "")] * len(groups)
    try:
        stress = stress_at(record, every, held=True)
        words = steel_words(record, every, stress.value)
    except InputError as problem:
        return [(None, "", str(problem))] * len(groups)
    made: list[tuple[Uncertain | None, str, str]] = []
    for rows in chosen:
        places = np.searchsorted(every, rows)
        if not rows.size:
            made.append((None, "", ""))
            continue
        mean = stress[places].mean()
        known = bool(np.isfinite(mean.value))
        made.append((mean if known else None, words[int(places[-1])], ""))
    return made


def _drift(record: GaugeRecord, rows: npt.NDArray[np.int64]) -> Drift | None:
    try:
        return load_steps.drift(record.time[rows], record.strain[rows])
    except InputError:
        return None


def _settled(drift: Drift, strain: Uncertain, before: Uncertain | None) -> bool:
    step = abs(strain.value.item() - (0.0 if before is None else before.value.item()))
    a_minute = 60 * abs(drift.rate)
    return a_minute < max(SHARE_A_MINUTE * step, 2 * 60 * drift.rate_error)
