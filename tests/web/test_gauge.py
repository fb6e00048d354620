"""One gauge's page: everything the records say of it, and nothing that they don't."""

import dataclasses
import math
import re
from pathlib import Path

import numpy as np
import pytest
from starlette.testclient import TestClient

from gaugewright.records.gauges import BenchStep, Gauge
from gaugewright.records.identity import working_context
from gaugewright.records.proof import GateCheck, Person, Zero
from gaugewright.records.readings import Finding
from gaugewright.records.results import Chain, Result
from gaugewright.records.specimen import Station
from gaugewright.records.stated import Basis
from gaugewright.services.campaign.book import Book
from gaugewright.store.campaign import CampaignStore
from tests.web.reading import rows, words

LABEL = "L1-M-T"
LIFE = "/c/demo/gauges/L1-M-U"


@pytest.fixture(scope="module")
def text(reader: TestClient) -> str:
    return reader.get(f"/c/demo/gauges/{LABEL}").text


def test_the_card_stands_as_it_was_typed(text: str) -> None:
    # 350 ohm +- 0.3 % (limit), 2.08 +- 1 % (k = 2), slope 0.009 %/K, as the invented card says.
    seen = words(text)
    assert "350.0 ± 1.1 Ω, limit" in seen  # 1.05 rounded up at two digits
    assert "2.080 ± 0.021, k = 2" in seen
    assert "90 ± 15 ×10⁻⁶/K" in seen
    assert "lot Q7-0418 (invented)" in seen


def test_every_gate_reading_stands_as_it_was_typed(text: str, records: Book) -> None:
    gauge = records.labelled(Gauge, LABEL)
    mine = [c.record for c in records.of(GateCheck) if c.record.gauge == gauge.uid]
    assert len(mine) == 7
    table = rows(text)
    for check in mine:
        row = next(row for row in table if row and row[0].startswith(check.gate.value))
        assert row[1] == check.verdict.value
        for reading in check.readings:
            assert any(cell.startswith(reading.typed) for cell in row[2:]), reading
        assert any(check.reason in cell for row in table for cell in row)


def test_the_area_at_the_gauge_is_the_bar_less_both_flats(text: str) -> None:
    # 200.4 mm² by mass; two flats 5 mm wide on a core of 15.97 mm: segments by summing strips.
    radius, width = 15.97 / 2, 5.0
    foot = math.sqrt(radius**2 - (width / 2) ** 2)
    heights = np.linspace(foot, radius, 200_001)
    chords = 2 * np.sqrt(np.clip(radius**2 - heights**2, 0, None))
    left = 200.4 - 2 * float(np.trapezoid(chords, heights))
    shown = re.search(r"Area at the gauge ([0-9.]+) ± ([0-9.]+) mm²", words(text))
    assert shown is not None
    assert float(shown[1]) == pytest.approx(left, abs=0.006)


def test_every_bench_step_tells_who_did_it(text: str, records: Book) -> None:
    gauge = records.labelled(Gauge, LABEL)
    table = rows(text)
    steps = [s.record for s in records.of(BenchStep) if s.record.gauge == gauge.uid]
    assert len(steps) == 5
    for step in steps:
        row = next(row for row in table if row and row[0] == step.step)
        assert records.entry(step.person, Person).record.name in row


def test_every_zero_is_kept_and_says_what_it_is_worth_later(text: str, records: Book) -> None:
    gauge = records.labelled(Gauge, LABEL)
    circuits = {
        c.uid for c in records.every() if any(a.gauge == gauge.uid for a in _arms(c.record))
    }
    connections = {e.uid for e in records.every() if getattr(e.record, "subject", None) in circuits}
    zeros = [z.record for z in records.of(Zero) if z.record.connection in connections]
    assert len(zeros) == 3
    table = rows(text.partition("<h2>Zeros</h2>")[2].partition("</section>")[0])
    for zero in zeros:
        (row,) = (row for row in table if row[0] == zero.kind.value)
        ratio = float(row[2].replace("−", "-"))
        assert ratio == pytest.approx(1000 * zero.bridge_ratio.value, rel=1e-4)  # mV/V
        assert ("carried over" in row[-1]) == bool(zero.carried_to)


def _arms(record: object) -> tuple[object, ...]:
    return getattr(record, "arms", ())


def test_what_nobody_measured_is_called_assumed(text: str, records: Book) -> None:
    chain = next(c.record for c in records.of(Chain) if c.record.label.startswith(LABEL))
    assumed = [s for s in chain.sources if s.basis == Basis.ASSUMED.value]
    assert assumed
    seen = words(text)
    for source in assumed:
        assert f"assumed : {source.words}" in seen or f"assumed: {source.words}" in seen


