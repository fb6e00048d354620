"""Drawings of a prediction: strain against load, along the bar, over the section or round it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gaugewright.errors import Faults, InputError
from gaugewright.present.numbers import significant_text
from gaugewright.present.plots import Axis, Curve, Ink, Plot, Point
from gaugewright.present.units_shown import System, in_shown, series_shown, unit_shown
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.specimen import Bar
from gaugewright.services.campaign.book import Book
from gaugewright.services.members.bare_metal import round_the_bar
from gaugewright.services.members.members import grid_place, member_of
from gaugewright.services.plan.prediction import loads_shown, range_of_circuit
from gaugewright.services.plan.strains import (
    PlannedReadings,
    in_member,
    is_dummy,
    section_yield_load,
)
from gaugewright.services.planes.plots import Drawn
from gaugewright.services.section.predictions import predicted_plane

__all__ = ["bars_drawn", "prediction_figures"]

_INKS: tuple[Ink, ...] = ("a", "b", "c", "d")
_ALIKE = 0.01  # strains nearer than this share of the largest are drawn as one line
_POINTS = 61
_NAMED = 3
_MOST_LOADS = 4
_ROUND = np.linspace(0.0, 2 * math.pi, 73)


@dataclass(frozen=True, slots=True, eq=False)
class _Line:
    """Gauges of one curve: loads, strains, where it cracks and yields."""

    gauges: tuple[Entry[Gauge], ...]
    load: FloatArray
    strain: FloatArray
    cracks: float | None
    yields: float | None

    @property
    def label(self) -> str:
        names = [gauge.record.label for gauge in self.gauges]
        more = len(names) - _NAMED
        return ", ".join(names[:_NAMED]) + (f" and {more} more" if more > 0 else "")


def bars_drawn(readings: PlannedReadings) -> tuple[str, ...]:
    """Bars with a gauge that something is predicted for, in the order of the plan."""
    found: dict[str, None] = {}
    for gauge in readings.book.of(Gauge):
        if not is_dummy(readings.book, gauge):
            found[readings.book.bar_of(gauge).record.label] = None
    return tuple(found)


def prediction_figures(
    readings: PlannedReadings, on_record: Book, bar: str, system: System
) -> tuple[Drawn, ...]:
    """Figures of one bar's gauges; none where nothing can be predicted there."""
    entry = readings.book.labelled(Bar, bar)
    gauges = [g for g in readings.book.of(Gauge) if readings.book.bar_of(g).uid == entry.uid]
    lines = _merged([line for gauge in gauges if (line := _line(readings, gauge)) is not None])
    if not lines:
        return ()
    found = [_over_load(readings, on_record, bar, lines, system)]
    told = [gauge for line in lines for gauge in line.gauges]
    for made in (_along(readings, bar, told, system), _across(readings, told, system)):
        found += [] if made is None else [made]
    return tuple(found)


def _last(readings: PlannedReadings, *reached: float | None) -> float:
    """Highest load that is drawn [N]: a little past what is asked for, or past yield."""
    loads = [abs(load) for load in loads_shown(readings)]
    loads += [one for one in reached if one is not None]
    return 1.08 * max(loads, default=0.0)


def _line(readings: PlannedReadings, gauge: Entry[Gauge]) -> _Line | None:
    if is_dummy(readings.book, gauge) or not _last(readings) > 0:
        return None
    try:
        if in_member(readings.book, gauge):
            found = readings.prediction(gauge)
            cracks, yields = found.cracking_load, found.yield_load
            reached = [None if one is None else float(one.value) for one in (cracks, yields)]
            last = min(_last(readings, *reached), float(found.crushing_load))
            kept = (found.load <= last) & np.isfinite(found.first_loading.value)
            load, strain = found.load[kept], found.first_loading.value[kept]
            return _Line((gauge,), load, strain, reached[0], reached[1]) if load.size > 1 else None
        first = section_yield_load(readings, gauge)
        at = None if first is None else float(first.value)
        load = np.linspace(0.0, _last(readings, at), _POINTS)
        if at is not None and readings.face(gauge) is not None:
            load = np.linspace(0.0, min(load[-1], at), _POINTS)
        strains = np.array([_or_nan(readings, gauge, one) for one in load])
    except (InputError, Faults):
        return None  # why is told in the table under the figures
    kept = np.isfinite(strains)
    return _Line((gauge,), load[kept], strains[kept], None, at) if kept.sum() > 1 else None


