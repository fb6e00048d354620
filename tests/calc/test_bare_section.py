"""Bare metal under pull, bending and torsion: against integrals and a rosette's algebra."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import active_arms, rosette
from gaugewright.calc.bare_section import FaceStress, flat_section, ring_section, strain_along_grid
from gaugewright.errors import InputError

OUTER, BORE = 0.1143, 0.1017
E, NU = 208e9, 0.29


def test_numbers_of_a_tube_are_its_integrals():
    section = ring_section(OUTER, BORE)
    r = np.linspace(BORE / 2, OUTER / 2, 200_001)
    ring = 2 * math.pi * r
    assert section.area == pytest.approx(np.trapezoid(ring, r), rel=1e-9)
    assert section.polar == pytest.approx(np.trapezoid(ring * r**2, r), rel=1e-9)
    assert section.towards_top == section.towards_side == pytest.approx(section.polar / 2)


def test_stress_round_a_tube_makes_up_force_and_moments_again():
    section = ring_section(OUTER, OUTER - 2e-6)  # a thin ring: its face is all of it
    angles = np.linspace(0, 2 * math.pi, 721)[:-1]
    along = np.array(
        [
            section.stress_at(a, axial_force=10e3, moments=(300.0, -120.0), torque=0.0).along
            for a in angles
        ]
    )
    piece = section.area / angles.size
    assert np.sum(along) * piece == pytest.approx(10e3, rel=1e-6)
    up, side = OUTER / 2 * np.cos(angles), OUTER / 2 * np.sin(angles)
    assert np.sum(along * up) * piece == pytest.approx(300.0, rel=1e-4)
    assert np.sum(along * side) * piece == pytest.approx(-120.0, rel=1e-4)
    worst = section.largest_stress(axial_force=10e3, moments=(300.0, -120.0), torque=0.0)
    assert worst == pytest.approx(np.max(np.abs(along)), rel=1e-4)


@given(along=st.floats(-3e8, 3e8), shear=st.floats(-2e8, 2e8), turn=st.floats(-3.0, 3.0))
def test_a_grid_reads_what_the_rosette_algebra_resolves(along, shear, turn):
    stress = FaceStress(np.asarray(along), np.asarray(shear))
    found = float(strain_along_grid(stress, turn, E, NU))
    x, y, xy = rosette.plane_strain_from_stress(along, 0.0, shear, E, NU)
    c, s = math.cos(turn), math.sin(turn)
    assert found == pytest.approx(float(x * c * c + y * s * s + xy * s * c), abs=1e-12)


def test_torsion_stretches_a_grid_at_45_degrees_by_half_the_shear_strain():
    stress = ring_section(OUTER, BORE).stress_at(
        1.0, axial_force=0.0, moments=(0.0, 0.0), torque=2e3
    )
    shear = float(active_arms.torsion_shear_strain(2e3, OUTER, E, NU, BORE))
    assert float(strain_along_grid(stress, math.pi / 4, E, NU)) == pytest.approx(shear / 2)
    assert float(strain_along_grid(stress, -math.pi / 4, E, NU)) == pytest.approx(-shear / 2)
    assert float(strain_along_grid(stress, 0.0, E, NU)) == 0.0
    assert float(stress.mises) == pytest.approx(math.sqrt(3) * float(stress.shear))


def test_a_flat_bar_has_four_faces_and_is_not_twisted():
    flat = flat_section(0.04, 0.006)
    top = flat.stress_at(0.0, axial_force=0.0, moments=(12.0, 0.0), torque=0.0)
    assert float(top.along) == pytest.approx(6 * 12.0 / (0.04 * 0.006**2))
    edge = flat.stress_at(math.pi / 2, axial_force=0.0, moments=(0.0, 12.0), torque=0.0)
    assert float(edge.along) == pytest.approx(6 * 12.0 / (0.006 * 0.04**2))
    with pytest.raises(InputError, match="four faces"):
        flat.stress_at(0.7, axial_force=1.0, moments=(0.0, 0.0), torque=0.0)
    with pytest.raises(InputError, match="torque"):
        flat.stress_at(0.0, axial_force=1.0, moments=(0.0, 0.0), torque=5.0)
    both = flat.largest_stress(axial_force=-240.0, moments=(12.0, -12.0), torque=0.0)
    assert both == pytest.approx(1e6 + float(top.along) + float(edge.along))


def test_a_bore_wider_than_its_bar_is_refused():
    with pytest.raises(InputError, match="bore"):
        ring_section(0.02, 0.02)
