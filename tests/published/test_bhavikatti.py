"""Bhavikatti: stress, strain and section of round bars in tension."""

import numpy as np
import pytest

from gaugewright.calc import bar, coupon, coupon_modulus, coupon_points, steel

SEEN = (
    "typed copy with its printed output: textbook-companion repository "
    "FOSSEE/Python-Textbook-Companions; not the book"
)


@pytest.mark.published(
    where="S. S. Bhavikatti, Strength of Materials, Example 2.2.1, p. 14: 20 mm, 45 kN, 200 GPa; "
    "printed 143.23945 N/mm2 and strain 0.000716",
    seen=SEEN,
)
def test_example_2_2_1():
    area = bar.section_at_flat(20e-3, 0.0).net_area
    assert 45e3 / area / 1e6 == pytest.approx(143.23945, abs=1e-4)
    assert steel.elastic_stress(0.000716, 200e9) * area == pytest.approx(45e3, rel=7e-4)


@pytest.mark.published(
    where="S. S. Bhavikatti, Mechanics of Solids, Example 8.1: 16 mm, 40 kN, 200 GPa; printed "
    "201.06 mm2, 198.94 N/mm2 and strain 0.000994718",
    seen=SEEN,
)
def test_example_8_1():
    area = bar.section_at_flat(16e-3, 0.0).net_area
    assert area * 1e6 == pytest.approx(201.06, abs=0.005)
    stress = steel.elastic_stress(0.000994718, 200e9)
    assert stress / 1e6 == pytest.approx(198.94, abs=0.005)
    assert stress * area == pytest.approx(40e3, rel=1e-6)


@pytest.mark.published(
    where="S. S. Bhavikatti, Strength of Materials, Example 2.2.4, p. 16: 25 mm, 160 kN at the "
    "elastic limit, 180 kN at most; printed 325.95 and 366.69 N/mm2",
    seen=SEEN + "; its contraction and elongation stand under each other's labels",
)
def test_example_2_2_4():
    area = bar.section_at_flat(25e-3, 0.0).net_area
    assert 160e3 / area / 1e6 == pytest.approx(325.95, abs=0.005)
    assert 180e3 / area / 1e6 == pytest.approx(366.69, abs=0.005)


@pytest.mark.published(
    where="S. S. Bhavikatti, Strength of Materials, Example 2.2.4, p. 16: 25 mm, 80 kN stretches "
    "200 mm by 0.16 mm; neck 18 mm, 56 mm longer in all; printed 203718.33 N/mm2, 48.16 % and 28 %",
    seen=SEEN + "; its contraction and elongation stand under each other's labels",
)
def test_example_2_2_4_modulus_contraction_and_elongation():
    area = bar.section_at_flat(25e-3, 0.0).net_area
    force = np.linspace(0, 80e3, 100)
    stress = coupon.engineering_stress(force, area)
    line = coupon_modulus.elastic_line(force / 80e3 * 0.16 / 200, stress, 20e6, 150e6)
    assert line.elastic_modulus / 1e6 == pytest.approx(203718.33, abs=0.02)
    neck = bar.section_at_flat(18e-3, 0.0).net_area
    assert coupon_points.reduction_of_area(area, neck) * 100 == pytest.approx(48.16, abs=0.005)
    longer = coupon_points.elongation_after_fracture(200e-3, 256e-3)
    assert longer * 100 == pytest.approx(28, abs=0.0005)


@pytest.mark.published(
    where="S. S. Bhavikatti, Strength of Materials, Example 2.2.1, p. 14: 20 mm, 45 kN, 200 GPa; "
    "printed 143.23945 N/mm2",
    seen=SEEN,
)
def test_example_2_2_1_stress_from_force_and_area():
    area = bar.section_at_flat(20e-3, 0.0).net_area
    found = coupon.engineering_stress(45e3, area)
    assert found / 1e6 == pytest.approx(143.23945, abs=1e-4)
