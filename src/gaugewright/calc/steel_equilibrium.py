"""Strain of the whole bar beside a ground flat that has yielded, and back, by any steel law."""

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.calc.steel_cyclic import CyclicState, CyclicSteel, cyclic_stress
from gaugewright.calc.steel_inverse import cyclic_strain
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "bar_strain_along",
    "bar_strain_of_flat",
    "bar_strain_unloading",
    "flat_strain_along",
    "flat_strain_of_bar",
]

_PARTS = 16
_ROUNDS = 30  # four bits each: more than a strain has behind a rung of the ladder


def bar_strain_of_flat(
    strain: ArrayLike,
    net_area: float,
    area: float,
    first_loading: Callable[[FloatArray], FloatArray],
    *,
    largest_strain: float,
) -> FloatArray:
    """Strain of the full bar that carries the force of the flat: σ(ε) A = σ(ε_flat) A_net.

    For first loading of a bar kept straight, with any law that nowhere falls. Solved by cutting the
    span that holds it in parts again and again, so a corner of the law costs no digit.

    Parameters
    ----------
    strain : array of any shape
        Mechanical strain at the flat [1].
    net_area : float
        Left at the flat [m^2].
    area : float
        Of the bar [m^2].
    first_loading : function of strain
        Gives stress [Pa], odd in strain and nowhere falling up to ``largest_strain``.
    largest_strain : float
        Up to which the law holds [1].

    Returns
    -------
    strain : array shaped like ``strain``
        Mechanical strain of the full bar; NaN where the flat is beyond the law [1].

    Raises
    ------
    InputError
        If an area is impossible, or the law falls.

    Examples
    --------
    >>> from functools import partial
    >>> from gaugewright.calc.steel import bilinear_stress
    >>> law = partial(bilinear_stress, elastic_modulus=200e9, yield_strength=500e6)
    >>> bar_strain_of_flat([0.001, 0.03], 0.97, 1.0, law, largest_strain=0.05).round(6).tolist()
    [0.00097, 0.002425]
    """
    share = _share(net_area, area, largest_strain=largest_strain)
    value = np.asarray(strain, dtype=np.float64)
    return _solved(first_loading(value) * share, first_loading, largest_strain)


def flat_strain_of_bar(
    strain: ArrayLike,
    net_area: float,
    area: float,
    first_loading: Callable[[FloatArray], FloatArray],
    *,
    largest_strain: float,
) -> FloatArray:
    """Strain at the flat when the full bar is strained: σ(ε_flat) A_net = σ(ε) A.

    Parameters
    ----------
    strain : array of any shape
        Mechanical strain of the full bar [1].
    net_area : float
        Left at the flat [m^2].
    area : float
        Of the bar [m^2].
    first_loading : function of strain
        Gives stress [Pa], odd in strain and nowhere falling up to ``largest_strain``.
    largest_strain : float
        Up to which the law holds [1].

    Returns
    -------
    strain : array shaped like ``strain``
        At the flat; NaN on a plateau, where no single strain carries the force, and where the flat
        would have to carry more than the law has [1].

    Raises
    ------
    InputError
        If an area is impossible, or the law falls.
    """
    share = _share(net_area, area, largest_strain=largest_strain)
    value = np.asarray(strain, dtype=np.float64)
    return _solved(first_loading(value) / share, first_loading, largest_strain)


def bar_strain_unloading(
    strain: ArrayLike,
    net_area: float,
    area: float,
    first_loading: Callable[[FloatArray], FloatArray],
    *,
    elastic_modulus: float,
) -> FloatArray:
    """Strain of the full bar along a record at the flat that is loaded and partly unloaded.

    The full bar keeps what it flowed under the highest stress so far and else moves along E, as
    the flat does in ``steel_history.stress_along``; often it never flowed at all. Not for steel
    that yielded back: see ``bar_strain_along``.

    Parameters
    ----------
    strain : array, shape (n_samples,)
        Mechanical strain at the flat, in order of time; NaN where missing [1].
    net_area : float
        Left at the flat [m^2].
    area : float
        Of the bar [m^2].
    first_loading : function of strain
        Gives stress [Pa], odd in strain and nowhere falling up to the largest strain here.
    elastic_modulus : float
        Its first slope, and that of unloading [Pa].

    Returns
    -------
    strain : array shaped like ``strain``
        Mechanical strain of the full bar; NaN where the sample is missing or beyond the law [1].

    Raises
    ------
    InputError
        If an area is impossible, or the law falls.
    """
    share = _share(net_area, area, elastic_modulus=elastic_modulus)
    modulus = float(elastic_modulus)
    value = np.asarray(strain, dtype=np.float64)
    if share == 1.0 or not np.any(np.isfinite(value)):
        return value.copy()
    largest = max(float(np.nanmax(np.abs(value))), 1e-9)
    stress, kept = modulus * value, np.zeros(value.shape)
    for extreme in (np.fmax.accumulate, np.fmin.accumulate):
        far = extreme(np.concatenate([[0.0], value]))[1:]
        # Extremes repeat: each is solved once.
        levels, place = np.unique(far, return_inverse=True)
        at_flat = first_loading(levels)
        in_bar = _solved(at_flat * share, first_loading, largest)
        stress = stress - (modulus * levels - at_flat)[place]
        kept = kept + (in_bar - share * at_flat / modulus)[place]
    return np.asarray(share * stress / modulus + kept)


