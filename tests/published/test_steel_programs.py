"""Steel laws as two open structural programs compute them in their own tests."""

import numpy as np
import pytest

from gaugewright.calc import steel, steel_curves, steel_cyclic, steel_inverse, steel_table


@pytest.mark.published(
    where="Giuffre-Menegotto-Pinto steel of Filippou, Popov & Bertero (EERC 83-19, 1983) in the "
    "verification array of a finite-element program, test_steel02: f_y 2600, E 2.1e6, b 0.001, R0 "
    "15, first loading in eight steps of 0.0002",
    seen="the verification file in the public repository xcfem/xc at fe707f4; not the report",
)
def test_first_loading_with_a_smooth_knee():
    strain = np.arange(1, 9) * 0.0002
    found = steel_curves.menegotto_pinto_stress(strain, 2.1e6, 2600.0, 2.1e3, 15.0)
    assert found == pytest.approx(FIRST, abs=1e-6)


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


# Up to 0.0016, down to -0.0016 and up again in steps of 0.0002.
FIRST = [
    *(420.0, 839.99999756, 1259.9983975, 1679.84023129),
    *(2094.43925811, 2439.74485068, 2575.02268013, 2597.10357884),
]
DOWN = [
    *(2177.10361083, 1757.10718257, 1337.16070607, 917.509155896),
    *(498.955465729, 83.4836121405, -324.877516243, -719.184353981),
    *(-1089.3087798, -1423.15134693, -1709.72230813, -1942.88083256),
    *(-2123.30032297, -2257.38132823, -2354.30837053, -2423.31773771),
]
UP = [
    *(-2003.32887686, -1583.61049005, -1165.29416968, -750.941478428),
    *(-344.863824637, 46.9169088244, 417.211303572, 758.719915171),
    *(1065.35896571, 1333.3932764, 1561.95005251, 1752.78930425),
    *(1909.55078241, 2036.84608339, 2139.48812589, 2221.98168325),
]


@pytest.mark.published(
    where="Giuffre-Menegotto-Pinto steel of Filippou, Popov & Bertero (EERC 83-19, 1983) in the "
    "verification array of a finite-element program, test_steel02: f_y 2600, E 2.1e6, b 0.001, R0 "
    "15, cR1 0.925, cR2 0.15, loading, unloading and reloading in 40 steps of 0.0002",
    seen="the verification file in the public repository xcfem/xc at 37cd275; not the report",
)
def test_loading_unloading_and_reloading_with_a_smooth_knee() -> None:
    steps = np.concatenate([np.arange(1, 9), np.arange(7, -9, -1), np.arange(-7, 9)])
    steel = steel_cyclic.CyclicSteel(2.1e6, 2600.0, 0.001, 15.0, 0.925, 0.15)
    found, _ = steel_cyclic.cyclic_stress(steps * 0.0002, steel)
    assert found == pytest.approx(FIRST + DOWN + UP, abs=1e-6)


@pytest.mark.published(
    where="Piecewise linear steel through (0, 0), (0.0025, 500), (0.05, 600) MPa in the tests of a "
    "section-analysis library: 0.001 gives 200, 0.01 gives 515.789",
    seen="the test file in the public repository robbievanleeuwen/concrete-properties at ef01c2a",
)
def test_the_monotone_curve_of_a_coupon_through_the_same_points():
    found = steel_table.coupon_curve_stress(
        [0.001, 0.01, 0.1], [0.0, 0.0025, 0.05], [0.0, 500e6, 600e6]
    )
    assert found.stress[:2] / 1e6 == pytest.approx([200, 515.789], abs=0.0005)
    assert found.extrapolated.tolist() == [False, False, True]


@pytest.mark.published(
    where="The history of test_steel02 as above, read the other way: 40 printed stresses give back "
    "the 40 strains in steps of 0.0002",
    seen="the verification file in the public repository xcfem/xc at 37cd275; not the report",
)
def test_strains_of_the_printed_stresses() -> None:
    steps = np.concatenate([np.arange(1, 9), np.arange(7, -9, -1), np.arange(-7, 9)])
    law = steel_cyclic.CyclicSteel(2.1e6, 2600.0, 0.001, 15.0, 0.925, 0.15)
    found, _ = steel_inverse.cyclic_strain(FIRST + DOWN + UP, law)
    # A stress printed to 1e-8 of 2600 near the level line of hardening, b E = 2100.
    assert found == pytest.approx(steps * 0.0002, abs=1e-8)
