"""Popov, Engineering Mechanics of Solids: principal strains and a rectangular rosette."""

import numpy as np
import pytest

from gaugewright.calc import rosette

SEEN = (
    "typed copy with its printed output: textbook-companion repository "
    "FOSSEE/Python-Textbook-Companions, chapter 8; not the book"
)


@pytest.mark.published(
    where="E. P. Popov, Engineering Mechanics of Solids, Example 8.7, p. 437: -500, 300, -600 "
    "microstrain; printed 400, -600, the axis of the smaller at 18.43 deg",
    seen=SEEN,
)
def test_example_8_7():
    found = rosette.principal(-500e-6, 300e-6, -600e-6)
    assert found.first * 1e6 == pytest.approx(400, abs=1e-6)
    assert found.second * 1e6 == pytest.approx(-600, abs=1e-6)
    assert np.degrees(found.angle) + 90 == pytest.approx(18.43, abs=0.005)


@pytest.mark.published(
    where="E. P. Popov, Engineering Mechanics of Solids, Example 8.8, p. 441: 0/45/90 deg rosette "
    "reads -500, 200, 300 microstrain, 200 GPa, 0.3; printed 48.35 and -105.49 MPa",
    seen=SEEN,
)
def test_example_8_8():
    found = rosette.rectangular_rosette(-500e-6, 200e-6, 300e-6)
    stress = rosette.plane_stress(found.first, found.second, 0.0, 200e9, 0.3)
    assert stress.stress_x / 1e6 == pytest.approx(48.35, abs=0.005)
    assert stress.stress_y / 1e6 == pytest.approx(-105.49, abs=0.005)
