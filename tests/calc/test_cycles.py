"""Turning points and cycles: gates, gaps, cuts, a second opinion and the compiled twin."""

import numpy as np
import pytest
import rainflow
from hypothesis import assume, given
from hypothesis import strategies as st

from gaugewright.calc import cycles, turns
from gaugewright.errors import InputError

signals = st.lists(st.integers(-9, 9).map(float), max_size=60)


def as_rows(found: cycles.Cycles) -> list[tuple[float, float, float]]:
    return list(zip(found.ranges, found.means, found.counts, strict=True))


@given(signals)
def test_cycles_are_those_of_another_hand(signal) -> None:
    assume(np.count_nonzero(np.diff(signal)) > 1)  # the other hand wants two moves at least
    theirs = [(rng, mean, count) for rng, mean, count, _, _ in rainflow.extract_cycles(signal)]
    assert sorted(as_rows(cycles.rainflow_cycles(signal))) == sorted(theirs)


@given(st.integers(0, 10**6))
def test_cycles_of_noise_are_those_of_another_hand_one_by_one(seed) -> None:
    signal = np.random.default_rng(seed).normal(size=400)
    theirs = list(rainflow.extract_cycles(signal))
    ours = cycles.rainflow_cycles(signal)
    assert np.array(as_rows(ours)) == pytest.approx(np.array([c[:3] for c in theirs]))
    assert [c[3] for c in theirs] == ours.first_place.tolist()
    assert [c[4] for c in theirs] == ours.second_place.tolist()


@given(signals)
def test_turning_points_alternate_and_hold_both_extremes(signal) -> None:
    values, places = turns.turning_points(signal)
    steps = np.diff(values)
    assert np.all(steps[1:] * steps[:-1] < 0)
    assert np.all(np.diff(places) > 0)
    assert [signal[place] for place in places] == values.tolist()
    if signal:
        assert (values.min(), values.max()) == (min(signal), max(signal))


def gated_by_definition(signal: list[float], gate: float) -> list[float]:
    """Turns with a gate, by taking out the smallest inner step until none is below it."""
    points = turns.turning_points(signal)[0].tolist()
    while len(points) > 3:
        steps = np.abs(np.diff(points))[1:-1]
        smallest = int(np.argmin(steps)) + 1
        if steps[smallest - 1] >= gate:
            break
        del points[smallest : smallest + 2]
    return points


# Whole numbers, whose differences are exact.
@given(st.lists(st.integers(-90, 90), min_size=2, max_size=40), st.integers(1, 60))
def test_a_gate_keeps_whole_cycles_of_its_size_and_no_smaller_ones(signal, gate) -> None:
    # Beginning and ending beyond all else, no turn depends on what the ends are worth.
    signal = [300, *signal, -300]
    values, _ = turns.turning_points(signal, gate)
    assert values.tolist() == gated_by_definition(signal, gate)
    assert np.abs(np.diff(values)).min() >= gate


def test_a_turn_exactly_as_large_as_the_gate_counts() -> None:
    assert turns.turning_points([0, 3, 2, 4], gate=1.0)[0].tolist() == [0, 3, 2, 4]
    assert turns.turning_points([0, 3, 2.5, 4], gate=1.0)[0].tolist() == [0, 4]


@given(signals, st.lists(st.integers(0, 60), max_size=4), st.sampled_from([0.0, 2.0]))
def test_cutting_a_record_changes_nothing(signal, cuts, gate) -> None:
    whole = cycles.rainflow_cycles(signal, gate)
    state, found = None, []
    for block in np.split(np.array(signal), sorted(min(cut, len(signal)) for cut in cuts)):
        block_cycles, state = cycles.cycles_of_block(block, state, gate)
        found.append(block_cycles)
    found.append(cycles.residue_cycles(state))
    for name in ("first", "second", "first_place", "second_place", "counts"):
        pieces = np.concatenate([getattr(piece, name) for piece in found])
        assert np.array_equal(pieces, getattr(whole, name))


