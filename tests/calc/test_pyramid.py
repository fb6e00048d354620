"""Extremes of stretches of rows, held against taking each stretch by hand."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc.pyramid import bins_of, joined_bins
from gaugewright.errors import InputError

readings = st.lists(st.one_of(st.floats(-9, 9), st.just(float("nan"))), max_size=70)


def by_hand(values, size):
    low, high, missing = [], [], []
    for start in range(0, len(values), size):
        there = [v for v in values[start : start + size] if v == v]
        low.append(min(there) if there else float("nan"))
        high.append(max(there) if there else float("nan"))
        missing.append(len(there) < len(values[start : start + size]))
    return low, high, missing


@given(values=readings, size=st.integers(1, 9))
def test_bins_agree_with_taking_each_stretch(values, size):
    found = bins_of(values, size)
    low, high, missing = by_hand(values, size)
    np.testing.assert_array_equal(found.low, low)
    np.testing.assert_array_equal(found.high, high)
    assert found.missing.tolist() == missing


@given(values=readings, size=st.integers(1, 5), together=st.integers(1, 5))
def test_joining_bins_is_the_same_as_coarser_bins(values, size, together):
    joined = joined_bins(bins_of(values, size), together)
    direct = bins_of(values, size * together)
    np.testing.assert_array_equal(joined.low, direct.low)
    np.testing.assert_array_equal(joined.high, direct.high)
    assert joined.missing.tolist() == direct.missing.tolist()


def test_a_spike_of_one_sample_is_never_lost():
    values = np.zeros(100_000)
    values[54_321] = 7.0
    assert bins_of(values, 4096).high.max() == 7.0


@pytest.mark.parametrize("size", [0, -3])
def test_a_bin_holds_at_least_one_row(size):
    with pytest.raises(InputError):
        bins_of([1.0], size)
    with pytest.raises(InputError):
        joined_bins(bins_of([1.0], 1), size)
