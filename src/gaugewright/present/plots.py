"""How are measured series drawn: lines with their doubt, gaps as gaps, names beside the lines?"""

import itertools
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from gaugewright.errors import InputError
from gaugewright.present.axes import Axis, Frame, axis_shapes, frame_for
from gaugewright.present.labels import Ground
from gaugewright.present.numbers import fixed_text
from gaugewright.present.series import kept_rows, runs
from gaugewright.present.svg import Circle, Line, Mark, Path, Shape, Text, Where, rendered
from gaugewright.quantities import FloatArray

__all__ = ["Axis", "Curve", "Ink", "Plot", "Point", "Void", "drawn", "frame_of"]

Ink = Literal["a", "b", "c", "d"]
_TEXT_OF_INK = {"a": "tx-bold", "b": "tb", "c": "tc", "d": "td"}


@dataclass(frozen=True, slots=True)
class Curve:
    """A measured or predicted line in shown units; NaN is a gap.

    ``plus_minus`` is the expanded uncertainty of x or of y (``doubt_of``), sample by sample, and
    is drawn as a band. ``dots`` marks the samples themselves, as for loads held still.
    """

    label: str
    x: FloatArray
    y: FloatArray
    ink: Ink = "a"
    plus_minus: FloatArray | None = None
    doubt_of: Literal["x", "y"] = "y"
    dots: bool = False

    def __post_init__(self) -> None:
        if self.x.ndim != 1 or self.x.shape != self.y.shape:
            shapes = (self.x.shape, self.y.shape)
            raise InputError(f"curve {self.label}", shapes, "two equally long rows of numbers")
        if self.plus_minus is not None and self.plus_minus.shape != self.x.shape:
            shape = self.plus_minus.shape
            raise InputError(f"uncertainty of {self.label}", shape, "as long as its curve")


@dataclass(frozen=True, slots=True)
class Point:
    """A single number worth pointing at, with whiskers where its doubt is known."""

    x: float
    y: float
    label: str = ""
    x_plus_minus: float | None = None
    y_plus_minus: float | None = None
    guides: bool = False
    hollow: bool = False


@dataclass(frozen=True, slots=True)
class Void:
    """A place where no value will come: drawn as missing, with its reason in words."""

    x: float
    label: str


@dataclass(frozen=True, slots=True)
class Plot:
    """Everything in one plot; ``alt`` says in words what it shows."""

    x: Axis
    y: Axis
    alt: str
    curves: tuple[Curve, ...] = ()
    points: tuple[Point, ...] = ()
    voids: tuple[Void, ...] = ()
    verticals: tuple[tuple[float, str], ...] = ()


def drawn(plot: Plot, width: float = 720, height: float = 440, where: Where = "web") -> str:
    """SVG text of a plot.

    Raises
    ------
    InputError
        If nothing in it has a number, or a curve has an ink that isn't known.
    """
    frame = frame_of(plot, width, height)
    kept = [_thin(_to_frame(curve, plot, frame), int(2 * width)) for curve in plot.curves]
    ground = Ground(frame.left, frame.right, frame.top, frame.bottom)
    foot = np.array([frame.bottom, frame.bottom])
    ground.occupy_line(np.array([frame.left, frame.right]), foot, 5.0)
    shapes = axis_shapes(frame, (plot.x, plot.y))
    shapes += _verticals(plot, frame, ground)
    shapes += [shape for curve in kept for shape in _band(curve, frame)]
    shapes += [shape for curve in kept for shape in _line(curve, frame, ground)]
    for point in plot.points:
        shapes += _point(point, frame, ground)
    for void in plot.voids:
        shapes += _void(void, frame, ground)
    shapes += _labels(plot, kept, frame, ground)
    shapes += _going_on(plot, frame, ground)
    return rendered(shapes, width, height, plot.alt, where)


def frame_of(plot: Plot, width: float = 720, height: float = 440) -> Frame:
    """Where numbers fall in a plot drawn at that size, for marks that a page puts on it later.

    Raises
    ------
    InputError
        As ``drawn``.
    """
    inside = [_thin(_cut(curve, plot), int(2 * width)) for curve in plot.curves]
    return _frame(plot, inside, width, height)


def _cut(curve: Curve, plot: Plot) -> Curve:
    """What lies outside a range that was asked for isn't drawn along its edge."""
    inside = np.ones(curve.x.shape, dtype=bool)
    for values, axis in ((curve.x, plot.x), (curve.y, plot.y)):
        if axis.lowest is not None:
            inside &= values >= axis.lowest
        if axis.highest is not None:
            inside &= values <= axis.highest
    return curve if inside.all() else replace(curve, y=np.where(inside, curve.y, np.nan))


