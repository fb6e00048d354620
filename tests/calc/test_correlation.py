"""Clocks joined by what both recorders followed, on signals made apart from the code."""

import numpy as np
import pytest
import scipy.ndimage
import scipy.signal
import scipy.stats

from gaugewright.calc.correlation import clock_by_signal
from gaugewright.errors import InputError

pytestmark = pytest.mark.full


class Pair:
    """Two recorders of one load history: ramps, holds and a slow wave, each with its own noise."""

    def __init__(self, rng: np.random.Generator) -> None:
        knots = np.cumsum(rng.uniform(2, 20, rng.integers(12, 60)))
        levels = rng.normal(size=knots.size) * rng.uniform(0.5, 2)
        self.offset, self.rate = rng.uniform(-20, 20), rng.normal() * 5e-5
        steps, noise = rng.choice([0.02, 0.05, 0.1, 0.2, 0.5], 2), 10 ** rng.uniform(-3, -1, 2)
        gain = rng.choice([-1, 1]) * 10 ** rng.uniform(-2, 2)

        def load(time: np.ndarray) -> np.ndarray:
            return np.interp(time, knots, levels) + 0.3 * np.sin(time / 7.3)

        self.reference_time = np.arange(rng.uniform(0, steps[0]), knots[-1], steps[0])
        self.time = np.arange(0, 0.9 * knots[-1], steps[1])
        there = self.offset + (1 + self.rate) * self.time
        self.reference = load(self.reference_time)
        self.reference += noise[0] * rng.normal(size=self.reference.size)
        self.signal = 5 + gain * (load(there) + noise[1] * rng.normal(size=self.time.size))

    def joined(self, instants):
        return clock_by_signal(
            self.reference_time,
            self.reference,
            self.time,
            self.signal,
            largest_offset=40,
            instants=instants,
        )


def test_the_true_clock_lies_within_its_doubt_as_often_as_stated() -> None:
    rng = np.random.default_rng(20261126)
    inside = np.zeros(2, dtype=int)
    trials = 400
    for _ in range(trials):
        pair = Pair(rng)
        instants = np.array([pair.time.mean(), pair.time[0]])
        fit = pair.joined(instants)
        wrong = fit.offset + (1 + fit.rate) * instants - pair.offset - (1 + pair.rate) * instants
        inside += np.abs(wrong) < 1.96 * fit.standard_uncertainty
    # Not fewer than chance allows (1 in 1000); more only because the larger doubt is taken.
    assert inside.min() >= scipy.stats.binom.ppf(0.001, trials, 0.95)
    assert inside.max() < trials


def test_agrees_with_the_delay_of_a_general_library_to_a_step() -> None:
    rng = np.random.default_rng(3)
    series = scipy.ndimage.gaussian_filter1d(rng.normal(size=4000), 4.0)
    first, second = series[:3000], 2.0 * series[137:3137] + 1
    lags = scipy.signal.correlation_lags(3000, 3000)
    full = scipy.signal.correlate(first - first.mean(), second - second.mean())
    time = np.arange(3000) * 0.1
    fit = clock_by_signal(time, first, time, second, largest_offset=100, instants=[0.0])
    assert fit.offset == pytest.approx(0.1 * lags[np.argmax(full)], abs=0.1)
    assert fit.offset == pytest.approx(13.7, abs=1e-3)
    assert (fit.gain, fit.zero) == pytest.approx((2.0, 1.0), rel=1e-3)


def test_a_repeated_load_is_refused_with_both_places() -> None:
    time = np.arange(0, 100, 0.05)
    wave = np.sin(2 * np.pi * time / 10)
    with pytest.raises(InputError, match="both lay the signals over each other"):
        clock_by_signal(time, wave, time, wave, largest_offset=30, instants=[0.0])
    fit = clock_by_signal(time, wave, time, wave, largest_offset=3, instants=[0.0])
    assert fit.offset == pytest.approx(0.0, abs=1e-9)


def test_missing_samples_are_left_out_and_a_silent_column_is_refused() -> None:
    pair = Pair(np.random.default_rng(11))
    whole = pair.joined([0.0])
    pair.signal[::7] = np.nan
    gappy = pair.joined([0.0])
    assert abs(gappy.offset - whole.offset) < 3 * whole.standard_uncertainty[0]
    pair.signal[:] = 4.0
    with pytest.raises(InputError, match="signal is 'always the same'"):
        pair.joined([0.0])


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda p: setattr(p, "signal", p.signal[:-1]), "as long as its time"),
        (lambda p: setattr(p, "time", p.time[::-1]), "goes back"),
        (lambda p: setattr(p, "time", p.time + 1e5), "allow a larger offset"),
        (
            lambda p: setattr(p, "signal", np.random.default_rng(1).normal(size=p.time.size)),
            "noise",
        ),
    ],
)
def test_what_cannot_be_joined_is_refused(change, words) -> None:
    pair = Pair(np.random.default_rng(12))
    change(pair)
    with pytest.raises(InputError, match=words):
        pair.joined([0.0])
