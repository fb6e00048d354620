"""The plane of total strains at every instant of a test: the same fit as at one, rows at once.

Rows are independent problems: cutting a long record into pieces changes nothing, so a caller
bounds the memory by the number of rows it hands over.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import stats

from gaugewright.calc.evaluation import coverage_factor
from gaugewright.calc.joint import covariance
from gaugewright.calc.strain_plane import PlanePoint
from gaugewright.calc.uncertainty import InputQuantity, Uncertain, combination, declare
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["AxisSeries", "PlaneSeries", "fit_planes", "neutral_axes"]

_ROUNDS = 12

Rows = npt.NDArray[np.int64]
Alive = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class PlaneSeries:
    """Planes of many instants; NaN where too few gauges were left to carry one.

    Attributes
    ----------
    top_strain : Uncertain
        At depth zero in the middle, shape (m,) [1].
    curvature : Uncertain
        Along the depth, shape (m,) [1/m].
    curvature_across : Uncertain, optional
        To the right, shape (m,) [1/m].
    residuals : array, shape (m, n)
        Strain less plane [1].
    normalised : array, shape (m, n)
        Residuals over their standard uncertainties; NaN where they can't be tested [1].
    chi_squared : array, shape (m,)
        Weighted sum of squares [1].
    spare : array, shape (m,)
        Gauges more than the plane needs [1].
    probability : array, shape (m,)
        Of so bad a misfit by chance; NaN without spare gauges [1].
    """

    top_strain: Uncertain
    curvature: Uncertain
    curvature_across: Uncertain | None
    residuals: FloatArray
    normalised: FloatArray
    chi_squared: FloatArray
    spare: FloatArray
    probability: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class AxisSeries:
    """Neutral axis of every instant.

    Attributes
    ----------
    neutral_axis_depth : Uncertain
        By linear propagation, NaN without curvature [m].
    low, high : array, shape (m,)
        Fieller's interval; infinite where no depth can be excluded [m].
    """

    neutral_axis_depth: Uncertain
    low: FloatArray
    high: FloatArray


def fit_planes(points: Sequence[PlanePoint]) -> PlaneSeries:
    """Generalised least squares at every row, as ``strain_plane.fit_plane`` does at one.

    Parameters
    ----------
    points : sequence of PlanePoint
        Strains of one length each; a NaN leaves the gauge out of that row. Doubts of places are
        inputs, not noise.

    Returns
    -------
    PlaneSeries
        Results of one row share its noise through inputs named after the gauges; between rows
        that noise isn't shared, whatever the names.

    Raises
    ------
    InputError
        If strains differ in length, places across are given for some only, or gauges of a row
        with spare ones have no uncertainty of their own.
    """
    across = [point.across for point in points if point.across is not None]
    lengths = {point.strain.value.shape for point in points}
    if len(lengths) != 1 or len(next(iter(lengths))) != 1:
        raise InputError("strain", sorted(lengths), "rows of one length")
    if len(across) not in (0, len(points)):
        raise InputError("across", f"given for {len(across)} of {len(points)}", "all or none")
    count, columns = len(points), 3 if across else 2
    rows = points[0].strain.value.size
    strain = np.stack([point.strain.value for point in points], axis=1)
    alive = np.isfinite(strain)
    blank = np.full((rows, count), np.nan)
    made = _Made([], blank, blank.copy(), np.full(rows, np.nan))
    patterns, which = np.unique(alive, axis=0, return_inverse=True)
    for number, pattern in enumerate(patterns):
        if _carries(points, pattern, columns):
            _fit_group(
                points, pattern, np.flatnonzero(which.ravel() == number).astype(np.int64), made
            )
    spare = np.maximum(alive.sum(axis=1) - columns, 0).astype(np.float64)
    parts = _gathered(made.parts, rows, columns)
    tested = (spare > 0) & np.isfinite(made.chi_squared)
    chance = np.where(tested, stats.chi2.sf(made.chi_squared, np.maximum(spare, 1)), np.nan)
    return PlaneSeries(
        parts[0],
        parts[1],
        parts[2] if columns == 3 else None,
        made.residuals,
        made.normalised,
        made.chi_squared,
        spare,
        np.asarray(chance),
    )


def neutral_axes(planes: PlaneSeries, *, coverage: float = 0.95) -> AxisSeries:
    """Neutral axis of every plane: y = -ε0 / κ, with Fieller's interval.

    Parameters
    ----------
    planes : PlaneSeries
        As fitted.
    coverage : float
        Probability of the interval [1].

    Returns
    -------
    AxisSeries
        Of the same rows.
    """
    top, bend = planes.top_strain, planes.curvature
    safe = np.where(bend.value == 0, np.nan, bend.value)
    depth = combination(-top.value / safe, [(top, -1 / safe), (bend, top.value / safe**2)])
    freedom = np.minimum(top.effective_degrees_of_freedom(), bend.effective_degrees_of_freedom())
    k = np.asarray(coverage_factor(np.nan_to_num(freedom, nan=np.inf), coverage))
    both, own = covariance(top, bend), (top.standard_uncertainty(), bend.standard_uncertainty())
    p = bend.value**2 - k**2 * own[1] ** 2
    q = 2 * (top.value * bend.value - k**2 * both)
    r = top.value**2 - k**2 * own[0] ** 2
    inside = q**2 - 4 * p * r
    told = (p > 0) & (inside >= 0)
    root = np.sqrt(np.where(told, inside, np.nan))
    half = np.where(told, 2 * p, np.nan)
    open_end = np.where(np.isfinite(p), np.inf, np.nan)
    low = np.where(told, (-q - root) / half, -open_end)
    high = np.where(told, (-q + root) / half, open_end)
    return AxisSeries(depth, np.asarray(low), np.asarray(high))


@dataclass(slots=True)
class _Made:
    """Where the groups of rows put what they found."""

    parts: list[tuple[Rows, list[Uncertain]]]
    residuals: FloatArray
    normalised: FloatArray
    chi_squared: FloatArray


def _carries(points: Sequence[PlanePoint], pattern: Alive, columns: int) -> bool:
    """Whether the gauges left can carry a plane at all."""
    if np.count_nonzero(pattern) < columns:
        return False
    design = _design(points, pattern)
    scale = np.max(np.abs(design), axis=0)
    return bool(np.linalg.matrix_rank(design / np.where(scale > 0, scale, 1), tol=1e-9) == columns)


def _design(points: Sequence[PlanePoint], pattern: Alive) -> FloatArray:
    kept = [point for point, there in zip(points, pattern, strict=True) if there]
    places = [(1.0, float(p.depth.value)) for p in kept]
    if kept[0].across is None:
        return np.array(places)
    sides = [float(p.across.value) for p in kept if p.across is not None]
    return np.column_stack([np.array(places), sides])


def _fit_group(points: Sequence[PlanePoint], pattern: Alive, rows: Rows, made: _Made) -> None:
    """Fit the rows at which the same gauges are alive."""
    numbers = np.flatnonzero(pattern).tolist()
    kept = [_named(points[i], rows) for i in numbers]
    design = _design(points, pattern)
    strain = np.stack([point.strain.value for point in kept], axis=1)
    found, weights, gain = _weighted(kept, design, strain)
    residual = strain - found @ design.T
    pull = np.einsum("rij,rj->ri", weights, residual)
    place = np.ix_(rows, np.asarray(numbers, dtype=np.int64))
    made.residuals[place] = residual
    spread = weights - weights @ design @ gain
    size = np.sqrt(np.clip(np.diagonal(spread, axis1=1, axis2=2), 0.0, None))
    heavy = np.diagonal(weights, axis1=1, axis2=2)
    safe = np.where(size > 1e-7 * np.sqrt(np.maximum(heavy, 1e-300)), size, np.nan)
    made.normalised[place] = pull / safe
    made.chi_squared[rows] = np.einsum("ri,ri->r", residual, pull)
    inverse: FloatArray = np.zeros((rows.size, design.shape[1], design.shape[1]))
    if np.any(weights):
        inverse = np.asarray(np.linalg.inv(design.T @ weights @ design), dtype=np.float64)
    made.parts.append((rows, _coefficients(kept, found, gain, inverse, pull)))


def _named(point: PlanePoint, rows: Rows) -> PlanePoint:
    """A gauge at some rows, the noise of its strain an input that the coefficients share."""
    part = point.strain[rows]
    noise = np.broadcast_to(part.noise, part.value.shape)
    own = InputQuantity(f"noise of strain of {point.name}", 1.0, meaning="noise of the reading")
    whole = Uncertain(
        part.value,
        {**part.sensitivities, own.name: np.asarray(noise)},
        inputs={**part.inputs, own.name: own},
    )
    return PlanePoint(point.name, whole, point.depth, point.across)


def _spreads(values: Sequence[Uncertain], names: Sequence[str], rows: int) -> FloatArray:
    """What values owe to inputs, times standard uncertainties: (rows, values, inputs)."""
    made = np.zeros((rows, len(values), len(names)))
    place = {name: number for number, name in enumerate(names)}
    for i, value in enumerate(values):
        for name, slope in value.sensitivities.items():
            made[:, i, place[name]] = slope * value.inputs[name].standard_uncertainty
    return made


def _weighted(
    points: Sequence[PlanePoint], design: FloatArray, strain: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Coefficients (rows, columns), weights (rows, n, n) and gains (rows, columns, n)."""
    (rows, count), columns = strain.shape, design.shape[1]
    if count == columns:
        one = np.asarray(np.linalg.inv(design), dtype=np.float64)
        gain = np.broadcast_to(one, (rows, columns, count))
        return strain @ one.T, np.zeros((rows, count, count)), gain
    inputs: dict[str, InputQuantity] = {}
    places = [[p.depth for p in points], [p.across for p in points if p.across is not None]]
    for value in (*(p.strain for p in points), *places[0], *places[1]):
        for quantity in value.inputs.values():
            declare(inputs, quantity)
    names = list(inputs)
    of_strain = _spreads([p.strain for p in points], names, rows)
    of_places = [_spreads(part, names, 1)[0] for part in places[: columns - 1]]
    found = np.asarray(np.linalg.lstsq(design, strain.T, rcond=None)[0].T, dtype=np.float64)
    for _ in range(_ROUNDS):
        owed = of_strain.copy()
        for column, part in enumerate(of_places, start=1):
            owed -= found[:, column, np.newaxis, np.newaxis] * part
        matrix = owed @ np.swapaxes(owed, 1, 2)
        spread: FloatArray = np.sqrt(np.diagonal(matrix, axis1=1, axis2=2))
        outer = spread[:, :, np.newaxis] * spread[:, np.newaxis, :]
        if not np.all(spread > 0) or np.any(np.linalg.cond(matrix / outer) > 1e12):
            raise InputError(
                "uncertainty of the strains",
                "nothing of each gauge's own",
                "noise or an input of its own in every gauge",
                "state the scatter between gauges",
            )
        weights: FloatArray = np.asarray(np.linalg.inv(matrix), dtype=np.float64)
        normal = design.T @ weights @ design
        gain = np.asarray(np.linalg.solve(normal, design.T @ weights), dtype=np.float64)
        before, found = found, np.einsum("rci,ri->rc", gain, strain)
        if np.allclose(before, found, rtol=1e-12, atol=0):
            break
    return found, weights, gain


