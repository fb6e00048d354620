"""The plane through total strains measured at several places of a section, and how flat it is.

ε = ε0 + κ y + κ_z z, with y below the upper face and z to the right of the middle: κ is positive
where the lower face is longer. Strains are total ones, since mechanical strains of steel and
concrete at different temperatures don't lie in one plane.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from gaugewright.calc.evaluation import coverage_factor
from gaugewright.calc.uncertainty import Term, Uncertain, combination
from gaugewright.calc.weighing import covariance_matrix, named_noise
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["NeutralAxis", "Outlier", "PlanePoint", "StrainPlane", "fit_plane", "neutral_axis"]

_ROUNDS = 12
# Normalised residuals that differ by less than this come from gauges that can't be told apart.
_ALIKE = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class PlanePoint:
    """One gauge of a section.

    Attributes
    ----------
    name : str
        To name it by if it doesn't fit.
    strain : Uncertain
        Total strain, one value [1].
    depth : Uncertain
        Of the grid below the upper face, one value; the same object for gauges of one layer
        whose depth is one measurement [m].
    across : Uncertain, optional
        Of the grid to the right of the middle; all points have it for bending about two axes,
        none for bending about one [m].
    """

    name: str
    strain: Uncertain
    depth: Uncertain
    across: Uncertain | None = None


@dataclass(frozen=True, slots=True)
class Outlier:
    """Gauges of which one, and only one, spoils the plane.

    Attributes
    ----------
    names : tuple of str
        One when it can be told, several when each alone would explain the misfit as well.
    normalised : float
        Residual over its standard uncertainty, of the worst [1].
    probability : float
        Of one so large among so many if nothing were wrong [1].
    rest_probability : float
        Of the misfit of the others once it is left out: small when more than one is wrong; NaN
        when the others fit any plane [1].
    """

    names: tuple[str, ...]
    normalised: float
    probability: float
    rest_probability: float


@dataclass(frozen=True, slots=True, eq=False)
class StrainPlane:
    """Fitted plane and the test of plane sections.

    Attributes
    ----------
    top_strain : Uncertain
        At depth zero in the middle [1].
    curvature : Uncertain
        Along the depth [1/m].
    curvature_across : Uncertain, optional
        To the right; None for bending about one axis [1/m].
    names : tuple of str
        Of the gauges, in order.
    residuals : array, shape (n,)
        Strain less plane [1].
    normalised : array, shape (n,)
        Residuals over their standard uncertainties; NaN where the fit has none left [1].
    chi_squared : float
        Weighted sum of squares [1].
    spare : int
        Gauges more than the plane needs: with none there is no test [1].
    probability : float
        Of so bad a misfit if sections were plane and the stated uncertainties right; NaN
        without spare gauges [1].
    outlier : Outlier, optional
        Named when one residual is too large for chance.
    """

    top_strain: Uncertain
    curvature: Uncertain
    curvature_across: Uncertain | None
    names: tuple[str, ...]
    residuals: FloatArray
    normalised: FloatArray
    chi_squared: float
    spare: int
    probability: float
    outlier: Outlier | None

    def strain_at(self, depth: Uncertain, across: Uncertain | None = None) -> Uncertain:
        """Total strain of the plane at a place.

        Parameters
        ----------
        depth : Uncertain
            Below the upper face [m].
        across : Uncertain, optional
            To the right of the middle; zero when left out [m].

        Returns
        -------
        Uncertain
            Total strain [1].

        Raises
        ------
        InputError
            If ``across`` is given and the plane knows nothing of that direction.
        """
        terms: list[Term] = [(self.top_strain, 1.0), (self.curvature, depth.value)]
        value = self.top_strain.value + self.curvature.value * depth.value
        terms.append((depth, self.curvature.value))
        if across is not None:
            slope = self.curvature_across
            if slope is None:
                raise InputError("across", across.value, "left out", "the plane has one axis only")
            value = value + slope.value * across.value
            terms += [(slope, across.value), (across, slope.value)]
        return combination(value, terms)


def fit_plane(points: Sequence[PlanePoint], *, significance: float = 0.01) -> StrainPlane:
    """Generalised least squares through two gauges or more, doubtful positions included.

    A wrong depth acts like a wrong strain, κ times as large, so weights follow the curvature
    found and the fit is repeated until it rests. What gauges share (lot, instrument, a
    temperature) is in the weights and in the result. Derivatives are exact but for those of the
    weights, which act through the residuals only.

    Parameters
    ----------
    points : sequence of PlanePoint
        At two depths at least, or three places that aren't on a line; NaN strains are refused:
        a lost gauge is left out by whoever knows that it's lost.
    significance : float
        Chance at which the worst residual is named though nothing is wrong [1].

    Returns
    -------
    StrainPlane
        With the test of its flatness.

    Raises
    ------
    InputError
        If the places can't carry a plane, a strain is missing, or there are spare gauges but no
        uncertainty of their own to weigh them by.
    """
    if not 0 < significance < 1:
        raise InputError("significance", significance, "between 0 and 1")
    points = _with_named_noise(points)
    design, columns = _design(points)
    strain = np.array([point.strain.value.item() for point in points])
    lost = [p.name for p, value in zip(points, strain, strict=True) if not np.isfinite(value)]
    if lost:
        raise InputError("strain", f"missing for {', '.join(lost)}", "a number", "leave it out")
    spare, scale = len(points) - columns, np.max(np.abs(design), axis=0)
    if spare < 0 or np.linalg.matrix_rank(design / scale, tol=1e-9) < columns:
        raise InputError(
            "points",
            [point.name for point in points],
            "at two depths" if columns == 2 else "at three places that aren't on a line",
        )
    found, weights, gain = _weighted(points, design, strain)
    residual = strain - design @ found
    parts = _coefficients(points, found, gain, _bending(design, weights), weights @ residual)
    chi_squared = float(residual @ weights @ residual) if spare else 0.0
    normalised, alike = _normalised(design, weights, gain, residual)
    return StrainPlane(
        top_strain=parts[0],
        curvature=parts[1],
        curvature_across=parts[2] if columns == 3 else None,
        names=tuple(point.name for point in points),
        residuals=residual,
        normalised=normalised,
        chi_squared=chi_squared,
        spare=spare,
        probability=float(stats.chi2.sf(chi_squared, spare)) if spare else np.nan,
        outlier=_outlier(points, normalised, alike, (chi_squared, spare, significance)),
    )


@dataclass(frozen=True, slots=True)
class NeutralAxis:
    """Where the total strain is zero along the depth, in the middle of the section.

    Attributes
    ----------
    depth : Uncertain
        Below the upper face, by linear propagation [m].
    low, high : float
        Interval that needs no linearisation (Fieller); infinite ends where the curvature can't be
        told from zero, and so no depth can be excluded [m].
    """

    depth: Uncertain
    low: float
    high: float


def neutral_axis(plane: StrainPlane, *, coverage: float = 0.95) -> NeutralAxis:
    """Neutral axis of a plane: y = -ε0 / κ.

    Parameters
    ----------
    plane : StrainPlane
        As fitted.
    coverage : float
        Probability of the interval [1].

    Returns
    -------
    NeutralAxis
        With Fieller's interval: all depths at which a strain of zero isn't excluded.

    Raises
    ------
    InputError
        If the curvature is exactly zero.
    """
    top, bend = plane.top_strain, plane.curvature
    if bend.value == 0:
        raise InputError("curvature", 0.0, "other than zero", "there is no neutral axis")
    depth = combination(
        -top.value / bend.value, [(top, -1 / bend.value), (bend, top.value / bend.value**2)]
    )
    matrix = covariance_matrix([top, bend])
    freedom = min(
        float(top.effective_degrees_of_freedom()), float(bend.effective_degrees_of_freedom())
    )
    k = float(np.asarray(coverage_factor(np.asarray(freedom), coverage)))
    # (ε0 + κ y)² = k² (u² of ε0 + κ y) is a quadratic in y.
    p = bend.value**2 - k**2 * matrix[1, 1]
    q = 2 * (top.value * bend.value - k**2 * matrix[0, 1])
    r = top.value**2 - k**2 * matrix[0, 0]
    inside = q**2 - 4 * p * r
    if p <= 0 or inside < 0:
        return NeutralAxis(depth, -np.inf, np.inf)
    ends = sorted(((-q - np.sqrt(inside)) / (2 * p), (-q + np.sqrt(inside)) / (2 * p)))
    return NeutralAxis(depth, float(ends[0]), float(ends[1]))


def _with_named_noise(points: Sequence[PlanePoint]) -> list[PlanePoint]:
    """Points whose noise is an input: coefficients of one fit share the noise of its readings."""
    names = [point.name for point in points]
    if len(set(names)) < len(names):
        raise InputError("names of points", names, "different from each other")
    known: dict[int, Uncertain] = {}

    def named(value: Uncertain, of: str) -> Uncertain:
        # The same object in two points is one measurement, and its noise one deviation.
        return known.setdefault(id(value), named_noise(value, f"noise of {of}"))

    return [
        PlanePoint(
            p.name,
            named(p.strain, f"strain of {p.name}"),
            named(p.depth, f"depth of {p.name}"),
            None if p.across is None else named(p.across, f"place across of {p.name}"),
        )
        for p in points
    ]


def _design(points: Sequence[PlanePoint]) -> tuple[FloatArray, int]:
    across = [point.across for point in points if point.across is not None]
    if len(across) not in (0, len(points)):
        raise InputError("across", f"given for {len(across)} of {len(points)}", "all or none")
    depth = np.array([point.depth.value.item() for point in points])
    rows = [np.ones_like(depth), depth]
    if across:
        rows.append(np.array([place.value.item() for place in across]))
    return np.stack(rows, axis=1), len(rows)


def _weighted(
    points: Sequence[PlanePoint], design: FloatArray, strain: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Coefficients, weights and what turns strains into coefficients."""
    count, columns = design.shape
    if count == columns:  # no choice, so no weights are needed
        gain = np.asarray(np.linalg.inv(design))
        return gain @ strain, np.zeros((count, count)), gain
    found = np.asarray(np.linalg.lstsq(design, strain, rcond=None)[0], dtype=np.float64)
    for _ in range(_ROUNDS):
        matrix = covariance_matrix([_misfit(point, found) for point in points])
        spread = np.sqrt(np.diag(matrix))
        if not np.all(spread > 0) or np.linalg.cond(matrix / np.outer(spread, spread)) > 1e12:
            raise InputError(
                "uncertainty of the strains",
                "nothing of each gauge's own",
                "noise or an input of its own in every gauge",
                "state the scatter between gauges",
            )
        weights = np.asarray(np.linalg.inv(matrix), dtype=np.float64)
        normal = design.T @ weights @ design
        gain = np.asarray(np.linalg.solve(normal, design.T @ weights), dtype=np.float64)
        before, found = found, gain @ strain
        if np.allclose(before, found, rtol=1e-12, atol=0):
            break
    return found, weights, gain


