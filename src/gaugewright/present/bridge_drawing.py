"""Which wire of a half or full bridge goes to which terminal, drawn with names and colours?"""

from collections.abc import Mapping
from dataclasses import dataclass

from gaugewright.present.circuit_drawing import Arm, resistor_box
from gaugewright.present.svg import Circle, Line, Path, Rect, Shape, Text, Where, rendered

__all__ = ["Wires", "full_bridge", "half_bridge", "opposite_grids"]

_CHANNEL = 470.0  # where the terminals of the channel stand
_WIDTH = 760.0


@dataclass(frozen=True, slots=True)
class Wires:
    """Words beside each wire by the name of its terminal, and what supplies the bridge."""

    words: Mapping[str, str]
    excitation: str = ""


def full_bridge(
    arms: tuple[Arm, Arm, Arm, Arm],
    wires: Wires,
    label: str,
    *,
    is_sensed: bool,
    where: Where = "web",
) -> str:
    """SVG text of four arms in the specimen and four or six wires to the channel."""
    top, bottom, middle = 50.0, 340.0, 195.0
    shapes: list[Shape] = [
        Line("ln", 110, top, 300, top),
        Line("ln", 110, bottom, 300, bottom),
        *_arm(110, (top, middle), arms[2], "arm 3"),
        *_arm(110, (middle, bottom), arms[3], "arm 4"),
        *_arm(250, (top, middle), arms[1], "arm 2"),
        *_arm(250, (middle, bottom), arms[0], "arm 1"),
        # Signal − crosses the other two arms between them, without a joint.
        Path("ln", (((110, middle), (180, middle), (180, 222), (300, 222)),)),
        Line("ln", 250, middle, 275, middle),
        Path("ln", (((275, middle), (275, 170), (300, 170)),)),
        *_run(300, 50, "P", wires),
        *_run(300, 170, "SP", wires),
        *_run(300, 222, "SN", wires),
        *_run(300, 340, "N", wires),
    ]
    shapes += [Circle("fill-ink", x, y, 3.2) for x, y in ((110, middle), (250, middle))]
    if is_sensed:
        shapes += [
            Path("ln", (((262, top), (262, 108), (300, 108)),)),
            Path("ln", (((262, bottom), (262, 284), (300, 284)),)),
            *_run(300, 108, "KP", wires),
            *_run(300, 284, "KN", wires),
            Circle("fill-ink", 262, top, 3.2),
            Circle("fill-ink", 262, bottom, 3.2),
            Text("tx-faint", _CHANNEL + 12, 112, "sense +"),
            Text("tx-faint", _CHANNEL + 12, 288, "sense −"),
        ]
    shapes += [
        *_channel(385),
        Line("ln", _CHANNEL + 5, 50, 690, 50),
        Line("ln", _CHANNEL + 5, 340, 690, 340),
        *_supply(50, 340, wires.excitation),
        *_meter(580, 170, 222),
    ]
    return rendered(shapes, _WIDTH, 400, label, where)


def half_bridge(
    arms: tuple[Arm, Arm], inside: str, wires: Wires, label: str, where: Where = "web"
) -> str:
    """SVG text of two grids with three wires, and the half bridge inside the channel."""
    shapes: list[Shape] = [
        *_arm(160, (50, 175), arms[1], "arm 2"),
        *_arm(160, (175, 300), arms[0], "arm 1"),
        Circle("fill-ink", 160, 175, 3.2),
        *(Line("ln", 160, y, 300, y) for y in (50, 175, 300)),
        *_run(300, 50, "B", wires),
        *_run(300, 175, "C", wires),
        *_run(300, 300, "A", wires),
        Text("tx-bold", 146, 46, "T3", "end"),
        Text("tx-bold", 146, 180, "N", "end"),
        Text("tx-bold", 146, 314, "T1", "end"),
        *_channel(345),
        Line("ln", _CHANNEL + 5, 50, 690, 50),
        Line("ln", _CHANNEL + 5, 300, 690, 300),
        *_supply(50, 300, wires.excitation),
        Line("ln", 620, 50, 620, 90),
        *resistor_box(620, 113, upright=True, is_grid=False),
        Line("ln", 620, 136, 620, 214),
        *resistor_box(620, 237, upright=True, is_grid=False),
        Line("ln", 620, 260, 620, 300),
        Circle("fill-ink", 620, 175, 3.2),
        Text("tx-dim", 604, 117, inside, "end"),
        Line("ln", _CHANNEL + 5, 175, 528, 175),
        Line("ln", 572, 175, 620, 175),
        *_dial(550, 175),
    ]
    return rendered(shapes, _WIDTH, 360, label, where)


