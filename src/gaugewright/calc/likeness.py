"""Which channels are alike that shouldn't be, or unlike that should: twins, signs, exchanges."""

from dataclasses import dataclass

import numpy as np
import scipy.optimize
from numpy.typing import ArrayLike

from gaugewright.calc.allowed import Together
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["Exchange", "Likeness", "answer_to", "exchanges", "noise_direction", "shared_noise"]

_FEWEST = 64
_BLOCKS = 200
_PARTS = 10


@dataclass(frozen=True, slots=True)
class Likeness:
    """Correlation of two channels' noise, its standard uncertainty, and equal moves' share."""

    correlation: float
    standard_uncertainty: float
    equal_moves: float


@dataclass(frozen=True, slots=True)
class Exchange:
    """Gauges, by place, that together fit the others' predictions better than their own.

    ``places`` in the order of the ring: the first reads what the second should, and so on.
    ``own`` and ``other`` are the residuals' root mean squares, in the readings' unit.
    """

    places: tuple[int, ...]
    own: float
    other: float


def shared_noise(channel_readings: ArrayLike, other_readings: ArrayLike) -> Likeness:
    """How alike the scan-to-scan noise of two channels is.

    What loads both is slow and left out by second differences. Two amplifiers have noise of
    their own; noise that is alike says that one channel was written twice. For independent white
    noise the correlation of second differences has a standard deviation of sqrt((35/18) / n)
    (Bartlett's formula with their autocorrelations -2/3 and 1/6).

    Parameters
    ----------
    channel_readings, other_readings : array, shape (n_samples,)
        Readings at the same instants in any units, NaN where missing [1].

    Returns
    -------
    Likeness
        Correlation, its standard uncertainty without likeness, and how many of the moves are
        equal to the last digit [1].

    Raises
    ------
    InputError
        If lengths differ or fewer than 64 readings are common.
    """
    one = np.asarray(channel_readings, dtype=np.float64)
    two = np.asarray(other_readings, dtype=np.float64)
    if one.shape != two.shape:
        raise InputError("other_readings", two.shape, f"as long as the first, {one.shape}")
    a, b = np.diff(one, 2), np.diff(two, 2)
    good = np.isfinite(a) & np.isfinite(b)
    a, b = a[good], b[good]
    if a.size < _FEWEST:
        raise InputError("readings in common", a.size, f"{_FEWEST} or more")
    # Bounded, so that a shared spike or load step isn't taken for shared noise.
    a, b = _bounded(a), _bounded(b)
    moves = a != 0
    equal = float(np.mean(np.abs(a[moves]) == np.abs(b[moves]))) if moves.any() else 0.0
    size = float(np.sqrt(np.sum(a * a) * np.sum(b * b)))
    alike = float(np.sum(a * b)) / size if size > 0 else 0.0
    return Likeness(alike, float(np.sqrt(35 / 18 / a.size)), equal)


def noise_direction(channel_readings: ArrayLike) -> FloatArray | None:
    """Scan-to-scan noise of a channel as a direction: of two, the product is their likeness.

    The sum of the products of two directions is the correlation that ``shared_noise`` gives, but
    for rounding, so that many channels are held against each other in little time.

    Parameters
    ----------
    channel_readings : array, shape (n_samples,)
        Readings in any one unit [1].

    Returns
    -------
    array, shape (n_samples - 2,), or None
        Of length one, or zero without any noise; None where a reading is missing or there are
        fewer than 66 [1].
    """
    moves = np.diff(np.asarray(channel_readings, dtype=np.float64), 2)
    if moves.size < _FEWEST or not np.isfinite(moves).all():
        return None
    moves = _bounded(moves)
    size = float(np.sqrt(np.sum(moves * moves)))
    return np.asarray(moves / size if size > 0 else moves)


