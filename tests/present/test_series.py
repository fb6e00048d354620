from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from gaugewright.errors import InputError
from gaugewright.present.series import kept_rows, runs, thinned

numbers = st.one_of(st.just(np.nan), st.floats(-1e6, 1e6))


@settings(max_examples=60, deadline=None)
@given(y=arrays(np.float64, st.integers(1, 700), elements=numbers), points=st.integers(12, 200))
def test_no_gap_is_bridged_and_no_peak_is_lost(y, points):
    x = np.arange(y.size, dtype=float)
    rows = kept_rows(x, y, points)
    kept = y[rows]
    if np.isfinite(y).any():
        assert np.nanmax(kept) == np.nanmax(y)
        assert np.nanmin(kept) == np.nanmin(y)
    for a, b in pairwise(rows):
        if np.isfinite(y[a]) and np.isfinite(y[b]):
            assert np.isfinite(y[a : b + 1]).all()
    assert np.isfinite(kept).sum() <= max(points, 12)


@settings(max_examples=40, deadline=None)
@given(turns=st.integers(1, 30))
def test_a_loop_stays_a_loop(turns):
    angle = np.linspace(0, 2 * np.pi * turns, 5000)
    x, y = np.cos(angle), angle * np.sin(angle)
    thin = thinned(x, y, 600)
    assert (np.diff(thin.rows) > 0).all()
    assert thin.x.max() == x.max()
    assert thin.x.min() == x.min()


def test_a_short_series_is_kept_whole():
    assert kept_rows([1.0, 2.0], [np.nan, 1.0]).tolist() == [0, 1]


def test_nothing_measured_leaves_one_missing_sample():
    rows = kept_rows(np.arange(100.0), np.full(100, np.nan), 12)
    assert rows.tolist() == [0]


def test_an_empty_series_is_empty():
    assert kept_rows([], []).size == 0
    assert runs(np.array([]), np.array([])) == []


def test_unequal_lengths_are_refused():
    with pytest.raises(InputError, match="equally long"):
        kept_rows([1.0, 2.0], [1.0])


def test_runs_end_at_gaps_in_either_number():
    x = np.array([0.0, 1.0, np.nan, 3.0])
    y = np.array([np.nan, 1.0, 2.0, 3.0])
    assert runs(x, y) == [slice(1, 2), slice(3, 4)]
