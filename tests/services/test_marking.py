"""Holds that nobody marked at the test become load steps afterwards."""

import numpy as np
import pytest

from gaugewright.errors import InputError
from gaugewright.records.readings import LoadStep
from gaugewright.records.specimen import Question
from gaugewright.services.campaign.book import Book
from gaugewright.services.loading.marking import mark_holds, unmarked_holds
from gaugewright.services.strain.strains import Desk
from tests.services.test_strain_from_records import TEST_BEGINS, divider_mv_per_v


def test_what_was_held_is_marked_at_the_load_that_was_meant(tiny) -> None:
    with pytest.raises(InputError, match="to be marked"):
        mark_holds(tiny.store)  # no load was read at all
    tiny.store.add(Question("force", "What does the bar carry at 40 kN?", "force", 4e3, (), 40e3))
    held = ((0.0, 60), (39.8, 90), (80.3, 80), (0.0, 60))
    load = np.concatenate(
        [np.r_[np.full(n, kn), np.linspace(kn, after, 22)[1:-1]]
         for (kn, n), (after, _) in zip(held, [*held[1:], (0.0, 0)], strict=True)]
    )  # fmt: skip
    strain = load * 1e3 / (200e9 * 200e-6)
    columns = {"G-T": divider_mv_per_v(strain), "G-U": divider_mv_per_v(strain), "P": load}
    tiny.record("test", TEST_BEGINS, columns)
    steps = [entry.record for entry in mark_holds(tiny.store)]
    assert [(one.label, one.load) for one in steps] == [("40 kN", 40e3), ("80.3 kN", 80.3e3)]
    for one, (begins, ends) in zip(steps, ((80, 170), (190, 270)), strict=True):
        assert (one.begins - TEST_BEGINS).total_seconds() == pytest.approx(begins, abs=3)
        assert (one.ends - TEST_BEGINS).total_seconds() == pytest.approx(ends, abs=3)
    assert len(tiny.store.entries(LoadStep)) == 2
    assert unmarked_holds(Desk(tiny.store, Book.read(tiny.store))) == ()  # once is enough
