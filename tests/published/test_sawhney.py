"""Sawhney: change of a gauge's resistance, and the force behind it."""

import pytest

from gaugewright.calc import large_strain, steel

SEEN = (
    "typed copy with its printed output: textbook-companion repository "
    "FOSSEE/Python-Textbook-Companions, chapter 5; not the book"
)


@pytest.mark.published(
    where="A. K. Sawhney, A Course in Mechanical Measurements and Instrumentation, Example 5.15, "
    "p. 207: 0.013 of 240 ohm, k = 2.2, 0.1 m, 4e-4 m2, 207 GPa; printed 2.462 um and 2038.6 N",
    seen=SEEN,
)
def test_example_5_15():
    strain = large_strain.strain_constant_factor(0.013 / 240.0, 2.2)
    assert strain * 0.1 * 1e6 == pytest.approx(2.462, abs=0.0005)
    force = steel.elastic_stress(strain, 207e9) * 4e-4
    assert force == pytest.approx(2038.6, abs=0.05)


@pytest.mark.published(
    where="A. K. Sawhney, A Course in Mechanical Measurements and Instrumentation, Example 5.13, "
    "p. 203: k = 2, 100 MPa on 200 GPa; printed change of 0.1 %",
    seen=SEEN,
)
def test_example_5_13():
    strain = 100e6 / 200e9
    assert steel.elastic_stress(strain, 200e9) == pytest.approx(100e6)
    change = large_strain.grid_change_constant_factor(strain, 2.0)
    assert change * 100 == pytest.approx(0.1, abs=1e-9)


@pytest.mark.published(
    where="A. K. Sawhney, A Course in Mechanical Measurements and Instrumentation, Example 5.12, "
    "p. 201: -5 microstrain on nichrome, k = 2, 120 ohm; printed -0.0012 ohm",
    seen=SEEN + "; the nickel gauge of the same example, k = -12.1, is outside this package",
)
def test_example_5_12():
    change = large_strain.grid_change_constant_factor(-5e-6, 2.0)
    assert change * 120.0 == pytest.approx(-0.0012, abs=1e-9)
