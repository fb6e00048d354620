"""Moments of simple beams against a sum over point loads by equilibrium."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import simple_beam
from gaugewright.calc.simple_beam import four_point_moment, spread_load_moment, three_point_moment
from gaugewright.errors import InputError


def by_equilibrium(loads, length, at):
    """Moment of the piece left of a station: reaction and the loads that stand on it."""
    reaction = sum(force * (length - place) / length for force, place in loads)
    return reaction * at - sum(force * max(at - place, 0.0) for force, place in loads)


@given(st.floats(0.5, 10), st.floats(0.01, 0.5), st.floats(0, 1), st.floats(-1e6, 1e6))
def test_two_loads(length, share, place, load):
    arm, at = share * length, place * length
    expected = by_equilibrium([(load / 2, arm), (load / 2, length - arm)], length, at)
    assert four_point_moment(load, length, arm, at) == pytest.approx(expected, abs=1e-6)


@given(st.floats(0.5, 10), st.floats(0.01, 0.99), st.floats(0, 1), st.floats(-1e6, 1e6))
def test_one_load(length, share, place, load):
    expected = by_equilibrium([(load, share * length)], length, place * length)
    found = three_point_moment(load, length, place * length, shear_span=share * length)
    assert found == pytest.approx(expected, abs=1e-6)


def test_a_spread_load_is_the_limit_of_many_small_ones():
    count, length = 20_000, 4.0
    each = [(5e3 * length / count, (i + 0.5) * length / count) for i in range(count)]
    for at in (0.3, 2.0, 3.9):
        expected = by_equilibrium(each, length, at)
        assert spread_load_moment(5e3, length, at) == pytest.approx(expected, rel=1e-6)


def test_an_overhang_carries_nothing_and_the_middle_is_the_default():
    assert four_point_moment(1e3, 2.0, 0.5, [-0.2, 2.2]).tolist() == [0.0, 0.0]
    assert three_point_moment(1e3, 2.0, [-0.2, 1.0, 2.2]).tolist() == [0.0, 500.0, 0.0]
    assert spread_load_moment(1e3, 2.0, [-0.2, 2.2]).tolist() == [0.0, 0.0]


def test_loads_that_changed_sides_are_refused():
    with pytest.raises(InputError, match="shear_span"):
        four_point_moment(1.0, 2.0, 1.1, 0.0)
    with pytest.raises(InputError, match="shear_span"):
        three_point_moment(1.0, 2.0, 0.0, shear_span=2.0)
    assert np.isnan(four_point_moment(1.0, 2.0, 1.0, np.nan))


def test_any_points_give_what_the_two_special_cases_give():
    at = np.linspace(0.0, 3.0, 31)
    four = simple_beam.point_loads_moment(80e3, (0.0, 3.0), [0.8, 2.2], [0.5, 0.5], at)
    assert four == pytest.approx(simple_beam.four_point_moment(80e3, 3.0, 0.8, at))
    three = simple_beam.point_loads_moment(80e3, (0.0, 3.0), 1.1, 1.0, at)
    assert three == pytest.approx(simple_beam.three_point_moment(80e3, 3.0, at, shear_span=1.1))


def test_a_load_on_an_overhang_pulls_the_upper_face():
    at = [-0.5, 0.0, 1.0, 2.0, 2.5, 2.6]
    found = simple_beam.point_loads_moment(10e3, (0.0, 2.0), [2.5], [1.0], at)
    # By hand: -P 0.5 m at the second support, straight from the first, and to the load.
    assert found.tolist() == pytest.approx([0.0, 0.0, -2500.0, -5000.0, 0.0, 0.0])


def test_points_and_shares_must_be_as_many():
    with pytest.raises(InputError, match="load_shares"):
        simple_beam.point_loads_moment(1.0, (0.0, 1.0), [0.5], [0.5, 0.5], 0.5)
    with pytest.raises(InputError, match="supports"):
        simple_beam.point_loads_moment(1.0, (1.0, 0.0), [0.5], [1.0], 0.5)
