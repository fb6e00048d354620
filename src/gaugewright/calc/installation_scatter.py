"""How far gauges of one laboratory scatter from each other, from its own pairs and bare bars.

What is found here takes the place of the assumed scatter behind ``installation@`` a gauge.
"""

import math

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.calc.evaluation import Repeated
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["bare_bar_scatter", "pair_scatter"]


def pair_scatter(first_slopes: ArrayLike, second_slopes: ArrayLike) -> Repeated:
    """Scatter of one gauge, from pairs that should have read alike.

    From relative differences d = 2 (a - b)/(a + b) of n pairs: sqrt(Σd²/(2n)), n degrees of
    freedom, since the mean difference of two like gauges is known to be zero. Bending that the
    slopes still hold counts as scatter: take them where the bar was straight, or turn it.

    Parameters
    ----------
    first_slopes : array, shape (n,)
        Strain over load of one gauge of each pair, elastic [1].
    second_slopes : array, shape (n,)
        Of the other, in the same unit [1].

    Returns
    -------
    Repeated
        ``mean`` is the mean relative difference, to be looked at; the standard uncertainty is
        relative, for one gauge.

    Raises
    ------
    InputError
        If there is no pair, or a slope isn't a positive number.

    Examples
    --------
    >>> found = pair_scatter([1.01, 0.99, 1.00], [1.00, 1.00, 1.01])
    >>> round(found.standard_uncertainty, 4), found.degrees_of_freedom
    (0.0071, 3.0)
    """
    with allowed.Together("pairs of gauges") as given:
        one = _slopes(given, "first_slopes", first_slopes)
        two = _slopes(given, "second_slopes", second_slopes)
    if one.shape != two.shape or one.size < 1:
        raise InputError("shape of second_slopes", two.shape, f"that of first_slopes: {one.shape}")
    difference = 2 * (one - two) / (one + two)
    spread = math.sqrt(float(np.mean(difference**2)) / 2)
    return Repeated(float(np.mean(difference)), spread, float(one.size))


def bare_bar_scatter(shown_over_true: ArrayLike) -> Repeated:
    """Scatter of one gauge, from gauges loaded on bare bars against a known force.

    Parameters
    ----------
    shown_over_true : array, shape (n,)
        Strain shown over force / (E A) of each gauge, two or more, bending taken out [1].

    Returns
    -------
    Repeated
        ``mean`` says whether the laboratory reads high or low as a whole; the standard
        uncertainty is relative, for one gauge, with n - 1 degrees of freedom.

    Raises
    ------
    InputError
        If there are fewer than two, or one isn't a positive number.

    Examples
    --------
    >>> found = bare_bar_scatter([0.985, 1.005, 0.995])
    >>> round(found.mean, 3), round(found.standard_uncertainty, 5)
    (0.995, 0.01005)
    """
    with allowed.Together("gauges on a bare bar") as given:
        share = _slopes(given, "shown_over_true", shown_over_true)
    if share.size < 2:
        raise InputError("number of gauges", share.size, "2 or more")
    mean = float(np.mean(share))
    return Repeated(mean, float(np.std(share, ddof=1)) / mean, share.size - 1.0)


def _slopes(given: allowed.Together, name: str, value: ArrayLike) -> FloatArray:
    slopes = np.atleast_1d(np.asarray(value, dtype=np.float64))
    bad = int(np.count_nonzero(~((slopes > 0) & np.isfinite(slopes))))
    given.holds(
        name,
        f"{bad} of {slopes.size} missing or not positive",
        "positive numbers",
        if_=not bad,
        do="leave those gauges out of both and say how many",
    )
    return slopes
