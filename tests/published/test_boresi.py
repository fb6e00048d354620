"""Boresi and Schmidt: modulus, permanent strain after unloading."""

import numpy as np
import pytest

from gaugewright.calc import coupon_modulus, steel_history


@pytest.mark.published(
    where="Boresi & Schmidt, Advanced Mechanics of Materials, Example 1.2, p. 16: 343 MPa at "
    "0.00172; unloaded from 500 MPa at 0.0073; printed 0.0048 permanent, 0.0025 recovered",
    seen="typed copy with its printed output: textbook-companion repository "
    "FOSSEE/Python-Textbook-Companions, chapter 1; not the book",
)
def test_example_1_2():
    left = steel_history.unloaded_strain(0.0073, 500e6, elastic_modulus=343e6 / 0.00172)
    assert left == pytest.approx(0.0048, abs=5e-5)
    assert 0.0073 - left == pytest.approx(0.0025, abs=5e-5)


@pytest.mark.published(
    where="Boresi & Schmidt, Advanced Mechanics of Materials, Example 1.2, p. 16: 343 MPa at "
    "0.00172; worked out 199.42 GPa",
    seen="typed copy: textbook-companion repository FOSSEE/Python-Textbook-Companions, chapter 1; "
    "not the book",
)
def test_example_1_2_modulus_of_a_record_through_that_point():
    stress = np.linspace(0, 343e6, 200)
    line = coupon_modulus.elastic_line(stress * 0.00172 / 343e6, stress, 50e6, 300e6)
    assert line.elastic_modulus / 1e9 == pytest.approx(199.42, abs=0.005)
    assert line.axis_offset == pytest.approx(0, abs=1e-12)
