"""What is known of a quantity along a bar, its slope and its sum, from a few doubtful stations.

Between stations the slope is taken to wander like a random walk of unknown vigour, found from the
readings themselves. The estimate is then a smoothing spline (Wahba, J. R. Statist. Soc. B 40,
1978, 364-372; Kimeldorf & Wahba 1970; from memory), and its interval holds what the readings'
doubt brings and what nobody measured between them. A lost station isn't filled in: the interval
widens where it was.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import linalg

from gaugewright.calc import allowed
from gaugewright.calc.uncertainty import InputQuantity, Uncertain, combination
from gaugewright.calc.weighing import common_inputs, covariance_matrix, named_noise
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["FieldPoint", "SmoothField", "smooth_field"]

_FEWEST = 4
_ROUNDS = 3
# Three points integrate polynomials of degree five: the kernels here have degree four at most.
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(3)


@dataclass(frozen=True, slots=True, eq=False)
class FieldPoint:
    """One station.

    Attributes
    ----------
    name : str
        To name it by.
    distance : Uncertain
        Along the bar, one value [m].
    value : Uncertain
        Force or total strain there, one value in its own unit; NaN for a lost station.
    """

    name: str
    distance: Uncertain
    value: Uncertain


@dataclass(frozen=True, slots=True, eq=False)
class SmoothField:
    """A quantity along a bar, made by ``smooth_field``.

    Attributes
    ----------
    points : tuple of FieldPoint
        Stations with a value, in order of distance, their noise as inputs.
    lost : tuple of str
        Names of stations without a value.
    roughness : float
        How fast the slope wanders, in units of the value per m^1.5 [1].
    name : str
        Begins the names of the inputs for what wasn't measured between stations.
    """

    points: tuple[FieldPoint, ...]
    lost: tuple[str, ...]
    roughness: float
    name: str

    @property
    def positions(self) -> FloatArray:
        """Distances of the stations [m]."""
        return np.array([point.distance.value.item() for point in self.points])

    def value_at(self, positions: ArrayLike) -> Uncertain:
        """The quantity at places.

        Parameters
        ----------
        positions : array, shape (m,)
            From the first station to the last [m].

        Returns
        -------
        Uncertain
            With what is shared between the places.

        Raises
        ------
        InputError
            If a place lies outside the stations.
        """
        return self._found(_value(self._inside(positions)), "value")

    def slope_at(self, positions: ArrayLike) -> Uncertain:
        """Change of the quantity per length at places.

        Parameters
        ----------
        positions : array, shape (m,)
            From the first station to the last [m].

        Returns
        -------
        Uncertain
            Per metre, with what is shared between the places.

        Raises
        ------
        InputError
            If a place lies outside the stations.
        """
        return self._found(_slope(self._inside(positions)), "slope")

    def local_slope_at(
        self, positions: ArrayLike, half_width: float, *, degree: int = 2
    ) -> Uncertain:
        """Slope by a polynomial through the stations near each place, weighted by closeness.

        A second opinion that looks no farther than its window; tricube weights (Cleveland, J. Am.
        Statist. Assoc. 74, 1979, 829-836; from memory). Its interval holds the bend that the
        polynomial can't follow, by the roughness of the field.

        Parameters
        ----------
        positions : array, shape (m,)
            From the first station to the last [m].
        half_width : float
            Half the length of the window [m].
        degree : int
            Of the polynomial, 1 at least [1].

        Returns
        -------
        Uncertain
            Per metre.

        Raises
        ------
        InputError
            If a window holds too few stations: it names the place.
        """
        if degree < 1:
            raise InputError("degree", degree, "1 or more")
        reach = float(allowed.positive("half_width", half_width))
        places = self._inside(positions)
        rows = np.zeros((places.size, len(self.points)))
        for row, place in zip(rows, places, strict=True):
            away = (self.positions - place) / reach
            near = np.abs(away) < 1
            if np.count_nonzero(near) <= degree:
                raise InputError(
                    "half_width",
                    reach,
                    f"wide enough for {degree + 1} stations round {place:g} m",
                    "a lost station leaves too few",
                )
            weight = np.sqrt((1 - np.abs(away[near]) ** 3) ** 3)
            powers = np.vander(away[near], degree + 1, increasing=True)
            row[near] = (np.linalg.pinv(powers * weight[:, np.newaxis]) * weight)[1] / reach
        return self._with_gaps(rows, _slope(places), "local slope")

    def sum_from(self, first: float, positions: ArrayLike) -> Uncertain:
        """Integral of the quantity from one place to others.

        Parameters
        ----------
        first : float
            Where it begins, between the stations [m].
        positions : array, shape (m,)
            Where it ends, between the stations; before ``first`` the sum is negative [m].

        Returns
        -------
        Uncertain
            In the unit of the quantity times metre.

        Raises
        ------
        InputError
            If a place lies outside the stations.
        """
        start = self._inside(first)
        return self._found(_sum(start, self._inside(positions)), "sum")

    def _inside(self, positions: ArrayLike) -> FloatArray:
        places = np.atleast_1d(np.asarray(positions, dtype=np.float64))
        low, high = float(self.positions[0]), float(self.positions[-1])
        return allowed.within("positions", places, (low, high), "nothing is known beyond stations")

    def _found(self, wanted: "_Functional", what: str) -> Uncertain:
        matrix = _weighing(self.points, _slopes(self.points, self.roughness))
        rows = _spline_rows(_value(self.positions), wanted, self.roughness, matrix)
        return self._with_gaps(rows, wanted, what)

    def _with_gaps(self, rows: FloatArray, wanted: "_Functional", what: str) -> Uncertain:
        """Rows applied to the stations, and the doubt of what lies between these."""
        values = np.array([point.value.value.item() for point in self.points])
        slopes = _slopes(self.points, self.roughness)
        terms = [
            term
            for i, point in enumerate(self.points)
            for term in ((point.value, rows[:, i]), (point.distance, -rows[:, i] * slopes[i]))
        ]
        found = combination(rows @ values, terms)
        gap = self.roughness**2 * _left_over(rows, _value(self.positions), wanted)
        size, vectors = np.linalg.eigh(gap)
        parts = vectors * np.sqrt(np.clip(size, 0.0, None))
        sensitivities, inputs = dict(found.sensitivities), dict(found.inputs)
        for i in np.flatnonzero(size > 1e-14 * max(float(size.max(initial=0.0)), 1e-300)):
            key = f"{self.name}: between stations, {what} {i + 1}"
            inputs[key] = InputQuantity(key, 1.0, meaning="what no station measured")
            sensitivities[key] = np.asarray(parts[:, i])
        return Uncertain(found.value, sensitivities, found.noise, inputs)


def smooth_field(
    points: Sequence[FieldPoint], name: str, *, roughness: float | None = None
) -> SmoothField:
    """A field through stations; its roughness from the readings (restricted likelihood).

    What all stations share, such as the modulus, doesn't weigh them against each other, and is
    carried through in full.

    Parameters
    ----------
    points : sequence of FieldPoint
        Four with a value at least, two if the roughness is given; at different distances.
    name : str
        Of this bar and instant; no other field may have it.
    roughness : float, optional
        How fast the slope wanders; found from the readings when left out, which four to six
        stations can hardly do [1].

    Returns
    -------
    SmoothField
        Without the lost stations, which it names.

    Raises
    ------
    InputError
        If there are too few stations or two at one place.
    """
    kept = sorted(
        (point for point in points if np.isfinite(point.value.value)),
        key=lambda point: float(point.distance.value),
    )
    lost = tuple(point.name for point in points if not np.isfinite(point.value.value))
    fewest = _FEWEST if roughness is None else 2
    places = np.array([point.distance.value.item() for point in kept])
    if len(kept) < fewest:
        raise InputError(
            "number of stations with a value",
            len(kept),
            f"{fewest} at least",
            "use differences between neighbours",
        )
    if np.any(np.diff(places) <= 0):
        raise InputError("distance", places.tolist(), "different at every station")
    named = tuple(
        FieldPoint(
            p.name,
            named_noise(p.distance, f"{name}: noise of place of {p.name}"),
            named_noise(p.value, f"{name}: noise of {p.name}"),
        )
        for p in kept
    )
    if roughness is not None:
        vigour = float(allowed.not_negative("roughness", roughness))
        return SmoothField(named, lost, vigour, name)
    vigour = _roughness(named, np.gradient(np.array([p.value.value.item() for p in named]), places))
    for _ in range(_ROUNDS - 1):
        vigour = _roughness(named, _slopes(named, vigour))
    return SmoothField(named, lost, vigour, name)


@dataclass(frozen=True, slots=True)
class _Functional:
    """Values, slopes or sums: what they make of 1 and x, and of a kink at u."""

    straight: FloatArray
    knots: FloatArray
    kind: int
    start: FloatArray
    end: FloatArray

    def of_kink(self, at: FloatArray) -> FloatArray:
        """Of (x - u)+ for each u, shape (m, n)."""
        before = np.clip(self.end[:, np.newaxis] - at, 0.0, None)
        if self.kind == 0:
            return before
        if self.kind == 1:
            return np.asarray((before > 0).astype(np.float64))
        since = np.clip(self.start[:, np.newaxis] - at, 0.0, None)
        return np.asarray((before**2 - since**2) / 2)


def _value(at: FloatArray) -> _Functional:
    return _Functional(np.stack([np.ones_like(at), at], axis=1), at, 0, at, at)


def _slope(at: FloatArray) -> _Functional:
    return _Functional(np.stack([np.zeros_like(at), np.ones_like(at)], axis=1), at, 1, at, at)


def _sum(start: FloatArray, end: FloatArray) -> _Functional:
    start = np.broadcast_to(start, end.shape)
    straight = np.stack([end - start, (end**2 - start**2) / 2], axis=1)
    return _Functional(straight, np.concatenate([start, end]), 2, start, end)


def _quadrature(*functionals: _Functional) -> tuple[FloatArray, FloatArray]:
    """Places and weights that integrate products of kinks exactly between all knots."""
    edges = np.unique(np.concatenate([functional.knots for functional in functionals]))
    half = np.diff(edges)[:, np.newaxis] / 2
    at = (edges[:-1, np.newaxis] + half + half * _NODES).ravel()
    return at, (half * _WEIGHTS).ravel()


def _spline_rows(
    known: _Functional, wanted: _Functional, roughness: float, matrix: FloatArray
) -> FloatArray:
    """Weights of the stations in each wanted number: best linear unbiased for any line."""
    at, weight = _quadrature(known, wanted)
    from_known = known.of_kink(at)
    kernel = roughness**2 * (from_known * weight) @ from_known.T + matrix
    cross = roughness**2 * (wanted.of_kink(at) * weight) @ from_known.T
    count = known.straight.shape[0]
    # Kriging with a line of unknown place and slope: weights reproduce 1 and x exactly.
    scale = float(np.trace(kernel)) / count or 1.0
    system = np.zeros((count + 2, count + 2))
    system[:count, :count] = kernel / scale
    system[:count, count:] = known.straight
    system[count:, :count] = known.straight.T
    right = np.concatenate([cross / scale, wanted.straight], axis=1).T
    if roughness == 0 and not np.any(matrix):
        return np.asarray(wanted.straight @ np.linalg.pinv(known.straight))
    return np.asarray(np.linalg.lstsq(system, right, rcond=None)[0][:count].T)


def _left_over(rows: FloatArray, known: _Functional, wanted: _Functional) -> FloatArray:
    """Covariance, for a roughness of one, of what the rows miss between the stations."""
    at, weight = _quadrature(known, wanted)
    missed = rows @ known.of_kink(at) - wanted.of_kink(at)
    return np.asarray((missed * weight) @ missed.T)


def _slopes(points: Sequence[FieldPoint], roughness: float) -> FloatArray:
    """Slopes at the stations themselves, for what a wrong place does to a value."""
    places = np.array([point.distance.value.item() for point in points])
    values = np.array([point.value.value.item() for point in points])
    known = _value(places)
    matrix = covariance_matrix([p.value for p in points], common_inputs([p.value for p in points]))
    return np.asarray(_spline_rows(known, _slope(places), roughness, matrix) @ values)


def _weighing(points: Sequence[FieldPoint], slopes: FloatArray) -> FloatArray:
    """Covariance of the values as weights see it: places count, what all share doesn't."""
    values = [
        combination(0.0, [(point.value, 1.0), (point.distance, -slope)])
        for point, slope in zip(points, slopes, strict=True)
    ]
    return covariance_matrix(values, common_inputs([point.value for point in points]))


