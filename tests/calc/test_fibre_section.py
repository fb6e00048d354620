"""Layered sections against closed forms, integrals by hand and what equilibrium demands."""

import time

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from gaugewright.calc import concrete, cracked_section, fibre_section, layers, steel
from gaugewright.errors import InputError

EC, ES = 30e9, 200e9


def section(**changes):
    made = {
        "concrete": layers.rectangle(0.3, 0.5),
        "bar_depths": np.array([0.05, 0.45]),
        "bar_areas": np.array([400e-6, 1200e-6]),
        "concrete_law": lambda e: concrete.elastic_compression_stress(e, EC),
        "steel_law": lambda e: steel.elastic_stress(e, ES),
    }
    return fibre_section.FibreSection(**(made | changes))


def test_linear_laws_give_the_cracked_elastic_section():
    moments = np.array([1e3, 50e3, 200e3])
    closed = cracked_section.cracked(
        cracked_section.rectangle(0.3, 0.5), [0.05, 0.45], [400e-6, 1200e-6], ES / EC
    )
    found = fibre_section.states_at(section(), moments, 0.1)
    assert found.moment == pytest.approx(moments)
    assert found.neutral_axis_depth == pytest.approx(closed.neutral_axis_depth, rel=1e-4)
    assert found.bar_stress[:, 1] == pytest.approx(closed.steel_stress(moments, 0.45), rel=1e-4)
    assert found.bar_stress[:, 0] == pytest.approx(closed.steel_stress(moments, 0.05), rel=5e-4)
    assert found.curvature == pytest.approx(closed.curvature(moments, EC), rel=1e-4)


def test_linear_laws_with_tension_give_the_uncracked_tee():
    made = section(
        concrete=layers.tee(1.0, 0.12, 0.3, 0.6, layers=400),
        concrete_law=lambda e: EC * e,
    )
    closed = cracked_section.uncracked(
        cracked_section.tee(1.0, 0.12, 0.3, 0.6), [0.05, 0.45], [400e-6, 1200e-6], ES / EC
    )
    found = fibre_section.moment_curvature(made, [1e-4])
    assert found.neutral_axis_depth == pytest.approx(closed.neutral_axis_depth, rel=1e-5)
    assert found.moment == pytest.approx(1e-4 * EC * closed.second_moment, rel=1e-4)


def test_a_curved_law_agrees_with_an_integral_worked_by_another_hand():
    curvature = 0.012

    def stress(strain):
        e = -strain
        return 0.0 if e <= 0 else -30e6 * (1 - max(1 - e / 0.002, 0.0) ** 2)

    def bars(top):
        at = np.array([top + curvature * 0.05, top + curvature * 0.45])
        return np.clip(ES * at, -500e6, 500e6) - [stress(at[0]), stress(at[1])]

    def axial(top):
        axis = -top / curvature
        return 0.3 * quad(lambda y: stress(top + curvature * y), 0, axis, epsabs=1)[0] + bars(
            top
        ) @ np.array([400e-6, 1200e-6])

    top = brentq(axial, -0.0034, -1e-6)
    moment = 0.3 * quad(
        lambda y: stress(top + curvature * y) * (y - 0.25), 0, -top / curvature, epsabs=1
    )[0] + bars(top) @ np.array([400e-6 * -0.2, 1200e-6 * 0.2])
    found = fibre_section.moment_curvature(
        section(
            concrete_law=lambda e: concrete.parabola_rectangle_stress(e, 30e6),
            steel_law=lambda e: steel.bilinear_stress(e, ES, 500e6),
            crushing_strain=0.0035,
        ),
        [curvature],
    )
    assert found.top_strain == pytest.approx(top, rel=1e-4)
    assert found.moment == pytest.approx(moment, rel=1e-4)


@pytest.mark.parametrize("force", [-2e6, -200e3, 150e3])
def test_an_axial_force_is_carried(force):
    found = fibre_section.moment_curvature(section(), [1e-3, 5e-3], axial_force=force)
    axial, moment = section().forces(found.top_strain, found.curvature)
    assert axial == pytest.approx(force)
    assert moment == pytest.approx(found.moment)


