"""Torque of a shaft from one strain gauge, and the wall of a tube, in solved problems."""

import numpy as np
import pytest

from gaugewright.calc import active_arms, rosette


@pytest.mark.published(
    where="A solved problem on a shaft of 96 mm with one gauge at 20 degrees to the axis, G = 27 "
    "GPa, reading 400e-6 (question 9.19 of a chapter 9, the book not named): printed 5.8375 kN m",
    seen="a public page of solutions that reproduces the problem and its steps; not the book",
)
def test_one_gauge_at_twenty_degrees():
    # In pure shear the strain at an angle is γ sin θ cos θ; any ν with E = 2 G (1 + ν) will do.
    per_shear = float(rosette.direct_strain(0.0, 0.0, 1.0, np.radians(20.0)))
    shear = 400e-6 / per_shear
    found = active_arms.torque(shear, 96e-3, 2 * 27e9 * 1.3, 0.3)
    assert found / 1e3 == pytest.approx(5.8375, abs=5e-5)
