"""Plan, bench and wiring as pages: every line is there, each list as CSV, plugs by form."""

import csv
import io
import re

import pytest
from starlette.testclient import TestClient

from gaugewright.records.electrical import Channel
from gaugewright.records.gauges import BenchStep, Gauge
from gaugewright.records.specimen import Question, Station
from gaugewright.services.campaign.book import Book
from tests.web.reading import links, rows, words

CHANNEL = "/c/demo/wiring/A01"
LATER = "2026-11-02 09:00"


@pytest.fixture
def at_work(writer: TestClient) -> TestClient:
    """A browser at which somebody of the demo is at work."""
    chosen = writer.get("/people").text.split('name="label" value="')[1].split('"')[0]
    assert writer.post("/people/choose", data={"label": chosen}).status_code == 200
    return writer


def table(client: TestClient, url: str) -> list[list[str]]:
    answer = client.get(url)
    assert answer.headers["content-type"].startswith("text/csv")
    return list(csv.reader(io.StringIO(answer.text)))


def test_the_plan_has_questions_stations_and_a_map(reader: TestClient, records: Book) -> None:
    answer = reader.get("/c/demo/plan")
    assert answer.status_code == 200
    found = [row[0] for row in rows(answer.text) if row]
    for entry in (*records.of(Question), *records.of(Station)):
        assert entry.record.label in found
    assert "fewer gauges" in words(answer.text)
    assert "<svg" in answer.text
    stations = table(reader, "/c/demo/plan?numbers=stations")
    assert len(stations) == 1 + len(records.of(Station))
    first = dict(zip(stations[0], stations[1], strict=True))
    assert first["distance planned [mm]"] == "2070.0"
    assert first["± of distance built [mm]"] == "2.0"


def test_the_bench_has_every_gauge_against_every_step(reader: TestClient, records: Book) -> None:
    answer = reader.get("/c/demo/bench")
    sheet = table(reader, "/c/demo/bench?numbers=sheet")
    assert [row[0] for row in sheet[1:]] == [g.record.label for g in records.of(Gauge)]
    assert sheet[0] == ["gauge", "smooth and flatten", "clean", "bond", "wire", "protect"]
    assert len(table(reader, "/c/demo/bench?numbers=steps")) == 1 + len(records.of(BenchStep))
    assert "No step is put aside." in words(answer.text)
    supplies = table(reader, "/c/demo/bench?numbers=supplies")
    assert {row[-1] for row in supplies[1:]} == {"yes", "can’t be told: no date"}


def test_the_wiring_leads_to_a_sheet_for_each_channel(reader: TestClient, records: Book) -> None:
    answer = reader.get("/c/demo/wiring")
    found = {name: url for url, name in links(answer.text)}
    for channel in records.of(Channel):
        assert reader.get(found[channel.record.label]).status_code == 200
    sheet = reader.get(CHANNEL, params={"shunt_resistance": "174.65 kohm ± 0.1 %"})
    told = {row[0]: row for row in rows(sheet.text) if len(row) == 4}
    assert set(told) >= {"T1-T2", "A-C", "A-B", "completion-B", "completion-C"}
    assert told["T1-T2"][2].startswith("−0.49")
    assert "negative excitation corner" in words(sheet.text)
    assert reader.get(CHANNEL, params={"shunt_resistance": "-3"}).status_code == 422


def test_what_isn_t_there_is_said(reader: TestClient) -> None:
    assert reader.get("/c/demo/wiring/Z99").status_code == 404
    assert reader.get("/c/demo/plan?numbers=gold").status_code == 404


