"""Recordings and their windows: what the pages say against the records and the raw rows."""

import csv
import io
import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from starlette.testclient import TestClient

from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import working_context
from gaugewright.records.readings import Finding, Recording
from gaugewright.services.campaign.book import Book
from gaugewright.store.campaign import CampaignStore
from tests.web.reading import links, rows, words

A = "/c/demo/readings/test%2C%20Recorder%20A"
LABEL = "test, Recorder A"


def over_range(records: Book) -> tuple[int, int]:
    """First and last row of the demo's finding on L2-M-U."""
    finding = next(e.record for e in records.of(Finding) if e.record.code == "over-range")
    assert finding.first_row is not None
    assert finding.last_row is not None
    return finding.first_row, finding.last_row


def last_row(records: Book) -> int:
    return records.labelled(Recording, LABEL).record.rows - 1


def test_every_recording_is_listed_with_its_rows_and_marks(
    reader: TestClient, records: Book
) -> None:
    text = reader.get("/c/demo/readings").text
    table = {row[0]: row for row in rows(text)}
    for entry in records.of(Recording):
        row = table[entry.record.label]
        assert row[2].replace(" ", "") == str(entry.record.rows)
        assert row[3].replace(" ", "") == str(entry.record.rows_reported)
        assert entry.record.original_sha256[:12] in text
    first, last = over_range(records)
    assert f"L2-M-U: {last - first + 1} overrange" in words(text)


def test_the_list_leads_to_every_recording(reader: TestClient, records: Book) -> None:
    text = reader.get("/c/demo/readings").text
    led = {told: address for address, told in links(text)}
    for entry in records.of(Recording):
        page = reader.get(led[entry.record.label])
        assert page.status_code == 200
        assert entry.record.original_sha256 in page.text


def test_the_part_of_the_list_is_no_whole_page(reader: TestClient) -> None:
    part = reader.get("/c/demo/readings", headers={"hx-request": "true"}).text
    assert "<html" not in part
    assert "test, Recorder A" in part


def test_the_window_s_numbers_are_those_of_the_raw_rows(
    reader: TestClient, demo_campaign: Path, records: Book
) -> None:
    told = reader.get(f"{A}/data?channel=A01&first=100&last=299").json()
    entry = records.labelled(Recording, LABEL)
    with CampaignStore.open(demo_campaign, working_context(), read_only=True) as store:
        field = next(c.field for c in entry.record.columns if c.name == "A01")
        raw = store.readings(entry.uid).window(100, 299, [field])[field].to_list()
    (panel,) = told["panels"]
    assert panel["traces"][0]["low"] == raw == panel["traces"][0]["high"]
    assert told["row"] == list(range(100, 300))
    assert panel["unit"] == "mV/V"


def test_a_gap_is_null_in_the_numbers_and_blank_in_the_table(
    reader: TestClient, records: Book
) -> None:
    begins = over_range(records)[0]
    query = f"channel=L2-M-U&first={begins - 9}&last={begins + 11}"
    (trace,) = reader.get(f"{A}/data?{query}").json()["panels"][0]["traces"]
    assert trace["low"][8] is not None
    assert trace["low"][9:] == [None] * 12
    assert trace["gap"] == [False] * 9 + [True] * 12
    table = rows(reader.get(f"{A}/table?{query}").text)
    assert [row[3] == "" for row in table[1:]] == trace["gap"]
    assert [row[4] for row in table[1:]] == [""] * 9 + ["all"] * 12


def test_the_table_and_the_csv_hold_the_numbers_of_the_drawing(
    reader: TestClient, records: Book
) -> None:
    last = last_row(records)
    query = f"channel=A01&channel=A17&first=0&last={last}&pixels=100"
    told = reader.get(f"{A}/data?{query}").json()
    answer = reader.get(f"{A}/table.csv?{query}")
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    assert answer.headers["content-disposition"] == 'attachment; filename="rows-0-' + f'{last}.csv"'
    head, *lines = csv.reader(io.StringIO(answer.text, newline=""))
    assert head[3:5] == ["L1-M-T, lowest [mV/V]", "L1-M-T, highest [mV/V]"]
    low = told["panels"][0]["traces"][0]["low"]
    assert [float(line[3]) for line in lines] == low
    assert [int(line[0]) for line in lines] == told["row"]
    assert len(rows(reader.get(f"{A}/table?{query}").text)) == len(lines) + 1


