"""How is a drawing put into SVG: by class for the web page, by attributes for paper?

The web's security policy forbids inline styles and its colours change from day to night, so a
page gets class names that its style sheet knows. Paper knows no style sheet: the same names are
looked up here and written out as attributes. One table serves both, so they can't drift apart.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from html import escape
from typing import Literal

from gaugewright.errors import InputError

__all__ = ["Circle", "Line", "Mark", "Path", "Rect", "Shape", "Text", "Where", "rendered"]

Where = Literal["web", "paper"]
Anchor = Literal["start", "mid", "end"]

# In quotes: a name with a figure of its own isn't a family name otherwise, and no text is drawn.
_SANS = "'Source Sans 3'"
_SERIF = "'STIX Two Text'"

_INK, _SOFT, _FAINT = "#000000", "#222222", "#444444"
_MINIUM, _SHEET = "#ad3a08", "#ffffff"
_STROKES: dict[str, str] = {
    "ln": f'fill="none" stroke="{_INK}" stroke-width="1"',
    "ln-thick": f'fill="none" stroke="{_INK}" stroke-width="2"',
    "ln-heavy": f'fill="none" stroke="{_INK}" stroke-width="3.2"',
    "ln-chain": f'fill="none" stroke="{_SOFT}" stroke-width="1" stroke-dasharray="14 4 2 4"',
    "ln-hidden": f'fill="none" stroke="{_SOFT}" stroke-width="1" stroke-dasharray="6 4"',
    "ln-dim": f'fill="none" stroke="{_SOFT}" stroke-width="0.8"',
    "ln-tick": f'fill="none" stroke="{_INK}" stroke-width="1.8"',
    "ln-next": f'fill="none" stroke="{_MINIUM}" stroke-width="2.4"',
    "ln-grid": 'fill="none" stroke="#dddddd" stroke-width="1"',
    "ln-hatch": 'fill="none" stroke="#999999" stroke-width="1"',
    "axis": f'fill="none" stroke="{_INK}" stroke-width="1.4"',
    "sa": f'fill="none" stroke="{_INK}" stroke-width="1.6" stroke-linejoin="round"',
    "sb": 'fill="none" stroke="#17588f" stroke-width="2" stroke-dasharray="9 4" '
    'stroke-linejoin="round"',
    "sc": 'fill="none" stroke="#2a6a44" stroke-width="2" stroke-dasharray="2 4" '
    'stroke-linecap="round"',
    "sd": 'fill="none" stroke="#7d5200" stroke-width="2" stroke-dasharray="12 3 2 3"',
    "band": f'fill="{_INK}" fill-opacity="0.16" stroke="none"',
    "heat-1": f'fill="{_INK}" fill-opacity="0.15"',
    "heat-2": f'fill="{_INK}" fill-opacity="0.35"',
    "heat-3": f'fill="{_INK}" fill-opacity="0.6"',
    "heat-4": f'fill="{_INK}" fill-opacity="0.9"',
    "fill-steel": 'fill="#dddddd"',
    "fill-steel-dark": 'fill="#999999"',
    "fill-concrete": 'fill="#f4f4f4"',
    "fill-sheet": f'fill="{_SHEET}"',
    "fill-ink": f'fill="{_INK}"',
    "fill-none": 'fill="none"',
}
_TEXTS: dict[str, str] = {
    "tx": f'font-family="{_SANS}" font-size="14" fill="{_INK}"',
    "tx-soft": f'font-family="{_SANS}" font-size="14" fill="{_SOFT}"',
    "tx-faint": f'font-family="{_SANS}" font-size="13" fill="{_FAINT}"',
    "tx-dim": f'font-family="{_SANS}" font-size="13" fill="{_SOFT}"',
    "tx-bold": f'font-family="{_SANS}" font-size="14" font-weight="600" fill="{_INK}"',
    "tx-sym": f'font-family="{_SERIF}" font-size="16" font-style="italic" fill="{_INK}"',
    "tb": f'font-family="{_SANS}" font-size="14" fill="#17588f"',
    "tc": f'font-family="{_SANS}" font-size="14" fill="#2a6a44"',
    "td": f'font-family="{_SANS}" font-size="14" fill="#7d5200"',
}
_ANCHORS = {"start": "start", "mid": "middle", "end": "end"}


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line of a kind named in the style sheet."""

    kind: str
    x1: float
    y1: float
    x2: float
    y2: float


@dataclass(frozen=True, slots=True)
class Path:
    """A polyline through pixels; several runs leave gaps between them."""

    kind: str
    runs: tuple[tuple[tuple[float, float], ...], ...]
    closed: bool = False


@dataclass(frozen=True, slots=True)
class Rect:
    """An upright rectangle."""

    kind: str
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Circle:
    """A disc or ring."""

    kind: str
    x: float
    y: float
    radius: float


@dataclass(frozen=True, slots=True)
class Text:
    """Words at a point; ``halo`` parts them from lines behind."""

    kind: str
    x: float
    y: float
    words: str
    anchor: Anchor = "start"
    halo: bool = False
    turned: bool = False


