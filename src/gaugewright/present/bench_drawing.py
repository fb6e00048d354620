"""How are days of work drawn: rows of bars over working hours, with nights left out?

Only hours in which somebody works have width; what lies between two stretches is a narrow gap, so
that days of eight hours aren't lost in nights of sixteen.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from gaugewright.errors import InputError
from gaugewright.present.svg import Line, Path, Rect, Shape, Text, Where, rendered

__all__ = ["BenchBar", "BenchRow", "Stretch", "bench_drawn"]

_ROW, _TOP, _GAP, _FOOT = 26.0, 42.0, 7.0, 22.0
_LETTER = 7.2


@dataclass(frozen=True, slots=True)
class Stretch:
    """Working hours without a break, as instants in seconds, and the day's name at its first."""

    begin: float
    end: float
    words: str = ""


@dataclass(frozen=True, slots=True)
class BenchBar:
    """Work from one instant to another, and until when it then waits."""

    begin: float
    end: float
    words: str
    waits_until: float | None = None


@dataclass(frozen=True, slots=True)
class BenchRow:
    """A person or a gauge with its bars."""

    label: str
    bars: tuple[BenchBar, ...]


def bench_drawn(
    rows: Sequence[BenchRow],
    stretches: Sequence[Stretch],
    alt: str,
    *,
    width: float = 1000.0,
    where: Where = "web",
) -> str:
    """SVG text of rows of work: filled where hands are on it, hatched where it waits.

    Raises
    ------
    InputError
        If there are no working hours to draw.
    """
    if not stretches:
        raise InputError("working hours", 0, "one stretch or more to be drawn")
    left = 14 + max((_LETTER * len(row.label) for row in rows), default=0.0)
    scale = _Scale(stretches, left, width - 8)
    height = _TOP + _ROW * len(rows) + _FOOT
    shapes: list[Shape] = []
    for stretch in stretches:
        begin, end = scale.across(stretch.begin), scale.across(stretch.end)
        shapes.append(
            Rect("fill-concrete", begin, _TOP - 4, end - begin, height - _TOP - _FOOT + 8)
        )
        if stretch.words:
            shapes.append(Line("ln-dim", begin, 20, begin, height - _FOOT + 4))
    shapes += _names(stretches, scale)
    for at, row in enumerate(rows):
        top = _TOP + _ROW * at
        shapes.append(Text("tx", 4, top + 16, row.label))
        for bar in row.bars:
            shapes += _bar(bar, scale, top)
    shapes += _key(left, height)
    return rendered(shapes, width, height, alt, where)


class _Scale:
    """From instants to pixels, with gaps of one width between stretches."""

    def __init__(self, stretches: Sequence[Stretch], left: float, right: float) -> None:
        self.stretches = stretches
        gaps = min(_GAP, 0.3 * (right - left) / len(stretches))
        worked = sum(one.end - one.begin for one in stretches)
        per = (right - left - gaps * (len(stretches) - 1)) / worked
        self.places = []
        at = left
        for one in stretches:
            length = per * (one.end - one.begin)
            self.places.append((at, at + length))
            at += length + gaps

    def across(self, instant: float) -> float:
        """Place of an instant; one of the night is in the gap."""
        before = self.places[0][0]
        for one, (begin, end) in zip(self.stretches, self.places, strict=True):
            if instant < one.begin:
                return (before + begin) / 2
            if instant <= one.end:
                return begin + (end - begin) * (instant - one.begin) / (one.end - one.begin)
            before = end
        return before


def _names(stretches: Sequence[Stretch], scale: _Scale) -> list[Shape]:
    """Names of days where there is room for them."""
    shapes: list[Shape] = []
    free = 0.0
    for stretch in stretches:
        at = scale.across(stretch.begin)
        if stretch.words and at >= free:
            shapes.append(Text("tx-bold", at + 3, 30, stretch.words))
            free = at + _LETTER * len(stretch.words) + 14
    return shapes


def _bar(bar: BenchBar, scale: _Scale, top: float) -> list[Shape]:
    begin, end = scale.across(bar.begin), scale.across(bar.end)
    shapes: list[Shape] = []
    if bar.waits_until is not None:
        until = scale.across(bar.waits_until)
        shapes.append(Rect("fill-sheet", end, top + 6, until - end, _ROW - 14))
        shapes.append(Rect("ln-dim", end, top + 6, until - end, _ROW - 14))
        count = int((until - end) // 9)
        lines = tuple(
            ((end + 9 * n, top + _ROW - 8), (end + 9 * n + 9, top + 6)) for n in range(count)
        )
        shapes.append(Path("ln-hatch", lines))
    shapes.append(Rect("fill-steel", begin, top + 2, max(end - begin, 1.5), _ROW - 6))
    shapes.append(Rect("ln", begin, top + 2, max(end - begin, 1.5), _ROW - 6))
    # The whole words where they fit, else the first alone: the gauge.
    for words in (bar.words, bar.words.partition(" ")[0]):
        if words and _LETTER * len(words) + 5 <= end - begin:
            shapes.append(Text("tx-dim", begin + 3, top + 16, words))
            break
    return shapes


def _key(left: float, height: float) -> list[Shape]:
    top = height - 15
    return [
        Rect("fill-steel", left, top, 18, 11),
        Rect("ln", left, top, 18, 11),
        Text("tx-faint", left + 23, top + 10, "hands on"),
        Rect("ln-dim", left + 92, top, 18, 11),
        Path(
            "ln-hatch",
            (
                ((left + 92, top + 11), (left + 101, top)),
                ((left + 101, top + 11), (left + 110, top)),
            ),
        ),
        Text("tx-faint", left + 115, top + 10, "waits; nights are left out"),
    ]
