"""How is a matrix of counts drawn: darker where there is more, by powers of ten, with a key?"""

import math

import numpy as np

from gaugewright.errors import InputError
from gaugewright.present.axes import Axis, axis_shapes, frame_for
from gaugewright.present.svg import Rect, Shape, Text, Where, rendered
from gaugewright.quantities import FloatArray

__all__ = ["SHADES", "matrix_drawn", "shade_of"]

# What each shade holds; the last has no end.
SHADES = ("below 1", "from 1", "from 10", "from 100")
_KEY = 14.0


def shade_of(count: float) -> int:
    """Shade of a count, from 1; nothing has none.

    Examples
    --------
    >>> [shade_of(count) for count in (0, 0.5, 1, 9.5, 10, 5000)]
    [0, 1, 2, 2, 3, 4]
    """
    if count <= 0:
        return 0
    if count < 1:
        return 1
    return min(math.floor(math.log10(count)) + 2, len(SHADES))


def matrix_drawn(
    matrix: FloatArray,
    edges: tuple[FloatArray, FloatArray],
    axes: tuple[Axis, Axis],
    alt: str,
    *,
    size: tuple[float, float] = (720.0, 420.0),
    where: Where = "web",
) -> str:
    """SVG text of a matrix: columns along x, rows up y; ``edges`` are borders of x, then of y.

    Raises
    ------
    InputError
        If the borders don't fit the matrix.
    """
    x, y = edges
    if matrix.shape != (y.size - 1, x.size - 1):
        raise InputError("matrix", matrix.shape, f"of {y.size - 1} rows and {x.size - 1} columns")
    width, height = size
    frame = frame_for(x, y, axes, width, height - 2 * _KEY)
    shapes: list[Shape] = []
    for row, column in np.argwhere(matrix > 0).tolist():
        left, right = (float(frame.across(x[column + n])) for n in (0, 1))
        bottom, top = (float(frame.down(y[row + n])) for n in (0, 1))
        # A hair's breadth of sheet between neighbours, so that single cells can be counted.
        kind = f"heat-{shade_of(float(matrix[row, column]))}"
        shapes.append(Rect(kind, left + 0.5, top + 0.5, right - left - 1, bottom - top - 1))
    shapes += axis_shapes(frame, axes)
    left = frame.left
    for number, words in enumerate(SHADES, start=1):
        shapes.append(Rect(f"heat-{number}", left, height - _KEY - 4, _KEY, _KEY))
        shapes.append(Text("tx-faint", left + _KEY + 5, height - 7, words))
        left += _KEY + 10 + 6.4 * len(words)
    return rendered(shapes, width, height, alt, where)
