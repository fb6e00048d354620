"""Hardening after Mander: its slopes, its ends, and what it refuses."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from gaugewright.calc.steel_plateau import mander_exponent, mander_stress
from gaugewright.errors import Faults, InputError

BAR = {"hardening_strain": 0.012, "hardening_onset_modulus": 6e9, "ultimate_strain": 0.11}


def stress(strain, **changed):
    return mander_stress(strain, 200e9, 500e6, 620e6, **BAR | changed)


@given(st.floats(0.011, 0.02), st.floats(2e9, 9e9), st.floats(0.08, 0.15))
def test_the_curve_solves_its_differential_equation(begins, slope, ends):
    # dσ/dε = E_sh ((f_u - σ)/(f_u - f_y))^(1 - 1/p), the form that the power curve integrates.
    power = slope * (ends - begins) / 120e6

    def rise(_, s):
        return slope * (np.clip(620e6 - s, 0, None) / 120e6) ** (1 - 1 / power)

    at = np.linspace(begins, begins + 0.9 * (ends - begins), 9)
    whole = solve_ivp(rise, (begins, ends), [500e6], t_eval=at, rtol=1e-10, atol=1.0)
    found = stress(at, hardening_strain=begins, hardening_onset_modulus=slope, ultimate_strain=ends)
    assert found == pytest.approx(whole.y[0], rel=1e-6)


def test_plateau_slopes_and_end():
    found = stress([0.0, 0.001, -0.001, 0.0025, 0.012, 0.11, -0.11, 0.1101, np.nan])
    assert found[:7] == pytest.approx([0, 200e6, -200e6, 500e6, 500e6, 620e6, -620e6])
    assert np.isnan(found[7:]).all()
    step = 1e-8
    assert (stress(0.012 + step) - 500e6) / step == pytest.approx(6e9, rel=1e-5)
    assert (620e6 - stress(0.11 - 1e-4)) / 1e-4 < 1e6


def test_a_straight_line_is_the_least_slope():
    line = {**BAR, "hardening_onset_modulus": 120e6 / 0.098}
    assert mander_exponent(500e6, 620e6, **line) == pytest.approx(1.0)
    assert stress(0.061, **line) == pytest.approx(560e6)
    with pytest.raises(InputError, match="the straight line to maximum force"):
        stress(0.02, hardening_onset_modulus=1e9)


def test_all_faults_are_told_at_once():
    with pytest.raises(Faults) as told:
        mander_stress(0.01, 200e9, 500e6, 400e6, **BAR | {"ultimate_strain": 0.01})
    assert {fault.name for fault in told.value.faults} == {"tensile_strength", "ultimate_strain"}
    with pytest.raises(InputError, match="at least the yield strain"):
        stress(0.01, hardening_strain=0.002)