def _or_nan(readings: PlannedReadings, gauge: Entry[Gauge], load: float) -> float:
    try:
        return readings.strain_at_load(gauge, float(load))
    except (InputError, Faults):
        return math.nan


def _merged(lines: Sequence[_Line]) -> list[_Line]:
    """Gauges that read the same at every load share a line."""
    largest = max((float(np.max(np.abs(line.strain))) for line in lines), default=0.0)
    found: list[_Line] = []
    for line in lines:
        for place, other in enumerate(found):
            there = np.interp(line.load, other.load, other.strain)
            if np.max(np.abs(there - line.strain)) < _ALIKE * largest:
                both = (*other.gauges, *line.gauges)
                found[place] = _Line(both, other.load, other.strain, other.cracks, other.yields)
                break
        else:
            found.append(line)
    return found


def _over_load(
    readings: PlannedReadings, on_record: Book, bar: str, lines: Sequence[_Line], system: System
) -> Drawn:
    curves, points = [], []
    for number, line in enumerate(lines):
        ink = _INKS[number % len(_INKS)]
        x = series_shown(line.strain, "strain", system)
        y = series_shown(line.load, "force", system)
        curves.append(Curve(line.label, x, y, ink))
        for load, words in ((line.cracks, "cracks"), (line.yields, "yields")):
            if load is None or not line.load[0] <= load <= line.load[-1]:
                continue
            at = float(np.interp(load, line.load, line.strain))
            named = words if number == 0 else ""
            points.append(
                Point(
                    in_shown(at, "strain", system),
                    in_shown(load, "force", system),
                    named,
                    hollow=words == "cracks",
                )
            )
    ends, told = _ranges(readings, on_record, lines, system)
    plot = Plot(
        Axis("strain", unit_shown("strain", system).text),
        Axis("load", unit_shown("force", system).text),
        f"Load against predicted strain of the gauges on bar {bar}",
        tuple(curves),
        tuple(points),
        verticals=ends,
    )
    marks = "Rings: the place cracks; dots: the gauge yields. " if points else ""
    return Drawn(
        "over-load",
        plot,
        f"Strain of bar {bar} against load",
        f"First loading, since the zero before the test. {marks}{told}",
    )


def _ranges(
    readings: PlannedReadings, on_record: Book, lines: Sequence[_Line], system: System
) -> tuple[tuple[tuple[float, str], ...], str]:
    """Strain that the channels' ranges leave once the offset is in them; in words where none is."""
    left: list[float] = []
    needed = 0.0
    for gauge in (gauge for line in lines for gauge in line.gauges):
        circuit = readings.plan.circuits[gauge.uid]
        if len(readings.book.gauges_of(circuit)) > 1:
            continue  # its grids together fill the range, not one of them
        found = range_of_circuit(readings, on_record, circuit)
        needed = max(needed, found.needed)
        if found.is_set is not None:
            factor = readings.book.pack_of(gauge).record.gauge_factor.value
            left.append(4 * found.is_set / factor - found.offset)
    if not left:
        if not needed:
            return (), "Their bridges’ ranges stand in the table of loads and ranges."
        return (), f"No range is set yet: ± {needed * 1e3:.2g} mV/V at least, the offset included."
    least = min(left)
    shown = significant_text(in_shown(abs(least), "strain", system), 3)
    unit = unit_shown("strain", system).text
    if least <= 0:
        return (), "The range that was set may be used up by the offset before loading."
    ends = tuple((sign * in_shown(least, "strain", system), "range") for sign in (-1.0, 1.0))
    return ends, f"The range that was set leaves ± {shown} {unit} beside the offset."


def _some_loads(readings: PlannedReadings) -> list[float]:
    """A few of the loads, the highest among them."""
    loads = [load for load in loads_shown(readings) if load > 0]
    if len(loads) <= _MOST_LOADS:
        return loads
    places = np.unique(np.linspace(0, len(loads) - 1, _MOST_LOADS).round().astype(int))
    return [loads[place] for place in places]


def _words(load: float, system: System) -> str:
    number = significant_text(in_shown(load, "force", system), 3)
    return f"{number} {unit_shown('force', system).text}"


