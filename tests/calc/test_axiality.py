"""Percent bending against planes of strain that are known."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc.axiality import bending_share
from gaugewright.errors import InputError

ANGLE = st.floats(0.0, 6.28)


def strains(axial, bending, direction, angles):
    """Plane of strain that bends by ``bending`` at the surface, towards ``direction``."""
    return axial + bending * np.cos(np.asarray(angles) - direction)


@given(st.floats(1e-5, 2e-3), st.floats(0.0, 1e-3), ANGLE, ANGLE, st.integers(3, 8))
def test_three_gauges_and_more_find_all_of_the_bending(axial, bending, direction, start, n):
    angles = start + 2 * np.pi * np.arange(n) / n
    found = bending_share(strains(axial, bending, direction, angles), angles, 8e-3)
    assert found.axial == pytest.approx(axial, abs=1e-15)
    assert found.bending == pytest.approx(bending, abs=1e-14)
    assert found.share == pytest.approx(bending / axial, abs=1e-9)
    assert found.whole


@given(st.floats(1e-5, 2e-3), st.floats(0.0, 1e-3), ANGLE, ANGLE)
def test_an_opposite_pair_finds_the_part_in_its_plane_which_is_no_more(
    axial, bending, direction, start
):
    angles = [start, start + np.pi]
    found = bending_share(strains(axial, bending, direction, angles), angles, 8e-3)
    assert found.axial == pytest.approx(axial, abs=1e-15)
    assert found.bending == pytest.approx(abs(bending * np.cos(start - direction)), abs=1e-15)
    assert found.bending <= bending + 1e-15
    assert not found.whole


def test_many_loads_at_once_and_no_load_and_a_missing_one():
    readings = [[1.1e-3, 0.9e-3], [0.0, 0.0], [np.nan, 1e-3]]
    found = bending_share(readings, [0.0, np.pi], 8e-3)
    assert found.share[0] == pytest.approx(0.1)
    assert np.isnan(found.share[1:]).all()


def test_four_gauges_as_the_standard_writes_it():
    # B = sqrt(((e1 - e3)/2)² + ((e2 - e4)/2)²) over the mean of the four.
    e = np.array([1040e-6, 1020e-6, 980e-6, 960e-6])
    expected = np.hypot((e[0] - e[2]) / 2, (e[1] - e[3]) / 2) / e.mean()
    found = bending_share(e, np.arange(4) * np.pi / 2, 8e-3)
    assert found.share == pytest.approx(expected, rel=1e-12)


def test_gauges_on_one_side_are_refused():
    with pytest.raises(InputError, match="one side alone"):
        bending_share([1e-3, 1e-3], [0.0, 0.5], 8e-3)
