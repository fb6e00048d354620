"""Where do the gauges sit, drawn to scale along their bars, each with the mark of its state?"""

import math
from dataclasses import dataclass, replace
from itertools import pairwise

from gaugewright.errors import InputError
from gaugewright.present.axes import round_ticks
from gaugewright.present.numbers import fixed_text
from gaugewright.present.svg import Line, Mark, Path, Rect, Shape, Text, Where, rendered
from gaugewright.present.units_shown import System, in_shown, unit_shown

__all__ = ["BarDrawn", "GaugeDrawn", "gauge_map"]

_NARROW = 500.0
_LETTER = 7.4  # pixels, of a label at 13 to 14 pixels
_TIER = 15.0
_BAR = 9.0


@dataclass(frozen=True, slots=True)
class GaugeDrawn:
    """One gauge on a bar: ``distance`` from the datum [m]; above or below as drawn."""

    label: str
    distance: float
    state: str
    below: bool = False


@dataclass(frozen=True, slots=True)
class BarDrawn:
    """One bar and its gauges; ``start`` and ``end`` from the datum [m], None when not known."""

    label: str
    gauges: tuple[GaugeDrawn, ...]
    start: float | None = None
    end: float | None = None


@dataclass(frozen=True, slots=True)
class _Scale:
    left: float
    right: float
    lowest: float
    highest: float

    def x(self, distance: float) -> float:
        share = (distance - self.lowest) / (self.highest - self.lowest)
        return self.left + share * (self.right - self.left)


def gauge_map(
    bars: tuple[BarDrawn, ...],
    label: str,
    *,
    width: float = 720,
    system: System = "si",
    where: Where = "web",
) -> str:
    """SVG text of the bars one under another, true to scale along their length.

    On a narrow sheet a gauge is called by what follows the name of its bar, which stands beside
    the row already: whole labels would stand four deep.

    Raises
    ------
    InputError
        If no bar has a gauge, a distance isn't finite, or a state is unknown.
    """
    places = [gauge.distance for bar in bars for gauge in bar.gauges]
    if not places:
        raise InputError("bars", len(bars), "bars with one gauge or more", "place a gauge first")
    if not all(math.isfinite(place) for place in places):
        raise InputError("distance", places, "finite for every gauge")
    scale = _scale(bars, places, width)
    if width < _NARROW:
        bars = tuple(replace(bar, gauges=_shortened(bar)) for bar in bars)
    shapes: list[Shape] = []
    y = 6.0
    for bar in bars:
        above = _tiers([g for g in bar.gauges if not g.below], scale)
        below = _tiers([g for g in bar.gauges if g.below], scale)
        y += 36 + _TIER * max((tier for _, tier in above), default=-1)
        shapes += _bar(bar, scale, y)
        shapes += [s for gauge, tier in above for s in _gauge(gauge, scale, y, -1, tier)]
        shapes += [s for gauge, tier in below for s in _gauge(gauge, scale, y, +1, tier)]
        y += 12 + (24 + _TIER * max(tier for _, tier in below) if below else 0)
    shapes += _ruler(scale, y + 4, system)
    return rendered(shapes, width, y + 48, label, where)


def _scale(bars: tuple[BarDrawn, ...], places: list[float], width: float) -> _Scale:
    lowest, highest = min(places), max(places)
    margin = 0.06 * (highest - lowest) or 0.05
    starts = [bar.start for bar in bars if bar.start is not None]
    ends = [bar.end for bar in bars if bar.end is not None]
    # The whole bars when that leaves the gauges room, else the gauged length with broken ends.
    if starts and ends and max(ends) - min(starts) <= 2 * (highest - lowest):
        lowest, highest, margin = min(*starts, lowest), max(*ends, highest), 0.0
    left = 20 + _LETTER * max(len(bar.label) for bar in bars)
    return _Scale(left, width - 24, lowest - margin, highest + margin)