def opposite_grids(
    arms: tuple[Arm, Arm], inside: str, wires: Wires, label: str, where: Where = "web"
) -> str:
    """SVG text of two grids in opposite arms, each on two wires, and two arms in the channel."""
    rows = {"C": 50.0, "D": 130.0, "B": 240.0, "A": 320.0}
    shapes: list[Shape] = [
        *_arm(160, (rows["C"], rows["D"]), arms[1], "arm 3"),
        *_arm(160, (rows["B"], rows["A"]), arms[0], "arm 1"),
        *(Line("ln", 160, y, 300, y) for y in rows.values()),
        *(shape for name, y in rows.items() for shape in _run(300, y, name, wires)),
        *_channel(365),
        Line("ln", _CHANNEL + 5, 50, 690, 50),
        Line("ln", _CHANNEL + 5, 320, 690, 320),
        *_supply(50, 320, wires.excitation),
        Line("ln", _CHANNEL + 5, 130, 640, 130),
        Line("ln", _CHANNEL + 5, 240, 640, 240),
        # Arm 2 from supply + to terminal B, arm 4 from terminal D to supply −.
        Line("ln", 570, 50, 570, 62),
        *resistor_box(570, 85, upright=True, is_grid=False),
        Line("ln", 570, 108, 570, 240),
        Line("ln", 520, 130, 520, 257),
        *resistor_box(520, 280, upright=True, is_grid=False),
        Line("ln", 520, 303, 520, 320),
        Circle("fill-ink", 570, 240, 3.2),
        Circle("fill-ink", 520, 130, 3.2),
        Text("tx-dim", 584, 89, inside),
        Text("tx-dim", 534, 284, inside),
        Line("ln", 640, 130, 640, 163),
        Line("ln", 640, 207, 640, 240),
        *_dial(640, 185),
    ]
    return rendered(shapes, _WIDTH, 380, label, where)


def _arm(x: float, ends: tuple[float, float], arm: Arm, name: str) -> list[Shape]:
    top, bottom = ends
    middle = (top + bottom) / 2
    return [
        Line("ln", x, top, x, middle - 23),
        Line("ln", x, middle + 23, x, bottom),
        *resistor_box(x, middle, upright=True, is_grid=arm.is_grid),
        Text("tx-bold", x - 16, middle - 3, name, "end"),
        Text("tx", x - 16, middle + 15, arm.words, "end", halo=True),
    ]


def _run(x: float, y: float, name: str, wires: Wires) -> list[Shape]:
    """A wire from the bridge to its terminal, with its words above it."""
    shapes: list[Shape] = [
        Line("ln", x, y, 362, y),
        *resistor_box(385, y, upright=False, is_grid=False),
        Line("ln", 408, y, _CHANNEL - 4, y),
        Circle("fill-sheet", _CHANNEL, y, 4.5),
        Circle("ln-thick", _CHANNEL, y, 4.5),
        Text("tx-bold", _CHANNEL - 8, y - 9, name, "end"),
    ]
    if words := wires.words.get(name, ""):
        shapes.append(Text("tx-dim", 384, y - 14, words, "mid", halo=True))
    return shapes


def _channel(bottom: float) -> list[Shape]:
    return [
        Line("ln-hidden", _CHANNEL, 14, 740, 14),
        Line("ln-hidden", _CHANNEL, bottom, 740, bottom),
        Line("ln-hidden", 740, 14, 740, bottom),
        Line("ln-hidden", _CHANNEL, 14, _CHANNEL, 44),
        Line("ln-hidden", _CHANNEL, bottom - 36, _CHANNEL, bottom),
        Rect("fill-none", _CHANNEL, 14, 270, bottom - 14),
        Text("tx-faint", _CHANNEL + 12, bottom - 10, "channel"),
    ]


def _supply(top: float, bottom: float, words: str) -> list[Shape]:
    middle = (top + bottom) / 2
    return [
        Line("ln", 690, top, 690, middle - 8),
        Line("ln", 690, middle + 8, 690, bottom),
        Line("ln-thick", 678, middle - 8, 702, middle - 8),
        Line("ln-heavy", 684, middle + 8, 696, middle + 8),
        Text("tx-dim", 732, middle - 16, words or "excitation", "end", halo=True),
        Text("tx-soft", 698, top - 6, "+"),
        Text("tx-soft", 698, bottom + 18, "−"),
    ]


def _meter(x: float, top: float, bottom: float) -> list[Shape]:
    """What reads between the two signal terminals."""
    return [
        Line("ln", _CHANNEL + 5, top, x, top),
        Line("ln", _CHANNEL + 5, bottom, x, bottom),
        Line("ln", x, top, x, (top + bottom) / 2),
        Line("ln", x, (top + bottom) / 2, x, bottom),
        *_dial(x, (top + bottom) / 2),
    ]


def _dial(x: float, y: float) -> list[Shape]:
    return [
        Circle("fill-sheet", x, y, 22),
        Circle("ln", x, y, 22),
        Text("tx-sym", x, y + 6, "V", "mid"),
        Text("tx-dim", x, y + 40, "output", "mid", halo=True),
    ]
