"""Bridges with several active arms against the network solver, and torsion against the tensor."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import active_arms, bridge, leads, rosette
from gaugewright.calc.circuit import Network, VoltageSource, solve, voltage_ratio
from gaugewright.errors import Faults, InputError

FOUR_ARMS = Network(
    (("G1", "S+", "E-"), ("G2", "E+", "S+"), ("G3", "E+", "S-"), ("G4", "S-", "E-")),
    (VoltageSource("V", "E+", "E-", 2.0),),
    "E-",
)
CHANGES = st.floats(-0.5, 0.8)
POISSON = st.floats(0.0, 0.5)


def by_circuit(*changes):
    """Output of a bridge of four 350 ohm arms, from the solver alone."""
    arms = 350.0 * (1 + np.asarray(changes))
    return voltage_ratio(solve(FOUR_ARMS, arms), "S+", "S-", "E+", "E-").item()


@given(CHANGES)
def test_opposite_arms_are_the_circuit_and_are_undone_exactly(change):
    ratio = by_circuit(change, 0, change, 0)
    assert active_arms.half_bridge_opposite_ratio(change) == pytest.approx(ratio, abs=1e-14)
    found = active_arms.half_bridge_opposite_arm_change(ratio)
    assert found == pytest.approx(change, abs=1e-12)


@given(CHANGES, CHANGES)
def test_a_dummy_is_the_circuit_and_divides_out_what_both_arms_share(strained, shared):
    active = (1 + strained) * (1 + shared) - 1
    ratio = by_circuit(active, shared, 0, 0)
    assert active_arms.half_bridge_dummy_ratio(active, shared) == pytest.approx(ratio, abs=1e-14)
    assert active_arms.half_bridge_dummy_arm_change(ratio) == pytest.approx(strained, abs=1e-12)


@given(CHANGES)
def test_a_full_bending_bridge_is_the_circuit_and_is_undone_exactly(change):
    ratio = by_circuit(change, -change, change, -change)
    assert active_arms.full_bridge_bending_ratio(change) == pytest.approx(ratio, abs=1e-14)
    found = active_arms.full_bridge_bending_arm_change(ratio)
    assert found == pytest.approx(change, abs=1e-14)


@given(CHANGES, POISSON)
def test_a_full_axial_bridge_is_the_circuit_and_is_undone_exactly(change, nu):
    ratio = by_circuit(change, -nu * change, change, -nu * change)
    assert active_arms.full_bridge_axial_ratio(change, nu) == pytest.approx(ratio, abs=1e-14)
    found = active_arms.full_bridge_axial_arm_change(ratio, nu)
    assert found == pytest.approx(change, abs=1e-12)


@given(st.floats(-0.2, 0.2), st.floats(1.8, 2.3), st.floats(-0.01, 0.01))
def test_a_torsion_bridge_reads_the_shear_of_the_tensor_and_no_other_strain(shear, factor, other):
    # Grids at ±45° on the surface of a bar that is twisted, stretched and warmed at once.
    axial = rosette.direct_strain(other, -0.3 * other, 0.0, np.pi / 4).item()
    plus = rosette.direct_strain(0.0, 0.0, shear, np.pi / 4).item()
    minus = rosette.direct_strain(0.0, 0.0, shear, -np.pi / 4).item()
    arms = [factor * plus, factor * minus, factor * plus, factor * minus]
    ratio = by_circuit(*arms)
    forward = active_arms.torsion_bridge_ratio(shear, factor)
    assert forward == pytest.approx(ratio, abs=1e-14)
    found = active_arms.torsion_bridge_shear_strain(ratio, factor)
    assert found == pytest.approx(shear, abs=1e-13)
    shared = factor * axial
    with_axial = by_circuit(*((1 + change) * (1 + shared) - 1 for change in arms))
    assert with_axial == pytest.approx(ratio, abs=1e-14)


@given(st.floats(-0.002, 0.002), st.floats(5e-3, 60e-3), st.floats(0.0, 0.95), st.floats(0.2, 0.45))
def test_torque_is_the_moment_of_its_shear_stresses_and_is_undone(shear, diameter, share, nu):
    bore = share * diameter
    # Rings of shear stress G γ ρ/r, each with its lever: midpoints of 4000 of them.
    edges = np.linspace(bore / 2, diameter / 2, 4001)
    radius, width = (edges[1:] + edges[:-1]) / 2, np.diff(edges)
    stress = 210e9 / (2 * (1 + nu)) * shear * radius / (diameter / 2)
    rings = np.sum(stress * radius * 2 * np.pi * radius * width)
    found = active_arms.torque(shear, diameter, 210e9, nu, bore)
    assert found == pytest.approx(rings, rel=1e-6, abs=1e-12)
    again = active_arms.torsion_shear_strain(found, diameter, 210e9, nu, bore)
    assert again == pytest.approx(shear, rel=1e-12, abs=1e-18)


@given(st.floats(-0.02, 0.02), st.floats(-0.02, 0.02))
def test_opposite_arms_lose_bending_to_first_order(axial, bending):
    straight = active_arms.half_bridge_opposite_ratio(axial)
    bent = by_circuit(axial + bending, 0, axial - bending, 0)
    rounding = 1e-15
    largest = bending**2 / 4 * (1 + 2 * (abs(axial) + abs(bending)))
    assert abs(bent - straight) <= largest + rounding


def test_the_sign_turns_with_the_sign_of_bending_and_twist():
    for ratio in (
        active_arms.full_bridge_bending_ratio,
        active_arms.full_bridge_bending_arm_change,
    ):
        assert ratio(-0.01) == -ratio(0.01)
    assert active_arms.torsion_bridge_ratio(-1e-3, 2.0) == -1e-3


def test_what_no_resistances_give_is_nan_and_its_neighbours_are_kept():
    found = active_arms.half_bridge_opposite_arm_change([[1e-3, 1.0], [np.nan, -1e-3]])
    assert np.isnan(found).tolist() == [[False, True], [True, False]]
    assert np.isnan(active_arms.half_bridge_opposite_ratio(-1.0))
    assert np.isnan(active_arms.half_bridge_dummy_ratio([-1.0, 0.0], [0.0, -1.0])).all()
    assert np.isnan(active_arms.full_bridge_bending_ratio([-1.0, 1.0])).all()
    assert np.isnan(active_arms.full_bridge_axial_ratio([-1.0, 4.0], 0.25)).all()
    assert np.isnan(active_arms.full_bridge_axial_arm_change([-1.0, 1.0], 0.3)).all()


def test_every_fault_of_a_twisted_bar_is_told_at_once():
    with pytest.raises(Faults) as caught:
        active_arms.torque(1e-3, -0.02, 0.0, 0.7, 0.0)
    assert [fault.name for fault in caught.value.faults] == [
        "diameter",
        "elastic_modulus",
        "poisson_ratio",
    ]
    with pytest.raises(InputError, match="smaller than the diameter"):
        active_arms.torque(1e-3, 0.02, 2e11, 0.3, 0.02)


HALF = Network(
    (
        *(("G1", "T1", "J"), ("rA", "E-", "T1"), ("G2", "J", "T3"), ("rB", "T3", "E+")),
        *(("h1", "E+", "M"), ("h2", "M", "E-")),
    ),
    (VoltageSource("V", "E+", "E-", 2.0),),
    "E-",
)


@given(st.floats(-0.1, 0.1), st.floats(0.01, 20.0), POISSON)
def test_equal_leads_of_a_half_bridge_lie_one_in_each_arm(change, lead, nu):
    def ratio(across):
        ohms = [350.0 * (1 + change), lead, 350.0 * (1 + across), lead, 1e3, 1e3]
        return voltage_ratio(solve(HALF, ohms), "J", "M", "E+", "E-")

    bending = bridge.half_bridge_bending_arm_change(ratio(-change))
    assert leads.grid_change(bending, 350.0, lead, 1) == pytest.approx(change, abs=1e-11)
    pair = bridge.half_bridge_poisson_arm_change(ratio(-nu * change), nu)
    assert leads.grid_change(pair, 350.0, lead, 1) == pytest.approx(change, abs=1e-11)
    dummy = active_arms.half_bridge_dummy_arm_change(ratio(0.0))
    assert leads.grid_change(dummy, 350.0, lead, 1) == pytest.approx(change, abs=1e-11)