@pytest.mark.parametrize("gate", [0.0, 1.5])
@pytest.mark.parametrize("size", [0, 1, 2, 3, 5000])
def test_compiled_loops_give_the_same_numbers(size, gate) -> None:
    pytest.importorskip("numba")
    random = np.random.default_rng(size)
    signal = np.cumsum(random.normal(size=size)).round(1)
    signal[random.random(size) < 0.02] = np.nan
    for count in (cycles.rainflow_cycles, cycles.closed_history_cycles):
        plain, compiled = count(signal, gate), count(signal, gate, fast=True)
        for name in ("first", "second", "first_place", "second_place", "counts"):
            assert np.array_equal(getattr(plain, name), getattr(compiled, name))


def test_compiled_loops_that_work_in_blocks_give_the_same_numbers() -> None:
    pytest.importorskip("numba")
    signal = np.random.default_rng(1).normal(size=150_000)
    plain, compiled = cycles.rainflow_cycles(signal), cycles.rainflow_cycles(signal, fast=True)
    assert np.array_equal(plain.first_place, compiled.first_place)
    assert np.array_equal(plain.counts, compiled.counts)


@given(signals)
def test_a_closed_history_has_whole_cycles_wherever_it_begins(signal) -> None:
    found = cycles.closed_history_cycles(signal)
    assert np.all(found.counts == 1)
    turned = signal[7:] + signal[:7]
    assert cycles.closed_history_cycles(turned).by_range() == found.by_range()
    if signal and max(signal) > min(signal):
        assert found.ranges.max() == max(signal) - min(signal)


@given(signals)
def test_rainflow_and_ranges_use_up_the_way_that_the_signal_went(signal) -> None:
    values, _ = turns.turning_points(signal)
    way = np.abs(np.diff(values)).sum()
    for count in (cycles.range_cycles, cycles.rainflow_cycles):
        found = count(signal)
        assert 2 * np.sum(found.ranges * found.counts) == pytest.approx(way)


def test_missing_samples_are_passed_over_and_keep_their_numbers() -> None:
    values, places = turns.turning_points([np.nan, 0.0, np.nan, 2.0, np.nan, 1.0])
    assert values.tolist() == [0.0, 2.0, 1.0]
    assert places.tolist() == [1, 3, 5]


@pytest.mark.parametrize("signal", [[], [np.nan], [2.0], [2.0, 2.0, 2.0]])
def test_a_signal_that_does_not_move_has_no_cycles(signal) -> None:
    for count in (
        cycles.rainflow_cycles,
        cycles.closed_history_cycles,
        cycles.range_cycles,
        cycles.range_pair_cycles,
    ):
        assert count(signal).counts.tolist() == []
    assert cycles.peak_counts(signal) == {}


def test_a_matrix_holds_every_cycle_or_says_which_it_cannot() -> None:
    found = cycles.rainflow_cycles([-2, 1, -3, 5, -1, 3, -4, 4, -2])
    made = cycles.cycle_matrix(found, [0, 4, 8, 12], [-2, 0, 2])
    # Rows 0-4, 4-8, 8-12; columns below and from zero.
    assert made.tolist() == [[0.5, 0.0], [0.5, 1.5], [0.0, 1.5]]
    with pytest.raises(InputError, match=r"^range_edges .* cycles at 9;"):
        cycles.cycle_matrix(found, [0, 8.5], [-2, 2])
    with pytest.raises(InputError, match=r"^mean_edges is .* rising"):
        cycles.cycle_matrix(found, [0, 10], [2, -2])


def test_impossible_signals_and_gates_are_refused() -> None:
    with pytest.raises(InputError, match=r"^values is 'infinite'"):
        cycles.rainflow_cycles([0.0, np.inf])
    with pytest.raises(InputError, match=r"^values is 'of 2 axes'"):
        cycles.rainflow_cycles([[0.0, 1.0]])
    with pytest.raises(InputError, match=r"^gate is nan"):
        cycles.rainflow_cycles([0.0, 1.0], gate=np.nan)
