"""Held beams, bent and twisted bars, pressed sections as handbooks, textbooks and a library do."""

import math

import numpy as np
import pytest

from gaugewright.calc import concrete, fibre_section, layers, steel
from gaugewright.calc.bare_section import flat_section, ring_section
from gaugewright.calc.held_beam import BeamSupport, SpreadLoad, held_beam_moment
from gaugewright.calc.pressed_section import LoadPath, pressed_states

INCH, POUND = 0.0254, 4.4482216152605


@pytest.mark.published(
    where="R. C. Hibbeler, Mechanics of Materials (2013), Example 12.21: 3 m, clamped at A, on a "
    "roller at B, 8 kN in the middle and 6 kN/m; printed 9.25 kN at B and 11.25 kN m at A",
    seen="typed copy: documentation of the public repository JesseBonanno/IndeterminateBeam, its "
    "first example; not the book",
)
def test_example_12_21_propped_beam():
    ends = [BeamSupport(0.0, clamped=True), BeamSupport(3.0)]
    found = held_beam_moment(ends, [1.5], [8e3], [0.0, 2.0], spread=SpreadLoad(0.0, 3.0, 6e3))
    assert found[0] == pytest.approx(-11.25e3, abs=5)
    # One metre from B its force alone and a metre of the spread load are right of the section.
    assert found[1] == pytest.approx(9.25e3 - 6e3 / 2, abs=5)


@pytest.mark.published(
    where="AISC Manual, beam diagrams, figure 36: three equal spans under one spread load; printed "
    "-0.100 w l² over the inner supports",
    seen="typed copy: tests of the public repository runtosolve/StructuresKit.jl, "
    "InternalForcesTest4.jl; not the manual",
)
def test_three_spans_under_a_spread_load():
    row = [BeamSupport(n * 3.0) for n in range(4)]
    found = held_beam_moment(row, [], [], [3.0, 6.0], spread=SpreadLoad(0.0, 9.0, 2e3))
    assert found / (2e3 * 9.0) == pytest.approx([-0.100, -0.100], abs=5e-4)


@pytest.mark.published(
    where="beam tables: P l/8 at clamps and in the middle of a beam clamped at both ends, 3 P l/16 "
    "at the clamp of a propped one, w l²/8 over the middle of two spans, P l at a cantilever's "
    "clamp",
    seen="from memory; in any table of beam formulas",
)
def test_the_usual_table_of_beams():
    span, load = 4.0, 10e3
    clamps = [BeamSupport(0.0, clamped=True), BeamSupport(span, clamped=True)]
    found = held_beam_moment(clamps, [span / 2], [load], [0.0, span / 2, span])
    assert found / (load * span) == pytest.approx([-1 / 8, 1 / 8, -1 / 8], rel=1e-9)
    propped = [BeamSupport(0.0, clamped=True), BeamSupport(span)]
    found = held_beam_moment(propped, [span / 2], [load], 0.0)
    assert found / (load * span) == pytest.approx(-3 / 16, rel=1e-9)
    row = [BeamSupport(n * span) for n in range(3)]
    found = held_beam_moment(row, [], [], span, spread=SpreadLoad(0.0, 2 * span, 3e3))
    assert found / (3e3 * span**2) == pytest.approx(-1 / 8, rel=1e-9)
    found = held_beam_moment([BeamSupport(0.0, clamped=True)], [span], [load], 0.0)
    assert found == pytest.approx(-load * span, rel=1e-9)


