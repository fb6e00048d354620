"""The network solver against 162 circuits solved elsewhere, and against exact fractions."""

import csv
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc.circuit import (
    CurrentSource,
    Network,
    VoltageSource,
    resistance_between,
    solve,
    voltage_ratio,
)
from gaugewright.errors import InputError

TABLE = Path(__file__).parents[1] / "data" / "circuit_cases.csv"
CASES = list(csv.DictReader(TABLE.read_text(encoding="utf-8").splitlines()))
INSTRUMENT = {"RD", "RHU", "RHL", "RIN", "RSENSE", "REARTH"}


def read_network(case):
    """Network and resistances of one row, from the text of ``elements`` and ``source`` alone."""
    elements, ohms, sources, ground = [], [], [], ""
    for text in filter(str.strip, case["elements"].split(";")):
        name, first, second, ohm = text.split()
        elements.append((name, first, second))
        ohms.append(float(ohm))
    for text in filter(str.strip, case["source"].split(";")):
        name, *rest = text.split()
        if name == "GND":
            ground = rest[0]
        elif name.startswith("V"):
            sources.append(VoltageSource(name, rest[0], rest[1], float(rest[2])))
        else:
            sources.append(CurrentSource(name, rest[0], rest[1], float(rest[2])))
    return Network(tuple(elements), tuple(sources), ground), np.array(ohms)


def ratio_of(case, network, ohms):
    solution = solve(network, ohms)
    ends = (case["out_plus"], case["out_minus"], case["ref_plus"], case["ref_minus"])
    return voltage_ratio(solution, *ends)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["case_id"])
def test_ratio_agrees_with_the_outside_simulator(case):
    network, ohms = read_network(case)
    expected = float(case["v_ratio_exact_V_per_V"])
    assert ratio_of(case, network, ohms) == pytest.approx(expected, rel=0, abs=1e-11)


@pytest.mark.parametrize(
    "case",
    [case for case in CASES if case["v_ratio_without_shunt_V_per_V"]],
    ids=lambda case: case["case_id"],
)
def test_ratio_without_the_shunt_agrees_too(case):
    network, ohms = read_network(case)
    removed = network.names.index("RSHUNT")
    expected = float(case["v_ratio_without_shunt_V_per_V"])
    found = ratio_of(case, network.without("RSHUNT"), np.delete(ohms, removed))
    assert found == pytest.approx(expected, rel=0, abs=1e-11)


def test_there_are_162_cases_so_that_none_is_lost_unseen():
    assert len(CASES) == 162


def meter(case, network, ohms, column):
    """Reading of the meter a column of the table stands for, the instrument unplugged."""
    away = INSTRUMENT & set(network.names)
    if case["shunt_across"] != "tabs":
        away |= {"RSHUNT"} & set(network.names)
    if column == "pair_excitation_ohm":
        return resistance_between(network, "EP", "EN", ohms, away)
    if column == "pair_signal_ohm":
        return resistance_between(network, "SP", "SN", ohms, away)
    pin = {"A": "EN", "B": "IB", "C": "IC"}
    if case["topology"].startswith("half"):
        pin["B"] = "EP"
    if column == "ABC_tied_bar_ohm":
        tied = network.joined({pin["B"]: pin["A"], pin["C"]: pin["A"]})
        return resistance_between(tied, pin["A"], "BAR", ohms, away)
    if column.endswith("_bar_ohm"):
        return resistance_between(network, pin[column[0]], "BAR", ohms, away)
    first, second = column.removesuffix("_ohm")[-2:]
    return resistance_between(network, pin[first], pin[second], ohms, away)


METER_COLUMNS = (
    *("P_AB_ohm", "Q_AC_ohm", "S_BC_ohm", "A_bar_ohm", "B_bar_ohm", "C_bar_ohm"),
    *("ABC_tied_bar_ohm", "pair_excitation_ohm", "pair_signal_ohm"),
)
METERED = [
    pytest.param(case, column, id=f"{case['case_id']}-{column}")
    for case in CASES
    for column in METER_COLUMNS
    if case[column]
]


