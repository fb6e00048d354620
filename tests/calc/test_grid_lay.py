"""What grids see by their lie, against the strain tensor turned and the circuit's own divider."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import grid_lay

STRAIN = st.floats(1e-5, 5e-3)
SIDEWAYS = st.floats(-0.03, 0.03)
POISSON = st.floats(0.05, 0.5)
ANGLE = st.floats(-0.15, 0.15)


def indicated(strain: float, poisson: float, angle: float, sideways: float, beam: float) -> float:
    """Reading of a grid at an angle: its own strain and the share it feels across itself."""
    tensor = np.diag([strain, -poisson * strain])
    along = np.array([math.cos(angle), math.sin(angle)])
    across = np.array([-math.sin(angle), math.cos(angle)])
    seen = along @ tensor @ along + sideways * (across @ tensor @ across)
    # On the beam of the card the same grid along it must read the beam's strain.
    return float(seen / (1 - beam * sideways))


@given(STRAIN, POISSON, ANGLE, SIDEWAYS, POISSON)
def test_the_bar_is_found_again(strain, poisson, angle, sideways, beam):
    reading = indicated(strain, poisson, angle, sideways, beam)
    found = grid_lay.bar_strain(reading, sideways, math.sin(angle) ** 2, poisson, beam)
    assert found == pytest.approx(strain, rel=1e-12)


@given(STRAIN, POISSON, ANGLE, SIDEWAYS, POISSON)
def test_a_grid_across_reads_minus_its_share_of_the_one_along(
    strain, poisson, angle, sideways, beam
):
    along = indicated(strain, poisson, angle, sideways, beam)
    across = indicated(strain, poisson, angle + math.pi / 2, sideways, beam)
    share = grid_lay.contraction_seen(poisson, sideways, math.sin(angle) ** 2)
    assert share * along == pytest.approx(-across, rel=1e-9, abs=1e-12)


def test_a_straight_grid_that_feels_nothing_sideways_needs_nothing():
    assert grid_lay.contraction_seen(0.3, 0.0, 0.0) == 0.3
    assert grid_lay.bar_strain([1e-3, np.nan], 0.0, 0.0, 0.3, 0.285).tolist()[0] == 1e-3
