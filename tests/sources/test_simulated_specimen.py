"""The simulated beam against hand calculation."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.errors import InputError
from gaugewright.sources.simulated.section import Section, SteelBehaviour
from gaugewright.sources.simulated.specimen import (
    Beam,
    Covered,
    Crack,
    face_strain,
    net_area_share,
)

STEEL = SteelBehaviour(200e9, 540e6, 2.2e9)
AREA, DEPTH, WIDTH, HEIGHT = 804e-6, 0.402, 0.30, 0.45
SECTION = Section(WIDTH, HEIGHT, (DEPTH, AREA), (0.044, 226e-6), STEEL, 38e6, 31e9)


def beam(**changes: object) -> Beam:
    given_: dict[str, object] = {
        "section": SECTION,
        "span": 3.6,
        "shear_span": 1.2,
        "weight_per_length": 0.0,
        "cracks": (Crack(1.8, 28e3),),
        "shrinkage_strain": -1e-4,
        "bond_stress": 5e6,
        "bar_diameter": 0.016,
        "tension_shift": 0.0,
        "left_behind": 0.07,
    }
    return Beam(**{**given_, **changes})  # type: ignore[arg-type]


@pytest.mark.parametrize("moment", [40e3, 70e3, 100e3])
def test_steel_stress_at_a_crack_is_the_moment_over_area_and_lever(moment: float) -> None:
    # Cracked elastic section without compression bars: x from n rho, z = d - x/3.
    n = STEEL.elastic_modulus / (2 * 38e6 / 0.002)  # slope of the parabola at its start
    ratio = n * AREA / (WIDTH * DEPTH)
    x = DEPTH * (math.sqrt(ratio**2 + 2 * ratio) - ratio)
    stress = float(STEEL.stress(SECTION.cracked_strain(moment)))
    assert stress == pytest.approx(moment / (AREA * (DEPTH - x / 3)), rel=0.02)


def test_steel_yields_at_the_moment_of_a_rectangular_block() -> None:
    force = AREA * STEEL.yield_strength
    lever = DEPTH - force / (38e6 * WIDTH) / 2
    assert float(SECTION.cracked_moment(STEEL.yield_strain)) == pytest.approx(
        force * lever, rel=0.05
    )


def test_uncracked_lower_edge_reaches_the_tensile_strength_at_cracking() -> None:
    moment = SECTION.cracking_moment(2.9e6)
    assert moment == pytest.approx(2.9e6 * WIDTH * HEIGHT**2 / 6, rel=0.12)  # bars help a little
    assert 31e9 * float(SECTION.uncracked_strain(moment, HEIGHT)) == pytest.approx(2.9e6)


def test_compression_bars_are_shortened_and_a_whole_section_is_stiffer() -> None:
    assert float(SECTION.cracked_upper_strain(80e3)) < 0
    assert SECTION.uncracked_strain(80e3, DEPTH) < SECTION.cracked_strain(80e3)


def test_layers_outside_the_section_are_refused() -> None:
    with pytest.raises(InputError, match=r"^depths of the layers"):
        Section(0.3, 0.45, (0.5, AREA), (0.04, 2e-4), STEEL, 38e6, 31e9)


@given(strain=st.floats(-0.03, 0.03))
def test_steel_strain_undoes_its_stress(strain: float) -> None:
    assert float(STEEL.strain(STEEL.stress(strain))) == pytest.approx(strain, abs=1e-12)


def test_strain_peaks_at_the_crack_and_falls_at_the_rate_of_bond() -> None:
    load = np.array([120e3])
    at = [float(beam().stress("L1", x, load).first_loading[0]) for x in (1.80, 1.83, 1.86, 1.79)]
    assert at[0] > at[1] > at[2]
    # Force lost over 30 mm is bond stress times circumference times length.
    lost = 5e6 * math.pi * 0.016 * 0.03
    assert (at[0] - at[1]) * math.pi * 0.016**2 / 4 == pytest.approx(lost, rel=1e-9)
    assert at[3] == pytest.approx(at[0] - (at[0] - at[1]) / 3, rel=1e-9)


def test_far_from_cracks_the_steel_keeps_shrinkage_and_uncracked_bending() -> None:
    load = np.array([120e3])
    moment = 120e3 * 1.2 / 2
    whole = -1e-4 + float(SECTION.uncracked_strain(moment, DEPTH))
    found = float(beam().stress("L1", 1.3, load).first_loading[0])
    assert found == pytest.approx(200e9 * whole, rel=1e-9)


def test_protection_keeps_bond_away() -> None:
    wrapped = beam(covered={"L1": (Covered(1.80, 0.06, 1.0),)})
    load = np.array([120e3])
    at_crack, under = (float(wrapped.stress("L1", x, load).first_loading[0]) for x in (1.80, 1.828))
    assert under == pytest.approx(at_crack, rel=1e-12)
    assert float(wrapped.stress("L2", 1.828, load).first_loading[0]) < at_crack


def test_a_crack_opens_at_its_own_moment_and_not_before() -> None:
    opening = float(beam().opening_loads()[0])
    assert opening == pytest.approx(28e3 / 0.6)
    below, above = (
        float(beam().stress("L1", 1.8, np.array([load])).first_loading[0])
        for load in (opening - 1.0, opening + 1.0)
    )
    assert below < 0
    # 28 kN m over the area and nine tenths of the depth; the parabola lifts the lever a little.
    assert above == pytest.approx(28e3 / (AREA * 0.92 * DEPTH), rel=0.03)


def test_no_crack_opens_outside_the_supports() -> None:
    assert beam(cracks=(Crack(-0.1, 28e3),)).opening_loads().tolist() == [math.inf]


@given(diameter=st.floats(0.008, 0.04), share=st.floats(0.1, 0.6))
def test_net_area_by_strips_agrees_with_the_circular_segment(diameter: float, share: float) -> None:
    width = share * diameter
    angle = 2 * math.asin(width / diameter)
    segment = diameter**2 / 8 * (angle - math.sin(angle))
    whole = math.pi * diameter**2 / 4
    assert net_area_share(diameter, (width, width)) == pytest.approx(
        1 - 2 * segment / whole, abs=1e-4
    )


def test_faces_of_a_bent_bar_differ_and_their_mean_is_axial() -> None:
    axial = np.array([0.0, 1e-3, 2e-3])
    none = np.zeros(3)
    upper, lower = (face_strain(axial, share, 2.7e-3, none) for share in (0.05, -0.05))
    assert upper.tolist() == pytest.approx((1.05 * axial).tolist())
    assert ((upper + lower) / 2).tolist() == pytest.approx(axial.tolist())
