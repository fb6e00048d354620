"""States of a section under a growing axial force: elastic forms, balance, and central pressing."""

import numpy as np
import pytest

from gaugewright.calc import concrete, fibre_section, layers, steel
from gaugewright.calc.pressed_section import LoadPath, pressed_states
from gaugewright.errors import InputError

WIDTH, HEIGHT = 0.3, 0.4
MODULUS, STEEL = 30e9, 200e9
DEPTHS, AREAS = np.array([0.05, 0.35]), np.array([600e-6, 600e-6])


def elastic():
    return fibre_section.FibreSection(
        layers.rectangle(WIDTH, HEIGHT, layers=800),
        DEPTHS,
        AREAS,
        lambda e: MODULUS * e,
        lambda e: STEEL * e,
    )


def yielding():
    return fibre_section.FibreSection(
        layers.rectangle(WIDTH, HEIGHT),
        DEPTHS,
        AREAS,
        lambda e: (
            concrete.parabola_rectangle_stress(e, 30e6)
            + concrete.brittle_tension_stress(e, MODULUS, 2.5e6)
        ),
        lambda e: steel.bilinear_stress(e, STEEL, 500e6),
        crushing_strain=0.0035,
    )


def test_an_elastic_column_is_load_over_area_and_moment_over_inertia():
    beside = STEEL / MODULUS - 1
    area = WIDTH * HEIGHT + beside * np.sum(AREAS)
    inertia = WIDTH * HEIGHT**3 / 12 + beside * np.sum(AREAS * (DEPTHS - HEIGHT / 2) ** 2)
    found = pressed_states(elastic(), [-2e-4], LoadPath(-1.0, 0.06))
    load = float(found.load[0])
    top = -load / MODULUS * (1 / area + 0.06 * HEIGHT / 2 / inertia)
    assert top == pytest.approx(-2e-4, rel=1e-5)
    assert float(found.curvature[0]) == pytest.approx(load * 0.06 / (MODULUS * inertia), rel=1e-5)


@pytest.mark.parametrize("lever", [0.02, 0.1, 0.4])
def test_every_state_lies_on_its_path(lever):
    section, path = yielding(), LoadPath(-1.0, lever, axial_force=-50e3, moment=2e3)
    tops = np.linspace(-2e-4, -0.0034, 30)
    found = pressed_states(section, tops, path)
    assert np.isfinite(found.load).all()
    force, moment = section.forces(tops, found.curvature)
    assert force == pytest.approx(-50e3 - found.load, abs=1.0)
    assert moment == pytest.approx(2e3 + lever * found.load, abs=2.0)


def test_pressed_at_the_middle_it_stays_straight():
    tops = np.linspace(-1e-4, -0.0018, 12)
    found = pressed_states(yielding(), tops, LoadPath(-1.0, 0.0))
    assert found.curvature == pytest.approx(np.zeros(12), abs=1e-6)
    whole = -concrete.parabola_rectangle_stress(tops, 30e6) * (WIDTH * HEIGHT - 1200e-6)
    assert found.load == pytest.approx(whole - STEEL * tops * 1200e-6, rel=1e-3)


def test_past_the_end_of_the_law_there_is_no_state():
    found = pressed_states(yielding(), [-0.0036], LoadPath(-1.0, 0.05))
    assert np.isnan(found.load).all()


def test_a_load_without_axial_force_is_refused():
    with pytest.raises(InputError, match="axial_share"):
        pressed_states(yielding(), [-1e-4], LoadPath(0.0, 0.05))
    with pytest.raises(InputError, match="lever"):
        pressed_states(yielding(), [-1e-4], LoadPath(-1.0, -0.05))
