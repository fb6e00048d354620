"""Elastic sections against sums over thin slices, found without their closed form."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from gaugewright.calc import cracked_section as elastic
from gaugewright.errors import InputError

SLICES = 20_000


def by_slices(shape, depths, areas, ratio, curvature_sign=1.0):
    """Axis at which the forces of slices and bars balance, and their moment per curvature."""
    edge = np.linspace(0, shape.height, SLICES + 1)
    y, thick = (edge[1:] + edge[:-1]) / 2, np.diff(edge)
    width = np.where(y < shape.flange_depth, shape.flange_width, shape.web_width)

    def force_and_moment(axis):
        pushed = y < axis
        concrete = np.where(pushed, (y - axis) * width * thick, 0.0)
        bars = (depths - axis) * areas * np.where(depths < axis, ratio - 1, ratio)
        return concrete.sum() + bars.sum(), (concrete * (y - axis)).sum() + (
            bars * (depths - axis)
        ).sum()

    axis = brentq(lambda x: force_and_moment(x)[0], 1e-9, shape.height)
    return axis, force_and_moment(axis)[1]


@given(
    st.floats(1.0, 5.0),
    st.floats(0.05, 0.4),
    st.floats(0.0005, 0.006),
    st.floats(0.0, 0.004),
    st.floats(5.0, 18.0),
)
def test_axis_and_stiffness_of_a_doubly_reinforced_tee(wide, flange, low, high, ratio):
    shape = elastic.tee(0.3 * wide, flange * 0.6, 0.3, 0.6)
    depths, areas = np.array([0.05, 0.54, 0.5]), np.array([high + 1e-9, low, low / 2])
    section = elastic.cracked(shape, depths, areas, ratio)
    axis, stiffness = by_slices(shape, depths, areas, ratio)
    assert section.neutral_axis_depth == pytest.approx(axis, rel=1e-3)
    assert section.second_moment == pytest.approx(stiffness, rel=1e-3)


def test_stresses_carry_the_moment_and_no_axial_force():
    section = elastic.cracked(elastic.rectangle(0.3, 0.5), [0.05, 0.45], [400e-6, 1200e-6], 7.0)
    x, moment = section.neutral_axis_depth, 80e3
    top = section.concrete_stress(moment).item()
    steel = section.steel_stress(moment, [0.05, 0.45])
    beside = section.concrete_stress(moment, 0.05).item()
    pushed = top * 0.3 * x / 2
    force = pushed + (steel[0] - beside) * 400e-6 + steel[1] * 1200e-6
    assert force == pytest.approx(0.0, abs=1e-6 * abs(pushed))
    about_axis = pushed * (x / 3 - x) + (steel[0] - beside) * 400e-6 * (0.05 - x)
    about_axis += steel[1] * 1200e-6 * (0.45 - x)
    assert about_axis == pytest.approx(moment)


def test_without_steel_weight_the_uncracked_section_is_that_of_textbooks():
    plain = elastic.uncracked(elastic.rectangle(0.2, 0.4))
    assert plain.neutral_axis_depth == pytest.approx(0.2)
    assert plain.second_moment == pytest.approx(0.2 * 0.4**3 / 12)
    assert elastic.cracking_moment(plain, 3e6) == pytest.approx(3e6 * 0.2 * 0.4**2 / 6)


def test_a_tee_with_equal_widths_is_a_rectangle():
    one = elastic.cracked(elastic.tee(0.3, 0.1, 0.3, 0.5), [0.45], [1e-3], 7.0)
    other = elastic.cracked(elastic.rectangle(0.3, 0.5), [0.45], [1e-3], 7.0)
    assert one.neutral_axis_depth == pytest.approx(other.neutral_axis_depth, rel=1e-12)
    assert one.second_moment == pytest.approx(other.second_moment, rel=1e-12)


def test_yield_of_a_rectangle_by_hand():
    # Section of 300 by 450 mm, d = 390, 1350 mm² of 500 MPa steel, 30.1 and 200 GPa: the strain at
    # yield is 0.0025, the curvature that strain over d - x, the moment by lever arm d - x/3.
    section = elastic.cracked(elastic.rectangle(0.3, 0.45), [0.39], [1350e-6], 200 / 30.1)
    moment = section.moment_at_steel_stress(500e6, 0.39).item()
    assert moment == pytest.approx(1350e-6 * 500e6 * (0.39 - section.neutral_axis_depth / 3))
    assert moment == pytest.approx(234.96e3, abs=10)
    assert section.curvature(moment, 30.1e9) * 1e3 == pytest.approx(9.4595, abs=1e-3)


def test_at_the_balanced_area_both_materials_reach_their_stress_together():
    area = elastic.balanced_area(0.25, 0.5, 190e6, 7e6, modular_ratio=13.33)
    section = elastic.cracked(elastic.rectangle(0.25, 0.55), [0.5], [area], 13.33)
    moment = section.moment_at_steel_stress(190e6, 0.5)
    assert section.concrete_stress(moment) == pytest.approx(-7e6)
    assert section.neutral_axis_depth == pytest.approx(
        elastic.balanced_neutral_axis(0.5, 190e6, 7e6, 13.33)
    )


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda s: elastic.cracked(s, [0.4], [1e-3, 1e-3], 7.0), "depths"),
        (lambda s: elastic.cracked(s, [], [], 7.0), "depths"),
        (lambda s: elastic.cracked(s, [0.4], [-1e-3], 7.0), "areas"),
        (lambda s: elastic.cracked(s, [0.4], [1e-3], np.nan), "modular_ratio"),
        (lambda s: elastic.tee(0.5, 0.6, 0.2, 0.5), "flange_depth"),
        (lambda s: elastic.rectangle(0.0, 0.5), "width"),
    ],
)
def test_impossible_measures_are_refused_by_name(call, name):
    with pytest.raises(InputError, match=name):
        call(elastic.rectangle(0.3, 0.45))
