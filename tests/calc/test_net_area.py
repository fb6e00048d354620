"""Area left at flats, held against integration over strips and differences."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from gaugewright.calc.net_area import net_area
from gaugewright.errors import InputError


def cut_by_strips(diameter: float, flat_width: float) -> float:
    """Area of the segment, strip by strip, without any formula for segments."""
    radius = diameter / 2
    to_flat = np.sqrt(radius**2 - flat_width**2 / 4)
    return quad(lambda y: 2 * np.sqrt(max(radius**2 - y**2, 0.0)), to_flat, radius, epsabs=0)[0]


@given(
    diameter=st.floats(6e-3, 50e-3),
    share=st.floats(0.05, 0.9),
    flats=st.sampled_from([1, 2]),
)
def test_agrees_with_integration_over_strips(diameter, share, flats):
    whole = np.pi * diameter**2 / 4
    left = net_area(whole, diameter, share * diameter, flats=flats)
    expected = whole - flats * cut_by_strips(diameter, share * diameter)
    assert left.value == pytest.approx(expected, rel=1e-7)


@given(diameter=st.floats(6e-3, 50e-3), share=st.floats(0.05, 0.9))
def test_derivatives_agree_with_differences(diameter, share):
    whole, width = np.pi * diameter**2 / 4, share * diameter
    left = net_area(whole, diameter, width)
    step = 1e-6 * diameter
    by_width = (
        net_area(whole, diameter, width + step).value
        - net_area(whole, diameter, width - step).value
    ) / (2 * step)
    by_diameter = (
        net_area(whole, diameter + step, width).value
        - net_area(whole, diameter - step, width).value
    ) / (2 * step)
    scale = diameter
    assert left.by_flat_width == pytest.approx(by_width, rel=1e-5, abs=1e-7 * scale)
    assert left.by_diameter == pytest.approx(by_diameter, rel=1e-4, abs=1e-6 * scale)
    assert left.by_area == 1.0


def test_no_flat_leaves_the_bar_whole():
    left = net_area(201e-6, 16e-3, 0.0)
    assert left.value == pytest.approx(201e-6)
    assert left.by_flat_width == 0.0


@pytest.mark.parametrize(
    ("arguments", "flats", "named"),
    [
        ((201e-6, 16e-3, 16e-3), 1, "flat_width"),
        ((201e-6, 16e-3, 20e-3), 1, "flat_width"),
        ((201e-6, 16e-3, 4e-3), 3, "flats"),
        ((-1.0, 16e-3, 4e-3), 1, "area"),
        ((201e-6, 0.0, 4e-3), 1, "diameter"),
        ((1e-6, 16e-3, 15.9e-3), 2, "net_area"),
    ],
)
def test_impossible_sizes_are_refused_by_name(arguments, flats, named):
    with pytest.raises(InputError, match=f"^{named}"):
        net_area(*arguments, flats=flats)
