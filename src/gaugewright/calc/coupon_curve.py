"""A coupon's record as a short table of stress over strain, for laws that follow it."""

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.calc.coupon_modulus import ElasticLine
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["tabulated_curve"]

# Where the knee ends and long plateaus begin; points are laid closer before it than after it.
_KNEE = 0.005
_KNEE_SHARE = 0.5


def tabulated_curve(
    strain: ArrayLike, stress: ArrayLike, line: ElasticLine, points: int = 120
) -> tuple[FloatArray, FloatArray]:
    """Points of first loading from zero, rising in strain, to the last reading of strain.

    Up to the end of the elastic line the points are that line through its own origin, so that
    seating isn't in the table; beyond it each is the mean of the samples of one class of strain.
    Half of the classes lie below 0.5 %. The table ends at the greatest stress, where a neck begins
    and a strain over the gauge length no longer is the metal's own.

    Parameters
    ----------
    strain : array, shape (n_samples,)
        Of the extensometer; NaN where it is off [1].
    stress : array, shape (n_samples,)
        Force over the original area [Pa].
    line : ElasticLine
        Of the same record.
    points : int
        Classes of strain, ten at least; empty ones give no point [1].

    Returns
    -------
    curve_strain : array, shape (n_points,)
        Origin taken off, from zero [1].
    curve_stress : array, shape (n_points,)
        There [Pa].

    Raises
    ------
    InputError
        If the record has no strain beyond its elastic line, or there are too few points.
    """
    count = int(allowed.within("points", points, (10, 10_000)))
    e = np.asarray(strain, dtype=np.float64) - line.axis_offset
    s = np.asarray(stress, dtype=np.float64)
    until = np.arange(s.size) <= int(np.nanargmax(s))
    rows = np.flatnonzero(until & np.isfinite(e) & (np.arange(s.size) > line.last_row))
    elastic = line.highest_stress / line.elastic_modulus
    rows = rows[e[rows] > elastic]
    if rows.size < 2:
        raise InputError(
            "strain", f"of {rows.size} samples beyond the elastic line", "a curve beyond it"
        )
    last = float(np.max(e[rows]))
    knee = min(max(_KNEE, 2 * elastic), last)
    near = max(int(count * _KNEE_SHARE), 2)
    edges = np.unique(
        np.concatenate(
            [np.linspace(elastic, knee, near + 1), np.linspace(knee, last, count - near + 1)]
        )
    )
    place = np.clip(np.digitize(e[rows], edges) - 1, 0, edges.size - 2)
    number = np.bincount(place, minlength=edges.size - 1)
    filled = number > 0
    middles = np.bincount(place, e[rows], edges.size - 1)[filled] / number[filled]
    heights = np.bincount(place, s[rows], edges.size - 1)[filled] / number[filled]
    begin = [0.0, elastic], [0.0, line.highest_stress]
    return np.concatenate([begin[0], middles]), np.concatenate([begin[1], heights])