def answer_to(load: ArrayLike, values: ArrayLike) -> tuple[float, float]:
    """Slope of readings against the load by their moves, and its standard uncertainty.

    Moves between two hundred block means are compared, their mean left out: zero and steady
    drift play no part, and a sign that is reversed shows however small the answer. The doubt
    allows for wander; for white noise alone it is about double what it could be.

    Parameters
    ----------
    load : array, shape (n_samples,)
        Load, or a prediction that follows it, NaN where missing [N].
    values : array, shape (n_samples,)
        Readings in any one unit, NaN where missing [1].

    Returns
    -------
    slope, standard uncertainty
        In the readings' unit each newton [1].

    Raises
    ------
    InputError
        If lengths differ, fewer than 64 readings are common, or the load doesn't move.
    """
    push = np.asarray(load, dtype=np.float64)
    read = np.asarray(values, dtype=np.float64)
    if push.shape != read.shape:
        raise InputError("values", read.shape, f"as long as the load, {push.shape}")
    good = np.isfinite(push) & np.isfinite(read)
    push, read = push[good], read[good]
    if push.size < _FEWEST:
        raise InputError("readings in common", push.size, f"{_FEWEST} or more")
    blocks = min(_BLOCKS, push.size // 8)
    x = np.diff([part.mean() for part in np.array_split(push, blocks)])
    y = np.diff([part.mean() for part in np.array_split(read, blocks)])
    x, y = x - x.mean(), y - y.mean()
    spread = float(np.sum(x * x))
    if spread == 0:
        raise InputError("load", "one value", "one that moves")
    slope = float(np.sum(x * y)) / spread
    rest = y - slope * x
    # White noise in means makes neighbouring moves pull against each other: sums over a tenth of
    # the record hold that, and slow wander too.
    sums = np.array([part.sum() for part in np.array_split(x * rest, _PARTS)])
    variance = float(np.sum(sums**2)) * _PARTS / (_PARTS - 1)
    return slope, float(np.sqrt(variance) / spread)


def exchanges(predicted: ArrayLike, measured: ArrayLike, *, limit: float) -> tuple[Exchange, ...]:
    """Gauges whose readings fit each other's predictions better than their own, ring by ring.

    Every gauge's readings are held against every prediction, one free factor for each pair (a
    prediction is seldom right in size, but its shape tells stations apart). The cheapest way to
    give each gauge a prediction (assignment problem, H. W. Kuhn 1955) is looked for; a ring that
    leaves its own places is reported when its residual is ``limit`` times smaller.

    Parameters
    ----------
    predicted : array, shape (n_gauges, n_steps)
        Strain at each gauge's own station at each load step, NaN where nothing predicts it [1].
    measured : array, shape (n_gauges, n_steps)
        Strain read, NaN where missing [1].
    limit : float
        How many times better the exchanged places must fit [1].

    Returns
    -------
    tuple of Exchange
        One for each ring; places from 0, residuals as strain [1].

    Raises
    ------
    InputError
        If shapes differ, there are fewer than two gauges or three steps, or the limit isn't
        above one; all are named.
    """
    wanted = np.asarray(predicted, dtype=np.float64)
    found = np.asarray(measured, dtype=np.float64)
    with Together("exchanges") as given:
        if wanted.shape != found.shape or wanted.ndim != 2:
            shape = f"shaped as predicted, {wanted.shape}"
            given.faults.append(InputError("measured", found.shape, shape))
        elif wanted.shape[0] < 2 or wanted.shape[1] < 3:
            size = "two gauges and three steps or more"
            given.faults.append(InputError("predicted", wanted.shape, size))
        if not limit > 1:
            given.faults.append(InputError("limit", limit, "above 1"))
    cost = _misfit(wanted, found)
    # A gauge leaves its own place only for one that fits so much better, never for a like one.
    dearer = cost**2 * np.where(np.eye(len(cost), dtype=bool), 1.0, limit**2)
    rows, columns = scipy.optimize.linear_sum_assignment(dearer)
    given_to = dict(zip(rows.tolist(), columns.tolist(), strict=True))
    rings = []
    for ring in _rings(given_to):
        own = float(np.sqrt(np.mean([cost[k, k] ** 2 for k in ring])))
        other = float(np.sqrt(np.mean([cost[k, given_to[k]] ** 2 for k in ring])))
        if own > limit * other:
            rings.append(Exchange(ring, own, other))
    return tuple(rings)


def _misfit(wanted: FloatArray, found: FloatArray) -> FloatArray:
    """Root mean square of each gauge's readings less each prediction at its best factor.

    The factor stays between a third and three: a gauge in compression isn't one in tension.
    Fewer than three steps that were both predicted and read tell nothing: such a gauge stays
    where it is, and no other takes its place.
    """
    cost = np.zeros((len(found), len(wanted)))
    for i, read in enumerate(found):
        for j, step in enumerate(wanted):
            good = np.isfinite(read) & np.isfinite(step)
            if np.count_nonzero(good) < 3:
                cost[i, j] = 0.0 if i == j else np.inf
                continue
            x, y = step[good], read[good]
            power = float(np.sum(x * x))
            factor = float(np.sum(x * y)) / power if power > 0 else 1.0
            rest = y - np.clip(factor, 1 / 3, 3.0) * x
            cost[i, j] = np.sqrt(np.mean(rest**2))
    return cost


def _rings(given_to: dict[int, int]) -> list[tuple[int, ...]]:
    """Rings of more than one place in a permutation."""
    rings, seen = [], set()
    for start in given_to:
        ring = []
        place = start
        while place not in seen:
            seen.add(place)
            ring.append(place)
            place = given_to[place]
        if len(ring) > 1:
            rings.append(tuple(ring))
    return rings


def _bounded(moves: FloatArray) -> FloatArray:
    usual = 1.4826 * float(np.median(np.abs(moves)))
    return np.clip(moves, -4 * usual, 4 * usual) if usual > 0 else moves
