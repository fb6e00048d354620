"""Strain plane, neutral axis, forces and moment of a gauged section, and whether it closes.

At one instant and through a test: an instant is a row of the series, and nothing else.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from gaugewright.calc.concrete_cells import (
    Cells,
    ConcreteForces,
    cells_of_layers,
    forces_of_planes,
    midway_thicknesses,
)
from gaugewright.calc.plane_series import AxisSeries, PlaneSeries, fit_planes, neutral_axes
from gaugewright.calc.strain_plane import (
    NeutralAxis,
    PlanePoint,
    StrainPlane,
    fit_plane,
    neutral_axis,
)
from gaugewright.calc.uncertainty import Uncertain, combination
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records.member import OutlineShape
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import LoadStep
from gaugewright.services.loading.holds import HeldLoad, held_loads
from gaugewright.services.members.member_statics import moment_at, statics_at
from gaugewright.services.members.members import concrete_stress, layers_of
from gaugewright.services.planes.gauges import GaugedSection, Reading, reading_of
from gaugewright.services.reading.series import campaign_seconds
from gaugewright.services.strain.strains import Desk
from gaugewright.services.under_load.loads import load_at, load_series, load_uncertain

__all__ = [
    "SectionInstant",
    "SectionSeries",
    "instant_of_section",
    "instant_of_series",
    "series_of_section",
    "settled_time",
    "times_of_test",
]

_PIECES = 24
_MOST_ROWS = 2000  # of one call: what bounds its memory


@dataclass(frozen=True, slots=True, eq=False)
class SectionSeries:
    """A section at some instants (SI): NaN where too few gauges were left.

    ``inside`` is the moment of bars and concrete about mid-height and ``force`` their axial
    force, which should be that of the member, mostly none; ``applied`` follows from load and
    statics, ``difference`` is applied less inside. Moments across are None for bending about
    one axis.
    """

    section: GaugedSection
    time: FloatArray
    load: Uncertain
    readings: tuple[Reading, ...]
    planes: PlaneSeries
    axes: AxisSeries
    steel_force: Uncertain
    steel_moment: Uncertain
    concrete: ConcreteForces
    force: Uncertain
    inside: Uncertain
    moment_across: Uncertain | None
    applied: Uncertain
    difference: Uncertain
    assumed: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class SectionInstant:
    """A section at one instant: a row of its series, with the test of every gauge.

    ``untested`` says what the gauges left can't tell any more.
    """

    series: SectionSeries
    row: int
    plane: StrainPlane | None
    axis: NeutralAxis | None
    untested: str


def times_of_test(desk: Desk, count: int = 240) -> tuple[FloatArray, tuple[HeldLoad, ...]]:
    """Instants over the loaded part of the test, ends of holds among them, and the holds [s].

    Raises
    ------
    InputError
        If no load was recorded.
    """
    series = load_series(desk)
    good = np.isfinite(series.value)
    if not good.any():
        raise InputError("load", "never recorded", "recorded", "import the load cell's channel")
    time, size = series.time[good], np.abs(series.value[good])
    loaded = float(time[int(np.argmax(size > 0.05 * np.max(size)))])
    held = _with_noted(desk, held_loads(desk))
    before = [hold.begins for hold in held if hold.begins < loaded]
    begins = max(before, default=loaded)
    stands = tuple(hold for hold in held if begins <= hold.begins and hold.ends <= time[-1])
    even = np.linspace(begins, float(time[-1]), count)
    return np.unique(np.concatenate([even, [settled_time(hold) for hold in stands]])), stands


def _with_noted(desk: Desk, held: tuple[HeldLoad, ...]) -> tuple[HeldLoad, ...]:
    """Holds found in the load, and steps that a person noted where none was found."""
    noted = [
        HeldLoad(
            step.record.label,
            campaign_seconds(step.record.begins),
            campaign_seconds(step.record.ends),
            step.record.load,
        )
        for step in desk.book.of(LoadStep)
    ]
    alone = [
        step
        for step in noted
        if not any(hold.begins <= settled_time(step) <= hold.ends for hold in held)
    ]
    return tuple(sorted([*held, *alone], key=lambda hold: hold.begins))


def settled_time(hold: HeldLoad) -> float:
    """Instant that stands for a hold: the middle of its last third, the settled part [s]."""
    return hold.ends - (hold.ends - hold.begins) / 6


def series_of_section(
    desk: Desk, section: GaugedSection, times: FloatArray, *, biaxial: bool = False
) -> SectionSeries:
    """Planes, forces and closure of a section at some instants, in rising order [s].

    Raises
    ------
    InputError
        If there are too many instants for one call, or what a chain or law needs is missing.
    """
    wanted = np.atleast_1d(np.asarray(times, dtype=np.float64))
    if not 0 < wanted.size <= _MOST_ROWS or np.any(np.diff(wanted) < 0):
        raise InputError("times", wanted.size, f"1 to {_MOST_ROWS} instants in rising order")
    if not section.used:
        raise InputError(f"gauges of {section.label}", "none usable", "two at least")
    readings = tuple(reading_of(desk, section, one, wanted) for one in section.used)
    planes = fit_planes([_point(reading, biaxial=biaxial) for reading in readings])
    member = section.member
    about = member.values["height"] / 2
    steel_force, steel_moment, steel_across = _steel(section, readings, planes, about)
    cells, names = _cells(section, biaxial=biaxial), _LAW_NAMES
    concrete = forces_of_planes(
        (planes.top_strain, planes.curvature, planes.curvature_across),
        cells,
        _concrete_law,
        {name: member.values[name] for name in names},
        about=about,
        free_strain=member.values["free_strain"],
    )
    load = load_uncertain(desk, load_at(desk, wanted))
    whole = section.zero in (ZeroKind.BARE_BAR, ZeroKind.BEFORE_POUR)
    applied = moment_at(statics_at(member, section.distance), load, weight=whole)
    inside = steel_moment + concrete.moment
    return SectionSeries(
        section,
        wanted,
        load,
        readings,
        planes,
        neutral_axes(planes),
        steel_force,
        steel_moment,
        concrete,
        steel_force + concrete.force,
        inside,
        steel_across + concrete.moment_across if biaxial else None,
        applied,
        applied - inside,
        _assumed(section, whole=whole),
    )


def instant_of_section(
    desk: Desk, section: GaugedSection, time: float, *, biaxial: bool = False
) -> SectionInstant:
    """A section at one instant [s], the same numbers as a series has there."""
    series = series_of_section(desk, section, np.array([time]), biaxial=biaxial)
    return instant_of_series(series, 0)


def instant_of_series(series: SectionSeries, row: int) -> SectionInstant:
    """What every gauge's test says at one row of a series, and what can't be tested any more."""
    biaxial = series.planes.curvature_across is not None
    columns = 3 if biaxial else 2
    alive = [r for r in series.readings if np.isfinite(r.total.value[row])]
    if not np.isfinite(series.planes.curvature.value[row]):
        why = f"{len(alive)} gauges are left: no plane can be laid through them"
        return SectionInstant(series, row, None, None, why)
    plane = fit_plane([_at_row(_point(reading, biaxial=biaxial), row) for reading in alive])
    axis = neutral_axis(plane) if plane.curvature.value != 0 else None
    return SectionInstant(
        series, row, plane, axis, _untested(series.section, alive, plane, columns)
    )


_LAW_NAMES = ("concrete_strength", "concrete_modulus", "concrete_tensile_strength")


def _concrete_law(strain: FloatArray, **values: FloatArray) -> FloatArray:
    return concrete_stress(strain, values)


def _point(reading: Reading, *, biaxial: bool) -> PlanePoint:
    place = reading.gauge.place
    return PlanePoint(
        reading.gauge.label, reading.total, place.depth, place.across if biaxial else None
    )


def _at_row(point: PlanePoint, row: int) -> PlanePoint:
    return PlanePoint(point.name, point.strain[row], point.depth, point.across)


def _cells(section: GaugedSection, *, biaxial: bool) -> Cells:
    """Concrete of the section less what its bars take the place of."""
    member = section.member
    at: Mapping[str, FloatArray] = {n: value.value for n, value in member.values.items()}
    cut = layers_of(member, at)
    round_ = member.entry.record.outline.shape is OutlineShape.CIRCLE
    thickness = np.array(cut.height / cut.depths.size) if round_ else midway_thicknesses(cut)
    whole = cells_of_layers(cut, thickness, pieces=_PIECES if biaxial else 1)

    def of(name: str) -> FloatArray:
        return np.array([float(at[f"{name}_{i}"]) for i in range(len(member.bars))])

    return Cells(
        np.concatenate([whole.depths, of("bar_depth")]),
        np.concatenate([whole.across, of("bar_across")]),
        np.concatenate([whole.areas, -of("bar_area")]),
    )


def _steel(
    section: GaugedSection, readings: tuple[Reading, ...], planes: PlaneSeries, about: Uncertain
) -> tuple[Uncertain, Uncertain, Uncertain]:
    """Force and both moments of all bars: by their own gauges, else by the plane."""
    values = section.member.values
    force = moment = across = Uncertain.exact(np.zeros_like(planes.curvature.value))
    for number in range(len(section.member.bars)):
        own = _bar_force(section, number, readings, planes)
        arm = values[f"bar_depth_{number}"] - about
        force, moment = force + own, moment + own * arm
        across = across + own * values[f"bar_across_{number}"]
    return force, moment, across


def _bar_force(
    section: GaugedSection, number: int, readings: tuple[Reading, ...], planes: PlaneSeries
) -> Uncertain:
    """Mean of what a bar's gauges say, those alive at each instant; the plane's where none is."""
    own = [reading for reading in readings if reading.gauge.bar == number]
    alive = np.array([np.isfinite(reading.force.value) for reading in own])
    count = alive.sum(axis=0) if own else np.zeros(planes.curvature.value.shape)
    by_plane = _force_by_plane(section, number, planes)
    terms = [(by_plane, np.where(count == 0, 1.0, 0.0))]
    value = np.where(count == 0, by_plane.value, 0.0)
    for reading, there in zip(own, alive, strict=True):
        weight = np.where(there, 1 / np.maximum(count, 1), 0.0)
        value = value + np.where(there, np.nan_to_num(reading.force.value) * weight, 0.0)
        terms.append((reading.force, weight))
    return combination(value, terms)


def _force_by_plane(section: GaugedSection, number: int, planes: PlaneSeries) -> Uncertain:
    values = section.member.values
    depth, side = values[f"bar_depth_{number}"], values[f"bar_across_{number}"]
    top, bend, slope = planes.top_strain, planes.curvature, planes.curvature_across
    value = top.value + bend.value * depth.value
    terms: list[tuple[Uncertain, FloatArray]] = [
        (top, np.ones_like(value)),
        (bend, np.full_like(value, depth.value)),
        (depth, bend.value),
    ]
    if slope is not None:
        value = value + slope.value * side.value
        terms += [(slope, np.full_like(value, side.value)), (side, slope.value)]
    strain = combination(np.nan_to_num(value), [(t, np.nan_to_num(s)) for t, s in terms])
    stress = section.member.law_of_bar(number).of_first_loading(strain)
    force = stress * values[f"bar_area_{number}"]
    return combination(np.where(np.isnan(value), np.nan, force.value), [(force, 1.0)])


def _untested(
    section: GaugedSection, alive: list[Reading], plane: StrainPlane, columns: int
) -> str:
    lost = [gauge.label for gauge in section.gauges if gauge.label not in _labels(alive)]
    away = f" Left out: {', '.join(lost)}." if lost else ""
    if plane.spare == 0:
        return (
            f"{columns} gauges carry {columns} numbers: whether the section stays plane, and "
            f"whether one of them is wrong, can't be tested.{away}"
        )
    if plane.spare == 1:
        return f"One gauge to spare: a misfit can be seen, but not which gauge it comes from.{away}"
    return away.strip()


def _labels(readings: list[Reading]) -> set[str]:
    return {reading.gauge.label for reading in readings}


def _assumed(section: GaugedSection, *, whole: bool) -> tuple[str, ...]:
    words = [
        "concrete: Sargin's law, at a crack; tension up to its strength and none beyond: what "
        "it carries between cracks is left out, and the moment from strains is then too small",
        "bars by their own gauges where these are alive, else by the plane on first loading",
        "the section’s own axial force should come to the member’s"
        if section.member.is_pressed
        else "no axial force is applied",
    ]
    if not whole:
        words.append(
            "strains count from the zero before the test: own weight and shrinkage aren't in "
            "them, nor in the applied moment"
        )
    return (*words, *section.member.assumed)
