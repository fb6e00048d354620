"""Forces inside a section and closure, against sections whose answer is known."""

import numpy as np
import pytest

from gaugewright.calc import concrete, layers, propagation, section
from gaugewright.calc.strain_plane import PlanePoint, fit_plane
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError

MIDDLE = Uncertain.exact(0.25)
SHAPE = layers.rectangle(0.3, 0.5)


def named(value, doubt, name):
    return Uncertain.from_input(value, InputQuantity(name, doubt))


def plane(top, curvature, noise=5e-6):
    return fit_plane(
        [
            PlanePoint(str(y), Uncertain.noisy(top + curvature * y, noise), Uncertain.exact(y))
            for y in (0.05, 0.25, 0.45)
        ]
    )


def elastic(strain, elastic_modulus):
    return elastic_modulus * strain


def test_elastic_concrete_gives_the_textbook_forces_and_their_doubt():
    top, curvature, modulus = -2e-4, 1e-3, 30e9
    found = section.concrete_forces(
        plane(top, curvature),
        SHAPE,
        elastic,
        {"elastic_modulus": named(modulus, 1e9, "E")},
        about=MIDDLE,
    )
    force = modulus * (top + curvature * 0.25) * 0.15
    moment = modulus * curvature * 0.3 * 0.5**3 / 12
    assert found.force.value == pytest.approx(force)
    assert found.moment.value == pytest.approx(moment, rel=1e-4)
    # By hand: E gives its share, noise gives u(κ) = s / sqrt(Σ (y - mean)²), nothing else.
    noise = modulus * 0.3 * 0.5**3 / 12 * 5e-6 / np.sqrt(2 * 0.2**2)
    expected = np.hypot(moment / 30, noise)
    assert found.moment.standard_uncertainty() == pytest.approx(expected, rel=1e-3)


def test_shrinkage_takes_strain_from_the_concrete():
    modulus = {"elastic_modulus": Uncertain.exact(30e9)}
    without = section.concrete_forces(plane(0.0, 0.0), SHAPE, elastic, modulus, about=MIDDLE)
    shrunk = section.concrete_forces(
        plane(0.0, 0.0),
        SHAPE,
        elastic,
        modulus,
        about=MIDDLE,
        free_strain=named(-100e-6, 20e-6, "shrinkage"),
    )
    assert without.force.value == pytest.approx(0.0, abs=1e-6)
    assert shrunk.force.value == pytest.approx(30e9 * 100e-6 * 0.15)
    share = shrunk.force.contributions()["shrinkage"]
    assert abs(share) == pytest.approx(30e9 * 20e-6 * 0.15, rel=1e-6)


def test_bars_and_a_parabola_carry_the_moment_of_a_section_worked_by_integrals():
    top, curvature = -1e-3, 5e-3
    strength = {"compressive_strength": named(30e6, 1.5e6, "f_c")}
    pushed = section.concrete_forces(
        plane(top, curvature), SHAPE, concrete.parabola_rectangle_stress, strength, about=MIDDLE
    )
    # Parabola over x = 0.2 m from 0 to 1e-3: f (η - η²/4) of the distance from the axis, so the
    # force is f b x (1/2 - 1/12), the arm from the axis x (1/3 - 1/16) / (1/2 - 1/12).
    x, mean = 0.2, 0.5 - 1 / 12
    force = -30e6 * 0.3 * x * mean
    arm = x - x * (1 / 3 - 1 / 16) / mean - 0.25
    assert pushed.force.value == pytest.approx(force, rel=1e-4)
    assert pushed.moment.value == pytest.approx(force * arm, rel=1e-4)
    bars = [
        section.BarLayer("low", named(400e3, 6e3, "N"), named(0.45, 2e-3, "d")),
        section.BarLayer("top", Uncertain.exact(-50e3), Uncertain.exact(0.05)),
    ]
    steel = section.steel_forces(bars, MIDDLE)
    assert steel.force.value == pytest.approx(350e3)
    assert steel.moment.value == pytest.approx(400e3 * 0.2 + 50e3 * 0.2)
    assert steel.moment.standard_uncertainty() == pytest.approx(np.hypot(6e3 * 0.2, 400e3 * 2e-3))
    both = section.section_forces(steel, pushed)
    assert both.moment.value == pytest.approx(steel.moment.value + pushed.moment.value)


def test_closure_says_how_far_apart_in_uncertainties():
    applied, inside = named(100e3, 1e3, "load"), named(94e3, 3e3, "strains")
    found = section.closure(applied, inside)
    assert found.share.value == pytest.approx(0.06)
    # d(1 - inside/applied): inside over applied by each relative doubt.
    assert found.share.standard_uncertainty() == pytest.approx(
        0.94 * np.hypot(0.01, 3 / 94), rel=1e-9
    )
    assert found.in_uncertainties == pytest.approx(6 / np.sqrt(10))
    assert np.isnan(section.closure(named(0.0, 1.0, "zero"), inside).share.value)
    with pytest.raises(InputError, match="uncertainty of the difference"):
        section.closure(Uncertain.exact(1.0), Uncertain.exact(1.0))


def test_a_law_that_has_ended_and_no_bars_are_refused():
    with pytest.raises(InputError, match="within the law"):
        section.concrete_forces(
            plane(-5e-3, 1e-2),
            SHAPE,
            concrete.parabola_rectangle_stress,
            {"compressive_strength": Uncertain.exact(30e6)},
            about=MIDDLE,
        )
    with pytest.raises(InputError, match="bars"):
        section.steel_forces([], MIDDLE)


def test_differences_give_the_derivatives_of_a_known_function():
    x, y = named(2.0, 0.01, "x"), named(3.0, 0.02, "y")
    found = propagation.propagated(lambda v: v["x"] ** 2 * v["y"], {"x": x, "y": y})
    assert found.value == pytest.approx(12)
    assert found.contributions()["x"] == pytest.approx(12 * 0.01)
    assert found.contributions()["y"] == pytest.approx(4 * 0.02)
