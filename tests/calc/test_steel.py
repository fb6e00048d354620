"""Steel laws against integration, differences and equilibrium."""

from functools import partial

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from gaugewright.calc import steel, steel_curves, steel_history
from gaugewright.errors import InputError

E, FY = 200e9, 500e6
STEEL = {"elastic_modulus": E, "yield_strength": FY}
STRAIN = st.floats(-0.05, 0.05)
SLOPE = st.floats(0.0, 5e9)
law = partial(steel.bilinear_stress, elastic_modulus=E, yield_strength=FY)


@given(STRAIN, SLOPE)
def test_bilinear_stress_is_the_integral_of_its_slope(strain, slope):
    # Lesser of two straight lines, in tension and upside down in compression.
    size = abs(strain)
    expected = min(E * size, FY + slope * (size - FY / E)) * np.sign(strain)
    found = law(strain, hardening_modulus=slope)
    assert found == pytest.approx(expected, rel=1e-12, abs=1e-3)


@given(STRAIN.filter(lambda e: abs(abs(e) - FY / E) > 1e-5), st.floats(1e8, 5e9))
def test_partials_are_the_differences_of_the_stress(strain, slope):
    partials = steel.bilinear_stress_partials(strain, E, FY, slope)
    values = {
        "strain": strain,
        "elastic_modulus": E,
        "yield_strength": FY,
        "hardening_modulus": slope,
    }
    for name, step in (
        *(("strain", 1e-7), ("elastic_modulus", 1e6)),
        *(("yield_strength", 1e3), ("hardening_modulus", 1e5)),
    ):
        up = steel.bilinear_stress(**values | {name: values[name] + step})
        down = steel.bilinear_stress(**values | {name: values[name] - step})
        slope_found = (up - down) / (2 * step)
        assert getattr(partials, name) == pytest.approx(slope_found, rel=1e-4, abs=1e-6)


@given(STRAIN)
def test_elastic_partials_are_those_of_a_product(strain):
    partials = steel.elastic_stress_partials(strain, E)
    assert steel.elastic_stress(strain, E) == pytest.approx(strain * E)
    assert partials.strain == E
    assert partials.elastic_modulus == pytest.approx(strain)
    assert partials.yield_strength == 0


def test_missing_strain_gives_no_stress_and_no_partials():
    assert np.isnan(law(np.nan))
    partials = steel.bilinear_stress_partials([np.nan, 0.001], E, FY)
    for name in ("strain", "elastic_modulus", "yield_strength", "hardening_modulus"):
        assert np.isnan(getattr(partials, name)).tolist() == [True, False]
    assert np.isnan(steel.elastic_stress_partials(np.nan, E).strain)


def test_impossible_properties_are_refused():
    with pytest.raises(InputError, match="yield_strength"):
        steel.bilinear_stress(0.001, E, np.nan)
    with pytest.raises(InputError, match="below the modulus"):
        steel.bilinear_stress(0.001, E, FY, 2 * E)
    with pytest.raises(InputError, match="strength_ratio"):
        steel.hardening_modulus_en1992(E, FY, 0.9, 0.05)
    with pytest.raises(InputError, match="ultimate_strain less yield"):
        steel.hardening_modulus_en1992(E, FY, 1.08, 0.002)


@given(st.floats(400e6, 600e6), st.floats(1.05, 1.35), st.floats(0.02, 0.15))
def test_inclined_branch_meets_the_tensile_strength_at_the_ultimate_strain(strength, ratio, last):
    slope = steel.hardening_modulus_en1992(E, strength, ratio, last)
    found = steel.bilinear_stress(last, E, strength, slope)
    assert found == pytest.approx(ratio * strength, rel=1e-9)


NET = st.floats(0.8, 0.999)


@given(st.floats(-0.05, 0.05), NET, st.floats(1e8, 5e9))
def test_flat_and_full_section_carry_the_same_force(flat, net, slope):
    strain = steel.bar_strain_beyond_yield(flat, net, 1.0, **STEEL, hardening_modulus=slope)
    force_flat = net * law(flat, hardening_modulus=slope)
    assert law(strain, hardening_modulus=slope) == pytest.approx(force_flat, rel=1e-9, abs=1e-3)
    root = brentq(
        lambda e: float(law(e, hardening_modulus=slope)) - float(force_flat), -0.1, 0.1, xtol=1e-14
    )
    assert strain == pytest.approx(root, abs=1e-11)
    back = steel.flat_strain_beyond_yield(strain, net, 1.0, **STEEL, hardening_modulus=slope)
    assert back == pytest.approx(flat, abs=1e-9)


