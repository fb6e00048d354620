"""First yield and first cracking at a gauge, each by criteria that are named, with evidence."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from gaugewright.calc import first_loading, onset
from gaugewright.calc.quality import noise_floor
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.proof import ZeroKind
from gaugewright.records.specimen import SteelLaw
from gaugewright.services.bars.together import quarter_circuits
from gaugewright.services.loading.yields import load_at_passage, yield_strain
from gaugewright.services.strain.strains import Desk
from gaugewright.services.under_load.record import GaugeRecord

__all__ = ["CRACKING", "DECLARED", "YIELD", "Declared", "Event", "events_of"]

YIELD, CRACKING = "yield", "cracking"
_BESIDE = 5  # samples before and after a step
_RAREST = 1e-6  # a smaller chance says no more: no record is as regular as its model
_LOAD_NEVER = "no load was recorded together with this gauge"


@dataclass(frozen=True, slots=True)
class Declared:
    """Numbers of the criteria, strains without unit; common practice, no source, where not ours.

    ``line_from`` and ``line_to`` are shares of f_y/E between which the straight line of cracked,
    elastic behaviour is taken (choice of this project).
    """

    line_from: float = 0.3
    line_to: float = 0.7
    first_sign: float = 100e-6
    offset: float = 0.002
    stiffness_share: float = 1 / 3
    residual: float = 200e-6
    step: float = 20e-6
    steeper: float = 1.5
    plateau_rise: float = 0.004


DECLARED = Declared()


@dataclass(frozen=True, slots=True)
class Event:
    """One event by one criterion; ``load`` is None where it wasn't seen, then ``note`` says why.

    ``load`` [N] and ``strain`` [1] hold one Uncertain value each; ``row`` counts in the gauge's
    record, ``time`` is campaign time [s]. ``note`` says too what else could look like this.
    """

    kind: str
    name: str
    criterion: str
    load: Uncertain | None
    strain: Uncertain | None
    time: float | None
    row: int | None
    evidence: str
    note: str


def events_of(record: GaugeRecord, declared: Declared = DECLARED) -> tuple[Event, ...]:
    """Cracking and yield at a gauge or pair, every criterion in turn."""
    if not np.isfinite(record.load).any():
        return (_unseen(YIELD, "strain", "", _LOAD_NEVER),)
    first = np.where(first_loading.first_loading(record.load), record.load, np.nan)
    limit = _yield_strain(record)
    found = [*_cracking(record, first, limit, declared)]
    if limit is not None:
        found += _yields(record, first, limit, declared)
    return tuple(found)


def _yield_strain(record: GaugeRecord) -> Uncertain | None:
    if record.material.record.law is SteelLaw.ELASTIC:
        return None
    return yield_strain(record.desk, record.material)


def _unseen(kind: str, name: str, criterion: str, why: str) -> Event:
    return Event(kind, name, criterion, None, None, None, None, "", why)


def _cracking(
    record: GaugeRecord, first: FloatArray, limit: Uncertain | None, declared: Declared
) -> Iterator[Event]:
    """Step and bend of strain below half of yield: what steel does when concrete cracks."""
    highest = float(np.nanmax(record.strain)) if np.isfinite(record.strain).any() else 0.0
    top = highest if limit is None else 0.5 * limit.value.item()
    with np.errstate(invalid="ignore"):
        below = np.where(record.strain < top, first, np.nan)
    step = (
        f"strain steps up by more than {declared.step * 1e6:.0f} µε and 5 deviations of its noise, "
        "beyond what the load explains"
    )
    bent = (
        f"strain rises {declared.steeper:g} times as steeply with load from there on, two lines "
        "against one at 0.1 %"
    )
    slope = _steepest(below, record.strain)
    jump = (
        None
        if slope is None
        else first_loading.jump(below, record.strain, slope, least=declared.step)
    )
    if jump is None:
        yield _unseen(CRACKING, "step", step, "no such step on the first loading")
    else:
        yield _step_event(record, jump, step)
    bend = first_loading.bend(below, record.strain, steeper=declared.steeper)
    if bend is None:
        yield _unseen(CRACKING, "bend", bent, "one straight line will do, or too few samples")
    else:
        yield _bend_event(record, first, bend, bent)


def _steepest(load: FloatArray, strain: FloatArray) -> float | None:
    """Steepest rise of strain with load that this gauge shows over a tenth of its own range."""
    good = np.isfinite(load) & np.isfinite(strain)
    if np.count_nonzero(good) < 3 or np.ptp(load[good]) == 0:
        return None
    whole = float(np.ptp(strain[good]) / np.ptp(load[good]))
    try:
        line = first_loading.line_between(load, strain, *np.quantile(strain[good], (0.5, 0.95)))
    except InputError:
        return whole
    return max(line.slope, whole)


def _step_event(record: GaugeRecord, jump: first_loading.Jump, criterion: str) -> Event:
    before = np.arange(max(jump.row - _BESIDE + 1, 0), jump.row + 1)
    after = np.arange(jump.row + 1, min(jump.row + 1 + _BESIDE, record.load.size))
    load_before, load_after = (float(np.nanmedian(record.load[rows])) for rows in (before, after))
    noise = noise_floor(record.load)
    noise = 0.0 if math.isnan(noise) else noise
    # The crack opened between two scans: the load there is as doubtful as it moved.
    step = abs(float(record.load[after[0]] - record.load[jump.row])) if after.size else 0.0
    between = Uncertain.noisy(0.0, math.hypot(noise, np.nan_to_num(step) / math.sqrt(12)))
    time = float(record.time[jump.row])
    fell = load_before - load_after
    height = f"step of {jump.height * 1e6:.0f} µε, limit {jump.limit * 1e6:.0f} µε"
    seen = [f"the load fell by {fell / 1e3:.2f} kN with it"] if fell > 3 * noise else []
    seen += _others(record, time)
    note = (
        "; ".join(seen)
        if seen
        else "nothing else moved at that instant: a joint, a lead or a bond line that gives way "
        "makes such a step too"
    )
    return Event(
        CRACKING,
        "step",
        criterion,
        record.mean_load(before[-1:]) + between,
        record.mean(before),
        time,
        jump.row,
        height,
        note,
    )


def _others(record: GaugeRecord, time: float) -> list[str]:
    """Gauges of the same bar that stepped at an instant."""
    mine = {gauge.uid for gauge in record.gauges}
    bar = record.desk.book.bar_of(record.gauges[0]).uid
    told = []
    for circuit, gauge in quarter_circuits(record.desk):
        if gauge.uid in mine or record.desk.book.bar_of(gauge).uid != bar:
            continue
        height = _step_at(record.desk, circuit, record.zero, time)
        if height is not None:
            told.append(f"{gauge.record.label} stepped by {height * 1e6:+.0f} µε")
    more = [f"and {len(told) - 3} more"] if len(told) > 3 else []
    return told[:3] + more


def _step_at(
    desk: Desk, circuit: Entry[BridgeCircuit], zero: ZeroKind, time: float
) -> float | None:
    try:
        strain = desk.strain(circuit, zero)
    except InputError:
        return None
    at = int(np.searchsorted(strain.time, time))
    rows = np.arange(max(at - 5 * _BESIDE, 0), min(at + 5 * _BESIDE, strain.time.size))
    near = np.abs(rows - at) <= _BESIDE  # clocks and scans leave open on which side these lie
    rows = rows[~near & np.isfinite(strain.strain[rows])]
    after = strain.time[rows] > time
    if min(np.count_nonzero(after), np.count_nonzero(~after)) < 2 * _BESIDE:
        return None
    # What the load moves goes on as before: a straight line and a step beside it.
    columns = (np.ones(rows.size), strain.time[rows] - time, after.astype(np.float64))
    design: FloatArray = np.column_stack(columns)
    found, *_ = np.linalg.lstsq(design, strain.strain[rows], rcond=None)
    left = strain.strain[rows] - design @ found
    height = float(found[2])
    return height if abs(height) > max(10e-6, 5 * float(np.std(left))) else None


def _bend_event(
    record: GaugeRecord, first: FloatArray, bend: first_loading.Bend, criterion: str
) -> Event:
    row = int(np.flatnonzero(np.nan_to_num(first, nan=-np.inf) >= bend.load)[0])
    rows = np.arange(max(row - _BESIDE, 0), row + 1)
    knot = InputQuantity(
        f"bend@{record.label}",
        (bend.high - bend.low) / (2 * 1.96),
        meaning="where the two lines meet",
    )
    shift = Uncertain.from_input(bend.load - float(np.nanmean(record.load[rows])), knot)
    slopes = f"{bend.before * 1e9:.3g} to {bend.after * 1e9:.3g} µε/kN"
    return Event(
        CRACKING,
        "bend",
        criterion,
        record.mean_load(rows) + shift,
        record.mean(rows),
        float(record.time[row]),
        row,
        f"slope from {slopes}; {_chance_words(bend.chance)}",
        "a crack beside the gauge, slip or seating of the supports bends this curve too",
    )


def _chance_words(chance: float) -> str:
    """How often a straight record shows such a bend; what is rarer than can be meant isn't told."""
    if chance < _RAREST:
        return "chance in a straight record below one in a million"
    return f"chance in a straight record {100 * chance:.2g} %"


