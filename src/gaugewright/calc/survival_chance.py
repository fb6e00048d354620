"""What counts of survivors let one reckon with: chances with their doubt, over one gate or many."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from gaugewright.calc import allowed

__all__ = ["Chance", "chance_through", "count_dispersion", "survival_beta", "survival_chance"]

# Half a survivor and half a loss: the prior of Jeffreys for a proportion.
_HALF = 0.5


@dataclass(frozen=True, slots=True)
class Chance:
    """Probability of coming through, as counts leave it.

    Attributes
    ----------
    probability : float
        Mean of what the counts allow: what a plan reckons with [1].
    low, high : float
        Equal tails of it left out on both sides [1].
    """

    probability: float
    low: float
    high: float


def survival_chance(
    survivors: int, exposed: int, coverage: float = 0.95, dispersion: float = 1.0
) -> Chance:
    """Probability for the next one, after so many of so many came through.

    Beta distribution with ``survivors`` + 1/2 and losses + 1/2: the prior of Jeffreys (Brown,
    Cai and DasGupta, Statistical Science 16 (2001) 101, section 3.2, from memory). Nothing
    exposed leaves one half, from 0.002 to 0.998: nobody knows.

    Parameters
    ----------
    survivors : int
        Those that came through [1].
    exposed : int
        All of them; may be none [1].
    coverage : float
        Of the interval, both sides alike [1].
    dispersion : float
        By which counts are worth less than so many by themselves, see ``count_dispersion`` [1].

    Returns
    -------
    Chance
        Narrower the more were counted.

    Raises
    ------
    InputError
        If the counts aren't whole, or more came through than were exposed.
    Faults
        If several things are wrong.

    Examples
    --------
    >>> found = survival_chance(23, 24)
    >>> round(found.probability, 3), round(found.low, 3), round(found.high, 3)
    (0.94, 0.821, 0.995)
    """
    return chance_through((survivors,), (exposed,), coverage, (dispersion,))


def chance_through(
    survivors: Sequence[int],
    exposed: Sequence[int],
    coverage: float = 0.95,
    dispersion: Sequence[float] = (),
) -> Chance:
    """Probability of coming through one gate after another.

    Product of the chances at each, taken as independent: its mean and its mean square are the
    products of theirs, exactly; the interval is that of the beta distribution with both (for
    products of beta variables that is close: within 0.02 of a simulation where tried).

    Parameters
    ----------
    survivors : sequence of int
        At each gate [1].
    exposed : sequence of int
        At each gate [1].
    coverage : float
        Of the interval, both sides alike [1].
    dispersion : sequence of float
        At each gate; 1 everywhere when left out [1].

    Returns
    -------
    Chance
        That of one gate alone where only one is given.

    Raises
    ------
    InputError
        If there is no gate, or the counts can't be.
    Faults
        If several things are wrong.

    Examples
    --------
    >>> round(chance_through((24, 23), (24, 24)).probability, 3)
    0.921
    """
    _refuse(survivors, exposed, coverage, dispersion)
    one, other = survival_beta(survivors, exposed, dispersion)
    tail = (1 - coverage) / 2
    return Chance(
        one / (one + other),
        float(special.betaincinv(one, other, tail)),
        float(special.betaincinv(one, other, 1 - tail)),
    )


def survival_beta(
    survivors: Sequence[int], exposed: Sequence[int], dispersion: Sequence[float] = ()
) -> tuple[float, float]:
    """Beta distribution of the share that comes through one gate after another.

    That with the mean and the mean square of the product over the gates, see ``chance_through``.

    Parameters
    ----------
    survivors : sequence of int
        At each gate [1].
    exposed : sequence of int
        At each gate [1].
    dispersion : sequence of float
        At each gate; 1 everywhere when left out [1].

    Returns
    -------
    through : float
        First parameter: for one gate its survivors and a half [1].
    lost : float
        Second parameter: for one gate its losses and a half [1].

    Raises
    ------
    InputError
        If there is no gate, or the counts can't be.
    Faults
        If several things are wrong.

    Examples
    --------
    >>> through, lost = survival_beta((46,), (48,))
    >>> round(through, 9), round(lost, 9)
    (46.5, 2.5)
    """
    _refuse(survivors, exposed, 0.95, dispersion)
    spread = np.asarray(dispersion or (1.0,) * len(survivors))
    through = np.asarray(survivors, dtype=np.float64) / spread + _HALF
    lost = (np.asarray(exposed, dtype=np.float64) - np.asarray(survivors)) / spread + _HALF
    size = through + lost
    mean = float(np.prod(through / size))
    square = float(np.prod(through * (through + 1) / (size * (size + 1))))
    # Both parameters of the beta distribution that has this mean and this mean square.
    worth = (mean - square) / (square - mean**2)
    return mean * worth, (1 - mean) * worth


def count_dispersion(survivors: Sequence[int], exposed: Sequence[int]) -> float:
    """How much more several lots scatter than counts by themselves would: at least 1.

    Pearson's chi-square of the lots about their common share, over lots less one (McCullagh and
    Nelder, Generalized Linear Models, 2nd ed., 4.5.2, from memory). Gauges of one campaign share
    hands, weather and mixer, so campaigns differ by more than chance; counts of them all are then
    worth that much less. A single lot says nothing about it and gives 1.

    Parameters
    ----------
    survivors : sequence of int
        Of each lot [1].
    exposed : sequence of int
        Of each lot; lots of none are left out [1].

    Returns
    -------
    dispersion : float
        1 where the lots differ by no more than chance [1].

    Raises
    ------
    InputError
        If the counts can't be.
    Faults
        If several things are wrong.

    Examples
    --------
    >>> count_dispersion((46, 47), (48, 48)), round(count_dispersion((24, 12), (24, 24)), 2)
    (1.0, 16.0)
    """
    _refuse(survivors, exposed, 0.95, ())
    all_of = np.asarray(exposed, dtype=np.float64)
    kept = all_of > 0
    through, all_of = np.asarray(survivors, dtype=np.float64)[kept], all_of[kept]
    if all_of.size < 2:
        return 1.0
    share = through.sum() / all_of.sum()
    if share in (0.0, 1.0):
        return 1.0
    squares = (through - all_of * share) ** 2 / (all_of * share * (1 - share))
    return max(1.0, float(squares.sum()) / (all_of.size - 1))


def _refuse(
    survivors: Sequence[int],
    exposed: Sequence[int],
    coverage: float,
    dispersion: Sequence[float],
) -> None:
    with allowed.Together("survival") as given:
        as_many = len(survivors) == len(exposed) > 0
        given.holds("survivors", survivors, "as many counts as exposed", if_=as_many)
        for through, all_of in zip(survivors, exposed, strict=False):
            whole = int(all_of) == all_of and all_of >= 0
            given.holds("exposed", all_of, "a whole number, 0 or more", if_=whole)
            fits = int(through) == through and 0 <= through <= all_of
            given.holds("survivors", through, f"a whole number from 0 to {all_of}", if_=fits)
        given.holds("coverage", coverage, "above 0 and below 1", if_=0 < coverage < 1)
        if dispersion:
            fits = len(dispersion) == len(exposed) and all(one >= 1 for one in dispersion)
            given.holds("dispersion", dispersion, "one number of 1 or more a count", if_=fits)
