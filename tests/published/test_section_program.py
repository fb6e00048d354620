"""Sections in elastic cracking, past yield and at crushing, as an open library has them."""

import numpy as np
import pytest

from gaugewright.calc import concrete, cracked_section, fibre_section, layers, steel

# Curvature 1/m; moment kN m; strain of the upper and of the lower bars. The library gives moments
# at steps of 0.002 1/m and strains at any curvature.
MOMENTS = {
    0.002: 62.563531629,
    0.004: 123.807446297,
    0.008: 241.008309333,
    0.010: 243.294915542,
    0.020: 248.312748548,
    0.026: 249.362379467,
}
STRAINS = {
    0.002: (-0.000158035679, 0.000641964321),
    0.005: (-0.000413389195, 0.001586610805),
    0.010: (-0.000739079402, 0.003260920598),
    0.020: (-0.000864347249, 0.007135652751),
}
MADE_WITH = (
    "concreteproperties 0.7.0 (the PyPI package), 300 x 500 mm, bars 2 x 200 mm² at 50 mm and 3 x "
    "400 mm² at 450 mm, 200 GPa, 500 MPa, parabola-rectangle of 30 MPa by 41 points, no tension"
)
SEEN = "run for this comparison on 2026-11-25; its 29 points took some 20 s, ours under 0.1 s"


def section():
    return fibre_section.FibreSection(
        layers.rectangle(0.3, 0.5),
        np.array([0.05, 0.45]),
        np.array([400e-6, 1200e-6]),
        lambda e: concrete.parabola_rectangle_stress(e, 30e6),
        lambda e: steel.bilinear_stress(e, 200e9, 500e6),
        crushing_strain=0.0035,
    )


@pytest.mark.published(where=f"moment-curvature analysis of {MADE_WITH}", seen=SEEN)
def test_moments_at_curvatures():
    found = fibre_section.moment_curvature(section(), list(MOMENTS))
    # Both cut the section into pieces; theirs stops at a force of balance of its own.
    assert found.moment / 1e3 == pytest.approx(list(MOMENTS.values()), rel=2e-3)


@pytest.mark.published(where=f"service stress, bar strains, of {MADE_WITH}", seen=SEEN)
def test_strains_of_the_bars_at_curvatures():
    found = fibre_section.moment_curvature(section(), list(STRAINS))
    assert found.bar_strain == pytest.approx(np.array(list(STRAINS.values())), rel=5e-3)


LINEAR = (
    "concreteproperties 0.7.0 (the PyPI package), concrete 32 GPa without tension, f_ctf 3 MPa, "
    "steel 200 GPa and 500 MPa; 300 x 500 mm with 2 x 200 mm² at 50 mm and 3 x 400 mm² at 450 mm; "
    "tee 900 x 120 on 300, 600 mm high, 2 x 110 mm² at 50 mm and 4 x 500 mm² at 540 mm"
)
RAN = "run for this comparison on 2026-11-26"
BARS = {
    "rectangle": ((0.05, 0.45), (400e-6, 1200e-6)),
    "tee": ((0.05, 0.54), (220e-6, 2000e-6)),
}
# Bending stiffness of the cracked section, N m²; depth of its neutral axis, m; moment at first
# cracking, N m; greatest moment by the parabola-rectangle, N m, and the neutral axis there, m.
PRINTED = {
    "rectangle": (31983939.644207094, 0.12364061132392925, 42380.329413241215),
    "tee": (86881362.739691, 0.10875731179420366, 79411.94700766772),
}
ULTIMATE = {
    "rectangle": (250518.6970511517, 0.07191771112849489),
    "tee": (521109.6103484722, 0.04631715867051225),
}


def linear(kind, which):
    shape = {
        "rectangle": lambda: cracked_section.rectangle(0.3, 0.5),
        "tee": lambda: cracked_section.tee(0.9, 0.12, 0.3, 0.6),
    }[which]()
    return kind(shape, *BARS[which], 200 / 32)


@pytest.mark.published(where=f"cracked and transformed properties of {LINEAR}", seen=RAN)
@pytest.mark.parametrize("which", list(PRINTED))
def test_stiffness_and_neutral_axis_of_cracked_sections_and_their_cracking_moment(which):
    stiffness, axis, cracks = PRINTED[which]
    found = linear(cracked_section.cracked, which)
    assert 1 / found.curvature(1.0, 32e9) == pytest.approx(stiffness, rel=1e-3)
    assert found.neutral_axis_depth == pytest.approx(axis, rel=1e-3)
    whole = linear(cracked_section.uncracked, which)
    assert cracked_section.cracking_moment(whole, 3e6) == pytest.approx(cracks, rel=1e-3)


@pytest.mark.published(where=f"ultimate bending of {LINEAR}, parabola-rectangle 30 MPa", seen=RAN)
@pytest.mark.parametrize("which", list(ULTIMATE))
def test_greatest_moment_of_sections_at_crushing(which):
    depths, areas = (np.array(one) for one in BARS[which])
    concrete_part = {
        "rectangle": lambda: layers.rectangle(0.3, 0.5, layers=2000),
        "tee": lambda: layers.tee(0.9, 0.12, 0.3, 0.6, layers=2000),
    }[which]()
    whole = fibre_section.FibreSection(
        concrete_part,
        depths,
        areas,
        lambda e: concrete.parabola_rectangle_stress(e, 30e6),
        lambda e: steel.bilinear_stress(e, 200e9, 500e6),
        crushing_strain=0.0035,
    )
    found = fibre_section.crushing_state(whole)
    moment, axis = ULTIMATE[which]
    assert found.moment[0] == pytest.approx(moment, rel=2e-3)
    assert found.neutral_axis_depth[0] == pytest.approx(axis, rel=5e-3)