@pytest.mark.published(
    where="S. Timoshenko, Strength of Materials, part I, 3rd ed. (1955), p. 299, problem 2: bar of "
    "4.67017 in, 300 in long, 250 lb at 36 in from its axis; 7527 psi largest principal stress and "
    "3777 psi largest shear",
    seen="its text and section in a finite-element program's examples, a public repository; the "
    "two numbers from memory; not the book",
)
def test_bar_bent_and_twisted_at_once():
    force = 250 * POUND
    stress = ring_section(4.67017 * INCH).stress_at(
        0.0,
        axial_force=0.0,
        moments=(force * 300 * INCH, 0.0),
        torque=force * 36 * INCH,
    )
    psi = POUND / INCH**2
    radius = math.hypot(float(stress.along) / 2, float(stress.shear))
    assert (float(stress.along) / 2 + radius) / psi == pytest.approx(7527, abs=0.5)
    assert radius / psi == pytest.approx(3777, abs=0.5)


@pytest.mark.published(
    where="R. C. Hibbeler, Mechanics of Materials (2017), Example 6.15: 0.2 m by 0.4 m under 12 kN "
    "m in a plane of 3 to 4; printed 4.95 and 2.25 MPa at the corners",
    seen="its text: examples of the public repository TomLXXVI/python-mechanics, example_24; the "
    "two numbers from memory; not the book",
)
def test_example_6_15_bending_in_two_planes():
    # 7.2 kN m bends it over 0.4 m, 9.6 kN m over 0.2 m.
    moments = (12e3 * 3 / 5, 12e3 * 4 / 5)
    section = flat_section(0.2, 0.4)
    worst = section.largest_stress(axial_force=0.0, moments=moments, torque=0.0)
    up = section.stress_at(0.0, axial_force=0.0, moments=moments, torque=0.0)
    side = section.stress_at(math.pi / 2, axial_force=0.0, moments=moments, torque=0.0)
    assert worst / 1e6 == pytest.approx(4.95, abs=0.005)
    assert (float(side.along) - float(up.along)) / 1e6 == pytest.approx(2.25, abs=0.005)


# Axial force N; greatest moment N m, neutral axis m, stress of the bars from the pressed one round.
PRESSED = {
    0.4e6: (197606.976609041, 0.12339383189776946),
    1.0e6: (238444.6345865836, 0.15931206618157128),
    2.0e6: (262468.37591037393, 0.22084616332028884),
    3.0e6: (238317.225646937, 0.28259737241653755),
}
BAR_STRESS = (-469.0, -280.59, 192.91, 469.0, 469.0, 469.0, 192.91, -280.59)


def column():
    turn = np.arange(8) * math.pi / 4
    return fibre_section.FibreSection(
        layers.circle(0.4064, layers=400),
        0.2032 - 0.1524 * np.cos(turn),
        np.full(8, 284e-6),
        lambda e: concrete.parabola_rectangle_stress(e, 35e6),
        lambda e: steel.bilinear_stress(e, 200e9, 469e6),
        crushing_strain=0.0035,
    )


@pytest.mark.published(
    where="concreteproperties 0.7.0 (the PyPI package), ultimate bending under axial force: circle "
    "of 406.4 mm, 8 bars of 284 mm² on 304.8 mm, parabola-rectangle of 35 MPa by 41 points, 469 "
    "MPa",
    seen="run for this comparison on 2026-11-26",
)
@pytest.mark.parametrize("force", list(PRESSED))
def test_column_pressed_so_that_its_face_crushes(force):
    moment, axis = PRESSED[force]
    found = pressed_states(column(), [-0.0035], LoadPath(-1.0, moment / force))
    assert found.load[0] == pytest.approx(force, rel=5e-4)
    assert 0.0035 / found.curvature[0] == pytest.approx(axis, rel=2e-3)


@pytest.mark.published(
    where="concreteproperties 0.7.0, forces of the bars of that column under 1 MN",
    seen="run for this comparison on 2026-11-26",
)
def test_stress_of_the_bars_of_a_pressed_column():
    section = column()
    found = pressed_states(section, [-0.0035], LoadPath(-1.0, PRESSED[1.0e6][0] / 1.0e6))
    strain = -0.0035 + found.curvature[0] * section.bar_depths
    stress = section.steel_law(strain) / 1e6
    assert stress == pytest.approx(np.array(BAR_STRESS), abs=1.0)
