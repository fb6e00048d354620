"""Where may a gauge be put: an elevation, a section and the clock of a bar, with places to tap.

Each place is a link, so that a tap, a click and the keyboard do the same, and nothing is dragged.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from html import escape

from gaugewright.errors import InputError
from gaugewright.present.section_drawing import SectionDrawn, section_drawing, section_place
from gaugewright.present.svg import Circle, Line, Path, Rect, Shape, Text, rendered

__all__ = [
    "BarLine",
    "ClockTap",
    "Elevation",
    "SectionTap",
    "StationMark",
    "Tap",
    "clock_taps",
    "elevation_taps",
    "section_taps",
]

_WIDTH, _EDGE, _TALLEST = 760.0, 34.0, 150.0
_TAP = 44.0  # height of the strip that is tapped along a bar
_SIDE = 220.0
_Along = Callable[[float], float]


@dataclass(frozen=True, slots=True)
class Tap:
    """A place along the bar that can be tapped: from where to where [m], its address and name."""

    first: float
    last: float
    href: str
    name: str
    is_here: bool = False


@dataclass(frozen=True, slots=True)
class BarLine:
    """A bar in the elevation: its ends on the drawing's scale and its depth [m]."""

    label: str
    first: float
    last: float
    depth: float
    is_here: bool


@dataclass(frozen=True, slots=True)
class StationMark:
    """A station that is there, at its place on the drawing's scale and its depth [m]."""

    label: str
    at: float
    depth: float
    is_on_bar: bool


@dataclass(frozen=True, slots=True)
class Elevation:
    """A specimen seen from its side [m]; ``height`` is None for a bare bar."""

    first: float
    last: float
    height: float | None
    bars: tuple[BarLine, ...]
    supports: tuple[float, ...]
    loads: tuple[float, ...]
    stations: tuple[StationMark, ...]
    taps: tuple[Tap, ...]
    ruler: tuple[tuple[float, str], ...]
    ruler_words: str


@dataclass(frozen=True, slots=True)
class SectionTap:
    """A bar in the section that can be tapped [m]."""

    label: str
    depth: float
    across: float
    href: str
    is_here: bool


@dataclass(frozen=True, slots=True)
class ClockTap:
    """A place round the bar that can be tapped [rad]."""

    angle: float
    words: str
    href: str
    is_here: bool


def elevation_taps(drawn: Elevation, label: str) -> str:
    """SVG text of the elevation, true to scale along the bar, with places to tap on one bar.

    Raises
    ------
    InputError
        If it has no length, or none of the bars is the one to tap on.
    """
    here = next((bar for bar in drawn.bars if bar.is_here), None)
    if here is None or not drawn.last > drawn.first:
        raise InputError("elevation", label, "a specimen with a length and the bar to tap on")
    scale = (_WIDTH - 2 * _EDGE) / (drawn.last - drawn.first)
    # Height may be drawn smaller than length: what is tapped lies along the bar.
    rise = 0.0 if drawn.height is None else min(scale, _TALLEST / drawn.height)
    top = 58.0

    def x(at: float) -> float:
        return _EDGE + (at - drawn.first) * scale

    def y(depth: float) -> float:
        return top + depth * rise

    below = y(drawn.height) if drawn.height is not None else top
    shapes = _member(drawn, x, top, below)
    for bar in drawn.bars:
        kind = "ln-heavy" if bar.is_here else "ln-thick"
        shapes.append(Line(kind, x(bar.first), y(bar.depth), x(bar.last), y(bar.depth)))
    for mark in drawn.stations:
        shapes += _mark(mark, x(mark.at), y(mark.depth))
    shapes.append(Text("tx-bold", 0, y(here.depth) + 5, here.label))
    foot = max(below, y(here.depth) + _TAP / 2) + 34
    shapes += _ruler(drawn, x, foot)
    height = foot + 44
    taps = [
        _rect_link(
            tap.href,
            tap.name,
            (x(tap.first), y(here.depth) - _TAP / 2, (tap.last - tap.first) * scale, _TAP),
            is_here=tap.is_here,
        )
        for tap in drawn.taps
    ]
    return _with_links(rendered(shapes, _WIDTH, height, label, "web"), taps)


