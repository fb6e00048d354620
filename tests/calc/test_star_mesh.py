"""Star into mesh gives what the general circuit gives, and loses no digits at shorts and opens."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc.circuit import (
    Network,
    VoltageSource,
    resistance_between,
    solve,
    voltage_ratio,
)
from gaugewright.calc.star_mesh import Mesh

ENDS = [("P", "M"), ("M", "N"), ("P", "Q"), ("Q", "N"), ("M", "X"), ("X", "Q"), ("X", "N")]
decades = st.floats(-3.0, 9.0)


@given(logs=st.lists(decades, min_size=len(ENDS), max_size=len(ENDS)))
def test_resistance_and_voltages_are_those_of_the_general_circuit(logs):
    ohms = 10.0 ** np.array(logs)
    mesh = Mesh([(a, b, np.array([ohm])) for (a, b), ohm in zip(ENDS, ohms, strict=True)])
    named = tuple((f"r{n}", *ends) for n, ends in enumerate(ENDS))
    plain = Network(named, (), "N")
    assert mesh.between("M", "Q")[0] == pytest.approx(
        float(resistance_between(plain, "M", "Q", ohms)), rel=1e-9
    )
    fed = Network(named, (VoltageSource("supply", "P", "N", 1.0),), "N")
    theirs = voltage_ratio(solve(fed, ohms), "M", "N", "P", "N")
    assert mesh.divided("M", "P", "N")[0] == pytest.approx(float(theirs), rel=1e-9)


def test_a_microohm_beside_a_million_megohms_costs_no_digits():
    # By hand: 1e-6 and 1e12 in series, beside 120 ohm.
    mesh = Mesh([("A", "X", np.array([1e-6])), ("X", "B", np.array([1e12]))])
    assert mesh.between("A", "B")[0] == pytest.approx(1e12 + 1e-6, rel=1e-15)
    beside = mesh.with_parts([("A", "B", np.array([120.0]))])
    assert beside.between("A", "B")[0] == pytest.approx(120.0 * (1 - 1.2e-10), rel=1e-14)


def test_nodes_held_together_and_nodes_that_nothing_joins():
    mesh = Mesh([("A", "B", np.array([10.0])), ("C", "D", np.array([5.0]))])
    assert mesh.between("A", "C") is None
    assert mesh.joined({"C": "A", "D": "B"}).between("A", "B")[0] == pytest.approx(10 / 3)
    assert mesh.nodes == {"A", "B", "C", "D"}


def test_a_dead_end_carries_nothing():
    mesh = Mesh([("A", "B", np.array([10.0])), ("B", "C", np.array([1.0]))])
    assert mesh.left(("A", "B")).between("A", "B")[0] == pytest.approx(10.0)