def test_a_plug_is_written_down_refused_and_taken_back(at_work: TestClient) -> None:
    off = at_work.post(CHANNEL, data={"act": "disconnect", "at": LATER})
    assert off.status_code == 200
    assert "L1-M-T is off A01. It can be taken back" in words(off.text)
    assert "ends the zeros that hold through this one" in words(off.text)
    typed = {"act": "connect", "subject": "L1-M-U", "at": LATER}
    # What is plugged is chosen; a sensor is asked neither for excitation nor for a gauge factor.
    bridge, sensor = (
        off.text.split(f'name="act" value="{act}"')[1] for act in ("connect", "sense")
    )
    assert '<option value="" selected>choose</option>' in sensor
    assert "excitation" in bridge.split("</form>")[0]
    assert "excitation" not in sensor.split("</form>")[0]
    other = typed | {"subject": "L1-M-T", "completion_resistance": "120 ohm"}
    assert "must be that of bridge L1-M-T, 350 Ω" in words(at_work.post(CHANNEL, data=other).text)
    refused = at_work.post(CHANNEL, data=typed)
    assert refused.status_code == 422
    assert "connected already: L1-M-U on A02" in words(refused.text)
    made = at_work.post(CHANNEL, data=typed | {"subject": "L1-M-T", "carry": "at once"})
    assert "Carried over: before pour, with ±" in words(made.text)
    block = re.search(r'<form class="notice undo".*?</form>', made.text, re.DOTALL)
    assert block
    hidden = dict(re.findall(r'name="(\w+)" value="([^"]*)"', block[0]))
    back = at_work.post("/c/demo/undo", data=hidden)
    assert "nothing is on it now" in words(back.text)


def test_a_step_and_colours_are_kept_by_form(at_work: TestClient) -> None:
    typed = {"act": "step", "shunt_resistance": "174.65 kohm ± 0.1 %", "at": LATER}
    kept = at_work.post(CHANNEL, data=typed | {"step": "-0.2487 mV/V", "position": "T1-T2"})
    assert "Half of it" in words(kept.text)
    wrong = at_work.post(CHANNEL, data=typed | {"step": "a lot"})
    assert wrong.status_code == 422
    assert 'id="step-wrong"' in wrong.text
    colours = {"act": "colours", "circuit": "L1-M-T", "colours": "brown, grey"}
    assert "one for each of 3 wires" in words(at_work.post(CHANNEL, data=colours).text)
    done = at_work.post(CHANNEL, data=colours | {"colours": "brown, grey, violet"})
    assert ["A", "brown", "tab T1 of the gauge", "negative excitation corner"] in rows(done.text)


def test_nobody_at_work_plugs_nothing(writer: TestClient) -> None:
    answer = writer.post(CHANNEL, data={"act": "disconnect", "at": LATER})
    assert answer.status_code == 422
    assert "choose under People" in words(answer.text)


def test_zeros_are_explained_and_taken_by_form(at_work: TestClient) -> None:
    page = at_work.get("/c/demo/zeros")
    assert page.status_code == 200
    assert "Shorter, as shrinkage and unloading do" in words(page.text)
    assert len(table(at_work, "/c/demo/zeros?numbers=shifts")) > 50
    typed = {
        "kind": "bare bar",
        "recordings": "zero before test, Recorder A",
        "begins": "2026-10-13 09:00",
        "ends": "2026-10-13 09:01",
    }
    refused = at_work.post("/c/demo/zeros", data=typed | {"ends": "later"})
    assert refused.status_code == 422
    assert 'id="begins-wrong"' in refused.text
    taken = at_work.post("/c/demo/zeros", data=typed)
    assert "zeros taken;" in words(taken.text)
    none = at_work.post("/c/demo/zeros", data=typed)
    assert none.status_code == 422
    assert "No zero was taken" in words(none.text)
    assert 'value="2026-10-13 09:01"' in none.text  # what was typed stays


def test_survival_has_its_life_table(reader: TestClient) -> None:
    page = reader.get("/c/demo/survival")
    assert "30 gauges came to the first gate" in words(page.text)
    gates = table(reader, "/c/demo/survival?numbers=gates")
    assert [row[0] for row in gates[1:3]] == ["bonded", "wired"]
    assert "L2-M-U" in words(page.text)


def test_a_step_at_the_bench_is_kept_by_form(at_work: TestClient) -> None:
    typed = {"gauges": "L1-M-T; L1-M-U", "step": "bond", "temperature": "20", "humidity": "90"}
    kept = at_work.post("/c/demo/bench", data=typed)
    assert kept.status_code == 200
    assert "Bond: written down for 2 gauges. Dew point" in words(kept.text)
    assert "less than the 3 K wanted" in words(kept.text)
    wrong = at_work.post("/c/demo/bench", data=typed | {"gauges": "nobody"})
    assert wrong.status_code == 422
    assert 'id="gauges-wrong"' in wrong.text
