"""Self-heating: the halving test against a grid whose apparent strain goes by its power."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import heating
from gaugewright.errors import Faults, InputError

STRAIN = st.floats(-1e-4, 1e-4)


@given(STRAIN, st.floats(0.5, 10.0), st.floats(0.1, 0.9))
def test_two_zeros_tell_the_heat_at_full_excitation(heat, volts, share):
    # Apparent strain in proportion to the power in the grid, whatever else the zero holds.
    per_watt = heat / heating.gauge_power(volts, 350.0)
    other = 37e-6
    full, low = (other + per_watt * heating.gauge_power(v, 350.0) for v in (volts, share * volts))
    assert heating.self_heating(full - low, share) == pytest.approx(heat, abs=1e-15)
    assert heating.zero_shift_of_heating(heat, share) == pytest.approx(full - low, abs=1e-15)


def test_half_the_excitation_leaves_a_quarter_of_the_heat():
    shift = heating.zero_shift_of_heating(8e-6, 0.5)
    assert shift == pytest.approx(6e-6)
    assert 8e-6 - shift == pytest.approx(shift / 3)


@given(st.floats(1e-7, 1e-4), st.floats(1e-7, 1e-4), st.floats(0.5, 10.0))
def test_the_excitation_found_brings_just_the_heat_one_will_bear(heat, limit, volts):
    found = heating.excitation_for_heating(volts, heat, limit)
    assert heat * (found / volts) ** 2 == pytest.approx(limit, rel=1e-12)
    assert heating.excitation_for_heating(volts, -heat, limit) == found


def test_a_missing_zero_stays_missing_and_no_heat_sets_no_limit():
    assert np.isnan(heating.self_heating([np.nan, 1e-6])).tolist() == [True, False]
    assert np.isinf(heating.excitation_for_heating(5.0, 0.0, 1e-6))


def test_the_same_excitation_twice_is_no_test():
    with pytest.raises(InputError, match="excitation_share"):
        heating.self_heating(1e-6, 1.0)
    with pytest.raises(Faults, match="2 thing"):
        heating.excitation_for_heating(0.0, 1e-6, 0.0)