@pytest.mark.parametrize(("case", "column"), METERED)
def test_meter_reading_agrees_with_the_outside_simulator(case, column):
    network, ohms = read_network(case)
    reading = meter(case, network, ohms, column)
    if float(case[column]) < 1e9:
        assert reading == pytest.approx(float(case[column]), rel=5e-9)
    else:  # open, and the simulator's digits have no meaning there
        assert reading > 0.9e9


@st.composite
def circuits(draw):
    """A connected circuit of up to seven nodes with shorts and opens, supplied at two of them."""
    n_nodes = draw(st.integers(2, 7))
    spine = [(draw(st.integers(0, node - 1)), node) for node in range(1, n_nodes)]
    node = st.integers(0, n_nodes - 1)
    spare = draw(
        st.lists(st.tuples(node, node).filter(lambda ends: ends[0] != ends[1]), max_size=6)
    )
    elements = tuple((f"R{k}", f"n{a}", f"n{b}") for k, (a, b) in enumerate(spine + spare))
    plus, minus = draw(st.tuples(node, node).filter(lambda ends: ends[0] != ends[1]))
    kind = draw(st.sampled_from([VoltageSource, CurrentSource]))
    network = Network(elements, (kind("S", f"n{plus}", f"n{minus}", 1.0),), f"n{minus}")
    ohm = st.sampled_from([1e-6, 0.1, 1.0, 47.0, 120.0, 350.0, 1e5, 1e9, 1e12])
    rows = draw(st.lists(st.tuples(*[ohm] * len(elements)), min_size=1, max_size=4))
    return network, np.array(rows)


def exact_voltages(network, ohms):
    """Node voltages in exact fractions, by Gauss and Jordan on the nodal equations."""
    source = network.sources[0]
    held = isinstance(source, VoltageSource)
    fixed = {network.ground: Fraction(0)}
    if held:
        fixed[source.plus] = Fraction(source.voltage)
    free = [node for node in network.nodes if node not in fixed]
    table = [[Fraction(0)] * (len(free) + 1) for _ in free]
    for (_, *ends), ohm in zip(network.elements, ohms, strict=True):
        siemens = 1 / Fraction(float(ohm))
        for here, there in (ends, ends[::-1]):
            if here in free:
                row = table[free.index(here)]
                row[free.index(here)] += siemens
                if there in free:
                    row[free.index(there)] -= siemens
                else:
                    row[-1] += siemens * fixed[there]
    if not held and source.into in free:
        table[free.index(source.into)][-1] += Fraction(source.current)
    for k in range(len(free)):
        pivot = next(r for r in range(k, len(free)) if table[r][k])
        table[k], table[pivot] = table[pivot], table[k]
        table[k] = [value / table[k][k] for value in table[k]]
        for r in range(len(free)):
            if r != k and table[r][k]:
                table[r] = [a - table[r][k] * b for a, b in zip(table[r], table[k], strict=True)]
    fixed |= {node: row[-1] for node, row in zip(free, table, strict=True)}
    return [float(fixed[node]) for node in network.nodes]


@given(circuits())
def test_voltages_equal_exact_arithmetic_whatever_the_mixture_of_shorts_and_opens(drawn):
    network, rows = drawn
    found = solve(network, rows).node_voltage
    for row, voltages in zip(rows, found, strict=True):
        exact = exact_voltages(network, row)
        scale = max(map(abs, exact))
        assert voltages == pytest.approx(exact, rel=0, abs=1e-12 * scale)


@given(circuits())
def test_currents_balance_at_every_node_and_obey_ohm(drawn):
    network, rows = drawn
    solution = solve(network, rows)
    source = network.sources[0]
    supplied = (
        {source.plus, source.minus}
        if isinstance(source, VoltageSource)
        else {source.into, source.out_of}
    )
    largest = np.abs(solution.branch_current).max()
    for node in set(network.nodes) - supplied:
        leaving = sum(solution.current(name) for name, a, _ in network.elements if a == node)
        arriving = sum(solution.current(name) for name, _, b in network.elements if b == node)
        assert leaving - arriving == pytest.approx(np.zeros(len(rows)), abs=1e-12 * largest)
    scale = np.abs(solution.node_voltage).max()
    for k, (name, a, b) in enumerate(network.elements):
        drop = solution.voltage(a) - solution.voltage(b)
        assert solution.current(name) * rows[:, k] == pytest.approx(drop, abs=1e-12 * scale)