def _to_frame(curve: Curve, plot: Plot, frame: Frame) -> Curve:
    """A curve that leaves a range asked for on the right is led on to the frame, and ends there."""
    if plot.x.highest is None or curve.dots:
        return _cut(curve, plot)
    edge = frame.x_edges[1]
    beyond = curve.x > edge
    at = np.flatnonzero(beyond[1:] != beyond[:-1])  # between this sample and the next
    at = at[np.isfinite(curve.x[at] * curve.x[at + 1] * curve.y[at] * curve.y[at + 1])]
    part = (edge - curve.x[at]) / (curve.x[at + 1] - curve.x[at])
    y = curve.y[at] + part * (curve.y[at + 1] - curve.y[at])
    doubt = curve.plus_minus
    if doubt is not None:
        doubt = np.insert(doubt, at + 1, doubt[at] + part * (doubt[at + 1] - doubt[at]))
    longer = replace(
        curve,
        x=np.insert(curve.x, at + 1, edge),
        y=np.insert(curve.y, at + 1, y),
        plus_minus=doubt,
    )
    return _cut(longer, replace(plot, x=replace(plot.x, highest=edge)))


def _going_on(plot: Plot, frame: Frame, ground: Ground) -> list[Shape]:
    """Beside each curve that leaves the range on the right, how far it goes."""
    shapes: list[Shape] = []
    if plot.x.highest is None:
        return shapes
    for curve in plot.curves:
        there = np.isfinite(curve.x) & np.isfinite(curve.y)
        beyond = np.flatnonzero(there & (curve.x > frame.x_edges[1]))
        if not beyond.size or curve.dots:
            continue
        largest = float(curve.x[beyond].max())
        words = f"goes on to {fixed_text(largest, -1)} {plot.x.unit}"
        y = np.array([float(frame.down(curve.y[beyond[0]]))])
        shapes += ground.label(np.array([frame.right]), y, words, _TEXT_OF_INK[curve.ink])
    return shapes


def _thin(curve: Curve, points: int) -> Curve:
    if curve.ink not in _TEXT_OF_INK:
        raise InputError("ink", curve.ink, "a, b, c or d")
    rows = kept_rows(curve.x, curve.y, points)
    doubt = None if curve.plus_minus is None else curve.plus_minus[rows]
    return Curve(
        curve.label, curve.x[rows], curve.y[rows], curve.ink, doubt, curve.doubt_of, curve.dots
    )


def _frame(plot: Plot, kept: list[Curve], width: float, height: float) -> Frame:
    xs = [np.array([p.x for p in plot.points] + [v.x for v in plot.voids])]
    ys = [np.array([p.y for p in plot.points])]
    for point in plot.points:
        if point.y_plus_minus is not None:
            ys.append(point.y + point.y_plus_minus * np.array([-1.0, 1.0]))
        if point.x_plus_minus is not None:
            xs.append(point.x + point.x_plus_minus * np.array([-1.0, 1.0]))
    for curve in kept:
        doubt = np.zeros(curve.x.shape) if curve.plus_minus is None else curve.plus_minus
        xs += _reach(curve.x, doubt if curve.doubt_of == "x" else 0 * doubt)
        ys += _reach(curve.y, doubt if curve.doubt_of == "y" else 0 * doubt)
    return frame_for(np.concatenate(xs), np.concatenate(ys), (plot.x, plot.y), width, height)


def _reach(middle: FloatArray, doubt: FloatArray) -> list[FloatArray]:
    # A band that juts out by less than a twentieth is cut at the axis, so that zero stays there.
    if not np.isfinite(middle).any():
        return [middle]
    span = float(np.nanmax(middle) - np.nanmin(middle))
    low, high = middle - doubt, middle + doubt
    low = low if np.nanmin(low) < np.nanmin(middle) - span / 20 else middle
    return [low, high if np.nanmax(high) > np.nanmax(middle) + span / 20 else middle]


def _band(curve: Curve, frame: Frame) -> list[Shape]:
    if curve.plus_minus is None:
        return []
    pieces: list[tuple[tuple[float, float], ...]] = []
    along_x, along_y = (1.0, 0.0) if curve.doubt_of == "x" else (0.0, 1.0)
    for run in runs(curve.x, curve.y + curve.plus_minus):
        x, y, doubt = curve.x[run], curve.y[run], curve.plus_minus[run]
        for part in _one_way(y if curve.doubt_of == "x" else x):
            a, b, c = x[part], y[part], doubt[part]
            px = frame.across(np.concatenate((a - along_x * c, (a + along_x * c)[::-1])))
            py = frame.down(np.concatenate((b - along_y * c, (b + along_y * c)[::-1])))
            pieces.append(
                _pairs(_clipped(px, frame.left, frame.right), _clipped(py, frame.top, frame.bottom))
            )
    return [Path("band", tuple(pieces), closed=True)] if pieces else []


