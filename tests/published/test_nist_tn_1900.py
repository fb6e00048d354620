"""NIST Technical Note 1900 (2015), Simple Guide for Evaluating and Expressing Uncertainty."""

import numpy as np
import pytest

from gaugewright.calc.monte_carlo import monte_carlo
from gaugewright.calc.uncertainty import InputQuantity, Uncertain

GIVEN = {
    "L0": (1.4999, 1e-4),
    "T0": (288.15, 0.02),
    "L1": (1.5021, 2e-4),
    "T1": (373.10, 0.05),
}


@pytest.mark.published(
    where="NIST TN 1900 (2015), Example E13, thermal expansion coefficient of a copper bar: "
    "L0 = 1.4999 m (0.0001), T0 = 288.15 K (0.02), L1 = 1.5021 m (0.0002), T1 = 373.10 K (0.05); "
    "α = 1.73e-5 /K, u = 1.8e-6 /K (1.7266e-5 and 1.76e-6 with more digits)",
    seen="typed copy: tests of the open program suncal, not the note itself",
)
def test_e13_thermal_expansion():
    L0, T0, L1, T1 = (
        Uncertain.from_input(value, InputQuantity(name, u)) for name, (value, u) in GIVEN.items()
    )
    alpha = (L1 - L0) / (L0 * (T1 - T0))
    assert alpha.value.item() == pytest.approx(1.7266e-5, abs=1e-9)
    assert alpha.standard_uncertainty().item() == pytest.approx(1.76e-6, abs=1e-8)


@pytest.mark.published(
    where="NIST TN 1900 (2015), Example E13, the same by Monte Carlo: u = 1.8e-6 /K",
    seen="typed copy: tests of the open program suncal, not the note itself",
)
def test_e13_by_monte_carlo():
    def model(drawn):
        L0, T0, L1, T1 = (GIVEN[name][0] + drawn[name] for name in GIVEN)
        return (L1 - L0) / (L0 * (T1 - T0))

    inputs = [InputQuantity(name, u) for name, (_, u) in GIVEN.items()]
    found = monte_carlo(model, inputs, np.random.default_rng(20261125), digits=2)
    assert found.value == pytest.approx(1.7266e-5, abs=5e-8)
    assert found.standard_uncertainty == pytest.approx(1.8e-6, abs=5e-8)
