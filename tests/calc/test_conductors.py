"""Limits of standard conductors: order, proportion, refusals."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import conductors, leads
from gaugewright.errors import Faults, InputError


@pytest.mark.parametrize("name", conductors.CONDUCTOR_CLASSES)
def test_the_metal_limits_from_below_and_the_class_from_above(name):
    for size in conductors.CONDUCTOR_CLASSES[name]:
        found = conductors.conductor_range(100.0, size, name)
        assert found.least < found.middle < found.largest
        assert found.least == pytest.approx(leads.lead_resistance(100.0, size), rel=1e-12)
        assert found.standard_uncertainty == pytest.approx(
            np.std(np.linspace(found.least, found.largest, 20001)), rel=1e-3
        )


@given(st.floats(0.0, 500.0))
def test_twice_the_length_is_twice_the_resistance(length):
    one = conductors.conductor_range(length, 0.5e-6, "class 1 or 2, plain")
    two = conductors.conductor_range(2 * length, 0.5e-6, "class 1 or 2, plain")
    assert two.largest == pytest.approx(2 * one.largest)
    assert two.least == pytest.approx(2 * one.least)


@given(st.floats(-50.0, 150.0))
def test_a_resistance_brought_to_20_degrees_is_what_it_was_there(degrees):
    warm = leads.lead_resistance(10.0, 0.25e-6, degrees)
    cold = conductors.resistance_at_20_degc(warm, degrees)
    # The standard's -234.5 stands for -234.45: 0.05 in 184 at the coldest, less elsewhere.
    assert cold == pytest.approx(leads.lead_resistance(10.0, 0.25e-6), rel=1e-4)


def test_a_missing_temperature_gives_a_missing_resistance():
    found = conductors.resistance_at_20_degc([1.0, 1.0], [20.0, np.nan])
    assert np.isnan(found).tolist() == [False, True]


def test_what_the_standard_does_not_hold_is_refused():
    with pytest.raises(InputError, match=r"one of 5e-07 m\^2.*measure the resistance"):
        conductors.conductor_range(1.0, 0.14e-6, "class 5 or 6, plain")
    with pytest.raises(Faults, match="2 thing"):
        conductors.conductor_range(-1.0, 0.5e-6, "class 9")
    with pytest.raises(InputError, match="-200 or more"):
        conductors.temperature_factor(-250.0)
