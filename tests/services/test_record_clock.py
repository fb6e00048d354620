"""Times and sensors read a block at a time are those of the whole record, to the last bit."""

import numpy as np
import pytest

from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.identity import working_context
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import Recording
from gaugewright.records.results import Chain
from gaugewright.records.sensors import Sensor, TemperaturePoint
from gaugewright.services.campaign.book import Book
from gaugewright.services.reading import record_clock as module
from gaugewright.services.reading.series import (
    record_clock,
    recording_time,
    series_along,
    series_of,
)
from gaugewright.services.strain import strains
from gaugewright.services.strain.strains import Desk
from gaugewright.store.campaign import CampaignStore

pytestmark = pytest.mark.full


@pytest.fixture(scope="module")
def store(demo_campaign):
    with CampaignStore.open(demo_campaign, working_context(), read_only=True) as store:
        yield store


@pytest.mark.parametrize("rows", [97, 65_536])
def test_times_by_block_are_those_of_the_whole(store, monkeypatch, rows):
    monkeypatch.setattr(module, "BLOCK_ROWS", rows)
    book = Book.read(store)
    for recording in book.of(Recording):
        whole = recording_time(store, book, recording)
        clock = record_clock(store, book, recording)
        cut = np.concatenate([clock.block(number) for number in range(clock.blocks)])
        assert cut.tobytes() == whole.tobytes()
        middle = float(whole[whole.size // 2])
        inside = [clock.first_row(number) for number in clock.within(middle, np.inf)]
        assert whole.size // 2 // rows * rows in inside


@pytest.mark.parametrize(("rows", "most"), [(61, 3), (500, 16)])
def test_a_series_read_by_block_is_the_whole_one_at_any_instants(store, monkeypatch, rows, most):
    monkeypatch.setattr(module, "BLOCK_ROWS", rows)
    monkeypatch.setattr(module, "MOST_BLOCKS", most)
    random, looked_at = np.random.default_rng(5), 0
    book = Book.read(store)
    for entry in (*book.of(Sensor), *book.of(TemperaturePoint)):
        along = series_along(store, book, entry.uid)
        if along is None:
            continue
        whole = series_of(store, book, entry.uid)
        first, last = whole.time[0], whole.time[-1]
        asked = [
            whole.time,
            random.uniform(first - 9, last + 9, 400),
            np.linspace(first, last, 7),
            np.array([first - 1, np.nan, first, last, last + 1]),
            np.array([np.nan]),
        ]
        for time in asked:
            assert along.at(time).tobytes() == whole.at(time).tobytes(), entry.record.label
        looked_at += 1
    assert looked_at > 2


def test_strain_of_a_long_record_worked_out_by_parts_is_the_same(store, monkeypatch):
    chained = {chain.record.circuit for chain in store.entries(Chain)}

    def found():
        desk = Desk(store, Book.read(store))
        return {
            circuit.record.label: desk.strain(circuit, ZeroKind.BEFORE_TEST).strain.tobytes()
            for circuit in desk.book.of(BridgeCircuit)
            if circuit.uid in chained
        }

    whole = found()
    monkeypatch.setattr(strains, "LONG", 100)
    monkeypatch.setattr(strains, "PART", 333)
    assert found() == whole
    assert len(whole) > 10
