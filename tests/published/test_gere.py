"""Gere, Mechanics of Materials: one state of strain in three sets of axes."""

import numpy as np
import pytest

from gaugewright.calc import rosette

SEEN = (
    "typed copy with its printed output: textbook-companion repository "
    "FOSSEE/Python-Textbook-Companions, chapter 7; not the book"
)
STATE = (340e-6, 110e-6, 180e-6)


@pytest.mark.published(
    where="J. M. Gere, Mechanics of Materials, Example 7.7, p. 520: 340, 110, 180 microstrain "
    "turned by 30 deg; printed 360.44, -109.19, 89.56",
    seen=SEEN,
)
def test_example_7_7_turned_axes():
    turn = np.radians(30.0)
    assert rosette.direct_strain(*STATE, turn) * 1e6 == pytest.approx(360.44, abs=0.005)
    assert rosette.shear_strain(*STATE, turn) * 1e6 == pytest.approx(-109.19, abs=0.005)
    across = rosette.direct_strain(*STATE, turn + np.pi / 2)
    assert across * 1e6 == pytest.approx(89.56, abs=0.005)


@pytest.mark.published(
    where="J. M. Gere, Mechanics of Materials, Example 7.7, p. 521: printed 371 and 79 microstrain "
    "at 19.02 deg, largest shear 292",
    seen=SEEN + "; the angle was seen there, the three strains are from memory",
)
def test_example_7_7_principal_strains():
    found = rosette.principal(*STATE)
    assert found.first * 1e6 == pytest.approx(371, abs=0.5)
    assert found.second * 1e6 == pytest.approx(79, abs=0.5)
    assert np.degrees(found.angle) == pytest.approx(19.02, abs=0.005)
    assert (found.first - found.second) * 1e6 == pytest.approx(292, abs=0.5)
