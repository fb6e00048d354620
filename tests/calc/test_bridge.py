"""Bridge forms against the network solver, which shares no algebra with them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import bridge
from gaugewright.calc.circuit import Network, VoltageSource, solve, voltage_ratio
from gaugewright.errors import InputError

FOUR_ARMS = Network(
    (("G1", "S+", "E-"), ("G2", "E+", "S+"), ("G3", "E+", "S-"), ("G4", "S-", "E-")),
    (VoltageSource("V", "E+", "E-", 2.0),),
    "E-",
)
CHANGES = st.floats(-0.3, 0.5)
POISSON = st.floats(0.0, 0.5)


def by_circuit(changes):
    """Output of a bridge of four 350 ohm arms, from the solver alone."""
    arms = 350.0 * (1 + np.asarray(changes))
    return voltage_ratio(solve(FOUR_ARMS, arms), "S+", "S-", "E+", "E-")


@given(CHANGES)
def test_quarter_bridge_is_the_circuit_and_is_undone_exactly(change):
    ratio = by_circuit([change, 0, 0, 0])
    assert bridge.quarter_bridge_ratio(change) == pytest.approx(ratio, abs=1e-14)
    assert bridge.quarter_bridge_arm_change(ratio) == pytest.approx(change, abs=1e-13)


@given(CHANGES.filter(lambda x: abs(x) < 0.4))
def test_bending_pair_is_the_circuit_and_is_undone_exactly(change):
    ratio = by_circuit([change, -change, 0, 0])
    assert bridge.half_bridge_bending_ratio(change) == pytest.approx(ratio, abs=1e-14)
    assert bridge.half_bridge_bending_arm_change(ratio) == pytest.approx(change, abs=1e-13)


@given(CHANGES, POISSON)
def test_poisson_pair_is_the_circuit_and_is_undone_exactly(change, nu):
    ratio = by_circuit([change, -nu * change, 0, 0])
    assert bridge.half_bridge_poisson_ratio(change, nu) == pytest.approx(ratio, abs=1e-14)
    assert bridge.half_bridge_poisson_arm_change(ratio, nu) == pytest.approx(change, abs=1e-13)


@given(st.tuples(CHANGES, CHANGES, CHANGES, CHANGES))
def test_any_four_arms_are_the_circuit(changes):
    assert bridge.four_arm_ratio(changes) == pytest.approx(by_circuit(changes), abs=1e-14)


WEIGHTS = {
    "quarter": lambda nu: (1, 0, 0, 0),
    "half, Poisson": lambda nu: (1, -nu, 0, 0),
    "half, bending": lambda nu: (1, -1, 0, 0),
    "full, bending": lambda nu: (1, -1, 1, -1),
    "full, axial": lambda nu: (1, -nu, 1, -nu),
    "two opposite": lambda nu: (1, 0, 1, 0),
    "unequal opposite": lambda nu: (1, 0, 0.7, 0),
    "arm 3 alone": lambda nu: (0, 0, 1, 0),
}


@pytest.mark.parametrize("name", WEIGHTS)
@given(change=st.floats(-0.2, 0.3), nu=POISSON)
def test_general_inverse_undoes_the_circuit_of_every_bridge(name, change, nu):
    weights = np.array(WEIGHTS[name](nu), dtype=float)
    found = bridge.four_arm_change(by_circuit(weights * change), weights)
    assert found == pytest.approx(change, abs=1e-12)


def test_general_inverse_agrees_with_the_quarter_bridge_form():
    ratio = np.linspace(-0.3, 0.3, 31)
    found = bridge.four_arm_change(ratio, [1, 0, 0, 0])
    assert found == pytest.approx(bridge.quarter_bridge_arm_change(ratio), rel=1e-12)


def test_a_reading_no_resistances_can_give_is_nan_and_its_neighbours_are_kept():
    found = bridge.four_arm_change([[0.001, 5.0], [np.nan, -0.001]], [1, 0, 1, 0])
    assert np.isnan(found).tolist() == [[False, True], [True, False]]


def test_open_or_missing_sample_is_nan_and_its_neighbours_are_kept():
    strain = bridge.quarter_bridge_strain([[1e-3, 0.5], [np.nan, -1e-3]], 2.0)
    assert np.isnan(strain).tolist() == [[False, True], [True, False]]
    assert np.isnan(bridge.half_bridge_bending_arm_change([-0.5, 0.5])).all()
    assert np.isnan(bridge.quarter_bridge_ratio(-1.0))
    assert np.isnan(bridge.half_bridge_bending_ratio([-1.0, 1.0])).all()
    assert np.isnan(bridge.half_bridge_poisson_ratio([-1.0, 4.0], 0.25)).all()
    assert np.isnan(bridge.four_arm_ratio([0.0, 0.0, -1.0, 0.0]))
    assert np.isnan(bridge.quarter_bridge_nonlinearity(-1.0))


@pytest.mark.parametrize("gauge_factor", [0.0, -2.0, np.nan, np.inf])
def test_impossible_gauge_factor_is_refused_by_name(gauge_factor):
    with pytest.raises(InputError, match=r"^gauge_factor is .*; it must be a positive"):
        bridge.quarter_bridge_strain(1e-3, gauge_factor)


def test_weights_that_cancel_or_are_not_four_are_refused():
    with pytest.raises(InputError, match="outweigh"):
        bridge.four_arm_change(0.001, [1, 1, 0, 0])
    with pytest.raises(InputError, match="one for each arm"):
        bridge.four_arm_ratio([0.0, 0.1])
    with pytest.raises(InputError, match="four numbers"):
        bridge.four_arm_change(0.001, [[1, 0, 0, 0]])


@given(CHANGES)
def test_nonlinearity_is_the_error_of_the_straight_line(change):
    line = 4 * by_circuit([change, 0, 0, 0])
    error = bridge.quarter_bridge_nonlinearity(change)
    assert change * (1 + error) == pytest.approx(line, abs=1e-13)


@given(st.floats(-0.01, 0.01), st.floats(-0.2, 0.2))
def test_change_since_the_zero_is_the_ratio_of_two_resistances(zero, change):
    first, later = 120 * (1 + zero), 120 * (1 + zero) * (1 + change)
    found = bridge.relative_arm_change(later / 120 - 1, first / 120 - 1)
    assert found == pytest.approx(change, abs=1e-13)


def test_a_zero_of_a_shorted_arm_is_refused():
    with pytest.raises(InputError, match="absolute reading"):
        bridge.relative_arm_change(0.0, -1.0)