def test_many_rows_give_what_each_gives_alone_across_block_borders_and_trees():
    network, ohms = read_network(CASES[9])
    random = np.random.default_rng(7)
    rows = ohms * random.uniform(0.9, 1.1, (9000, ohms.size))
    rows[::7, 6] = 1e12
    rows[3::11, 4] = 1e-6
    together = solve(network, rows).node_voltage
    for k in (0, 3, 7, 14, 4095, 4096, 8999):
        assert together[k] == pytest.approx(solve(network, rows[k]).node_voltage, rel=0, abs=1e-14)


DIVIDER = Network(
    (("top", "P", "M"), ("low", "M", "N")), (VoltageSource("V", "P", "N", 5.0),), ground="N"
)


def test_a_missing_resistance_spoils_its_own_row_only():
    voltage = solve(DIVIDER, [[np.nan, 1.0], [1.0, 1.0]]).voltage("M")
    assert np.isnan(voltage).tolist() == [True, False]
    assert voltage[1] == 2.5


def test_no_rows_give_no_rows_and_the_leading_shape_is_kept():
    assert solve(DIVIDER, np.empty((0, 2))).node_voltage.shape == (0, 3)
    assert solve(DIVIDER, np.ones((2, 3, 2))).branch_current.shape == (2, 3, 2)


def test_an_unexcited_reference_gives_no_ratio():
    dead = Network(DIVIDER.elements, (VoltageSource("V", "P", "N", 0.0),), "N")
    assert np.isnan(voltage_ratio(solve(dead, [1.0, 1.0]), "M", "N", "P", "N"))


def test_a_meter_across_nothing_reads_infinity_and_across_itself_zero():
    apart = Network((("a", "P", "M"), ("b", "N", "K")), ground="N")
    assert resistance_between(apart, "P", "N", [1.0, 1.0]) == np.inf
    assert resistance_between(apart, "P", "P", [1.0, 1.0]) == 0.0
    assert resistance_between(DIVIDER, "P", "N", [1.0, 1.0], unplugged=["low"]) == np.inf


@pytest.mark.parametrize("ohm", [0.0, -120.0, np.inf])
def test_an_impossible_resistance_is_refused_by_element(ohm):
    with pytest.raises(InputError, match=r"^resistance of low is .*; it must be positive"):
        solve(DIVIDER, [120.0, ohm])


def test_a_wrong_number_of_resistances_is_refused():
    with pytest.raises(InputError, match="one for each element"):
        solve(DIVIDER, [120.0])


def test_a_node_that_hangs_free_is_named():
    loose = Network((*DIVIDER.elements, ("x", "K", "L")), DIVIDER.sources, "N")
    with pytest.raises(InputError, match="in pieces at K, L"):
        solve(loose, [1.0, 1.0, 1.0])


def test_a_current_source_without_a_path_is_a_circuit_in_pieces():
    cut = Network((("a", "P", "M"), ("b", "N", "K")), (CurrentSource("I", "P", "N", 1.0),), "N")
    with pytest.raises(InputError, match="in pieces at P, M"):
        solve(cut, [1.0, 1.0])


def test_voltage_sources_in_parallel_are_refused():
    two = Network(DIVIDER.elements, (*DIVIDER.sources, VoltageSource("W", "P", "N", 4.0)), "N")
    with pytest.raises(InputError, match="sources is 'W'"):
        solve(two, [1.0, 1.0])


def test_names_used_twice_unknown_nodes_and_unknown_elements_are_refused():
    with pytest.raises(InputError, match="named once each"):
        Network((("a", "P", "N"), ("a", "P", "N")), ground="N")
    with pytest.raises(InputError, match="ground is 'X'"):
        Network((("a", "P", "N"),), ground="X")
    with pytest.raises(InputError, match="node is 'X'"):
        solve(DIVIDER, [1.0, 1.0]).voltage("X")
    with pytest.raises(InputError, match="element is 'X'"):
        resistance_between(DIVIDER, "P", "N", [1.0, 1.0], unplugged=["X"])
    with pytest.raises(InputError, match="names is 'X'"):
        DIVIDER.without("X")
