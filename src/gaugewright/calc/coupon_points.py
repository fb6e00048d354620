"""Characteristic points of a pulled coupon: offset, yield with a drop, maximum, end of strain."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.calc.coupon_modulus import ElasticLine
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "CurvePoint",
    "elongation_after_fracture",
    "extensometer_rows",
    "greatest_stress",
    "lower_yield",
    "offset_point",
    "reading_noise",
    "reduction_of_area",
    "resilience",
    "upper_yield",
]


# Standard deviation over median absolute deviation of a normal distribution.
_NORMAL = 1.4826


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """A point of the record.

    Attributes
    ----------
    row : int
        Sample at the point, or the first one past it.
    strain : float
        As read, origin not taken off; NaN where the extensometer has no reading [1].
    stress : float
        There [Pa].
    tangent : float
        Slope of the record there; zero at a maximum or minimum [Pa].
    half_width : float
        Half the strain over which the point can't be told from its neighbours [1].
    """

    row: int
    strain: float
    stress: float
    tangent: float = 0.0
    half_width: float = 0.0


def extensometer_rows(strain: ArrayLike) -> int:
    """Rows until the extensometer was taken off: after them its column stays empty.

    Parameters
    ----------
    strain : array, shape (n_samples,)
        NaN where the column is empty [1].

    Returns
    -------
    int
        Up to the last reading; gaps before it are the record's own [1].
    """
    read = np.flatnonzero(np.isfinite(np.asarray(strain, dtype=np.float64)))
    return int(read[-1]) + 1 if read.size else 0


def offset_point(
    strain: ArrayLike, stress: ArrayLike, line: ElasticLine, offset: float = 0.002
) -> CurvePoint:
    """Where the record first falls below the elastic line moved by a plastic extension.

    ISO 6892-1, 3.10.3: proof strength, plastic extension (from memory). Between samples straight.

    Parameters
    ----------
    strain : array, shape (n_samples,)
        Of the extensometer [1].
    stress : array, shape (n_samples,)
        Force over the original area [Pa].
    line : ElasticLine
        Of the same record.
    offset : float
        0.002 for R_p0.2 [1].

    Returns
    -------
    CurvePoint
        With the slope of the record over a fifth of the offset on each side.

    Raises
    ------
    InputError
        If the record doesn't reach that line while the extensometer reads.
    """
    move = float(allowed.positive("offset", offset))
    e, s = _record(strain, stress)
    moved = line.middle_stress + line.elastic_modulus * (e - move - line.middle_strain)
    above = s - moved
    rows = np.flatnonzero((np.arange(e.size) > line.last_row) & np.isfinite(above))
    below = rows[above[rows] < 0]
    if not below.size:
        raise InputError(
            "strain",
            f"up to {np.nanmax(e):.4g}",
            f"beyond the elastic line moved by {move:g}",
            "the record or its extensometer ends before the proof strength",
        )
    row = int(below[0])
    before = rows[: int(np.searchsorted(rows, row))]
    last = int(before[-1]) if before.size else line.last_row
    share = above[last] / (above[last] - above[row])
    at = e[last] + share * (e[row] - e[last])
    near = np.isfinite(e) & (np.abs(e - at) <= move / 5) & (np.arange(e.size) > line.last_row)
    tangent = (s[row] - s[last]) / (e[row] - e[last]) if e[row] != e[last] else 0.0
    if np.count_nonzero(near) >= 3 and np.ptp(e[near]) > 0:
        across = e[near] - np.mean(e[near])
        tangent = np.sum(across * s[near]) / np.sum(across**2)
    return CurvePoint(row, float(at), float(s[last] + share * (s[row] - s[last])), float(tangent))


def upper_yield(
    strain: ArrayLike,
    stress: ArrayLike,
    least_drop: float = 0.005,
    least_extension: float = 0.0005,
) -> CurvePoint | None:
    """The first greatest stress that a real drop follows.

    Real: by ``least_drop`` of the stress, and not exceeded over ``least_extension`` of strain,
    ISO 6892-1, annex A (from memory); and lower by half of that drop on the mean, so that a dip
    after which the record goes on as before isn't taken for yield (our own rule).
    The greatest stress of the whole record is never a yield point here, so a metal that yields
    higher than it breaks is not for this rule.

    Parameters
    ----------
    strain : array, shape (n_samples,)
        Of the extensometer [1].
    stress : array, shape (n_samples,)
        Force over the original area [Pa].
    least_drop : float
        Over the stress before it [1].
    least_extension : float
        Strain over which no higher stress follows [1].

    Returns
    -------
    CurvePoint or None
        None where no drop is large enough: then there is a proof strength only.

    Raises
    ------
    InputError
        If strain and stress don't belong together or a limit is negative.
    """
    with allowed.Together("upper yield") as given:
        given.not_negative("least_drop", least_drop)
        given.not_negative("least_extension", least_extension)
    e, s = _record(strain, stress)
    read = extensometer_rows(e)
    highs = _highs(s)
    for high, following in pairwise(highs.tolist()):
        end = min(following, read)
        if end <= high + 1 or not np.isfinite(e[high]):
            continue
        drop = s[high] - np.nanmin(s[high:end])
        length = np.nanmax(e[high:end]) - e[high]
        lower = s[high] - np.nanmean(s[high:end])
        deep = drop >= least_drop * s[high] and lower >= least_drop / 2 * s[high]
        if deep and length >= least_extension:
            return CurvePoint(high, float(e[high]), float(s[high]))
    return None


def lower_yield(
    strain: ArrayLike, stress: ArrayLike, upper: CurvePoint, transient: float = 0.0005
) -> CurvePoint | None:
    """The lowest stress while the coupon yields, the first dip after the upper point left out.

    ISO 6892-1, 3.10.2.2: initial transient effects are ignored (from memory); how long they last
    isn't said there: common practice, no source.

    Parameters
    ----------
    strain : array, shape (n_samples,)
        Of the extensometer [1].
    stress : array, shape (n_samples,)
        Force over the original area [Pa].
    upper : CurvePoint
        From ``upper_yield``.
    transient : float
        Strain after the upper point that is left out [1].

    Returns
    -------
    CurvePoint or None
        None where the record has nothing after the transient.

    Raises
    ------
    InputError
        If strain and stress don't belong together or the transient is negative.
    """
    allowed.not_negative("transient", transient)
    e, s = _record(strain, stress)
    later = np.flatnonzero(s > upper.stress)
    later = later[later > upper.row]
    end = min(int(later[0]) if later.size else s.size, extensometer_rows(e))
    rows = np.arange(upper.row, end)
    rows = rows[np.isfinite(s[rows]) & (e[rows] >= upper.strain + transient)]
    if not rows.size:
        return None
    row = int(rows[np.argmin(s[rows])])
    return CurvePoint(row, float(e[row]), float(s[row]))


def greatest_stress(strain: ArrayLike, stress: ArrayLike) -> CurvePoint:
    """Maximum force over the original area, and the strain there in the middle of its plateau.

    Rows within three standard deviations of the reading's noise of the maximum belong to the
    plateau; its half width says how well the strain at maximum force can be known.

    Parameters
    ----------
    strain : array, shape (n_samples,)
        Of the extensometer; NaN where it was off [1].
    stress : array, shape (n_samples,)
        Force over the original area [Pa].

    Returns
    -------
    CurvePoint
        Strain NaN if the extensometer was off at any row of the plateau.

    Raises
    ------
    InputError
        If strain and stress don't belong together or there is no stress.
    """
    e, s = _record(strain, stress)
    if not np.any(np.isfinite(s)):
        raise InputError("stress", "without a reading", "a record of a test")
    row = int(np.nanargmax(s))
    level = s[row] - 3 * reading_noise(s, row)
    rows = np.flatnonzero(s >= level)
    ends = e[rows[0]], e[rows[-1]]
    middle, half = (ends[0] + ends[1]) / 2, (ends[1] - ends[0]) / 2
    if np.isnan(e[row]):
        middle = np.nan
    return CurvePoint(row, float(middle), float(s[row]), 0.0, float(half))


def reading_noise(stress: ArrayLike, row: int) -> float:
    """Standard deviation of single readings about a row, from second differences.

    Those of white noise have √6 times its deviation; by their median, so that a corner of the
    curve isn't taken for noise.

    Parameters
    ----------
    stress : array, shape (n_samples,)
        As measured [Pa].
    row : int
        Middle of the 25 rows looked at [1].

    Returns
    -------
    stress : float
        Zero where fewer than three rows are there [Pa].
    """
    s = np.asarray(stress, dtype=np.float64)[max(row - 12, 0) : row + 13]
    bends = np.diff(s[np.isfinite(s)], 2)
    return float(_NORMAL * np.median(np.abs(bends)) / np.sqrt(6)) if bends.size else 0.0


def elongation_after_fracture(original_length: ArrayLike, final_length: ArrayLike) -> FloatArray:
    """Permanent elongation of the gauge length: (L_u - L_0) / L_0, often given in per cent.

    Parameters
    ----------
    original_length : float or array
        Before the test [m].
    final_length : float or array
        After it, pieces put together [m].

    Returns
    -------
    array of the broadcast shape
        A of ISO 6892-1 [1].

    Raises
    ------
    InputError
        If a length isn't positive or the coupon got shorter.
    """
    with allowed.Together("elongation after fracture") as given:
        first = given.positive("original_length", original_length)
        last = given.positive("final_length", final_length)
    return allowed.not_negative("final_length over original_length - 1", (last - first) / first)


def reduction_of_area(area: ArrayLike, final_area: ArrayLike) -> FloatArray:
    """Area lost at the neck over the original area: (S_0 - S_u) / S_0.

    Parameters
    ----------
    area : float or array
        Original [m^2].
    final_area : float or array
        Smallest section after fracture [m^2].

    Returns
    -------
    array of the broadcast shape
        Z of ISO 6892-1 [1].

    Raises
    ------
    InputError
        If an area isn't positive or the neck is wider than the coupon was.
    """
    with allowed.Together("reduction of area") as given:
        first = given.positive("area", area)
        last = given.positive("final_area", final_area)
    return allowed.within("reduction of area", (first - last) / first, (0.0, 1.0))


def resilience(stress: ArrayLike, elastic_modulus: ArrayLike) -> FloatArray:
    """Elastic energy in a unit of volume: σ² / (2 E).

    Parameters
    ----------
    stress : float or array
        Up to which the metal is elastic [Pa].
    elastic_modulus : float or array
        Of the metal [Pa].

    Returns
    -------
    array of the broadcast shape
        Joule in a cubic metre is pascal [Pa].

    Raises
    ------
    InputError
        If the modulus isn't positive.
    """
    modulus = allowed.positive("elastic_modulus", elastic_modulus)
    return np.asarray(np.asarray(stress, dtype=np.float64) ** 2 / (2 * modulus))


def _record(strain: ArrayLike, stress: ArrayLike) -> tuple[FloatArray, FloatArray]:
    e, s = np.asarray(strain, dtype=np.float64), np.asarray(stress, dtype=np.float64)
    if e.ndim != 1 or e.shape != s.shape:
        raise InputError("strain", f"of shape {e.shape}", f"one for each stress, {s.shape}")
    return e, s


def _highs(s: FloatArray) -> npt.NDArray[np.intp]:
    """Rows whose stress is above all before them."""
    known = np.where(np.isnan(s), -np.inf, s)
    before = np.concatenate([[-np.inf], np.maximum.accumulate(known)[:-1]])
    return np.flatnonzero(known > before)
