"""Cycles and temperature in a long record: found as made, doubted as much as they scatter."""

import math

import numpy as np
import pytest
from scipy.optimize import curve_fit
from scipy.stats import t as student

from gaugewright.calc.seasons import DAY, YEAR, season_fit, why_no_cycle
from gaugewright.errors import Faults, InputError

HOURS = np.arange(0, 2 * YEAR, 4 * 3600.0)


def wandering(rng: np.random.Generator, size: int, step: float, memory: float) -> np.ndarray:
    """Noise that forgets slowly: each value is mostly the one before."""
    noise = np.empty(size)
    noise[0] = rng.normal() * step / math.sqrt(1 - memory**2)
    for place in range(1, size):
        noise[place] = memory * noise[place - 1] + step * rng.normal()
    return noise


def test_what_was_put_in_comes_out_and_a_gap_stays_a_gap():
    yearly = 40e-6 * np.cos(2 * np.pi * (HOURS - 0.55 * YEAR) / YEAR)
    daily = 5e-6 * np.cos(2 * np.pi * (HOURS - 0.6 * DAY) / DAY)
    record = 120e-6 + 1e-12 * HOURS + yearly + daily
    record[900:1400] = np.nan
    fit = season_fit(HOURS, record, periods=(YEAR, DAY))
    year, day = fit.cycles
    assert (year.amplitude, day.amplitude) == (pytest.approx(40e-6), pytest.approx(5e-6))
    assert year.highest == pytest.approx(0.55 * YEAR, rel=1e-9)
    assert day.highest == pytest.approx(0.6 * DAY, rel=1e-9)
    assert fit.coefficients[1] == pytest.approx(1e-12, rel=1e-9)
    assert np.isnan(fit.seasonal[900:1400]).all()
    np.testing.assert_allclose(fit.seasonal[:900], (yearly + daily)[:900], atol=1e-12)


def test_a_step_where_a_connection_was_remade_is_no_season():
    yearly = 40e-6 * np.sin(2 * np.pi * HOURS / YEAR)
    later = (HOURS > 0.9 * YEAR).astype(np.int64)
    record = yearly + 55e-6 * later
    told = season_fit(HOURS, record, periods=(YEAR,), segments=later)
    assert told.cycles[0].amplitude == pytest.approx(40e-6, rel=1e-9)
    assert told.coefficients[1] - told.coefficients[0] == pytest.approx(55e-6, rel=1e-9)
    one = season_fit(HOURS, record, periods=(YEAR,))
    assert abs(one.cycles[0].amplitude - 40e-6) > 2e-6


def test_a_general_library_finds_the_same_coefficients():
    rng = np.random.default_rng(1)
    warm = 12 + 9 * np.cos(2 * np.pi * HOURS / YEAR) + wandering(rng, HOURS.size, 0.4, 0.9)
    record = 3e-6 * warm + rng.normal(0, 2e-6, HOURS.size)
    fit = season_fit(HOURS, record, temperature_degc=warm)
    middle, mean = (HOURS[0] + HOURS[-1]) / 2, warm.mean()

    def line(_, level, change, each):
        return level + change * (HOURS - middle) / YEAR + each * (warm - mean) / 10

    expected, _ = curve_fit(line, HOURS, record * 1e6)
    assert fit.terms == ("level 0", "change each second", "each kelvin")
    scaled = fit.coefficients * 1e6 * [1, YEAR, 10]
    assert scaled == pytest.approx(expected, rel=1e-5, abs=1e-7)


def test_the_stated_doubt_covers_the_truth_as_often_as_it_says_though_noise_remembers():
    rng = np.random.default_rng(2026)
    time = np.arange(0, 2 * YEAR, DAY)
    runs, inside = 300, 0
    for _ in range(runs):
        noise = wandering(rng, time.size, 1.0, 0.8)  # forgets within a week
        fit = season_fit(time, noise + 4 * np.cos(2 * np.pi * time / YEAR), periods=(YEAR,))
        found, doubt = fit.coefficients[2], fit.standard_uncertainties[2]
        inside += abs(found - 4) < student.ppf(0.975, fit.degrees_of_freedom) * doubt
    # 95 % of 300 runs is 285; by chance alone it moves by 4, and groups of 18 days cost a little.
    assert 0.89 * runs < inside < 0.99 * runs


def test_a_cycle_that_the_record_cannot_tell_is_refused_with_the_reason():
    half = HOURS[HOURS < 0.6 * YEAR]
    assert why_no_cycle(half, DAY) == ""
    with pytest.raises(InputError, match="shorter than one turn"):
        season_fit(half, np.sin(half), periods=(YEAR,))
    mornings = HOURS[np.mod(HOURS, DAY) < 0.3 * DAY]
    with pytest.raises(InputError, match="of the turn is never sampled"):
        season_fit(mornings, np.sin(mornings), periods=(DAY,))


def test_terms_that_say_the_same_are_refused():
    with pytest.raises(InputError, match="each kelvin"):
        season_fit(HOURS, HOURS, temperature_degc=np.full(HOURS.size, 20.0))
    with pytest.raises(InputError, match="told apart"):
        season_fit(HOURS, np.sin(HOURS), temperature_degc=HOURS)
    with pytest.raises(InputError, match="stretches of time"):
        season_fit(HOURS, np.sin(HOURS), periods=(YEAR, DAY), parts=5)


def test_all_faults_of_the_arguments_are_named():
    with pytest.raises(Faults) as caught:
        season_fit(HOURS, HOURS[1:], parts=1)
    assert "series" in str(caught.value)
    assert "parts" in str(caught.value)
    with pytest.raises(InputError, match="4 or more"):
        season_fit([0.0, 1.0, 2.0], [1.0, np.nan, 2.0])
