"""A column with four gauges: its output by voltage division, and its force found again."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import load_cell

NU, FACTOR = st.floats(0.2, 0.4), st.floats(1.9, 2.2)


def divided(along, across):
    """Two half bridges on one supply; grids along at T1 and T3, across at T2 and T4."""
    return along / (along + across) - across / (across + along)


@given(st.floats(-1e-2, 1e-2), NU, FACTOR)
def test_the_output_of_a_column_is_that_of_its_resistances(strain, nu, factor):
    found = load_cell.column_ratio(
        strain * 1e-3 * 200e9, 1e-3, 200e9, poisson_ratio=nu, gauge_factor=factor
    )
    expected = divided(350 * (1 + factor * strain), 350 * (1 - nu * factor * strain))
    assert found == pytest.approx(expected, rel=1e-9, abs=1e-15)


@given(st.floats(-500e3, 500e3), NU, FACTOR)
def test_the_force_of_a_column_is_found_again(force, nu, factor):
    cell = {"poisson_ratio": nu, "gauge_factor": factor}
    ratio = load_cell.column_ratio(force, 500e-6, 200e9, **cell)
    found = load_cell.column_force(ratio, 500e-6, 200e9, **cell)
    assert found == pytest.approx(force, rel=1e-9, abs=1e-4)


def test_a_ratio_that_no_resistances_give_is_no_force():
    found = load_cell.column_force(
        [0.0, 3.0, np.nan], 500e-6, 200e9, poisson_ratio=0.3, gauge_factor=2.0
    )
    assert found[0] == 0.0
    assert np.isnan(found[1:]).all()
