"""Lead wires against the network solver and the three-lead readings of its circuits."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import between_gates, bridge, leads
from gaugewright.calc.circuit import (
    Network,
    VoltageSource,
    resistance_between,
    solve,
    voltage_ratio,
)
from gaugewright.errors import InputError

LEAD = st.floats(0.01, 20.0)
GRID = st.floats(100.0, 1000.0)


def quarter(grid, lead_r, three):
    """Output of a quarter bridge with equal leads and a completion equal to 350 ohm."""
    elements = [
        ("RD", "EP", "IB"),
        ("RHU", "EP", "M"),
        ("RHL", "M", "EN"),
        ("rA", "EN", "T1"),
        ("rB", "IB", "T2"),
        ("RG", "T2", "T1"),
    ]
    # Two-wire: the completion is trimmed to the arm, so that the zero is balanced there too.
    ohms = [350.0 if three else 350.0 + 2 * lead_r, 1e3, 1e3, lead_r, lead_r, grid]
    if three:
        elements.append(("rC", "IC", "T2"))
        ohms.append(lead_r)
    network = Network(tuple(elements), (VoltageSource("V", "EP", "EN", 5.0),), "EN")
    return voltage_ratio(solve(network, ohms), "IC" if three else "IB", "M", "EP", "EN")


@pytest.mark.parametrize("wires", [1, 2])
@given(change=st.floats(-0.1, 0.2), lead=LEAD)
def test_lead_correction_gives_back_the_change_of_the_grid(wires, change, lead):
    ratio = quarter(350.0 * (1 + change), lead, three=wires == 1)
    arm = bridge.quarter_bridge_arm_change(ratio)
    assert leads.grid_change(arm, 350.0, lead, wires) == pytest.approx(change, abs=1e-11)


@given(GRID, LEAD, LEAD, LEAD)
def test_three_readings_give_each_lead_back(grid, lead_a, lead_b, lead_c):
    cable = Network(
        (("rA", "A", "T1"), ("RG", "T1", "T2"), ("rB", "B", "T2"), ("rC", "C", "T2")), ground="A"
    )
    ohms = [lead_a, grid, lead_b, lead_c]
    pairs = [resistance_between(cable, *pair, ohms) for pair in ("AB", "AC", "BC")]
    found = leads.three_lead_solution(*pairs)
    assert found.lead_b == pytest.approx(lead_b, abs=1e-9)
    assert found.lead_c == pytest.approx(lead_c, abs=1e-9)
    assert found.gauge_resistance(lead_a) == pytest.approx(grid, rel=1e-11)


def test_equal_leads_are_assumed_only_when_lead_a_is_unknown():
    found = leads.three_lead_solution(123.0, 123.0, 2.0)
    assert found.gauge_resistance() == pytest.approx(121.0)
    assert found.gauge_resistance(1.5) == pytest.approx(120.5)


@given(st.floats(100.0, 1000.0), LEAD)
def test_excitation_leads_take_their_share_of_the_supply(arm, lead):
    network = Network(
        (
            *(("r+", "P", "E+"), ("r-", "E-", "N"), ("1", "S+", "E-"), ("2", "E+", "S+")),
            *(("3", "E+", "S-"), ("4", "S-", "E-")),
        ),
        (VoltageSource("V", "P", "N", 1.0),),
        "N",
    )
    solution = solve(network, [lead, lead, arm * 1.01, arm, arm * 1.01, arm])
    supply = voltage_ratio(solution, "S+", "S-", "P", "N")
    sensed = voltage_ratio(solution, "S+", "S-", "E+", "E-")
    share = leads.excitation_lead_sensitivity(arm * 2.01 / 2, lead)
    assert supply / sensed == pytest.approx(share, rel=1e-10)


def test_two_wire_lead_strain_is_the_difference_of_two_corrected_readings():
    lead, change = 0.8, 0.01
    before = bridge.quarter_bridge_arm_change(quarter(350.0, lead, three=False))
    network_change = 2 * change / (350.0 + 2 * lead)
    assert before == pytest.approx(0.0, abs=1e-13)
    shown = leads.two_wire_lead_strain(change, 350.0, 2.0, lead)
    assert shown == pytest.approx(network_change / 2.0, rel=1e-12)
    corrected = leads.grid_change(network_change, 350.0, lead, 2) / 2.0
    assert leads.two_wire_lead_strain(change, 350.0, 2.0) == pytest.approx(corrected, rel=1e-12)


def test_wire_sizes_halve_their_area_every_three_numbers_nearly():
    areas = np.array([leads.wire_diameter(size) ** 2 for size in range(-3, 40)])
    assert areas[:-3] / areas[3:] == pytest.approx(2.0, rel=0.006)


def test_copper_warms_and_its_resistance_follows():
    cold, warm = leads.lead_resistance(10.0, 0.25e-6, [20.0, 30.0])
    assert cold == pytest.approx(10.0 / 58 / 0.25, rel=1e-12)
    assert warm / cold - 1 == pytest.approx(0.0393, rel=1e-9)
    assert np.isnan(leads.lead_resistance(10.0, 0.25e-6, np.nan))


def test_what_cannot_be_is_refused():
    with pytest.raises(InputError, match="wires_in_arm"):
        leads.lead_sensitivity(120.0, 1.0, 3)
    with pytest.raises(InputError, match="awg"):
        leads.wire_diameter(-4)
    with pytest.raises(InputError, match="cross_section"):
        leads.lead_resistance(1.0, 0.0)
    with pytest.raises(InputError, match="current"):
        leads.four_lead_resistance(1.0, 0.0)


def test_four_leads_leave_voltage_over_current():
    assert leads.four_lead_resistance(0.35, 1e-3) == pytest.approx(350.0)


@given(LEAD, st.floats(-40.0, 120.0), st.floats(-40.0, 120.0))
def test_the_slope_counted_from_where_a_wire_was_measured_is_the_same_straight_line(lead, at, now):
    grown = lead * leads.slope_counted_from(at) * (now - at)
    assert grown == pytest.approx(between_gates.wires_warmed(lead, at, now), rel=1e-9, abs=1e-12)