def _one_way(values: FloatArray) -> list[slice]:
    """Stretches that only rise or only fall, those that fall turned round.

    A band that comes back over itself, as under a load that is taken off, would be cut out where
    both ways overlap if the two ran round in opposite senses.
    """
    step = np.sign(np.diff(values))
    moves = np.flatnonzero(step)
    if not moves.size:
        return [slice(0, values.size)]
    turns = moves[1:][step[moves[1:]] != step[moves[:-1]]]
    edges = [0, *turns.tolist(), values.size - 1]
    found = []
    for first, last in itertools.pairwise(edges):
        falls = values[last] < values[first]
        end = first - 1 if first > 0 else None
        found.append(slice(last, end, -1) if falls else slice(first, last + 1))
    return found


def _line(curve: Curve, frame: Frame, ground: Ground) -> list[Shape]:
    pieces: list[tuple[tuple[float, float], ...]] = []
    shapes: list[Shape] = []
    for run in runs(curve.x, curve.y):
        px = _clipped(frame.across(curve.x[run]), frame.left, frame.right)
        py = _clipped(frame.down(curve.y[run]), frame.top, frame.bottom)
        ground.occupy_line(px, py)
        pieces.append(_pairs(px, py))
        if px.size == 1 or curve.dots:
            shapes += [
                Circle("fill-ink", float(a), float(b), 3.2) for a, b in zip(px, py, strict=True)
            ]
    return [Path(f"s{curve.ink}", tuple(pieces)), *shapes]


def _labels(plot: Plot, kept: list[Curve], frame: Frame, ground: Ground) -> list[Shape]:
    shapes: list[Shape] = []
    for curve in kept:
        found = np.isfinite(curve.x) & np.isfinite(curve.y)
        if curve.label and found.any():
            px, py = _evenly(frame.across(curve.x[found]), frame.down(curve.y[found]))
            shapes += ground.label(px, py, curve.label, _TEXT_OF_INK[curve.ink])
    for point in plot.points:
        if point.label:
            at_x, at_y = frame.at(point.x, point.y)
            kind = "tx-bold" if point.hollow else "tx"
            shapes += ground.label(np.array([at_x]), np.array([at_y]), point.label, kind)
    return shapes


def _point(point: Point, frame: Frame, ground: Ground) -> list[Shape]:
    x, y = frame.at(point.x, point.y)
    shapes: list[Shape] = []
    if point.guides:
        shapes += [
            Line("ln-hidden", x, y, x, frame.bottom),
            Line("ln-hidden", frame.left, y, x, y),
        ]
    if point.y_plus_minus is not None:
        shapes += _whisker(*(frame.at(point.x, point.y + s * point.y_plus_minus) for s in (-1, 1)))
    if point.x_plus_minus is not None:
        shapes += _whisker(*(frame.at(point.x + s * point.x_plus_minus, point.y) for s in (-1, 1)))
    if point.hollow:
        shapes += [Circle("fill-sheet", x, y, 6.5), Circle("ln-thick", x, y, 6.5)]
    else:
        shapes.append(Circle("fill-ink", x, y, 3.6))
    ground.occupy_box(x - 8, y - 8, 16, 16)
    return shapes


def _whisker(a: tuple[float, float], b: tuple[float, float]) -> list[Shape]:
    upright = abs(a[0] - b[0]) < abs(a[1] - b[1])
    dx, dy = (5.0, 0.0) if upright else (0.0, 5.0)
    ends = [Line("ln", x - dx, y - dy, x + dx, y + dy) for x, y in (a, b)]
    return [Line("ln", *a, *b), *ends]


def _void(void: Void, frame: Frame, ground: Ground) -> list[Shape]:
    x = float(frame.across(void.x))
    y = frame.bottom - 14
    ground.occupy_box(x - 8, y - 8, 20 + 7 * len(void.label), 16)
    left = x + 12 + 7 * len(void.label) > frame.right
    words = Text(
        "tx-dim",
        x - 12 if left else x + 12,
        y + 5,
        void.label,
        "end" if left else "start",
        halo=True,
    )
    return [Mark("lost", x, y, 11), words]


def _verticals(plot: Plot, frame: Frame, ground: Ground) -> list[Shape]:
    shapes: list[Shape] = []
    for value, label in plot.verticals:
        x = float(frame.across(value))
        if frame.left <= x <= frame.right:
            shapes.append(Line("ln-hidden", x, frame.top, x, frame.bottom))
            shapes.append(Text("tx-dim", x, frame.top - 5, label, "mid"))
            ground.occupy_line(np.array([x, x]), np.array([frame.top, frame.bottom]), 0.5)
    return shapes


def _clipped(values: FloatArray, lowest: float, highest: float) -> FloatArray:
    return np.clip(values, lowest, highest)


def _evenly(x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    # By length on paper, so that a label isn't drawn to where samples happen to crowd.
    along = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))))
    steps = np.linspace(0, along[-1], 101)
    return np.interp(steps, along, x), np.interp(steps, along, y)


def _pairs(x: FloatArray, y: FloatArray) -> tuple[tuple[float, float], ...]:
    return tuple(zip(x.tolist(), y.tolist(), strict=True))