def _yields(
    record: GaugeRecord, first: FloatArray, limit: Uncertain, declared: Declared
) -> Iterator[Event]:
    threshold = limit.value.item()
    yield _passed(record, limit, "strain", "mechanical strain passes f_y/E for five scans in a row")
    yield _passed(
        record,
        limit + declared.offset,
        "offset",
        f"mechanical strain passes f_y/E + {declared.offset * 100:.1f} % for five scans in a row",
    )
    first_sign = (
        f"strain lies {declared.first_sign * 1e6:.0f} µε beyond its own straight line against "
        f"load, taken between {declared.line_from:g} and {declared.line_to:g} f_y/E, five scans "
        "in a row"
    )
    softer = (
        f"stiffness dP/dε falls below {declared.stiffness_share:.2f} of that line, over five "
        "pieces of 100 µε in a row"
    )
    try:
        line = first_loading.line_between(
            first, record.strain, declared.line_from * threshold, declared.line_to * threshold
        )
    except InputError:
        why = (
            f"no straight line to leave: too few readings of the first loading between "
            f"{declared.line_from * threshold * 1e6:.0f} and "
            f"{declared.line_to * threshold * 1e6:.0f} µε"
        )
        yield _unseen(YIELD, "departure", first_sign, why)
        yield _unseen(YIELD, "stiffness", softer, why)
    else:
        yield _departed(record, first, line, declared.first_sign, first_sign)
        yield _softened(record, first, line, declared.stiffness_share, softer)
    yield _plateau(record, first, threshold, declared.plateau_rise)


