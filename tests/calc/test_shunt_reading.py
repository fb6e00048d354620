"""Expected shunt readings: the solved circuit through the arithmetic of each instrument."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import bridge, leads
from gaugewright.calc.circuit import Network, VoltageSource, solve, voltage_ratio
from gaugewright.calc.shunt import POSITIONS, QuarterCircuit
from gaugewright.calc.shunt_reading import (
    GAUGE_SIDE,
    ChannelScale,
    expected_reading,
    positions_that_explain,
    shunt_factor,
    step_bounds,
)
from gaugewright.errors import Faults, InputError

ENDS = {
    "T1-T2": ("T1", "T2"),
    "A-C": ("EN", "IC"),
    "A-B": ("EN", "IB"),
    "completion-B": ("EP", "IB"),
    "completion-C": ("EP", "IC"),
}
LEAD = st.floats(0.001, 10.0)


@st.composite
def circuits(draw):
    nominal = draw(st.sampled_from([120.0, 350.0, 1000.0]))
    return QuarterCircuit(
        nominal * draw(st.floats(0.97, 1.03)), nominal, draw(LEAD), draw(LEAD), draw(LEAD)
    )


def by_circuit(circuit, position=None, resistor=None):
    elements = [
        *(("RD", "EP", "IB"), ("RHU", "EP", "M"), ("RHL", "M", "EN"), ("rA", "EN", "T1")),
        *(("rB", "IB", "T2"), ("rC", "IC", "T2"), ("RG", "T2", "T1")),
    ]
    ohms = [circuit.completion_resistance, 1e3, 1e3, circuit.lead_a, circuit.lead_b]
    ohms += [circuit.lead_c, circuit.gauge_resistance]
    if position:
        elements.append(("RS", *ENDS[position]))
        ohms.append(resistor)
    network = Network(tuple(elements), (VoltageSource("V", "EP", "EN", 5.0),), "EN")
    return voltage_ratio(solve(network, ohms), "IC", "M", "EP", "EN").item()


SHOWN = {
    "ratio": lambda r, k: r,
    "strain, straight line": lambda r, k: 4 * r / k,
    # A linearising instrument works the arm out of the voltage divider it stands in.
    "strain, linearised": lambda r, k: ((0.5 + r) / (0.5 - r) - 1) / k,
}


@pytest.mark.parametrize("shows", SHOWN)
@pytest.mark.parametrize("position", ENDS)
@given(circuit=circuits(), resistor=st.floats(5e3, 1e6), factor=st.floats(1.8, 2.3))
def test_a_channel_shows_the_circuit_in_its_own_scale(shows, position, circuit, resistor, factor):
    scale = ChannelScale(shows, set_gauge_factor=factor)
    found = expected_reading(circuit, position, resistor, scale)
    before = SHOWN[shows](by_circuit(circuit), factor)
    after = SHOWN[shows](by_circuit(circuit, position, resistor), factor)
    assert found.before == pytest.approx(before, abs=1e-12)
    assert found.with_shunt == pytest.approx(after, abs=1e-12)
    assert found.step == pytest.approx(after - before, abs=1e-12)


@given(circuit=circuits(), resistor=st.floats(5e3, 1e6))
def test_every_place_lies_in_the_interval_of_an_unknown_one(circuit, resistor):
    scale = ChannelScale("strain, linearised", set_gauge_factor=2.1)
    low, high = step_bounds(circuit, resistor, scale)
    below, above = step_bounds(circuit, resistor, scale, GAUGE_SIDE)
    steps = {p: expected_reading(circuit, p, resistor, scale).step for p in POSITIONS}
    assert low == min(steps.values())
    assert high == max(steps.values())
    assert low <= below <= above < 0 < high
    for position in GAUGE_SIDE:
        assert below <= steps[position] <= above
    shown = SHOWN["strain, linearised"]
    for position in POSITIONS:
        after = shown(by_circuit(circuit, position, resistor), 2.1)
        assert low - 1e-12 <= after - shown(by_circuit(circuit), 2.1) <= high + 1e-12


@given(circuit=circuits(), resistor=st.floats(5e3, 1e6), position=st.sampled_from(list(ENDS)))
def test_the_place_that_made_a_step_is_among_those_that_explain_it(circuit, resistor, position):
    scale = ChannelScale("ratio")
    step = by_circuit(circuit, position, resistor) - by_circuit(circuit)
    found = positions_that_explain(circuit, resistor, scale, step, tolerance=1e-12)
    assert position in found


def test_a_wrong_resistor_is_explained_by_no_place():
    circuit = QuarterCircuit(120.0, 120.0, 1.3, 1.3, 1.3)
    found = positions_that_explain(circuit, 59880.0, ChannelScale(), -2e-3, tolerance=1e-5)
    assert found == ()


@given(circuit=circuits(), resistor=st.floats(5e3, 1e6), gain=st.floats(0.9, 1.1))
def test_scaling_at_the_tabs_makes_good_lead_loss_and_gain_together(circuit, resistor, gain):
    factor = 2.1
    before = bridge.quarter_bridge_arm_change(by_circuit(circuit))
    after = bridge.quarter_bridge_arm_change(by_circuit(circuit, "T1-T2", resistor))
    # An instrument with a wrong gain on the strain it shows.
    step = gain * bridge.relative_arm_change(after, before) / factor
    found = shunt_factor(circuit, "T1-T2", resistor, factor, step)
    loss = leads.lead_sensitivity(circuit.gauge_resistance, circuit.lead_a, 1)
    assert found == pytest.approx(1 / (loss * gain), rel=1e-9)


def test_an_unknown_place_forbids_scaling():
    circuit = QuarterCircuit(120.0, 120.0, 1.2, 1.2, 1.2)
    with pytest.raises(InputError, match="known before a shunt may scale"):
        shunt_factor(circuit, None, 59880.0, 2.0, -1e-3)


def test_a_step_of_the_wrong_sign_or_none_gives_no_factor():
    circuit = QuarterCircuit(120.0, 120.0, 1.2, 1.2, 1.2)
    for step in (1e-3, np.nan):
        with pytest.raises(InputError, match="sign of the step"):
            shunt_factor(circuit, "T1-T2", 59880.0, 2.0, step)


def test_impossible_scales_and_empty_choices_are_refused():
    with pytest.raises(Faults, match="3 thing"):
        ChannelScale("volts", set_gauge_factor=0.0, gain=-1.0)
    with pytest.raises(InputError, match="linearises a quarter bridge"):
        ChannelScale("strain, linearised", bridge_factor=2.0)
    with pytest.raises(InputError, match="at least one"):
        step_bounds(QuarterCircuit(120.0, 120.0), 1e5, ChannelScale(), ())
