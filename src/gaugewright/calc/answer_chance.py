"""Can a question still be answered after losses: exact chances, losses in common included."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from gaugewright.calc import allowed
from gaugewright.errors import InputError

__all__ = ["Needed", "SharedFate", "answer_chance", "needed_gauges"]

# Fates in common are gone through in every combination: beyond so many that takes too long.
MOST_FATES = 16


@dataclass(frozen=True, slots=True)
class Needed:
    """At least so many of several parts: gauges by number, or such needs themselves.

    A force in each of two bars, one gauge of each pair enough, is
    ``Needed(2, (Needed(1, (0, 1)), Needed(1, (2, 3))))``.
    """

    least: int
    parts: "tuple[int | Needed, ...]"


@dataclass(frozen=True, slots=True)
class SharedFate:
    """What some gauges are lost by together: a bundle of cables, a bar, a batch.

    Attributes
    ----------
    survival : float
        Probability that nothing of the kind happens [1].
    gauges : tuple of int
        Numbers of the gauges that it would take.
    """

    survival: float
    gauges: tuple[int, ...]


def needed_gauges(needed: Needed) -> tuple[int, ...]:
    """Numbers of all gauges that a need speaks of, in their order."""
    found: list[int] = []
    for part in needed.parts:
        found.extend(needed_gauges(part) if isinstance(part, Needed) else (part,))
    return tuple(found)


def answer_chance(
    needed: Needed, gauge_survival: Sequence[float], fates: Sequence[SharedFate] = ()
) -> float:
    """Probability that enough gauges are left, each lost by itself or with others.

    Total probability over every combination of the fates in common (in each of them gauges are
    independent), and for "at least k of n" unlike parts the sum over counts, part by part. For n
    gauges of survival p in one bundle of survival 1 - c this is (1 - c)(1 - (1 - p)^n).

    Parameters
    ----------
    needed : Needed
        Each gauge in it once.
    gauge_survival : sequence of float
        By the gauge's number, of what happens to it alone [1].
    fates : sequence of SharedFate
        A gauge may be in several.

    Returns
    -------
    probability : float
        Exact but for rounding [1].

    Raises
    ------
    InputError
        If a probability isn't one, a gauge stands twice or isn't known, or more than 16 fates
        are shared.
    Faults
        If several things are wrong.

    Examples
    --------
    >>> of_three = Needed(1, (0, 1, 2))
    >>> round(answer_chance(of_three, (0.85, 0.85, 0.85), [SharedFate(0.95, (0, 1, 2))]), 3)
    0.947
    """
    gauges = needed_gauges(needed)
    _refuse(needed, gauges, gauge_survival, fates)
    alone = {gauge: float(gauge_survival[gauge]) for gauge in gauges}
    shared: list[tuple[float, frozenset[int]]] = []
    for fate in fates:
        touched = frozenset(fate.gauges) & frozenset(gauges)
        if len(touched) > 1:
            shared.append((float(fate.survival), touched))
        for gauge in touched if len(touched) == 1 else ():
            alone[gauge] *= fate.survival
    if len(shared) > MOST_FATES:
        raise InputError(
            "fates in common", len(shared), f"up to {MOST_FATES}", "ask for fewer gauges at once"
        )
    total = 0.0
    for state in itertools.product((True, False), repeat=len(shared)):
        weight, dead = 1.0, frozenset[int]()
        for survives, (survival, touched) in zip(state, shared, strict=True):
            weight *= survival if survives else 1 - survival
            dead |= frozenset() if survives else touched
        if weight:
            left = {gauge: 0.0 if gauge in dead else p for gauge, p in alone.items()}
            total += weight * _at_least(needed, left)
    return total


def _at_least(needed: Needed, alone: dict[int, float]) -> float:
    """Chance of a need where everything in it is independent."""
    counts = [1.0]
    for part in needed.parts:
        p = _at_least(part, alone) if isinstance(part, Needed) else alone[part]
        counts = [
            (counts[n] * (1 - p) if n < len(counts) else 0.0) + (counts[n - 1] * p if n else 0.0)
            for n in range(len(counts) + 1)
        ]
    return sum(counts[needed.least :])


def _refuse(
    needed: Needed,
    gauges: tuple[int, ...],
    gauge_survival: Sequence[float],
    fates: Sequence[SharedFate],
) -> None:
    with allowed.Together("chance of an answer") as given:
        given.holds("needed", gauges, "each gauge once", if_=len(set(gauges)) == len(gauges))
        known = all(0 <= gauge < len(gauge_survival) for gauge in gauges)
        given.holds("needed", gauges, f"numbers below {len(gauge_survival)}", if_=known)
        fits = _is_possible(needed)
        given.holds("least", needed.least, "from 0 to the number of parts", if_=fits)
        for survival in gauge_survival:
            given.within("gauge_survival", survival, (0.0, 1.0))
        for fate in fates:
            given.within("survival", fate.survival, (0.0, 1.0))


def _is_possible(needed: Needed) -> bool:
    inner = all(_is_possible(part) for part in needed.parts if isinstance(part, Needed))
    return inner and 0 <= needed.least <= len(needed.parts)
