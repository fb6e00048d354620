"""Philpot's animated examples in mechanics of materials: strain along a direction."""

import numpy as np
import pytest

from gaugewright.calc import rosette


@pytest.mark.published(
    where="T. A. Philpot, MecMovies, example M13.2: 900, -600, -850 microstrain; printed -398.78 "
    "along 50 deg",
    seen="the page itself, MecMovies chapter 13, m13_02",
)
def test_example_m13_2():
    found = rosette.direct_strain(900e-6, -600e-6, -850e-6, np.radians(50.0))
    assert found * 1e6 == pytest.approx(-398.78, abs=0.005)
