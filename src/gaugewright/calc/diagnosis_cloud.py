"""Which readings each cause predicts, over all that it leaves open: a mixture of normal laws.

The ranges of a cause are cut into cells. At the middle of each the circuit is solved, and its
slopes over the cell and over what a sound gauge may be off make a normal law of readings. So a
sharp reading is never lost between two samples, and no number is drawn by chance.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import qmc

from gaugewright.calc import diagnosis_circuit, diagnosis_harness
from gaugewright.calc.diagnosis_causes import Allowances, Cause, Range
from gaugewright.calc.diagnosis_circuit import LOGARITHMIC, QUARTER, Setup
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "FAR",
    "Cloud",
    "cloud_of",
    "doubt_covariance",
    "floating_variance",
]

FAR = 1e9  # ohm: beyond this an ohmmeter calls it open, and slopes mean nothing
_FAR_DECADES = 13.0
# Small steps by which slopes over doubts are found, by the doubt's first word.
_STEPS = {"grid": 1e-3, "completion": 1e-3}
_STEP = 1e-2
# Cells along each range: many for one, fewer each for several at once.
_CELLS = {0: 1, 1: 192, 2: 768, 3: 1024}
_MOST = 2048
# More wires have many more causes: a third of the cells each, for time and memory.
_FEWER = 3
_FLOATING = 0.3  # V/V, how far a signal input that hangs free may read


@dataclass(frozen=True, slots=True, eq=False)
class Cloud:
    """Readings of one cause.

    Attributes
    ----------
    cause : Cause
        Whose.
    names : tuple of str
        What can be read of the gauge.
    doubts : tuple of str
        What a sound gauge may be off by.
    unit : array, shape (n_cells, n_ranges)
        Middle of each cell, every range from 0 to 1 [1].
    side : float
        Length of a cell in that measure [1].
    middle : array, shape (n_cells, n_readings)
        In the order of ``names``; logarithms to ten where they are compared so.
    slopes : array, shape (n_cells, n_readings, n_doubts)
        By each of ``doubts``.
    cells : array, shape (n_cells, n_readings, n_ranges)
        By one cell along each range.
    """

    cause: Cause
    names: tuple[str, ...]
    doubts: tuple[str, ...]
    unit: FloatArray
    side: float
    middle: FloatArray
    slopes: FloatArray
    cells: FloatArray

    def column(self, what: str) -> int:
        """Place of a reading along the second axis [1].

        Raises
        ------
        InputError
            If this gauge has no such reading.
        """
        if what not in self.names:
            raise InputError("what", what, "one of " + ", ".join(self.names))
        return self.names.index(what)


def cloud_of(setup: Setup, cause: Cause, allowances: Allowances) -> Cloud:
    """Readings that a cause predicts for a gauge, whatever is left open.

    Parameters
    ----------
    setup : Setup
        What records say of the gauge.
    cause : Cause
        With its ranges.
    allowances : Allowances
        Where a sound insulation lies.

    Returns
    -------
    Cloud
        The same every time.
    """
    names, doubts = diagnosis_harness.names_of(setup), diagnosis_harness.doubts_of(setup)
    steps = [_STEPS.get(doubt.split()[0], _STEP) for doubt in doubts]
    free = [one for one in cause.ranges if one.high > one.low]
    unit, side = _cells(len(free), len(doubts) > len(diagnosis_harness.DOUBTS))
    count = len(unit)
    at = [unit]
    for place in range(len(free)):
        for way in (0.5, -0.5):
            moved = unit.copy()
            moved[:, place] += way * side
            at.append(moved)
    rows = np.concatenate([*at, *([unit] * len(doubts))])
    doubt = np.zeros((len(rows), len(doubts)))
    for place, step in enumerate(steps):
        begin = (len(at) + place) * count
        doubt[begin : begin + count, place] = step
    read = _read(setup, cause, allowances, _Rows(rows, doubt, tuple(free)))
    blocks = read.reshape(-1, count, len(names))
    middle = blocks[0]
    ends = blocks[1 : len(at)]
    cells = [_change(ends[2 * n], ends[2 * n + 1]) for n in range(len(free))]
    slopes = [_change(blocks[len(at) + n], middle) / step for n, step in enumerate(steps)]
    shape = (count, len(names), 0)
    return Cloud(
        cause,
        names,
        doubts,
        unit,
        side,
        middle,
        np.stack(slopes, axis=-1),
        np.stack(cells, axis=-1) if cells else np.zeros(shape),
    )


def doubt_covariance(doubts: Sequence[str], allowances: Allowances) -> FloatArray:
    """Covariance of what a sound gauge may be off by, before anything was read.

    Parameters
    ----------
    doubts : sequence of str
        Names.
    allowances : Allowances
        Standard deviations.

    Returns
    -------
    covariances : array, shape (n_doubts, n_doubts)
        Diagonal [1].
    """
    spread = {
        "grid": allowances.grid,
        "lead": allowances.lead,
        "wire": allowances.lead_alone,
        "completion": allowances.completion,
        "insulation": allowances.insulation_scatter,
        "shield": allowances.insulation_scatter,
    }
    return np.diag(np.square([spread[doubt.split()[0]] for doubt in doubts]))


@dataclass(frozen=True, slots=True)
class _Rows:
    unit: FloatArray
    doubt: FloatArray
    free: tuple[Range, ...]


def _cells(ranges: int, are_fewer: bool) -> tuple[FloatArray, float]:
    count = _CELLS.get(ranges, _MOST)
    if are_fewer and ranges > 1:
        count //= _FEWER
    if ranges == 0:
        return np.zeros((1, 0)), 1.0
    if ranges == 1:
        return (np.arange(count)[:, np.newaxis] + 0.5) / count, 1.0 / count
    # Halton's sequence fills any number of axes evenly, the same every time.
    unit = qmc.Halton(ranges, scramble=False).random(count + 1)[1:]
    side = float(count ** (-1.0 / ranges))
    return np.clip(unit, side / 2, 1 - side / 2), side


def _read(setup: Setup, cause: Cause, allowances: Allowances, rows: _Rows) -> FloatArray:
    """Readings of all rows, in the measure they are compared in."""
    elements = {one.element: np.full(len(rows.unit), one.low) for one in cause.ranges}
    for place, one in enumerate(rows.free):
        elements[one.element] = _stretched(one, rows.unit[:, place])
    doubts = diagnosis_harness.doubts_of(setup)
    for doubt, off in zip(doubts, rows.doubt.T, strict=True):
        _doubted(elements, doubt, off, allowances.insulation_decades)
    predicted = (
        diagnosis_circuit.predicted if setup.harness == QUARTER else diagnosis_harness.predicted
    )
    found = predicted(setup, elements, cause.pins)
    names = diagnosis_harness.names_of(setup)
    return np.stack([_measure(name, found[name]) for name in names], axis=-1)


def _doubted(elements: dict[str, FloatArray], doubt: str, off: FloatArray, decades: float) -> None:
    """Put what a sound gauge may be off by into its elements."""
    kind, _, which = doubt.partition(" ")
    if kind == "wire":
        name = f"joint_{which}"
        elements[name] = elements.get(name, np.zeros(1)) + off
    elif kind == "insulation":
        elements["insulation"] = 10 ** (decades + off)
    elif kind == "shield":
        elements["shield_insulation"] = 10 ** (decades + off)
    else:
        name = f"{kind}_{which}" if which else f"{kind}_factor"
        elements[name] = elements.get(name, np.ones(1)) * (1 + off)


def _stretched(one: Range, unit: FloatArray) -> FloatArray:
    share = np.clip(unit, 0.0, 1.0)
    if one.even_in == "value":
        return np.asarray(one.low + (one.high - one.low) * share)
    return np.asarray(one.low * (one.high / one.low) ** share)


def _measure(name: str, values: FloatArray) -> FloatArray:
    if name in LOGARITHMIC:
        return np.clip(np.log10(np.clip(values, 1e-3, 1e15)), -3.0, _FAR_DECADES)
    return np.where(values > FAR, 1e12, values)


def _change(later: FloatArray, before: FloatArray) -> FloatArray:
    """Difference, or nothing where either is open: there a reading says open whatever happens."""
    far = (np.abs(later) > FAR) | (np.abs(before) > FAR)
    return np.where(far, 0.0, later - before)


def floating_variance(cause: Cause, names: Sequence[str]) -> FloatArray:
    """Variance that a free signal input adds to readings of the bridge.

    Parameters
    ----------
    cause : Cause
        Which may leave it free.
    names : sequence of str
        Readings.

    Returns
    -------
    covariances : array, shape (n_readings,)
        Squares of the unit of each [1].
    """
    loose = np.array([cause.floats and name in ("bridge", "shunt step") for name in names])
    return np.where(loose, _FLOATING**2, 0.0)
