"""Survival at its edges: impossible counts, missing times, an interval that covers what it says."""

from math import comb

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from gaugewright.calc.survival import proportion_interval, survival_curve
from gaugewright.errors import Faults, InputError


@given(exposed=st.integers(1, 40), chance=st.floats(0.01, 0.99))
def test_the_interval_covers_at_least_what_it_says(exposed: int, chance: float) -> None:
    covered = 0.0
    for survivors in range(exposed + 1):
        low, high = proportion_interval(survivors, exposed)
        if low <= chance <= high:
            ways = comb(exposed, survivors)
            covered += ways * chance**survivors * (1 - chance) ** (exposed - survivors)
    assert covered >= 0.95 - 1e-9


@pytest.mark.parametrize(("survivors", "exposed"), [(-1, 3), (4, 3), (0, 0), (1.5, 3)])
def test_impossible_counts_are_refused(survivors: int, exposed: int) -> None:
    with pytest.raises((InputError, Faults)):
        proportion_interval(survivors, exposed)


def test_times_must_be_there_and_match() -> None:
    for times, lost in (([], []), ([1.0], [True, False]), ([np.nan], [True]), ([-1.0], [True])):
        with pytest.raises(InputError):
            survival_curve(times, lost)


def test_nothing_lost_leaves_survival_whole_and_its_interval_open() -> None:
    found = survival_curve([5.0, 5.0, 7.0], [False, False, False])
    assert found.survival.tolist() == [1.0, 1.0]
    assert np.isnan(found.low).all()


@pytest.mark.filterwarnings("ignore:The confidence interval is undefined")
def test_a_general_library_finds_the_same_interval() -> None:
    times = [1.0, 1.0, 4.0, 5.0, 6.0, 9.0, 9.0, 22.0]
    lost = [True, True, True, True, False, True, False, True]
    found = survival_curve(times, lost, 0.9)
    sample = stats.CensoredData.right_censored(times, [not one for one in lost])
    with np.errstate(divide="ignore", invalid="ignore"):
        wanted = stats.ecdf(sample).sf.confidence_interval(0.9, method="log-log")
    inside = slice(0, -1)  # nothing is left after the last one
    assert found.low[inside] == pytest.approx(wanted.low.probabilities[inside], abs=1e-12)
    assert found.high[inside] == pytest.approx(wanted.high.probabilities[inside], abs=1e-12)


def test_without_censoring_it_is_the_share_left() -> None:
    found = survival_curve([3.0, 1.0, 2.0, 4.0], [True] * 4)
    assert found.survival.tolist() == [0.75, 0.5, 0.25, 0.0]
    inside = slice(0, 3)
    assert (found.low[inside] < found.survival[inside]).all()
    assert (found.survival[inside] < found.high[inside]).all()
