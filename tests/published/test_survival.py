"""Survival: exact limits of a proportion, and product-limit estimates printed elsewhere."""

from math import comb

import numpy as np
import pytest

from gaugewright.calc.survival import proportion_interval, survival_curve


def at_most(number: int, trials: int, probability: float) -> float:
    """Binomial sum, written without the beta function."""
    return sum(
        comb(trials, k) * probability**k * (1 - probability) ** (trials - k)
        for k in range(number + 1)
    )


@pytest.mark.published(
    where="NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.4.2: 4 of 20, 90 %; the two "
    "equations sum(0..Nd) = alpha/2 and sum(0..Nd-1) = 1 - alpha/2; limits 0.071354 and 0.401029",
    seen="equations and the example's counts in a stored copy of the page; its two limits from "
    "memory, the upper found there by a spreadsheet's goal seek",
)
def test_limits_of_four_in_twenty() -> None:
    low, high = proportion_interval(4, 20, 0.90)
    assert at_most(4, 20, high) == pytest.approx(0.05, abs=1e-12)
    assert at_most(3, 20, low) == pytest.approx(0.95, abs=1e-12)
    assert low == pytest.approx(0.071354, abs=5e-7)
    assert high == pytest.approx(0.401029, abs=2e-6)


@pytest.mark.published(
    where="Clopper and Pearson as R package GenBinomApps 1.2 states them: for k = 0 the interval "
    "is (0, 1 - (alpha/2)^(1/n)), for k = n it is ((alpha/2)^(1/n), 1)",
    seen="its public manual page",
)
@pytest.mark.parametrize("exposed", [1, 7, 48])
def test_limits_where_all_or_none_came_through(exposed: int) -> None:
    end = 0.025 ** (1 / exposed)
    assert proportion_interval(exposed, exposed) == pytest.approx((end, 1.0), abs=1e-12)
    assert proportion_interval(0, exposed) == pytest.approx((0.0, 1 - end), abs=1e-12)


@pytest.mark.published(
    where="NIST/SEMATECH e-Handbook of Statistical Methods, 8.2.1.5: 20 units, failures at 10, 32, "
    "56, 98, 122 and 181 hours, 4 removed at 50, 100, 125 and 150, the rest at 200; R(10) = 19/20, "
    "R(32) = 19/20 x 18/19, then R(t_i) = R(t_i-1) (n_i - 1)/n_i",
    seen="a stored copy of the page: data, steps and the first products",
)
def test_a_life_test_with_units_removed() -> None:
    failed, removed = [10, 32, 56, 98, 122, 181], [50, 100, 125, 150, *[200] * 10]
    found = survival_curve([*failed, *removed], [True] * 6 + [False] * 14)
    wanted, reliability = [], 1.0
    for time in failed:
        left = sum(other >= time for other in (*failed, *removed))
        reliability *= (left - 1) / left
        wanted.append(reliability)
    assert wanted[0] == pytest.approx(19 / 20)
    assert wanted[1] == pytest.approx(19 / 20 * 18 / 19)
    assert found.survival[np.isin(found.exit_times, failed)] == pytest.approx(wanted, abs=1e-12)


@pytest.mark.published(
    where="V. Bewick, L. Cheek, J. Ball, Critical Care 8 (2004) 389, Table 2: times 1, 1, 4, 5, "
    "6+, 9, 9+, 22; S = 0.750, 0.625, 0.500, 0.333, 0.000",
    seen="the table on the journal's public page",
)
def test_eight_times_with_two_seen_sound_last() -> None:
    times = [1, 1, 4, 5, 6, 9, 9, 22]
    found = survival_curve(times, [True, True, True, True, False, True, False, True])
    at = dict(zip(found.exit_times.tolist(), found.survival.tolist(), strict=True))
    printed = {1: 0.750, 4: 0.625, 5: 0.500, 9: 0.333, 22: 0.000}
    for time, value in printed.items():
        assert at[float(time)] == pytest.approx(value, abs=5e-4)
