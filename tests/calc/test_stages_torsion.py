"""Torsion and calibrated-bar stages against resistances, the closed forms and plain arithmetic."""

import numpy as np
import pytest

from gaugewright.calc import active_arms
from gaugewright.calc.chain import Chain, Stage
from gaugewright.errors import Faults, InputError

ELECTRIC = (
    Stage.of("reading in ratio@1", scale=1.0, gain=1.0),
    Stage.of("full bridge, torsion@1"),
    Stage.of("reference zero, difference@1", arm_change_zero=0.0),
    Stage.of(
        "gauge factor, one temperature@1",
        gauge_factor=2.0,
        gauge_factor_slope=0.0,
        reference_temperature_degc=23.0,
        test_temperature_degc=23.0,
    ),
    Stage.of("large strain, not declared@1", strain_limit=0.01),
)


def shaft_ratio(shear):
    """Output over supply of four grids at 45 degrees, by resistances alone."""
    grids = [350.0 * (1 + 2.0 * sign * shear / 2) for sign in (1, -1, 1, -1)]
    return grids[0] / (grids[0] + grids[1]) - grids[3] / (grids[3] + grids[2])


@pytest.mark.parametrize("shear", [-2e-3, 1e-5, 3e-3])
def test_shear_strain_is_what_four_resistances_say(shear):
    chain = Chain((*ELECTRIC, Stage.of("shear strain@1")))
    assert chain.quantity == "shear strain"
    assert chain.strain(shaft_ratio(shear), {}) == pytest.approx(shear, rel=1e-12)


def test_torque_of_a_tube_agrees_with_stress_times_polar_section():
    outer, bore, shear = 0.04, 0.03, 1e-3
    stage = Stage.of(
        "torque@1", elastic_modulus=200e9, poisson_ratio=0.25, diameter=outer, bore=bore
    )
    found = Chain((*ELECTRIC, stage)).strain(shaft_ratio(shear), {})
    # Ring by ring: τ(ρ) = G γ ρ/(d/2), torque of a ring 2π ρ² dρ τ.
    rho = np.linspace(bore / 2, outer / 2, 20001)
    rings = 2 * np.pi * rho**2 * 80e9 * shear * rho / (outer / 2)
    assert found == pytest.approx(np.trapezoid(rings, rho), rel=1e-7)
    closed = active_arms.torque(shear, outer, 200e9, 0.25, bore=bore)
    assert found == pytest.approx(closed, rel=1e-12)


def test_pure_shear_is_read_low_or_high_by_the_response_across():
    side, card = 0.02, 0.285
    true = 1e-3
    # Along the grid true, across it -true; the card's factor was found on metal of its own ν.
    shown = true * (1 - side) / (1 - card * side)
    stage = Stage.of(
        "transverse, pure shear@1", transverse_sensitivity=side, card_poisson_ratio=card
    )
    assert Chain((*ELECTRIC, stage)).strain(2.0 * shown, {}) == pytest.approx(true)


def test_a_bore_as_wide_as_the_bar_is_refused():
    stage = Stage.of("torque@1", elastic_modulus=2e11, poisson_ratio=0.3, diameter=0.02, bore=0.02)
    with pytest.raises(InputError, match="smaller than the diameter"):
        Chain((*ELECTRIC, stage))


CURVE = Stage.of(
    "calibration to force, curve@1",
    calibration_offset=0.0,
    calibration_slope=20e6,
    calibration_square=0.0,
    calibration_cube=0.0,
    calibration_low=-0.01,
    calibration_high=0.01,
)
QUARTER = (
    Stage.of("reading in ratio@1", scale=1.0, gain=1.0),
    Stage.of("quarter bridge@1"),
    Stage.of("reference zero@1", arm_change_zero=0.0),
)
WARM = Stage.of(
    "thermal output, calibrated bar@1",
    **dict.fromkeys(("c0", "c2", "c3", "c4", "slope_error"), 0.0),
    c1=3e-6,
    card_gauge_factor=2.0,
    gauge_factor=2.1,
    thermal_expansion=12e-6,
    card_thermal_expansion=11e-6,
    temperature_zero_degc=20.0,
    span_low_degc=0.0,
    span_high_degc=60.0,
    calibration_slope=20e6,
)


def test_warmth_alone_shows_no_force_after_its_stage():
    # Apparent strain per kelvin on the gauge itself: 3e-6 · 2.0/2.1 + 1e-6.
    change = 2.1 * 10 * (3e-6 * 2.0 / 2.1 + 1e-6)
    ratio = change / (4 + 2 * change)
    columns = {"temperature_degc": 30.0}
    assert Chain((*QUARTER, CURVE)).strain(ratio, {}) == pytest.approx(20e6 * change)
    assert Chain((*QUARTER, CURVE, WARM)).strain(ratio, columns) == pytest.approx(0.0, abs=1e-6)
    dummy = Stage.of("dummy, calibrated bar@1", calibration_slope=20e6, gauge_factor=2.1)
    beside = {"dummy_strain": change / 2.1}
    assert Chain((*QUARTER, CURVE, dummy)).strain(ratio, beside) == pytest.approx(0.0, abs=1e-6)


def test_temperature_is_taken_off_a_force_only_where_there_is_one():
    with pytest.raises((InputError, Faults), match="after a calibration to force"):
        Chain((*ELECTRIC, WARM))
