"""Four- and six-wire bridges and far supplies against the solver and the outside simulator."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import bridge, far_bridge
from gaugewright.calc.circuit import Network, VoltageSource, solve, voltage_ratio
from gaugewright.errors import Faults, InputError

TABLE = Path(__file__).parents[1] / "data" / "circuit_cases.csv"
CASES = list(csv.DictReader(TABLE.read_text(encoding="utf-8").splitlines()))
FULL_FOUR_WIRE = [
    case
    for case in CASES
    if case["family"] == "full bridge" and not case["R_input_ohm"] and case["out_plus"] == "SP"
]
SENSED_FULL = [
    case
    for case in CASES
    if case["family"] == "remote sense" and case["topology"].startswith("full")
]
SENSED_QUARTER = [
    case
    for case in CASES
    if case["family"] == "remote sense" and case["topology"].startswith("quarter")
]
LEAD = st.floats(0.01, 20.0)
CHANGE = st.floats(-0.05, 0.05)


def number(case, column):
    return float(case[column]) if case[column] else np.inf


def changes_of(case):
    return [float(case[f"R_G{arm}_ohm"]) / 350.0 - 1 for arm in (1, 2, 3, 4)]


def test_there_are_cases_of_every_kind():
    assert len(FULL_FOUR_WIRE) >= 10
    assert len(SENSED_FULL) == 4
    assert len(SENSED_QUARTER) == 4


@pytest.mark.parametrize("case", FULL_FOUR_WIRE, ids=lambda case: case["case_id"])
def test_four_wires_take_their_share_in_the_simulated_circuits(case):
    changes = changes_of(case)
    share = far_bridge.supply_share(
        far_bridge.corner_resistance(changes, 350.0),
        float(case["r_exc_plus_ohm"]),
        float(case["r_exc_minus_ohm"]),
    )
    found = bridge.four_arm_ratio(changes) * share
    assert found == pytest.approx(float(case["v_ratio_exact_V_per_V"]), abs=1e-11)


@pytest.mark.parametrize("case", SENSED_FULL, ids=lambda case: case["case_id"])
def test_six_wires_refer_to_the_sensed_voltage_in_the_simulated_circuits(case):
    sensed = far_bridge.sensed_share(
        number(case, "R_sense_input_ohm"), float(case["r_A_ohm"]), float(case["r_B_ohm"])
    )
    found = bridge.four_arm_ratio(changes_of(case)) / sensed
    assert found == pytest.approx(float(case["v_ratio_exact_V_per_V"]), abs=1e-11)


def elements_of(case):
    parts = [text.split() for text in case["elements"].split(";")]
    return {name: float(ohm) for name, _, _, ohm in parts}


@pytest.mark.parametrize("case", SENSED_QUARTER, ids=lambda case: case["case_id"])
def test_a_far_quarter_unit_loses_its_share_or_refers_to_the_sensed_voltage(case):
    ohm = elements_of(case)
    below = ohm["RG"] + ohm["rA"]
    above = ohm["RD"] + ohm["rB"]
    half = ohm["RHU"] + ohm["RHL"]
    own = below / (below + above) - ohm["RHL"] / half
    unit = far_bridge.quarter_unit_resistance(below + ohm["rB"], ohm["RD"], half)
    if "RSENSE" in ohm:
        sensed = far_bridge.sensed_share(ohm["RSENSE"], ohm["rKP"], ohm["rKN"])
        # The sense input loads the far corners too, beside the unit.
        whole_sense = ohm["RSENSE"] + ohm["rKP"] + ohm["rKN"]
        unit = unit * whole_sense / (unit + whole_sense)
    else:
        sensed = 1.0
    supply = far_bridge.supply_share(unit, ohm["rXP"], ohm["rXN"])
    expected = own / sensed if case["ref_plus"] == "KP" else own * supply
    assert expected == pytest.approx(float(case["v_ratio_exact_V_per_V"]), abs=1e-11)


def six_wire(changes, lead, sense, load):
    network = Network(
        (
            *(("r+", "P", "E+"), ("r-", "E-", "N"), ("k+", "E+", "K+"), ("k-", "E-", "K-")),
            *(("load", "K+", "K-"), ("1", "S+", "E-"), ("2", "E+", "S+")),
            *(("3", "E+", "S-"), ("4", "S-", "E-")),
        ),
        (VoltageSource("V", "P", "N", 5.0),),
        "N",
    )
    arms = (350.0 * (1 + np.asarray(changes))).tolist()
    return solve(network, [lead, lead, sense, sense, load, *arms])


@given(st.tuples(CHANGE, CHANGE, CHANGE, CHANGE), LEAD, LEAD, st.floats(1e3, 1e9))
def test_six_wires_leave_the_drop_in_the_sense_wires_only(changes, lead, sense, load):
    solution = six_wire(changes, lead, sense, load)
    found = voltage_ratio(solution, "S+", "S-", "K+", "K-")
    share = far_bridge.sensed_share(load, sense, sense)
    assert found * share == pytest.approx(bridge.four_arm_ratio(changes), abs=1e-13)


def whole_six_wire(changes, leads, senses, signals, inputs):
    """All six wires apart, with a sense input and a signal input that draw current."""
    network = Network(
        (
            *(("r+", "P", "E+"), ("r-", "E-", "N"), ("k+", "E+", "K+"), ("k-", "E-", "K-")),
            *(("1", "S+", "E-"), ("2", "E+", "S+"), ("3", "E+", "S-"), ("4", "S-", "E-")),
            *(("s+", "S+", "I+"), ("s-", "S-", "I-")),
            *(("sense", "K+", "K-"), ("signal", "I+", "I-")),
        ),
        (VoltageSource("V", "P", "N", 5.0),),
        "N",
    )
    arms = (350.0 * (1 + np.asarray(changes))).tolist()
    ohms = [*leads, *senses, *arms, *signals, *inputs]
    return voltage_ratio(solve(network, ohms), "I+", "I-", "K+", "K-")


PAIR = st.tuples(LEAD, LEAD)


@given(st.tuples(CHANGE, CHANGE, CHANGE, CHANGE), PAIR, PAIR, PAIR)
def test_signal_wires_without_a_current_have_no_effect(changes, leads, senses, signals):
    found = whole_six_wire(changes, leads, senses, signals, (1e15, 1e15))
    # What is left is the current through 1e15 ohm: parts in 1e12.
    assert found == pytest.approx(bridge.four_arm_ratio(changes), abs=1e-12)


@given(st.tuples(CHANGE, CHANGE, CHANGE, CHANGE), PAIR, PAIR, PAIR, st.floats(1e5, 1e9), LEAD)
def test_six_wires_apart_lose_to_both_inputs(changes, leads, senses, signals, load, more):
    found = whole_six_wire(changes, leads, senses, signals, (load, load))
    one, two, three, four = 350.0 * (1 + np.asarray(changes))
    source = one * two / (one + two) + three * four / (three + four)
    sensed = far_bridge.sensed_share(load, *senses)
    signal = far_bridge.signal_share(load, source, *signals)
    # The corners are the sensed voltage over its share, whatever the supply wires lose.
    expected = bridge.four_arm_ratio(changes) * signal / sensed
    assert found == pytest.approx(expected, abs=1e-13)
    longer = whole_six_wire(changes, leads, senses, (signals[0] + more, signals[1]), (load, load))
    assert abs(longer) <= abs(found) + 1e-16


@given(st.tuples(CHANGE, CHANGE, CHANGE, CHANGE), LEAD, LEAD, st.floats(1e3, 1e9))
def test_an_input_of_finite_resistance_takes_its_share(changes, plus, minus, load):
    network = Network(
        (
            *(("1", "S+", "E-"), ("2", "E+", "S+"), ("3", "E+", "S-"), ("4", "S-", "E-")),
            *(("s+", "S+", "I+"), ("s-", "S-", "I-"), ("load", "I+", "I-")),
        ),
        (VoltageSource("V", "E+", "E-", 5.0),),
        "E-",
    )
    one, two, three, four = 350.0 * (1 + np.asarray(changes))
    solution = solve(network, [one, two, three, four, plus, minus, load])
    found = voltage_ratio(solution, "I+", "I-", "E+", "E-")
    source = one * two / (one + two) + three * four / (three + four)
    share = far_bridge.signal_share(load, source, plus, minus)
    assert found == pytest.approx(bridge.four_arm_ratio(changes) * share, abs=1e-13)


def test_ideal_inputs_and_no_wires_take_nothing():
    assert far_bridge.sensed_share(np.inf, 3.0, 4.0) == 1.0
    assert far_bridge.signal_share(np.inf, 350.0) == 1.0
    assert far_bridge.supply_share(350.0, 0.0, 0.0) == 1.0


def test_impossible_resistances_are_refused_all_at_once():
    with pytest.raises(Faults, match="2 thing"):
        far_bridge.supply_share(350.0, -1.0, -2.0)
    with pytest.raises(InputError, match="or infinite"):
        far_bridge.sensed_share(0.0, 1.0, 1.0)
    with pytest.raises(Faults, match="3 thing"):
        far_bridge.quarter_unit_resistance(0.0, -1.0, np.nan)


SHUNT = st.floats(1e3, 1e6)


@given(st.floats(60.0, 1000.0), LEAD, SHUNT)
def test_a_resistor_at_the_terminals_of_a_full_bridge_runs_in_its_wires(arm, wire, shunt):
    network = Network(
        (
            *(("a", "P", "E+"), ("b", "N", "E-"), ("c", "T", "S+"), ("s", "T", "N")),
            *(("1", "S+", "E-"), ("2", "E+", "S+"), ("3", "E+", "S-"), ("4", "S-", "E-")),
        ),
        (VoltageSource("V", "P", "N", 5.0),),
        "N",
    )
    solution = solve(network, [wire, wire, wire, shunt, arm, arm, arm, arm])
    found = far_bridge.terminal_shunt_ratio_full(shunt, arm, wire)
    assert found == pytest.approx(voltage_ratio(solution, "T", "S-", "P", "N"), rel=1e-7)


@given(st.floats(60.0, 1000.0), LEAD, SHUNT)
def test_a_resistor_at_the_terminals_of_a_half_bridge_runs_in_its_wires(arm, wire, shunt):
    network = Network(
        (
            *(("a", "P", "E+"), ("b", "N", "E-"), ("c", "T", "S+"), ("s", "T", "N")),
            *(("1", "S+", "E-"), ("2", "E+", "S+"), ("3", "P", "M"), ("4", "M", "N")),
        ),
        (VoltageSource("V", "P", "N", 5.0),),
        "N",
    )
    solution = solve(network, [wire, wire, wire, shunt, arm, arm, 500.0, 500.0])
    found = far_bridge.terminal_shunt_ratio_half(shunt, arm, wire)
    assert found == pytest.approx(voltage_ratio(solution, "T", "M", "P", "N"), rel=1e-7)
