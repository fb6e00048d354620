"""Chances of an answer against counting every case, and against drawing cases by chance."""

import itertools

import numpy as np
import pytest

from gaugewright.calc.answer_chance import Needed, SharedFate, answer_chance, needed_gauges
from gaugewright.errors import Faults, InputError


def is_answered(needed: Needed, alive: set[int]) -> bool:
    """A need looked at part by part, as its words say."""
    held = sum(
        is_answered(part, alive) if isinstance(part, Needed) else part in alive
        for part in needed.parts
    )
    return held >= needed.least


def counted(needed: Needed, survival: list[float], fates: list[SharedFate]) -> float:
    """Every case of every gauge and every fate, added up."""
    total = 0.0
    gauges = range(len(survival))
    for own in itertools.product((True, False), repeat=len(survival)):
        for shared in itertools.product((True, False), repeat=len(fates)):
            p = np.prod([s if a else 1 - s for a, s in zip(own, survival, strict=True)])
            p *= np.prod(
                [f.survival if a else 1 - f.survival for a, f in zip(shared, fates, strict=True)]
            )
            dead = {g for f, a in zip(fates, shared, strict=True) if not a for g in f.gauges}
            alive = {g for g in gauges if own[g]} - dead
            total += float(p) * is_answered(needed, alive)
    return total


PAIRS = Needed(2, (Needed(1, (0, 1)), Needed(1, (2, 3))))
ROW = Needed(3, (0, Needed(1, (1, 2)), Needed(2, (3, 4)), 5))


@pytest.mark.parametrize("needed", [PAIRS, ROW, Needed(0, (1,)), Needed(2, (5, 3, 1))])
def test_equals_the_sum_over_every_case(needed: Needed) -> None:
    survival = [0.9, 0.8, 0.7, 0.95, 0.6, 0.85]
    fates = [
        SharedFate(0.95, (0, 2, 4)),
        SharedFate(0.9, (1, 2, 3)),
        SharedFate(0.8, (5,)),
        SharedFate(0.97, (0, 1, 2, 3, 4, 5)),
    ]
    assert answer_chance(needed, survival, fates) == pytest.approx(
        counted(needed, survival, fates), abs=1e-13
    )


def test_agrees_with_cases_drawn_by_chance() -> None:
    survival, fates = [0.85] * 6, [SharedFate(0.9, (0, 1, 2)), SharedFate(0.93, (2, 3, 4, 5))]
    draws = 200_000
    rng = np.random.default_rng(8)
    alive = rng.random((draws, 6)) < survival
    for fate in fates:
        alive[:, list(fate.gauges)] &= (rng.random(draws) < fate.survival)[:, np.newaxis]
    enough = alive[:, 0].astype(int) + (alive[:, 1] | alive[:, 2])
    enough += (alive[:, 3] & alive[:, 4]).astype(int) + alive[:, 5]
    share = float(np.mean(enough >= 3))
    spread = np.sqrt(share * (1 - share) / draws)
    assert answer_chance(ROW, survival, fates) == pytest.approx(share, abs=4.5 * spread)


def test_two_bundles_are_better_than_one_for_a_pair() -> None:
    pair = Needed(1, (0, 1))
    one = answer_chance(pair, (0.85, 0.85), [SharedFate(0.95, (0, 1))])
    two = answer_chance(pair, (0.85, 0.85), [SharedFate(0.95, (0,)), SharedFate(0.95, (1,))])
    assert one == pytest.approx(0.95 * (1 - 0.15**2))
    assert two == pytest.approx(1 - (1 - 0.85 * 0.95) ** 2)
    assert two > one


def test_a_fate_of_none_that_is_needed_changes_nothing() -> None:
    assert answer_chance(Needed(1, (0,)), (0.9, 0.5), [SharedFate(0.1, (1,))]) == 0.9


def test_what_cannot_be_is_refused_by_name() -> None:
    with pytest.raises(InputError, match="each gauge once"):
        answer_chance(Needed(1, (0, 0)), (0.9,))
    with pytest.raises(InputError, match="least"):
        answer_chance(Needed(3, (0, 1)), (0.9, 0.9))
    with pytest.raises(Faults):
        answer_chance(Needed(1, (0,)), (1.2,), [SharedFate(-0.1, (0,))])
    many = [SharedFate(0.9, (0, 1)) for _ in range(17)]
    with pytest.raises(InputError, match="fates in common"):
        answer_chance(Needed(1, (0, 1)), (0.9, 0.9), many)


def test_gauges_of_a_need_come_in_its_order() -> None:
    assert needed_gauges(ROW) == (0, 1, 2, 3, 4, 5)
