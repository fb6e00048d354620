"""Flat and full section carry one force: by every law, both ways, once and to and fro."""

from functools import partial

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from gaugewright.calc import steel, steel_curves, steel_plateau, steel_table
from gaugewright.calc.steel_cyclic import CyclicSteel, cyclic_stress
from gaugewright.calc.steel_equilibrium import (
    bar_strain_along,
    bar_strain_of_flat,
    bar_strain_unloading,
    flat_strain_along,
    flat_strain_of_bar,
)
from gaugewright.calc.steel_inverse import cyclic_strain
from gaugewright.errors import InputError

BAR = {"hardening_strain": 0.012, "ultimate_strain": 0.11}
TABLE = ([0.0, 0.0025, 0.01, 0.05, 0.09], [0.0, 500e6, 515e6, 590e6, 605e6])


def own_curve(strain):
    return steel_table.coupon_curve_stress(strain, *TABLE).stress


LAWS = {
    "bilinear": partial(
        steel.bilinear_stress, elastic_modulus=200e9, yield_strength=500e6, hardening_modulus=2e9
    ),
    "Mander": partial(
        steel_plateau.mander_stress,
        elastic_modulus=200e9,
        yield_strength=500e6,
        tensile_strength=620e6,
        hardening_onset_modulus=6e9,
        **BAR,
    ),
    "Park": partial(
        steel_curves.park_paulay_stress,
        elastic_modulus=200e9,
        yield_strength=500e6,
        tensile_strength=620e6,
        **BAR,
    ),
    "Ramberg-Osgood": partial(
        steel_curves.ramberg_osgood_stress,
        elastic_modulus=200e9,
        proof_strength=500e6,
        exponent=14.0,
    ),
    "own curve": own_curve,
}


@pytest.mark.parametrize("law", LAWS.values(), ids=LAWS)
@pytest.mark.parametrize("net", [0.9, 0.975])
def test_force_is_the_same_and_the_root_is_the_root(law, net):
    flat = np.array([-0.05, -0.002, 0.0, 0.0011, 0.02, 0.06])
    bar = bar_strain_of_flat(flat, net, 1.0, law, largest_strain=0.09)
    assert law(bar) == pytest.approx(net * law(flat), rel=1e-9, abs=1.0)
    for place in (1, 5):
        root = brentq(
            lambda e, p=place: float(law(e) - net * law(flat[p])), -0.09, 0.09, xtol=1e-15
        )
        assert bar[place] == pytest.approx(root, abs=1e-9)
    back = flat_strain_of_bar(bar, net, 1.0, law, largest_strain=0.09)
    assert back == pytest.approx(flat, rel=1e-7, abs=1e-12)


def test_closed_form_of_the_bilinear_law():
    flat = np.linspace(-0.06, 0.06, 13)
    closed = steel.bar_strain_beyond_yield(
        flat,
        0.97,
        1.0,
        elastic_modulus=200e9,
        yield_strength=500e6,
        hardening_modulus=2e9,
    )
    found = bar_strain_of_flat(flat, 0.97, 1.0, LAWS["bilinear"], largest_strain=0.09)
    assert found == pytest.approx(closed, abs=1e-10)


def test_on_a_plateau_the_bar_is_elastic_and_the_flat_is_not_known():
    bar = bar_strain_of_flat([0.003, 0.011], 0.97, 1.0, LAWS["Mander"], largest_strain=0.11)
    assert bar == pytest.approx(0.97 * 0.0025)
    # The flat of a bar just at 0.97 f_y may be anywhere on the plateau.
    flat = flat_strain_of_bar(
        [0.97 * 0.0025, 0.0015], 0.97, 1.0, LAWS["Mander"], largest_strain=0.11
    )
    assert np.isnan(flat[0])
    assert flat[1] == pytest.approx(0.0015 / 0.97)


def test_beyond_the_law_there_is_no_strain_and_a_falling_law_is_refused():
    bar = bar_strain_of_flat([0.12, np.nan], 0.97, 1.0, LAWS["Mander"], largest_strain=0.11)
    assert np.isnan(bar).all()
    flat = flat_strain_of_bar([0.1], 0.9, 1.0, LAWS["Mander"], largest_strain=0.11)
    assert np.isnan(flat).all()
    with pytest.raises(InputError, match="lower yield strength"):
        bar_strain_of_flat(0.01, 0.97, 1.0, lambda e: np.sin(50 * e), largest_strain=0.09)
    with pytest.raises(InputError, match="no more than the area"):
        bar_strain_of_flat(0.01, 1.1, 1.0, LAWS["Park"], largest_strain=0.09)


