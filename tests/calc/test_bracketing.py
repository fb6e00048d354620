"""Zeros of many functions at once against one-by-one ones by scipy."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from gaugewright.calc import bracketing


@given(st.lists(st.floats(-5, 5), min_size=1, max_size=8), st.integers(1, 5))
def test_each_zero_is_that_of_its_own_function(offsets, odd):
    shift = np.array(offsets)

    def function(x):
        return np.sign(x - shift) * np.abs(x - shift) ** odd + 0.1 * (x - shift)

    found = bracketing.zeros(function, np.full(shift.shape, -9.0), np.full(shift.shape, 7.0), 1e-12)
    for i, value in enumerate(shift):
        one = brentq(lambda x, v=value: np.sign(x - v) * abs(x - v) ** odd + 0.1 * (x - v), -9, 7)
        assert found[i] == pytest.approx(one, abs=1e-9)


def test_a_zero_at_an_end_and_a_jump_are_found_and_no_bracket_is_nan():
    def function(x):
        return np.array([x[0], np.where(x[1] < 0.3, -1.0, 2.0), x[2] ** 2 + 1, np.nan * x[3]])

    found = bracketing.zeros(function, np.array([0.0, 0, -1, 0]), np.ones(4), 1e-12)
    assert found[:2] == pytest.approx([0.0, 0.3], abs=1e-11)
    assert np.isnan(found[2:]).all()


def test_brackets_grow_to_hold_the_zero_and_give_up_beyond_the_largest():
    zero = np.array([0.0, 0.3, -0.2, 50.0])
    low, high = bracketing.grown(
        lambda x: x - zero, np.full(4, -1e-9), np.full(4, 1e-9), largest=1.0
    )
    assert np.all(low[:3] <= zero[:3])
    assert np.all(high[:3] >= zero[:3])
    assert np.isnan([low[3], high[3]]).all()