def _misfit(point: PlanePoint, found: FloatArray) -> Uncertain:
    terms = [(point.strain, 1.0), (point.depth, -found[1])]
    if point.across is not None:
        terms.append((point.across, -found[2]))
    return combination(0.0, terms)


def _bending(design: FloatArray, weights: FloatArray) -> FloatArray:
    """Inverse of the normal matrix: how a moved gauge turns the plane through its residual."""
    if not np.any(weights):
        return np.zeros((design.shape[1], design.shape[1]))
    return np.asarray(np.linalg.inv(design.T @ weights @ design))


def _coefficients(
    points: Sequence[PlanePoint],
    found: FloatArray,
    gain: FloatArray,
    inverse: FloatArray,
    pull: FloatArray,
) -> list[Uncertain]:
    """The coefficients with all they owe: d found = gain (dε - dA found) + inverse dAᵀ W r."""
    parts = []
    for row in range(found.size):
        terms = []
        for i, point in enumerate(points):
            terms.append((point.strain, gain[row, i]))
            places = [point.depth] if point.across is None else [point.depth, point.across]
            for column, place in enumerate(places, start=1):
                slope = -gain[row, i] * found[column] + inverse[row, column] * pull[i]
                terms.append((place, slope))
        parts.append(combination(found[row], terms))
    return parts


