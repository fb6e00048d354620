"""The resistor across one arm of a half or full bridge, against the network solved as a whole."""

import numpy as np
import pytest

from gaugewright.errors import InputError
from gaugewright.services.answering.answers import answered
from tests.services.test_answers import value

GRID, SHUNT, WIRE = 350.0, 100e3, 4.0
TYPED = {
    "gauge_resistance": "350",
    "shunt_resistance": "100 kΩ",
    "gauge_factor": "2",
    "lead_resistance": "4",
}


def solved(wires: str) -> float:
    """Output over the voltage that the instrument refers to, by nodal analysis written here.

    Nodes: left, right, top, bottom of the bridge; the supply of 1 V behind a wire at top and
    bottom. With the excitation sensed at the bridge the output is over the voltage there.
    """
    arm1 = GRID * SHUNT / (GRID + SHUNT)
    supply_wire = WIRE if wires == "full" else 1e-9
    in_arm = WIRE if wires == "half" else 0.0
    # Left branch: arm 2 above, arm 1 below; right branch: arm 3 above, arm 4 below.
    one, two, three, four = arm1 + in_arm, GRID + in_arm, GRID, GRID
    conductance = np.zeros((4, 4))  # top, bottom, left, right

    def between(a: int, b: int, ohm: float) -> None:
        conductance[a, a] += 1 / ohm
        conductance[b, b] += 1 / ohm
        conductance[a, b] -= 1 / ohm
        conductance[b, a] -= 1 / ohm

    between(0, 2, two)
    between(2, 1, one)
    between(0, 3, three)
    between(3, 1, four)
    conductance[0, 0] += 1 / supply_wire
    conductance[1, 1] += 1 / supply_wire
    current = np.array([1 / supply_wire, 0.0, 0.0, 0.0])  # + 1 V at the top, 0 V at the bottom
    top, bottom, left, right = np.linalg.solve(conductance, current)
    reference = top - bottom if wires == "sensed" else 1.0
    return float((left - right) / reference)


@pytest.mark.parametrize(
    ("circuit", "sense", "wires"),
    [
        ("full-bending", "no", "full"),
        ("full-axial", "no", "full"),
        ("full-bending", "yes", "sensed"),
        ("half-bending", "no", "half"),
        ("half-poisson", "yes", "sensed"),
    ],
)
def test_the_step_is_that_of_the_whole_network(circuit: str, sense: str, wires: str) -> None:
    found = answered("shunt", {**TYPED, "circuit": circuit, "sense": sense})
    assert value(found, "Step to expect") == pytest.approx(solved(wires), rel=1e-6)


@pytest.mark.parametrize(
    ("circuit", "arms"),
    [
        ("half-bending", (1.0, -1.0, 0.0, 0.0)),
        ("half-poisson", (1.0, -0.3, 0.0, 0.0)),
        ("half-opposite", (1.0, 0.0, 1.0, 0.0)),
        ("full-bending", (1.0, -1.0, 1.0, -1.0)),
        ("full-axial", (1.0, -0.3, 1.0, -0.3)),
    ],
)
def test_the_strain_it_stands_for_gives_the_same_output(
    circuit: str, arms: tuple[float, ...]
) -> None:
    typed = {**TYPED, "lead_resistance": "0", "circuit": circuit, "poisson_ratio": "0.3"}
    found = answered("shunt", typed)
    change = 2 * value(found, "Stands for") * np.asarray(arms)
    one, two, three, four = 1 + change
    output = one / (one + two) - four / (three + four)
    assert output == pytest.approx(value(found, "Step to expect"), rel=1e-9)


def test_a_found_step_is_judged() -> None:
    found = answered("shunt", {**TYPED, "circuit": "full-bending", "found": "-0.9"})
    assert "more than the doubt" in found.cautions[0]
    assert "<svg" in found.drawing


def test_a_linearised_channel_has_no_half_bridge() -> None:
    typed = {**TYPED, "circuit": "half-bending", "shows": "linearised", "set_gauge_factor": "2"}
    with pytest.raises(InputError, match="quarter bridge"):
        answered("shunt", typed)


def test_a_channel_that_shows_strain_is_told_in_strain() -> None:
    # 4 r / k' at the factor set: the bridge output read as that of a quarter bridge.
    typed = {**TYPED, "circuit": "full-bending", "sense": "yes"}
    ratio = value(answered("shunt", typed), "Step to expect")
    shown = answered("shunt", {**typed, "shows": "strain", "set_gauge_factor": "2"})
    assert value(shown, "Step to expect") == pytest.approx(2 * ratio, rel=1e-12)


def at_the_terminals(circuit: str) -> float:
    """Output over the supply with the resistor behind the wires, by nodal analysis written here."""
    full = circuit.startswith("full")
    pairs = [
        ("P", "p", WIRE), ("n", "N", WIRE), ("T", "s", WIRE), ("T", "N", SHUNT),
        ("s", "n", GRID), ("p", "s", GRID),
        ("p" if full else "P", "m", GRID), ("m", "n" if full else "N", GRID),
    ]  # fmt: skip
    nodes = ["p", "n", "s", "m", "T"]
    known = {"P": 1.0, "N": 0.0}
    conductance, current = np.zeros((5, 5)), np.zeros(5)
    for a, b, ohm in pairs:
        for here, there in ((a, b), (b, a)):
            if here in known:
                continue
            row = nodes.index(here)
            conductance[row, row] += 1 / ohm
            if there in known:
                current[row] += known[there] / ohm
            else:
                conductance[row, nodes.index(there)] -= 1 / ohm
    found = dict(zip(nodes, np.linalg.solve(conductance, current), strict=True))
    return float(found["T"] - found["m"])


@pytest.mark.parametrize("circuit", ["full-bending", "full-axial", "half-bending", "half-poisson"])
def test_a_resistor_at_the_channel_s_own_terminals_is_that_of_the_whole_network(
    circuit: str,
) -> None:
    typed = {**TYPED, "circuit": circuit, "resistor_at": "terminals"}
    found = answered("shunt", typed)
    assert value(found, "Step to expect") == pytest.approx(at_the_terminals(circuit), rel=1e-9)
    assert "terminals of the channel" in found.sentence


def test_opposite_arms_and_six_wires_want_the_resistor_at_the_bridge() -> None:
    for more in ({"circuit": "half-opposite"}, {"circuit": "full-bending", "sense": "yes"}):
        with pytest.raises(InputError, match="across the arm itself"):
            answered("shunt", {**TYPED, **more, "resistor_at": "terminals"})


def test_opposite_arms_lose_to_one_wire_each() -> None:
    found = answered("shunt", {**TYPED, "circuit": "half-opposite"})
    arm1, other = GRID * SHUNT / (GRID + SHUNT) + WIRE, GRID + WIRE
    assert value(found, "Step to expect") == pytest.approx(arm1 / (arm1 + other) - 0.5, rel=1e-6)
