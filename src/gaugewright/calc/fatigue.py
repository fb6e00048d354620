"""What share of a bar's fatigue life its stress cycles have used up, by Palmgren and Miner."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["EN1992_LINES", "Damage", "FatigueLine", "cycles_to_failure", "miner_damage"]


@dataclass(frozen=True, slots=True)
class FatigueLine:
    """Cycles to failure against stress range: two straight lines on double logarithmic paper.

    Parameters
    ----------
    reference_range : float
        Stress range at the bend; divided by its partial factor where a design is checked [Pa].
    reference_cycles : float
        Cycles at the bend [1].
    slope_above : float
        Exponent for ranges from the bend up [1].
    slope_below : float
        Exponent below the bend [1].
    limit_range : float
        Ranges below this do no damage; 0 when all do [Pa].
    source : str
        Who says so: a standard with its table, or the laboratory's own tests.
    """

    reference_range: float
    reference_cycles: float
    slope_above: float
    slope_below: float
    limit_range: float = 0.0
    source: str = ""

    def __post_init__(self) -> None:
        with allowed.Together("fatigue line") as given:
            given.positive("reference_range", self.reference_range)
            given.positive("reference_cycles", self.reference_cycles)
            given.positive("slope_above", self.slope_above)
            given.positive("slope_below", self.slope_below)
            given.not_negative("limit_range", self.limit_range)


_EN1992 = "EN 1992-1-1:2004, Table 6.3N, from memory: compare with your copy and national annex"

# Characteristic stress ranges; a check of a design divides them by its partial factor.
EN1992_LINES: dict[str, FatigueLine] = {
    "straight bars": FatigueLine(162.5e6, 1e6, 5.0, 9.0, source=_EN1992),
    "welded bars and fabric": FatigueLine(58.5e6, 1e7, 3.0, 5.0, source=_EN1992),
    "coupled bars": FatigueLine(35e6, 1e7, 3.0, 5.0, source=_EN1992),
}


@dataclass(frozen=True, slots=True)
class Damage:
    """Share of life used.

    Attributes
    ----------
    total : float
        Sum of cycles over cycles to failure; 1 is the end by this rule [1].
    by_scale : float
        Change of ``total`` for a relative change of all stress ranges: with a slope of 9, one per
        cent of strain is nine per cent of damage [1].
    """

    total: float
    by_scale: float


def cycles_to_failure(stress_range: ArrayLike, line: FatigueLine) -> FloatArray:
    """Cycles that a constant stress range leaves: N* (Δσ*/Δσ)^k.

    Parameters
    ----------
    stress_range : array of any shape
        Largest less smallest stress [Pa].
    line : FatigueLine
        Of the detail.

    Returns
    -------
    array shaped like ``stress_range``
        Infinite below the limit and without any range; NaN for a missing one [1].

    Raises
    ------
    InputError
        If a range is negative.

    Examples
    --------
    >>> bars = EN1992_LINES["straight bars"]
    >>> cycles_to_failure([325e6, 162.5e6], bars).tolist()
    [31250.0, 1000000.0]
    """
    found = np.asarray(stress_range, dtype=np.float64)
    if np.any(found < 0):
        raise InputError("stress_range", np.nanmin(found), "zero or more")
    ratio = np.divide(
        line.reference_range, found, out=np.full_like(found, np.inf), where=~(found == 0)
    )
    lives = line.reference_cycles * ratio ** _slope(found, line)
    return np.where(found < line.limit_range, np.inf, lives)


def miner_damage(stress_ranges: ArrayLike, counts: ArrayLike, line: FatigueLine) -> Damage:
    """Share of life used by counted cycles: the sum of n/N.

    The rule knows no order of loading and no mean stress. Stress beyond yield isn't E times
    strain: count stress that a law gave, not strain, once a bar has yielded.

    Parameters
    ----------
    stress_ranges : array, shape (n,)
        Of the cycles [Pa].
    counts : array, shape (n,)
        How many of each, halves allowed [1].
    line : FatigueLine
        Of the detail.

    Returns
    -------
    Damage
        With what it owes to the scale of all ranges.

    Raises
    ------
    InputError
        If a range or a count is negative or missing.

    Examples
    --------
    >>> miner_damage([162.5e6], [250_000], EN1992_LINES["straight bars"]).total
    0.25
    """
    with allowed.Together("Miner sum") as given:
        found = given.not_negative("stress_ranges", stress_ranges)
        number = given.not_negative("counts", counts)
    shares = number / cycles_to_failure(found, line)
    return Damage(float(np.sum(shares)), float(np.sum(shares * _slope(found, line))))


def _slope(stress_range: FloatArray, line: FatigueLine) -> FloatArray:
    return np.where(stress_range >= line.reference_range, line.slope_above, line.slope_below)
