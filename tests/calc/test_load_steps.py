"""Holds of a load: found where a made-up test has them, and nowhere else."""

import numpy as np
import pytest

from gaugewright.calc import load_steps
from gaugewright.errors import InputError
from tests.calc.stepped_test import Stepped, stepped

LEVELS = [20e3, 40e3, 60e3, 90e3, 60e3, 10e3, 90e3, 120e3]


def missed_and_false(made: Stepped, **settings: float) -> tuple[int, int]:
    """True holds without a found one, and found ones that mostly lie in no true hold."""
    found = load_steps.holds(made.time, made.load, **settings)
    spans = [(made.time[one.first], made.time[one.last], one.level) for one in found]
    missed = 0
    for begins, ends, level in made.holds:
        here = [s for s in spans if min(s[1], ends) - max(s[0], begins) > 0.6 * (ends - begins)]
        missed += not any(abs(s[2] - level) < 0.03 * max(LEVELS) for s in here)
    false = 0
    for begins, ends, _ in spans:
        inside = [min(ends, e) - max(begins, b) for b, e, _ in made.holds]
        false += max(inside) < 0.9 * (ends - begins) - 2.5
    return missed, false


@pytest.mark.parametrize("noise", [0.0, 20.0, 200.0])
@pytest.mark.parametrize("relaxation", [0.0, 0.02])
@pytest.mark.parametrize("seed", range(3))
def test_every_hold_is_found_and_no_other(noise: float, relaxation: float, seed: int) -> None:
    made = stepped(LEVELS, noise=noise, relaxation=relaxation, spikes=20, seed=seed)
    assert missed_and_false(made) == (0, 0)


def test_ends_of_holds_are_found_to_a_bin_and_a_half() -> None:
    made = stepped(LEVELS, noise=20.0)
    found = load_steps.holds(made.time, made.load)
    assert len(found) == len(made.holds)
    for one, (begins, ends, _) in zip(found, made.holds, strict=True):
        assert made.time[one.first] == pytest.approx(begins, abs=2.5)
        assert made.time[one.last] == pytest.approx(ends, abs=2.5)


@pytest.mark.parametrize("length", [300.0, 3600.0, 36_000.0])
@pytest.mark.parametrize("seed", range(3))
def test_a_ramp_has_no_hold_however_slow_it_is(length: float, seed: int) -> None:
    random = np.random.default_rng(seed)
    time = np.arange(0.0, length, length / 20_000)
    load = 200e3 * time / length + 30 * random.standard_normal(time.size)
    shortest = max(10.0, length / 500)
    assert load_steps.holds(time, load, shortest=shortest) == ()


@pytest.mark.parametrize("period", [0.3, 2.0, 20.0, 60.0])
def test_a_load_that_swings_has_no_hold(period: float) -> None:
    time = np.arange(0.0, 600.0, 0.02)
    load = 50e3 + 40e3 * np.sin(2 * np.pi * time / period)
    assert load_steps.holds(time, load) == ()


def test_a_record_without_load_is_one_hold() -> None:
    random = np.random.default_rng(5)
    time = np.arange(0.0, 300.0, 0.1)
    (one,) = load_steps.holds(time, 30 * random.standard_normal(time.size))
    assert one.last - one.first > 0.95 * time.size
    assert one.level == pytest.approx(0.0, abs=3.0)


def test_a_pause_of_the_recorder_ends_a_hold() -> None:
    time = np.concatenate((np.arange(0.0, 60.0, 0.1), np.arange(5000.0, 5060.0, 0.1)))
    first, second = load_steps.holds(time, np.zeros(time.size))
    assert time[first.last] < 61 < 4999 < time[second.first]


def test_missing_loads_are_passed_over() -> None:
    made = stepped(LEVELS, noise=20.0)
    load = made.load.copy()
    load[::7] = np.nan
    assert missed_and_false(Stepped(made.time, load, made.holds)) == (0, 0)


def test_few_samples_have_no_hold() -> None:
    assert load_steps.holds([0.0, 1.0], [0.0, 0.0]) == ()
    assert load_steps.holds([], []) == ()


def test_time_that_runs_back_is_refused() -> None:
    with pytest.raises(InputError, match="rising"):
        load_steps.holds([0.0, 2.0, 1.0], [0.0, 0.0, 0.0])


@pytest.mark.parametrize("setting", ["shortest", "share"])
def test_settings_that_make_no_sense_are_refused(setting: str) -> None:
    with pytest.raises(InputError, match=setting):
        load_steps.holds(np.arange(100.0), np.zeros(100), **{setting: 0.0})


def test_the_error_of_a_drift_covers_slow_wandering_too() -> None:
    """Slope of a record whose noise wanders: within two errors of the truth nearly always."""
    random = np.random.default_rng(11)
    outside = 0
    for _ in range(300):
        time = np.arange(0.0, 60.0, 0.1)
        wander = np.zeros(time.size)
        for n in range(1, time.size):  # first-order memory of a second
            wander[n] = 0.9 * wander[n - 1] + random.standard_normal()
        found = load_steps.drift(time, 0.5 * time + wander)
        outside += abs(found.rate - 0.5) > 2.45 * found.rate_error  # t of 6 freedoms, 95 %
    # Binomial with 5 %: 300 draws give 15 +- 4; blocks of 7.5 s leave little of the memory.
    assert outside < 35


def test_a_drift_needs_samples_over_some_time() -> None:
    with pytest.raises(InputError, match="8 or more"):
        load_steps.drift([0.0, 1.0], [0.0, 1.0])
