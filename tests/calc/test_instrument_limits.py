"""Range, resolution and noise against the solved circuit, counting and integration."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants, integrate

from gaugewright.calc import bridge, instrument_limits
from gaugewright.errors import Faults, InputError

FACTOR = st.floats(1.8, 2.3)


@given(st.lists(st.floats(-0.02, 0.05), min_size=1, max_size=4), FACTOR, st.floats(0.0, 0.02))
def test_no_gauge_within_the_tolerance_leaves_the_range(strains, factor, offset):
    needed = instrument_limits.range_needed(strains, factor, offset)
    found = []
    for strain, side in itertools.product(strains, np.linspace(-1, 1, 9)):
        arm = (1 + side * offset) * (1 + factor * strain)
        found.append(arm / (1 + arm) - 0.5)  # voltage divider of the arm and its equal
    assert max(abs(ratio) for ratio in found) == pytest.approx(needed, abs=1e-13)


@given(st.floats(-0.01, 0.01), FACTOR)
def test_the_straight_line_for_several_arms_is_half_the_change_short_at_most(strain, factor):
    change = factor * strain
    needed = instrument_limits.range_needed(strain, factor, bridge_factor=4.0)
    exact = abs(bridge.four_arm_ratio([change, -change, change, -change]))
    assert needed == pytest.approx(exact, rel=1e-12, abs=1e-18)
    needed = instrument_limits.range_needed(strain, factor, bridge_factor=2.0)
    exact = abs(bridge.four_arm_ratio([change, 0, change, 0]))
    assert needed >= exact * (1 - abs(change) / 2) - 1e-15


def test_an_offset_of_three_per_mille_takes_its_part_of_the_range():
    without = instrument_limits.range_needed([2500e-6], 2.0)
    with_offset = instrument_limits.range_needed([2500e-6], 2.0, 0.003)
    assert with_offset - without == pytest.approx(0.75e-3, rel=0.01)


@given(st.floats(1e-3, 0.5), st.integers(1, 12))
def test_a_converter_cuts_its_range_into_equal_counts(full, bits):
    step = instrument_limits.ratio_step(full, bits)
    levels = np.arange(2**bits) * step - full
    assert levels[-1] + step == pytest.approx(full, rel=1e-12)
    one_sided = instrument_limits.ratio_step(full, bits, two_sided=False)
    assert one_sided == pytest.approx(step / 2, rel=1e-15)


@given(st.floats(1e-9, 1e-6), FACTOR, st.floats(1.0, 4.0))
def test_a_small_step_as_strain_is_the_slope_of_the_bridge(ratio, factor, arms):
    strain = instrument_limits.strain_of_ratio(ratio, factor, arms)
    assert strain * factor * arms / 4 == pytest.approx(ratio, rel=1e-12)


@given(st.floats(1.0, 1e5), st.floats(0.1, 1e6), st.floats(-50.0, 150.0))
def test_thermal_noise_is_that_of_nyquist(ohm, width, degrees):
    found = instrument_limits.johnson_noise(ohm, width, degrees)
    kelvin = constants.convert_temperature(degrees, "Celsius", "Kelvin")
    assert found**2 == pytest.approx(4 * constants.Boltzmann * kelvin * ohm * width, rel=1e-12)


@given(st.floats(1e-9, 1e-6), st.floats(0.001, 1.0), st.floats(2.0, 1e4), st.floats(0.0, 100.0))
def test_amplifier_noise_is_its_density_integrated(density, low, high, corner):
    found = instrument_limits.amplifier_noise(density, low, high, corner)
    # In steps of ln f the flicker part is a straight line.
    whole, _ = integrate.quad(
        lambda u: (1 + corner / np.exp(u)) * np.exp(u), np.log(low), np.log(high)
    )
    assert found == pytest.approx(density * np.sqrt(whole), rel=1e-9)


def test_flicker_noise_without_a_lower_limit_is_refused():
    with pytest.raises(InputError, match="length of the record"):
        instrument_limits.amplifier_noise(1e-8, 0.0, 100.0, 10.0)
    with pytest.raises(InputError, match="not above highest"):
        instrument_limits.amplifier_noise(1e-8, 10.0, 1.0)


def test_independent_noise_adds_in_squares():
    assert instrument_limits.noise_of_parts(3.0, [4.0, 0.0]).tolist() == [5.0, 3.0]


def test_every_fault_is_told_at_once():
    with pytest.raises(Faults, match="2 thing"):
        instrument_limits.range_needed(1e-3, -2.0, 1.5)
    with pytest.raises(Faults, match="2 thing"):
        instrument_limits.ratio_step(0.0, 0)
    with pytest.raises(Faults, match="3 thing"):
        instrument_limits.johnson_noise(-1.0, -1.0, -300.0)
    with pytest.raises(Faults, match="2 thing"):
        instrument_limits.strain_of_ratio(1e-6, 0.0, 0.0)