STEEL = CyclicSteel(200e9, 500e6, 0.01, 18.0, 0.925, 0.15, 0.02, 2.0, 0.03, 1.5)


@settings(max_examples=60)
@given(st.lists(st.integers(-150, 150), min_size=1, max_size=50))
def test_strain_of_stress_undoes_stress_of_strain(steps):
    strain = np.array(steps) * 1e-4
    stress, _ = cyclic_stress(strain, STEEL)
    found, _ = cyclic_strain(stress, STEEL)
    assert found == pytest.approx(strain, abs=1e-9)


def test_cutting_the_record_of_stress_changes_no_digit_and_gaps_are_passed_over():
    random = np.random.default_rng(5)
    strain = np.cumsum(random.normal(0, 1e-3, (200, 2)), axis=0)
    stress, _ = cyclic_stress(strain, STEEL)
    stress[17, 0] = np.nan
    whole, _ = cyclic_strain(stress, STEEL)
    first, state = cyclic_strain(stress[:77], STEEL)
    second, _ = cyclic_strain(stress[77:], STEEL, state)
    assert np.array_equal(whole, np.concatenate([first, second]), equal_nan=True)
    assert np.isnan(whole[17, 0])
    assert whole[:, 1] == pytest.approx(strain[:, 1], abs=1e-9)


def test_without_hardening_a_stress_at_the_yield_line_has_no_strain():
    flat = CyclicSteel(200e9, 500e6, 0.0)
    found, _ = cyclic_strain([100e6, 500e6], flat)
    assert found[0] == pytest.approx(0.0005, rel=1e-3)
    assert np.isnan(found[1])


CYCLES = 0.02 * np.sin(np.linspace(0, 7 * np.pi, 800)) * np.linspace(0.1, 1.0, 800)


def test_flat_and_bar_carry_one_force_to_and_fro():
    bar, _ = bar_strain_along(CYCLES, 0.96, 1.0, STEEL)
    at_flat, _ = cyclic_stress(CYCLES, STEEL)
    in_bar, _ = cyclic_stress(bar, STEEL)
    assert in_bar == pytest.approx(0.96 * at_flat, rel=1e-8, abs=10.0)
    # The flat concentrates the strain: the bar goes a smaller way every time.
    assert np.ptp(bar) < 0.8 * np.ptp(CYCLES)
    back, _ = flat_strain_along(bar, 0.96, 1.0, STEEL)
    assert back == pytest.approx(CYCLES, abs=1e-8)


def test_blocks_of_a_flat_are_one_record():
    whole, _ = bar_strain_along(CYCLES, 0.96, 1.0, STEEL)
    first, states = bar_strain_along(CYCLES[:333], 0.96, 1.0, STEEL)
    second, _ = bar_strain_along(CYCLES[333:], 0.96, 1.0, STEEL, states=states)
    assert np.array_equal(whole, np.concatenate([first, second]))


def test_noise_below_the_gate_makes_no_reversals():
    noise = 2e-6 * np.random.default_rng(1).normal(size=CYCLES.size)
    clean, _ = bar_strain_along(CYCLES, 0.96, 1.0, STEEL)
    noisy, _ = bar_strain_along(CYCLES + noise, 0.96, 1.0, STEEL, gate=2e-5)
    stress, _ = cyclic_stress(clean, STEEL)
    found, _ = cyclic_stress(noisy, STEEL, gate=2e-5)
    # Met to within E times the gate.
    assert np.max(np.abs(found - stress)) < 1.5 * 200e9 * 2e-5


@pytest.mark.parametrize("law", [LAWS["bilinear"], LAWS["own curve"]])
def test_an_unloaded_bar_keeps_what_it_flowed_itself(law):
    flat = np.array([0.001, 0.03, 0.0285, np.nan, 0.04, 0.0385])
    bar = bar_strain_unloading(flat, 0.98, 1.0, law, elastic_modulus=200e9)
    up = bar_strain_of_flat(flat[[0, 1, 4]], 0.98, 1.0, law, largest_strain=0.06)
    assert bar[[0, 1, 4]] == pytest.approx(up, abs=1e-9)
    # Both move along E, the bar by the force over its own area.
    assert bar[[2, 5]] == pytest.approx(up[1:] - 0.98 * 0.0015, abs=1e-9)
    assert np.isnan(bar[3])


def test_without_a_flat_the_bar_strains_as_the_gauge_even_on_a_plateau():
    strain = [0.001, 0.008, 0.006]
    bar = bar_strain_unloading(strain, 1.0, 1.0, LAWS["Mander"], elastic_modulus=200e9)
    assert bar == pytest.approx(strain)
