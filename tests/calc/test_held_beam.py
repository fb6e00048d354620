"""Beams on any supports: equilibrium, an independent integration, supports that hold nothing."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import simple_beam
from gaugewright.calc.held_beam import BeamSupport, SpreadLoad, held_beam_moment
from gaugewright.errors import InputError

LENGTH = 3.6


@given(
    place=st.floats(0.1, 3.5),
    load=st.floats(-50e3, 50e3),
    at=st.floats(0.0, LENGTH),
)
def test_on_two_supports_it_is_the_simple_beam(place, load, at):
    pinned = [BeamSupport(0.0), BeamSupport(LENGTH)]
    found = held_beam_moment(pinned, [place], [load], at)
    wanted = simple_beam.point_loads_moment(load, (0.0, LENGTH), [place], [1.0], at)
    assert found == pytest.approx(wanted, abs=1e-6 * (1 + abs(load)))


@pytest.mark.parametrize(
    "supports",
    [
        [BeamSupport(0.0, clamped=True), BeamSupport(LENGTH, clamped=True)],
        [BeamSupport(0.0, clamped=True), BeamSupport(LENGTH)],
        [BeamSupport(0.0), BeamSupport(1.5), BeamSupport(LENGTH)],
    ],
)
def test_bent_as_the_moments_say_it_keeps_to_its_supports(supports):
    # Curvature integrated twice from the first support: the others must not have moved.
    x = np.linspace(0.0, LENGTH, 40_001)
    moment = held_beam_moment(
        supports, [1.0, 2.7], [30e3, 20e3], x, spread=SpreadLoad(0.0, LENGTH, 5e3)
    )
    step = x[1]
    turn = -np.concatenate([[0.0], np.cumsum((moment[1:] + moment[:-1]) / 2 * step)])
    down = np.concatenate([[0.0], np.cumsum((turn[1:] + turn[:-1]) / 2 * step)])
    # The turn at the first support is free where it isn't clamped: take it from the next one.
    if not supports[0].clamped:
        second = round(supports[1].distance / step)
        down = down - down[second] * x / x[second]
        turn = turn - down[second] / x[second]
    scale = np.max(np.abs(down))
    for one in supports:
        assert abs(down[round(one.distance / step)]) < 1e-5 * scale
    if supports[-1].clamped:
        assert abs(turn[-1]) < 1e-4 * np.max(np.abs(turn))


def test_a_free_end_carries_nothing_and_its_clamp_everything():
    clamp = [BeamSupport(0.0, clamped=True)]
    found = held_beam_moment(clamp, [2.0], [1e3], [0.0, 1.0, 2.0, 3.0])
    assert found == pytest.approx([-2e3, -1e3, 0.0, 0.0], abs=1e-9)


def test_what_falls_is_refused():
    with pytest.raises(InputError, match="else the beam falls"):
        held_beam_moment([BeamSupport(0.0)], [1.0], [1e3], 0.5)
    with pytest.raises(InputError, match="place of its own"):
        held_beam_moment([BeamSupport(0.0), BeamSupport(0.0)], [1.0], [1e3], 0.5)
    with pytest.raises(InputError, match="as many"):
        held_beam_moment([BeamSupport(0.0, clamped=True)], [1.0], [1e3, 2e3], 0.5)
