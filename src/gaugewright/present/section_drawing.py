"""A section seen along the member: concrete, bars, grids on their faces, neutral axis."""

from dataclasses import dataclass

from gaugewright.errors import InputError
from gaugewright.present.svg import Circle, Line, Path, Rect, Shape, Text, Where, rendered

__all__ = ["BarDrawn", "GridDrawn", "SectionDrawn", "section_drawing", "section_place"]

_WIDTH, _HEIGHT, _EDGE = 360.0, 420.0, 44.0
# A grid is drawn this large whatever the scale: at the true one nobody would see it.
_GRID = 6.0


@dataclass(frozen=True, slots=True)
class BarDrawn:
    """A bar in the section [m]."""

    label: str
    depth: float
    across: float
    diameter: float


@dataclass(frozen=True, slots=True)
class GridDrawn:
    """A grid on a bar's face [m]; kept out ones are hollow, an outlier is crossed."""

    depth: float
    across: float
    is_used: bool
    is_outlier: bool


@dataclass(frozen=True, slots=True)
class SectionDrawn:
    """Everything in the drawing [m]; ``shape`` is rectangle, tee or circle."""

    shape: str
    height: float
    width: float
    flange_width: float
    flange_depth: float
    bars: tuple[BarDrawn, ...]
    grids: tuple[GridDrawn, ...]
    neutral_axis: float | None
    size_words: str


def section_drawing(drawn: SectionDrawn, label: str, where: Where = "web") -> str:
    """SVG text of the section, to scale.

    Raises
    ------
    InputError
        If the shape isn't known.
    """
    widest = max(drawn.width, drawn.flange_width)
    scale = _scale(drawn)
    middle = _WIDTH / 2

    def at(depth: float, across: float) -> tuple[float, float]:
        return section_place(drawn, depth, across)

    shapes: list[Shape] = [*_outline(drawn, scale, at(0.0, 0.0))]
    if drawn.neutral_axis is not None:
        left, y = at(drawn.neutral_axis, -widest / 2)
        right, _ = at(drawn.neutral_axis, widest / 2)
        shapes.append(Line("ln-chain", left - 18, y, right + 18, y))
        shapes.append(Text("tx-soft", right + 14, y - 6, "neutral axis", "end", halo=True))
    for bar in drawn.bars:
        x, y = at(bar.depth, bar.across)
        shapes += [
            Circle("fill-steel-dark", x, y, bar.diameter / 2 * scale),
            Circle("ln", x, y, bar.diameter / 2 * scale),
        ]
        lower = bar.depth > drawn.height / 2
        shapes.append(Text("tx-faint", x, y + (30 if lower else -18), bar.label, "mid", halo=True))
    for grid in drawn.grids:
        shapes += _grid(at(grid.depth, grid.across), grid)
    shapes.append(Text("tx-dim", middle, _HEIGHT - 10, drawn.size_words, "mid"))
    return rendered(shapes, _WIDTH, _HEIGHT, label, where)


def _scale(drawn: SectionDrawn) -> float:
    widest = max(drawn.width, drawn.flange_width)
    return min((_WIDTH - 2 * _EDGE) / widest, (_HEIGHT - 2 * _EDGE) / drawn.height)


def section_place(drawn: SectionDrawn, depth: float, across: float) -> tuple[float, float]:
    """Where a place of the section [m] is on its drawing."""
    scale = _scale(drawn)
    return _WIDTH / 2 + across * scale, _EDGE + depth * scale


def _outline(drawn: SectionDrawn, scale: float, top: tuple[float, float]) -> list[Shape]:
    x, y = top
    height, width = drawn.height * scale, drawn.width * scale
    if drawn.shape == "circle":
        return [
            Circle("fill-concrete", x, y + height / 2, height / 2),
            Circle("ln-thick", x, y + height / 2, height / 2),
        ]
    if drawn.shape == "rectangle":
        return [
            Rect("fill-concrete", x - width / 2, y, width, height),
            Rect("ln-thick", x - width / 2, y, width, height),
        ]
    if drawn.shape != "tee":
        raise InputError("shape", drawn.shape, "rectangle, tee or circle")
    half, thick = drawn.flange_width * scale / 2, drawn.flange_depth * scale
    corners = (
        (x - half, y),
        (x + half, y),
        (x + half, y + thick),
        (x + width / 2, y + thick),
        (x + width / 2, y + height),
        (x - width / 2, y + height),
        (x - width / 2, y + thick),
        (x - half, y + thick),
    )
    return [
        Path("fill-concrete", (corners,), closed=True),
        Path("ln-thick", (corners,), closed=True),
    ]


def _grid(place: tuple[float, float], grid: GridDrawn) -> list[Shape]:
    x, y = place
    half = _GRID / 2
    box = (x - half, y - half, _GRID, _GRID)
    if not grid.is_used:
        return [Rect("fill-sheet", *box), Rect("ln", *box)]
    shapes: list[Shape] = [Rect("fill-ink", *box)]
    if grid.is_outlier:
        reach = _GRID * 1.4
        shapes += [
            Line("ln-next", x - reach, y - reach, x + reach, y + reach),
            Line("ln-next", x - reach, y + reach, x + reach, y - reach),
        ]
    return shapes
