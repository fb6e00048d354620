"""A wire of a strand as the helix it is: longer by as much as geometry says."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import strand


@given(st.floats(5e-3, 20e-3), st.floats(10.0, 20.0))
def test_an_outer_wire_stretches_as_its_helix_does(diameter, lays):
    lay, step = lays * diameter, 1e-6

    def wire(length):
        return math.hypot(length, math.pi * diameter)

    grown = (wire(lay * (1 + step)) - wire(lay * (1 - step))) / wire(lay)
    found = strand.wire_strain_share(diameter, lay)
    assert found == pytest.approx(grown / (2 * step), rel=1e-7)
