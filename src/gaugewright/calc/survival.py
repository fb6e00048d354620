"""How many come through: exact intervals of a proportion, and survival over exact times."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike
from scipy import special

from gaugewright.calc import allowed
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["SurvivalCurve", "proportion_interval", "survival_curve"]


@dataclass(frozen=True, slots=True)
class SurvivalCurve:
    """Probability of coming through each time at which something was lost or last seen.

    Attributes
    ----------
    exit_times : array, shape (n,)
        Rising [s].
    survival : array, shape (n,)
        Just after each of them [1].
    low, high : array, shape (n,)
        Of the interval of that probability, point by point [1].
    """

    exit_times: FloatArray
    survival: FloatArray
    low: FloatArray
    high: FloatArray


def proportion_interval(
    survivors: int, exposed: int, coverage: float = 0.95
) -> tuple[float, float]:
    """Interval for the probability behind so many of so many, exact by the binomial law.

    The ends are those probabilities at which so few, or so many, would be seen with half of
    what ``coverage`` leaves out (Clopper and Pearson, Biometrika 26 (1934) 404, from memory;
    NIST/SEMATECH e-Handbook, 7.2.4.2), found as quantiles of the beta distribution. It never
    covers less than it says, so it is wide where few were exposed.

    Parameters
    ----------
    survivors : int
        Those that came through [1].
    exposed : int
        All of them [1].
    coverage : float
        Of the interval, both sides alike [1].

    Returns
    -------
    low : float
        0 where none came through [1].
    high : float
        1 where all did [1].

    Raises
    ------
    InputError
        If the counts aren't whole, or more came through than were exposed.

    Examples
    --------
    >>> low, high = proportion_interval(4, 20, 0.9)
    >>> round(low, 4), round(high, 4)
    (0.0714, 0.401)
    """
    with allowed.Together("proportion") as given:
        whole = int(exposed) == exposed and exposed > 0
        given.holds("exposed", exposed, "a whole number above 0", if_=whole)
        fits = int(survivors) == survivors and 0 <= survivors <= exposed
        given.holds("survivors", survivors, f"a whole number from 0 to {exposed}", if_=fits)
        given.holds("coverage", coverage, "above 0 and below 1", if_=0 < coverage < 1)
    tail, lost = (1 - coverage) / 2, exposed - survivors
    low = float(special.betaincinv(survivors, lost + 1, tail)) if survivors else 0.0
    high = float(special.betaincinv(survivors + 1, lost, 1 - tail)) if lost else 1.0
    return low, high


def survival_curve(
    exit_times: ArrayLike, was_lost: Sequence[bool] | npt.NDArray[np.bool_], coverage: float = 0.95
) -> SurvivalCurve:
    """Product-limit estimate of survival, for losses whose times are exact.

    Kaplan and Meier, J. Am. Statist. Assoc. 53 (1958) 457 (from memory), as
    ``scipy.stats.ecdf`` has it; the interval is Greenwood's on the log(-log) scale (from
    memory), which keeps it between 0 and 1. What was last seen sound at the moment of a loss
    counts as exposed to it.

    Parameters
    ----------
    exit_times : array, shape (n,)
        When each was lost, or last seen sound, from a common start [s].
    was_lost : array of bool, shape (n,)
        Whether it was lost then.
    coverage : float
        Of the interval at each time [1].

    Returns
    -------
    SurvivalCurve
        Its interval is NaN where nothing was lost yet or nothing is left.

    Raises
    ------
    InputError
        If there are no times, one is missing or negative, or the two don't match.

    Examples
    --------
    >>> survival_curve([1, 2, 3, 4], [True, False, True, True]).survival.tolist()
    [0.75, 0.75, 0.375, 0.0]
    """
    from scipy import stats  # slow to import, and needed here alone

    times = np.asarray(exit_times, dtype=np.float64)
    lost = np.asarray(was_lost, dtype=np.bool_)
    if times.ndim != 1 or times.shape != lost.shape or not times.size:
        raise InputError("exit_times", times.shape, "a list, with as many words lost or not")
    if not (np.isfinite(times) & (times >= 0)).all():
        raise InputError("exit_times", exit_times, "finite and not negative")
    found = stats.ecdf(stats.CensoredData.right_censored(times, ~lost)).sf
    exits = np.asarray(found.quantiles, dtype=np.float64)
    survival = np.asarray(found.probabilities, dtype=np.float64)
    deaths = np.array([np.count_nonzero(lost & (times == at)) for at in exits])
    there = np.array([np.count_nonzero(times >= at) for at in exits])
    with np.errstate(divide="ignore", invalid="ignore"):
        spread = np.sqrt(np.cumsum(deaths / (there * (there - deaths)))) / np.log(survival)
        power = np.exp(float(special.ndtri((1 + coverage) / 2)) * spread)
        ends = np.stack([survival ** (1 / power), survival**power])
    ends[:, (survival == 0) | (survival == 1)] = np.nan
    return SurvivalCurve(exits, survival, ends.min(axis=0), ends.max(axis=0))
