"""NIST Statistical Reference Datasets: the load cell that Pontius calibrated."""

import pytest

from gaugewright.calc.polynomial_fit import polynomial_fit

FIRST = (
    "0.11019 0.21956 0.32949 0.43899 0.54803 0.65694 0.76562 0.87487 0.98292 1.09146 "
    "1.20001 1.30822 1.41599 1.52399 1.63194 1.73947 1.84646 1.95392 2.06128 2.16844"
)
SECOND = (
    "0.11052 0.22018 0.32939 0.43886 0.54798 0.65739 0.76596 0.87474 0.98300 1.09150 "
    "1.20004 1.30818 1.41613 1.52408 1.63159 1.73965 1.84696 1.95445 2.06177 2.16829"
)
DEFLECTION = [float(text) for text in (FIRST + " " + SECOND).split()]
LOAD = [150_000.0 * step for step in range(1, 21)] * 2
SEEN = "the data set and its certified values in a public test program's copy; not NIST's page"


def fitted():
    return polynomial_fit(LOAD, DEFLECTION, 2)


@pytest.mark.published(
    where="NIST StRD, Pontius: deflection over load of a load cell, 40 points, certified "
    "B0 = 0.673565789473684E-03, B1 = 0.732059160401003E-06, B2 = -0.316081871345029E-14",
    seen=SEEN,
)
def test_certified_coefficients():
    certified = [0.673565789473684e-3, 0.732059160401003e-6, -0.316081871345029e-14]
    assert fitted().coefficients == pytest.approx(certified, rel=1e-9, abs=0.0)


@pytest.mark.published(
    where="NIST StRD, Pontius: certified standard deviations 0.107938612033077E-03, "
    "0.157817399981659E-09, 0.486652849992036E-16; residual standard deviation "
    "0.205177424076185E-03; R squared 0.999999900178537",
    seen=SEEN,
)
def test_certified_deviations():
    found = fitted()
    certified = [0.107938612033077e-3, 0.157817399981659e-9, 0.486652849992036e-16]
    assert found.standard_uncertainties == pytest.approx(certified, rel=1e-9, abs=0.0)
    assert found.residual_deviation == pytest.approx(0.205177424076185e-3, rel=1e-9)
    assert found.determination == pytest.approx(0.999999900178537, abs=1e-14)
    assert found.degrees_of_freedom == 37
