"""One quantity on two channels: gain and offset without the pull of noise, doubts that hold."""

import numpy as np
import pytest
from scipy import odr
from scipy.stats import t as student

from gaugewright.calc.twice_recorded import agreement, line_both_doubtful, means_around
from gaugewright.errors import Faults, InputError

MOVES = 100 * np.sin(np.linspace(0, 20, 4000)) + np.linspace(0, 50, 4000)


def test_gain_and_offset_come_back_though_both_are_noisy():
    rng = np.random.default_rng(7)
    first = MOVES + rng.normal(0, 30, MOVES.size)
    second = 1.02 * MOVES - 4 + rng.normal(0, 5, MOVES.size)
    found = agreement(first, second, noise_first=30, noise_second=5)
    k = student.ppf(0.975, found.degrees_of_freedom)
    assert abs(found.gain - 1.02) < k * found.gain_uncertainty
    assert abs(found.zero + 4) < k * found.zero_uncertainty
    plain = np.polyfit(first, second, 1)[0]  # low by the share of the first's noise
    assert plain < 1.02 - 5 * found.gain_uncertainty
    assert found.residual == pytest.approx(found.noise, rel=0.05)


def test_what_is_alike_for_long_counts_in_the_doubt():
    inside, runs = 0, 200
    rng = np.random.default_rng(11)
    for _ in range(runs):
        slow = np.repeat(rng.normal(0, 2, 50), MOVES.size // 50)
        found = agreement(MOVES, MOVES + slow, noise_first=0.1, noise_second=0.1)
        k = student.ppf(0.975, found.degrees_of_freedom)
        inside += abs(found.gain - 1) < k * found.gain_uncertainty
    # A jackknife over twenty parts of a slow curve isn't exact: most of 95 in 100 is asked for.
    assert inside > 0.85 * runs


def test_without_any_noise_the_line_is_exact_and_gaps_do_not_count():
    first = MOVES.copy()
    first[10:500] = np.nan
    found = agreement(first, -0.5 * MOVES + 3, noise_first=0.0, noise_second=0.0)
    assert (found.gain, found.zero) == (pytest.approx(-0.5), pytest.approx(3))
    assert found.samples == MOVES.size - 490


def test_what_cannot_be_compared_is_refused():
    with pytest.raises(InputError, match="samples in common"):
        agreement(MOVES[:50], MOVES[:50], noise_first=1, noise_second=1)
    with pytest.raises(InputError, match="several"):
        agreement(np.ones(100), MOVES[:100], noise_first=1, noise_second=1)
    with pytest.raises(Faults):
        agreement(MOVES, MOVES[1:], noise_first=-1, noise_second=1)
    with pytest.raises(InputError, match="not both 0"):
        line_both_doubtful([0, 1, 2], [0, 1, 2], [0, 1, 1], [0, 1, 1])


def test_a_general_library_finds_the_same_line_through_points_doubtful_both_ways():
    rng = np.random.default_rng(3)
    x = np.linspace(0, 10, 25)
    of_x, of_y = rng.uniform(0.1, 0.4, 25), rng.uniform(0.2, 1.0, 25)
    along, up = x + rng.normal(0, of_x), 3 - 2 * x + rng.normal(0, of_y)
    data = odr.RealData(along, up, of_x, of_y)
    found = odr.ODR(data, odr.polynomial(1), beta0=[1.0, -1.0]).run()
    line = line_both_doubtful(along, up, of_x, of_y)
    assert [line.zero, line.gain] == pytest.approx(found.beta, rel=1e-6)


def test_means_over_a_stretch_are_integrals_of_the_lines_between_samples():
    time = np.sort(np.random.default_rng(4).uniform(0, 10, 200))
    values = np.sin(time)
    fine = np.linspace(3.1, 3.9, 80_001)
    expected = np.trapezoid(np.interp(fine, time, values), fine) / 0.8
    assert means_around(time, values, [3.5], period=0.8)[0] == pytest.approx(expected, rel=1e-7)
    assert np.isnan(means_around(time, values, [time[0], time[-1]], period=0.8)).all()
