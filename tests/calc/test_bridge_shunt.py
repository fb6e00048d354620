"""Calibration resistors on half and full bridges: against exact fractions and solved networks."""

import csv
from fractions import Fraction

import pytest

from gaugewright.calc import far_bridge
from gaugewright.calc.bridge_shunt import (
    LeadedBridge,
    equivalent_strain,
    shunt_step,
    shunted_ratio,
)
from gaugewright.errors import InputError
from tools.repository import ROOT

HALF = LeadedBridge("half", (350.4, 349.8, 1000.0, 1000.0), 4.1, 3, (1.0, -1.0, 0.0, 0.0))
OPPOSITE = LeadedBridge("opposite", (120.2, 120.0, 119.9, 120.0), 1.3, 4, (1.0, 0.0, 1.0, 0.0))
FOUR = LeadedBridge("full", (350.3, 349.7, 350.1, 350.2), 3.7, 4, (1.0, -1.0, 1.0, -1.0))
SIX = LeadedBridge("full", (350.3, 349.7, 350.1, 350.2), 3.7, 6, (1.0, -0.29, 1.0, -0.29))
ALL = (HALF, OPPOSITE, FOUR, SIX)


def voltages(elements: list[tuple[str, str, Fraction]]) -> dict[str, Fraction]:
    """Nodes of a network with EP held at 1 V and EN at 0 V, by nodal analysis in fractions."""
    known = {"EP": Fraction(1), "EN": Fraction(0)}
    nodes = sorted({end for one, other, _ in elements for end in (one, other)} - known.keys())
    rows = []
    for node in nodes:
        row = dict.fromkeys(nodes, Fraction(0))
        right = Fraction(0)
        for one, other, ohm in elements:
            for here, there in ((one, other), (other, one)):
                if here == node:
                    row[node] += 1 / ohm
                    if there in known:
                        right += known[there] / ohm
                    else:
                        row[there] -= 1 / ohm
        rows.append([*(row[name] for name in nodes), right])
    for place in range(len(nodes)):
        pivot = next(n for n in range(place, len(rows)) if rows[n][place])
        rows[place], rows[pivot] = rows[pivot], rows[place]
        rows[place] = [value / rows[place][place] for value in rows[place]]
        for n, row in enumerate(rows):
            if n != place and row[place]:
                rows[n] = [a - row[place] * b for a, b in zip(row, rows[place], strict=True)]
    return known | {node: rows[n][-1] for n, node in enumerate(nodes)}


def by_fractions(bridge: LeadedBridge, ends: tuple[str, str] | None) -> Fraction:
    """The same bridge wired here anew; ``ends`` are the nodes of a resistor of 100 kΩ."""
    r = Fraction(repr(bridge.lead_resistance))
    a = [Fraction(repr(ohm)) for ohm in bridge.arm_resistance]
    if bridge.kind == "half":
        wired = [("EN", "T1", r), ("T1", "N", a[0]), ("N", "T3", a[1]), ("T3", "EP", r)]
        wired += [("N", "C", r), ("EP", "M", a[2]), ("M", "EN", a[3])]
        out, ref = ("C", "M"), ("EP", "EN")
    elif bridge.kind == "opposite":
        wired = [("EN", "T1", r), ("T1", "T2", a[0]), ("T2", "B", r), ("B", "EP", a[1])]
        wired += [("EP", "T3", r), ("T3", "T4", a[2]), ("T4", "D", r), ("D", "EN", a[3])]
        out, ref = ("B", "D"), ("EP", "EN")
    else:
        wired = [("EP", "cP", r), ("EN", "cN", r), ("cSP", "SP", r), ("cSN", "SN", r)]
        wired += [("cSP", "cN", a[0]), ("cP", "cSP", a[1]), ("cP", "cSN", a[2])]
        wired += [("cSN", "cN", a[3])]
        out, ref = ("SP", "SN"), ("EP", "EN")
        if bridge.wires == 6:
            wired += [("cP", "KP", r), ("cN", "KN", r)]
            ref = ("KP", "KN")
    if ends is not None:
        wired.append((*ends, Fraction(100_000)))
    at = voltages(wired)
    return (at[out[0]] - at[out[1]]) / (at[ref[0]] - at[ref[1]])


def ends_of(bridge: LeadedBridge, position: str) -> tuple[str, str]:
    """Nodes of a place, read off its name."""
    pair, _, where = position.partition(" at the ")
    one, other = pair.split("-")
    if bridge.kind == "half":
        named = {"A": "EN", "B": "EP"}
    elif bridge.kind == "opposite":
        named = {"A": "EN", "C": "EP"}
    elif where == "bridge":
        named = {name: f"c{name}" for name in ("P", "N", "SP", "SN")}
    else:
        named = {"P": "EP", "N": "EN"}
    return named.get(one, one), named.get(other, other)


