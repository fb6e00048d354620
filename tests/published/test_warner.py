"""Warner, Foster and Kilpatrick, Reinforced Concrete Basics: elastic sections and a block."""

import numpy as np
import pytest

from gaugewright.calc import concrete, cracked_section, fibre_section, layers, steel

BOOK = "R. F. Warner, S. J. Foster, A. E. Kilpatrick, Reinforced Concrete Basics (Pearson, 2007)"
SEEN = (
    "typed copy: tests of the public repository robbievanleeuwen/concrete-properties at 085f596, "
    "test_reinforced_concrete_basics.py, within its own 1 %; not the book"
)
RATIO = 200 / 30.1
BEAM = cracked_section.rectangle(0.3, 0.45)
TEE = cracked_section.tee(1.0, 0.12, 0.3, 0.8)
# Seven bars of 310 mm² at 60 mm, three of 620 mm² at 680 and at 740 mm.
TEE_DEPTHS, TEE_AREAS = [0.06, 0.68, 0.74], [2170e-6, 1860e-6, 1860e-6]


@pytest.mark.published(
    where=f"{BOOK}, Example 3.1: 300 x 450 mm, 3 bars of 450 mm² at 390 mm, 30.1 and 200 GPa, 100 "
    "kN m; printed axis 125 mm, I 821e6 mm⁴, 15.3 and 213 MPa",
    seen=SEEN,
)
def test_example_3_1_cracked():
    found = cracked_section.cracked(BEAM, [0.39], [1350e-6], RATIO)
    assert found.neutral_axis_depth * 1e3 == pytest.approx(125, rel=0.01)
    assert found.second_moment * 1e12 == pytest.approx(821e6, rel=0.01)
    assert -found.concrete_stress(100e3) / 1e6 == pytest.approx(15.3, rel=0.01)
    assert found.steel_stress(100e3, 0.39) / 1e6 == pytest.approx(213, rel=0.01)


@pytest.mark.published(
    where=f"{BOOK}, Example 3.1, uncracked: printed centroid 234 mm, I 2.47e9 mm⁴, cracking moment "
    "11.4 kN m at 1.0 MPa",
    seen=SEEN,
)
def test_example_3_1_uncracked():
    found = cracked_section.uncracked(BEAM, [0.39], [1350e-6], RATIO)
    assert found.neutral_axis_depth * 1e3 == pytest.approx(234, abs=1)
    assert found.second_moment * 1e12 == pytest.approx(2.47e9, rel=0.01)
    assert cracked_section.cracking_moment(found, 1e6) / 1e3 == pytest.approx(11.4, rel=0.01)


@pytest.mark.published(
    where=f"{BOOK}, Example 3.2: T of 1000 x 120 on 300 x 680 mm, two layers pulled, one "
    "pushed; printed uncracked centroid 327 mm, I 24.1e9 mm⁴, 30.6 kN m at 0.6 MPa; cracked axis "
    "160 mm, I 8.9e9 mm⁴; at 450 kN m 8.1 MPa, 33, 193 and 173 MPa",
    seen=SEEN + " (2 % for the 33 MPa)",
)
def test_example_3_2_tee():
    whole = cracked_section.uncracked(TEE, TEE_DEPTHS, TEE_AREAS, RATIO)
    assert whole.neutral_axis_depth * 1e3 == pytest.approx(327, abs=1)
    assert whole.second_moment * 1e12 == pytest.approx(24.1e9, rel=0.01)
    assert cracked_section.cracking_moment(whole, 0.6e6) / 1e3 == pytest.approx(30.6, rel=0.01)
    found = cracked_section.cracked(TEE, TEE_DEPTHS, TEE_AREAS, RATIO)
    assert found.neutral_axis_depth * 1e3 == pytest.approx(160, rel=0.01)
    assert found.second_moment * 1e12 == pytest.approx(8.9e9, rel=0.01)
    assert -found.concrete_stress(450e3) / 1e6 == pytest.approx(8.1, rel=0.01)
    steel_stress = found.steel_stress(450e3, TEE_DEPTHS) / 1e6
    assert -steel_stress[0] == pytest.approx(33, rel=0.02)
    assert steel_stress[2] == pytest.approx(193, rel=0.01)
    assert steel_stress[1] == pytest.approx(173, rel=0.01)


@pytest.mark.published(
    where=f"{BOOK}, Example 3.4: the T of 3.2 with seven bars of 800 mm² in the pulled flange and "
    "three of 620 mm² pushed; printed axis 302 mm, I 10.46e9 mm⁴",
    seen=SEEN,
)
def test_example_3_4_flange_pulled():
    # Once cracked the pulled flange is no more than its bars: a rectangle seen from the web.
    web = cracked_section.rectangle(0.3, 0.8)
    found = cracked_section.cracked(web, [0.06, 0.74], [1860e-6, 5600e-6], RATIO)
    assert found.neutral_axis_depth * 1e3 == pytest.approx(302, rel=0.01)
    assert found.second_moment * 1e12 == pytest.approx(10.46e9, rel=0.01)


def ultimate(shape, depths, areas, strength, gamma):
    made = fibre_section.FibreSection(
        shape,
        np.array(depths),
        np.array(areas),
        lambda e: concrete.rectangular_block_stress(
            e, strength, block_stress_ratio=0.85, block_depth_ratio=gamma, crushing_strain=0.003
        ),
        lambda e: steel.bilinear_stress(e, 200e9, 500e6),
        crushing_strain=0.003,
    )
    return fibre_section.crushing_state(made)


@pytest.mark.published(
    where=f"{BOOK}, Example 3.8: 300 x 450 mm, 4 bars of 450 mm² at 390 mm, f'c 32 MPa, block 0.85 "
    "and 0.83; printed axis 133 mm, 302 kN m",
    seen=SEEN,
)
def test_example_3_8_block():
    found = ultimate(layers.rectangle(0.3, 0.45, layers=4000), [0.39], [1800e-6], 32e6, 0.83)
    assert found.neutral_axis_depth[0] * 1e3 == pytest.approx(133, abs=1)
    assert found.moment[0] / 1e3 == pytest.approx(302, rel=0.01)


@pytest.mark.published(
    where=f"{BOOK}, Example 3.9: as 3.8 with 2 bars of 450 mm² at 60 mm; printed axis 100.7 mm, "
    "309 kN m",
    seen=SEEN + " (3 % for the axis)",
)
def test_example_3_9_block_with_pushed_bars():
    shape = layers.rectangle(0.3, 0.45, layers=4000)
    found = ultimate(shape, [0.06, 0.39], [900e-6, 1800e-6], 32e6, 0.83)
    assert found.neutral_axis_depth[0] * 1e3 == pytest.approx(100.7, rel=0.03)
    assert found.moment[0] / 1e3 == pytest.approx(309, rel=0.01)


@pytest.mark.published(
    where=f"{BOOK}, Example 3.11: T of 1100 x 120 on 400 x 606 mm, 4 bars of 800 mm² at 620 and at "
    "680 mm, f'c 25 MPa, block 0.85 and 0.85; printed axis 196 mm, 1860 kN m",
    seen=SEEN,
)
def test_example_3_11_block_below_the_flange():
    shape = layers.tee(1.1, 0.12, 0.4, 0.726, layers=4000)
    found = ultimate(shape, [0.62, 0.68], [3200e-6, 3200e-6], 25e6, 0.85)
    assert found.neutral_axis_depth[0] * 1e3 == pytest.approx(196, abs=1)
    assert found.moment[0] / 1e3 == pytest.approx(1860, rel=0.01)
