"""The chain holds its formulas itself; here they meet the library's closed forms."""

import numpy as np
import pytest

from gaugewright.calc import bridge, gauge, indication, large_strain, leads
from gaugewright.calc.stages import kind_named

RATIO = np.array([-3e-3, -1e-4, 0.0, 7e-4, 2e-2])
STRAIN = np.array([-2e-3, 0.0, 5e-4, 9e-3])


def stage(name, x, columns=None, **parameters):
    return kind_named(name).value(np.asarray(x), parameters, columns or {})


def same(ours, theirs):
    np.testing.assert_allclose(ours, theirs, rtol=1e-12, atol=1e-18)


def test_reading_of_a_straight_line_instrument():
    ours = stage("reading in strain, linear instrument@1", STRAIN, set_gauge_factor=2.0, gain=1.0)
    same(ours, indication.bridge_ratio_from_linear_indication(STRAIN, 2.0))


def test_reading_of_a_linearising_instrument():
    ratio = indication.bridge_ratio_from_linearised_indication(STRAIN, 2.0)
    name = "reading in strain, linearising instrument@1"
    ours = stage(name, STRAIN, set_gauge_factor=2.0, gain=1.0)
    same(ours, bridge.quarter_bridge_arm_change(ratio))


@pytest.mark.parametrize(
    ("name", "weights"),
    [
        ("quarter bridge@1", (1, 0, 0, 0)),
        ("half bridge, bending pair@1", (1, -1, 0, 0)),
        ("half bridge, Poisson pair@1", (1, -0.29, 0, 0)),
        ("half bridge, opposite pair@1", (1, 0, 1, 0)),
        ("full bridge, bending@1", (1, -1, 1, -1)),
        ("full bridge, Poisson pairs@1", (1, -0.29, 1, -0.29)),
    ],
)
def test_bridges(name, weights):
    parameters = {"poisson_ratio": 0.29} if "Poisson" in name else {}
    same(stage(name, RATIO, **parameters), bridge.four_arm_change(RATIO, weights))


def test_zero():
    ours = stage("reference zero@1", STRAIN, arm_change_zero=0.002)
    same(ours, bridge.relative_arm_change(STRAIN, 0.002))


@pytest.mark.parametrize(("wires", "count"), [("three", 1), ("two", 2)])
def test_leads(wires, count):
    name = f"lead loss, {wires} wires@1"
    ours = stage(name, STRAIN, gauge_resistance=119.0, lead_resistance=1.7)
    same(ours, leads.grid_change(STRAIN, 119.0, 1.7, count))


def test_gauge_factor():
    T = np.array([10.0, 20.0, 40.0, 60.0])
    ours = stage(
        "gauge factor@1",
        STRAIN,
        {"temperature_degc": T},
        gauge_factor=2.1,
        gauge_factor_slope=1e-4,
        reference_temperature_degc=24.0,
    )
    same(ours, STRAIN / gauge.gauge_factor_at(2.1, 1e-4, T, 24.0))


def test_large_strain():
    grid = np.array([-0.1, 0.01, 0.2])
    ours = stage(
        "large strain, constant-volume grid@1", grid / 2.0, gauge_factor=2.0, law_error=0.0
    )
    same(ours, large_strain.strain_constant_volume(grid))
    name = "large strain, constant gauge factor@1"
    ours = stage(name, grid / 2.1, gauge_factor=2.1, law_error=0.0)
    same(ours, large_strain.strain_constant_factor(grid, 2.1))


def test_alignment():
    parameters = {"poisson_ratio": 0.3, "mean_squared_sine": np.sin(0.06) ** 2}
    same(stage("alignment@1", STRAIN, **parameters), gauge.aligned_strain(STRAIN, 0.06, 0.3))


def test_transverse():
    ours = stage(
        "transverse, uniaxial@1",
        STRAIN,
        transverse_sensitivity=0.014,
        poisson_ratio=0.31,
        card_poisson_ratio=0.285,
    )
    same(ours, gauge.uniaxial_strain(STRAIN, 0.014, 0.31, 0.285))


def test_thermal_output():
    T = np.array([5.0, 22.0, 41.0, 77.0])
    curve = (-3e-5, 2.1e-6, -6e-8, 3e-10, -4e-13)
    ours = stage(
        "thermal output@1",
        STRAIN,
        {"temperature_degc": T},
        **dict(zip(("c0", "c1", "c2", "c3", "c4"), curve, strict=True)),
        card_gauge_factor=2.0,
        gauge_factor=2.12,
        thermal_expansion=11.7e-6,
        card_thermal_expansion=10.8e-6,
        slope_error=0.0,
        temperature_zero_degc=19.0,
        span_low_degc=0.0,
        span_high_degc=80.0,
    )
    change = gauge.thermal_output_change(
        T,
        19.0,
        curve,
        stated_gauge_factor=2.0,
        gauge_factor=2.12,
        expansion_difference=11.7e-6 - 10.8e-6,
    )
    np.testing.assert_allclose(ours, STRAIN - change, rtol=1e-12, atol=1e-17)


def test_two_wire_lead_temperature():
    warm = np.array([15.0, 20.0, 31.0, 44.0])
    ours = stage(
        "lead temperature, two wires@1",
        STRAIN,
        {"lead_temperature_degc": warm},
        lead_resistance=0.8,
        lead_temperature_coefficient=0.0039,
        gauge_factor=2.1,
        gauge_resistance=120.0,
        lead_temperature_zero_degc=20.0,
    )
    change = 0.8 * 0.0039 * (warm - 20.0)
    same(ours, STRAIN - leads.two_wire_lead_strain(change, 120.0, 2.1))