def test_a_label_that_begins_a_formula_stays_text_in_the_csv(
    writer: TestClient, tmp_path: Path, records: Book
) -> None:
    gauge = records.labelled(Gauge, "L1-M-T")
    place = tmp_path / "campaigns" / "demo"
    with CampaignStore.open(place, working_context()) as store:
        renamed = replace(gauge.record, label='=HYPERLINK("http://example.invalid")')
        store.revise(gauge.uid, gauge.version, renamed, reason="named so by a joker")
    text = writer.get(f"{A}/table.csv?channel=A01&first=0&last=20").text
    head = next(csv.reader(io.StringIO(text, newline="")))
    assert head[3].startswith("'=HYPERLINK")


def test_findings_of_the_channels_shown_are_said_and_open_their_window(
    reader: TestClient, records: Book
) -> None:
    text = reader.get(f"{A}?channel=L2-M-U").text
    finding = next(e.record for e in records.of(Finding) if e.record.code == "over-range")
    assert finding.sentence in words(text)
    (address,) = [where for where, told in links(text) if told == "over-range"]
    told = reader.get(address.replace("?", "/data?")).json()
    assert told["first"] <= finding.first_row <= finding.last_row <= told["last"]
    assert told["spans"][0]["first"] == finding.first_row


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("channel=nobody", "channel is 'nobody'"),
        ("first=10&last=5", "rows is"),
        ("first=-1&last=5", "first is '-1'"),
        ("first=x", "first is 'x'"),
        ("last=99999999", "rows is"),
        ("pixels=100000", "pixels is"),
        ("first=" + "9" * 400, "first is"),
    ],
)
def test_a_window_that_can_t_be_is_refused_in_a_sentence(
    reader: TestClient, query: str, said: str
) -> None:
    page = reader.get(f"{A}?{query}")
    assert page.status_code == 422
    assert said in words(page.text)
    assert "<svg" in page.text  # with all of the recording drawn instead
    data = reader.get(f"{A}/data?{query}")
    assert data.status_code == 422
    assert "Traceback" not in data.text


def test_links_zoom_and_move_without_leaving_the_recording(
    reader: TestClient, records: Book
) -> None:
    end = last_row(records)

    def followed(address: str, name: str) -> tuple[str, int, int]:
        found = {told: where for where, told in links(reader.get(address).text)}[name]
        first, last = (int(n) for n in re.findall(r"(?:first|last)=(\d+)", found))
        return found, first, last

    where, first, last = followed(A, "Closer")
    assert 0 < first < last < end
    where, *moved = followed(where, "Earlier")
    assert moved[0] < first
    assert moved[1] - moved[0] == last - first
    for _ in range(4):
        found = {told: there for there, told in links(reader.get(where).text)}
        if "Earlier" not in found or not found["Earlier"]:
            break
        where, *moved = followed(where, "Earlier")
    assert moved[0] == 0
    assert moved[1] - moved[0] == last - first
    _, *whole = followed(where, "All of it")
    assert whole == [0, end]


def test_a_recording_that_isn_t_there_is_not_found(reader: TestClient) -> None:
    for name in ("nobody", "%2e%2e%2fetc", "01M4WFY1R00000000000000099"):
        assert reader.get(f"/c/demo/readings/{name}").status_code == 404


def test_every_drawn_bin_of_the_whole_record_keeps_its_extremes(
    reader: TestClient, demo_campaign: Path, records: Book
) -> None:
    told = reader.get(f"{A}/data?channel=A17&pixels=100").json()
    entry = records.labelled(Recording, LABEL)
    with CampaignStore.open(demo_campaign, working_context(), read_only=True) as store:
        field = next(c.field for c in entry.record.columns if c.name == "A17")
        raw = store.readings(entry.uid).values(field)
    trace = told["panels"][0]["traces"][0]
    per = told["rows_per_bin"]
    for row, low, high in zip(told["row"], trace["low"], trace["high"], strict=True):
        part = raw[row : row + per]
        assert low == pytest.approx(float(np.nanmin(part)), rel=1e-7)
        assert high == pytest.approx(float(np.nanmax(part)), rel=1e-7)
    assert not any(math.isnan(value) for value in raw)
