"""Where can the name of a curve stand beside it without covering anything?"""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from gaugewright.present.svg import Anchor, Line, Shape, Text
from gaugewright.quantities import FloatArray

__all__ = ["Ground"]

_CELL = 4.0  # pixels: half the height of a small letter
_WIDTH = 7.0  # of a letter at 14 pixels, on average
_OFFSETS: tuple[tuple[float, float, Anchor], ...] = (
    (12, 5, "start"),
    (-12, 5, "end"),
    (10, 20, "start"),
    (-10, -10, "end"),
    (10, -10, "start"),
    (-10, 20, "end"),
    (34, -18, "start"),
    (34, 28, "start"),
    (-34, -18, "end"),
    (56, 46, "start"),
    (-56, -34, "end"),
    (90, 60, "start"),
    (-90, -50, "end"),
)


@dataclass(slots=True)
class Ground:
    """The paper in cells; each holds how much already stands there."""

    left: float
    right: float
    top: float
    bottom: float
    weight: npt.NDArray[np.float64] = field(init=False)

    def __post_init__(self) -> None:
        rows = int(self.bottom // _CELL) + 2
        self.weight = np.zeros((rows, int(self.right // _CELL) + 2))

    def occupy_line(self, x: FloatArray, y: FloatArray, weight: float = 1.0) -> None:
        """Mark the cells an unbroken polyline runs through."""
        if x.size == 0:
            return
        length = np.hypot(np.diff(x), np.diff(y)) if x.size > 1 else np.zeros(0)
        along = np.concatenate(([0.0], np.cumsum(length)))
        steps = np.linspace(0, along[-1], int(along[-1] / _CELL) + 2)
        xs, ys = np.interp(steps, along, x), np.interp(steps, along, y)
        rows = np.clip((ys / _CELL).astype(int), 0, self.weight.shape[0] - 1)
        columns = np.clip((xs / _CELL).astype(int), 0, self.weight.shape[1] - 1)
        self.weight[rows, columns] += weight

    def occupy_box(self, x: float, y: float, width: float, height: float) -> None:
        """Mark a box with its upper left corner at a point: nothing else goes there."""
        self.weight[self._cells(x, y, width, height)] += 50.0

    def label(self, x: FloatArray, y: FloatArray, words: str, kind: str) -> list[Shape]:
        """Shapes of a label beside a polyline, where least else stands; the place is then taken."""
        choices: list[tuple[float, float, float, Anchor, float, float]] = []
        width, height = _WIDTH * len(words) + 4, 18.0
        for share in (0.62, 0.74, 0.5, 0.86, 0.38, 0.97, 0.26):
            at = round(share * (x.size - 1))
            for dx, dy, anchor in _OFFSETS:
                tx, ty = float(x[at]) + dx, float(y[at]) + dy
                left = tx if anchor == "start" else tx - width
                cost = self._cost(left, ty - 14, width, height) + abs(share - 0.62) * 2
                cost += 0.01 * (dx * dx + dy * dy) ** 0.5
                choices.append((cost, tx, ty, anchor, float(x[at]), float(y[at])))
        _, tx, ty, anchor, cx, cy = min(choices, key=lambda choice: choice[0])
        left = tx if anchor == "start" else tx - width
        self.occupy_box(left, ty - 14, width, height)
        shapes: list[Shape] = []
        if abs(ty - cy) > 15:
            shapes.append(Line("ln-dim", tx + (-2 if anchor == "start" else 2), ty - 5, cx, cy))
        shapes.append(Text(kind, tx, ty, words, anchor, halo=True))
        return shapes

    def _cost(self, x: float, y: float, width: float, height: float) -> float:
        outside = (
            max(self.left + 4 - x, 0)
            + max(x + width - self.right, 0)
            + max(self.top - y, 0)
            + max(y + height - self.bottom + 2, 0)
        )
        return float(self.weight[self._cells(x, y, width, height)].sum()) + 20 * outside

    def _cells(self, x: float, y: float, width: float, height: float) -> tuple[slice, slice]:
        rows = slice(max(int(y / _CELL), 0), max(int((y + height) / _CELL) + 1, 1))
        return rows, slice(max(int(x / _CELL), 0), max(int((x + width) / _CELL) + 1, 1))
