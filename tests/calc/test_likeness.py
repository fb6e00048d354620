"""Channels that are twins, signs that are reversed, gauges that were exchanged."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gaugewright.calc.likeness import answer_to, exchanges, shared_noise
from gaugewright.errors import Faults, InputError


def test_noise_of_two_amplifiers_is_as_unlike_as_it_says() -> None:
    rng = np.random.default_rng(1)
    load = np.interp(np.arange(2000), [0, 500, 900, 1999], [0, 400, 400, 90])
    found = [
        shared_noise(load + rng.normal(size=2000), 3 * load + rng.normal(size=2000))
        for _ in range(300)
    ]
    scaled = np.array([one.correlation / one.standard_uncertainty for one in found])
    assert 0.85 < scaled.std() < 1.15
    assert np.abs(scaled).max() < 5


def test_one_channel_written_twice_is_seen_whatever_its_gain_and_digits() -> None:
    rng = np.random.default_rng(2)
    readings = np.cumsum(rng.normal(size=2000)) + 5 * rng.normal(size=2000)
    again = np.round(-0.5 * readings + 12, 1)
    assert shared_noise(readings, again).correlation < -0.98
    assert shared_noise(readings, readings).equal_moves == 1.0


def test_a_spike_on_both_is_no_shared_noise() -> None:
    rng = np.random.default_rng(3)
    one, two = rng.normal(size=(2, 1000))
    one[500] += 4000
    two[500] += 4000
    assert abs(shared_noise(one, two).correlation) < 0.2


@pytest.mark.parametrize("sign", [1, -1])
def test_a_sign_shows_through_drift_and_noise(sign) -> None:
    rng = np.random.default_rng(4)
    load = 1e3 * np.interp(np.arange(6000), [0, 1500, 2500, 4000, 6000], [0, 60, 60, 20, 90])
    drift = np.linspace(0, -80e-6, 6000)
    read = sign * 4e-10 * load + drift + 3e-6 * rng.normal(size=6000)
    slope, doubt = answer_to(load, read)
    assert slope * sign > 10 * doubt
    assert abs(slope - sign * 4e-10) < 6 * doubt


def test_the_doubt_of_an_answer_holds_for_noise() -> None:
    rng = np.random.default_rng(5)
    load = 1e3 * np.interp(np.arange(4000), [0, 1500, 2500, 4000], [0, 60, 60, 20])
    wrong = []
    for _ in range(300):
        slope, doubt = answer_to(load, 5e-10 * load + 2e-6 * rng.normal(size=4000))
        wrong.append((slope - 5e-10) / doubt)
    assert 0.3 < np.std(wrong) < 1.1  # rather too large a doubt, as it says


def stations(rng: np.random.Generator, gauges: int) -> np.ndarray:
    """Strain at stations along a beam: each cracks at a load of its own."""
    load = np.linspace(0, 1, 14)
    cracks = rng.uniform(0.1, 0.9, gauges)[:, None]
    size = rng.uniform(200, 2000, gauges)[:, None] * 1e-6
    return size * (0.15 * load + np.maximum(load - cracks, 0))


@settings(max_examples=80, deadline=None)
@given(seed=st.integers(0, 10**6), gauges=st.integers(3, 12))
def test_two_exchanged_gauges_are_found_and_none_where_all_are_right(seed, gauges) -> None:
    rng = np.random.default_rng(seed)
    predicted = stations(rng, gauges)
    factors = rng.uniform(0.8, 1.25, gauges)[:, None]
    measured = predicted * factors + 4e-6 * rng.normal(size=predicted.shape)
    assert exchanges(predicted, measured, limit=3) == ()
    i, j = rng.choice(gauges, 2, replace=False)
    swapped = measured.copy()
    swapped[[i, j]] = swapped[[j, i]]
    found = exchanges(predicted, swapped, limit=3)
    # Shapes that are nearly the same can't be told apart, and then nothing is said.
    assert found == () or {tuple(sorted(one.places)) for one in found} == {tuple(sorted((i, j)))}


def test_exchanges_are_found_nearly_always_where_shapes_differ() -> None:
    found = 0
    for seed in range(200):
        rng = np.random.default_rng(seed)
        predicted = stations(rng, 8)
        measured = predicted * rng.uniform(0.8, 1.25, 8)[:, None]
        measured += 4e-6 * rng.normal(size=measured.shape)
        i, j = rng.choice(8, 2, replace=False)
        measured[[i, j]] = measured[[j, i]]
        places = [tuple(sorted(one.places)) for one in exchanges(predicted, measured, limit=3)]
        found += tuple(sorted((i, j))) in places
    assert found >= 180


def test_loads_that_nothing_predicts_and_gauges_that_died_hide_no_exchange() -> None:
    rng = np.random.default_rng(11)
    predicted = stations(rng, 5)
    measured = predicted + 2e-6 * rng.normal(size=predicted.shape)
    measured[[0, 3]] = measured[[3, 0]]
    predicted[:, -2:] = np.nan  # beyond the load that the member carries
    measured[4, 1:] = np.nan  # its lead broke
    found = exchanges(predicted, measured, limit=3)
    assert [tuple(sorted(one.places)) for one in found] == [(0, 3)]


def test_gauges_without_any_prediction_stay_where_they_are() -> None:
    assert exchanges(np.full((3, 5), np.nan), np.ones((3, 5)), limit=3) == ()


def test_wrong_settings_are_named() -> None:
    with pytest.raises(Faults, match=r"measured[\s\S]*limit"):
        exchanges(np.ones((2, 3)), np.ones((3, 3)), limit=0.5)
    with pytest.raises(InputError, match="as long as the first"):
        shared_noise(np.ones(100), np.ones(99))
    with pytest.raises(InputError, match="one that moves"):
        answer_to(np.ones(100), np.arange(100.0))
