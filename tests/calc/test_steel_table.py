"""The laboratory's own curve: followed, not overshot, not guessed on, and turned to true values."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import steel_table
from gaugewright.errors import Faults, InputError

STRAIN = [0.0, 0.0025, 0.005, 0.02, 0.05, 0.09]
STRESS = [0.0, 500e6, 500e6, 545e6, 590e6, 605e6]


def test_points_are_met_and_the_elastic_line_is_straight():
    found = steel_table.coupon_curve_stress(STRAIN, STRAIN, STRESS)
    assert found.stress == pytest.approx(STRESS)
    assert not found.extrapolated.any()
    elastic = steel_table.coupon_curve_stress([0.0004, -0.0021], STRAIN, STRESS)
    assert elastic.stress == pytest.approx([80e6, -420e6])
    assert elastic.slope == pytest.approx(200e9)


@given(
    st.lists(st.floats(1e-4, 0.02), min_size=2, max_size=12),
    st.lists(st.floats(0.0, 80e6), min_size=12, max_size=12),
)
def test_it_rises_where_the_points_rise_and_overshoots_nowhere(steps, rises):
    points = np.concatenate([[0.0], np.cumsum(steps)])
    heights = np.concatenate([[0.0], np.cumsum(rises[: len(steps)])])
    at = np.linspace(0.0, points[-1], 400)
    found = steel_table.coupon_curve_stress(at, points, heights)
    assert np.all(np.diff(found.stress) >= -1e-3)
    place = np.clip(np.searchsorted(points, at) - 1, 0, len(steps) - 1)
    assert np.all(found.stress <= heights[place + 1] + 1e-3)
    assert np.all(found.stress >= heights[place] - 1e-3)


def test_a_smooth_curve_is_met_much_closer_than_by_straight_lines():
    def smooth(e):
        return 500e6 + 120e6 * (1 - np.exp(-(e - 0.0025) / 0.02))

    points = np.concatenate([[0.0], np.linspace(0.0025, 0.1, 20)])
    heights = np.concatenate([[0.0], smooth(points[1:])])
    at = np.linspace(0.004, 0.099, 300)
    found = steel_table.coupon_curve_stress(at, points, heights).stress
    straight = np.interp(at, points, heights)
    assert np.max(np.abs(found - smooth(at))) < 0.1 * np.max(np.abs(straight - smooth(at)))


def test_slope_is_the_difference_of_the_stress():
    at, step = np.array([0.001, 0.003, 0.012, 0.07]), 1e-7
    up = steel_table.coupon_curve_stress(at + step, STRAIN, STRESS).stress
    down = steel_table.coupon_curve_stress(at - step, STRAIN, STRESS).stress
    slope = steel_table.coupon_curve_stress(at, STRAIN, STRESS).slope
    assert slope == pytest.approx((up - down) / (2 * step), rel=1e-4, abs=1e5)


def test_beyond_the_end_and_beyond_maximum_force_it_says_so():
    found = steel_table.coupon_curve_stress([0.08, 0.0901, -0.2, np.nan], STRAIN, STRESS)
    assert found.extrapolated.tolist() == [False, True, True, False]
    assert np.isnan(found.stress[1:]).all()
    necked = steel_table.coupon_curve_stress([0.05, 0.08], STRAIN, STRESS, uniform_elongation=0.06)
    assert necked.extrapolated.tolist() == [False, True]


def test_true_values_of_an_even_stretch():
    # A piece 100 mm long and 100 mm² in section, stretched evenly at constant volume.
    stretch = np.linspace(1.0, 1.15, 16)
    area = 100.0 / stretch
    force = 60e3 * (1 - np.exp(-(stretch - 1) / 0.03))
    logarithmic, true = steel_table.true_curve(stretch - 1, force / 100e-6, uniform_elongation=0.12)
    kept = stretch - 1 <= 0.12
    assert logarithmic == pytest.approx(np.log(stretch[kept]))
    assert true == pytest.approx((force / (area * 1e-6))[kept])
    back = steel_table.engineering_curve(logarithmic, true)
    assert back[0] == pytest.approx((stretch - 1)[kept])
    assert back[1] == pytest.approx((force / 100e-6)[kept])


def test_tables_that_cannot_be_used_are_refused_with_all_that_is_wrong():
    with pytest.raises(Faults) as told:
        steel_table.coupon_curve_stress(0.001, [0.001, 0.001], [1e6, np.nan])
    assert {fault.name for fault in told.value.faults} == {"curve_strain", "curve_stress"}
    with pytest.raises(InputError, match="as many as stresses"):
        steel_table.coupon_curve_stress(0.001, [0.0], [0.0, 1.0])
    with pytest.raises(InputError, match="zero first"):
        steel_table.coupon_curve_stress(0.001, [0.0, 0.1], [1e6, 2e6])
    with pytest.raises(InputError, match="two points or more"):
        steel_table.true_curve(STRAIN, STRESS, uniform_elongation=0.001)
