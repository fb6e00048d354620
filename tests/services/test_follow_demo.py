"""The demo's test followed: what was shown is what reducing gives, gauge by gauge."""

from pathlib import Path

import numpy as np
import pytest

from gaugewright.records.identity import working_context
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import Recording
from gaugewright.services.campaign.book import Book
from gaugewright.services.following.following import Follower, profile_named
from gaugewright.services.following.wiring import needed
from gaugewright.services.strain.strains import Desk
from gaugewright.store.campaign import CampaignStore

PIECES = 5


@pytest.fixture(scope="module")
def followed(demo_campaign: Path, tmp_path_factory: pytest.TempPathFactory):
    """Recorder B, which reads gauges, their temperature and their dummy, followed in pieces."""
    path = tmp_path_factory.mktemp("follow demo") / "live.txt"
    with CampaignStore.open(demo_campaign, working_context(), read_only=True) as store:
        book = Book.read(store)
        recording = book.labelled(Recording, "test, Recorder B")
        data = store.original_bytes(recording.record.original_sha256)
        follower = Follower(store, path, profile_named(book, "files of Recorder B"))
        ends, size = [], -(-len(data) // PIECES)
        for begin in range(0, len(data), size):
            with path.open("ab") as file:
                file.write(data[begin : begin + size])
            live = follower.look()
            ends.append(live.rows)
        yield Desk(store, book), recording, follower, live, ends


def test_every_row_is_followed_once(followed) -> None:
    _, recording, _, live, _ = followed
    assert live.rows == recording.record.rows


def test_strains_are_those_of_the_reduction(followed) -> None:
    """Between looks too; only the newest row of each look may differ, and by little.

    The newest row of a look has no next one to take temperature or dummy from.
    """
    desk, recording, follower, _, ends = followed
    values = follower.streams[0].rows.value.last()
    assert len(values) == recording.record.rows  # all of it fits: the demo is short here
    inner = np.ones(len(values), dtype=bool)
    inner[[0, *(end - 1 for end in ends)]] = False
    in_file = {wire.subject for wire in follower.streams[0].rows.wired.wires}
    compared = 0
    for wire in follower._together.gauge_wires():
        if wire.built is None:
            continue
        reduced = desk.strain(wire.circuit, ZeroKind.BEFORE_TEST)
        pieces = [p for p in reduced.pieces if p.stretch.recording.uid == recording.uid]
        [piece] = pieces
        at = reduced.begins[reduced.pieces.index(piece)]
        whole = reduced.strain[at : at + piece.stretch.reading.size]
        rows = slice(piece.stretch.first_row, piece.stretch.last_row + 1)
        mine = values[rows, wire.place]
        assert np.array_equal(np.isfinite(mine[inner[rows]]), np.isfinite(whole[inner[rows]]))
        close = np.abs(mine - whole)[inner[rows]]
        has_all = set(needed(wire.built).values()) <= in_file and not wire.circuit.record.dummy
        # The plate's temperature is written by the other recorder: its last known value is held,
        # and less than 0.1 K of it goes into a gauge factor.
        assert np.nanmax(close, initial=0.0) < (1e-12 if has_all else 5e-8)
        assert np.nanmax(np.abs(mine - whole), initial=0.0) < 2e-5
        compared += has_all
    assert compared >= 6