def _plateau(record: GaugeRecord, first: FloatArray, limit: float, rise: float) -> Event:
    criterion = (
        f"strain runs on by {rise * 1e6:.0f} µε from near f_y/E while the load rises by less than "
        "1 %: the front of a yield plateau passes the gauge"
    )
    found = first_loading.plateau(first, record.strain, 0.8 * limit, rise)
    if found is None:
        return _unseen(YIELD, "plateau", criterion, "strain never ran on at one load")
    begin, end = found
    rows = np.arange(max(begin - _BESIDE + 1, 0), begin + 1)
    moved = max(float(record.load[end] - record.load[begin]), 0.0)
    # Anywhere while strain ran on, the front may have passed.
    between = Uncertain.noisy(moved / 2, moved / math.sqrt(12))
    return Event(
        YIELD,
        "plateau",
        criterion,
        record.mean_load(rows) + between,
        record.mean(rows),
        float(record.time[begin]),
        begin,
        f"{(record.strain[end] - record.strain[begin]) * 1e6:.0f} µε while the load rose by "
        f"{moved / 1e3:.2f} kN",
        "local: the bar yields on the average before or after; a gauge that loses its grip runs "
        "the other way",
    )


def _passed(record: GaugeRecord, limit: Uncertain, name: str, criterion: str) -> Event:
    known = np.flatnonzero(np.isfinite(record.load))
    begin, end = int(known[0]), int(known[-1]) + 1
    part = slice(begin, end)
    try:
        found = onset.passage(record.load[part], record.strain[part], limit.value.item())
    except InputError as problem:
        return _unseen(YIELD, name, criterion, str(problem))
    if found is None:
        seen = record.strain[part][np.isfinite(record.strain[part])]
        highest = float(seen.max()) if seen.size else math.nan
        return _unseen(
            YIELD, name, criterion, f"not reached: highest strain {highest * 1e6:.0f} µε"
        )
    moved = _later(found, begin)
    rows = np.arange(moved.first, moved.last)
    load = load_at_passage(
        record.desk,
        moved,
        record.mean(rows),
        timed_by=record.parts[0],
        rows=rows,
        threshold=limit,
    )
    bent = len(record.gauges) == 1
    return Event(
        YIELD,
        name,
        criterion,
        load,
        limit,
        float(record.time[moved.index]),
        moved.index,
        f"passes {limit.value.item() * 1e6:.0f} µε",
        "one side of the bar: local bending brings this forward or puts it off" if bent else "",
    )


