"""Rosettes against eigenvalues of the strain tensor and rotations of it."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import rosette
from gaugewright.errors import InputError

STRAIN = st.floats(-3e-3, 3e-3)
STATE = st.tuples(STRAIN, STRAIN, STRAIN)


def tensor(state):
    x, y, shear = state
    return np.array([[x, shear / 2], [shear / 2, y]])


def turned(state, angle):
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    return turn @ tensor(state) @ turn.T


@given(STATE, st.floats(-10, 10))
def test_strains_in_turned_axes_are_the_turned_tensor(state, angle):
    there = turned(state, angle)
    assert rosette.direct_strain(*state, angle) == pytest.approx(there[0, 0], abs=1e-15)
    assert rosette.shear_strain(*state, angle) == pytest.approx(2 * there[0, 1], abs=1e-15)


@given(STATE)
def test_principal_strains_are_eigenvalues_and_their_axis_has_no_shear(state):
    found = rosette.principal(*state)
    low, high = np.linalg.eigvalsh(tensor(state))
    assert found.first == pytest.approx(high, abs=1e-15)
    assert found.second == pytest.approx(low, abs=1e-15)
    if high - low > 1e-12:
        there = turned(state, float(found.angle))
        assert there[0, 0] == pytest.approx(high, abs=1e-14)
        assert there[0, 1] == pytest.approx(0.0, abs=1e-14)


@given(STATE)
def test_both_common_rosettes_find_the_state_they_were_read_from(state):
    expected = rosette.principal(*state)
    for solve, degrees in (
        (rosette.rectangular_rosette, (0, 45, 90)),
        (rosette.delta_rosette, (0, 60, 120)),
    ):
        arms = [turned(state, math.radians(angle))[0, 0] for angle in degrees]
        found = solve(*arms)
        assert found.first == pytest.approx(expected.first, abs=1e-14)
        assert found.second == pytest.approx(expected.second, abs=1e-14)


SPREAD = st.lists(st.integers(0, 11), min_size=3, max_size=6, unique=True).map(
    lambda steps: [15.0 * step for step in steps]
)


@given(STATE, SPREAD, st.floats(-0.03, 0.03))
def test_any_spread_of_grids_with_transverse_sensitivity_gives_the_state_back(state, degrees, k_t):
    angles = np.radians(degrees)
    beam, read = 0.285, []
    for angle in angles:
        there = turned(state, angle)
        read.append((there[0, 0] + k_t * there[1, 1]) / (1 - beam * k_t))
    found = rosette.surface_strain(read, angles, k_t, beam)
    assert found.strain_x == pytest.approx(state[0], abs=1e-13)
    assert found.strain_y == pytest.approx(state[1], abs=1e-13)
    assert found.shear_strain == pytest.approx(state[2], abs=1e-13)
    assert found.residual == pytest.approx(np.zeros(len(angles)), abs=1e-14)


def test_a_fourth_grid_shows_a_bad_one_in_its_residual_and_a_missing_one_spoils_its_sample():
    angles = np.radians([0, 45, 90, 135])
    good = [1e-3, 0.35e-3, -0.3e-3, 0.35e-3]
    found = rosette.surface_strain([good, [1e-3, 0.39e-3, -0.3e-3, 0.35e-3]], angles)
    assert found.residual[0] == pytest.approx(np.zeros(4), abs=1e-15)
    assert np.abs(found.residual[1]).max() == pytest.approx(0.01e-3)
    assert np.isnan(rosette.surface_strain([1e-3, np.nan, 0, 0], angles).strain_x)


def test_equal_strain_all_round_has_no_direction():
    assert np.isnan(rosette.principal(1e-3, 1e-3, 0.0).angle)


@given(STATE, st.floats(50e9, 250e9), st.floats(0.0, 0.49))
def test_stress_and_strain_undo_each_other(state, modulus, nu):
    stress = rosette.plane_stress(*state, modulus, nu)
    back = rosette.plane_strain_from_stress(
        stress.stress_x, stress.stress_y, stress.shear_stress, modulus, nu
    )
    assert np.array(back) == pytest.approx(np.array(state), abs=1e-15)


def test_stress_in_one_direction_is_hookes_law():
    stress = rosette.plane_stress(1e-3, -0.3e-3, 0.0, 200e9, 0.3)
    assert stress.stress_x == pytest.approx(200e6)
    assert stress.stress_y == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("degrees", [[0, 45], [0, 180, 90], [0, 0, 45, 45]])
def test_fewer_than_three_directions_are_refused(degrees):
    with pytest.raises(InputError, match="three different directions"):
        rosette.surface_strain([1e-3] * len(degrees), np.radians(degrees))


def test_as_many_angles_as_grids_are_asked_for():
    with pytest.raises(InputError, match="one for each grid"):
        rosette.surface_strain([1e-3, 1e-3, 1e-3], [0.0, 1.0])
