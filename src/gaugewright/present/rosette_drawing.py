"""How does a rosette sit on its metal, and where do its arms lie on Mohr's circle?"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from gaugewright.errors import InputError
from gaugewright.present.axes import round_ticks
from gaugewright.present.numbers import fixed_text
from gaugewright.present.svg import Circle, Line, Path, Shape, Text, Where, rendered

__all__ = ["ArmDrawn", "AxesDrawn", "CircleDrawn", "mohr_circle", "rosette_drawing"]

_SIZE = 420.0
_MIDDLE = _SIZE / 2
_REACH = 150.0
_Place = Callable[[float, float], tuple[float, float]]


@dataclass(frozen=True, slots=True)
class ArmDrawn:
    """A grid: its name and its direction from the axis [rad]."""

    label: str
    angle: float


@dataclass(frozen=True, slots=True)
class AxesDrawn:
    """Axis of the larger principal strain [rad], and how far it may be turned each way."""

    angle: float
    lower: float
    upper: float


@dataclass(frozen=True, slots=True)
class CircleDrawn:
    """Mohr's circle of strain in shown units; ``axis`` is None where no axis is determined.

    ``points`` are the arms by their labels: strain along each, and half the shear strain there.
    """

    centre: float
    radius: float
    radius_plus_minus: float
    axis: float | None
    points: tuple[tuple[str, float, float], ...]
    unit: str


def rosette_drawing(
    arms: tuple[ArmDrawn, ...],
    axes: AxesDrawn | None,
    words: tuple[str, str],
    label: str,
    where: Where = "web",
) -> str:
    """SVG text of a rosette seen from above, its axis to the right; not to scale.

    ``words`` name the axis and say what the principal axes are, or why there are none.

    Raises
    ------
    InputError
        If there is no arm to draw.
    """
    if not arms:
        raise InputError("arms", "none", "one or more")
    shapes: list[Shape] = [
        Line("ln-chain", 14, _MIDDLE, _SIZE - 14, _MIDDLE),
        Text("tx-dim", _SIZE - 14, _MIDDLE - 8, words[0], "end", halo=True),
    ]
    if axes is not None:
        shapes += _axes(axes)
    for arm in arms:
        shapes += _arm(arm)
    shapes.append(Text("tx", 14, _SIZE + 16, words[1]))
    return rendered(shapes, _SIZE, _SIZE + 30, label, where)


def mohr_circle(drawn: CircleDrawn, label: str, where: Where = "web") -> str:
    """SVG text of the circle, as long as it is high.

    Half the shear strain counts downwards, so that an axis and its point turn the same way.

    Raises
    ------
    InputError
        If a number isn't finite.
    """
    numbers = [drawn.centre, drawn.radius, drawn.radius_plus_minus]
    numbers += [n for _, x, y in drawn.points for n in (x, y)]
    if not all(math.isfinite(number) for number in numbers):
        raise InputError("Mohr's circle", numbers, "finite")
    largest = max(drawn.radius + drawn.radius_plus_minus, 1e-9)
    low, high = min(drawn.centre - largest, 0.0), max(drawn.centre + largest, 0.0)
    span = max(high - low, 2 * largest)
    scale = (_SIZE - 80) / span
    left = _MIDDLE - (low + high) / 2 * scale

    def at(x: float, y: float) -> tuple[float, float]:
        return left + x * scale, _MIDDLE + y * scale

    shapes = _circle_axes(drawn, (low, high), at)
    middle = at(drawn.centre, 0.0)
    for size in (drawn.radius - drawn.radius_plus_minus, drawn.radius + drawn.radius_plus_minus):
        if size > 0:
            shapes.append(Circle("ln-hidden", *middle, size * scale))
    shapes.append(Circle("ln-thick", *middle, drawn.radius * scale))
    shapes += _circle_points(drawn, at)
    return rendered(shapes, _SIZE, _SIZE + 30, label, where)


def _arm(arm: ArmDrawn) -> list[Shape]:
    """A grid as two long lines and its end loops, and its name beyond it."""
    along, across = (
        (math.cos(arm.angle), -math.sin(arm.angle)),
        (
            math.sin(arm.angle),
            math.cos(arm.angle),
        ),
    )

    def at(far: float, side: float) -> tuple[float, float]:
        return (
            _MIDDLE + far * along[0] + side * across[0],
            _MIDDLE + far * along[1] + side * across[1],
        )

    near, end, half = 44.0, 112.0, 9.0
    outline = (at(near, -half), at(end, -half), at(end, half), at(near, half))
    lines = [at(near + 5, side) + at(end - 5, side) for side in (-4.5, 0.0, 4.5)]
    x, y = at(end + 24, 0.0)
    return [
        Path("fill-sheet", (outline,), closed=True),
        Path("ln-thick", (outline,), closed=True),
        *(Line("ln", *line) for line in lines),
        Text("tx-bold", x, y + 5, arm.label, "mid", halo=True),
    ]


def _axes(axes: AxesDrawn) -> list[Shape]:
    """Both principal axes through the middle; a sector for what the larger one may be."""
    steps = 24
    turns = [
        axes.angle - axes.lower + (axes.lower + axes.upper) * n / steps for n in range(steps + 1)
    ]
    rim = tuple(_polar(turn, _REACH + 30) for turn in turns)
    back = tuple(_polar(turn + math.pi, _REACH + 30) for turn in turns)
    middle = (_MIDDLE, _MIDDLE)
    first = (_polar(axes.angle, _REACH + 30), _polar(axes.angle + math.pi, _REACH + 30))
    turned = axes.angle + math.pi / 2
    second = (_polar(turned, _REACH), _polar(turned + math.pi, _REACH))
    shapes: list[Shape] = [
        Path("band", ((middle, *rim), (middle, *back)), closed=True),
        Line("ln-thick", *first[0], *first[1]),
        Line("ln-hidden", *second[0], *second[1]),
    ]
    for turn, far, name in ((axes.angle, _REACH + 46, "ε₁"), (turned, _REACH + 16, "ε₂")):
        # At the end that lies away from the arms, so that no name stands on another.
        x, y = _polar(turn + math.pi if math.sin(turn) > 0 else turn, far)
        shapes.append(Text("tx-sym", x, y + 5, name, "mid", halo=True))
    return shapes


def _polar(angle: float, far: float) -> tuple[float, float]:
    return _MIDDLE + far * math.cos(angle), _MIDDLE - far * math.sin(angle)


def _circle_axes(drawn: CircleDrawn, ends: tuple[float, float], at: _Place) -> list[Shape]:
    shapes: list[Shape] = [
        Line("axis", 14, _MIDDLE, _SIZE - 14, _MIDDLE),
        Line("axis", at(0.0, 0.0)[0], 24, at(0.0, 0.0)[0], _SIZE - 14),
        Text("tx", _SIZE - 14, _SIZE + 16, f"strain, {drawn.unit}", "end"),
        Text("tx", 14, _SIZE + 16, f"γ/2 downwards, {drawn.unit}"),
    ]
    ticks = round_ticks(ends[0], ends[1], 6)
    whole = all(float(tick).is_integer() for tick in ticks)
    for tick in ticks:
        x = at(tick, 0.0)[0]
        if tick and 20 < x < _SIZE - 20:
            shapes.append(Line("ln", x, _MIDDLE - 4, x, _MIDDLE + 4))
            words = fixed_text(tick, 0 if whole else 1)
            shapes.append(Text("tx-faint", x, _MIDDLE + 19, words, "mid", halo=True))
    return shapes


def _circle_points(drawn: CircleDrawn, at: _Place) -> list[Shape]:
    shapes: list[Shape] = []
    middle = at(drawn.centre, 0.0)
    for name, x, y in drawn.points:
        px, py = at(x, y)
        away = math.hypot(px - middle[0], py - middle[1]) or 1.0
        lx, ly = px + 16 * (px - middle[0]) / away, py + 16 * (py - middle[1]) / away
        shapes += [
            Line("ln-dim", *middle, px, py),
            Circle("fill-ink", px, py, 3.6),
            Text("tx-bold", lx, ly + 5, name, "mid", halo=True),
        ]
    if drawn.axis is not None:
        for name, sign in (("ε₁", 1.0), ("ε₂", -1.0)):
            px, py = at(drawn.centre + sign * drawn.radius, 0.0)
            shapes += [
                Circle("fill-sheet", px, py, 5.5),
                Circle("ln-thick", px, py, 5.5),
                Text(
                    "tx-sym",
                    px + sign * 8,
                    py - 10,
                    name,
                    "start" if sign > 0 else "end",
                    halo=True,
                ),
            ]
    return shapes
