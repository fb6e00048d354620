"""Smoothed zones against areas that are known, and flats cut into them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc.bar import flat_depth, section_at_flat
from gaugewright.calc.smoothed import area_at_gauge, smoothed_zone
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import Faults, InputError

BAR = Uncertain.from_input(210e-6, InputQuantity("mass", 0.4e-6))
CALLIPER = InputQuantity("calliper", 0.02e-3)


def exact(value, name="width", u=0.0):
    return Uncertain.from_input(value, InputQuantity(name, u))


@given(st.floats(10e-3, 16e-3), st.floats(0.0, 0.02))
def test_a_slightly_oval_zone_has_the_area_of_its_ellipse(size, oval):
    # Widths of an ellipse between parallel jaws in 12 directions: sqrt((2a cos)² + (2b sin)²).
    a, b = size * (1 + oval) / 2, size * (1 - oval) / 2
    turned = np.arange(12) * np.pi / 12
    widths = 2 * np.sqrt((a * np.cos(turned)) ** 2 + (b * np.sin(turned)) ** 2)
    found = smoothed_zone(widths, BAR, CALLIPER, "zone@s1")
    assert found.area.value == pytest.approx(np.pi * a * b, abs=np.pi * (a - b) ** 2 / 2 + 1e-15)
    assert found.out_of_round == pytest.approx(2 * (a - b), abs=1e-12)
    lost = 1 - found.area.value / 210e-6
    assert found.lost_share.value == pytest.approx(lost, rel=1e-12)


def test_scatter_and_calliper_and_mass_reach_the_loss():
    found = smoothed_zone([15.2e-3, 15.3e-3, 15.25e-3], BAR, CALLIPER, "zone@s1")
    names = {line.input for line in found.lost_share.budget().lines}
    assert names == {"mass", "calliper", "zone@s1"}
    # dA/dD = π D/2, once for the shared zero and once for the mean of three readings.
    scatter = 0.05e-3 / np.sqrt(3)
    expected = np.pi / 2 * 15.25e-3 * np.hypot(scatter, 0.02e-3)
    assert found.area.standard_uncertainty() == pytest.approx(expected, rel=1e-9)


@given(st.floats(1e-3, 7e-3))
def test_a_flat_in_the_zone_is_cut_from_what_the_zone_has_left(width):
    zone = smoothed_zone([15e-3, 15e-3], BAR, CALLIPER, "zone@s1")
    found = area_at_gauge(zone, exact(width))
    section = section_at_flat(15e-3, flat_depth(15e-3, width))
    assert found.value == pytest.approx(section.net_area, rel=1e-9)
    both = area_at_gauge(zone, exact(width), flats=2)
    assert zone.area.value - both.value == pytest.approx(2 * (zone.area.value - found.value))


def test_no_flat_leaves_the_zone_as_it_is():
    zone = smoothed_zone([15e-3, 15.1e-3], BAR, CALLIPER, "zone@s1")
    assert area_at_gauge(zone, exact(0.0)).value == pytest.approx(zone.area.value)


def test_sensitivities_of_the_area_agree_with_differences():
    readings, width = np.array([15.2e-3, 15.3e-3, 15.25e-3]), 5e-3
    found = area_at_gauge(smoothed_zone(readings, BAR, CALLIPER, "zone@s1"), exact(width, u=0.1e-3))

    def area(shift, wider):
        zone = smoothed_zone(readings + shift, BAR, CALLIPER, "zone@s1")
        return area_at_gauge(zone, exact(width + wider)).value.item()

    step = 1e-7
    by_size = (area(step, 0.0) - area(-step, 0.0)) / (2 * step)
    by_width = (area(0.0, step) - area(0.0, -step)) / (2 * step)
    assert found.sensitivities["calliper"] == pytest.approx(by_size, rel=1e-6)
    assert found.sensitivities["width"] == pytest.approx(by_width, rel=1e-6)


def test_a_zone_thicker_than_its_bar_and_other_faults_are_refused():
    with pytest.raises(InputError, match="smaller than the bar"):
        smoothed_zone([17e-3, 17e-3], BAR, CALLIPER, "zone@s1")
    with pytest.raises(Faults, match="2 thing"):
        smoothed_zone([-15e-3], BAR, CALLIPER, "zone@s1")
    zone = smoothed_zone([15e-3, 15e-3], BAR, CALLIPER, "zone@s1")
    with pytest.raises(InputError, match="narrower than the bar"):
        area_at_gauge(zone, exact(15e-3))
