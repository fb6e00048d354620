"""Bars against integration over strips, and against each other."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import around, bar
from gaugewright.errors import InputError

DIAMETER = st.floats(6e-3, 50e-3)
SHARE = st.floats(0.0, 0.3)


def by_strips(diameter, depth, opposite, n=20_000):
    """Area, centroid and second moment of a round bar with flats, by the midpoint rule in angle."""
    radius = diameter / 2
    # y = r sin t turns the square root of the circle's edge into a smooth integrand.
    low = math.asin(max(-1.0, (opposite - radius) / radius))
    high = math.asin(min(1.0, (radius - depth) / radius))
    t = low + (np.arange(n) + 0.5) * (high - low) / n
    y, strip = radius * np.sin(t), 2 * (radius * np.cos(t)) ** 2 * (high - low) / n
    area = strip.sum()
    centroid = (y * strip).sum() / area
    return area, centroid, ((y - centroid) ** 2 * strip).sum()


@given(DIAMETER, SHARE, SHARE)
def test_section_at_flats_is_the_sum_of_its_strips(diameter, one, two):
    depth, opposite = one * diameter / 2, two * diameter / 2
    found = bar.section_at_flat(diameter, depth, opposite)
    area, centroid, second = by_strips(diameter, depth, opposite)
    assert found.net_area == pytest.approx(area, rel=1e-7)
    assert found.centroid == pytest.approx(centroid, abs=1e-7 * diameter)
    assert found.second_moment == pytest.approx(second, rel=1e-6)
    assert found.surface == pytest.approx(diameter / 2 - depth)
    assert found.lost_share == pytest.approx(1 - area / (math.pi * diameter**2 / 4), abs=1e-6)


@given(DIAMETER, st.floats(0.01, 0.99))
def test_width_and_depth_of_a_flat_lie_on_the_circle(diameter, share):
    width = share * diameter
    depth = bar.flat_depth(diameter, width)
    distance = diameter / 2 - depth
    assert math.hypot(distance, width / 2) == pytest.approx(diameter / 2, rel=1e-12)
    assert bar.flat_width(diameter, depth) == pytest.approx(width, rel=1e-9)


@given(DIAMETER, st.floats(0.02, 0.3))
def test_free_bar_with_one_flat_is_an_eccentric_tie(diameter, share):
    depth = share * diameter / 2
    area, centroid, second = by_strips(diameter, depth, 0.0)
    force = 1.0
    # Navier's line about the centroid of what is left, the force on the axis of the round bar.
    moment = force * (0.0 - centroid)
    stress = force / area + moment * (diameter / 2 - depth - centroid) / second
    mean = force / (math.pi * diameter**2 / 4)
    found = bar.stress_ratio_free(bar.section_at_flat(diameter, depth))
    assert found == pytest.approx(stress / mean, rel=1e-6)


@given(DIAMETER, st.floats(0.02, 0.3))
def test_equal_opposite_flats_cancel_the_bending(diameter, share):
    both = bar.section_at_flat(diameter, share * diameter / 2, share * diameter / 2)
    assert both.centroid == pytest.approx(0.0, abs=1e-15)
    assert bar.stress_ratio_free(both) == pytest.approx(bar.stress_ratio_restrained(both))


def test_a_bar_without_a_flat_is_whole():
    whole = bar.section_at_flat(16e-3, 0.0)
    assert whole.net_area == whole.area
    assert bar.stress_ratio_free(whole) == 1.0


@given(st.floats(-0.01, 0.01), st.floats(1.0, 1.3))
def test_strain_of_flat_and_bar_undo_each_other(strain, ratio):
    assert bar.bar_strain(bar.flat_strain(strain, ratio), ratio) == pytest.approx(strain, abs=1e-16)


@pytest.mark.parametrize("sizes", [bar.METRIC_BARS, bar.US_BARS])
def test_nominal_numbers_of_every_size_agree_with_each_other(sizes):
    for name, size in sizes.items():
        assert size.name == name
        assert size.area == pytest.approx(math.pi * size.diameter**2 / 4, rel=0.02)
        assert bar.area_from_mass(size.mass_per_length) == pytest.approx(size.area, rel=0.02)


def test_bond_lost_is_covered_surface_over_bonded_surface():
    assert bar.bond_lost_wrap(0.05, 1.0) == pytest.approx(0.05)
    surface = math.pi * 16e-3 * 1.0
    assert bar.bond_lost(0.05, 0.012, 16e-3, 1.0) == pytest.approx(0.05 * 0.012 / surface)
    with pytest.raises(InputError, match="covered_width over girth"):
        bar.bond_lost(0.05, 0.06, 16e-3, 1.0)
    with pytest.raises(InputError, match="covered share"):
        bar.bond_lost_wrap(1.1, 1.0)


def test_impossible_flats_are_refused():
    with pytest.raises(InputError, match="flat_width over diameter"):
        bar.flat_depth(16e-3, 17e-3)
    with pytest.raises(InputError, match="opposite_flat_depth"):
        bar.section_at_flat(16e-3, 0.0, 9e-3)
    with pytest.raises(InputError, match="diameter"):
        bar.section_at_flat(0.0, 0.0)


AXIAL = st.floats(-5e-3, 5e-3)
CURVATURE = st.floats(-0.5, 0.5)


@given(AXIAL, CURVATURE, st.floats(4e-3, 40e-3))
def test_opposite_pair_gives_back_the_plane_it_was_read_from(axial, curvature, apart):
    first, second = axial + curvature * apart / 2, axial - curvature * apart / 2
    found = around.opposite_pair(first, second, apart)
    assert found.axial == pytest.approx(axial, abs=1e-15)
    assert found.bending == pytest.approx(curvature * apart / 2, abs=1e-15)
    assert found.curvature == pytest.approx(curvature, abs=1e-12)


def plane(axial, kx, ky, angles, radius):
    return axial + kx * radius * np.cos(angles) + ky * radius * np.sin(angles)


@given(AXIAL, CURVATURE, CURVATURE, st.floats(0.0, 6.0), st.sampled_from([3, 4, 5, 8]))
def test_gauges_round_the_bar_give_back_any_plane(axial, kx, ky, start, n_gauges):
    angles = start + np.arange(n_gauges) * 2 * np.pi / n_gauges
    found = around.axial_and_bending(plane(axial, kx, ky, angles, 8e-3), angles, 8e-3)
    assert found.axial == pytest.approx(axial, abs=1e-14)
    assert found.curvature_x == pytest.approx(kx, abs=1e-11)
    assert found.curvature_y == pytest.approx(ky, abs=1e-11)
    assert found.residual == pytest.approx(np.zeros(n_gauges), abs=1e-14)


def test_two_opposite_gauges_leave_the_other_curvature_unknown():
    found = around.axial_and_bending([[1.1e-3, 0.9e-3], [np.nan, 1e-3]], [0.0, np.pi], 8e-3)
    assert found.axial[0] == pytest.approx(1e-3)
    assert found.curvature_x[0] == pytest.approx(0.1e-3 / 8e-3)
    assert np.isnan(found.curvature_y).all()
    assert np.isnan(found.axial[1])


def test_gauges_of_different_depth_are_weighed_by_their_own_radius():
    angles, radius = np.radians([0, 90, 180, 270]), np.array([7e-3, 8e-3, 7.5e-3, 8e-3])
    found = around.axial_and_bending(plane(1e-3, 0.02, -0.01, angles, radius), angles, radius)
    assert found.axial == pytest.approx(1e-3, abs=1e-15)
    assert found.curvature_y == pytest.approx(-0.01, abs=1e-12)


@pytest.mark.parametrize("angles", [[0.0], [0.0, 1.0], [0.5, 0.5, 0.5]])
def test_gauges_on_one_side_cannot_tell_axial_from_bending(angles):
    with pytest.raises(InputError, match="one side alone"):
        around.axial_and_bending([1e-3] * len(angles), angles, 8e-3)


def test_as_many_angles_as_gauges_are_asked_for():
    with pytest.raises(InputError, match="one for each gauge"):
        around.axial_and_bending([1e-3, 1e-3], [0.0, 1.0, 2.0], 8e-3)
