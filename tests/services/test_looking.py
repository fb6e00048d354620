"""A window of a recording against its raw rows: no peak lost, gaps kept, findings placed."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import Channel, Instrument
from gaugewright.records.identity import working_context
from gaugewright.records.readings import (
    Clock,
    Decision,
    Event,
    Finding,
    Recording,
    Severity,
)
from gaugewright.records.specimen import Campaign
from gaugewright.records.stated import Meaning, Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.reading import layouts, looking, readings
from gaugewright.services.reading.clocks import ByStamps
from gaugewright.services.reading.looking import Seen
from gaugewright.store.campaign import CampaignStore

ROWS = 5000
BEGINS = datetime(2026, 6, 14, 9, 0, tzinfo=UTC)
PAUSE_BEFORE = 3000  # the recorder stopped for a minute before this row
GAP = slice(1000, 1400)  # rows in which SG 1 had no reading
PEAK = 4321


def stamps() -> list[datetime]:
    late = timedelta(minutes=1)
    return [
        BEGINS + timedelta(seconds=n) + (late if n >= PAUSE_BEFORE else timedelta())
        for n in range(ROWS)
    ]


def gauge_1() -> list[float]:
    values = [float(n % 97) for n in range(ROWS)]
    values[PEAK] = 5000.0
    return values


@pytest.fixture
def store(tmp_path: Path) -> Iterator[CampaignStore]:
    lines = ["time,SG 1 [um/m],Load [kN]"]
    for n, (at, value) in enumerate(zip(stamps(), gauge_1(), strict=True)):
        text = "OVERRANGE" if GAP.start <= n < GAP.stop else f"{value}"
        lines.append(f"{at:%Y-%m-%d %H:%M:%S},{text},{n / 10}")
    path = tmp_path / "raw.csv"
    path.write_text("\n".join(lines) + "\n")
    campaign = Campaign("c", "Invented campaign", "UTC", invented=True)
    with CampaignStore.create(tmp_path / "c", campaign, working_context()) as opened:
        seen = layouts.understood(path)
        layout = layouts.confirmed(seen, {"zone": "UTC"}, {})
        clock = Clock("clock", "UTC", 1.0)
        one, nothing = (Stated(value, 0.0, Meaning.LIMIT) for value in (1.0, 0.0))
        instrument = opened.add(Instrument("R", "invented", one, 0.0, nothing, True))
        opened.add(Channel("R-1", instrument.uid, 1, "SG 1"))
        readings.bring_in(
            opened,
            path,
            layout,
            label="raw",
            instrument=instrument.uid,
            clock=clock,
            joint=ByStamps(0.5, "set by radio"),
        )
        yield opened


def book_of(store: CampaignStore) -> tuple[Book, Entry[Recording]]:
    book = Book.read(store)
    return book, book.labelled(Recording, "raw")


def channel(book: Book, entry: Entry[Recording], column: str) -> Seen:
    return next(seen for seen in looking.seen_in(book, entry) if seen.column == column)


def looked(store: CampaignStore, first: int, last: int, pixels: int) -> looking.Window:
    book, entry = book_of(store)
    seen = channel(book, entry, "SG 1")
    return looking.looked_at(store, book, entry, [seen], first=first, last=last, pixels=pixels)


@pytest.mark.parametrize("pixels", [12, 50, 77, 600])
@pytest.mark.parametrize(("first", "last"), [(0, ROWS - 1), (900, 1500), (4000, ROWS - 1)])
def test_each_bin_has_the_lowest_and_highest_of_its_rows(
    store: CampaignStore, first: int, last: int, pixels: int
) -> None:
    window = looked(store, first, last, pixels)
    raw = np.array(gauge_1())
    raw[GAP] = np.nan
    trace = window.traces[0]
    for number, row in enumerate(window.row.tolist()):
        rows = raw[row : row + window.rows_per_bin]
        if window.rows_per_bin == 1:
            rows = raw[row : row + 1]
        missing = np.isnan(rows)
        if missing.all():
            assert np.isnan(trace.low[number])
            assert np.isnan(trace.high[number])
        elif row + window.rows_per_bin - 1 <= last:
            assert trace.low[number] == np.nanmin(rows)
            assert trace.high[number] == np.nanmax(rows)
            assert trace.missing[number] == missing.any()


def test_a_peak_of_one_reading_is_seen_at_any_width(store: CampaignStore) -> None:
    for pixels in (12, 100, 2000):
        assert np.nanmax(looked(store, 0, ROWS - 1, pixels).traces[0].high) == 5000.0


def test_times_are_those_of_the_rows_that_begin_the_bins(store: CampaignStore) -> None:
    told = [(at - BEGINS).total_seconds() for at in stamps()]
    for pixels in (50, 600, 6000):
        window = looked(store, 0, ROWS - 1, pixels)
        # Extremes are kept as 32-bit numbers: half of their last binary place.
        rounding = 2.0**-24 if window.rows_per_bin >= 64 else 0.0
        assert window.time.tolist() == pytest.approx(
            [told[row] for row in window.row.tolist()], rel=rounding, abs=0.0
        )


def test_a_pause_of_the_recorder_is_one_gap_and_the_only_one(store: CampaignStore) -> None:
    every = looked(store, 0, ROWS - 1, 6000)
    assert every.row[every.pause].tolist() == [PAUSE_BEFORE]
    coarse = looked(store, 0, ROWS - 1, 600)
    (place,) = np.flatnonzero(coarse.pause).tolist()
    assert coarse.row[place] - coarse.rows_per_bin <= PAUSE_BEFORE <= coarse.row[place]


def test_a_finding_spans_its_rows_and_one_that_was_rejected_isn_t_there(
    store: CampaignStore,
) -> None:
    book, entry = book_of(store)
    subject = book.labelled(Channel, "R-1").uid
    finding = Finding(
        "over-range", subject, entry.uid, 1000, 1399, 400.0, "1", 3.0, "own", "off its scale",
        Severity.LOST,
    )  # fmt: skip
    first = store.add(finding)
    window = looked(store, 500, 2000, 6000)
    (span,) = window.spans
    assert (span.first, span.last, span.begins, span.ends) == (1000, 1399, 1000.0, 1399.0)
    assert looked(store, 2000, 2500, 600).spans == ()
    rejected = Finding(
        "over-range", subject, entry.uid, 1000, 1399, 400.0, "1", 3.0, "own", "off its scale",
        Severity.LOST, Decision.REJECTED, "the plug was out",
    )  # fmt: skip
    store.revise(first.uid, 1, rejected, reason="looked at")
    assert looked(store, 500, 2000, 600).spans == ()


def test_a_finding_on_another_channel_isn_t_shown(store: CampaignStore) -> None:
    book, entry = book_of(store)
    subject = book.labelled(Channel, "R-1").uid
    store.add(Finding("c", subject, entry.uid, 0, 9, 1.0, "1", 1.0, "own", "said", Severity.NOTE))
    book = Book.read(store)
    load = channel(book, entry, "Load")
    window = looking.looked_at(store, book, entry, [load], first=0, last=99, pixels=600)
    assert window.spans == ()


def test_events_inside_the_window_are_placed_in_its_time(store: CampaignStore) -> None:
    store.add(Event(BEGINS + timedelta(seconds=120.5), "crack seen", "midspan"))
    store.add(Event(BEGINS - timedelta(days=30), "pour", ""))
    (happening,) = looked(store, 0, 999, 600).happenings
    assert happening.at == pytest.approx(120.5)
    assert looked(store, 500, 999, 600).happenings == ()


def test_instants_are_the_stamps_of_the_file(store: CampaignStore) -> None:
    book, entry = book_of(store)
    window = looked(store, PAUSE_BEFORE - 2, PAUSE_BEFORE + 2, 600)
    found = looking.instants(book, entry, window.time)
    assert found == stamps()[PAUSE_BEFORE - 2 : PAUSE_BEFORE + 3]


@pytest.mark.parametrize(("first", "last"), [(-1, 5), (5, 4), (0, ROWS)])
def test_rows_outside_the_recording_are_refused(
    store: CampaignStore, first: int, last: int
) -> None:
    with pytest.raises(InputError, match="rows"):
        looked(store, first, last, 600)


def test_no_channel_is_no_window(store: CampaignStore) -> None:
    book, entry = book_of(store)
    with pytest.raises(InputError, match="channels"):
        looking.looked_at(store, book, entry, [], first=0, last=9, pixels=600)
