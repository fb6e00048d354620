"""Spans, repeats, noise and lines, held against counting by hand and a general library."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from gaugewright.calc import quality
from gaugewright.errors import InputError


@given(mask=st.lists(st.booleans(), max_size=80))
def test_spans_cover_exactly_the_true_rows_and_never_touch(mask):
    spans = quality.spans_where(mask)
    rows = [row for span in spans for row in range(span.first, span.last + 1)]
    assert rows == [row for row, flag in enumerate(mask) if flag]
    for earlier, later in itertools.pairwise(spans):
        assert later.first > earlier.last + 1


@given(
    values=st.lists(st.sampled_from([0.0, 1.0, float("nan")]), max_size=60),
    at_least=st.integers(2, 6),
)
def test_equal_runs_agree_with_walking_through(values, at_least):
    expected = []
    start = 0
    for row in range(1, len(values) + 1):
        if row == len(values) or values[row] != values[row - 1]:
            if row - start >= at_least:
                expected.append((start, row - 1))
            start = row
    found = [(run.first, run.last) for run in quality.equal_runs(values, at_least=at_least)]
    assert found == expected


def test_noise_floor_is_blind_to_slow_change_and_to_a_few_steps():
    rng = np.random.default_rng(11)
    time = np.arange(40_000)
    noise = rng.normal(0, 3e-6, time.size)
    slow = 1e-3 * np.sin(time / 5000) + np.where(time > 20_000, 5e-3, 0.0)
    # The estimate's own relative standard deviation is about 1.2/sqrt(n): 0.6 %.
    assert quality.noise_floor(slow + noise) == pytest.approx(3e-6, rel=0.03)


def test_what_a_noise_is_taken_of_stays_as_it_was():
    values = np.array([3.0, 1.0, np.nan, 2.0, 5.0, 4.0, 7.0])
    before = values.copy()
    quality.noise_floor(values)
    quality.robust_spread(values)
    np.testing.assert_array_equal(values, before)


def test_noise_floor_of_too_few_readings_is_missing():
    assert np.isnan(quality.noise_floor([1.0, 2.0]))
    assert np.isnan(quality.noise_floor([1.0, np.nan, 2.0, np.nan]))


def test_robust_spread_of_nothing_is_missing():
    assert np.isnan(quality.robust_spread([np.nan]))


@given(
    slope=st.floats(-5, 5),
    intercept=st.floats(-5, 5),
    seed=st.integers(0, 2**32 - 1),
)
def test_line_agrees_with_a_general_library(slope, intercept, seed):
    rng = np.random.default_rng(seed)
    x = rng.uniform(-3, 3, 40)
    y = slope * x + intercept + rng.normal(0, 0.1, 40)
    y[3] = np.nan
    good = np.isfinite(y)
    other = stats.linregress(x[good], y[good])
    found = quality.line_through(x, y)
    assert found[0] == pytest.approx(other.slope, rel=1e-9, abs=1e-12)
    assert found[1] == pytest.approx(other.intercept, rel=1e-9, abs=1e-12)
    assert found[2] == pytest.approx(other.stderr, rel=1e-9)


@pytest.mark.parametrize("x", [[1.0, 2.0], [1.0, 1.0, 1.0, 1.0]])
def test_a_line_needs_three_points_and_some_spread(x):
    with pytest.raises(InputError):
        quality.line_through(x, [1.0] * len(x))


def test_a_run_of_one_is_no_run():
    with pytest.raises(InputError, match=r"^at_least"):
        quality.equal_runs([1.0], at_least=1)
