"""Cox and Harris, NPL Report DEM-ES-011, uncertainty evaluation: logarithm of a rectangle."""

import math

import numpy as np
import pytest

from gaugewright.calc.monte_carlo import first_order_agrees, monte_carlo, numerical_tolerance
from gaugewright.calc.uncertainty import InputQuantity, Uncertain

X = InputQuantity("x", 0.5 / math.sqrt(3), distribution="rectangular")


@pytest.mark.published(
    where="Cox and Harris, NPL Report DEM-ES-011, 9.2, Table 9.2: Y = ln X, X rectangular on "
    "[0.1, 1.1]; linear y = -0.511, u = 0.481; true mean -0.665, standard deviation 0.606",
    seen="typed copy: tests of the open program suncal, not the report itself",
)
def test_logarithm_of_a_rectangle():
    x = Uncertain.from_input(0.6, X)
    y = x.mapped(np.log(x.value), 1 / x.value)
    assert y.value.item() == pytest.approx(-0.511, abs=5e-4)
    assert y.standard_uncertainty().item() == pytest.approx(0.481, abs=5e-4)
    found = monte_carlo(
        lambda drawn: np.log(0.6 + drawn["x"]), [X], np.random.default_rng(20261125), tolerance=2e-3
    )
    assert found.value == pytest.approx(-0.665, abs=2.5e-3)
    assert found.standard_uncertainty == pytest.approx(0.606, abs=2.5e-3)
    delta = numerical_tolerance(y.standard_uncertainty().item(), 2)
    verdict = first_order_agrees(y.value.item(), y.expanded().item(), found, tolerance=delta)
    assert not verdict.agrees
