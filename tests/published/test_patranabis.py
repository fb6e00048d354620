"""Patranabis: gauge factor of a wire that keeps its volume."""

import pytest

from gaugewright.calc import gauge, large_strain


@pytest.mark.published(
    where="D. Patranabis, Principles of Electronic Instrumentation, Example 14.5, p. 510: "
    "Poisson's ratio 0.5; printed gauge factor 2",
    seen="typed copy with its printed output: textbook-companion repository "
    "FOSSEE/Python-Textbook-Companions, chapter 14; not the book",
)
def test_example_14_5():
    assert gauge.geometric_gauge_factor(0.5) == pytest.approx(2, abs=1e-12)
    small = 1e-9
    slope = large_strain.grid_change_constant_volume(small) / small
    assert slope == pytest.approx(2, abs=1e-6)
