"""Does an option meet what is needed, by what margin, and which of several comes nearest?"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.quantities import FloatArray

__all__ = ["Held", "Judged", "curve_averaged", "judged", "nearest", "peak_lost"]

# Differences of decimal numbers miss by their last bits: 12e-6 - 11e-6 isn't 1e-6.
_LAST_BITS = 1e-9


@dataclass(frozen=True, slots=True)
class Held:
    """One requirement held against what an option has.

    Attributes
    ----------
    name : str
        Of the requirement.
    quantity : str
        That both numbers are of.
    has : float
        Of the option; NaN where nobody stated it [1].
    needs : float
        What is asked of it [1].
    at_least : bool
        Whether more is better; else less is.
    scale : float
        What a shortfall is compared with, so that requirements of different kinds can be: 0
        takes ``needs`` itself [1].
    """

    name: str
    quantity: str
    has: float
    needs: float
    at_least: bool = True
    scale: float = 0.0

    @property
    def slack(self) -> float:
        """How far it is from failing, in its own unit; negative where it fails [1]."""
        return self.has - self.needs if self.at_least else self.needs - self.has

    @property
    def share(self) -> float:
        """Slack over the scale; NaN where nobody stated what the option has [1]."""
        scale = self.scale or abs(self.needs)
        if scale and math.isfinite(scale):
            return self.slack / scale
        return math.copysign(math.inf, self.slack)

    @property
    def fails(self) -> bool:
        """Whether it kills the option; what nobody stated kills nothing, nor does a last bit."""
        return self.share < -_LAST_BITS


@dataclass(frozen=True, slots=True)
class Judged:
    """An option with every requirement held against it.

    Attributes
    ----------
    failing : tuple of Held
        The worst first.
    unknown : tuple of Held
        Those that nobody stated a number for.
    tightest : Held, optional
        The one that comes nearest to failing, or fails worst; None where all are unknown.
    """

    failing: tuple[Held, ...]
    unknown: tuple[Held, ...]
    tightest: Held | None

    @property
    def is_killed(self) -> bool:
        """Whether any requirement fails."""
        return bool(self.failing)


def judged(requirements: Sequence[Held]) -> Judged:
    """An option by all its requirements.

    Parameters
    ----------
    requirements : sequence of Held
        In any order.

    Returns
    -------
    Judged
        Without failing ones it fits as far as anybody stated.

    Examples
    --------
    >>> found = judged([Held("strain limit", "strain", 0.02, 0.026)])
    >>> [(each.name, round(each.slack, 3)) for each in found.failing]
    [('strain limit', -0.006)]
    """
    known = sorted((r for r in requirements if not math.isnan(r.has)), key=lambda r: r.share)
    return Judged(
        tuple(r for r in known if r.fails),
        tuple(r for r in requirements if math.isnan(r.has)),
        known[0] if known else None,
    )


def nearest(options: Sequence[Judged]) -> int | None:
    """Place of the option that fits best, or of the one nearest to it where all are killed.

    Fewest failing requirements first, then the smallest of its worst shortfall, then the fewest
    that nobody stated.

    Parameters
    ----------
    options : sequence of Judged
        May be empty.

    Returns
    -------
    place : int or None
        From 0; None without options [1].
    """
    if not options:
        return None

    def rank(place: int) -> tuple[int, float, int]:
        option = options[place]
        worst = math.inf if option.tightest is None else option.tightest.share
        return (len(option.failing), -worst, len(option.unknown))

    return min(range(len(options)), key=rank)


def peak_lost(grid_length: ArrayLike, strain_gradient: ArrayLike, strain: ArrayLike) -> FloatArray:
    """Share of a peak that a grid over it doesn't show: g L / (4 ε).

    Strain that falls by g per length on both sides of a peak has the mean ε - g L/4 over a length
    L with the peak in its middle, which is what a grid reads. Strain that rises straight through
    the grid loses nothing.

    Parameters
    ----------
    grid_length : float or array
        Of the grid, along the strain [m].
    strain_gradient : float or array
        On either side of the peak, as a positive number [1/m].
    strain : float or array
        At the peak [1].

    Returns
    -------
    share : array
        Of the peak; above 1/2 the grid is wider than the peak and the form no longer holds [1].

    Raises
    ------
    InputError
        If a length or gradient is negative, or the strain is nothing.
    Faults
        If several are.

    Examples
    --------
    >>> peak_lost(3e-3, 0.0625, 2e-3).round(4).item()
    0.0234
    """
    with allowed.Together("grid over a peak") as given:
        length = given.not_negative("grid_length", grid_length)
        slope = given.not_negative("strain_gradient", strain_gradient)
        peak = np.abs(np.asarray(strain, dtype=np.float64))
        given.positive("strain", peak)
    return np.asarray(slope * length / (4 * peak))


def curve_averaged(grid_length: ArrayLike, strain_bend: ArrayLike) -> FloatArray:
    """Difference of what a grid reads from the strain at its middle: ε'' L² / 24.

    Mean of a smooth curve over the grid, to the fourth power of its length; exact for a parabola.

    Parameters
    ----------
    grid_length : float or array
        Of the grid, along the strain [m].
    strain_bend : float or array
        Second derivative of strain at the middle [1/m^2].

    Returns
    -------
    strain : array
        Read less true [1].

    Raises
    ------
    InputError
        If the length is negative.

    Examples
    --------
    >>> (curve_averaged(6e-3, -20.0) * 1e6).round(6).item()
    -30.0
    """
    length = allowed.not_negative("grid_length", grid_length)
    return np.asarray(np.asarray(strain_bend, dtype=np.float64) * length**2 / 24)
