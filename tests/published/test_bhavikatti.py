"""Bhavikatti: stress, strain and section of round bars in tension."""

import pytest

from gaugewright.calc import bar, steel

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
