"""Strain that warm leads feign, against the solved circuit before and after warming."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import bridge, leads, warm_leads
from gaugewright.calc.circuit import Network, VoltageSource, solve, voltage_ratio
from gaugewright.errors import Faults

GRID = st.floats(100.0, 1000.0)
LEAD = st.floats(0.01, 20.0)
FACTOR = st.floats(1.8, 2.3)
CHANGE = st.floats(-0.5, 1.0)


def ratio(below, above):
    network = Network(
        (("low", "S", "N"), ("up", "P", "S"), ("h1", "P", "M"), ("h2", "M", "N")),
        (VoltageSource("V", "P", "N", 1.0),),
        "N",
    )
    solution = solve(network, [below, above, 1e3, 1e3])
    return voltage_ratio(solution, "S", "M", "P", "N")


def corrected_strain(before, after, grid, lead, factor, wires):
    """Reading of the warmed circuit by the package's own route from the zero."""
    zero = bridge.quarter_bridge_arm_change(ratio(*before))
    arm = bridge.relative_arm_change(bridge.quarter_bridge_arm_change(ratio(*after)), zero)
    return leads.grid_change(arm, grid, lead, wires) / factor


@given(GRID, LEAD, FACTOR, CHANGE, CHANGE)
def test_three_wires_feign_the_difference_of_their_warming(grid, lead, factor, a, b):
    a, b = a * lead, b * lead
    whole = grid + lead
    found = corrected_strain((whole, whole), (whole + a, whole + b), grid, lead, factor, 1)
    said = warm_leads.three_wire_warming(
        a, b, lead_resistance=lead, gauge_resistance=grid, gauge_factor=factor
    )
    assert said == pytest.approx(found, abs=1e-12)


@given(GRID, LEAD, FACTOR, CHANGE)
def test_three_wires_that_warm_alike_feign_nothing(grid, lead, factor, change):
    wire = {"lead_resistance": lead, "gauge_resistance": grid, "gauge_factor": factor}
    assert warm_leads.three_wire_warming(change, change, **wire) == 0.0


@given(GRID, LEAD, FACTOR, st.floats(-40.0, 80.0), st.floats(-40.0, 80.0))
def test_two_wires_feign_what_their_resistance_gains(grid, lead, factor, now, zero):
    # Resistances by the line through 20 °C; slope of the conductor counted from the zero.
    at_zero = lead * (1 + 0.00393 * (zero - 20))
    later = lead * (1 + 0.00393 * (now - 20))
    slope = 0.00393 / (1 + 0.00393 * (zero - 20))
    below = grid + 2 * at_zero
    found = corrected_strain((below, grid), (grid + 2 * later, grid), grid, at_zero, factor, 2)
    said = warm_leads.two_wire_error(
        now,
        zero,
        lead_resistance=at_zero,
        gauge_resistance=grid,
        gauge_factor=factor,
        resistance_slope=slope,
    )
    assert said == pytest.approx(found, abs=1e-12)


@given(GRID, LEAD, FACTOR)
def test_the_offset_of_two_wires_is_what_an_exact_bridge_reads(grid, lead, factor):
    found = bridge.quarter_bridge_arm_change(ratio(grid + 2 * lead, grid)) / factor
    said = warm_leads.two_wire_offset(grid, lead, factor)
    assert said == pytest.approx(found, abs=1e-12)


def test_a_missing_temperature_gives_no_correction():
    found = warm_leads.two_wire_error(
        [20.0, np.nan],
        20.0,
        lead_resistance=1.0,
        gauge_resistance=120.0,
        gauge_factor=2.0,
        resistance_slope=0.0039,
    )
    assert np.isnan(found).tolist() == [False, True]


def test_every_fault_is_told_at_once():
    with pytest.raises(Faults, match="3 thing"):
        warm_leads.two_wire_offset(-120.0, -1.0, 0.0)
    with pytest.raises(Faults, match="2 thing"):
        warm_leads.three_wire_warming(
            0.0, 0.0, lead_resistance=-1.0, gauge_resistance=120.0, gauge_factor=0.0
        )