def _along(
    readings: PlannedReadings, bar: str, gauges: Sequence[Entry[Gauge]], system: System
) -> Drawn | None:
    """Strain of the places along the bar at a few loads: the mean of each place’s gauges."""
    along = [g for g in gauges if abs(g.record.angle_to_axis) < 0.01]
    places: dict[float, list[Entry[Gauge]]] = {}
    for gauge in along:
        record = readings.book.station_of(gauge).record
        at = record.distance_built.value if record.distance_built else record.distance_planned
        places.setdefault(round(at, 3), []).append(gauge)
    if len(places) < 2:
        return None
    x = np.array(sorted(places))
    curves = []
    for number, load in enumerate(_some_loads(readings)):
        y = np.array([np.mean([_or_nan(readings, g, load) for g in places[at]]) for at in x])
        if np.isfinite(y).any():
            shown = (series_shown(x, "distance", system), series_shown(y, "strain", system))
            curves.append(Curve(_words(load, system), *shown, _INKS[number], dots=True))
    if not curves:
        return None
    datum = readings.book.station_of(along[0]).record.datum
    plot = Plot(
        Axis("distance along the bar", unit_shown("distance", system).text),
        Axis("strain", unit_shown("strain", system).text),
        f"Predicted strain along bar {bar} at a few loads",
        tuple(curves),
    )
    return Drawn(
        "along",
        plot,
        f"Strain along bar {bar}",
        f"A line a load, a dot a place: the mean of its gauges. Counted from {datum}.",
    )


def _across(
    readings: PlannedReadings, gauges: Sequence[Entry[Gauge]], system: System
) -> Drawn | None:
    """Strain over the section, or round the bar, where the gauges read most."""
    loads = _some_loads(readings)
    if not loads:
        return None
    most = max(gauges, key=lambda g: np.nan_to_num(abs(_or_nan(readings, g, loads[-1]))))
    try:
        if in_member(readings.book, most):
            return _over_section(readings, most, loads, system)
        return _round_bar(readings, most, loads, system)
    except (InputError, Faults):
        return None


def _over_section(
    readings: PlannedReadings, gauge: Entry[Gauge], loads: Sequence[float], system: System
) -> Drawn | None:
    book = readings.book
    member = member_of(book, book.bar_of(gauge))
    distance = float(grid_place(book, member, gauge).distance.value)
    height = float(member.values["height"].value)
    top, bend = predicted_plane(book, member, distance, np.asarray(loads))
    depth = np.linspace(0.0, height, 9)
    bars = sorted({float(member.values[f"bar_depth_{n}"].value) for n in range(len(member.bars))})
    curves, points = [], []
    for number, load in enumerate(loads):
        if not np.isfinite(top[number]):
            continue
        strain = series_shown(top[number] + bend[number] * depth, "total_strain", system)
        up = series_shown(height - depth, "depth", system)
        curves.append(Curve(_words(load, system), strain, up, _INKS[number]))
        for at in bars:
            x = in_shown(float(top[number] + bend[number] * at), "total_strain", system)
            points.append(Point(x, in_shown(height - at, "depth", system), hollow=True))
    if not curves:
        return None
    plot = Plot(
        Axis("total strain", unit_shown("total_strain", system).text),
        Axis("height above the lower face", unit_shown("depth", system).text),
        f"Predicted strain over the section at {gauge.record.label} at a few loads",
        tuple(curves),
        tuple(points),
        verticals=((0.0, ""),),
    )
    return Drawn(
        "over-section",
        plot,
        f"Strain over the section at {gauge.record.label}",
        "A line a load, rings where bars lie. Own weight, shrinkage and an axial force that stays "
        "are in it, so the lines needn’t begin at nothing; a gauge counts from its zero.",
    )


def _round_bar(
    readings: PlannedReadings, gauge: Entry[Gauge], loads: Sequence[float], system: System
) -> Drawn | None:
    if readings.face(gauge) is None:
        return None
    per_load = round_the_bar(readings.book, gauge, _ROUND)
    first = section_yield_load(readings, gauge)
    if per_load is None:
        return None
    kept = [load for load in loads if first is None or load <= float(first.value)]
    curves = tuple(
        Curve(
            _words(load, system),
            np.degrees(_ROUND),
            series_shown(load * per_load, "strain", system),
            _INKS[number],
        )
        for number, load in enumerate(kept)
    )
    if not curves:
        return None
    plot = Plot(
        Axis("clock angle", "°", 0.0, 360.0),
        Axis("strain along the axis", unit_shown("strain", system).text),
        f"Predicted strain round the bar at {gauge.record.label} at a few loads",
        curves,
    )
    return Drawn(
        "round-the-bar",
        plot,
        f"Strain round the bar at {gauge.record.label}",
        "A line a load. 0 is the top, and angles grow as seen along the way in which distances do.",
    )
