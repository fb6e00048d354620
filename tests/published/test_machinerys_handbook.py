"""Machinery's Handbook: segments of a circle, which are ground flats."""

import math

import pytest

from gaugewright.calc import bar

SEEN = "the page itself in an online preview of the handbook"


@pytest.mark.published(
    where="Machinery's Handbook, 31st ed., p. 50, Examples 3 and 4: radius 12, height 2; printed "
    "chord 13.27 and area 18.01 (its own rounding; exact 18.006)",
    seen=SEEN,
)
def test_chord_and_area_of_a_segment():
    assert bar.flat_width(24.0, 2.0) == pytest.approx(13.27, abs=0.005)
    section = bar.section_at_flat(24.0, 2.0)
    assert section.area == pytest.approx(math.pi * 144)
    assert section.area - section.net_area == pytest.approx(18.01, abs=0.06)


@pytest.mark.published(
    where="Machinery's Handbook, 31st ed., p. 79: radius 60, height 8; printed chord 59.86",
    seen=SEEN,
)
def test_chord_of_a_larger_circle():
    # 59.8665 cut, not rounded, to two decimals.
    assert bar.flat_width(120.0, 8.0) == pytest.approx(59.86, abs=0.01)


@pytest.mark.published(
    where="Machinery's Handbook, 31st ed., p. 79: chord 16, height 6; printed radius 8 1/3",
    seen=SEEN,
)
def test_height_over_a_chord():
    assert bar.flat_depth(2 * 25 / 3, 16.0) == pytest.approx(6.0, abs=1e-4)
