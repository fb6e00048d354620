"""Share of a fatigue life used, with a line of one's own and with a bend."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc.fatigue import EN1992_LINES, FatigueLine, cycles_to_failure, miner_damage
from gaugewright.errors import Faults, InputError

LINE = FatigueLine(150e6, 2e6, 4.0, 7.0, limit_range=20e6, source="invented")


@given(st.floats(20e6, 600e6))
def test_the_line_is_straight_in_logarithms_on_both_sides_of_its_bend(found) -> None:
    slope = 4.0 if found >= 150e6 else 7.0
    expected = np.log10(2e6) - slope * (np.log10(found) - np.log10(150e6))
    assert np.log10(cycles_to_failure(found, LINE)) == pytest.approx(expected, abs=1e-9)


def test_at_the_bend_at_the_limit_below_it_and_without_range() -> None:
    lives = cycles_to_failure([150e6, 20e6, 19.99e6, 0.0, np.nan], LINE)
    assert lives[0] == 2e6
    assert lives[1] == pytest.approx(2e6 * 7.5**7)
    assert np.isinf(lives[2:4]).all()
    assert np.isnan(lives[4])


def test_damage_adds_up_and_its_slope_is_that_of_the_line() -> None:
    ranges, counts = np.array([300e6, 100e6, 10e6]), np.array([1000.0, 0.5, 1e9])
    damage = miner_damage(ranges, counts, LINE)
    assert damage.total == pytest.approx(1000 / (2e6 / 16) + 0.5 / (2e6 * 1.5**7))
    grown = miner_damage(ranges * (1 + 1e-6), counts, LINE)
    assert (grown.total - damage.total) / 1e-6 == pytest.approx(damage.by_scale, rel=1e-4)


def test_no_cycles_do_no_damage() -> None:
    assert miner_damage([], [], LINE).total == 0.0


def test_the_lines_of_the_standard_say_that_they_are_from_memory() -> None:
    assert all("from memory" in line.source for line in EN1992_LINES.values())


def test_missing_ranges_and_impossible_lines_are_refused() -> None:
    with pytest.raises(InputError, match=r"^stress_ranges is nan"):
        miner_damage([np.nan], [1.0], LINE)
    with pytest.raises(InputError, match=r"^stress_range is -1"):
        cycles_to_failure([-1.0], LINE)
    with pytest.raises(Faults, match=r"reference_range is 0(?s:.*)slope_above is -3"):
        FatigueLine(0.0, 1e6, -3.0, 5.0)
