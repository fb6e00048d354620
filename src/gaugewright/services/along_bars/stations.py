"""What do the gauges of one bar say at one moment, station by station: strain, stress, force?"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gaugewright.calc.smooth_field import FieldPoint
from gaugewright.calc.uncertainty import Uncertain, combination
from gaugewright.errors import Faults, InputError
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import ZeroKind
from gaugewright.records.specimen import Bar, SteelLaw
from gaugewright.records.stated import State
from gaugewright.services.bars.forces import bending_share, distance_of, net_area_of, stress_of
from gaugewright.services.bars.together import Wired, opposite_pairs, quarter_circuits, usable
from gaugewright.services.campaign.states import state_of_gauge
from gaugewright.services.chaining.causes import uncertain_of_stated
from gaugewright.services.loading.moments import Moment, rows_at
from gaugewright.services.strain.strains import Desk

__all__ = ["StationValue", "bar_stations", "field_points"]

# So many scans must lie above yield before a gauge counts as having yielded, as for yield loads.
SCANS = 5


@dataclass(frozen=True, slots=True)
class StationValue:
    """One place along a bar at one moment: from two opposite gauges, from one, or from none.

    ``strain`` is mechanical, ``total`` with the free expansion of the steel since the zero;
    ``force`` and ``stress`` are None where ``note`` says why. Everything is None at a lost
    station.
    """

    label: str
    gauges: tuple[Entry[Gauge], ...]
    circuits: tuple[Uid, ...]
    distance: Uncertain
    state: State
    strain: Uncertain | None = None
    total: Uncertain | None = None
    stress: Uncertain | None = None
    force: Uncertain | None = None
    notes: tuple[str, ...] = ()

    @property
    def is_pair(self) -> bool:
        """Whether bending of the bar itself has dropped out."""
        return len(self.circuits) == 2


@dataclass(frozen=True, slots=True)
class _Reading:
    """A gauge at the moment."""

    wired: Wired
    strain: Uncertain
    total: Uncertain | None
    has_unloaded: bool
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Pair:
    """Axial and bending strain of two opposite gauges."""

    axial: Uncertain
    bending: Uncertain | None


def bar_stations(
    desk: Desk, bar: Entry[Bar], moment: Moment, zero: ZeroKind
) -> tuple[StationValue, ...]:
    """Every station of a bar in order of distance, those without a value included.

    Two opposite usable gauges are averaged: bending of the bar itself drops out. A gauge alone
    carries the bending that the pairs of the campaign show at this moment, as doubt.
    """
    wired = {gauge.uid: (circuit, gauge) for circuit, gauge in quarter_circuits(desk)}
    gauges = [
        gauge
        for gauge in desk.book.of(Gauge)
        if not gauge.record.group and desk.book.bar_of(gauge).uid == bar.uid
    ]
    read: dict[Uid, _Reading | str] = {
        gauge.uid: _reading(desk, gauge, wired, moment, zero) for gauge in gauges
    }
    pairs = _pairs(desk, moment, zero)
    made: list[StationValue] = []
    done: set[Uid] = set()
    for gauge in sorted(gauges, key=lambda each: each.record.opposite is None):
        if gauge.uid in done:
            continue
        here = [*(other for other in gauges if other.uid == gauge.record.opposite), gauge]
        done |= {each.uid for each in here}
        made.append(_station(desk, bar, here, read, pairs))
    return tuple(sorted(made, key=lambda station: float(station.distance.value)))


def field_points(stations: Sequence[StationValue], what: str) -> tuple[FieldPoint, ...]:
    """Stations as calculations along the bar take them; ``what`` is "force", "strain", "total"."""
    nothing = Uncertain.exact(math.nan)
    return tuple(
        FieldPoint(station.label, station.distance, getattr(station, what) or nothing)
        for station in stations
    )


def _pairs(desk: Desk, moment: Moment, zero: ZeroKind) -> tuple[_Pair, ...]:
    """Every usable pair of the campaign at the moment: what a single gauge must allow for."""
    found = []
    for circuits, _ in opposite_pairs(desk):
        try:
            rows = [rows_at(desk, circuit, zero, moment) for circuit in circuits]
        except (InputError, Faults):
            continue  # without such a zero it tells nothing about bending since then
        if all(part.size for part in rows):
            one, other = (
                desk.strain(circuit, zero).uncertain(part).mean()
                for circuit, part in zip(circuits, rows, strict=True)
            )
            found.append(_Pair((one + other) / 2, (one - other) / 2))
    return tuple(found)


def _reading(
    desk: Desk, gauge: Entry[Gauge], wired: dict[Uid, Wired], moment: Moment, zero: ZeroKind
) -> _Reading | str:
    """A gauge at the moment, or why it has no value."""
    state = state_of_gauge(desk.book, gauge)
    if not usable(desk, gauge):
        return state.value
    if gauge.uid not in wired:
        return "no readings of it are reduced"
    circuit = wired[gauge.uid][0]
    try:
        rows = rows_at(desk, circuit, zero, moment)
    except (InputError, Faults) as problem:
        return str(problem)
    if not rows.size:
        return "no reading at this moment"
    strain = desk.strain(circuit, zero).uncertain(rows).mean()
    try:
        total, notes = _total(desk, wired[gauge.uid], rows, strain, zero), ()
    except InputError as problem:
        return _Reading(wired[gauge.uid], strain, None, False, (str(problem),))
    unloaded = _has_unloaded(desk, wired[gauge.uid], moment, float(strain.value), zero)
    return _Reading(wired[gauge.uid], strain, total, unloaded, notes)


def _total(
    desk: Desk,
    wired: Wired,
    rows: np.ndarray[tuple[int, ...], np.dtype[np.int64]],
    strain: Uncertain,
    zero: ZeroKind,
) -> Uncertain:
    """Mechanical strain and the steel's own expansion since the zero: α (T - T0).

    Raises
    ------
    InputError
        If no temperature was recorded at the moment.
    """
    circuit, gauge = wired
    series = desk.strain(circuit, zero)
    piece = next(
        piece
        for piece, begin in zip(series.pieces, series.begins, strict=True)
        if begin <= rows[0] < begin + piece.stretch.reading.size
    )
    subject = piece.built.subject
    warm = float(np.mean(desk.series(subject.point.uid).at(series.time[rows])))
    if math.isnan(warm):
        raise InputError(
            f"temperature at {gauge.record.label}",
            None,
            "recorded at this moment",
            "slip needs it: the steel's own expansion moves a bar as stress does",
        )
    metal, taken = subject.material, subject.zero
    # Names as in the chain, so that what mechanical strain owes to them works once.
    expansion = uncertain_of_stated(
        f"expansion@{metal.uid}", metal.record.thermal_expansion, "thermal expansion of the metal"
    )
    now = uncertain_of_stated(
        f"temperature@{subject.point.uid}", subject.point.record.doubt, "temperature at the gauge"
    )
    then = uncertain_of_stated(
        f"temperature_zero@{taken.uid}", taken.record.temperature, "temperature at the zero"
    )
    change, slope = warm - float(then.value), float(expansion.value)
    return combination(
        strain.value + slope * change,
        [(strain, 1.0), (expansion, change), (now, slope), (then, -slope)],
    )


def _has_unloaded(desk: Desk, wired: Wired, moment: Moment, strain: float, zero: ZeroKind) -> bool:
    """Whether the steel yielded before and has come back since: no first loading any more."""
    circuit, gauge = wired
    material = desk.book.material_of(gauge).record
    if material.law is SteelLaw.ELASTIC or material.yield_strength is None:
        return False
    series = desk.strain(circuit, zero)
    before = series.strain[series.time < moment.last]
    before = np.sort(np.abs(before[np.isfinite(before)]))
    if before.size < SCANS:
        return False
    highest = float(before[-SCANS])
    begins = material.yield_strength.value / material.elastic_modulus.value
    # A hundredth of yield is far above noise and far below any unloading that matters.
    return highest > begins and abs(strain) < highest - begins / 100


def _station(
    desk: Desk,
    bar: Entry[Bar],
    gauges: list[Entry[Gauge]],
    read: dict[Uid, _Reading | str],
    pairs: tuple[_Pair, ...],
) -> StationValue:
    found = [each for gauge in gauges if isinstance(each := read[gauge.uid], _Reading)]
    why = [
        f"{gauge.record.label}: {each}"
        for gauge in gauges
        if isinstance(each := read[gauge.uid], str)
    ]
    speak = [each.wired[1] for each in found] or gauges
    label = " with ".join(gauge.record.label for gauge in speak)
    # Where one of two is lost the other speaks: the state is that of what the value comes from.
    worst = max((state_of_gauge(desk.book, gauge) for gauge in speak), key=list(State).index)
    if not found:
        return StationValue(
            label, tuple(gauges), (), distance_of(desk, gauges[0]), worst, notes=tuple(why)
        )
    if len(found) == 1:
        return _single(desk, bar, found[0], (label, tuple(gauges), worst, why), pairs)
    return _both(desk, bar, found, (label, tuple(gauges), worst, why))


_Named = tuple[str, tuple[Entry[Gauge], ...], State, list[str]]


def _both(desk: Desk, bar: Entry[Bar], found: list[_Reading], named: _Named) -> StationValue:
    label, gauges, worst, why = named
    one, other = found
    notes = [*why, *dict.fromkeys((*one.notes, *other.notes))]
    total = None
    if one.total is not None and other.total is not None:
        total = (one.total + other.total) / 2
    stress = force = None
    if any(each.has_unloaded for each in found):
        notes.append(_UNLOADED)
    else:
        material = desk.book.material_of(gauges[0])
        # Stress isn't linear past yield: the mean of the two stresses carries the force.
        stress = (
            stress_of(desk, material, one.strain) + stress_of(desk, material, other.strain)
        ) / 2
        force = _force(desk, bar, gauges[0], stress, notes)
    return StationValue(
        label,
        gauges,
        tuple(each.wired[0].uid for each in found),
        distance_of(desk, gauges[0]),
        worst,
        (one.strain + other.strain) / 2,
        total,
        stress,
        force,
        tuple(notes),
    )


def _single(
    desk: Desk, bar: Entry[Bar], found: _Reading, named: _Named, pairs: tuple[_Pair, ...]
) -> StationValue:
    label, gauges, worst, why = named
    circuit, gauge = found.wired
    bending = bending_share(desk, f"local_bending@{gauge.uid}", pairs)
    doubt = Uncertain.from_input(0.0, bending, found.strain.value)
    strain = found.strain + doubt
    total = None if found.total is None else found.total + doubt
    notes = [*why, *found.notes]
    stress = force = None
    if found.has_unloaded:
        notes.append(_UNLOADED)
    else:
        stress = stress_of(desk, desk.book.material_of(gauge), strain)
        force = _force(desk, bar, gauge, stress, notes)
    return StationValue(
        label,
        gauges,
        (circuit.uid,),
        distance_of(desk, gauge),
        worst,
        strain,
        total,
        stress,
        force,
        tuple(notes),
    )


_UNLOADED = "yielded before and unloaded since: a law of first loading gives no stress there"


def _force(
    desk: Desk, bar: Entry[Bar], gauge: Entry[Gauge], stress: Uncertain, notes: list[str]
) -> Uncertain | None:
    if bar.record.area is None or bar.record.diameter is None:
        notes.append("no force: area or diameter of the bar isn't recorded")
        return None
    return stress * net_area_of(desk, gauge)
