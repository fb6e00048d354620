"""Pytel and Kiusalaas, Mechanics of Materials: principal strains and their stresses."""

import pytest

from gaugewright.calc import rosette


@pytest.mark.published(
    where="Pytel & Kiusalaas, Mechanics of Materials, Examples 8.12 and 8.13, p. 330: 800, 200, "
    "-600 microstrain, 200 GPa, 0.3; printed 924, 76 microstrain and 208, 77.6 MPa",
    seen="typed copy with its printed output: textbook-companion repository "
    "FOSSEE/Python-Textbook-Companions, chapter 8; not the book",
)
def test_examples_8_12_and_8_13():
    found = rosette.principal(800e-6, 200e-6, -600e-6)
    assert found.first * 1e6 == pytest.approx(924, abs=0.5)
    assert found.second * 1e6 == pytest.approx(76, abs=0.5)
    stress = rosette.plane_stress(found.first, found.second, 0.0, 200e9, 0.3)
    assert stress.stress_x / 1e6 == pytest.approx(208, abs=0.5)
    assert stress.stress_y / 1e6 == pytest.approx(77.6, abs=0.05)
