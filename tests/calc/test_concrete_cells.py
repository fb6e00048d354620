"""Forces of concrete under planes turned about two axes, against textbook moments."""

import numpy as np
import pytest

from gaugewright.calc import layers
from gaugewright.calc.concrete_cells import (
    cells_of_layers,
    forces_of_planes,
    midway_thicknesses,
)
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError

NOTHING = Uncertain.exact(0.0)
MODULUS = 30e9


def elastic(strain, elastic_modulus):
    return elastic_modulus * strain


def crushed_below(strain):
    return np.where(strain < -0.003, np.nan, 30e9 * strain)


def rectangle():
    cut = layers.rectangle(0.3, 0.5, layers=100)
    return cells_of_layers(cut, midway_thicknesses(cut), pieces=100)


def known(value, doubt, name):
    value = np.asarray(value, float)
    return Uncertain.from_input(value, InputQuantity(name, doubt), np.ones(value.shape))


def test_an_elastic_rectangle_answers_each_curvature_with_its_own_second_moment():
    planes = (
        known([0.0, 1e-4], 1e-6, "top"),
        known([1e-3, 0.0], 1e-5, "bend"),
        known([0.0, 2e-3], 1e-5, "slope"),
    )
    properties = {"elastic_modulus": known(MODULUS, 1e9, "E")}
    found = forces_of_planes(
        planes, rectangle(), elastic, properties, about=Uncertain.exact(0.25), free_strain=NOTHING
    )
    own = MODULUS * np.array([1e-3 * 0.3 * 0.5**3 / 12, 0.0])
    other = MODULUS * np.array([0.0, 2e-3 * 0.5 * 0.3**3 / 12])
    force = MODULUS * 0.15 * np.array([1e-3 * 0.25, 1e-4])
    assert found.moment.value == pytest.approx(own, rel=2e-4, abs=1e-6)
    assert found.moment_across.value == pytest.approx(other, rel=2e-4, abs=1e-6)
    assert found.force.value == pytest.approx(force, rel=1e-9)
    # By hand: M = E I κ, both in doubt.
    stiffness = MODULUS * 0.3 * 0.5**3 / 12
    expected = np.hypot(stiffness * 1e-5, own[0] / 30)
    assert found.moment.standard_uncertainty()[0] == pytest.approx(expected, rel=1e-3)


def test_a_tee_keeps_area_and_width_of_its_parts():
    cut = layers.tee(0.8, 0.1, 0.2, 0.5, layers=50)
    cells = cells_of_layers(cut, midway_thicknesses(cut), pieces=40)
    assert np.sum(cells.areas) == pytest.approx(0.8 * 0.1 + 0.2 * 0.4)
    second = 0.1 * 0.8**3 / 12 + 0.4 * 0.2**3 / 12
    assert np.sum(cells.areas * cells.across**2) == pytest.approx(second, rel=1e-3)


def test_a_circle_is_as_stiff_either_way():
    cut = layers.circle(0.4, layers=200)
    cells = cells_of_layers(cut, 0.4 / 200, pieces=40)
    expected = np.pi * 0.4**4 / 64
    assert np.sum(cells.areas * cells.across**2) == pytest.approx(expected, rel=2e-3)
    assert np.sum(cells.areas * (cells.depths - 0.2) ** 2) == pytest.approx(expected, rel=2e-3)


def test_beyond_the_law_there_is_no_force_and_other_rows_keep_theirs():
    planes = (known([-0.004, -0.001], 1e-6, "top"), known([0.0, 0.0], 1e-6, "bend"), None)
    found = forces_of_planes(
        planes, rectangle(), crushed_below, {}, about=NOTHING, free_strain=NOTHING
    )
    assert np.isnan(found.force.value).tolist() == [True, False]


def test_no_pieces_are_refused():
    cut = layers.rectangle(0.3, 0.5)
    with pytest.raises(InputError, match="pieces"):
        cells_of_layers(cut, 0.5 / 200, pieces=0)
