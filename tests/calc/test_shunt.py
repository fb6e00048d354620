"""Shunt steps against the network solver, for every position and wiring."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import bridge, leads, shunt
from gaugewright.calc.circuit import Network, VoltageSource, solve, voltage_ratio
from gaugewright.calc.shunt import QuarterCircuit
from gaugewright.errors import InputError

THREE_WIRE = (
    ("RD", "EP", "IB"),
    ("RHU", "EP", "M"),
    ("RHL", "M", "EN"),
    ("rA", "EN", "T1"),
    ("rB", "IB", "T2"),
    ("rC", "IC", "T2"),
    ("RG", "T2", "T1"),
)
ENDS = {
    "T1-T2": ("T1", "T2"),
    "A-C": ("EN", "IC"),
    "A-B": ("EN", "IB"),
    "completion-B": ("EP", "IB"),
    "completion-C": ("EP", "IC"),
}
LEAD = st.floats(0.001, 20.0)


@st.composite
def quarter_circuits(draw):
    nominal = draw(st.sampled_from([120.0, 350.0, 1000.0]))
    return QuarterCircuit(
        gauge_resistance=nominal * draw(st.floats(0.95, 1.05)),
        completion_resistance=nominal * draw(st.floats(0.95, 1.05)),
        lead_a=draw(LEAD),
        lead_b=draw(LEAD),
        lead_c=draw(LEAD),
        lower_half_share=draw(st.floats(0.49, 0.51)),
    )


def by_circuit(circuit, position=None, shunt_resistance=None, grid=None):
    """Output from the solver; two-wire when the circuit has no lead C."""
    half = circuit.lower_half_share
    three = circuit.lead_c is not None
    elements = list(THREE_WIRE) if three else [e for e in THREE_WIRE if e[0] != "rC"]
    sense = "IC" if three else "IB"
    ohms = [circuit.completion_resistance, 1000 * (1 - half), 1000 * half]
    ohms += [circuit.lead_a, circuit.lead_b, *([circuit.lead_c] if three else [])]
    ohms.append(circuit.gauge_resistance if grid is None else grid)
    if position is not None:
        ends = tuple(sense if end == "IC" else end for end in ENDS[position])
        elements.append(("RS", *ends))
        ohms.append(shunt_resistance)
    network = Network(tuple(elements), (VoltageSource("V", "EP", "EN", 5.0),), "EN")
    return voltage_ratio(solve(network, ohms), sense, "M", "EP", "EN")


@pytest.mark.parametrize("position", list(ENDS))
@given(circuit=quarter_circuits(), resistor=st.floats(5e3, 1e6))
def test_step_is_that_of_the_circuit(position, circuit, resistor):
    before, after = by_circuit(circuit), by_circuit(circuit, position, resistor)
    assert shunt.shunted_ratio(circuit) == pytest.approx(before, abs=1e-13)
    assert shunt.shunted_ratio(circuit, position, resistor) == pytest.approx(after, abs=1e-13)
    step = shunt.shunt_step(circuit, position, resistor)
    assert step == pytest.approx(after - before, abs=1e-13)


@pytest.mark.parametrize("position", list(ENDS))
@given(circuit=quarter_circuits(), resistor=st.floats(5e3, 1e6))
def test_two_wire_step_is_that_of_the_circuit(position, circuit, resistor):
    two = QuarterCircuit(
        circuit.gauge_resistance,
        circuit.completion_resistance,
        circuit.lead_a,
        circuit.lead_b,
        None,
        circuit.lower_half_share,
    )
    after = by_circuit(two, position, resistor)
    assert shunt.shunted_ratio(two, position, resistor) == pytest.approx(after, abs=1e-13)


@pytest.mark.parametrize("position", list(ENDS))
@given(circuit=quarter_circuits(), resistor=st.floats(5e3, 1e6))
def test_equivalent_strain_moves_the_output_as_the_resistor_does(position, circuit, resistor):
    strain = shunt.equivalent_strain(circuit, position, resistor, 2.1)
    grid = circuit.gauge_resistance * (1 + 2.1 * strain)
    moved = by_circuit(circuit, grid=float(grid))
    assert moved == pytest.approx(by_circuit(circuit, position, resistor), abs=1e-13)


@given(st.floats(100.0, 1000.0), st.floats(5e3, 1e6), st.floats(1.8, 2.3))
def test_resistor_and_simulated_strain_undo_each_other(grid, resistor, factor):
    strain = shunt.shunt_strain(grid, resistor, factor)
    again = shunt.shunt_resistance_for(strain, grid, factor)
    assert again == pytest.approx(resistor, rel=1e-9)


def test_without_leads_every_position_is_the_simple_formula():
    bare = QuarterCircuit(350.0, 350.0)
    for position in ("T1-T2", "A-C", "A-B"):
        found = shunt.equivalent_strain(bare, position, 174650.0, 2.0)
        assert found == pytest.approx(-1000e-6, rel=1e-9)
    for position in ("completion-B", "completion-C"):
        found = shunt.equivalent_strain(bare, position, 174650.0, 2.0)
        assert found == pytest.approx(shunt.completion_shunt_strain(350.0, 174650.0, 2.0), rel=1e-9)


def test_shunt_scaling_at_the_tabs_does_what_lead_correction_does():
    circuit = QuarterCircuit(120.0, 120.0, 1.5, 1.5, 1.5)
    step = shunt.shunt_step(circuit, "T1-T2", 59880.0)
    read = bridge.quarter_bridge_arm_change(step) / 2.0
    factor = shunt.shunt_strain(120.0, 59880.0, 2.0) / read
    assert factor == pytest.approx(1 / leads.lead_sensitivity(120.0, 1.5, 1), rel=1e-12)


def test_a_series_of_gauges_is_worked_at_once():
    many = QuarterCircuit(np.array([119.8, 120.2]), 120.0, 1.0, 1.0, 1.0)
    steps = shunt.shunt_step(many, "A-C", 59880.0)
    for grid, step in zip((119.8, 120.2), steps, strict=True):
        one = QuarterCircuit(grid, 120.0, 1.0, 1.0, 1.0)
        assert step == shunt.shunt_step(one, "A-C", 59880.0)


def test_what_cannot_be_is_refused():
    circuit = QuarterCircuit(120.0, 120.0)
    with pytest.raises(InputError, match="one of T1-T2, A-C"):
        shunt.shunt_step(circuit, "B-C", 1e5)
    with pytest.raises(InputError, match="given with its position"):
        shunt.shunted_ratio(circuit, "A-C")
    with pytest.raises(InputError, match="shunt the completion"):
        shunt.shunt_resistance_for(1000e-6, 120.0, 2.0)
    with pytest.raises(InputError, match="lead_b"):
        QuarterCircuit(120.0, 120.0, lead_b=-1.0)