@pytest.mark.parametrize("bridge", ALL, ids=lambda one: f"{one.kind}, {one.wires} wires")
def test_every_place_agrees_with_exact_fractions(bridge: LeadedBridge) -> None:
    before = by_fractions(bridge, None)
    assert shunted_ratio(bridge) == pytest.approx(float(before), abs=1e-14)
    for position in bridge.positions:
        wanted = float(by_fractions(bridge, ends_of(bridge, position)) - before)
        assert shunt_step(bridge, position, 100e3) == pytest.approx(wanted, abs=1e-14), position


def test_half_bridges_agree_with_networks_solved_by_a_general_simulator() -> None:
    path = ROOT / "tests" / "data" / "circuit_cases.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["family"].startswith("half bridge")]
    assert len(rows) == 12
    for row in rows:
        ohm = {part.split()[0]: float(part.split()[3]) for part in row["elements"].split(";")}
        assert ohm["rA"] == ohm["rB"] == ohm["rC"]
        arms = (ohm["RG1"], ohm["RG2"], ohm["RHU"], ohm["RHL"])
        bridge = LeadedBridge("half", arms, ohm["rA"], 3, (1.0, -1.0, 0.0, 0.0))
        wanted = float(row["v_ratio_exact_V_per_V"])
        assert shunted_ratio(bridge) == pytest.approx(wanted, abs=1e-13), row["case_id"]


def test_alike_arms_give_the_closed_forms() -> None:
    half = LeadedBridge("half", (350.0,) * 4, 4.0, 3, (1.0, -1.0, 0.0, 0.0))
    full = LeadedBridge("full", (350.0,) * 4, 4.0, 4, (1.0, -1.0, 1.0, -1.0))
    of_half = far_bridge.terminal_shunt_ratio_half(174650.0, 350.0, 4.0)
    of_full = far_bridge.terminal_shunt_ratio_full(174650.0, 350.0, 4.0)
    assert shunt_step(half, "A-C", 174650.0) == pytest.approx(float(of_half), abs=1e-13)
    found = shunt_step(full, "SP-N at the channel", 174650.0)
    assert found == pytest.approx(float(of_full), abs=1e-13)


@pytest.mark.parametrize("bridge", ALL, ids=lambda one: f"{one.kind}, {one.wires} wires")
def test_the_strain_a_step_stands_for_moves_the_bridge_as_far(bridge: LeadedBridge) -> None:
    for position in bridge.positions:
        strain = equivalent_strain(bridge, position, 100e3, 2.1)
        moved = [
            ohm * (1 + 2.1 * strain * weight)
            for ohm, weight in zip(bridge.arm_resistance, bridge.arm_weights, strict=True)
        ]
        strained = LeadedBridge(
            bridge.kind, tuple(moved), bridge.lead_resistance, bridge.wires, bridge.arm_weights
        )
        wanted = float(by_fractions(strained, None) - by_fractions(bridge, None))
        step = shunt_step(bridge, position, 100e3)
        assert step == pytest.approx(wanted, abs=1e-12), position
        assert (step > 0) == (strain > 0)


def test_a_resistor_across_one_arm_of_a_bending_bridge_stands_for_half_of_its_own_strain() -> None:
    # R/(R + R_s) of one arm is shared by two arms that move apart: ε = -R / (2 k (R + R_s)).
    half = LeadedBridge("half", (350.0,) * 4, 0.0, 3, (1.0, -1.0, 0.0, 0.0))
    strain = equivalent_strain(half, "T1-N", 174650.0, 2.0)
    assert strain == pytest.approx(-350 / (2 * 2.0 * 175000), rel=2e-3)


def test_what_no_bridge_can_be_is_refused_by_name() -> None:
    with pytest.raises(InputError, match="wires is 3"):
        LeadedBridge("full", (350.0,) * 4, 1.0, 3, (1.0, -1.0, 1.0, -1.0))
    with pytest.raises(InputError, match="arm_resistance"):
        LeadedBridge("half", (350.0, 0.0, 350.0, 350.0), 1.0, 3, (1.0, -1.0, 0.0, 0.0))
    with pytest.raises(InputError, match="position is 'A-B'"):
        shunt_step(HALF, "A-B", 100e3)
    with pytest.raises(InputError, match="position is 'SP-KN"):
        shunt_step(FOUR, "SP-KN at the channel", 100e3)
    with pytest.raises(InputError, match="shunt_resistance"):
        shunted_ratio(HALF, "A-C")
    with pytest.raises(InputError, match="large enough"):
        equivalent_strain(HALF, "A-C", 50.0, 2.0)