def _shortened(bar: BarDrawn) -> tuple[GaugeDrawn, ...]:
    """Gauges by what follows the bar's label in theirs; where nothing does, by all of it."""
    return tuple(
        replace(gauge, label=gauge.label.removeprefix(bar.label).lstrip("-._ /") or gauge.label)
        for gauge in bar.gauges
    )


def _tiers(gauges: list[GaugeDrawn], scale: _Scale) -> list[tuple[GaugeDrawn, int]]:
    """Labels that would touch go one tier further out."""
    free: list[float] = []
    placed: list[tuple[GaugeDrawn, int]] = []
    unit = (scale.highest - scale.lowest) / (scale.right - scale.left)
    for gauge in sorted(gauges, key=lambda g: (g.distance, g.label)):
        at = gauge.distance
        half = _LETTER * len(gauge.label) / 2 * unit
        tier = next((n for n, right in enumerate(free) if right <= at - half), len(free))
        if tier == len(free):
            free.append(at + half)
        free[tier] = at + half
        placed.append((gauge, tier))
    return placed


def _bar(bar: BarDrawn, scale: _Scale, y: float) -> list[Shape]:
    left = scale.left if bar.start is None else max(scale.left, scale.x(bar.start))
    right = scale.right if bar.end is None else min(scale.right, scale.x(bar.end))
    shapes: list[Shape] = [
        Text("tx-dim", 0, y + 4.5, bar.label),
        Rect("fill-steel", left, y - _BAR / 2, right - left, _BAR),
        Line("ln", left, y - _BAR / 2, right, y - _BAR / 2),
        Line("ln", left, y + _BAR / 2, right, y + _BAR / 2),
    ]
    ribs = int((right - left) / 10)
    runs = tuple(
        ((left + 10 * n + 3, y + _BAR / 2), (left + 10 * n + 7, y - _BAR / 2)) for n in range(ribs)
    )
    shapes.append(Path("ln-hatch", runs))
    for end, at in ((bar.start, left), (bar.end, right)):
        if end is None or not scale.lowest <= end <= scale.highest:
            shapes.append(
                Path("ln", (((at - 2, y - 7), (at + 2, y - 2), (at - 2, y + 2), (at + 2, y + 7)),))
            )
    return shapes


def _gauge(gauge: GaugeDrawn, scale: _Scale, y: float, side: int, tier: int) -> list[Shape]:
    x = scale.x(gauge.distance)
    face = y + side * _BAR / 2
    middle = face + side * 9
    text = middle + side * (12 + _TIER * tier) + (4.5 if side > 0 else 0)
    shapes: list[Shape] = [Line("ln-heavy", x - 5, face, x + 5, face)]
    if tier:
        shapes.append(Line("ln-dim", x, middle, x, text + (-10 if side > 0 else 2)))
    shapes.append(Mark(gauge.state, x, middle, 10))
    shapes.append(Text("tx-dim", x, text, gauge.label, "mid", halo=bool(tier)))
    return shapes


def _ruler(scale: _Scale, y: float, system: System) -> list[Shape]:
    low, high = (in_shown(end, "distance", system) for end in (scale.lowest, scale.highest))
    ticks = [
        tick
        for tick in round_ticks(low, high, min(8, int((scale.right - scale.left) / 70)))
        if low <= tick <= high
    ]
    step = min(b - a for a, b in pairwise(ticks)) if len(ticks) > 1 else 1.0
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    shapes: list[Shape] = [Line("ln", scale.left, y, scale.right, y)]
    for tick in ticks:
        x = scale.left + (tick - low) / (high - low) * (scale.right - scale.left)
        shapes += [
            Line("ln-tick", x - 3, y + 3, x + 3, y - 3),
            Text("tx-faint", x, y + 19, fixed_text(tick, places), "mid"),
        ]
    unit = unit_shown("distance", system).text
    shapes.append(Text("tx-dim", scale.right, y + 37, f"x from the datum, {unit}", "end"))
    return shapes
