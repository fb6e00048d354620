"""Reviewing keeps little in memory: windows stand for whole series, and are the same."""

import shutil

import numpy as np
import pytest

from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.identity import working_context
from gaugewright.records.readings import Finding
from gaugewright.services.campaign.book import Book
from gaugewright.services.reviewing import review
from gaugewright.services.reviewing import windows as review_windows
from gaugewright.services.reviewing.leaps import HEREABOUTS, SCANS, moved
from gaugewright.services.reviewing.windows import Outline, Windows
from gaugewright.services.strain import strains
from gaugewright.services.strain.strains import Desk
from gaugewright.services.work.kept import Kept
from gaugewright.services.work.side_by_side import side_by_side
from gaugewright.store.campaign import CampaignStore

pytestmark = pytest.mark.full


def test_the_one_not_asked_for_longest_makes_room():
    kept = Kept[str, int](100)
    for name in ("a", "b"):
        kept.keep(name, 1, 40)
    assert kept.get("a") == 1
    kept.keep("c", 1, 40)
    assert [kept.get(name) for name in ("a", "b", "c")] == [1, None, 1]
    kept.make_room()  # there is room: nothing goes
    assert kept.get("c") == 1
    kept.keep("d", 1, 1000)
    assert [kept.get(name) for name in ("a", "c", "d")] == [None, None, 1]
    kept.make_room()
    assert kept.get("d") is None
    kept.keep("d", 2, 10)
    kept.keep("a", 3, 80)
    assert (kept.get("d"), kept.get("a")) == (2, 3)


def test_results_come_in_order_and_little_is_begun_ahead():
    begun: list[int] = []

    def work(number: int) -> int:
        begun.append(number)
        return number * number

    results = side_by_side(work, range(1000))
    assert [next(results) for _ in range(5)] == [0, 1, 4, 9, 16]
    results.close()
    assert len(begun) < 200


def test_what_fails_is_told_where_it_is_asked_for():
    def work(number: int) -> int:
        if number == 3:
            raise ValueError("three")
        return number

    results = side_by_side(work, range(100))
    assert [next(results) for _ in range(3)] == [0, 1, 2]
    with pytest.raises(ValueError, match="three"):
        next(results)


def test_a_move_is_seen_in_a_window_where_it_is_seen_in_the_whole(demo_campaign, monkeypatch):
    monkeypatch.setattr(review_windows, "BLOCK_ROWS", 100)
    monkeypatch.setattr(review_windows, "MARGIN", 300)
    random = np.random.default_rng(8)
    seen = []
    with CampaignStore.open(demo_campaign, working_context(), read_only=True) as store:
        desk = Desk(store, Book.read(store))
        stretches = [s for c in desk.book.of(BridgeCircuit)[:12] for s in desk.stretches(c.uid)]
        windows = Windows(desk, [Outline.of(stretch) for stretch in stretches])
        for stretch in stretches:
            time, reading = stretch.time, stretch.reading
            outline = Outline.of(stretch)
            ends = [time[0], time[-1], time[0] - 1, time[-1] + 1]
            for instant in [*ends, *random.uniform(time[0], time[-1], 40)]:
                scan = float(random.choice([outline.step, 7 * outline.step]))
                reach = SCANS * max(scan, outline.step)
                when = windows.around(outline, instant - reach, instant + reach, beside=HEREABOUTS)
                begin, last = np.searchsorted(time, [when[0][0], when[0][-1]]).tolist()
                inside = slice(begin, last + 1)
                assert np.array_equal(when[0], time[inside])
                assert np.array_equal(when[1], reading[inside], equal_nan=True)
                for noise in (1e-12, float(np.nanstd(np.diff(reading))) / 4):
                    whole = moved(time, reading, noise, instant, scan)
                    seen.append(whole)
                    assert moved(*when, noise, instant, scan, step=outline.step) == whole
    assert any(seen)
    assert not all(seen)


def test_findings_are_the_same_with_hardly_any_memory(demo_campaign, tmp_path, monkeypatch):
    monkeypatch.setattr(strains, "KEPT_BYTES", 1)
    monkeypatch.setattr(review_windows, "BLOCK_ROWS", 1000)
    shutil.copytree(demo_campaign, tmp_path / "copy")
    with CampaignStore.open(tmp_path / "copy", working_context()) as store:
        before = {entry.uid: entry.record for entry in store.entries(Finding)}
        found = review.find(store)
        after = {entry.uid: entry.record for entry in store.entries(Finding)}
    assert {entry.uid for entry in found} == set(before)
    assert len(before) > 3
    assert after == before


class StoppedError(Exception):
    """A person doesn't want to wait."""


@pytest.fixture(scope="module")
def unreviewed(demo_campaign, tmp_path_factory):
    """A copy of the demo campaign whose findings have gone, in time for one more review."""
    folder = tmp_path_factory.mktemp("unreviewed") / "copy"
    shutil.copytree(demo_campaign, folder)
    with CampaignStore.open(folder, working_context()) as store:
        yield store


def test_progress_counts_gauges_that_were_reviewed_and_then_comparisons(unreviewed, monkeypatch):
    monkeypatch.setattr(review, "OFTEN_S", 0.0)
    gauges = [one.gauge.record.label for one in review.everybody(desk_of(unreviewed))]
    compared = [words for _, words in (*review._OF_PAIRS, *review._OF_ALL)]
    told = []
    review.find(unreviewed, progress=lambda *said: told.append(said))
    done = [at for at, _, _ in told]
    assert done == sorted(done)
    firsts = {at: what for at, _, what in reversed(told)}  # what was said when it was first done
    assert [firsts[n + 1] for n in range(len(gauges))] == [f"reviewed {name}" for name in gauges]
    after = [firsts[n] for n in range(len(gauges) + 1, max(done) + 1)]
    assert set(compared) < set(after)
    assert {total for _, total, _ in told} == {max(done)} == {len(gauges) + len(compared) + 1}
    # Within comparisons there are chances to stop, where nothing more is said to be done.
    assert done.count(len(gauges)) > 5


def desk_of(store):
    return Desk(store, Book.read(store))


@pytest.mark.parametrize("beyond", [None, 0, 1, 6, 11])
def test_a_review_that_is_stopped_writes_nothing_down(unreviewed, monkeypatch, beyond):
    monkeypatch.setattr(review, "OFTEN_S", 0.0)
    gauges = len(list(review.everybody(desk_of(unreviewed))))
    at = 2 if beyond is None else gauges + beyond
    asked = []

    def stop(done: int, total: int, what: str) -> None:
        asked.append(done)
        if done == at and (beyond is None or len(asked) > gauges + 1):
            raise StoppedError

    before = unreviewed.head()
    with pytest.raises(StoppedError):
        review.find(unreviewed, progress=stop)
    assert asked[-1] == at
    assert unreviewed.head() == before
