"""Names of bars: nothing is lost between the tables, and a double meaning is told."""

import pytest

from gaugewright.calc.bar import METRIC_BARS, US_BARS
from gaugewright.calc.bar_sizes import SOFT_METRIC_BARS, bars_named
from gaugewright.errors import InputError


def test_every_american_bar_has_one_soft_metric_name():
    assert [number for number, _ in SOFT_METRIC_BARS.values()] == list(US_BARS)


@pytest.mark.parametrize("name", SOFT_METRIC_BARS)
def test_soft_metric_numbers_are_the_inch_ones_rounded(name):
    number, metric = SOFT_METRIC_BARS[name]
    inch = US_BARS[number]
    assert metric.diameter == pytest.approx(inch.diameter, abs=0.06e-3)
    assert metric.area == pytest.approx(inch.area, abs=1e-6)
    assert metric.mass_per_length == pytest.approx(inch.mass_per_length, rel=1e-3)


def test_a_name_of_two_tables_gives_both():
    assert len(bars_named("16")) == 2
    assert len(bars_named("25")) == 2
    assert len(bars_named("8")) == 1
    assert [found.table for found in bars_named("#18")] == ["ASTM A615/A706"]


def test_all_sizes_from_6_to_50_and_3_to_18_are_there():
    assert [int(name) for name in METRIC_BARS] == [6, 8, 10, 12, 14, 16, 20, 25, 28, 32, 40, 50]
    assert list(US_BARS) == [f"#{n}" for n in (3, 4, 5, 6, 7, 8, 9, 10, 11, 14, 18)]
    with pytest.raises(InputError, match="one of 6, 8"):
        bars_named("15")
