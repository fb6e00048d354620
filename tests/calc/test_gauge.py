"""Gauge corrections against tensors, derivatives and their own inverses."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import gauge, heating, large_strain
from gaugewright.errors import InputError

STRAIN = st.floats(-5e-3, 5e-3)
SENSITIVITY = st.floats(-0.03, 0.03)
POISSON = st.floats(0.0, 0.5)


def normal_strain(strain, poisson, angle):
    """Strain at an angle to a uniaxial bar, by rotating the strain tensor."""
    tensor = np.diag([strain, -poisson * strain])
    direction = np.array([math.cos(angle), math.sin(angle)])
    return direction @ tensor @ direction


@given(STRAIN, st.floats(-0.5, 0.5), POISSON)
def test_misalignment_is_a_rotation_of_the_strain_tensor(strain, angle, poisson):
    askew = gauge.misaligned_strain(strain, angle, poisson)
    assert askew == pytest.approx(normal_strain(strain, poisson, angle), abs=1e-15)
    assert gauge.aligned_strain(askew, angle, poisson) == pytest.approx(strain, abs=1e-15)


def test_two_degrees_on_steel_cost_a_sixth_of_a_per_cent():
    assert gauge.misaligned_strain(1.0, math.radians(2), 0.3) == pytest.approx(0.9984, abs=5e-5)


def test_a_grid_across_the_bar_is_refused():
    with pytest.raises(InputError, match="so far askew"):
        gauge.aligned_strain(1e-3, math.pi / 2, 0.3)


@given(STRAIN, SENSITIVITY, POISSON, st.floats(0.2, 0.35))
def test_uniaxial_correction_undoes_what_the_gauge_feels(strain, sensitivity, poisson, beam):
    felt = gauge.transverse_indication(strain, -poisson * strain, sensitivity, beam)
    found = gauge.uniaxial_strain(felt, sensitivity, poisson, beam)
    assert found == pytest.approx(strain, abs=1e-15)


@given(STRAIN, STRAIN, SENSITIVITY, st.floats(0.2, 0.35))
def test_biaxial_correction_undoes_a_right_angled_pair(along, across, sensitivity, beam):
    felt = gauge.transverse_indication(along, across, sensitivity, beam)
    felt_across = gauge.transverse_indication(across, along, sensitivity, beam)
    found = gauge.biaxial_strain(felt, felt_across, sensitivity, beam)
    assert found == pytest.approx(along, abs=1e-15)


def test_the_beam_of_calibration_needs_no_correction():
    assert gauge.uniaxial_strain(1e-3, 0.02, 0.285, 0.285) == 1e-3


CURVE = [-2.7e-5, 2.1e-6, -4.2e-8, 2.3e-10]


@given(st.floats(-20.0, 80.0))
def test_slope_of_the_thermal_output_is_its_derivative(degrees):
    step = 1e-3
    rise = gauge.thermal_output(degrees + step, CURVE) - gauge.thermal_output(degrees - step, CURVE)
    slope = gauge.thermal_output_slope(degrees, CURVE)
    assert slope == pytest.approx(rise / (2 * step), abs=1e-12)


@given(st.floats(-20.0, 80.0), st.floats(-20.0, 80.0))
def test_thermal_output_since_the_zero_scales_with_gauge_factor_and_adds_expansion(now, zero):
    def polynomial(degrees):
        return sum(c * degrees**n for n, c in enumerate(CURVE))

    found = gauge.thermal_output_change(
        now, zero, CURVE, stated_gauge_factor=2.0, gauge_factor=2.1, expansion_difference=-1e-6
    )
    expected = (polynomial(now) - polynomial(zero)) * 2.0 / 2.1 - 1e-6 * (now - zero)
    assert found == pytest.approx(expected, abs=1e-15)


def test_a_missing_temperature_gives_no_correction_and_counts_as_outside():
    assert np.isnan(gauge.thermal_output(np.nan, CURVE))
    assert gauge.outside_span([0.0, 50.0, 50.1, np.nan], 0.0, 50.0).tolist() == [
        False,
        False,
        True,
        True,
    ]


def test_gauge_factor_keeps_its_value_at_its_reference():
    assert gauge.gauge_factor_at(2.07, 1e-4, 23.0, 23.0) == 2.07
    with pytest.raises(InputError, match="gauge_factor"):
        gauge.gauge_factor_at(np.nan, 1e-4, 23.0, 23.0)


@given(st.floats(-0.3, 0.5))
def test_constant_volume_makes_resistance_the_square_of_length(strain):
    length, area = 1 + strain, 1 / (1 + strain)
    change = length / area - 1
    assert large_strain.grid_change_constant_volume(strain) == pytest.approx(change, abs=1e-14)
    assert large_strain.strain_constant_volume(change) == pytest.approx(strain, abs=1e-14)


@given(st.floats(-0.3, 0.5))
def test_logarithmic_strain_adds_up_over_two_halves_of_a_stretch(strain):
    half = math.sqrt(1 + strain) - 1
    total = large_strain.logarithmic_strain(strain)
    assert total == pytest.approx(2 * large_strain.logarithmic_strain(half), abs=1e-14)
    assert large_strain.engineering_strain(total) == pytest.approx(strain, abs=1e-14)


@given(st.floats(-0.1, 0.3), st.floats(1.8, 2.3))
def test_constant_factor_is_undone_and_the_laws_part_only_at_large_strain(strain, factor):
    change = large_strain.grid_change_constant_factor(strain, factor)
    assert large_strain.strain_constant_factor(change, factor) == pytest.approx(strain, abs=1e-15)
    assert large_strain.large_strain_difference(change, factor) >= -1e-17
    small = large_strain.large_strain_difference(1e-4 * strain, factor)
    assert abs(small) <= 1e-8 * strain**2 + 1e-18


def test_constant_factor_reads_a_constant_volume_grid_five_per_cent_high_at_ten_per_cent():
    change = large_strain.grid_change_constant_volume(0.1)
    assert large_strain.strain_constant_factor(change, 2.0) == pytest.approx(0.105)


def test_a_grid_shorter_than_nothing_is_nan():
    assert np.isnan(large_strain.strain_constant_volume(-1.0))
    assert np.isnan(large_strain.grid_change_constant_volume(-1.5))
    assert np.isnan(large_strain.logarithmic_strain(-1.0))


@given(st.floats(100.0, 2000.0), st.floats(1e-6, 1e-4), st.floats(100.0, 1e4))
def test_excitation_brings_just_the_heat_that_was_allowed(ohm, area, density):
    volts = heating.excitation_for_power_density(density, area, ohm)
    arm_current = volts / (2 * ohm)
    assert arm_current**2 * ohm / area == pytest.approx(density, rel=1e-12)
    assert heating.gauge_power(volts, ohm) == pytest.approx(density * area, rel=1e-12)
