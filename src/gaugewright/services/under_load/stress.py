"""Stress at rows of a record of a gauge or pair by its metal's law, and what the steel does."""

import numpy as np
import numpy.typing as npt

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.quantities import FloatArray
from gaugewright.services.bars.forces import stress_of
from gaugewright.services.steel.steel_laws import law_of
from gaugewright.services.steel.steel_stress import past_yield, stress_along_rows
from gaugewright.services.under_load.record import GaugeRecord, Rows

__all__ = ["ELASTIC", "ONE_SIDE", "REVERSED", "UNLOADED", "YIELDED", "steel_words", "stress_at"]

ELASTIC, YIELDED = "elastic", "yielded"
UNLOADED = "unloaded after yield"
ONE_SIDE = "yielded on one side"
REVERSED = "beyond what the law knows"
_RUNNING = 5  # samples of the running median that a highest strain is taken from


def stress_at(
    record: GaugeRecord, rows: Rows, *, held: npt.NDArray[np.bool_] | bool = False
) -> Uncertain:
    """Stress at some rows, in rising order and all with a strain; for a pair the mean of both.

    Stress isn't linear past yield: the mean of two stresses carries the force, not the stress of
    the mean strain.

    Raises
    ------
    InputError
        If the law lacks a number, or a doubt reaches beyond what it knows.
    """
    parts = [_of_part(record, number, rows, held) for number in range(len(record.parts))]
    return parts[0] if len(parts) == 1 else (parts[0] + parts[1]) / 2


def _of_part(
    record: GaugeRecord, number: int, rows: Rows, held: npt.NDArray[np.bool_] | bool
) -> Uncertain:
    part, circuit = record.parts[number], record.circuits[number]
    near = rows if number == 0 else record.rows_of_other(rows)
    if not past_yield(record.desk, record.material, part.strain[: int(near[-1]) + 1]):
        return stress_of(record.desk, record.material, part.uncertain(near))
    return stress_along_rows(record.desk, circuit, record.zero, near, held=held).stress


def steel_words(record: GaugeRecord, rows: Rows, stress: FloatArray) -> tuple[str, ...]:
    """What the steel does at some rows: elastic, yielded, unloaded after yield."""
    limit = law_of(record.material).yield_strain
    highest = _running_highest(record.strain)[rows]
    sides = _passed_on_one_side(record, rows, limit)
    words = []
    for strain, most, value, one_side in zip(
        record.strain[rows], highest, stress, sides, strict=True
    ):
        if not np.isfinite(strain):
            words.append("no reading")
        elif not np.isfinite(value):
            words.append(REVERSED)
        elif not most > limit:
            words.append(ONE_SIDE if one_side else ELASTIC)
        else:
            # Within the noise of the readings the highest strain is this one.
            words.append(YIELDED if abs(strain) >= most - 0.01 * limit else UNLOADED)
    return tuple(words)


def _passed_on_one_side(record: GaugeRecord, rows: Rows, limit: float) -> npt.NDArray[np.bool_]:
    """Whether either gauge of a pair has passed yield by then, whatever their mean says."""
    passed = np.zeros(rows.size, dtype=np.bool_)
    if len(record.parts) == 1:
        return passed
    for part, near in zip(record.parts, (rows, record.rows_of_other(rows)), strict=True):
        passed |= np.nan_to_num(_running_highest(part.strain)[near]) > limit
    return passed


def _running_highest(strain: FloatArray) -> FloatArray:
    """Largest strain so far by its size, from medians of five: a spike is no strain."""
    size = np.abs(strain)
    if strain.size < _RUNNING:
        return np.asarray(np.fmax.accumulate(size))
    windows = np.lib.stride_tricks.sliding_window_view(strain, _RUNNING)
    middle = np.full(strain.size, np.nan)
    middle[_RUNNING - 1 :] = np.abs(np.median(windows, axis=1))
    return np.asarray(np.fmax.accumulate(middle))
