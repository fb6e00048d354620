"""Closed forms of bridges, instruments and wires against the solved circuit, over their range.

What a neighbouring test already holds against the circuit isn't repeated here; the page of
proofs in the documentation says which test holds which.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import bridge, far_bridge, indication, leads, shunt
from gaugewright.calc.circuit import (
    CurrentSource,
    Network,
    VoltageSource,
    resistance_between,
    solve,
    voltage_ratio,
)

ARMS = (("1", "S+", "E-"), ("2", "E+", "S+"), ("3", "E+", "S-"), ("4", "S-", "E-"))
BRIDGE = Network(ARMS, (VoltageSource("V", "E+", "E-", 5.0),), "E-")
CHANGE = st.floats(-0.3, 0.5)
OHM = st.floats(60.0, 2000.0)
LEAD = st.floats(1e-3, 30.0)
FACTOR = st.floats(1.5, 4.0)


def ratio(*ohms):
    """Output over supply of arms 1 to 4 by the circuit."""
    return voltage_ratio(solve(BRIDGE, list(ohms)), "S+", "S-", "E+", "E-")


@given(CHANGE, OHM)
def test_nonlinearity_is_that_of_the_circuit(change, ohm):
    straight = 4 * ratio(ohm * (1 + change), ohm, ohm, ohm)
    error = change * (1 + bridge.quarter_bridge_nonlinearity(change))
    assert error == pytest.approx(straight, abs=1e-12)


@given(st.floats(-0.02, 0.02), CHANGE, OHM)
def test_change_since_a_zero_is_that_of_two_circuits(offset, change, ohm):
    zero = bridge.quarter_bridge_arm_change(ratio(ohm * (1 + offset), ohm, ohm, ohm))
    grid = ohm * (1 + offset) * (1 + change)
    now = bridge.quarter_bridge_arm_change(ratio(grid, ohm, ohm, ohm))
    assert bridge.relative_arm_change(now, zero) == pytest.approx(change, abs=1e-11)


@given(CHANGE, FACTOR, OHM)
def test_strain_of_a_quarter_bridge_is_that_put_into_the_circuit(change, factor, ohm):
    shown = ratio(ohm * (1 + change), ohm, ohm, ohm)
    assert bridge.quarter_bridge_strain(shown, factor) * factor == pytest.approx(change, abs=1e-11)
    assert indication.linearised_indication(shown, factor) * factor == pytest.approx(
        change, abs=1e-11
    )
    back = indication.bridge_ratio_from_linearised_indication(change / factor, factor)
    assert back == pytest.approx(shown, abs=1e-13)


@given(st.floats(-0.3, 0.3), FACTOR, OHM)
def test_a_straight_line_instrument_shows_what_bending_bridges_were_given(change, factor, ohm):
    up, down = ohm * (1 + change), ohm * (1 - change)
    for arms, output in ((2.0, ratio(up, down, ohm, ohm)), (4.0, ratio(up, down, up, down))):
        shown = indication.linear_indication(output, factor, arms)
        assert shown * factor == pytest.approx(change, abs=1e-12)
        back = indication.bridge_ratio_from_linear_indication(change / factor, factor, arms)
        assert back == pytest.approx(output, abs=1e-13)


@given(OHM, st.floats(2e3, 1e8), FACTOR)
def test_a_resistor_across_an_arm_feigns_the_strain_of_its_formula(ohm, resistor, factor):
    beside = ohm * resistor / (ohm + resistor)
    compressed = shunt.shunt_strain(ohm, resistor, factor)
    assert ratio(ohm * (1 + factor * compressed), ohm, ohm, ohm) == pytest.approx(
        ratio(beside, ohm, ohm, ohm), abs=1e-13
    )
    stretched = shunt.completion_shunt_strain(ohm, resistor, factor)
    assert ratio(ohm * (1 + factor * stretched), ohm, ohm, ohm) == pytest.approx(
        ratio(ohm, beside, ohm, ohm), abs=1e-13
    )
    wanted = shunt.shunt_resistance_for(compressed, ohm, factor)
    assert wanted == pytest.approx(resistor, rel=1e-7)


@given(st.tuples(CHANGE, CHANGE, CHANGE, CHANGE), OHM)
def test_resistance_at_the_supply_corners_is_that_of_the_circuit(changes, ohm):
    arms = (ohm * (1 + np.array(changes))).tolist()
    network = Network(ARMS, ground="E-")
    found = resistance_between(network, "E+", "E-", arms)
    assert far_bridge.corner_resistance(changes, ohm) == pytest.approx(found, rel=1e-11)


@given(OHM, OHM, st.floats(200.0, 1e5), st.floats(0.2, 0.8))
def test_a_quarter_unit_loads_its_supply_as_the_circuit_does(arm, fixed, half, share):
    network = Network(ARMS, ground="E-")
    ohms = [arm, fixed, half * (1 - share), half * share]
    found = resistance_between(network, "E+", "E-", ohms)
    assert far_bridge.quarter_unit_resistance(arm, fixed, half) == pytest.approx(found, rel=1e-11)


@given(st.tuples(CHANGE, CHANGE, CHANGE, CHANGE), OHM, LEAD, LEAD)
def test_supply_wires_take_their_share_of_any_bridge(changes, ohm, plus, minus):
    arms = (ohm * (1 + np.array(changes))).tolist()
    network = Network(
        (("r+", "P", "E+"), ("r-", "E-", "N"), *ARMS), (VoltageSource("V", "P", "N", 5.0),), "N"
    )
    found = voltage_ratio(solve(network, [plus, minus, *arms]), "S+", "S-", "P", "N")
    share = far_bridge.supply_share(far_bridge.corner_resistance(changes, ohm), plus, minus)
    assert bridge.four_arm_ratio(changes) * share == pytest.approx(found, abs=1e-13)


@pytest.mark.parametrize("wires", [1, 2])
@given(change=CHANGE, grid=OHM, lead=LEAD)
def test_leads_take_their_share_of_the_change_of_a_grid(wires, change, grid, lead):
    # One wire lies in the active arm of three-wire wiring and one beside the completion.
    beside = [grid + lead] * 3 if wires == 1 else [grid + 2 * lead] * 3
    shown = ratio(grid * (1 + change) + wires * lead, *beside)
    arm = bridge.quarter_bridge_arm_change(shown)
    assert arm == pytest.approx(change * leads.lead_sensitivity(grid, lead, wires), abs=1e-11)
    assert leads.grid_change(arm, grid, lead, wires) == pytest.approx(change, abs=1e-10)


@given(OHM, st.floats(0.0, 20.0), st.floats(-0.05, 0.3), FACTOR)
def test_two_wires_that_warm_feign_the_strain_of_the_circuit(grid, lead, more, factor):
    change = more * lead
    whole, warm = grid + 2 * lead, grid + 2 * (lead + change)
    shown = bridge.quarter_bridge_strain(ratio(warm, whole, whole, whole), factor)
    said = leads.two_wire_lead_strain(change, grid, factor, lead)
    assert said * factor == pytest.approx(shown * factor, abs=1e-12)
    corrected = leads.grid_change(shown * factor, grid, lead, 2) / factor
    said = leads.two_wire_lead_strain(change, grid, factor)
    assert said * factor == pytest.approx(corrected * factor, abs=1e-12)


@given(OHM, LEAD, LEAD, LEAD, LEAD, st.floats(1e-5, 1e-2))
def test_four_leads_take_no_part_in_the_resistance(grid, a, b, c, d, current):
    network = Network(
        (
            *(("a", "I+", "1"), ("b", "I-", "2"), ("c", "V+", "1"), ("d", "V-", "2")),
            ("grid", "1", "2"),
        ),
        (CurrentSource("I", "I+", "I-", current),),
        "I-",
    )
    solution = solve(network, [a, b, c, d, grid])
    voltage = solution.voltage("V+") - solution.voltage("V-")
    found = leads.four_lead_resistance(voltage, current)
    assert found == pytest.approx(grid, rel=1e-9)
