"""Course ENGR224 of the Sandia National Laboratories' primary standards laboratory: examples."""

import math

import pytest

from gaugewright.calc.evaluation import effective_degrees_of_freedom
from gaugewright.calc.uncertainty import InputQuantity, Uncertain

SEEN = "typed copy: tests of the open program suncal, not the course"


@pytest.mark.published(
    where="Sandia ENGR224 course, effective degrees of freedom: parts 0.57 (9) and 0.25 (infinite) "
    "give 12.8",
    seen=SEEN,
)
def test_effective_degrees_of_freedom():
    found = effective_degrees_of_freedom([0.57, 0.25], [9, math.inf])
    assert found == pytest.approx(12.8, abs=0.05)


@pytest.mark.published(
    where="Sandia ENGR224 course, X-ray fluorescence: Yc = X1/X2 Yu with X1 = 0.1820 (0.00093, 9), "
    "X2 = 0.1823 (0.00058, 19), Yu = 0.6978 (0.0026, 19); Yc = 0.6967, u = 0.00494, ν = 27.7, "
    "U95 = 0.0101",
    seen=SEEN,
)
def test_x_ray_fluorescence():
    x1 = Uncertain.from_input(0.1820, InputQuantity("x1", 0.00093, 9))
    x2 = Uncertain.from_input(0.1823, InputQuantity("x2", 0.00058, 19))
    yu = Uncertain.from_input(0.6978, InputQuantity("yu", 0.0026, 19))
    yc = x1 / x2 * yu
    assert yc.value.item() == pytest.approx(0.6967, abs=5e-5)
    # Printed numbers carry rounded steps: 0.004932 and 27.5 come from unrounded ones.
    assert yc.standard_uncertainty().item() == pytest.approx(0.00494, abs=1e-5)
    assert yc.effective_degrees_of_freedom().item() == pytest.approx(27.7, abs=0.5)
    assert yc.expanded().item() == pytest.approx(0.0101, abs=5e-5)