def test_on_a_plateau_the_bar_stays_elastic_beside_a_flat_of_several_per_cent():
    bar = steel.bar_strain_beyond_yield([0.001, 0.03], 0.97, 1.0, **STEEL)
    assert bar == pytest.approx([0.97e-3, 0.97 * FY / E])
    flat = steel.flat_strain_beyond_yield([0.001, 0.00249], 0.97, 1.0, **STEEL)
    assert flat[0] == pytest.approx(0.001 / 0.97)
    assert np.isnan(flat[1])


def test_measured_curve_is_followed_and_not_guessed_beyond_its_end():
    strain, stress = [0.0, 0.0025, 0.05], [0.0, 500e6, 600e6]
    found = steel.measured_stress([0.001, -0.001, 0.01, 0.06, np.nan], strain, stress)
    assert found[:2] == pytest.approx([200e6, -200e6])
    assert np.isnan(found).tolist() == [False, False, False, True, True]
    marks = steel.beyond_curve([0.05, 0.06, -0.06, np.nan], strain)
    assert marks.tolist() == [False, True, True, False]


@pytest.mark.parametrize("strain", [[0.0], [0.001, 0.002], [0.0, 0.0, 0.1], [0.0, np.nan]])
def test_a_curve_that_does_not_rise_from_zero_is_refused(strain):
    with pytest.raises(InputError, match="curve_strain"):
        steel.measured_stress(0.001, strain, [0.0] * len(strain))


def replayed(strains, slope):
    """Stress step by step with isotropic hardening, which agrees until reverse yield."""
    stress, limit, previous, out = 0.0, FY, 0.0, []
    hardening = E * slope / (E - slope)
    for strain in strains:
        trial = stress + E * (strain - previous)
        over = abs(trial) - limit
        if over > 0:
            flow = over / (E + hardening)
            trial -= np.sign(trial) * E * flow
            limit += hardening * flow
        stress, previous = trial, strain
        out.append(stress)
    return np.array(out)


@given(
    st.lists(st.floats(0.0, 0.02), min_size=1, max_size=30),
    st.lists(st.floats(0.0, 0.9), min_size=30, max_size=30),
    st.floats(0.0, 5e9),
    st.sampled_from([1.0, -1.0]),
)
def test_loading_and_unloading_equal_a_step_by_step_return_mapping(peaks, backs, slope, sign):
    # Each excursion goes back by less than the elastic range, so no reverse yield.
    path = []
    for peak, back in zip(peaks, backs, strict=False):
        top = max([peak, *path])
        path += [top, top - back * FY / E]
    strains = sign * np.array(path)
    curve = partial(law, hardening_modulus=slope)
    found, _ = steel_history.stress_along(strains, curve, E, FY)
    assert found == pytest.approx(replayed(strains, slope), rel=1e-9, abs=1.0)


@given(st.lists(st.floats(-0.02, 0.02), min_size=2, max_size=40), st.integers(1, 39))
def test_cutting_a_record_changes_nothing(strains, cut):
    curve = partial(law, hardening_modulus=1e9)
    whole, last = steel_history.stress_along(strains, curve, E, FY)
    first, state = steel_history.stress_along(strains[:cut], curve, E, FY)
    second, again = steel_history.stress_along(strains[cut:], curve, E, FY, state)
    assert np.array_equal(whole, np.concatenate([first, second]), equal_nan=True)
    assert again.reversed == last.reversed


def test_stress_is_not_known_after_yielding_back():
    found, state = steel_history.stress_along([0.0, 0.01, 0.0045, 0.006], law, E, FY)
    assert found[:2] == pytest.approx([0.0, FY])
    assert np.isnan(found[2:]).all()
    assert state.reversed


