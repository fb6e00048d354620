"""Coughlin and Driscoll: bridges with one and four active gauges."""

import pytest

from gaugewright.calc import bridge, large_strain

SEEN = (
    "typed copy with its printed output: textbook-companion repository "
    "FOSSEE/Python-Textbook-Companions, chapter 8; not the book"
)


@pytest.mark.published(
    where="Coughlin & Driscoll, Operational Amplifiers and Linear Integrated Circuits, Example "
    "8.11, p. 241: full bridge, 5 V, gain 1000, 100 mV, k = 2, 120 ohm; printed 2.4 mohm, 10 "
    "microstrain",
    seen=SEEN,
)
def test_example_8_11():
    ratio = 0.100 / 1000 / 5.0
    change = bridge.four_arm_change(ratio, [1, -1, 1, -1])
    assert change * 120.0 * 1e3 == pytest.approx(2.4, abs=0.05)
    strain = large_strain.strain_constant_factor(change, 2.0)
    assert strain * 1e6 == pytest.approx(10, abs=0.05)


@pytest.mark.published(
    where="Coughlin & Driscoll, Operational Amplifiers and Linear Integrated Circuits, Example "
    "8.9, p. 234: 1 mohm on 120 ohm, k = 2; printed 4.2 microstrain",
    seen=SEEN,
)
def test_example_8_9():
    strain = large_strain.strain_constant_factor(1e-3 / 120.0, 2.0)
    assert strain * 1e6 == pytest.approx(4.2, abs=0.05)
