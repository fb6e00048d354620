"""Helfrick and Cooper: change of resistance under a given stress."""

import pytest

from gaugewright.calc import large_strain, steel


@pytest.mark.published(
    where="Helfrick & Cooper, Modern Electronic Instrumentation and Measurement Techniques, "
    "Example 11-1, p. 317: k = 2, 1050 kg/cm2 on 2.1e6 kg/cm2; printed change 0.001",
    seen="typed copy with its printed output: textbook-companion repository "
    "FOSSEE/Python-Textbook-Companions, chapter 11; not the book",
)
def test_example_11_1():
    strain = 1050 / 2.1e6
    assert steel.elastic_stress(strain, 2.1e6) == pytest.approx(1050)
    change = large_strain.grid_change_constant_factor(strain, 2.0)
    assert change == pytest.approx(0.001, abs=1e-12)
