import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from gaugewright.calc.spares import chance_of_enough, installed_for
from gaugewright.calc.survival_chance import survival_beta
from gaugewright.errors import Faults, InputError

ENDLESS = 1e9


@given(st.integers(0, 60), st.integers(0, 60), st.floats(0.5, 80), st.floats(0.5, 20))
@settings(max_examples=60)
def test_chance_is_that_of_the_beta_binomial_law_of_another_hand(installed, wanted, one, other):
    found = chance_of_enough(installed, wanted, one, one + other)
    assert found == pytest.approx(stats.betabinom.sf(wanted - 1, installed, one, other), abs=1e-9)


@given(st.integers(1, 40), st.floats(2, 60), st.floats(0.5, 6), st.floats(0.5, 0.99))
@settings(max_examples=40)
def test_so_many_do_and_one_fewer_does_not(wanted, one, other, assurance):
    try:
        found = installed_for(wanted, one, one + other, assurance)
    except InputError:
        assert stats.betabinom.sf(wanted - 1, 50 * wanted, one, other) < assurance + 1e-9
        return
    assert stats.betabinom.sf(wanted - 1, found, one, other) >= assurance - 1e-9
    if found > wanted:
        assert stats.betabinom.sf(wanted - 1, found - 1, one, other) < assurance + 1e-9


def test_counts_without_end_give_the_binomial_law():
    found = chance_of_enough(20, 17, 0.9 * ENDLESS, ENDLESS)
    by_hand = sum(math.comb(20, k) * 0.9**k * 0.1 ** (20 - k) for k in range(17, 21))
    assert found == pytest.approx(by_hand, rel=1e-5)


def test_few_counts_ask_for_more_spares_than_many_of_the_same_share():
    few = installed_for(12, *_sum(survival_beta((9,), (10,))), 0.95)
    many = installed_for(12, *_sum(survival_beta((900,), (1000,))), 0.95)
    assert few > many > 12


def _sum(pair):
    return pair[0], sum(pair)


def test_none_wanted_needs_none_and_what_cannot_be_is_refused():
    assert installed_for(0, 5.5, 6.0, 0.95) == 0
    assert chance_of_enough(0, 0, 5.5, 6.0) == 1.0
    with pytest.raises(InputError, match="more spares don't help"):
        installed_for(10, 0.5, 30.0, 0.95)
    with pytest.raises(InputError, match="assurance"):
        installed_for(1, 5.5, 6.0, 1.0)
    with pytest.raises(InputError, match="installed"):
        chance_of_enough(-1, 1, 5.5, 6.0)
    with pytest.raises(Faults, match="wanted"):
        installed_for(-2, 7.0, 6.0, 0.95)
