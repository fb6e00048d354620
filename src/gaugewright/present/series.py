"""Which samples must be drawn so that no peak and no gap is lost at a given width?"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["Kept", "kept_rows", "runs", "thinned"]

IndexArray = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Kept:
    """A series thinned for drawing; ``rows`` say which samples of the full one are left."""

    x: FloatArray
    y: FloatArray
    rows: IndexArray


def kept_rows(x: npt.ArrayLike, y: npt.ArrayLike, points: int = 1200) -> IndexArray:
    """Rows to draw: of every block the first, the last and the extremes of x and of y.

    Blocks follow the order of the samples, so a loop stays a loop. Where a missing sample lies
    between two kept ones, it is kept too: a gap is never drawn as a line. A series no longer than
    ``points`` is kept whole; otherwise at most ``points`` samples are left, missing ones apart.

    Raises
    ------
    InputError
        If the arrays aren't one-dimensional and equally long, or ``points`` is below 12.

    Examples
    --------
    >>> y = [0.0] * 500 + [9.0] + [0.0] * 500
    >>> 500 in kept_rows(range(1001), y, points=24)
    True
    """
    along = np.asarray(x, dtype=np.float64)
    up = np.asarray(y, dtype=np.float64)
    if along.ndim != 1 or along.shape != up.shape:
        raise InputError("x and y", (along.shape, up.shape), "one-dimensional and equally long")
    if points < 12:
        raise InputError("points", points, "12 or more")
    if along.size <= points:
        return np.arange(along.size)
    found = np.isfinite(along) & np.isfinite(up)
    good = np.flatnonzero(found)
    chosen = good if good.size <= points else good[_extremes(along[good], up[good], points)]
    return _with_gaps(chosen, np.flatnonzero(~found))


def thinned(x: npt.ArrayLike, y: npt.ArrayLike, points: int = 1200) -> Kept:
    """The series at ``kept_rows``; missing samples are NaN in y.

    Raises
    ------
    InputError
        As ``kept_rows``.
    """
    along = np.asarray(x, dtype=np.float64)
    up = np.asarray(y, dtype=np.float64)
    rows = kept_rows(along, up, points)
    return Kept(along[rows], up[rows], rows)


def runs(x: FloatArray, y: FloatArray) -> list[slice]:
    """Unbroken stretches: slices of samples in which both numbers are there.

    Examples
    --------
    >>> runs(np.arange(5.0), np.array([1.0, np.nan, 2.0, 3.0, np.nan]))
    [slice(0, 1, None), slice(2, 4, None)]
    """
    found = np.isfinite(x) & np.isfinite(y)
    edges = np.flatnonzero(np.diff(np.concatenate(([False], found, [False])).astype(np.int8)))
    return [slice(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _extremes(x: FloatArray, y: FloatArray, points: int) -> IndexArray:
    blocks = points // 6
    edges = np.linspace(0, x.size, blocks + 1).astype(np.int64)
    picked: list[int] = []
    for start, stop in pairwise(edges.tolist()):
        if stop == start:
            continue
        bx, by = x[start:stop], y[start:stop]
        inside = (0, bx.size - 1, bx.argmin(), bx.argmax(), by.argmin(), by.argmax())
        picked.extend(start + int(i) for i in inside)
    return np.unique(np.asarray(picked, dtype=np.int64))


def _with_gaps(chosen: IndexArray, missing: IndexArray) -> IndexArray:
    if not missing.size:
        return chosen
    # The first missing sample after each kept one, when it comes before the next kept one.
    after = np.searchsorted(missing, chosen)
    inside = after < missing.size
    first = np.where(inside, missing[np.minimum(after, missing.size - 1)], -1)
    upcoming = np.append(chosen[1:], np.iinfo(np.int64).max)
    gaps = first[inside & (first < upcoming)]
    leading = missing[:1] if not chosen.size or missing[0] < chosen[0] else missing[:0]
    return np.unique(np.concatenate((chosen, gaps, leading)))
