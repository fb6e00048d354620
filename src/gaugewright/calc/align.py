"""How do the clocks of two recorders go together, when both wrote the same trigger?"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["ClockFit", "Edges", "clock_fit", "rising_edges"]

# Common practice, no source: no two clocks in one laboratory differ by more than one per cent;
# a fit that says so has paired edges that don't belong together.
LARGEST_RATE = 0.01


@dataclass(frozen=True, slots=True)
class Edges:
    """Where a trigger rose through its level, and the time between the samples round it [s]."""

    time: FloatArray
    scan: FloatArray


@dataclass(frozen=True, slots=True)
class ClockFit:
    """Reference time = ``offset`` + (1 + ``rate``) x other time.

    ``offset`` in s at other time 0; ``standard_uncertainty`` in s, one for each instant asked
    for. ``rate`` is 0 and unknown when ``edges`` is 1.
    """

    offset: float
    rate: float
    standard_uncertainty: FloatArray
    edges: int


def rising_edges(time: ArrayLike, trigger: ArrayLike, trigger_level: float) -> Edges:
    """Instants at which a trigger rose through a level, straight between the two samples.

    A step faster than one scan may lie anywhere between those samples: the interpolated instant
    is then wrong by up to the scan, by half of it where the level is half way up the step.
    Neighbours of a missing sample make no edge.

    Parameters
    ----------
    time : array, shape (n_samples,)
        Elapsed time of the samples, rising [s].
    trigger : array, shape (n_samples,)
        The trigger's readings, NaN where missing [1].
    trigger_level : float
        Level half way between the trigger's two states [1].

    Returns
    -------
    Edges
        In order of time; none where the trigger never rose.

    Raises
    ------
    InputError
        If time and trigger don't match, or the level isn't a number.

    Examples
    --------
    >>> rising_edges([0.0, 1.0, 2.0, 3.0], [0.0, 0.0, 5.0, 5.0], 2.5).time.tolist()
    [1.5]
    """
    when = np.asarray(time, dtype=np.float64)
    read = np.asarray(trigger, dtype=np.float64)
    if when.ndim != 1 or when.shape != read.shape:
        raise InputError("trigger", read.shape, f"as long as its time, {when.shape}")
    if not np.isfinite(trigger_level):
        raise InputError("trigger_level", trigger_level, "a finite number")
    # Comparisons with NaN are false: a missing neighbour makes no edge.
    at = np.flatnonzero((read[:-1] < trigger_level) & (read[1:] >= trigger_level))
    share = (trigger_level - read[at]) / (read[at + 1] - read[at])
    # A time that is no number makes no edge either.
    known = np.where(np.isfinite(when), when, np.nan)
    scan = known[at + 1] - known[at]
    good = scan > 0
    return Edges((known[at] + share * scan)[good], scan[good])


def clock_fit(reference: Edges, other: Edges, time: ArrayLike) -> ClockFit:
    """Straight line that takes one recorder's time to the other's, from edges both wrote.

    Each edge is known to half a scan on either side, rectangular: u = scan / sqrt(12) for each
    recorder, the two combined. Weighted least squares; from one edge the offset alone follows.

    Parameters
    ----------
    reference : Edges
        On the clock that is kept.
    other : Edges
        The same edges, in the same order, on the clock to be joined.
    time : array of any shape
        Instants on the other clock at which the uncertainty is wanted [s].

    Returns
    -------
    ClockFit
        The line and its standard uncertainty at each of those instants.

    Raises
    ------
    InputError
        If there are no edges, not as many on either side, or they don't lie on a line.

    Examples
    --------
    >>> import numpy as np
    >>> scan = np.array([0.1, 0.1])
    >>> fit = clock_fit(Edges(np.array([5.0, 105.1]), scan), Edges(np.array([2.0, 102.0]), scan), 2)
    >>> round(fit.offset, 6), round(fit.rate, 6), fit.standard_uncertainty.round(4).tolist()
    (2.998, 0.001, 0.0408)
    """
    count = len(other.time)
    if count == 0 or count != len(reference.time):
        raise InputError(
            "edges of the trigger",
            f"{len(reference.time)} in the reference, {count} in the other recording",
            "as many in both, one or more",
            "state another level, or cut the recording that saw more",
        )
    lag = reference.time - other.time
    variance = (reference.scan**2 + other.scan**2) / 12
    weight = 1 / variance
    centre = float(np.sum(weight * other.time) / np.sum(weight))
    middle = float(np.sum(weight * lag) / np.sum(weight))
    apart = other.time - centre
    spread = float(np.sum(weight * apart**2))
    rate = float(np.sum(weight * apart * lag) / spread) if count > 1 else 0.0
    _refuse_strangers(lag - middle - rate * apart, reference.scan + other.scan, rate)
    away = np.asarray(time, dtype=np.float64) - centre
    doubt = np.full(away.shape, 1 / np.sum(weight))
    if count > 1:
        doubt = doubt + away**2 / spread
    return ClockFit(middle - rate * centre, rate, np.asarray(np.sqrt(doubt)), count)


def _refuse_strangers(residual: FloatArray, allowed: FloatArray, rate: float) -> None:
    """Refuse edges that no two sound clocks can both have written.

    Every edge is off by less than half a scan of each recorder; a least-squares line adds at
    most as much again.
    """
    do = "check the columns, the level and that both saw the same trigger"
    worst = int(np.argmax(np.abs(residual) - allowed))
    if abs(residual[worst]) > allowed[worst]:
        raise InputError(
            f"edge {worst + 1} of the trigger",
            f"{residual[worst]:.6g} s off the line through all edges",
            f"within {allowed[worst]:.6g} s, one scan of each recorder",
            do,
        )
    if abs(rate) > LARGEST_RATE:
        raise InputError("rate between the clocks", rate, f"within {LARGEST_RATE}", do)
