"""Laws of concrete: their ends, their slopes and what lies between."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import concrete
from gaugewright.errors import InputError

LAWS = {
    "parabola": lambda e: concrete.parabola_rectangle_stress(e, 30e6),
    "sargin": lambda e: concrete.sargin_stress(e, 38e6, 33e9, peak_strain=0.0022),
    "hognestad": lambda e: concrete.hognestad_stress(e, 30e6),
    "elastic": lambda e: concrete.elastic_compression_stress(e, 30e9),
    "block": lambda e: concrete.rectangular_block_stress(
        e, 32e6, block_stress_ratio=0.85, block_depth_ratio=0.83, crushing_strain=0.003
    ),
}
every_law = pytest.mark.parametrize("law", LAWS.values(), ids=LAWS)


@every_law
def test_compression_laws_carry_no_tension_and_keep_missing_samples(law):
    found = law([1e-3, 0.0, np.nan, -1e-4])
    assert found[:2].tolist() == [0.0, 0.0]
    assert np.isnan(found[2])
    assert found[3] <= 0


@pytest.mark.parametrize(
    ("law", "end"),
    [("parabola", 0.0035), ("sargin", 0.0035), ("hognestad", 0.0038), ("block", 0.003)],
)
def test_a_law_has_a_value_right_at_its_end_and_none_beyond(law, end):
    at_end, beyond = LAWS[law]([-end, -end * 1.001])
    assert np.isfinite(at_end)
    assert np.isnan(beyond)


@pytest.mark.parametrize(
    ("law", "peak", "strength"),
    [("parabola", 0.002, 30e6), ("sargin", 0.0022, 38e6), ("hognestad", 0.002, 30e6)],
)
def test_the_strength_is_reached_at_the_peak_strain_with_a_level_tangent(law, peak, strength):
    step = 1e-7
    before, at_peak = LAWS[law]([-peak + step, -peak])
    assert at_peak == pytest.approx(-strength)
    assert abs(at_peak - before) / step < 1e-3 * strength / peak


def test_the_slope_at_nothing_is_that_of_the_parabola_and_the_stated_modulus():
    tiny = -1e-9
    # Of f(2ε/ε0 - (ε/ε0)²): 2 f / ε0.
    assert LAWS["parabola"](tiny) / tiny == pytest.approx(2 * 30e6 / 0.002, rel=1e-5)
    assert LAWS["hognestad"](tiny) / tiny == pytest.approx(2 * 30e6 / 0.002, rel=1e-5)
    # The law for nonlinear analysis begins at 1.05 times the secant modulus.
    assert LAWS["sargin"](tiny) / tiny == pytest.approx(1.05 * 33e9, rel=1e-5)


@given(st.floats(1e-5, 1.0), st.floats(1e-5, 1.0))
def test_more_shortening_below_the_peak_never_means_less_stress(first, second):
    low, high = sorted((first, second))
    for law, peak in (("parabola", 0.002), ("sargin", 0.0022), ("hognestad", 0.002)):
        soft, hard = LAWS[law]([-low * peak, -high * peak])
        assert hard <= soft + 1e-6


def test_area_under_the_parabola_rectangle_is_known_by_integration():
    # ∫ over the parabola is 2/3 f ε0, over the plateau f (εcu - ε0): 0.8095 of f εcu.
    strain = -np.linspace(0, 0.0035, 200_001)
    stress = LAWS["parabola"](strain)
    assert np.trapezoid(stress, strain) == pytest.approx(30e6 * (2 / 3 * 0.002 + 0.0015), rel=1e-8)


def test_what_hognestad_leaves_at_the_end_is_the_stated_share():
    assert LAWS["hognestad"](-0.0038) == pytest.approx(-0.85 * 30e6)
    level = concrete.hognestad_stress(-0.003, 30e6, strength_left=1.0)
    assert level == pytest.approx(-30e6)


def test_tension_rises_to_the_strength_and_breaks_or_softens():
    strain = [0.5e-4, 1.0e-4, 1.0001e-4, 1e-3, -1e-4, np.nan]
    brittle = concrete.brittle_tension_stress(strain, 30e9, 3e6)
    soft = concrete.softening_tension_stress(strain, 30e9, 3e6)
    assert brittle[:3] == pytest.approx([1.5e6, 3e6, 0.0])
    assert soft[:2] == pytest.approx([1.5e6, 3e6])
    assert soft[3] == pytest.approx(3e6 / (1 + np.sqrt(0.5)))
    for found in (brittle, soft):
        assert found[4] == 0.0
        assert np.isnan(found[5])


def test_concrete_without_strength_in_tension_carries_none():
    assert concrete.brittle_tension_stress(1e-5, 30e9, 0.0) == 0.0
    assert concrete.softening_tension_stress(1e-5, 30e9, 0.0) == 0.0


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: concrete.elastic_compression_stress(0.0, np.nan), "elastic_modulus"),
        (lambda: concrete.parabola_rectangle_stress(0.0, -1.0), "compressive_strength"),
        (lambda: concrete.parabola_rectangle_stress(0.0, 1.0, peak_strain=0.004), "crushing"),
        (lambda: concrete.sargin_stress(0.0, 38e6, 10e9, peak_strain=0.002), "1.05 E"),
        (lambda: concrete.hognestad_stress(0.0, 1.0, peak_strain=0.0038), "crushing_strain"),
        (lambda: concrete.brittle_tension_stress(0.0, 30e9, -1.0), "concrete_tensile_strength"),
    ],
)
def test_an_impossible_property_is_refused_by_name(call, name):
    with pytest.raises(InputError, match=name):
        call()
