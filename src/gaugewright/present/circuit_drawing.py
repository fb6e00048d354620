"""Which wires and resistors does a reading go through, drawn with their values?"""

from collections.abc import Sequence
from dataclasses import dataclass

from gaugewright.errors import InputError
from gaugewright.present.svg import Circle, Line, Path, Rect, Shape, Text, Where, rendered

__all__ = [
    "Arm",
    "Quarter",
    "bridge_of_arms",
    "quarter_bridge",
    "resistor_box",
    "wires_of_gauge",
]

_LONG, _THICK = 46.0, 16.0  # of a resistor's box
SHUNT_PLACES = ("T1-T2", "A-C", "A-B", "completion-B", "completion-C")
_SAME_WITH_TWO_WIRES = {"A-C": "A-B", "completion-C": "completion-B"}


@dataclass(frozen=True, slots=True)
class Quarter:
    """Words beside the parts of a quarter bridge, each "" where nothing is said.

    ``shunts`` are the places of a calibration resistor; more than one where it isn't known.
    """

    gauge: str = ""
    lead_a: str = ""
    lead_b: str = ""
    lead_c: str = ""
    lead_d: str = ""
    completion: str = ""
    excitation: str = ""
    output: str = ""
    shunt: str = ""
    shunts: tuple[str, ...] = ()
    is_two_wire: bool = False


@dataclass(frozen=True, slots=True)
class Arm:
    """An arm of a bridge: its words, and whether it is a grid or a fixed resistor."""

    words: str
    is_grid: bool


def quarter_bridge(parts: Quarter, label: str, where: Where = "web") -> str:
    """SVG text of a gauge, its wires, and the channel that completes its bridge.

    Raises
    ------
    InputError
        If a place of the calibration resistor isn't known.
    """
    unknown = [place for place in parts.shunts if place not in SHUNT_PLACES]
    if unknown:
        raise InputError("position", unknown[0], "one of " + ", ".join(SHUNT_PLACES))
    shapes = [*_gauge_side(parts), *_channel(parts)]
    places = parts.shunts
    if parts.is_two_wire:  # terminals B and C are one
        places = tuple(dict.fromkeys(_SAME_WITH_TWO_WIRES.get(place, place) for place in places))
    for number, place in enumerate(places):
        shapes += _shunt(place, parts, is_first=number == 0)
    return rendered(shapes, 760, 330, label, where)


def wires_of_gauge(
    parts: Quarter, readings: Sequence[str], label: str, where: Where = "web"
) -> str:
    """SVG text of a gauge and its three wires, unplugged, with what a meter read between them."""
    shapes = _gauge_side(parts)
    braces = ((470.0, 80.0, 170.0), (560.0, 170.0, 260.0), (650.0, 80.0, 260.0))
    order = (2, 1, 0)  # B to C, A to C, A to B as they lie from top to bottom
    for (x, top, bottom), which in zip(braces, order, strict=True):
        shapes += [
            Line("ln-dim", 442, top, x + 6, top),
            Line("ln-dim", 442, bottom, x + 6, bottom),
            Line("ln", x, top, x, bottom),
            Line("ln-tick", x - 4, top + 4, x + 4, top - 4),
            Line("ln-tick", x - 4, bottom + 4, x + 4, bottom - 4),
            Text("tx", x + 8, (top + bottom) / 2 + 22, readings[which], halo=True),
        ]
    return rendered(shapes, 760, 330, label, where)


