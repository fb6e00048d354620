"""A finger on a gauge: found whatever its sign, and neither drift nor noise is taken for one."""

import numpy as np
import pytest

from gaugewright.calc.stimulus import largest_departure, which_moved
from gaugewright.errors import InputError

ROWS = 300
NOISE = 2e-7


def cage(seed: int) -> np.ndarray:
    """Six quiet channels that all warm up together."""
    rng = np.random.default_rng(seed)
    drift = np.linspace(0, 40e-6, ROWS) * np.linspace(0.8, 1.2, 6)[:, None]
    return drift + rng.normal(0, NOISE, (6, ROWS))


def touch(size: float) -> np.ndarray:
    """Rises within a second and fades over several, as a finger does."""
    after = np.clip(np.arange(ROWS) - 120, 0, None)
    return size * np.minimum(after / 5, 1.0) * np.exp(-after / 40)


@pytest.mark.parametrize("size", [20e-6, -20e-6, 5e-6, -5e-6])
@pytest.mark.parametrize("seed", range(20))
def test_the_touched_channel_is_found_whichever_way_it_moves(size: float, seed: int) -> None:
    series = cage(seed)
    series[4] += touch(size)
    moved = which_moved(series)
    assert [place for place, _, _ in moved] == [4]
    assert moved[0][1] == pytest.approx(abs(size), rel=0.35)
    assert moved[0][2] == pytest.approx(NOISE, rel=0.35)


def test_nothing_moved_in_five_hundred_quiet_cages() -> None:
    assert all(which_moved(cage(seed)) == () for seed in range(1000, 1500))


def test_a_wild_reading_and_missing_ones_are_no_answer() -> None:
    series = cage(1)
    series[2, 50] += 1.0
    series[3, 60:64] = np.nan
    assert which_moved(series) == ()


def test_two_that_move_alike_are_both_told_the_larger_first() -> None:
    series = cage(2)
    series[1] += touch(-18e-6)
    series[5] += touch(20e-6)
    assert [place for place, _, _ in which_moved(series)] == [5, 1]


def test_a_departure_is_the_peak_above_the_line_between_the_ends() -> None:
    series = np.linspace(3.0, 5.0, 100)
    series[40:50] += 0.5
    assert largest_departure(series) == pytest.approx(0.5, abs=1e-9)
    assert largest_departure(-series) == pytest.approx(0.5, abs=1e-9)


def test_too_few_readings_are_refused() -> None:
    with pytest.raises(InputError, match="12 or more"):
        largest_departure([0.0] * 11)