def test_pure_compression_strains_evenly_a_symmetric_section():
    made = section(bar_areas=np.array([800e-6, 800e-6]))
    found = fibre_section.moment_curvature(made, [0.0], axial_force=-1e6)
    stiffness = EC * (0.15 - 1600e-6) + ES * 1600e-6
    assert found.top_strain == pytest.approx(-1e6 / stiffness)
    assert found.moment == pytest.approx(0.0, abs=1e-3)


def test_a_circle_bends_alike_either_way():
    bars = 0.2 - 0.15 * np.cos(np.linspace(0, 2 * np.pi, 8, endpoint=False))
    made = section(concrete=layers.circle(0.4), bar_depths=bars, bar_areas=np.full(8, 314e-6))
    one, other = fibre_section.moment_curvature(made, [4e-3, -4e-3]).moment
    assert one == pytest.approx(-other)
    assert one > 0


def test_shrinkage_pushes_the_bars_before_any_load():
    made = section(concrete_law=lambda e: EC * e, free_strain=-200e-6, bar_areas=np.full(2, 800e-6))
    found = fibre_section.states_at(made, [0.0], 0.01)
    net = EC * (0.15 - 1600e-6)
    expected = -200e-6 * net / (net + ES * 1600e-6)
    assert found.bar_strain[0] == pytest.approx(expected)


def test_shrinkage_alone_bends_a_section_towards_the_face_without_bars():
    for depth, sign in ((0.45, 1), (0.05, -1)):
        made = section(
            concrete_law=lambda e: EC * e,
            free_strain=-200e-6,
            bar_depths=np.array([depth]),
            bar_areas=np.array([1600e-6]),
        )
        found = fibre_section.states_at(made, [0.0], 0.01)
        assert found.moment == pytest.approx(0.0, abs=1.0)
        assert sign * found.curvature[0] > 1e-5


def test_before_its_crack_a_section_is_uncracked_and_after_it_jumps():
    whole = cracked_section.uncracked(
        cracked_section.rectangle(0.3, 0.5), [0.05, 0.45], [400e-6, 1200e-6], ES / EC
    )
    crack = cracked_section.cracking_moment(whole, 3e6)
    made = section(
        concrete_law=lambda e: (
            concrete.elastic_compression_stress(e, EC) + concrete.brittle_tension_stress(e, EC, 3e6)
        )
    )
    before, after = fibre_section.states_at(made, [0.97 * crack, 1.1 * crack], 0.02).bar_stress[
        :, 1
    ]
    assert before == pytest.approx(whole.steel_stress(0.97 * crack, 0.45), rel=0.01)
    assert after > 4 * before


def test_what_was_crushed_or_ran_off_the_coupons_curve_has_no_state():
    made = section(
        concrete_law=lambda e: concrete.parabola_rectangle_stress(e, 30e6), crushing_strain=0.0035
    )
    assert np.isnan(fibre_section.moment_curvature(made, [0.2]).moment).all()
    curve = section(steel_law=lambda e: steel.measured_stress(e, [0, 0.0025, 0.02], [0, 5e8, 5e8]))
    found = fibre_section.moment_curvature(curve, [1e-3, 1.0])
    assert np.isfinite(found.moment[0])
    assert np.isnan(found.moment[1])
    assert np.isnan(fibre_section.states_at(section(), [1e9], 0.01).curvature).all()


def test_settings_that_mean_nothing_are_refused():
    with pytest.raises(InputError, match="bar_depths"):
        section(bar_depths=np.array([0.05, 0.6]))
    with pytest.raises(InputError, match="bar_depths"):
        section(bar_depths=np.array([0.05]))
    with pytest.raises(InputError, match="crushing_strain"):
        section(crushing_strain=0.0)
    with pytest.raises(InputError, match="moments"):
        fibre_section.states_at(section(), [-1.0], 0.01)
    with pytest.raises(InputError, match="crushing_strain"):
        fibre_section.crushing_state(section())


def test_a_point_costs_far_less_than_a_tenth_of_a_second():
    # The goal is about 1 ms; the guard is wide since machines differ.
    moments = np.linspace(1e3, 200e3, 100)
    begin = time.perf_counter()
    fibre_section.states_at(section(), moments, 0.1)
    assert (time.perf_counter() - begin) / moments.size < 0.01