def test_its_findings_and_results_stand_there(text: str, records: Book) -> None:
    gauge = records.labelled(Gauge, LABEL)
    seen = words(text)
    findings = [f.record.sentence for f in records.of(Finding) if f.record.subject == gauge.uid]
    results = [r.record.label for r in records.of(Result) if gauge.uid in r.record.subjects]
    assert findings
    assert results
    for sentence in (*findings, *results):
        assert sentence in seen


def test_a_change_shows_both_versions_in_its_history(writer: TestClient, tmp_path: Path) -> None:
    with CampaignStore.open(tmp_path / "campaigns/demo", working_context()) as store:
        station = store.labelled(Station, LABEL)
        moved = dataclasses.replace(station.record, distance_planned=2.08)
        store.revise(station.uid, station.version, moved, reason="drawing B says so")
    seen = words(writer.get(f"/c/demo/gauges/{LABEL}").text)
    assert "station L1-M-T changed, version 2: drawing B says so" in seen
    assert "planned 2 080 mm" in seen


def test_a_gauge_of_which_nothing_is_known_yet_has_a_page(
    writer: TestClient, tmp_path: Path
) -> None:
    with CampaignStore.open(tmp_path / "campaigns/demo", working_context()) as store:
        known = store.labelled(Gauge, LABEL).record
        place = store.entry(known.station).record
        station = store.add(
            dataclasses.replace(place, label="spare", distance_built=None, angle_built=None)
        )
        store.add(Gauge("spare", known.pack, station.uid))
    answer = writer.get("/c/demo/gauges/spare")
    assert answer.status_code == 200
    seen = words(answer.text)
    assert "not yet" in seen
    assert "as planned" in seen
    assert "it is not wired yet" in seen
    assert "Measure spare: nothing was read of it yet." in words(writer.get("/c/demo/").text)


def test_us_units_reach_the_card_and_the_station(writer: TestClient, tmp_path: Path) -> None:
    with CampaignStore.open(tmp_path / "campaigns/demo", working_context()) as store:
        entry = store.campaign
        record = dataclasses.replace(entry.record, units="us")
        store.revise(entry.uid, entry.version, record, reason="for a customer")
    seen = words(writer.get(f"/c/demo/gauges/{LABEL}").text)
    assert "81.5 in from the west end of the bar" in seen  # 2070 mm / 25.4


def test_an_unknown_gauge_is_a_sentence(reader: TestClient) -> None:
    answer = reader.get("/c/demo/gauges/G99")
    assert answer.status_code == 404
    assert "G99" in words(answer.text)


def test_every_stop_of_a_life_leads_to_its_part_and_to_a_page_that_is_there(
    reader: TestClient,
) -> None:
    text = reader.get(LIFE).text
    stops = re.findall(r'<li><a href="#(\w+)">', text)
    assert stops == [
        "pack", "bench", "gates", "wiring", "readings", "findings", "results", "report",
    ]  # fmt: skip
    for part in stops:
        section = text[text.index(f'id="{part}"') :]
        url = re.search(r'<a href="(/c/demo/[^"]+)">', section)
        assert url is not None, part
        assert reader.get(url[1]).status_code == 200, url[1]


def test_a_report_says_whether_it_knows_all_that_is_written_of_a_gauge(reader: TestClient) -> None:
    row = next(row for row in rows(reader.get(LIFE).text) if row[:1] == ["report 1"])
    assert row[2] == "all that is written of L1-M-U"  # the demo builds it last


def test_the_end_of_a_gauges_number_finds_it(reader: TestClient, records: Book) -> None:
    found = re.search(r"Number ends in <b[^>]*>(\w{4})</b>", reader.get(LIFE).text)
    assert found is not None
    same = [g for g in records.of(Gauge) if g.uid.endswith(found[1])]
    assert [g.record.label for g in same] == ["L1-M-U"]
    answer = reader.get("/c/demo/search", params={"label": found[1].lower()})
    assert str(answer.url).endswith("/gauges/L1-M-U")
    for kind, place, end in ((Result, "budget", 8), (BenchStep, "bench/kept", 4)):
        uid = records.of(kind)[0].uid
        printed = f"#{uid[-end:].lower()}"
        ends = [e.uid for e in records.of(kind) if e.uid.endswith(uid[-end:])]
        answer = reader.get("/c/demo/search", params={"label": printed}, follow_redirects=False)
        assert answer.headers["location"].endswith(tuple(f"{place}/{one}" for one in ends))
