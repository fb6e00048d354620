"""First passage of a threshold and the load that belongs to it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import onset
from gaugewright.errors import InputError


def by_hand(strain, threshold, persist):
    """First index with that many samples above in a row, by looking at every window."""
    for index in range(len(strain) - persist + 1):
        if all(value > threshold for value in strain[index : index + persist]):
            return index
    return None


@given(
    strain=st.lists(st.one_of(st.floats(-5, 5), st.just(float("nan"))), max_size=60),
    threshold=st.floats(-3, 3),
    persist=st.integers(1, 6),
)
def test_first_passage_agrees_with_looking_at_every_window(strain, threshold, persist):
    found = onset.first_passage(strain, threshold, persist=persist)
    assert found == by_hand(strain, threshold, persist)


@given(
    stiffness=st.floats(5e7, 5e8),
    threshold=st.floats(1e-3, 4e-3),
    start=st.floats(-2e-4, 2e-4),
)
def test_a_straight_line_passes_where_it_must(stiffness, threshold, start):
    load = np.linspace(0, 1.3 * stiffness * threshold + stiffness * 4e-4, 800)
    strain = start + load / stiffness
    found = onset.passage(load, strain, threshold)
    assert found is not None
    assert found.load == pytest.approx((threshold - start) * stiffness, rel=1e-9)
    assert found.slope == pytest.approx(1 / stiffness, rel=1e-9)


def test_a_plateau_after_the_passage_does_not_bend_the_load():
    load = np.concatenate([np.linspace(0, 100e3, 1001), np.full(500, 100.2e3)])
    strain = np.concatenate([load[:1001] / 40e6, 2.5e-3 + np.linspace(1e-6, 10e-3, 500)])
    found = onset.passage(load, strain, 2.4e-3, persist=5)
    assert found is not None
    assert found.load == pytest.approx(96e3, rel=1e-6)


def test_one_spike_above_is_no_passage():
    strain = np.linspace(0, 1e-3, 200)
    strain[50] = 5e-3
    assert onset.passage(np.linspace(0, 50e3, 200), strain, 2e-3) is None


def test_a_record_that_breaks_off_shows_no_passage():
    strain = np.linspace(0, 3e-3, 300)
    strain[195:] = np.nan
    assert onset.passage(np.linspace(0, 50e3, 300), strain, 2e-3) is None


def test_noise_moves_the_load_by_no_more_than_noise_can():
    # Passage is judged by five scans, each noisy: bias and scatter stay within a few noise widths.
    rng = np.random.default_rng(5)
    load = np.linspace(0, 130e3, 5000)
    noise = 2e-6
    found = [
        onset.passage(load, load / 40e6 + rng.normal(0, noise, load.size), 2.4e-3)
        for _ in range(50)
    ]
    errors = np.array([one.load for one in found if one]) - 96e3
    assert len(errors) == 50
    assert np.abs(errors).max() < 5 * noise * 40e6


@pytest.mark.parametrize("threshold", [0.0, -1e-3, float("nan")])
def test_a_threshold_that_is_not_positive_is_refused(threshold):
    with pytest.raises(InputError, match=r"^threshold"):
        onset.passage([0.0, 1.0], [0.0, 1.0], threshold)


def test_strain_that_does_not_rise_with_load_is_refused():
    strain = np.concatenate([np.linspace(0, 1.9e-3, 50), np.linspace(1.9e-3, 3e-3, 50)])
    load = np.concatenate([np.linspace(0, 9e4, 50), np.linspace(9e4, 1e4, 50)])
    with pytest.raises(InputError, match="slope"):
        onset.passage(load, strain, 2.5e-3)


def test_a_leap_over_the_threshold_between_two_samples_gives_no_load_that_was_never_there():
    # Elastic up to 100 kN and 2.5e-3, then 4e-3 at the next sample: the threshold lies in the leap.
    load = np.concatenate([np.arange(0, 100.1e3, 2e3), np.full(20, 100.5e3)])
    strain = np.concatenate([load[:51] / 40e6, np.linspace(4e-3, 5e-3, 20)])
    found = onset.passage(load, strain, 2.7e-3)
    assert found is not None
    assert 100e3 <= found.load <= 100.5e3


def test_a_plateau_right_after_the_threshold_doesnt_pull_the_load_down():
    load = np.concatenate([np.arange(0, 100.1e3, 2e3), np.full(20, 100.2e3)])
    strain = np.concatenate([load[:51] / 40e6, np.linspace(6e-3, 8e-3, 20)])
    found = onset.passage(load, strain, 2.5e-3)
    assert found is not None
    assert found.load == pytest.approx(100e3, abs=300)