def _member(drawn: Elevation, x: _Along, top: float, below: float) -> list[Shape]:
    shapes: list[Shape] = []
    if drawn.height is not None:
        left, width = x(drawn.first), x(drawn.last) - x(drawn.first)
        shapes.append(Rect("fill-concrete", left, top, width, below - top))
        shapes.append(Rect("ln-thick", left, top, width, below - top))
    for at in drawn.supports:
        corners = ((x(at), below), (x(at) - 9, below + 15), (x(at) + 9, below + 15))
        shapes.append(Path("ln", (corners,), closed=True))
    for at in drawn.loads:
        shapes.append(Line("ln-thick", x(at), top - 40, x(at), top - 7))
        tip = ((x(at), top - 1), (x(at) - 4, top - 10), (x(at) + 4, top - 10))
        shapes.append(Path("fill-ink", (tip,), closed=True))
        shapes.append(Text("tx-sym", x(at) + 8, top - 28, "P"))
    return shapes


def _mark(mark: StationMark, x: float, y: float) -> list[Shape]:
    half = 4.0 if mark.is_on_bar else 2.5
    shapes: list[Shape] = [Rect("fill-ink", x - half, y - half, 2 * half, 2 * half)]
    return shapes


def _ruler(drawn: Elevation, x: _Along, y: float) -> list[Shape]:
    shapes: list[Shape] = [Line("ln-dim", x(drawn.ruler[0][0]), y, x(drawn.ruler[-1][0]), y)]
    for at, words in drawn.ruler:
        shapes.append(Line("ln-tick", x(at), y - 5, x(at), y + 5))
        if words:
            shapes.append(Text("tx-dim", x(at), y + 21, words, "mid"))
    shapes.append(Text("tx-faint", _WIDTH - 4, y + 38, drawn.ruler_words, "end"))
    return shapes


def section_taps(drawn: SectionDrawn, taps: tuple[SectionTap, ...], label: str) -> str:
    """SVG text of a section whose bars can be tapped.

    Raises
    ------
    InputError
        If the shape isn't known.
    """
    base = section_drawing(drawn, label)
    links = [
        _circle_link(
            tap.href,
            f"Bar {tap.label}",
            (*section_place(drawn, tap.depth, tap.across), 20.0),
            is_here=tap.is_here,
        )
        for tap in taps
    ]
    return _with_links(base, links)


def clock_taps(taps: tuple[ClockTap, ...], bar: str) -> str:
    """SVG text of a bar's round with the places that can be tapped."""
    middle, radius, far = _SIDE / 2, 46.0, 78.0
    shapes: list[Shape] = [
        Circle("fill-steel-dark", middle, middle, radius),
        Circle("ln", middle, middle, radius),
        Text("tx-bold", middle, middle + 5, bar, "mid"),
    ]
    links = []
    for tap in taps:
        x = middle + far * math.sin(tap.angle)
        y = middle - far * math.cos(tap.angle)
        shapes.append(Text("tx-dim", x, y + 5, f"{math.degrees(tap.angle):.0f}°", "mid"))
        links.append(_circle_link(tap.href, tap.words, (x, y, 22.0), is_here=tap.is_here))
    text = rendered(shapes, _SIDE, _SIDE, f"Round bar {bar}", "web")
    return _with_links(text, links)


def _rect_link(
    href: str, name: str, box: tuple[float, float, float, float], *, is_here: bool
) -> str:
    x, y, width, height = (f"{value:.2f}" for value in box)
    shape = f'<rect class="plan-tap" x="{x}" y="{y}" width="{width}" height="{height}"/>'
    return _link(href, name, shape, is_here=is_here)


def _circle_link(href: str, name: str, place: tuple[float, float, float], *, is_here: bool) -> str:
    x, y, radius = (f"{value:.2f}" for value in place)
    return _link(
        href, name, f'<circle class="plan-tap" cx="{x}" cy="{y}" r="{radius}"/>', is_here=is_here
    )


def _link(href: str, name: str, shape: str, *, is_here: bool) -> str:
    here = ' aria-current="true"' if is_here else ""
    return (
        f'<a href="{escape(href, quote=True)}" aria-label="{escape(name, quote=True)}"{here}>'
        f"<title>{escape(name)}</title>{shape}</a>"
    )


def _with_links(svg: str, links: list[str]) -> str:
    """A drawing with links over it; a picture alone would hide them from readers of the screen."""
    body = svg.removesuffix("</svg>").replace(' role="img"', ' role="group"', 1)
    return f"{body}{''.join(links)}</svg>"
