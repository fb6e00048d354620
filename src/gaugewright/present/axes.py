"""Where do numbers fall on the paper, and which round numbers stand beside the axes?"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gaugewright.errors import InputError
from gaugewright.present.numbers import fixed_text
from gaugewright.present.svg import Line, Shape, Text
from gaugewright.quantities import FloatArray

SIGN_WIDE = 7.2  # pixels of a digit beside an axis

__all__ = ["Axis", "Frame", "axis_shapes", "frame_for", "round_ticks"]


@dataclass(frozen=True, slots=True)
class Axis:
    """What an axis shows: quantity in words, unit, and the range when it isn't left to the data."""

    words: str
    unit: str
    lowest: float | None = None
    highest: float | None = None

    @property
    def title(self) -> str:
        """Quantity and unit, as printed beside the axis."""
        return f"{self.words}, {self.unit}" if self.unit else self.words


@dataclass(frozen=True, slots=True)
class Frame:
    """The plotting area in pixels, the numbers at its edges and the round ones between."""

    left: float
    right: float
    top: float
    bottom: float
    x_edges: tuple[float, float]
    y_edges: tuple[float, float]
    x_ticks: tuple[float, ...]
    y_ticks: tuple[float, ...]

    def across(self, x: npt.ArrayLike) -> FloatArray:
        """Pixels from the left of the sheet."""
        lo, hi = self.x_edges
        return np.asarray(self.left + (np.asarray(x) - lo) / (hi - lo) * (self.right - self.left))

    def down(self, y: npt.ArrayLike) -> FloatArray:
        """Pixels from the top of the sheet."""
        lo, hi = self.y_edges
        return np.asarray(self.bottom - (np.asarray(y) - lo) / (hi - lo) * (self.bottom - self.top))

    def at(self, x: float, y: float) -> tuple[float, float]:
        """One point in pixels."""
        return float(self.across(x)), float(self.down(y))


def round_ticks(lowest: float, highest: float, about: int) -> tuple[float, ...]:
    """Round numbers in steps of 1, 2 or 5 that enclose a range.

    Zero is taken in when the data begin within two fifths of their span from it.

    Raises
    ------
    InputError
        If the range isn't finite.

    Examples
    --------
    >>> round_ticks(12.0, 171.0, 6)
    (0.0, 50.0, 100.0, 150.0, 200.0)
    """
    if not (math.isfinite(lowest) and math.isfinite(highest)):
        raise InputError("range of an axis", (lowest, highest), "finite")
    lo, hi = min(lowest, highest), max(lowest, highest)
    if 0 < lo <= 0.4 * (hi - lo):
        lo = 0.0
    if hi < 0 and -hi <= 0.4 * (hi - lo):
        hi = 0.0
    # Numbers alike to nine digits are one number: the twelve that a tick keeps must part the ticks.
    if hi - lo <= 1e-9 * max(abs(hi), abs(lo), 1e-12):
        pad = max(abs(hi) * 0.05, 1e-9) if hi else 1.0
        lo, hi = lo - pad, hi + pad
    raw = (hi - lo) / max(about, 1)
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(m * power for m in (1, 2, 5, 10) if m * power >= raw * (1 - 1e-9))
    first, last = math.floor(lo / step + 1e-9), math.ceil(hi / step - 1e-9)
    return tuple(float(f"{n * step:.12g}") for n in range(first, last + 1))


def frame_for(
    x: FloatArray, y: FloatArray, axes: tuple[Axis, Axis], width: float, height: float
) -> Frame:
    """A frame that holds all numbers given, with room for its axis texts.

    Raises
    ------
    InputError
        If there is nothing to draw.
    """
    x_lo, x_hi = _range(x, axes[0])
    y_lo, y_hi = _range(y, axes[1])
    top, bottom = 36.0, height - 52.0
    y_edges, y_ticks = _edges(y_lo, y_hi, max(int((bottom - top) / 55), 2))
    left = 14.0 + SIGN_WIDE * max(len(text) for text in _tick_texts(y_ticks))
    right = width - 16.0
    x_edges, x_ticks = _edges(x_lo, x_hi, max(int((right - left) / 85), 2))
    longest = SIGN_WIDE * max(len(text) for text in _tick_texts(x_ticks))
    if longest + 12 > (right - left) / len(x_ticks):  # many digits: fewer numbers, none on another
        x_edges, x_ticks = _edges(x_lo, x_hi, max(int((right - left) / (longest + 24)), 2))
    right -= max(_beyond(x_ticks, x_edges, (left, right)) - (width - 2.0), 0.0)
    return Frame(left, right, top, bottom, x_edges, y_edges, x_ticks, y_ticks)


