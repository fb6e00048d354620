"""Standard uncertainties and coverage factors, from repeated readings and from what is stated."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from gaugewright.calc import allowed
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "MEANINGS",
    "Repeated",
    "Scatter",
    "coverage_factor",
    "effective_degrees_of_freedom",
    "mean_of_readings",
    "scatter_between_and_within",
    "stated_distribution",
    "stated_standard_uncertainty",
]

# Divisor from a plus-minus to a standard uncertainty, and the distribution that it implies:
# JCGM 100:2008, 4.3.3 (multiples), 4.3.7 (limits), 4.3.9 (triangular).
MEANINGS: dict[str, tuple[float, str]] = {
    "k=1": (1.0, "normal"),
    "k=2": (2.0, "normal"),
    "k=3": (3.0, "normal"),
    "limit": (math.sqrt(3), "rectangular"),
    "triangular": (math.sqrt(6), "triangular"),
    "unknown": (math.sqrt(3), "rectangular"),
}


@dataclass(frozen=True, slots=True)
class Repeated:
    """Mean of readings, its standard uncertainty and the degrees of freedom behind it."""

    mean: float
    standard_uncertainty: float
    degrees_of_freedom: float


def mean_of_readings(readings: ArrayLike) -> Repeated:
    """Mean of independent readings and its standard uncertainty s/√n (JCGM 100:2008, 4.2).

    Parameters
    ----------
    readings : array, shape (n,)
        Two or more, all finite [1].

    Returns
    -------
    Repeated
        With n - 1 degrees of freedom.

    Raises
    ------
    InputError
        If there are fewer than two readings or one of them is missing.

    Examples
    --------
    >>> round(mean_of_readings([120.1, 120.3, 120.2]).mean, 6)
    120.2
    """
    data = np.asarray(readings, dtype=np.float64).ravel()
    if data.size < 2:
        raise InputError("number of readings", data.size, "2 or more", "read again")
    if not np.all(np.isfinite(data)):
        raise InputError("readings", "partly missing", "finite", "leave out what is missing")
    deviation = float(np.std(data, ddof=1))
    return Repeated(float(np.mean(data)), deviation / math.sqrt(data.size), data.size - 1.0)


def _meaning(meaning: str) -> tuple[float, str]:
    if meaning not in MEANINGS:
        raise InputError("meaning", meaning, "one of " + ", ".join(MEANINGS))
    return MEANINGS[meaning]


def stated_standard_uncertainty(plus_minus: float, meaning: str) -> float:
    """Standard uncertainty behind a plus-minus.

    Parameters
    ----------
    plus_minus : float
        As printed, in the unit of its value [1].
    meaning : str
        One of ``MEANINGS``; unknown is taken as a limit.

    Returns
    -------
    float
        In the unit of ``plus_minus`` [1].

    Raises
    ------
    InputError
        If the plus-minus is negative or the meaning isn't known.

    Examples
    --------
    >>> stated_standard_uncertainty(0.01, "k=2")
    0.005
    """
    with allowed.Together("plus-minus") as given:
        given.not_negative("plus_minus", plus_minus)
        given.holds("meaning", meaning, "one of " + ", ".join(MEANINGS), if_=meaning in MEANINGS)
    return plus_minus / MEANINGS[meaning][0]


def stated_distribution(meaning: str) -> str:
    """Distribution that a plus-minus of that meaning implies.

    Parameters
    ----------
    meaning : str
        One of ``MEANINGS``.

    Returns
    -------
    str
        A distribution that ``uncertainty.InputQuantity`` knows.
    """
    return _meaning(meaning)[1]


def coverage_factor(degrees_of_freedom: ArrayLike, coverage: float = 0.95) -> FloatArray:
    """Student's t: what a standard uncertainty is multiplied by (JCGM 100:2008, Table G.2).

    Parameters
    ----------
    degrees_of_freedom : array of any shape
        Above 0, may be infinite and need not be whole [1].
    coverage : float
        Probability inside, two-sided [1].

    Returns
    -------
    array shaped like ``degrees_of_freedom``
        NaN where there are no degrees of freedom [1].

    Raises
    ------
    InputError
        If ``coverage`` isn't between 0 and 1.

    Examples
    --------
    >>> coverage_factor([5, float("inf")], 0.95).round(2).tolist()
    [2.57, 1.96]
    """
    if not 0 < coverage < 1:
        raise InputError("coverage", coverage, "between 0 and 1")
    freedom = np.asarray(degrees_of_freedom, dtype=np.float64)
    return np.asarray(special.stdtrit(freedom, (1 + coverage) / 2), dtype=np.float64)


def effective_degrees_of_freedom(
    contributions: Sequence[float], degrees_of_freedom: Sequence[float]
) -> float:
    """Degrees of freedom of a sum of independent parts, by Welch and Satterthwaite.

    JCGM 100:2008, equation G.2b, not cut to a whole number.

    Parameters
    ----------
    contributions : sequence of float
        Standard uncertainty that each part brings to the sum [1].
    degrees_of_freedom : sequence of float
        Of each, infinite where it is known [1].

    Returns
    -------
    float
        Infinite when every part is known [1].

    Examples
    --------
    >>> round(effective_degrees_of_freedom([0.57, 0.25], [9, float("inf")]), 1)
    12.8
    """
    if len(contributions) != len(degrees_of_freedom):
        raise InputError("degrees_of_freedom", len(degrees_of_freedom), "as many as contributions")
    few = [freedom for freedom in degrees_of_freedom if not freedom > 0]
    with allowed.Together("contributions") as given:
        given.finite("contributions", contributions)
        given.holds("degrees_of_freedom", few[0] if few else None, "above 0", if_=not few)
    total = math.fsum(part**2 for part in contributions) ** 2
    pairs = zip(contributions, degrees_of_freedom, strict=True)
    weight = math.fsum(part**4 / freedom for part, freedom in pairs)
    return total / weight if weight else math.inf


@dataclass(frozen=True, slots=True)
class Scatter:
    """Scatter of groups of readings, taken apart.

    ``between`` and ``within`` are the standard deviations of the part that all readings of a
    group share and of the part of each reading; ``ratio`` is the F of the analysis of variance,
    with its two degrees of freedom, and ``chance`` the probability of an F as large with no
    scatter between groups at all.
    """

    mean: float
    between: float
    within: float
    ratio: float
    degrees_of_freedom_between: int
    degrees_of_freedom_within: int
    chance: float


def scatter_between_and_within(
    means: ArrayLike, deviations: ArrayLike, *, group_size: int
) -> Scatter:
    """Part of the scatter that a group shares (lot, day, technician) and part of each piece.

    Balanced one-way analysis of variance as in JCGM 100:2008, H.5: ``within`` from the pooled
    variance, ``between`` from what the means scatter beyond it, 0 when they do not.

    Parameters
    ----------
    means : array, shape (n_groups,)
        Mean of each group [1].
    deviations : array, shape (n_groups,)
        Standard deviation of the readings within each group [1].
    group_size : int
        Readings in every group, two or more [1].

    Returns
    -------
    Scatter
        Standard deviations in the unit of the readings.

    Raises
    ------
    InputError
        If there are fewer than two groups or readings in a group.
    """
    centres = np.asarray(means, dtype=np.float64)
    spreads = np.asarray(deviations, dtype=np.float64)
    if centres.ndim != 1 or centres.size < 2 or centres.shape != spreads.shape:
        raise InputError(
            "shape of means", centres.shape, "(n,) for 2 or more groups, with n deviations"
        )
    pooled = float(np.mean(spreads**2))
    with allowed.Together("groups of readings") as given:
        given.finite("means", centres)
        given.holds("group_size", group_size, "2 or more", if_=group_size >= 2)
        some = 0 < pooled < math.inf
        given.holds("deviations", pooled, "finite, and above 0 in one group at least", if_=some)
    of_means = float(np.var(centres, ddof=1))
    ratio = group_size * of_means / pooled
    freedom = (centres.size - 1, centres.size * (group_size - 1))
    return Scatter(
        mean=float(np.mean(centres)),
        between=math.sqrt(max(of_means - pooled / group_size, 0.0)),
        within=math.sqrt(pooled),
        ratio=ratio,
        degrees_of_freedom_between=freedom[0],
        degrees_of_freedom_within=freedom[1],
        chance=float(special.fdtrc(*freedom, ratio)),
    )