def _roughness(points: Sequence[FieldPoint], slopes: FloatArray) -> float:
    """Mean of the roughness over its likelihood: not its peak, which is zero too often."""
    places = np.array([point.distance.value.item() for point in points])
    values = np.array([point.value.value.item() for point in points])
    known = _value(places)
    at, weight = _quadrature(known)
    kinks = known.of_kink(at)
    kernel, matrix = (kinks * weight) @ kinks.T, _weighing(points, slopes)
    # Contrasts free of any line, so that its two numbers need no estimate.
    contrasts = np.linalg.svd(known.straight)[0][:, 2:]
    kernel, matrix = contrasts.T @ kernel @ contrasts, contrasts.T @ matrix @ contrasts
    data = contrasts.T @ values

    # Kernel and covariance made diagonal together: a roughness then costs a sum.
    noise, vectors = linalg.eigh(matrix, kernel)
    square = (vectors.T @ data) ** 2
    # A scale from the readings alone: as if they were exact.
    exact = float(np.sqrt(np.mean(square)))
    if exact == 0:
        return 0.0
    middle = float(np.log(exact))
    grid = np.linspace(middle - 12, middle + 5, 200)
    total = np.exp(2 * grid)[:, np.newaxis] + np.clip(noise, 0.0, None)
    size = np.sum(np.log(total) + square / total, axis=1) / 2
    # A half-Cauchy prior as wide as that scale (Gelman, Bayesian Analysis 1, 2006; from memory)
    # keeps the mean finite for four stations; a logarithmic step weighs as the roughness.
    prior = grid - np.log1p(np.exp(2 * (grid - middle)))
    chance = np.exp(-(size - float(size.min())) + prior - float(prior.max()))
    return float(np.sqrt(np.sum(chance * np.exp(2 * grid)) / np.sum(chance)))
