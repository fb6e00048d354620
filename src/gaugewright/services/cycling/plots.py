"""The figures of counted cycles: how many of which range, range beside mean, damage over time."""

import numpy as np

from gaugewright.present.matrix_drawing import matrix_drawn
from gaugewright.present.plots import Axis, Curve, Plot, drawn
from gaugewright.present.units_shown import System, series_shown, unit_shown
from gaugewright.services.cycling.damage import Damaged, GaugeCycles
from gaugewright.services.showing.sized_figure import SizedFigure, Sizes

__all__ = ["cycle_figures"]

_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def cycle_figures(found: GaugeCycles, system: System, sizes: Sizes) -> tuple[SizedFigure, ...]:
    """Histogram of ranges, matrix of range and mean, and damage as it grew where there is any."""
    made = [_histogram(found, system, sizes), _matrix(found, system, sizes)]
    if found.damage is not None:
        made.append(_damage(found, found.damage, sizes))
    return tuple(made)


def _histogram(found: GaugeCycles, system: System, sizes: Sizes) -> SizedFigure:
    counted = found.counted
    edges = series_shown(counted.range_edges, "strain", system)
    counts = counted.by_range
    filled = counts > 0
    # Counts differ by powers of ten, so their logarithm is drawn; an empty class is a gap.
    height = np.full(counts.shape, np.nan)
    height[filled] = np.log10(counts[filled])
    x = np.repeat(edges, 2)[1:-1]
    y = np.repeat(height, 2)
    unit = unit_shown("strain", system).text
    plot = Plot(
        Axis("range of strain", unit, 0.0),
        Axis("cycles, power of ten", ""),
        f"Cycles of {found.gauge.record.label} by range of strain",
        (Curve("", x, y, "a"),),
    )
    rows = tuple(zip(edges[:-1].tolist(), edges[1:].tolist(), counts.tolist(), strict=True))
    return SizedFigure(
        "Ranges",
        "Height is the power of ten: 0 is one cycle, 1 ten, 2 a hundred; half a cycle is −0.3. "
        "Classes without a cycle have no line.",
        drawn(plot, *sizes[0]),
        drawn(plot, *sizes[1]),
        (f"range from, {unit}", f"range to, {unit}", "cycles"),
        rows,
    )


def _matrix(found: GaugeCycles, system: System, sizes: Sizes) -> SizedFigure:
    counted = found.counted
    ranges = series_shown(counted.range_edges, "strain", system)
    means = series_shown(counted.mean_edges, "strain", system)
    unit = unit_shown("strain", system).text
    axes = (Axis("mean", unit), Axis("range", unit))
    alt = f"Cycles of {found.gauge.record.label} by range and mean of strain"
    wide, narrow = (
        matrix_drawn(counted.matrix, (means, ranges), axes, alt, size=size) for size in sizes
    )
    rows = tuple(
        (
            float(ranges[row]),
            float(ranges[row + 1]),
            float(means[column]),
            float(means[column + 1]),
            float(counted.matrix[row, column]),
        )
        for row, column in np.argwhere(counted.matrix > 0).tolist()
    )
    heads = ("range from", "range to", "mean from", "mean to")
    return SizedFigure(
        "Range and mean",
        f"Mean counts from zero {found.zero.value}; the darker, the more cycles.",
        wide,
        narrow,
        (*(f"{head}, {unit}" for head in heads), "cycles"),
        rows,
    )


def _damage(found: GaugeCycles, damage: Damaged, sizes: Sizes) -> SizedFigure:
    times = found.counted.extent.step_times
    hours = (times - times[0]) / 3600
    share = np.concatenate([[0.0], damage.by_step])
    power = int(np.floor(np.log10(damage.total))) if damage.total > 0 else 0
    plot = Plot(
        Axis("time from the first reading", "h"),
        Axis("damage", f"×10{str(power).translate(_RAISED)}" if power else ""),
        f"Damage of {found.gauge.record.label} as it grew over the record",
        (Curve("", hours, share / 10.0**power, "a"),),
    )
    return SizedFigure(
        "Damage as it grew",
        f"By the line {damage.curve}; cycles count when they close, open ones at their later turn.",
        drawn(plot, *sizes[0]),
        drawn(plot, *sizes[1]),
        ("time, h", "damage"),
        tuple(zip(hours.tolist(), share.tolist(), strict=True)),
    )
