"""Does a measured value keep a limit, once what the meter may be off is counted?

A limit is guarded by the uncertainty on both sides: what lies clear of it on one side passes, on
the other fails, and between the two the measurement can't tell. Sources: JCGM 106:2012, 8.3
(guarded acceptance and guarded rejection) and 7 (conformance probability); the guard band equal
to the expanded uncertainty is its 8.3.2, as in ISO 14253-1 (both from memory).
"""

import math

from scipy.stats import norm

from gaugewright.calc import allowed

__all__ = ["INSIDE", "OUTSIDE", "UNDECIDED", "conformance_probability", "guarded", "room_needed"]

INSIDE, OUTSIDE, UNDECIDED = "inside", "outside", "undecided"


def guarded(
    value: float, expanded_uncertainty: float, lower_limit: float, upper_limit: float
) -> str:
    """Whether a value lies inside two limits, outside of them, or too near to one to tell.

    Parameters
    ----------
    value : float
        As measured [1].
    expanded_uncertainty : float
        Of the value, in its unit: the width of the guard band [1].
    lower_limit, upper_limit : float
        Minus and plus infinity where there is no limit on that side [1].

    Returns
    -------
    str
        ``INSIDE``, ``OUTSIDE`` or ``UNDECIDED``.

    Raises
    ------
    InputError
        If the limits leave nothing between them, or the uncertainty is negative.
    Faults
        If several things are wrong.

    Examples
    --------
    >>> guarded(0.02, 0.01, -0.05, 0.05), guarded(0.045, 0.01, -0.05, 0.05)
    ('inside', 'undecided')
    >>> guarded(0.07, 0.01, -0.05, 0.05)
    'outside'
    """
    _check(lower_limit, upper_limit, expanded_uncertainty=expanded_uncertainty)
    low, high = value - expanded_uncertainty, value + expanded_uncertainty
    if lower_limit <= low and high <= upper_limit:
        return INSIDE
    if high < lower_limit or upper_limit < low:
        return OUTSIDE
    return UNDECIDED


def conformance_probability(
    value: float, standard_uncertainty: float, lower_limit: float, upper_limit: float
) -> float:
    """Probability that the true value keeps both limits, for a normal distribution about ``value``.

    Φ((T_U - y)/u) - Φ((T_L - y)/u). Source: JCGM 106:2012, 7.2 to 7.4 (from memory).

    Parameters
    ----------
    value : float
        As measured [1].
    standard_uncertainty : float
        Of the value, in its unit [1].
    lower_limit, upper_limit : float
        Minus and plus infinity where there is no limit on that side [1].

    Returns
    -------
    probability : float
        That it conforms [1].

    Raises
    ------
    InputError
        If the limits leave nothing between them, or the uncertainty isn't positive.
    Faults
        If several things are wrong.

    Examples
    --------
    >>> round(conformance_probability(0.0, 1.0, -1.0, 1.0), 4)
    0.6827
    """
    _check(lower_limit, upper_limit, spread=standard_uncertainty)
    above = norm.cdf((upper_limit - value) / standard_uncertainty)
    return float(above - norm.cdf((lower_limit - value) / standard_uncertainty))


def room_needed(value: float, lower_limit: float, upper_limit: float) -> float:
    """Largest expanded uncertainty with which this value would be decided, one way or the other.

    Parameters
    ----------
    value : float
        As measured [1].
    lower_limit, upper_limit : float
        Minus and plus infinity where there is no limit on that side [1].

    Returns
    -------
    expanded_uncertainty : float
        Distance from the value to the nearer limit; 0 on a limit, where no meter can tell [1].

    Raises
    ------
    InputError
        If the limits leave nothing between them.

    Examples
    --------
    >>> round(room_needed(0.045, -0.05, 0.05), 6)
    0.005
    """
    _check(lower_limit, upper_limit)
    return min(abs(value - lower_limit), abs(upper_limit - value))


def _check(
    lower_limit: float,
    upper_limit: float,
    *,
    expanded_uncertainty: float = 0.0,
    spread: float | None = None,
) -> None:
    with allowed.Together("limits") as given:
        given.not_negative("expanded_uncertainty", expanded_uncertainty)
        if spread is not None:
            given.positive("standard_uncertainty", spread)
        between = "above lower_limit"
        is_between = lower_limit < upper_limit and not math.isnan(lower_limit + upper_limit)
        given.holds("upper_limit", upper_limit, between, if_=is_between)