def _beyond(
    ticks: tuple[float, ...], edges: tuple[float, float], across: tuple[float, float]
) -> float:
    """How far to the right the last number beside an axis reaches, in pixels."""
    share = (ticks[-1] - edges[0]) / (edges[1] - edges[0])
    middle = across[0] + share * (across[1] - across[0])
    return middle + SIGN_WIDE * len(_tick_texts(ticks)[-1]) / 2


def _edges(
    lowest: float, highest: float, about: int
) -> tuple[tuple[float, float], tuple[float, ...]]:
    """Edges of an axis: round numbers, but no whole step for data that jut out a little."""
    ticks = round_ticks(lowest, highest, about)
    step, span = ticks[1] - ticks[0], ticks[-1] - ticks[0]
    low, high = ticks[0], ticks[-1]
    if len(ticks) > 3 and low < lowest and ticks[1] - lowest < 0.25 * step:
        low = lowest - 0.01 * span
    if len(ticks) > 3 and high > highest and highest - ticks[-2] < 0.25 * step:
        high = highest + 0.01 * span
    inside = tuple(tick for tick in ticks if low <= tick <= high)
    return ((low, high), inside) if len(inside) > 1 else ((ticks[0], ticks[-1]), ticks)


def axis_shapes(frame: Frame, axes: tuple[Axis, Axis]) -> list[Shape]:
    """Grid, axes, tick numbers and the axis titles."""
    shapes: list[Shape] = []
    for value, text in zip(frame.y_ticks, _tick_texts(frame.y_ticks), strict=True):
        y = float(frame.down(value))
        shapes.append(Line("ln-grid", frame.left, y, frame.right, y))
        shapes.append(Text("tx-faint", frame.left - 8, y + 4.5, text, "end"))
    for value, text in zip(frame.x_ticks, _tick_texts(frame.x_ticks), strict=True):
        x = float(frame.across(value))
        shapes.append(Line("ln-grid", x, frame.top, x, frame.bottom))
        shapes.append(Line("ln", x, frame.bottom, x, frame.bottom + 5))
        shapes.append(Text("tx-faint", x, frame.bottom + 21, text, "mid"))
    if frame.y_edges[0] < 0 < frame.y_edges[1]:
        zero = float(frame.down(0))
        shapes.append(Line("ln", frame.left, zero, frame.right, zero))
    zero = float(frame.across(0))
    if frame.left + 12 < zero < frame.right:  # nearer, it would run beside the axis itself
        shapes.append(Line("ln", zero, frame.top, zero, frame.bottom))
    shapes.append(Line("axis", frame.left, frame.top, frame.left, frame.bottom))
    shapes.append(Line("axis", frame.left, frame.bottom, frame.right, frame.bottom))
    shapes.append(Text("tx", 0, 18, axes[1].title))
    shapes.append(Text("tx", frame.right, frame.bottom + 44, axes[0].title, "end"))
    return shapes


def _tick_texts(ticks: tuple[float, ...]) -> list[str]:
    step = ticks[1] - ticks[0]
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    return [fixed_text(value, places) for value in ticks]


def _range(values: FloatArray, axis: Axis) -> tuple[float, float]:
    found = values[np.isfinite(values)]
    if not found.size:
        raise InputError(axis.words, "all missing", "drawn from one number or more")
    lowest = float(found.min()) if axis.lowest is None else axis.lowest
    highest = float(found.max()) if axis.highest is None else axis.highest
    return lowest, highest
