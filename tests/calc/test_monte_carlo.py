"""Monte Carlo: draws, settling, intervals and its verdict on a linear budget."""

import math

import numpy as np
import pytest
from scipy import stats

from gaugewright.calc.monte_carlo import (
    deviations,
    first_order_agrees,
    monte_carlo,
    numerical_tolerance,
)
from gaugewright.calc.uncertainty import InputQuantity
from gaugewright.errors import InputError

HALF = 0.3


def generator():
    return np.random.default_rng(20261125)


@pytest.mark.parametrize(
    ("distribution", "reference"),
    [
        ("normal", stats.norm(scale=HALF)),
        ("rectangular", stats.uniform(-HALF * math.sqrt(3), 2 * HALF * math.sqrt(3))),
        ("triangular", stats.triang(0.5, -HALF * math.sqrt(6), 2 * HALF * math.sqrt(6))),
        ("arcsine", stats.arcsine(-HALF * math.sqrt(2), 2 * HALF * math.sqrt(2))),
        ("t", stats.t(5, scale=HALF)),
    ],
)
def test_draws_have_the_distribution_they_are_called_by(distribution, reference):
    quantity = InputQuantity("a", HALF, 5 if distribution == "t" else math.inf, distribution)
    drawn = deviations([quantity], 20_000, generator())["a"]
    # Chance of a wrong alarm one in a thousand, with one fixed seed.
    assert stats.kstest(drawn, reference.cdf).pvalue > 1e-3
    if distribution != "t":
        assert reference.std() == pytest.approx(HALF)


def test_inputs_are_drawn_independently_and_repeatably():
    inputs = [InputQuantity("a", 1.0), InputQuantity("b", 1.0)]
    drawn = deviations(inputs, 10_000, generator())
    assert abs(np.corrcoef(drawn["a"], drawn["b"])[0, 1]) < 0.04
    again = deviations(inputs, 10_000, generator())
    assert drawn["a"].tobytes() == again["a"].tobytes()


@pytest.mark.parametrize(
    ("u", "digits", "expected"),
    [
        (0.000035, 2, 0.0000005),
        (35.0, 2, 0.5),
        (2.0, 1, 0.5),
        (9.99, 2, 0.5),
        (9.94, 2, 0.05),
        (1e-6, 1, 5e-7),
    ],
)
def test_the_tolerance_is_half_of_the_last_digit(u, digits, expected):
    assert numerical_tolerance(u, digits) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(("u", "digits"), [(0.0, 2), (math.nan, 2), (math.inf, 2), (1.0, 0)])
def test_a_tolerance_of_nothing_is_refused(u, digits):
    with pytest.raises(InputError):
        numerical_tolerance(u, digits)


def test_a_run_has_settled_within_its_tolerance():
    run = monte_carlo(lambda d: 5.0 + 2 * d["a"], [InputQuantity("a", 0.5)], generator(), digits=2)
    assert run.tolerance == 0.05
    for found, expected in (
        (run.value, 5.0),
        (run.standard_uncertainty, 1.0),
        (run.low, 5.0 - 1.959964),
        (run.high, 5.0 + 1.959964),
    ):
        assert abs(found - expected) < run.tolerance
    assert run.trials % 10_000 == 0
    assert (np.diff(run.values) >= 0).all()


def test_a_high_coverage_takes_larger_batches():
    run = monte_carlo(
        lambda d: d["a"], [InputQuantity("a", 1.0)], generator(), coverage=0.999, digits=1
    )
    assert run.trials >= 2 * 100_000
    assert run.high == pytest.approx(stats.norm.ppf(0.9995), abs=0.1)


def test_the_shortest_interval_of_a_one_sided_result_begins_at_its_edge():
    run = monte_carlo(lambda d: d["a"] ** 2, [InputQuantity("a", 1.0)], generator(), digits=2)
    low, high = run.shortest_interval()
    assert low == pytest.approx(0.0, abs=1e-3)
    assert high == pytest.approx(stats.chi2(1).ppf(0.95), abs=0.1)
    assert high - low < run.high - run.low
    inside = np.mean((run.values >= low) & (run.values <= high))
    assert inside == pytest.approx(0.95, abs=1e-3)


def test_the_interval_ends_are_the_order_statistics_of_the_guide():
    # 7.7.2: q = pM and r = (M - q)/2, ends y(r) and y(r + q) counted from 1. The model gives
    # 0, 1, ... 9999 in every batch, so two batches of 10 000 settle: M = 20 000, r = 500.
    run = monte_carlo(
        lambda d: np.arange(10_000.0), [InputQuantity("a", 1.0)], generator(), coverage=0.95
    )
    assert run.trials == 20_000
    assert (run.low, run.high) == ((500 - 1) // 2, (500 + 19_000 - 1) // 2)


def test_a_model_without_uncertainty_settles_at_once():
    run = monte_carlo(lambda d: 3.0 + d["a"], [InputQuantity("a", 0.0)], generator())
    assert (run.value, run.standard_uncertainty, run.low, run.high) == (3.0, 0.0, 3.0, 3.0)


def test_a_result_without_variance_never_settles_and_says_so():
    heavy = InputQuantity("a", 1.0, 1.0, "t")
    with pytest.raises(InputError, match=r"largest_trials.*enough for the result to settle"):
        monte_carlo(lambda d: d["a"], [heavy], generator(), largest_trials=300_000)


def test_a_model_that_gives_no_number_is_refused():
    with pytest.raises(InputError, match=r"without a number for \d+ of 10000 draws"):
        monte_carlo(
            lambda d: np.where(d["a"] < 2, d["a"], np.nan), [InputQuantity("a", 1.0)], generator()
        )


@pytest.mark.parametrize("coverage", [0.0, 1.0, math.nan])
def test_an_impossible_coverage_is_refused(coverage):
    with pytest.raises(InputError, match=r"^coverage"):
        monte_carlo(lambda d: d["a"], [InputQuantity("a", 1.0)], generator(), coverage=coverage)


def test_a_curved_model_is_caught_and_a_straight_one_is_passed():
    inputs = [InputQuantity("a", 0.1)]
    tolerance = numerical_tolerance(0.1, 1)

    def verdict(model, slope):
        run = monte_carlo(model, inputs, generator(), tolerance=tolerance / 5)
        return first_order_agrees(1.0, 1.959964 * 0.1 * slope, run, tolerance=tolerance)

    assert verdict(lambda d: 1.0 + d["a"], 1.0).agrees
    # exp(3a) has slope 3 at 0 and leans: its upper end lies farther out than its lower one.
    curved = verdict(lambda d: np.exp(3 * d["a"]), 3.0)
    assert not curved.agrees
    assert curved.high_difference > tolerance