@dataclass(frozen=True, slots=True)
class Mark:
    """The mark of a state, centred at a point: shape tells the state, never colour."""

    state: str
    x: float
    y: float
    size: float = 14.0


Shape = Line | Path | Rect | Circle | Text | Mark


def rendered(
    shapes: Iterable[Shape], width: float, height: float, label: str, where: Where = "web"
) -> str:
    """SVG text of a drawing, with its words for people who can't see it.

    Raises
    ------
    InputError
        For a kind of line, text or state that has no look, or a place that isn't known.
    """
    if where not in ("web", "paper"):
        raise InputError("where", where, "web or paper")
    body = "".join(_element(shape, where) for shape in shapes)
    outer = ' class="dwg"' if where == "web" else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg"{outer} viewBox="0 0 {_n(width)} {_n(height)}"'
        f' role="img" aria-label="{escape(label, quote=True)}">{body}</svg>'
    )


def _element(shape: Shape, where: Where) -> str:
    if isinstance(shape, Text):
        return _text(shape, where)
    if isinstance(shape, Mark):
        return "".join(_element(part, where) for part in _mark(shape))
    look = _look(shape.kind, where)
    if isinstance(shape, Line):
        ends = f'x1="{_n(shape.x1)}" y1="{_n(shape.y1)}" x2="{_n(shape.x2)}" y2="{_n(shape.y2)}"'
        return f"<line {look} {ends}/>"
    if isinstance(shape, Path):
        end = "Z" if shape.closed else ""
        pieces = [
            "M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in run) + end for run in shape.runs if run
        ]
        return f'<path {look} d="{"".join(pieces)}"/>' if pieces else ""
    if isinstance(shape, Rect):
        place = f'x="{_n(shape.x)}" y="{_n(shape.y)}"'
        return f'<rect {look} {place} width="{_n(shape.width)}" height="{_n(shape.height)}"/>'
    return f'<circle {look} cx="{_n(shape.x)}" cy="{_n(shape.y)}" r="{_n(shape.radius)}"/>'


def _look(kind: str, where: Where) -> str:
    if kind not in _STROKES:
        raise InputError("kind of line", kind, "one of " + ", ".join(_STROKES))
    return f'class="{kind}"' if where == "web" else _STROKES[kind]


def _text(shape: Text, where: Where) -> str:
    if shape.kind not in _TEXTS:
        raise InputError("kind of text", shape.kind, "one of " + ", ".join(_TEXTS))
    if where == "web":
        names = [shape.kind]
        names += [shape.anchor] if shape.anchor != "start" else []
        names += ["tx-halo"] if shape.halo else []
        look = f'class="{" ".join(names)}"'
    else:
        look = f'{_TEXTS[shape.kind]} text-anchor="{_ANCHORS[shape.anchor]}"'
    turn = f' transform="rotate(-90 {_n(shape.x)} {_n(shape.y)})"' if shape.turned else ""
    place = f'x="{_n(shape.x)}" y="{_n(shape.y)}"'
    behind = _ground(shape) if shape.halo and where == "paper" else ""
    return f"{behind}<text {look} {place}{turn}>{escape(shape.words, quote=False)}</text>"


def _ground(text: Text) -> str:
    # On paper a stroked halo is drawn letter by letter and eats its neighbour: a plain ground.
    width = 6.6 * len(text.words)
    left = {"start": text.x, "mid": text.x - width / 2, "end": text.x - width}[text.anchor]
    place = f'x="{_n(left)}" y="{_n(text.y - 12)}"'
    return f'<rect fill="{_SHEET}" {place} width="{_n(width)}" height="15"/>'


def _mark(mark: Mark) -> tuple[Shape, ...]:
    x, y, r = mark.x, mark.y, mark.size / 2
    if mark.state == "sound":
        return (Circle("fill-ink", x, y, 0.8 * r),)
    if mark.state == "watch":
        corners = ((x, y - 0.93 * r), (x + 0.94 * r, y + 0.74 * r), (x - 0.94 * r, y + 0.74 * r))
        return _hollow(corners)
    if mark.state in ("repair", "doubtful"):
        diamond = ((x, y - r), (x + r, y), (x, y + r), (x - r, y))
        return (*_hollow(diamond), Circle("fill-ink", x, y, 0.28 * r))
    if mark.state == "lost":
        a = 0.85 * r
        strokes = (((x - a, y - a), (x + a, y + a)), ((x - a, y + a), (x + a, y - a)))
        return (Path("ln-heavy", strokes),)
    if mark.state == "not yet":
        return (Circle("fill-sheet", x, y, 0.7 * r), Circle("ln", x, y, 0.7 * r))
    raise InputError("state", mark.state, "sound, watch, repair, doubtful, lost or not yet")


def _hollow(corners: tuple[tuple[float, float], ...]) -> tuple[Shape, ...]:
    return tuple(Path(kind, (corners,), closed=True) for kind in ("fill-sheet", "ln-thick"))


def _n(number: float) -> str:
    text = f"{number:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