def _coefficients(
    points: Sequence[PlanePoint],
    found: FloatArray,
    gain: FloatArray,
    inverse: FloatArray,
    pull: FloatArray,
) -> list[Uncertain]:
    """As at one instant: d found = gain (dε - dA found) + inverse dAᵀ W r."""
    parts = []
    for row in range(found.shape[1]):
        terms: list[tuple[Uncertain, FloatArray]] = []
        for i, point in enumerate(points):
            terms.append((point.strain, gain[:, row, i]))
            places = [point.depth] if point.across is None else [point.depth, point.across]
            for column, place in enumerate(places, start=1):
                slope = -gain[:, row, i] * found[:, column]
                terms.append((place, slope + inverse[:, row, column] * pull[:, i]))
        parts.append(combination(found[:, row], terms))
    return parts


def _gathered(
    groups: Sequence[tuple[Rows, list[Uncertain]]], rows: int, columns: int
) -> list[Uncertain]:
    """Coefficients of all groups in the order of the rows; NaN where no group had a row."""
    whole = []
    for column in range(columns):
        value = np.full(rows, np.nan)
        slopes: dict[str, FloatArray] = {}
        inputs: dict[str, InputQuantity] = {}
        for at, parts in groups:
            value[at] = parts[column].value
            for name, slope in parts[column].sensitivities.items():
                declare(inputs, parts[column].inputs[name])
                slopes.setdefault(name, np.zeros(rows))[at] = slope
        whole.append(Uncertain(value, slopes, inputs=inputs))
    return whole
