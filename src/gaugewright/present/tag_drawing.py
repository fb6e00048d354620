"""How is a tag drawn, true to size: text, the squares of a code, and where to cut and fold?"""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

__all__ = ["Placed", "TagCode", "TagDrawing", "TagLine", "TagText", "page_svg", "tag_svg"]

_FACE = "'Source Sans 3'"


@dataclass(frozen=True, slots=True)
class TagText:
    """A line of text [mm]: left end of its base line, size of type, width it takes."""

    x: float
    y: float
    size: float
    width: float
    words: str
    is_bold: bool = False


@dataclass(frozen=True, slots=True)
class TagCode:
    """A code's squares [mm]: its upper left corner, side of a square, rows of dark ones."""

    x: float
    y: float
    module: float
    rows: tuple[tuple[bool, ...], ...]


@dataclass(frozen=True, slots=True)
class TagLine:
    """A line to cut ("cut"), to fold ("fold") or where a clear part begins ("clear") [mm]."""

    kind: str
    x1: float
    y1: float
    x2: float
    y2: float


@dataclass(frozen=True, slots=True)
class TagDrawing:
    """A tag [mm] and what it says, for whoever can't see it."""

    width: float
    height: float
    texts: tuple[TagText, ...]
    codes: tuple[TagCode, ...]
    lines: tuple[TagLine, ...]
    says: str


@dataclass(frozen=True, slots=True)
class Placed:
    """A tag at its place on a sheet [mm]."""

    x: float
    y: float
    drawing: TagDrawing


_LINES = {
    "cut": 'stroke="#999999" stroke-width="0.15"',
    "fold": 'stroke="#777777" stroke-width="0.15" stroke-dasharray="1 1"',
    "clear": 'stroke="#777777" stroke-width="0.15" stroke-dasharray="0.4 0.8"',
}


def tag_svg(drawing: TagDrawing) -> str:
    """One tag as SVG in millimetres."""
    return page_svg(drawing.width, drawing.height, (Placed(0.0, 0.0, drawing),), drawing.says)


def page_svg(width: float, height: float, placed: Sequence[Placed], says: str) -> str:
    """A sheet of tags as SVG in millimetres, white as its paper."""
    inner = "".join(
        f'<g transform="translate({_n(one.x)} {_n(one.y)})">{_inner(one.drawing)}</g>'
        for one in placed
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(width)}mm" height="{_n(height)}mm" '
        f'viewBox="0 0 {_n(width)} {_n(height)}" role="img" '
        f'aria-label="{escape(says, quote=True)}">'
        f'<rect fill="#ffffff" x="0" y="0" width="{_n(width)}" height="{_n(height)}"/>'
        f"{inner}</svg>"
    )


def _inner(drawing: TagDrawing) -> str:
    edge = (
        f'<rect fill="none" {_LINES["cut"]} x="0.08" y="0.08" width="{_n(drawing.width - 0.16)}" '
        f'height="{_n(drawing.height - 0.16)}"/>'
    )
    lines = "".join(
        f'<line {_LINES[one.kind]} x1="{_n(one.x1)}" y1="{_n(one.y1)}" x2="{_n(one.x2)}" '
        f'y2="{_n(one.y2)}"/>'
        for one in drawing.lines
    )
    codes = "".join(_squares(one) for one in drawing.codes)
    texts = "".join(
        f'<text font-family="{_FACE}" font-size="{_n(one.size)}" '
        f'font-weight="{600 if one.is_bold else 400}" fill="#000000" '
        f'textLength="{_n(one.width)}" lengthAdjust="spacingAndGlyphs" '
        f'x="{_n(one.x)}" y="{_n(one.y)}">{escape(one.words, quote=False)}</text>'
        for one in drawing.texts
    )
    return edge + lines + codes + texts


def _squares(code: TagCode) -> str:
    """Runs of dark squares of a row as one box each: no hair lines between neighbours."""
    parts = []
    for row, squares in enumerate(code.rows):
        start: int | None = None
        for column, dark in enumerate((*squares, False)):
            if dark and start is None:
                start = column
            elif not dark and start is not None:
                x, y = code.x + start * code.module, code.y + row * code.module
                wide = (column - start) * code.module
                parts.append(f"M{_n(x)} {_n(y)}h{_n(wide)}v{_n(code.module)}h{_n(-wide)}z")
                start = None
    return f'<path fill="#000000" shape-rendering="crispEdges" d="{"".join(parts)}"/>'


def _n(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".") or "0"
