"""What is kept of a test being followed: the newest rows whole, all before as means, no more."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gaugewright.errors import InputError
from gaugewright.services.following.memory import Ring, Thinned


@settings(max_examples=60, deadline=None)
@given(capacity=st.integers(1, 40), sizes=st.lists(st.integers(0, 60), max_size=12))
def test_a_ring_holds_the_last_rows_whatever_pieces_they_came_in(capacity, sizes) -> None:
    ring = Ring(2, capacity)
    every = np.empty((0, 2))
    for size in sizes:
        rows = np.arange(len(every), len(every) + size, dtype=float)[:, None] * [1.0, -1.0]
        ring.add(rows)
        every = np.vstack([every, rows])
        assert np.array_equal(ring.last(), every[-capacity:] if len(every) else every)
        assert np.array_equal(ring.last(3), every[-min(3, capacity) :] if len(every) else every)


def test_a_ring_takes_no_more_room_than_it_was_given() -> None:
    ring = Ring(3, 10)
    held = ring._rows.nbytes
    for _ in range(100):
        ring.add(np.ones((7, 3)))
    assert ring._rows.nbytes == held
    assert ring.held == 10


@settings(max_examples=60, deadline=None)
@given(
    steps=st.lists(st.floats(0.01, 3.0), min_size=1, max_size=200),
    bins=st.sampled_from([2, 4, 16]),
)
def test_thinned_means_are_those_of_equal_stretches(steps, bins) -> None:
    time = 1e8 + np.cumsum(steps)
    value = np.sin(np.arange(time.size))
    kept = Thinned(1, bins=bins, width=1.0)
    for cut in np.array_split(np.arange(time.size), 5):
        kept.add(time[cut], value[cut, None])
    assert kept.times().size <= bins
    place = np.floor((time - time[0]) / kept.width).astype(int)
    for number, mean in enumerate(kept.means(0)):
        mine = value[place == number]
        assert np.isnan(mean) if not mine.size else mean == pytest.approx(mine.mean(), abs=1e-9)


def test_missing_values_and_unknown_times_count_for_nothing() -> None:
    kept = Thinned(2, bins=4)
    assert kept.times().size == 0
    kept.add(np.array([0.0, np.nan, 0.5]), np.array([[1.0, np.nan], [9.0, 9.0], [3.0, np.nan]]))
    assert kept.means(0).tolist() == [2.0]
    assert np.isnan(kept.means(1)).all()


def test_room_that_cannot_be_is_refused() -> None:
    with pytest.raises(InputError, match="capacity"):
        Ring(1, 0)
    with pytest.raises(InputError, match="bins"):
        Thinned(1, bins=3)