def bar_strain_along(
    strain: ArrayLike,
    net_area: float,
    area: float,
    steel: CyclicSteel,
    *,
    states: tuple[CyclicState, CyclicState] | None = None,
    gate: float = 0.0,
) -> tuple[FloatArray, tuple[CyclicState, CyclicState]]:
    """Strain of the full bar along a record at the flat, loaded to and fro beyond yield.

    The flat's stress follows its own history; the full bar follows another one, that of the
    stress times A_net / A, on which it may stay elastic all the time.

    Parameters
    ----------
    strain : array, shape (n_samples,) or (n_samples, n_channels)
        Mechanical strain at the flat, in order of time [1].
    net_area : float
        Left at the flat [m^2].
    area : float
        Of the bar [m^2].
    steel : CyclicSteel
        Of flat and bar alike.
    states : pair of CyclicState, optional
        Of flat and bar at the end of the block before.
    gate : float
        Strain that must come back before it is a reversal [1].

    Returns
    -------
    strain : array shaped like ``strain``
        Mechanical strain of the full bar [1].
    pair of CyclicState
        Of flat and bar, for the next block: cutting a record changes no digit [1].

    Raises
    ------
    InputError
        If an area is impossible or the record can't be used.
    """
    share = _share(net_area, area, gate=gate)
    at_flat, in_bar = (None, None) if states is None else states
    stress, flat_ends = cyclic_stress(strain, steel, at_flat, gate=gate)
    found, bar_ends = cyclic_strain(stress * share, steel, in_bar, gate=gate)
    return found, (flat_ends, bar_ends)


def flat_strain_along(
    strain: ArrayLike,
    net_area: float,
    area: float,
    steel: CyclicSteel,
    *,
    states: tuple[CyclicState, CyclicState] | None = None,
    gate: float = 0.0,
) -> tuple[FloatArray, tuple[CyclicState, CyclicState]]:
    """Strain at the flat along a record of the full bar's strain: the other way round.

    Parameters
    ----------
    strain : array, shape (n_samples,) or (n_samples, n_channels)
        Mechanical strain of the full bar, in order of time [1].
    net_area : float
        Left at the flat [m^2].
    area : float
        Of the bar [m^2].
    steel : CyclicSteel
        Of flat and bar alike.
    states : pair of CyclicState, optional
        Of bar and flat at the end of the block before.
    gate : float
        Strain that must come back before it is a reversal [1].

    Returns
    -------
    strain : array shaped like ``strain``
        At the flat; NaN where the law without hardening has no strain for the force [1].
    pair of CyclicState
        Of bar and flat, for the next block [1].

    Raises
    ------
    InputError
        If an area is impossible or the record can't be used.
    """
    share = _share(net_area, area, gate=gate)
    in_bar, at_flat = (None, None) if states is None else states
    stress, bar_ends = cyclic_stress(strain, steel, in_bar, gate=gate)
    found, flat_ends = cyclic_strain(stress / share, steel, at_flat, gate=gate)
    return found, (bar_ends, flat_ends)


def _share(net_area: float, area: float, gate: float = 0.0, **more: float) -> float:
    """Share of the bar that the flat left; ``more`` are settings that must be positive too."""
    with allowed.Together("bar with a flat") as given:
        left, whole = given.positive("net_area", net_area), given.positive("area", area)
        larger = bool(left > whole)
        given.holds("net_area", net_area, "no more than the area of the bar", if_=not larger)
        given.not_negative("gate", gate)
        for name, value in more.items():
            given.positive(name, value)
    return float(left / whole)


def _solved(
    stress: FloatArray,
    first_loading: Callable[[FloatArray], FloatArray],
    largest_strain: float,
) -> FloatArray:
    """Strain at which the law has the stress: the middle of two ends that met, or NaN."""
    top = float(largest_strain)
    rungs = np.linspace(0.0, top, 2001)
    ladder = first_loading(rungs)
    known = ladder[np.isfinite(ladder)]
    if not known.size or not np.all(np.diff(known) >= -1e-9 * np.max(np.abs(known))):
        raise InputError(
            "first_loading",
            "falling somewhere",
            f"nowhere falling up to a strain of {top:.4g}",
            "take the lower yield strength for the plateau, or end the table at maximum force",
        )
    goal = np.abs(stress)
    close = 1e-12 * float(known[-1])
    # From below and from above: on a plateau the two ends stay apart.
    goals = np.stack((goal - close, goal + close))
    above = np.searchsorted(np.maximum.accumulate(known), goals).clip(1, rungs.size - 1)
    lower, upper = _edge(goals, first_loading, rungs[above - 1], rungs[above])
    apart = upper - lower > 1e-6 * np.maximum(upper, 1e-6)
    middle = np.where(apart, np.nan, (lower + upper) / 2)
    beyond = goal > known[-1] + close
    return np.copysign(np.where(beyond | np.isnan(goal), np.nan, middle), stress)


def _edge(
    goal: FloatArray,
    first_loading: Callable[[FloatArray], FloatArray],
    low: FloatArray,
    high: FloatArray,
) -> FloatArray:
    """Least strain between two at which the law reaches the goal, cut in equal parts again.

    A law costs as much for one strain as for hundreds, so each round asks it at once for all cuts.
    """
    cuts = np.linspace(0.0, 1.0, _PARTS + 1).reshape(-1, *(1 for _ in goal.shape))
    for _ in range(_ROUNDS):
        ends = low + (high - low) * cuts
        ends[-1] = high
        under = first_loading(ends[1:-1]) < goal  # not where the law has no stress any more
        part = np.where(under.all(axis=0), _PARTS - 1, np.argmin(under, axis=0))[None]
        now = [np.take_along_axis(ends, part + side, axis=0)[0] for side in (0, 1)]
        if np.array_equal(now[0], low) and np.array_equal(now[1], high):
            break  # no number lies between the two
        low, high = now
    return np.asarray((low + high) / 2)
