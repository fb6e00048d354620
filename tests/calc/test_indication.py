"""What strain-reading instruments show."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import indication
from gaugewright.errors import InputError

FACTORS = st.floats(1.5, 3.0)


def divider(strain, factor):
    """Output from resistances alone."""
    arm = 120.0 * (1 + factor * strain)
    return arm / (arm + 120.0) - 0.5


@given(st.floats(-0.05, 0.05), FACTORS)
def test_a_linearising_instrument_set_to_the_gauge_shows_the_strain(strain, factor):
    ratio = divider(strain, factor)
    assert indication.linearised_indication(ratio, factor) == pytest.approx(strain, abs=1e-13)
    back = indication.bridge_ratio_from_linearised_indication(strain, factor)
    assert back == pytest.approx(ratio, abs=1e-15)


@given(st.floats(-0.3, 0.3), FACTORS, st.floats(1.0, 4.0))
def test_a_straight_line_is_undone(ratio, factor, arms):
    shown = indication.linear_indication(ratio, factor, arms)
    back = indication.bridge_ratio_from_linear_indication(shown, factor, arms)
    assert back == pytest.approx(ratio, rel=1e-14)


def test_a_straight_line_reads_tension_low_by_half_a_per_cent_at_5000_microstrain():
    shown = indication.linear_indication(divider(0.005, 2.0), 2.0)
    assert shown / 0.005 - 1 == pytest.approx(-0.005, abs=5e-5)


@pytest.mark.parametrize("factor", [0.0, np.nan])
def test_an_impossible_setting_is_refused(factor):
    with pytest.raises(InputError, match="set_gauge_factor"):
        indication.linear_indication(0.001, factor)
    with pytest.raises(InputError, match="bridge_factor"):
        indication.linear_indication(0.001, 2.0, factor)
