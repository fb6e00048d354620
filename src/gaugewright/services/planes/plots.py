"""Drawings of a section: plane at an instant, curvature and neutral axis over load, closure."""

from dataclasses import dataclass

import numpy as np

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.present.plots import Axis, Curve, Ink, Plot, Point
from gaugewright.present.section_drawing import BarDrawn, GridDrawn, SectionDrawn
from gaugewright.present.units_shown import System, in_shown, series_shown, unit_shown
from gaugewright.quantities import FloatArray
from gaugewright.records.member import OutlineShape
from gaugewright.services.planes.look import Compared, SectionLook
from gaugewright.services.planes.sections import SectionInstant

__all__ = [
    "Drawn",
    "axis_plot",
    "closure_plot",
    "compared_plot",
    "curvature_plot",
    "plane_plot",
    "section_drawn",
]

COVERAGE = 0.95
_INKS: tuple[Ink, ...] = ("a", "b", "c", "d")


@dataclass(frozen=True, slots=True)
class Drawn:
    """A plot with its words."""

    name: str
    plot: Plot
    title: str
    caption: str


def plane_plot(instant: SectionInstant, system: System) -> Drawn | None:
    """Total strain over the height at an instant: plane with its band, gauges, neutral axis."""
    plane = instant.plane
    if plane is None:
        return None
    height = float(instant.series.section.member.values["height"].value)
    depths = np.linspace(0.0, height, 41)
    line = plane.strain_at(Uncertain.exact(depths))
    curve = Curve(
        "plane",
        series_shown(line.value, "total_strain", system),
        series_shown(height - depths, "depth", system),
        "a",
        series_shown(line.expanded(COVERAGE), "total_strain", system),
        "x",
    )
    points = _points(instant, system, height)
    unit, length = (unit_shown(name, system).text for name in ("total_strain", "depth"))
    plot = Plot(
        Axis("total strain", unit),
        Axis("height above the lower face", length),
        "Total strain over the height of the section at one instant",
        (curve,),
        points,
        verticals=((0.0, ""),),
    )
    return Drawn(
        "plane",
        plot,
        "Strain plane",
        "Dots: gauges, whiskers their expanded uncertainty; band: that of the plane, 95 %.",
    )


def _points(instant: SectionInstant, system: System, height: float) -> tuple[Point, ...]:
    """Gauges with their doubt, and the neutral axis where it lies in the section."""
    points = [
        Point(
            in_shown(float(reading.total.value[instant.row]), "total_strain", system),
            in_shown(height - float(reading.gauge.place.depth.value), "depth", system),
            x_plus_minus=in_shown(
                float(reading.total[instant.row].expanded(COVERAGE)), "total_strain", system
            ),
        )
        for reading in instant.series.readings
        if np.isfinite(reading.total.value[instant.row])
    ]
    axis = instant.axis
    if axis is not None and 0 <= float(axis.depth.value) <= height:
        up = in_shown(height - float(axis.depth.value), "depth", system)
        points.append(Point(0.0, up, "neutral axis", hollow=True))
    return tuple(points)


def section_drawn(instant: SectionInstant, system: System) -> SectionDrawn:
    """The section itself, bars and grids in it, with the neutral axis of the instant."""
    member = instant.series.section.member
    values = {name: float(value.value) for name, value in member.values.items()}
    outline = member.entry.record.outline.shape
    used = {gauge.label for gauge in instant.series.section.used}
    outlier = instant.plane.outlier if instant.plane is not None else None
    named = set(outlier.names) if outlier is not None else set[str]()
    axis = None
    if instant.axis is not None and 0 <= float(instant.axis.depth.value) <= values["height"]:
        axis = float(instant.axis.depth.value)
    return SectionDrawn(
        shape=outline.name.lower(),
        height=values["height"],
        width=values["height"] if outline is OutlineShape.CIRCLE else values["width"],
        flange_width=values.get("flange_width", 0.0),
        flange_depth=values.get("flange_depth", 0.0),
        bars=tuple(
            BarDrawn(
                placed.bar.record.label,
                values[f"bar_depth_{number}"],
                values[f"bar_across_{number}"],
                2 * float(np.sqrt(values[f"bar_area_{number}"] / np.pi)),
            )
            for number, placed in enumerate(member.bars)
        ),
        grids=tuple(
            GridDrawn(
                float(gauge.place.depth.value),
                float(gauge.place.across.value),
                is_used=gauge.label in used,
                is_outlier=gauge.label in named,
            )
            for gauge in instant.series.section.gauges
        ),
        neutral_axis=axis,
        size_words=(
            f"{in_shown(values['height'], 'depth', system):.0f} "
            f"{unit_shown('depth', system).text} high"
        ),
    )


