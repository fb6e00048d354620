"""Doubts of a rosette against drawn readings, and its axis where the circle is small."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import rosette_state
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError

RECTANGULAR = np.radians([0.0, 45.0, 90.0])
NONE = [Uncertain.exact(0.0)] * 3


def grid_reads(state, angle, side, ratio):
    """What a grid indicates: resistance along and across it, by turning the tensor."""
    x, y, shear = state
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    there = turn @ np.array([[x, shear / 2], [shear / 2, y]]) @ turn.T
    return (there[0, 0] + side * there[1, 1]) / (1 - ratio * side)


def named(value, doubt, name):
    return Uncertain.from_input(value, InputQuantity(name, doubt))


STRAIN = st.floats(-3e-3, 3e-3)


@given(
    st.tuples(STRAIN, STRAIN, STRAIN),
    st.lists(st.integers(0, 11), min_size=3, max_size=6, unique=True),
    st.floats(-0.02, 0.05),
)
def test_any_layout_gives_back_the_state_it_was_read_from(state, steps, side):
    angles = np.radians([15.0 * step for step in steps])
    arms = [Uncertain.exact(grid_reads(state, angle, side, 0.285)) for angle in angles]
    found = rosette_state.surface_state(arms, angles, [Uncertain.exact(side)] * len(arms))
    got = [v.value.item() for v in (found.strain_x, found.strain_y, found.shear_strain)]
    assert got == pytest.approx(state, abs=1e-12)
    assert all(abs(each.value) < 1e-12 for each in found.residuals)


@pytest.mark.parametrize("angles", [(0, 45, 90), (0, 60, 120), (10, 70, 110, 170)])
def test_derivatives_by_readings_and_sensitivities_are_those_of_differences(angles):
    angles = np.radians(angles)
    readings = np.array([900e-6, -350e-6, 410e-6, 120e-6])[: angles.size]
    sides = np.array([0.012, -0.006, 0.009, 0.004])[: angles.size]

    def solved(values, ks):
        rows = [
            [
                grid_reads(unit, angle, k, 0.285)
                for unit in ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
            ]
            for angle, k in zip(angles, ks, strict=True)
        ]
        return np.linalg.lstsq(np.array(rows), values, rcond=None)[0]

    arms = [named(v, 1e-6, f"e{n}") for n, v in enumerate(readings)]
    ks = [named(k, 1e-3, f"k{n}") for n, k in enumerate(sides)]
    found = rosette_state.surface_state(arms, angles, ks)
    made = (found.strain_x, found.strain_y, found.shear_strain)
    for n in range(angles.size):
        step = np.eye(angles.size)[n]
        by_reading = (solved(readings + 1e-6 * step, sides) - solved(readings, sides)) / 1e-6
        by_side = (
            solved(readings, sides + 1e-5 * step) - solved(readings, sides - 1e-5 * step)
        ) / 2e-5
        for part, one, two in zip(made, by_reading, by_side, strict=True):
            assert part.sensitivities[f"e{n}"] == pytest.approx(one, abs=1e-6)
            assert part.sensitivities[f"k{n}"] == pytest.approx(two, abs=1e-9)


def test_tee_undoes_both_grids_and_says_nothing_of_shear():
    ka, kb, nu = 0.015, -0.004, 0.285
    truth = (700e-6, -210e-6, 0.0)
    reads = np.array([grid_reads(truth, 0.0, ka, nu), grid_reads(truth, math.pi / 2, kb, nu)])
    arms = [named(v, 1e-6, f"e{n}") for n, v in enumerate(reads)]
    found = rosette_state.tee_state(arms, [named(ka, 1e-3, "ka"), named(kb, 1e-3, "kb")], nu)
    assert found.strain_x.value == pytest.approx(truth[0], abs=1e-15)
    assert found.strain_y.value == pytest.approx(truth[1], abs=1e-15)
    assert found.shear_strain.value == 0

    def solved(a, b):
        rows = [[1 / (1 - nu * a), a / (1 - nu * a)], [b / (1 - nu * b), 1 / (1 - nu * b)]]
        return np.linalg.solve(np.array(rows), reads)

    by_ka = (solved(ka + 1e-5, kb) - solved(ka - 1e-5, kb)) / 2e-5
    by_kb = (solved(ka, kb + 1e-5) - solved(ka, kb - 1e-5)) / 2e-5
    for n, part in enumerate((found.strain_x, found.strain_y)):
        assert part.sensitivities["ka"] == pytest.approx(by_ka[n], abs=1e-9)
        assert part.sensitivities["kb"] == pytest.approx(by_kb[n], abs=1e-9)
    with pytest.raises(InputError, match="two, at right angles"):
        rosette_state.tee_state(arms[:1], [Uncertain.exact(ka)])


def drawn(truth, noise, shared, count=4000):
    """Readings of many rectangular rosettes whose arms share one cause and have their own noise."""
    random = np.random.default_rng(71)
    true = np.array([grid_reads(truth, angle, 0.0, 0.285) for angle in RECTANGULAR])
    common = random.normal(0.0, shared, (count, 1)) * np.array([1.0, -0.4, 0.7])
    return true + common + random.normal(0.0, noise, (count, 3))


def states(readings, noise, shared):
    cause = InputQuantity("shared", shared)
    slopes = (1.0, -0.4, 0.7)
    arms = [
        Uncertain(
            readings[:, n],
            {"shared": np.asarray(slopes[n])},
            np.asarray(noise),
            {"shared": cause},
        )
        for n in range(3)
    ]
    return rosette_state.principal_state(rosette_state.surface_state(arms, RECTANGULAR, NONE))


@pytest.mark.parametrize("radius", [15e-6, 30e-6, 100e-6, 400e-6])
def test_the_axis_interval_holds_the_true_axis_as_often_as_it_says(radius):
    angle, noise, shared = math.radians(25.0), 5e-6, 4e-6
    truth = (
        200e-6 + radius * math.cos(2 * angle),
        200e-6 - radius * math.cos(2 * angle),
        2 * radius * math.sin(2 * angle),
    )
    found = states(drawn(truth, noise, shared), noise, shared)
    told = found.is_determined
    away = (angle - found.angle.value + math.pi / 2) % math.pi - math.pi / 2
    inside = (away >= -found.lower) & (away <= found.upper)
    # An axis that isn't determined claims nothing, and so isn't wrong. A circle just large enough
    # to be told is now and then told from the wrong side: 93 of 100, as the docstring says.
    assert np.where(told, inside, True).mean() >= 0.925
    if radius >= 100e-6:
        assert told.all()
        assert inside.mean() == pytest.approx(0.95, abs=0.012)
        u = found.radius.standard_uncertainty()
        assert np.std(found.radius.value) == pytest.approx(u.mean(), rel=0.05)


def test_a_circle_of_no_size_has_an_axis_as_seldom_as_stated():
    found = states(drawn((200e-6, 200e-6, 0.0), 5e-6, 4e-6), 5e-6, 4e-6)
    assert found.is_determined.mean() == pytest.approx(0.05, abs=0.012)
    assert np.isnan(found.lower[~found.is_determined]).all()


def test_without_doubt_any_circle_has_an_axis_and_none_has_none():
    exact = [Uncertain.exact(np.array([v, 1e-4])) for v in (300e-6, 200e-6, -100e-6)]
    found = rosette_state.principal_state(rosette_state.surface_state(exact, RECTANGULAR, NONE))
    assert found.is_determined.tolist() == [True, False]
    assert found.lower[0] == found.upper[0] == 0.0
    assert np.isnan(found.angle.value[1])


def test_a_missing_arm_is_missing_in_everything():
    arms = [
        Uncertain.noisy(np.array([v, 2 * w]), 1e-6)
        for v, w in ((2e-4, 1e-4), (1e-4, np.nan), (-3e-4, 1e-4))
    ]
    found = rosette_state.principal_state(rosette_state.surface_state(arms, RECTANGULAR, NONE))
    assert np.isfinite(found.first.value).tolist() == [True, False]
    assert found.is_determined.tolist() == [True, False]


def test_stresses_undo_the_strains_of_a_free_surface():
    modulus, ratio = named(205e9, 2e9, "E"), named(0.29, 0.01, "nu")
    strains = ((120e6 - 0.29 * -40e6) / 205e9, (-40e6 - 0.29 * 120e6) / 205e9)
    made = tuple(Uncertain.exact(value) for value in strains)
    first, second = rosette_state.principal_stresses(made, modulus, ratio)
    assert first.value == pytest.approx(120e6)
    assert second.value == pytest.approx(-40e6)

    def solved(nu):
        flexibility = np.array([[1, -nu], [-nu, 1]]) / 205e9
        return np.linalg.solve(flexibility, np.array(strains))

    by_ratio = (solved(0.2901) - solved(0.2899)) / 2e-4
    assert first.sensitivities["nu"] == pytest.approx(by_ratio[0], rel=1e-5)
    assert second.sensitivities["nu"] == pytest.approx(by_ratio[1], rel=1e-5)