def _later(found: onset.Passage, begin: int) -> onset.Passage:
    """The same passage, its rows counted from the beginning of the record."""
    return replace(
        found,
        index=found.index + begin,
        first=found.first + begin,
        last=found.last + begin,
    )


def _departed(
    record: GaugeRecord,
    first: FloatArray,
    line: first_loading.Line,
    offset: float,
    criterion: str,
) -> Event:
    found = first_loading.departure(first, record.strain, line, offset)
    if found is None:
        return _unseen(YIELD, "departure", criterion, "strain never left its straight line so far")
    rows = np.arange(found.first, found.last)
    # The line was fitted to this gauge: its factor is in both and drops out. What is left is how
    # well the line is known there, with its scatter counted whole, since steel isn't a ruler.
    doubt = math.hypot(line.scatter, line.slope_error * (found.load - line.middle))
    load = load_at_passage(
        record.desk,
        found,
        Uncertain.noisy(found.strain, doubt),
        timed_by=record.parts[0],
        rows=rows,
        threshold=Uncertain.exact(offset),
    )
    return Event(
        YIELD,
        "departure",
        criterion,
        load,
        record.mean(rows),
        float(record.time[found.index]),
        found.index,
        f"line {line.slope * 1e9:.3g} µε/kN, scatter {line.scatter * 1e6:.1f} µε",
        "of the bar here, not of the side under the gauge; slip beside it leaves the line too",
    )


def _softened(
    record: GaugeRecord,
    first: FloatArray,
    line: first_loading.Line,
    share: float,
    criterion: str,
) -> Event:
    row = first_loading.softening(first, record.strain, line, share)
    if row is None:
        return _unseen(YIELD, "stiffness", criterion, "never so soft for so long")
    rows = np.arange(max(row - _BESIDE + 1, 0), row + 1)
    # The piece begins somewhere in the 100 µε that end at this row: so far the load moved too.
    moved = Uncertain.noisy(0.0, 100e-6 / line.slope / math.sqrt(12))
    return Event(
        YIELD,
        "stiffness",
        criterion,
        record.mean_load(rows) + moved,
        record.mean(rows),
        float(record.time[row]),
        row,
        f"line {1e-3 / (line.slope * 1e6):.3g} kN/µε",
        "a crack or slip at one load makes a soft stretch too, but a short one",
    )