def _normalised(
    design: FloatArray, weights: FloatArray, gain: FloatArray, residual: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Normalised residuals (Baarda's test), and how they go together.

    W r has covariance W - W A G; a gauge whose variance there vanishes can't be tested.
    """
    spread = weights - weights @ design @ gain
    size = np.sqrt(np.clip(np.diag(spread), 0.0, None))
    testable = size > 1e-7 * np.sqrt(np.maximum(np.diag(weights), 1e-300))
    safe = np.where(testable, size, np.nan)
    return weights @ residual / safe, spread / np.outer(safe, safe)


def _outlier(
    points: Sequence[PlanePoint],
    normalised: FloatArray,
    alike: FloatArray,
    test: tuple[float, int, float],
) -> Outlier | None:
    chi_squared, spare, significance = test
    size = np.abs(normalised)
    if not spare or np.all(np.isnan(size)):
        return None
    worst = int(np.nanargmax(size))
    # As many chances as gauges (Bonferroni): on the safe side, for they aren't independent.
    chance = min(1.0, float(np.sum(np.isfinite(size)) * 2 * stats.norm.sf(size[worst])))
    if chance >= significance:
        return None
    together = np.abs(alike[worst]) > 1 - _ALIKE
    rest = max(chi_squared - float(size[worst]) ** 2, 0.0)
    left = float(stats.chi2.sf(rest, spare - 1)) if spare > 1 else np.nan
    names = tuple(p.name for p, same in zip(points, together, strict=True) if same)
    return Outlier(names, float(normalised[worst]), chance, left)