def test_an_elastic_push_before_a_pull_is_no_yielding_back():
    curve = partial(law, hardening_modulus=5e9)
    found, state = steel_history.stress_along([-0.0022, 0.02, 0.018], curve, E, FY)
    hardened = FY + 5e9 * (0.02 - 0.0025)
    assert found == pytest.approx([-440e6, hardened, hardened - 400e6])
    assert not state.reversed


def test_unloading_stays_known_right_to_the_edge_of_reverse_yield():
    found, _ = steel_history.stress_along([0.01, 0.01 - 2 * FY / E], law, E, FY)
    assert found[1] == pytest.approx(-FY)


def test_yield_in_compression_first_is_known_too():
    found, _ = steel_history.stress_along([-0.01, -0.009], law, E, FY)
    assert found == pytest.approx([-FY, -FY + 200e6])


def test_a_missing_sample_is_passed_over_and_gauges_are_kept_apart():
    strains = [[0.0, 0.0], [np.nan, 0.001], [0.01, 0.002], [0.009, 0.001]]
    found, _ = steel_history.stress_along(strains, law, E, FY)
    assert np.isnan(found[1, 0])
    assert found[2:, 0] == pytest.approx([FY, FY - 200e6])
    assert found[:, 1] == pytest.approx([0.0, 200e6, 400e6, 200e6])


def test_an_empty_block_keeps_the_state_and_a_single_number_is_refused():
    _, state = steel_history.stress_along([0.01], law, E, FY)
    none, kept = steel_history.stress_along(np.empty(0), law, E, FY, state)
    assert none.size == 0
    assert kept is state
    with pytest.raises(InputError, match="time along its first axis"):
        steel_history.stress_along(0.01, law, E, FY)


@given(st.floats(-0.05, 0.05), st.floats(300e6, 700e6), st.floats(3.0, 40.0))
def test_ramberg_osgood_stress_solves_its_strain(strain, proof, exponent):
    stress = steel_curves.ramberg_osgood_stress(strain, E, proof, exponent)
    back = steel_curves.ramberg_osgood_strain(stress, E, proof, exponent)
    assert back == pytest.approx(strain, rel=1e-10, abs=1e-15)


def test_ramberg_osgood_exponent_passes_through_both_offsets():
    exponent = steel_curves.ramberg_osgood_exponent(500e6, 400e6)
    plastic = steel_curves.ramberg_osgood_strain(400e6, E, 500e6, exponent) - 400e6 / E
    assert plastic == pytest.approx(1e-4, rel=1e-9)
    with pytest.raises(InputError, match="limit_strength"):
        steel_curves.ramberg_osgood_exponent(400e6, 500e6)


def test_park_curve_has_a_plateau_and_ends_at_the_tensile_strength():
    curve = partial(
        steel_curves.park_paulay_stress,
        elastic_modulus=E,
        yield_strength=FY,
        tensile_strength=650e6,
        hardening_strain=0.01,
        ultimate_strain=0.1,
    )
    found = curve([0.001, 0.005, 0.01, 0.1, -0.1, 0.11, np.nan])
    assert found[:5] == pytest.approx([200e6, FY, FY, 650e6, -650e6])
    assert np.isnan(found[5:]).all()
    rising = curve(np.linspace(0.01, 0.1, 200))
    assert np.all(np.diff(rising) > 0)
    with pytest.raises(InputError, match="hardening_strain"):
        curve(0.001, hardening_strain=0.001)


@given(STRAIN, st.floats(1e8, 5e9), st.floats(2.0, 25.0))
def test_smooth_knee_lies_under_the_bilinear_curve_and_joins_it_far_away(strain, slope, power):
    smooth = steel_curves.menegotto_pinto_stress(strain, E, FY, slope, power)
    sharp = law(strain, hardening_modulus=slope)
    assert abs(smooth) <= abs(sharp) * (1 + 1e-12)
    ratio = abs(strain) * E / FY
    plain = FY * (slope / E * ratio + (1 - slope / E) * ratio / (1 + ratio**power) ** (1 / power))
    assert abs(smooth) == pytest.approx(plain, rel=1e-12)


def test_residual_strain_is_what_unloading_leaves():
    assert steel_history.unloaded_strain(0.01, FY, E) == pytest.approx(0.0075)
