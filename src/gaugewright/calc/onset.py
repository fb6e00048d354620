"""At which load a strain first passes a threshold, as yield and other onsets are reported."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["Passage", "first_passage", "passage"]


@dataclass(frozen=True, slots=True)
class Passage:
    """Where a strain passed a threshold for good, and how steeply it rose with load there.

    ``index`` is the first sample above; ``load`` the load at the threshold [N]; ``slope`` the
    rise of strain per load on the way up [1/N]; ``strain`` and ``load_there`` are the means of
    the few samples before ``index`` that were used, rows ``first`` to before ``last``.
    """

    index: int
    load: float
    slope: float
    strain: float
    load_there: float
    first: int
    last: int


def first_passage(strain: ArrayLike, threshold: float, *, persist: int = 5) -> int | None:
    """First sample from which ``persist`` samples in a row lie above the threshold.

    Common practice, no source: a single sample above may be noise, five scans are a passage.
    A missing sample is not above: a record that ends or breaks there shows no passage.

    Parameters
    ----------
    strain : array, shape (n_samples,)
        In order of time, tension positive [1].
    threshold : float
        Strain to be passed [1].
    persist : int
        Samples in a row that must lie above [1].

    Returns
    -------
    int or None
        Index of the first of them, or None where the strain never passes [1].

    Raises
    ------
    InputError
        If ``persist`` is below one.

    Examples
    --------
    >>> first_passage([0.0, 3.0, 0.0, 3.0, 3.0], 2.0, persist=2)
    3
    """
    if persist < 1:
        raise InputError("persist", persist, "1 or more")
    above = np.asarray(strain, dtype=np.float64) > threshold
    if above.size < persist:
        return None
    starts = above.size - persist + 1
    full = above[:starts].copy()
    for later in range(1, persist):
        full &= above[later : later + starts]
        if not full.any():
            return None
    return int(np.argmax(full)) if full.any() else None


def passage(
    load: ArrayLike,
    strain: ArrayLike,
    threshold: float,
    *,
    persist: int = 5,
    rise: float = 0.15,
) -> Passage | None:
    """Load at which the strain passes a threshold, corrected to the threshold by local slope.

    The slope is a straight line by least squares through the last stretch in which the strain
    rose from ``1 - rise`` of the threshold to the threshold; the last few samples before the
    passage are averaged and moved to the threshold along that line. No strain after the passage
    is used, so a plateau does not bend the answer; where strain leaps over the threshold between
    two samples, the load is no higher than the highest of those two and the few before.

    Parameters
    ----------
    load : array, shape (n_samples,)
        Load at the same instants [N].
    strain : array, shape (n_samples,)
        In order of time, tension positive [1].
    threshold : float
        Strain to be passed, above zero [1].
    persist : int
        See ``first_passage`` [1].
    rise : float
        Share of the threshold over which the slope is found [1].

    Returns
    -------
    Passage or None
        None where the strain never passes for good.

    Raises
    ------
    InputError
        If the threshold isn't positive, the arrays differ in length, or the strain does not
        rise with load on the way up (so that no load belongs to the threshold).
    """
    with allowed.Together("passage") as given:
        given.positive("threshold", threshold)
        given.holds("persist", persist, "1 or more", if_=persist >= 1)
        given.within("rise", rise, (0.0, 1.0))
    loads = np.asarray(load, dtype=np.float64)
    strains = np.asarray(strain, dtype=np.float64)
    if loads.shape != strains.shape or loads.ndim != 1:
        raise InputError("load", loads.shape, f"as long as strain {strains.shape}")
    index = first_passage(strains, threshold, persist=persist)
    if index is None:
        return None
    slope = _rise(loads, strains, index, (1 - rise) * threshold)
    first, last = max(0, index - persist), max(index, 1)
    near = np.isfinite(strains[first:last]) & np.isfinite(loads[first:last])
    mean_strain = float(np.mean(strains[first:last][near]))
    mean_load = float(np.mean(loads[first:last][near]))
    highest = float(np.nanmax(loads[first : index + 1]))
    at = min(mean_load + (threshold - mean_strain) / slope, highest)
    return Passage(index, at, slope, mean_strain, mean_load, first, last)


def _rise(loads: FloatArray, strains: FloatArray, index: int, low: float) -> float:
    below = strains[:index] < low
    begin = index - 1 - int(np.argmax(below[::-1])) if below.any() else 0
    # The sample that passes may lie on a plateau already; it is used only where nothing else is.
    stretch = slice(begin, index if index - begin >= 2 else index + 1)
    good = np.isfinite(loads[stretch]) & np.isfinite(strains[stretch])
    x, y = loads[stretch][good], strains[stretch][good]
    spread = np.sum((x - np.mean(x)) ** 2) if x.size else 0.0
    if x.size < 2 or spread == 0:
        raise InputError(
            "load", "constant on the way to the threshold", "rising", "look at the record there"
        )
    slope = float(np.sum((x - np.mean(x)) * (y - np.mean(y))) / spread)
    if not slope > 0:
        raise InputError("slope", slope, "above 0: strain must rise with load before the threshold")
    return slope
