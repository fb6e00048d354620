"""Megson, Aircraft Structures: strain of a surface under given stress."""

import numpy as np
import pytest

from gaugewright.calc import rosette

SEEN = (
    "typed copy with its printed output: textbook-companion repository "
    "FOSSEE/Python-Textbook-Companions, chapter 1; not the book"
)


@pytest.mark.published(
    where="T. H. G. Megson, Aircraft Structures for Engineering Students, Example 1.4, p. 33: 83 "
    "and 65 N/mm2, 200000, 0.3; printed 3.175e-4, 2.005e-4 and largest shear 1.17e-4",
    seen=SEEN,
)
def test_example_1_4():
    x, y, _ = rosette.plane_strain_from_stress(83.0, 65.0, 0.0, 200000.0, 0.3)
    assert x == pytest.approx(3.175e-4, abs=5e-8)
    assert y == pytest.approx(2.005e-4, abs=5e-8)
    assert x - y == pytest.approx(1.17e-4, abs=5e-7)


@pytest.mark.published(
    where="T. H. G. Megson, Aircraft Structures for Engineering Students, Example 1.5, p. 33: 60, "
    "-40 and 50 N/mm2, 200000, 0.3; printed 495e-6, -425e-6 and 22.5 deg",
    seen=SEEN,
)
def test_example_1_5():
    state = rosette.plane_strain_from_stress(60.0, -40.0, 50.0, 200000.0, 0.3)
    found = rosette.principal(*state)
    assert found.first * 1e6 == pytest.approx(495, abs=0.5)
    assert found.second * 1e6 == pytest.approx(-425, abs=0.5)
    assert np.degrees(found.angle) == pytest.approx(22.5, abs=0.05)
