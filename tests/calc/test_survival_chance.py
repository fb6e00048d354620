"""Chances from counts: against a general library and a simulation, limits, refusals."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from gaugewright.calc.survival_chance import chance_through, count_dispersion, survival_chance
from gaugewright.errors import InputError


@given(exposed=st.integers(0, 500), data=st.data())
def test_one_gate_is_the_beta_distribution_of_a_general_library(
    exposed: int, data: st.DataObject
) -> None:
    survivors = data.draw(st.integers(0, exposed))
    found = survival_chance(survivors, exposed)
    law = stats.beta(survivors + 0.5, exposed - survivors + 0.5)
    assert found.probability == pytest.approx(law.mean(), rel=1e-9)
    assert (found.low, found.high) == pytest.approx(law.interval(0.95), rel=1e-6, abs=1e-12)


@pytest.mark.parametrize(
    "counts",
    [((24, 23, 22), (24, 24, 23)), ((3, 2), (4, 4)), ((90, 47, 12), (100, 48, 12))],
)
def test_several_gates_agree_with_a_simulation(
    counts: tuple[tuple[int, ...], tuple[int, ...]],
) -> None:
    survivors, exposed = counts
    rng = np.random.default_rng(20261126)
    drawn = np.ones(400_000)
    for through, all_of in zip(survivors, exposed, strict=True):
        drawn *= rng.beta(through + 0.5, all_of - through + 0.5, drawn.size)
    found = chance_through(survivors, exposed)
    assert found.probability == pytest.approx(drawn.mean(), abs=2e-3)
    wanted = np.quantile(drawn, [0.025, 0.975])
    assert (found.low, found.high) == pytest.approx(tuple(wanted), abs=0.02)


def test_lots_that_differ_by_chance_alone_scatter_as_chance_does() -> None:
    rng = np.random.default_rng(7)
    exposed = [40] * 2000
    alike = rng.binomial(40, 0.9, 2000)
    assert count_dispersion(alike.tolist(), exposed) == pytest.approx(1.0, abs=0.1)
    # A beta-binomial lot of 40 with intraclass correlation rho scatters 1 + 39 rho times as much.
    rho = 0.1
    share = rng.beta(0.9 * (1 / rho - 1), 0.1 * (1 / rho - 1), 2000)
    differing = rng.binomial(40, share)
    assert count_dispersion(differing.tolist(), exposed) == pytest.approx(1 + 39 * rho, rel=0.15)


def test_lots_that_differ_leave_the_mean_and_widen_the_interval() -> None:
    sure, doubtful = survival_chance(180, 200), survival_chance(180, 200, dispersion=4.0)
    assert doubtful.probability == pytest.approx(sure.probability, abs=0.01)
    widths = [one.high - one.low for one in (sure, doubtful)]
    assert widths[1] == pytest.approx(2 * widths[0], rel=0.1)


def test_no_lot_and_one_lot_say_nothing_of_their_scatter() -> None:
    assert count_dispersion((3,), (10,)) == 1.0
    assert count_dispersion((0, 3), (0, 10)) == 1.0
    assert count_dispersion((10, 10), (10, 10)) == 1.0


@pytest.mark.parametrize(
    ("survivors", "exposed"),
    [((3,), (2,)), ((-1,), (2,)), ((1.5,), (2,)), ((), ()), ((1,), (1, 2))],
)
def test_impossible_counts_are_refused(survivors: tuple, exposed: tuple) -> None:
    with pytest.raises(InputError):
        chance_through(survivors, exposed)
    with pytest.raises(InputError):
        count_dispersion(survivors, exposed)
