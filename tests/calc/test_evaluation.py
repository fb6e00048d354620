"""Standard uncertainties from readings and from what is stated, coverage factors."""

import math
import statistics

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from gaugewright.calc.evaluation import (
    MEANINGS,
    coverage_factor,
    effective_degrees_of_freedom,
    mean_of_readings,
    scatter_between_and_within,
    stated_distribution,
    stated_standard_uncertainty,
)
from gaugewright.errors import InputError


@given(st.lists(st.floats(-1e3, 1e3), min_size=2, max_size=30))
def test_a_mean_agrees_with_the_standard_library(readings):
    ours = mean_of_readings(readings)
    assert ours.mean == pytest.approx(statistics.fmean(readings), abs=1e-9)
    expected = statistics.stdev(readings) / math.sqrt(len(readings))
    assert ours.standard_uncertainty == pytest.approx(expected, abs=1e-9)
    assert ours.degrees_of_freedom == len(readings) - 1


@pytest.mark.parametrize("readings", [[], [1.0], [1.0, math.nan]])
def test_too_few_readings_are_refused(readings):
    with pytest.raises(InputError, match=r"readings is"):
        mean_of_readings(readings)


@pytest.mark.parametrize("meaning", MEANINGS)
def test_a_plus_minus_gives_the_standard_deviation_of_its_distribution(meaning):
    half = 0.3
    expected = {
        "k=1": stats.norm(scale=half).std(),
        "k=2": stats.norm(scale=half / 2).std(),
        "k=3": stats.norm(scale=half / 3).std(),
        "limit": stats.uniform(-half, 2 * half).std(),
        "triangular": stats.triang(0.5, -half, 2 * half).std(),
        "unknown": stats.uniform(-half, 2 * half).std(),
    }
    assert stated_standard_uncertainty(half, meaning) == pytest.approx(expected[meaning])


def test_no_plus_minus_is_no_uncertainty():
    assert stated_standard_uncertainty(0.0, "limit") == 0.0


def test_an_unknown_meaning_is_taken_as_the_widest_of_the_usual_ones():
    assert stated_distribution("unknown") == "rectangular"
    others = [stated_standard_uncertainty(1.0, m) for m in ("k=2", "k=3", "limit", "triangular")]
    assert stated_standard_uncertainty(1.0, "unknown") == max(others)


@pytest.mark.parametrize(("plus_minus", "meaning"), [(-1.0, "k=1"), (math.nan, "k=1"), (1.0, "?")])
def test_an_impossible_plus_minus_is_refused(plus_minus, meaning):
    with pytest.raises(InputError, match=r"^(plus_minus|meaning) is"):
        stated_standard_uncertainty(plus_minus, meaning)


@given(st.floats(0.5, 200.0), st.floats(0.05, 0.995))
def test_the_coverage_factor_encloses_what_it_says(freedom, coverage):
    factor = coverage_factor(freedom, coverage).item()
    inside = stats.t.cdf(factor, freedom) - stats.t.cdf(-factor, freedom)
    assert inside == pytest.approx(coverage, abs=1e-9)


@pytest.mark.parametrize("coverage", [0.0, 1.0, 95.0, math.nan])
def test_an_impossible_coverage_is_refused(coverage):
    with pytest.raises(InputError, match=r"^coverage"):
        coverage_factor(5.0, coverage)


@given(st.lists(st.tuples(st.floats(0.01, 10), st.floats(1, 100)), min_size=1, max_size=6))
def test_effective_degrees_lie_between_the_smallest_and_the_sum(parts):
    effective = effective_degrees_of_freedom([u for u, _ in parts], [nu for _, nu in parts])
    assert min(nu for _, nu in parts) * (1 - 1e-9) <= effective
    assert effective <= sum(nu for _, nu in parts) * (1 + 1e-9)


def test_effective_degrees_without_uncertainty_are_infinite():
    assert effective_degrees_of_freedom([0.0], [3.0]) == math.inf
    with pytest.raises(InputError, match="as many as"):
        effective_degrees_of_freedom([0.1, 0.2], [3.0])


def test_scatter_agrees_with_an_analysis_of_variance_by_another_hand():
    generator = np.random.default_rng(20261125)
    groups = generator.normal(size=(6, 4)) + generator.normal(size=(6, 1))
    ours = scatter_between_and_within(groups.mean(1), groups.std(1, ddof=1), group_size=4)
    theirs = stats.f_oneway(*groups)
    assert ours.ratio == pytest.approx(theirs.statistic)
    assert ours.chance == pytest.approx(theirs.pvalue)
    assert (ours.degrees_of_freedom_between, ours.degrees_of_freedom_within) == (5, 18)


def test_groups_that_scatter_no_more_than_their_readings_share_nothing():
    assert scatter_between_and_within([1.0, 1.0, 1.0], [0.1, 0.2, 0.1], group_size=5).between == 0.0


@pytest.mark.parametrize(
    ("means", "deviations", "size"),
    [([1.0], [0.1], 5), ([1.0, 2.0], [0.1], 5), ([1.0, 2.0], [0.1, 0.1], 1), ([1, 2], [0, 0], 3)],
)
def test_scatter_of_too_little_is_refused(means, deviations, size):
    with pytest.raises(InputError):
        scatter_between_and_within(means, deviations, group_size=size)
