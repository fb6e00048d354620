"""Natrella, Experimental Statistics: Young's modulus of sapphire rods over temperature."""

import numpy as np
import pytest

from gaugewright.calc.polynomial_fit import polynomial_fit

DEGREES = [30.0, *np.arange(100.0, 1501.0, 100.0).tolist()]
MODULUS = [
    *(4642.0, 4612.0, 4565.0, 4513.0, 4476.0, 4433.0, 4389.0, 4347.0),
    *(4303.0, 4251.0, 4201.0, 4140.0, 4100.0, 4073.0, 4024.0, 3999.0),
]
SEEN = "typed copy: tests of the open program suncal; not the handbook"


@pytest.mark.published(
    where="M. G. Natrella, Experimental Statistics, NBS Handbook 91, section 5-4.1 worksheet: "
    "printed 4654.9846, -0.44985482, s = 9.277617, variances 19.879452 and 0.000025649045",
    seen=SEEN,
)
def test_straight_line():
    found = polynomial_fit(DEGREES, MODULUS, 1)
    assert found.coefficients[0] == pytest.approx(4654.9846, abs=5e-5)
    assert found.coefficients[1] == pytest.approx(-0.44985482, abs=5e-9)
    assert found.residual_deviation == pytest.approx(9.277617, abs=1e-6)
    variances = np.diag(found.covariances)
    assert variances[0] == pytest.approx(19.879452, abs=2e-6)
    assert variances[1] == pytest.approx(2.5649045e-5, abs=1e-12)


@pytest.mark.published(
    where="M. G. Natrella, NBS Handbook 91, p. 5-15: variance of the line at 1200 printed 10.53, "
    "of a new reading at 750 printed 91.45",
    seen=SEEN,
)
def test_variance_of_the_line_and_of_a_new_reading():
    found = polynomial_fit(DEGREES, MODULUS, 1)
    assert found.deviation_of_curve(1200.0) ** 2 == pytest.approx(10.53, abs=0.005)
    assert found.deviation_of_new_reading(750.0) ** 2 == pytest.approx(91.45, abs=0.005)