def bridge_of_arms(
    arms: tuple[Arm, Arm, Arm, Arm],
    excitation: str,
    output: str,
    label: str,
    where: Where = "web",
    *,
    shunt: str = "",
) -> str:
    """SVG text of a bridge: arms 1 and 2 on the left, 2 above; 3 and 4 on the right, 3 above.

    ``shunt`` are the words of a calibration resistor across arm 1, "" where there is none.
    """
    shapes: list[Shape] = [
        Line("ln", 140, 40, 400, 40),
        Line("ln", 140, 290, 400, 290),
        *_upright(140, 40, 165, arms[1], "arm 2", left=True),
        *_upright(140, 165, 290, arms[0], "arm 1", left=True),
        *_upright(400, 40, 165, arms[2], "arm 3", left=False),
        *_upright(400, 165, 290, arms[3], "arm 4", left=False),
        Line("ln", 140, 165, 248, 165),
        Line("ln", 292, 165, 400, 165),
        *_output(270, 165, output),
        Line("ln", 270, 40, 270, 26),
        Line("ln", 270, 290, 270, 304),
        Text("tx-soft", 280, 26, f"+ {excitation}".strip()),
        Text("tx-soft", 280, 316, "−"),
    ]
    shapes += [Circle("fill-ink", x, y, 3.2) for x, y in ((140, 165), (400, 165))]
    if shunt:
        around = ((140.0, 185.0), (196.0, 185.0), (196.0, 270.0), (140.0, 270.0))
        half_long, half_thick = _LONG / 2, _THICK / 2
        left, right = 196 - half_thick, 196 + half_thick
        top, bottom = 227.5 - half_long, 227.5 + half_long
        corners = ((left, top), (right, top), (right, bottom), (left, bottom))
        shapes += [
            Path("ln-next", (around,)),
            Path("fill-sheet", (corners,), closed=True),
            Path("ln-next", (corners,), closed=True),
            Text("tx-bold", 212, 240, shunt, halo=True),
        ]
    return rendered(shapes, 540, 330, label, where)


def _gauge_side(parts: Quarter) -> list[Shape]:
    """Tabs T1 and T2 with the grid between them, and the wires to terminals A, B and C."""
    shapes: list[Shape] = [
        *resistor_box(100, 195, upright=True, is_grid=True),
        Line("ln", 100, 130, 100, 172),
        Line("ln", 100, 218, 100, 260),
        Text("tx", 84, 200, parts.gauge, "end"),
        Circle("fill-ink", 100, 130, 4),
        Circle("fill-ink", 100, 260, 4),
        Text("tx-bold", 84, 126, "T2", "end"),
        Text("tx-bold", 84, 276, "T1", "end"),
        *_wire((100, 130), 80, "B", parts.lead_b),
        *_wire((100, 260), 260, "A", parts.lead_a),
    ]
    if not parts.is_two_wire:
        shapes += _wire((100, 130), 170, "C", parts.lead_c)
    if parts.lead_d:
        shapes += _wire((100, 260), 215, "D", parts.lead_d)
    return shapes


def _wire(start: tuple[float, float], y: float, name: str, words: str) -> list[Shape]:
    """A wire with its resistance, from a tab to a terminal."""
    x0, y0 = start
    shapes: list[Shape] = []
    bend = x0 if name not in ("C", "D") else x0 + 40
    if y != y0:
        run = ((x0, y0), (bend, y0), (bend, y)) if bend != x0 else ((x0, y0), (bend, y))
        shapes.append(Path("ln", (run,)))
    shapes += [
        Line("ln", bend, y, 257, y),
        Line("ln", 303, y, 434, y),
        *resistor_box(280, y, upright=False, is_grid=False),
        Circle("fill-sheet", 438, y, 4.5),
        Circle("ln-thick", 438, y, 4.5),
        Text("tx-bold", 434, y - 10, name, "end"),
    ]
    if words:
        shapes.append(Text("tx-dim", 280, y - 14, words, "mid"))
    return shapes


def _channel(parts: Quarter) -> list[Shape]:
    """Completion, internal half bridge, supply and output; the sense node is terminal C."""
    sense = 80.0 if parts.is_two_wire else 170.0
    shapes: list[Shape] = [
        Rect("fill-none", 438, 12, 306, 290),
        Line("ln-hidden", 438, 12, 744, 12),
        Line("ln-hidden", 438, 302, 744, 302),
        Line("ln-hidden", 744, 12, 744, 302),
        Line("ln-hidden", 438, 12, 438, 74),
        Line("ln-hidden", 438, 266, 438, 302),
        Line("ln", 443, 80, 500, 80),
        Line("ln", 500, 80, 500, 40),
        Line("ln", 500, 40, 523, 40),
        *resistor_box(546, 40, upright=False, is_grid=False),
        Line("ln", 569, 40, 716, 40),
        Text("tx-dim", 546, 66, parts.completion, "mid"),
        Line("ln", 443, 260, 716, 260),
        Line("ln", 640, 40, 640, 72),
        *resistor_box(640, 95, upright=True, is_grid=False),
        Line("ln", 640, 118, 640, 192),
        *resistor_box(640, 215, upright=True, is_grid=False),
        Line("ln", 640, 238, 640, 260),
        Line("ln", 443 if sense == 170 else 500, 170 if sense == 170 else 80, 540, 170)
        if sense == 170
        else Path("ln", (((500, 80), (500, 170), (540, 170)),)),
        Line("ln", 584, 170, 640, 170),
        Circle("fill-ink", 640, 170, 3.2),
        *_output(562, 170, parts.output),
        Line("ln", 716, 40, 716, 132),
        Line("ln", 716, 168, 716, 260),
        Line("ln-thick", 704, 142, 728, 142),
        Line("ln-heavy", 710, 158, 722, 158),
        Line("ln", 716, 132, 716, 142),
        Line("ln", 716, 158, 716, 168),
        Text("tx-dim", 704, 130, parts.excitation or "excitation", "end"),
        Text("tx-soft", 724, 36, "+"),
        Text("tx-soft", 724, 278, "−"),
        Text("tx-faint", 452, 294, "channel"),
    ]
    return shapes


