"""ASTM E1049: the worked histories of its figures, counted by every rule."""

import pytest

from gaugewright.calc import cycles

SEEN = (
    "test files of the public repositories dpzhuX/ffpack (test_lcc_astmCounting.py) and "
    "iamlikeme/rainflow (test_rainflow.py); not the standard"
)
HISTORY = [-2, 1, -3, 5, -1, 3, -4, 4, -2]


@pytest.mark.published(
    where="ASTM E1049-85 (2017), 5.4.4, figure 6: -2, 1, -3, 5, -1, 3, -4, 4, -2; printed 0.5, "
    "1.5, 0.5, 1 and 0.5 cycles of range 3, 4, 6, 8 and 9",
    seen=SEEN,
)
@pytest.mark.parametrize("fast", [False, True])
def test_figure_6_cycles_by_range(fast) -> None:
    if fast:
        pytest.importorskip("numba")
    found = cycles.rainflow_cycles(HISTORY, fast=fast).by_range()
    assert found == {3: 0.5, 4: 1.5, 6: 0.5, 8: 1, 9: 0.5}


@pytest.mark.published(
    where="ASTM E1049-85 (2017), figure 6, table: range, mean and count of every cycle",
    seen=SEEN,
)
def test_figure_6_cycles_with_their_means() -> None:
    found = cycles.rainflow_cycles(HISTORY)
    printed = [
        *((3, -0.5, 0.5), (4, -1, 0.5), (4, 1, 1), (8, 1, 0.5)),
        *((9, 0.5, 0.5), (8, 0, 0.5), (6, 1, 0.5)),
    ]
    assert list(zip(found.ranges, found.means, found.counts, strict=True)) == printed


@pytest.mark.published(
    where="ASTM E1049-85 (2017), 5.4.5, figure 7: the same history repeating; printed 1 cycle "
    "each of range 3, 4, 7 and 9",
    seen=SEEN,
)
def test_figure_7_repeating_history() -> None:
    assert cycles.closed_history_cycles(HISTORY).by_range() == {3: 1, 4: 1, 7: 1, 9: 1}


@pytest.mark.published(
    where="ASTM E1049-85 (2017), 5.2, figure 4: simple ranges of the same history; printed 0.5, "
    "1, 1, 0.5 and 1 of range 3, 4, 6, 7 and 8",
    seen=SEEN,
)
def test_figure_4_simple_ranges() -> None:
    found = cycles.range_cycles(HISTORY).by_range()
    assert found == {3: 0.5, 4: 1, 6: 1, 7: 0.5, 8: 1}


@pytest.mark.published(
    where="ASTM E1049-85 (2017), 5.3, figure 5: range pairs of the same history; printed 1 each "
    "of range 3, 4, 6 and 8",
    seen=SEEN,
)
def test_figure_5_range_pairs() -> None:
    assert cycles.range_pair_cycles(HISTORY).by_range() == {3: 1, 4: 1, 6: 1, 8: 1}


@pytest.mark.published(
    where="ASTM E1049-85 (2017), 5.1, figure 3(a): peaks above and valleys below the reference "
    "level of a history of 17 points",
    seen=SEEN,
)
def test_figure_3_peaks() -> None:
    history = [0, 1.5, 0.5, 3.5, 0.5, 2.5, -1.5, -0.5, -2.5, -2, -2.7, -2.5, -3.5, 1.5, 0.5]
    found = cycles.peak_counts([*history, 3.5, -0.5])
    assert found == {-3.5: 1, -2.7: 1, -2.5: 1, -1.5: 1, 1.5: 2, 2.5: 1, 3.5: 2}
