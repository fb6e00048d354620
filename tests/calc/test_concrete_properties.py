"""Rules from strength: table rows as remembered, continuity, refusals."""

import numpy as np
import pytest

from gaugewright.calc import concrete_properties as properties
from gaugewright.errors import InputError


def test_rules_for_high_strength_meet_those_for_normal_strength():
    below, above = properties.parabola_rectangle_en1992([50e6, 50.001e6]).peak_strain
    assert above == pytest.approx(below, rel=0.01)
    crushing = properties.parabola_rectangle_en1992([50e6, 50.001e6]).crushing_strain
    assert crushing[1] == pytest.approx(crushing[0], rel=0.01)
    assert properties.tensile_strength_en1992(50.001e6) == pytest.approx(
        properties.tensile_strength_en1992(50e6), rel=0.01
    )


def test_strains_fall_and_the_parabola_straightens_with_strength():
    found = properties.parabola_rectangle_en1992(np.array([40, 60, 70, 90]) * 1e6)
    assert np.all(np.diff(found.crushing_strain) <= 0)
    assert np.all(np.diff(found.peak_strain) >= 0)
    assert found.exponent[-1] == pytest.approx(1.4)
    other = properties.sargin_en1992([38e6, 98e6])
    assert other.crushing_strain == pytest.approx([0.0035, 0.0028])
    assert other.peak_strain[1] <= 0.0028
    assert np.all(np.isnan(other.exponent))


def test_a_deep_member_has_no_more_than_its_axial_strength_in_bending():
    assert properties.flexural_strength_en1992(3e6, [0.1, 0.6, 2.0]) == pytest.approx(
        [4.5e6, 3e6, 3e6]
    )


def test_the_least_of_three_heights_is_taken():
    # 2.5 (h - d) = 0.1, (h - x)/3 = 0.1333, h/2 = 0.25; then the other two in turn.
    assert properties.effective_tension_height_en1992(0.5, 0.46, 0.1) == pytest.approx(0.1)
    assert properties.effective_tension_height_en1992(0.5, 0.40, 0.2) == pytest.approx(0.1)
    assert properties.effective_tension_height_en1992(0.2, 0.12, 1e-9) == pytest.approx(0.2 / 3)


def test_the_mean_strain_is_never_below_six_tenths_of_the_bare_bar():
    found = properties.mean_strain_difference_en1992(
        [50e6, 400e6], 3e6, 0.02, elastic_modulus=200e9, modular_ratio=6.5
    )
    assert found[0] == pytest.approx(0.6 * 50e6 / 200e9)
    # 0.4 · 3/0.02 · (1 + 0.13) = 67.8 MPa are taken off.
    assert found[1] == pytest.approx((400e6 - 67.8e6) / 200e9)


def test_strengths_outside_the_tables_are_refused():
    with pytest.raises(InputError, match="characteristic_strength"):
        properties.parabola_rectangle_en1992(95e6)
    with pytest.raises(InputError, match="characteristic_strength"):
        properties.flexural_strength_is456(-25e6)
    with pytest.raises(InputError, match="mean_strength"):
        properties.modulus_en1992(0.0)
    # Megapascals where pascals are meant are too small for any concrete.
    with pytest.raises(InputError, match="mean_strength"):
        properties.sargin_en1992(38.0)
