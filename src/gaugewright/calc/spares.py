"""How many must be installed so that enough come through, as far as counts let one say?"""

import math

import numpy as np

from gaugewright.calc import allowed
from gaugewright.errors import InputError

__all__ = ["chance_of_enough", "installed_for"]

# More than so many times what is wanted is no order any more: another way of working is needed.
MOST_TIMES = 50
_WHOLE = "a whole number, 0 or more"


def chance_of_enough(installed: int, wanted: int, survivors: float, exposed: float) -> float:
    """Probability that at least so many of those installed come through.

    The share that comes through is known as far as counts let: beta distributed, so that the
    number is beta-binomial (data140.org, Probability for Data Science, 21.2). Counts without end
    give the binomial law.

    Parameters
    ----------
    installed : int
        How many are put on [1].
    wanted : int
        How many must come through [1].
    survivors : float
        First parameter of the beta distribution: those counted, and half of one [1].
    exposed : float
        Both its parameters together: all that were counted, and one [1].

    Returns
    -------
    probability : float
        0 where more are wanted than installed [1].

    Raises
    ------
    InputError
        If a number can't be.
    Faults
        If several can't.

    Examples
    --------
    >>> round(chance_of_enough(4, 3, 1.0, 2.0), 12)
    0.4
    """
    with allowed.Together("spares") as given:
        given.holds("installed", installed, _WHOLE, if_=_is_count(installed))
        _hold_counts(given, wanted, survivors, exposed)
    return _enough(installed, wanted, survivors, exposed - survivors)


def installed_for(wanted: int, survivors: float, exposed: float, assurance: float) -> int:
    """Fewest to install so that enough come through with a stated probability.

    Parameters
    ----------
    wanted : int
        How many must come through [1].
    survivors : float
        First parameter of the beta distribution of the share, see ``chance_of_enough`` [1].
    exposed : float
        Both its parameters together [1].
    assurance : float
        Probability asked for that it is enough [1].

    Returns
    -------
    installed : int
        At least ``wanted`` [1].

    Raises
    ------
    InputError
        If a number can't be, or fifty times as many would not do.
    Faults
        If several can't.

    Examples
    --------
    Twelve gauges, 46 of 48 came through so far, sure to 95 %:

    >>> installed_for(12, 46.5, 49.0, 0.95)
    15
    """
    with allowed.Together("spares") as given:
        given.holds("assurance", assurance, "above 0 and below 1", if_=0 < assurance < 1)
        _hold_counts(given, wanted, survivors, exposed)
    other = exposed - survivors
    few, many = wanted, wanted * MOST_TIMES
    if wanted and _enough(many, wanted, survivors, other) < assurance:
        raise InputError(
            "survivors",
            survivors,
            f"so many that {MOST_TIMES} times what is wanted would do",
            "so many are lost that more spares don't help: change how they are put on",
        )
    while few < many:  # the chance only rises with every one more
        middle = (few + many) // 2
        if _enough(middle, wanted, survivors, other) >= assurance:
            many = middle
        else:
            few = middle + 1
    return few


def _is_count(value: float) -> bool:
    return value >= 0 and float(value).is_integer()


def _hold_counts(given: allowed.Together, wanted: int, survivors: float, exposed: float) -> None:
    given.holds("wanted", wanted, _WHOLE, if_=_is_count(wanted))
    fits = 0 < survivors < exposed < math.inf
    given.holds("survivors", survivors, f"above 0 and below exposed ({exposed})", if_=fits)


def _enough(installed: int, wanted: int, one: float, other: float) -> float:
    if wanted > installed:
        return 0.0
    # All come through, then one lost, two, ...: each by its ratio to the one before, so that
    # nothing cancels however large the counts are.
    came = np.arange(installed, dtype=np.float64)
    all_through = np.log((one + came) / (one + other + came)).sum()
    lost = np.arange(installed - wanted, dtype=np.float64)
    ratios = (installed - lost) / (lost + 1) * (other + lost) / (one + installed - lost - 1)
    logs = all_through + np.concatenate([[0.0], np.cumsum(np.log(ratios))])
    return min(1.0, float(np.exp(logs).sum()))
