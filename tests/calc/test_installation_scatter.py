"""Scatter of a laboratory's gauges, found again from gauges drawn with a known one."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc.installation_scatter import bare_bar_scatter, pair_scatter
from gaugewright.errors import InputError


def test_a_known_scatter_is_found_again_from_pairs_and_from_bare_bars():
    rng = np.random.default_rng(20261125)
    one, two = 1 + rng.normal(0.0, 0.012, (2, 5000))
    # 5000 pairs tell a standard deviation to 1 %; four of those.
    assert pair_scatter(one, two).standard_uncertainty == pytest.approx(0.012, rel=0.04)
    found = bare_bar_scatter(0.99 * one)
    assert found.mean == pytest.approx(0.99, abs=4 * 0.012 / np.sqrt(5000))
    assert found.standard_uncertainty == pytest.approx(0.012, rel=0.04)


@given(
    st.lists(st.floats(0.9, 1.1), min_size=2, max_size=9),
    st.data(),
    st.floats(1e-9, 1e3),
)
def test_units_and_the_order_within_pairs_do_not_count(one, data, unit):
    two = data.draw(st.lists(st.floats(0.9, 1.1), min_size=len(one), max_size=len(one)))
    found = pair_scatter(one, two)
    again = pair_scatter(np.array(two) * unit, np.array(one) * unit)
    same = pytest.approx(found.standard_uncertainty, rel=1e-9, abs=1e-12)
    assert again.standard_uncertainty == same
    assert again.degrees_of_freedom == len(one)


def test_pairs_that_read_alike_have_no_scatter_and_one_pair_is_enough_to_say_so():
    assert pair_scatter([1.0], [1.0]).standard_uncertainty == 0.0


@pytest.mark.parametrize("bad", [[1.0, np.nan], [1.0, 0.0], [1.0, -1.0]])
def test_a_missing_or_impossible_slope_is_counted_and_refused(bad):
    with pytest.raises(InputError, match="1 of 2 missing"):
        bare_bar_scatter(bad)
    with pytest.raises(InputError, match="1 of 2 missing"):
        pair_scatter([1.0, 1.0], bad)


def test_too_few_are_refused():
    with pytest.raises(InputError, match="2 or more"):
        bare_bar_scatter([1.0])
    with pytest.raises(InputError, match="that of first_slopes"):
        pair_scatter([1.0, 1.0], [1.0])
