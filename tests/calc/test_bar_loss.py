"""What is lost with a gauge, against scatter drawn and against the plane itself."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc.around import axial_and_bending
from gaugewright.calc.bar_loss import axial_of_survivor, section_answers, without_gauge
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError


@given(st.integers(3, 8), st.floats(0.0, 6.28))
def test_evenly_spread_gauges_average_as_they_should(count, start):
    angles = start + 2 * np.pi * np.arange(count) / count
    found = section_answers(angles, 8e-3)
    assert found.axial == pytest.approx(1 / np.sqrt(count))
    assert found.curvature_x == pytest.approx(np.sqrt(2 / count))
    assert found.curvature_y == pytest.approx(np.sqrt(2 / count))
    assert found.spare == count - 3


def test_the_stated_spread_is_that_of_planes_through_scattered_gauges():
    rng = np.random.default_rng(20261125)
    angles, radius = np.radians([10.0, 95.0, 200.0, 280.0]), np.array([7e-3, 8e-3, 8e-3, 7.5e-3])
    planes = axial_and_bending(rng.normal(0.0, 1.0, (20000, 4)), angles, radius)
    found = section_answers(angles, radius)
    mean = radius.mean()
    # 20 000 draws tell a standard deviation to 0.5 %; four of those.
    assert np.std(planes.axial) == pytest.approx(found.axial, rel=0.02)
    assert np.std(planes.curvature_x * mean) == pytest.approx(found.curvature_x, rel=0.02)
    assert np.std(planes.curvature_y * mean) == pytest.approx(found.curvature_y, rel=0.02)


def test_what_a_pair_three_and_four_lose_with_one_gauge():
    before, after = without_gauge([0.0, np.pi], 8e-3, lost=1)
    assert before.told == ("axial", "curvature_x")
    assert after.told == ()
    before, after = without_gauge(np.radians([0, 120, 240]), 8e-3, lost=0)
    assert before.told == ("axial", "curvature_x", "curvature_y")
    assert after.told == ("curvature_y",)
    before, after = without_gauge(np.radians([0, 90, 180, 270]), 8e-3, lost=2)
    assert after.told == before.told
    assert (before.spare, after.spare) == (1, 0)


@given(st.integers(2, 7), st.data())
def test_losing_a_gauge_never_makes_anything_better(count, data):
    angles = data.draw(st.lists(st.floats(0.0, 6.28), min_size=count, max_size=count))
    before, after = without_gauge(angles, 8e-3, lost=data.draw(st.integers(0, count - 1)))
    for name in after.told:
        assert name in before.told
        assert getattr(after, name) >= getattr(before, name) * (1 - 1e-6)


def test_the_survivor_carries_the_bending_nobody_sees_as_an_assumption():
    gauge = Uncertain.from_input(1000e-6, InputQuantity("gauge", 15e-6))
    found = axial_of_survivor(gauge, -80e-6, "bending unseen@s1")
    assert found.value == 1000e-6
    assert found.standard_uncertainty() == pytest.approx(np.hypot(15e-6, 80e-6))
    assert [line.input for line in found.budget().assumed] == ["bending unseen@s1"]
    with pytest.raises(InputError, match="upper limit"):
        axial_of_survivor(gauge, np.nan, "bending unseen@s1")


def test_no_gauge_and_the_only_gauge_are_refused():
    with pytest.raises(InputError, match="one angle"):
        section_answers([], 8e-3)
    with pytest.raises(InputError, match="two gauges or more"):
        without_gauge([0.0], 8e-3, lost=0)
    with pytest.raises(InputError, match="from 0 to 1"):
        without_gauge([0.0, np.pi], 8e-3, lost=2)
