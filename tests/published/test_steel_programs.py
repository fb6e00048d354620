"""Steel laws as two open structural programs compute them in their own tests."""

import numpy as np
import pytest

from gaugewright.calc import steel, steel_curves


@pytest.mark.published(
    where="Giuffre-Menegotto-Pinto steel of Filippou, Popov & Bertero (EERC 83-19, 1983) in the "
    "verification array of a finite-element program, test_steel02: f_y 2600, E 2.1e6, b 0.001, R0 "
    "15, first loading in eight steps of 0.0002",
    seen="the verification file in the public repository xcfem/xc at fe707f4; not the report",
)
def test_first_loading_with_a_smooth_knee():
    strain = np.arange(1, 9) * 0.0002
    found = steel_curves.menegotto_pinto_stress(strain, 2.1e6, 2600.0, 2.1e3, 15.0)
    printed = [
        *(420.0, 839.99999756, 1259.9983975, 1679.84023129),
        *(2094.43925811, 2439.74485068, 2575.02268013, 2597.10357884),
    ]
    assert found == pytest.approx(printed, abs=1e-6)


@pytest.mark.published(
    where="Piecewise linear steel through (0, 0), (0.0025, 500), (0.05, 600) MPa in the tests of a "
    "section-analysis library: 0.001 gives 200, 0.01 gives 515.789; at 0.1 it extrapolates to "
    "705.263, which this package refuses to do",
    seen="the test file in the public repository robbievanleeuwen/concrete-properties at ef01c2a",
)
def test_curve_by_straight_lines():
    curve = ([0.0, 0.0025, 0.05], [0.0, 500e6, 600e6])
    found = steel.measured_stress([0.001, 0.01, 0.1], *curve) / 1e6
    assert found[:2] == pytest.approx([200, 515.789], abs=0.0005)
    assert np.isnan(found[2])
    assert steel.beyond_curve(0.1, curve[0])
