"""Which lead is which at the meter: a gauge, its leads and what was found of them, drawn."""

from collections.abc import Mapping, Sequence
from itertools import pairwise

from gaugewright.present.svg import Circle, Line, Path, Rect, Shape, Text, Where, rendered

__all__ = ["leads_at_meter"]

_WIDE, _TOP, _STEP, _CLOSE = 430.0, 30.0, 34.0, 23.0
_FEW = 4  # leads from which on they stand closer, or their names would be too small to read


def leads_at_meter(
    leads: Sequence[str],
    tabs: Sequence[Sequence[str]],
    words: Mapping[str, str],
    label: str,
    *,
    grids: Sequence[tuple[int, int]] = (),
    bad: Sequence[str] = (),
    where: Where = "web",
) -> str:
    """SVG text of leads from the gauge on the left to the meter on the right.

    Parameters
    ----------
    leads : sequence of str
        Names from top to bottom, in the order of the meter.
    tabs : sequence of sequences of str
        Leads that meet at one tab or corner, tab by tab.
    words : mapping of lead to str
        What was found of a lead, such as its resistance.
    label : str
        The drawing in words.
    grids : sequence of (int, int)
        Places of the tabs between which each grid lies; neighbours where nothing is given.
    bad : sequence of str
        Leads to be worked on.
    where : str
        As ``svg.rendered``.
    """
    step = _STEP if len(leads) <= _FEW else _CLOSE
    bottom = _TOP + step * (len(leads) - 1)
    height = bottom + 26
    at = {lead: _TOP + step * place for place, lead in enumerate(leads)}
    middles = [sum(at[lead] for lead in tab) / len(tab) for tab in tabs]
    shapes: list[Shape] = [Rect("fill-steel", 4, 8, 112, height - 16)]
    shapes += [Line("ln", 4, y, 116, y) for y in (8, height - 8)]
    for one, other in grids or pairwise(range(len(tabs))):
        is_outside = abs(one - other) > 1
        shapes += (_round if is_outside else _grid)(middles[one], middles[other])
    for tab, y in zip(tabs, middles, strict=True):
        shapes.append(Rect("fill-ink", 74, y - 6, 12, 12))
        for lead in tab:
            shapes += _lead(lead, y, at[lead], words.get(lead, ""), is_bad=lead in bad)
    return rendered(shapes, _WIDE, height, label, where)


def _grid(first: float, second: float) -> list[Shape]:
    """Loops of a grid between two tabs."""
    low, high = min(first, second) + 6, max(first, second) - 6
    turns = [(30.0 if n % 2 else 64.0, low + (high - low) * (n + 0.5) / 6) for n in range(6)]
    return [Path("ln-thick", (((80, first), (64, low), *turns, (64, high), (80, second)),))]


def _round(first: float, second: float) -> list[Shape]:
    """Loops of a grid that closes a ring, outside of the others."""
    low, high = min(first, second), max(first, second)
    loops = [
        (10.0 if n % 2 else 24.0, low + 14 + (high - low - 28) * (n + 0.5) / 6) for n in range(6)
    ]
    run = ((80.0, low), (17.0, low), (17.0, low + 12), *loops, (17.0, high - 12), (17.0, high))
    return [Path("ln-thick", ((*run, (80.0, high)),))]


def _lead(name: str, start: float, end: float, words: str, *, is_bad: bool) -> list[Shape]:
    line = "ln-next" if is_bad else "ln-thick"
    run = ((86.0, start), (112.0, start), (142.0, end), (394.0, end))
    shapes: list[Shape] = [Path(line, (run,))]
    if is_bad:
        shapes += [Rect("fill-sheet", 190, end - 7, 44, 14), Rect("ln-next", 190, end - 7, 44, 14)]
    shapes += [
        Circle("fill-sheet", 400, end, 6),
        Circle("ln-thick", 400, end, 6),
        Text("tx-bold", 412, end + 5, name),
    ]
    if words:
        kind = "tx-bold" if is_bad else "tx"
        shapes.append(Text(kind, 312, end - 6, words, "mid", halo=True))
    return shapes