def curvature_plot(look: SectionLook, system: System) -> Drawn:
    """Load against curvature, with its band."""
    bend = look.series.planes.curvature
    return Drawn(
        "curvature",
        _over_load(look, bend.value, bend.expanded(COVERAGE), ("curvature", "curvature"), system),
        "Curvature",
        "From the gauges alone, whatever the load; band 95 %.",
    )


def axis_plot(look: SectionLook, system: System) -> Drawn | None:
    """Load against the neutral axis where it lies in the section; the interval is Fieller's."""
    axes, height = look.series.axes, float(look.section.member.values["height"].value)
    depth = axes.neutral_axis_depth.value
    half = np.fmax(axes.high - depth, depth - axes.low)
    good = (depth >= 0) & (depth <= height) & np.isfinite(half) & (half < height / 2)
    if np.count_nonzero(good) < 2:
        return None
    value, doubt = np.where(good, depth, np.nan), np.where(good, half, np.nan)
    words = ("depth of the neutral axis", "neutral_axis_depth")
    return Drawn(
        "axis",
        _over_load(look, value, doubt, words, system),
        "Neutral axis",
        "Below the upper face; only where the interval is narrower than half the section.",
    )


def closure_plot(look: SectionLook, system: System) -> Drawn | None:
    """Moment of bars and concrete against that of load and statics."""
    series = look.series
    good = np.isfinite(series.inside.value) & np.isfinite(series.applied.value)
    if np.count_nonzero(good) < 2:
        return None
    unit = unit_shown("moment", system).text
    applied = series_shown(series.applied.value, "moment", system)
    inside = Curve(
        "from strains",
        applied,
        series_shown(series.inside.value, "moment", system),
        "a",
        series_shown(series.inside.expanded(COVERAGE), "moment", system),
    )
    ends = np.array([np.nanmin(applied), np.nanmax(applied)])
    plot = Plot(
        Axis("moment from load and statics", unit),
        Axis("moment from strains", unit),
        "Moment of bars and concrete against the applied moment",
        (inside, Curve("closes", ends, ends, "b")),
    )
    return Drawn(
        "closure",
        plot,
        "Moment closure",
        "Where the band leaves the straight line, a gauge, an area, the load or the picture of "
        "the section is wrong.",
    )


def compared_plot(look: SectionLook, found: tuple[Compared, ...], system: System) -> Drawn | None:
    """Measured against predicted strain at the holds, a line a gauge."""
    curves: list[Curve] = []
    values: list[float] = []
    for number, gauge in enumerate(look.section.used):
        own = [c for c in found if c.gauge is gauge and c.measured and c.predicted]
        if len(own) < 2:
            continue
        x = np.array([float(c.predicted.value) for c in own if c.predicted])
        y = np.array([float(c.measured.value) for c in own if c.measured])
        values += [*x.tolist(), *y.tolist()]
        curves.append(
            Curve(
                gauge.label,
                series_shown(x, "strain", system),
                series_shown(y, "strain", system),
                _INKS[number % len(_INKS)],
                dots=True,
            )
        )
    if not curves:
        return None
    ends = series_shown(np.array([min(values), max(values)]), "strain", system)
    unit = unit_shown("strain", system).text
    plot = Plot(
        Axis("predicted strain", unit),
        Axis("measured strain", unit),
        "Measured against predicted strain of every gauge at every hold",
        (*curves, Curve("as predicted", ends, ends, "b")),
    )
    return Drawn("compared", plot, "Predicted and measured", "A dot a hold, a line a gauge.")


def _over_load(
    look: SectionLook,
    value: FloatArray,
    doubt: FloatArray,
    words: tuple[str, str],
    system: System,
) -> Plot:
    title, quantity = words
    curve = Curve(
        "",
        series_shown(value, quantity, system),
        series_shown(look.series.load.value, "force", system),
        "a",
        series_shown(doubt, quantity, system),
        "x",
    )
    return Plot(
        Axis(title, unit_shown(quantity, system).text),
        Axis("load", unit_shown("force", system).text),
        f"Load against {title}",
        (curve,),
    )