def _output(x: float, y: float, words: str) -> list[Shape]:
    return [
        Circle("fill-sheet", x, y, 22),
        Circle("ln", x, y, 22),
        Text("tx-sym", x, y + 6, "V", "mid"),
        Text("tx-dim", x, y + 40, words or "output", "mid", halo=True),
    ]


def _upright(
    x: float, top: float, bottom: float, arm: Arm, name: str, *, left: bool
) -> list[Shape]:
    middle = (top + bottom) / 2
    side = -1 if left else 1
    anchor = "end" if left else "start"
    return [
        Line("ln", x, top, x, middle - _LONG / 2),
        Line("ln", x, middle + _LONG / 2, x, bottom),
        *resistor_box(x, middle, upright=True, is_grid=arm.is_grid),
        Text("tx-bold", x + 18 * side, middle - 4, name, anchor),  # type: ignore[arg-type]
        Text("tx", x + 18 * side, middle + 14, arm.words, anchor),  # type: ignore[arg-type]
    ]


def resistor_box(x: float, y: float, *, upright: bool, is_grid: bool) -> list[Shape]:
    """A resistor; a grid is drawn with its loops, so that it is told apart without colour."""
    width, height = (_THICK, _LONG) if upright else (_LONG, _THICK)
    left, top = x - width / 2, y - height / 2
    corners = ((left, top), (left + width, top), (left + width, top + height), (left, top + height))
    shapes: list[Shape] = [Path("fill-sheet", (corners,), closed=True)]
    if is_grid:
        turns = [(x + (5 if n % 2 else -5), top + 5 + n * (height - 10) / 9) for n in range(10)]
        shapes.append(Path("ln", (((x, top), *turns, (x, top + height)),)))
    shapes.append(Path("ln-thick" if is_grid else "ln", (corners,), closed=True))
    return shapes


def _shunt(place: str, parts: Quarter, *, is_first: bool) -> list[Shape]:
    """The calibration resistor in one place, in the colour of what is being worked on."""
    runs: dict[str, tuple[tuple[float, float], ...]] = {
        "T1-T2": ((100, 130), (150, 130), (150, 260), (100, 260)),
        "A-C": ((438, 170), (400, 170), (400, 260), (438, 260)),
        "A-B": ((438, 80), (356, 80), (356, 260), (438, 260)),
        "completion-B": ((500, 80), (500, 106), (592, 106), (592, 40)),
        "completion-C": ((438, 170), (470, 170), (470, 24), (592, 24), (592, 40)),
    }
    boxes = {
        "T1-T2": (150.0, 215.0, True),
        "A-C": (400.0, 215.0, True),
        "A-B": (356.0, 215.0, True),
        "completion-B": (546.0, 106.0, False),
        "completion-C": (470.0, 122.0, True),
    }
    run = runs[place]
    x, y, upright = boxes[place]
    width, height = (_THICK, _LONG) if upright else (_LONG, _THICK)
    left, top = x - width / 2, y - height / 2
    corners = ((left, top), (left + width, top), (left + width, top + height), (left, top + height))
    shapes: list[Shape] = [
        Path("ln-next", (run,)),
        Path("fill-sheet", (corners,), closed=True),
        Path("ln-next", (corners,), closed=True),
    ]
    if is_first and parts.shunt:
        dx = 14 if place not in ("A-C", "A-B") else -14
        at = (x + dx, y + 5) if upright else (x, y + 24)
        anchor = ("start" if dx > 0 else "end") if upright else "mid"
        shapes.append(Text("tx-bold", *at, parts.shunt, anchor, halo=True))  # type: ignore[arg-type]
    return shapes
