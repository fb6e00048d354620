"""Unloading slope against E, strain that stayed, and loops with their energy, at one gauge."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial

import numpy as np
import numpy.typing as npt

from gaugewright.calc import first_loading, hysteresis
from gaugewright.calc.first_loading import Line
from gaugewright.calc.quality import noise_floor
from gaugewright.calc.uncertainty import Uncertain, combination
from gaugewright.errors import InputError
from gaugewright.present.series import kept_rows
from gaugewright.records.specimen import Specimen, SpecimenKind, SteelLaw
from gaugewright.services.bars.forces import net_area_of
from gaugewright.services.chaining.causes import uncertain_of_stated
from gaugewright.services.loading.events import DECLARED
from gaugewright.services.loading.holds import HoldRow
from gaugewright.services.loading.yields import yield_strain
from gaugewright.services.under_load.loads import load_uncertain
from gaugewright.services.under_load.record import GaugeRecord

__all__ = ["LoopRow", "ResidualRow", "UnloadingRow", "loop_rows", "residual_rows", "unloading_rows"]

Rows = npt.NDArray[np.int64]
_AXIAL = (SpecimenKind.BARE_METAL, SpecimenKind.STRAND)
_ALONG = 400  # samples of a loop that its area is taken from
_TURN_SAMPLES = 20_000
_OFF = 0.1  # slope of unloading over that of loading, from which on it is remarked


@dataclass(frozen=True, slots=True)
class UnloadingRow:
    """A fall of the load: strain per load between a quarter and three quarters of it [1/N].

    ``modulus`` [Pa] where load over area is the stress; else ``ratio`` [1], to the slope of the
    cracked, elastic first loading.
    """

    first: int
    last: int
    peak: Uncertain
    low: Uncertain
    slope: Uncertain
    modulus: Uncertain | None
    ratio: Uncertain | None
    note: str


@dataclass(frozen=True, slots=True)
class ResidualRow:
    """Strain at zero load after a fall, less that at zero load before it; ``highest`` load [N]."""

    before: HoldRow
    after: HoldRow
    highest: float
    strain: Uncertain
    note: str


@dataclass(frozen=True, slots=True)
class LoopRow:
    """A loop of load against strain: its area ∮ P dε [N], how far it is from closing [1]."""

    first: int
    turn: int
    last: int
    peak: Uncertain
    low: Uncertain
    area: Uncertain
    energy: Uncertain | None
    gap: float
    closed: bool


def unloading_rows(record: GaugeRecord) -> tuple[UnloadingRow, ...]:
    """Every fall of the load by more than a twentieth of the largest load."""
    thin, gate = _turns_of(record)
    if not thin.size:
        return ()
    falls = hysteresis.unloadings(record.load[thin], gate)
    # Every fall is held against the same line: found once, and only where one asks for it.
    line = cache(partial(_first_line, record))
    made = (_unloading(record, int(thin[fall.first]), int(thin[fall.last]), line) for fall in falls)
    return tuple(row for row in made if row is not None)


def loop_rows(record: GaugeRecord) -> tuple[LoopRow, ...]:
    """Every loop: a fall, and the way back to the load it began at."""
    thin, gate = _turns_of(record)
    if not thin.size:
        return ()
    made = []
    for loop in hysteresis.loops(record.load[thin], gate):
        rows = (int(thin[loop.first]), int(thin[loop.turn]), int(thin[loop.last]))
        row = _loop(record, rows, closed=loop.closed)
        made += [row] if row is not None else []
    return tuple(made)


def residual_rows(record: GaugeRecord, holds: tuple[HoldRow, ...]) -> tuple[ResidualRow, ...]:
    """Strain that stayed each time the load came back to nothing and was held there."""
    if not holds:
        return ()
    largest = max(abs(hold.load.value.item()) for hold in holds)
    made: list[ResidualRow] = []
    before: HoldRow | None = None
    highest = 0.0
    for hold in holds:
        load = hold.load.value.item()
        highest = max(highest, load)
        if abs(load) > 0.02 * largest or hold.strain is None:
            continue
        if before is not None and before.strain is not None and highest > 0.05 * largest:
            made.append(_residual(record, before, hold, highest))
        before, highest = hold, 0.0
    return tuple(made)


def _residual(record: GaugeRecord, before: HoldRow, after: HoldRow, highest: float) -> ResidualRow:
    # Made from the same causes, so what both share drops out of the difference.
    strain = (after.strain or Uncertain.exact(0.0)) - (before.strain or Uncertain.exact(0.0))
    note = ""
    if record.material.record.law is not SteelLaw.ELASTIC:
        limit = DECLARED.residual
        surely = strain.value.item() - strain.expanded().item() > limit
        if surely:
            note = f"more than {limit * 1e6:.0f} µε stayed: the bar yielded at or below that load"
    return ResidualRow(before, after, highest, strain, note)


def _turns_of(record: GaugeRecord) -> tuple[Rows, float]:
    """Rows with the extremes of the load, and the smallest fall that counts [N]."""
    if not np.isfinite(record.load).any():
        return np.empty(0, dtype=np.int64), 0.0
    rows = kept_rows(record.time, record.load, _TURN_SAMPLES)
    rows = rows[np.isfinite(record.load[rows])]
    noise = noise_floor(record.load)
    largest = float(np.nanmax(np.abs(record.load)))
    gate = max(0.05 * largest, 20 * (0.0 if np.isnan(noise) else noise))
    return rows, gate


def _unloading(
    record: GaugeRecord, first: int, last: int, line: Callable[[], Line | str]
) -> UnloadingRow | None:
    load = record.load[first : last + 1]
    high, low = float(load[0]), float(load[-1])
    marks = [low + share * (high - low) for share in (0.8, 0.7, 0.3, 0.2)]
    upper = first + np.flatnonzero((load <= marks[0]) & (load >= marks[1]))
    lower = first + np.flatnonzero((load <= marks[2]) & (load >= marks[3]))
    try:
        fall = record.mean_load(upper) - record.mean_load(lower)
        slope = (record.mean(upper) - record.mean(lower)) / fall
        peak, trough = (record.mean_load(np.asarray([row])) for row in (first, last))
    except InputError:
        return None
    highest = float(np.nanmax(record.strain[: last + 1]))
    modulus, ratio, note = _against(record, slope, highest, line)
    return UnloadingRow(first, last, peak, trough, slope, modulus, ratio, note)


def _first_line(record: GaugeRecord) -> Line | str:
    """Straight line of the first loading of cracked, elastic behaviour, or why there is none."""
    first = np.where(first_loading.first_loading(record.load), record.load, np.nan)
    limit = yield_strain(record.desk, record.material).value.item()
    low, high = DECLARED.line_from * limit, DECLARED.line_to * limit
    try:
        return first_loading.line_between(first, record.strain, low, high)
    except InputError as problem:
        return f"no slope of first loading to compare with: {problem}"


def _against(
    record: GaugeRecord, slope: Uncertain, highest: float, first: Callable[[], Line | str]
) -> tuple[Uncertain | None, Uncertain | None, str]:
    """Modulus where the load is all in this bar; else the slope over that of first loading."""
    bar = record.desk.book.bar_of(record.gauges[0])
    specimen = record.desk.book.entry(bar.record.specimen, Specimen)
    if specimen.record.kind in _AXIAL and bar.record.area is not None:
        return _modulus(record, slope)
    if record.material.record.law is SteelLaw.ELASTIC:
        return None, None, "load shared with other parts: no modulus follows from it"
    limit = yield_strain(record.desk, record.material).value.item()
    if highest < DECLARED.line_from * limit:
        return None, None, "from below the line of cracked, elastic behaviour: nothing to compare"
    line = first()
    if isinstance(line, str):
        return None, None, line
    # One gauge and one cell read both slopes: their factors drop out of the ratio.
    # How far the record strays from a straight line over its length is doubt of its slope too.
    strays = line.scatter / ((DECLARED.line_to - DECLARED.line_from) * limit)
    noise = np.hypot(
        np.hypot(line.slope_error / line.slope, strays),
        slope.noise.item() / abs(slope.value.item()),
    )
    value = slope.value.item() / line.slope
    ratio = Uncertain.noisy(value, float(abs(value) * noise))
    note = "the concrete shares the load: not E itself, but the slope of the first loading again"
    if abs(value - 1) > _OFF + ratio.expanded().item():
        note = (
            f"{value:.2f} of the slope of first loading: cracks that stay open, or a gauge that "
            "comes off, unload like that"
        )
    return None, ratio, note


def _modulus(record: GaugeRecord, slope: Uncertain) -> tuple[Uncertain, None, str]:
    area = net_area_of(record.desk, record.gauges[0])
    product = slope * area
    modulus = combination(1 / product.value, [(product, -1 / product.value**2)])
    stated = uncertain_of_stated(
        f"modulus@{record.material.uid}",
        record.material.record.elastic_modulus,
        "modulus of the steel",
    )
    apart = modulus - stated
    within = abs(apart.value.item()) <= apart.expanded().item()
    told = f"E of the bar is {stated.value.item() / 1e9:.0f} GPa: "
    return modulus, None, told + ("within their doubts" if within else "further than their doubts")


def _loop(record: GaugeRecord, rows: tuple[int, int, int], *, closed: bool) -> LoopRow | None:
    first, turn, last = rows
    along = np.unique(np.linspace(first, last, min(_ALONG, last - first + 1)).astype(np.int64))
    along = along[np.isfinite(record.load[along]) & np.isfinite(record.strain[along])]
    if along.size < 8:
        return None
    found = hysteresis.loop_area(record.load[along], record.strain[along])
    area = _summed(record.uncertain(along), found.by_strain, found.area)
    by_load = _summed(load_uncertain(record.desk, record.load[along]), found.by_load, 0.0)
    noise = noise_floor(record.load[first : last + 1])
    by_load = by_load + Uncertain.noisy(
        0.0, float(np.sqrt(np.sum(found.by_load**2))) * (0.0 if np.isnan(noise) else noise)
    )
    total = area + by_load
    peak, low = (record.mean_load(np.asarray([row])) for row in (first, turn))
    return LoopRow(first, turn, last, peak, low, total, _energy(record, total), found.gap, closed)


def _summed(values: Uncertain, weights: npt.NDArray[np.float64], value: float) -> Uncertain:
    """What weighted samples owe together: their common causes add up, their noise doesn't."""
    shape = values.value.shape
    return Uncertain(
        np.asarray(value),
        {
            name: np.asarray(np.sum(weights * np.broadcast_to(slope, shape)))
            for name, slope in values.sensitivities.items()
        },
        np.asarray(np.sqrt(np.sum((weights * np.broadcast_to(values.noise, shape)) ** 2))),
        values.inputs,
    )


def _energy(record: GaugeRecord, area: Uncertain) -> Uncertain | None:
    """Energy per volume of the bar [J/m³], where the load is all in it."""
    bar = record.desk.book.bar_of(record.gauges[0])
    specimen = record.desk.book.entry(bar.record.specimen, Specimen)
    if specimen.record.kind not in _AXIAL or bar.record.area is None:
        return None
    return area / net_area_of(record.desk, record.gauges[0])
