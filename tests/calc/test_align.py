"""Clocks joined by a trigger that two recorders saw."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc.align import Edges, clock_fit, rising_edges
from gaugewright.errors import InputError


def sampled_step(instants: list[float], step: float, end: float) -> tuple[np.ndarray, np.ndarray]:
    """A trigger of 0 and 5 V that is high for 0.8 s after each instant, as a recorder sees it."""
    time = np.arange(0.0, end, step)
    high = np.zeros(time.size, dtype=bool)
    for instant in instants:
        high |= (time >= instant) & (time < instant + 0.8)
    return time, np.where(high, 5.0, 0.0)


@given(
    lag=st.floats(-30.0, 30.0),
    rate=st.floats(-1e-3, 1e-3),
    first=st.floats(40.0, 60.0),
    apart=st.floats(100.0, 400.0),
)
def test_the_true_clock_lies_within_the_scans_that_saw_its_edges(
    lag: float, rate: float, first: float, apart: float
) -> None:
    true = [first, first + apart]
    kept = rising_edges(*sampled_step(true, 0.1, 600.0), 2.5)
    # The other recorder's clock shows (true - lag) / (1 + rate).
    shown = [(instant - lag) / (1 + rate) for instant in true]
    other = rising_edges(*sampled_step(shown, 0.05, 600.0), 2.5)
    fit = clock_fit(kept, other, other.time)
    there = fit.offset + (1 + fit.rate) * np.array(shown)
    # Half a scan of each, and a thousandth of it: a line through edges that are off by a scan in
    # a hundred seconds has a rate as wrong as that.
    assert np.abs(there - true).max() <= (0.05 + 0.025) * 1.002


def test_agrees_with_weighted_least_squares_of_another_hand() -> None:
    other = np.array([10.0, 60.0, 130.0, 300.0])
    scan = np.array([0.1, 0.2, 0.1, 0.4])
    noise = np.array([0.02, -0.05, 0.01, 0.07])
    kept = 3.0 + 1.0002 * other + noise
    fit = clock_fit(Edges(kept, scan), Edges(other, scan), [0.0, 150.0])
    sigma = scan * np.sqrt(2 / 12)
    line, covariance = np.polyfit(other, kept - other, 1, w=1 / sigma, cov="unscaled")
    assert fit.rate == pytest.approx(line[0], rel=1e-9)
    assert fit.offset == pytest.approx(line[1], rel=1e-9)
    row = np.array([[0.0, 1.0], [150.0, 1.0]])
    expected = np.sqrt(np.einsum("ij,jk,ik->i", row, covariance, row))
    assert fit.standard_uncertainty == pytest.approx(expected, rel=1e-9)


def test_one_edge_gives_the_offset_alone() -> None:
    scan = np.array([0.12])
    fit = clock_fit(Edges(np.array([7.0]), scan), Edges(np.array([2.0]), scan), [0.0, 1e6])
    assert (fit.offset, fit.rate, fit.edges) == (5.0, 0.0, 1)
    assert fit.standard_uncertainty.tolist() == pytest.approx([0.12 * np.sqrt(2 / 12)] * 2)


def test_a_missing_sample_makes_no_edge_and_the_next_edge_is_kept() -> None:
    edges = rising_edges([0.0, 1.0, 2.0, 3.0, 4.0, 5.0], [0.0, np.nan, 5.0, 0.0, 0.0, 5.0], 2.5)
    assert edges.time.tolist() == [4.5]


def test_a_sample_exactly_on_the_level_is_the_edge() -> None:
    assert rising_edges([0.0, 1.0, 2.0], [0.0, 2.5, 5.0], 2.5).time.tolist() == [1.0]


@pytest.mark.parametrize(("time", "trigger"), [([], []), ([0.0], [5.0]), ([0.0, 1.0], [5.0, 5.0])])
def test_a_trigger_that_never_rose_has_no_edges(time: list[float], trigger: list[float]) -> None:
    assert rising_edges(time, trigger, 2.5).time.size == 0


def test_another_number_of_edges_is_refused_with_both_numbers() -> None:
    one, two = np.array([1.0]), np.array([1.0, 2.0])
    with pytest.raises(InputError, match=r"2 in the reference, 1 in the other"):
        clock_fit(Edges(two, two), Edges(one, one), 0.0)


def test_edges_of_another_event_are_refused() -> None:
    scan = np.full(3, 0.1)
    kept = Edges(np.array([10.0, 60.0, 130.0]), scan)
    with pytest.raises(InputError, match="off the line through all edges"):
        clock_fit(kept, Edges(np.array([5.0, 58.0, 125.0]), scan), 0.0)


def test_a_clock_that_runs_a_tenth_faster_is_refused() -> None:
    scan = np.full(2, 0.1)
    with pytest.raises(InputError, match="rate between the clocks"):
        clock_fit(Edges(np.array([0.0, 110.0]), scan), Edges(np.array([0.0, 100.0]), scan), 0.0)


@pytest.mark.parametrize("level", [np.nan, np.inf])
def test_a_level_that_is_no_number_is_refused(level: float) -> None:
    with pytest.raises(InputError, match=r"^trigger_level is"):
        rising_edges([0.0, 1.0], [0.0, 5.0], level)
