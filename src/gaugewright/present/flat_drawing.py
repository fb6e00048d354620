"""What is left of a bar where a flat was ground, drawn to scale?"""

import math
from dataclasses import dataclass

from gaugewright.errors import InputError
from gaugewright.present.svg import Circle, Line, Path, Shape, Text, Where, rendered

__all__ = ["FlatDrawn", "bar_with_flat"]

_RADIUS = 120.0
_CENTRE = (250.0, 180.0)


@dataclass(frozen=True, slots=True)
class FlatDrawn:
    """A round core with one flat, or two: lengths over the diameter, and the words beside them.

    ``depth`` and ``centroid`` (how far the centre moved away from the flat) are shares of the
    diameter.
    """

    depth: float
    centroid: float
    flats: int
    diameter_words: str
    width_words: str
    depth_words: str
    centroid_words: str


def bar_with_flat(drawn: FlatDrawn, label: str, where: Where = "web") -> str:
    """SVG text of the section, the flat above, to scale.

    Raises
    ------
    InputError
        If the flat is deeper than half the bar.
    """
    if not 0 <= drawn.depth <= 0.5:
        raise InputError("depth", drawn.depth, "0 to 0.5 of the diameter")
    x, y = _CENTRE
    cut = 2 * _RADIUS * drawn.depth
    angle = math.acos(1 - cut / _RADIUS)
    half = _RADIUS * math.sin(angle)
    flat = y - _RADIUS + cut
    outline = _outline(angle, drawn.flats)
    shapes: list[Shape] = [
        Path("fill-steel", (outline,), closed=True),
        Path("ln-hidden", (_arc(-angle, angle),)),
        Path("ln-thick", (outline,), closed=True),
        Line("ln-chain", x - _RADIUS - 18, y, x + _RADIUS + 18, y),
        Line("ln-chain", x, y - _RADIUS - 30, x, y + _RADIUS + 18),
        *_grid(x, flat),
    ]
    shapes += _width(x, half, flat, drawn.width_words)
    shapes += _depth(x, flat, drawn.depth_words)
    shapes += _diameter(x, y, drawn.diameter_words)
    if drawn.centroid_words:
        lower = y + 2 * _RADIUS * abs(drawn.centroid)
        shapes += [
            Circle("fill-sheet", x, lower, 4),
            Circle("ln-thick", x, lower, 4),
            Line("ln-dim", x + 5, lower + 2, x + _RADIUS + 46, lower + 40),
            Text("tx", x + _RADIUS + 52, lower + 45, drawn.centroid_words),
        ]
    return rendered(shapes, 640, 370, label, where)


def _arc(start: float, end: float) -> tuple[tuple[float, float], ...]:
    """Points of the round core between two angles from the top, clockwise."""
    x, y = _CENTRE
    steps = 60
    turns = [start + (end - start) * n / steps for n in range(steps + 1)]
    return tuple((x + _RADIUS * math.sin(t), y - _RADIUS * math.cos(t)) for t in turns)


def _outline(angle: float, flats: int) -> tuple[tuple[float, float], ...]:
    if flats == 1:
        return _arc(angle, 2 * math.pi - angle)
    return (*_arc(angle, math.pi - angle), *_arc(math.pi + angle, 2 * math.pi - angle))


def _grid(x: float, flat: float) -> list[Shape]:
    """The gauge on the flat, not to scale in its thickness."""
    return [Line("ln-heavy", x - 14, flat - 2.5, x + 14, flat - 2.5)]


def _width(x: float, half: float, flat: float, words: str) -> list[Shape]:
    y = _CENTRE[1] - _RADIUS - 22
    shapes: list[Shape] = [
        Line("ln-dim", x - half, flat - 4, x - half, y - 5),
        Line("ln-dim", x + half, flat - 4, x + half, y - 5),
        Line("ln-dim", x - half, y, x + half, y),
    ]
    shapes += [Line("ln-tick", x + s * half - 4, y + 4, x + s * half + 4, y - 4) for s in (-1, 1)]
    return [*shapes, Text("tx", x, y - 10, words, "mid", halo=True)]


def _depth(x: float, flat: float, words: str) -> list[Shape]:
    top = _CENTRE[1] - _RADIUS
    at = x + _RADIUS + 30
    return [
        Line("ln-dim", x + 6, top, at + 5, top),
        Line("ln-dim", x + 24, flat, at + 5, flat),
        Line("ln-dim", at, top - 16, at, flat + 16),
        Line("ln-tick", at - 4, top + 4, at + 4, top - 4),
        Line("ln-tick", at - 4, flat + 4, at + 4, flat - 4),
        Text("tx", at + 12, flat + 14, words),
    ]


def _diameter(x: float, y: float, words: str) -> list[Shape]:
    at = y + _RADIUS + 34
    shapes: list[Shape] = [Line("ln-dim", x - _RADIUS, at, x + _RADIUS, at)]
    for side in (-1, 1):
        end = x + side * _RADIUS
        shapes += [
            Line("ln-dim", end, y + 8, end, at + 5),
            Line("ln-tick", end - 4, at + 4, end + 4, at - 4),
        ]
    return [*shapes, Text("tx", x, at + 20, words, "mid")]
