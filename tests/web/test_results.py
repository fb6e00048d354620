"""Results on their page: every number is the record's, with its doubt; figures come as parts."""

import csv
import dataclasses
import io
import re
import time
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import working_context
from gaugewright.records.proof import Person
from gaugewright.records.readings import Decision, Finding
from gaugewright.records.results import Result
from gaugewright.records.specimen import Question
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.states import state_of_gauge
from gaugewright.services.handover import kept_drawings
from gaugewright.services.work import jobs
from gaugewright.store.campaign import CampaignStore
from gaugewright.web.pages import drawings as drawings_page
from tests.web.reading import links, rows, words

PART = {"hx-request": "true", "hx-request-type": "partial"}
# Shown unit of the demo's coherent units.
FACTOR = {"N": 1e3, "Pa": 1e6, "rad": 0.017453292519943295}


def table_of(text: str, title: str) -> list[list[str]]:
    return rows(text.partition(f"<h2>{title}</h2>")[2].partition("</section>")[0])


def number(text: str) -> float:
    return float(re.sub(r"[^0-9.\-]", "", text.replace("−", "-")))


def test_every_yield_load_is_the_records_rounded_by_its_doubt(
    reader: TestClient, records: Book
) -> None:
    table = table_of(reader.get("/c/demo/results").text, "Onset of yield")
    results = [r.record for r in records.of(Result) if r.record.quantity == "yield load"]
    assert len(table) == len(results) + 1
    for result in results:
        name = result.label.removeprefix("yield load").lstrip(", ").partition(" (")[0]
        (row,) = (row for row in table if row[0] == name)
        if result.value is None:
            assert result.note in row[4]
            continue
        assert result.expanded_uncertainty is not None
        doubt = number(row[3])
        assert doubt == pytest.approx(result.expanded_uncertainty / 1e3, rel=0.05)
        assert number(row[2]) == pytest.approx(result.value / 1e3, abs=doubt / 19)
        assert result.main_cause in row[4]
        assert row[5] == result.zero


def test_every_result_with_a_number_stands_in_a_table_with_its_zero(
    reader: TestClient, records: Book
) -> None:
    text = reader.get("/c/demo/results").text
    table = [row for row in rows(text) if len(row) == 6]
    shown = [number(row[2].split(" ")[0]) for row in table if re.search(r"\d", row[2])]
    stored = [
        r.record.value / FACTOR[r.record.unit]
        for r in records.of(Result)
        if r.record.value is not None
    ]
    assert len(shown) == len(stored)
    for one in stored:
        assert any(abs(one - other) <= max(0.06, 0.03 * abs(one)) for other in shown), one


def test_a_doubtful_gauge_takes_no_part_and_the_table_says_so(
    reader: TestClient, records: Book
) -> None:
    table = table_of(reader.get("/c/demo/results").text, "Onset of yield")
    row = next(row for row in table if row[0] == "L1-M-T")
    assert row[1] == "doubtful"
    assert row[4].endswith(("no part in answers", "no value is given"))


def test_every_question_is_answered_or_told_why_not(reader: TestClient, records: Book) -> None:
    seen = words(reader.get("/c/demo/results").text)
    for question in records.of(Question):
        assert question.record.text in seen


def test_figures_are_fetched_as_a_part_and_are_a_page_without_script(writer: TestClient) -> None:
    page = writer.get("/c/demo/results").text
    assert 'hx-get="/c/demo/drawings/bar/L2"' in page
    assert '<noscript><p><a href="/c/demo/drawings/bar/L2">' in page
    part = writer.get("/c/demo/drawings/bar/L2", headers=PART).text
    assert "<html" not in part
    assert part.count("<svg") == 2 * part.count("<figure")
    whole = writer.get("/c/demo/drawings/bar/L2").text
    assert "".join(part.split()) in "".join(whole.split())
    later = writer.get("/c/demo/results").text
    assert 'hx-get="/c/demo/drawings/bar/L2"' not in later
    assert "Bar L2 under load" in later


def test_a_kept_figure_is_not_drawn_again_until_a_record_changes(
    writer: TestClient, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn: list[str] = []
    as_it_is = kept_drawings.bar_drawings

    def counted(page: object, bar: object, step: object) -> object:
        drawn.append("once")
        return as_it_is(page, bar, step)  # type: ignore[arg-type]

    monkeypatch.setattr(kept_drawings, "bar_drawings", counted)
    first = writer.get("/c/demo/drawings/bar/L1", headers=PART).text
    assert writer.get("/c/demo/drawings/bar/L1", headers=PART).text == first
    assert drawn == ["once"]
    with CampaignStore.open(tmp_path / "campaigns/demo", working_context()) as store:
        finding = next(f for f in store.entries(Finding) if "L1-M-T" in f.record.sentence)
        lost = dataclasses.replace(finding.record, decision=Decision.REJECTED, reason="looked")
        store.revise(finding.uid, finding.version, lost, reason="looked")
    writer.get("/c/demo/drawings/bar/L1", headers=PART)
    assert drawn == ["once", "once"]
    assert len(list((tmp_path / "campaigns/demo/cache/drawings").iterdir())) == 1


def test_a_cut_or_deleted_cache_costs_only_time(writer: TestClient, tmp_path: Path) -> None:
    import shutil

    first = writer.get("/c/demo/drawings/bar/L1", headers=PART).text
    shutil.rmtree(tmp_path / "campaigns/demo/cache/drawings")
    assert writer.get("/c/demo/drawings/bar/L1", headers=PART).text == first


def test_the_numbers_behind_a_curve_can_be_taken(reader: TestClient) -> None:
    answer = reader.get("/c/demo/drawings/gauge/L2-W-U?numbers=0")
    assert answer.headers["content-type"].startswith("text/csv")
    table = list(csv.reader(io.StringIO(answer.text)))
    assert table[0] == [
        "gauge",
        "load, kN",
        "strain at the gauge, µε",
        "expanded uncertainty, 95 %",
    ]
    assert {row[0] for row in table[1:]} == {"L2-W-U"}
    there = [row for row in table[1:] if row[2]]
    assert len(there) > 300
    assert max(float(row[2]) for row in there) > 2000  # the bar yields above 2704 µε
    assert all(float(row[3]) > 0 for row in there)
    assert all(row[3] == "" for row in table[1:] if not row[2])  # missing, never filled in


def test_results_can_be_taken_in_si(reader: TestClient, records: Book) -> None:
    table = list(csv.DictReader(io.StringIO(reader.get("/c/demo/results/numbers.csv").text)))
    assert len(table) == len(records.of(Result))
    for row, entry in zip(table, records.of(Result), strict=True):
        assert row["result"] == entry.record.label
        assert row["value"] == ("" if entry.record.value is None else repr(entry.record.value))
        assert (row["uid"], row["version"]) == (entry.uid, str(entry.version))
        states = {
            state_of_gauge(records, records.entry(uid, Gauge)).value
            for uid in entry.record.subjects
        }
        assert row["state"] in states
        if states & {"repair", "doubtful", "lost"}:
            assert row["state"] not in ("sound", "watch")
            assert row["in an answer"] == "no"
    assert {row["in an answer"] for row in table} == {"yes", "no"}


@pytest.mark.parametrize(
    "path",
    ["drawings/bar/none", "drawings/gauge/none", "drawings/wall/L1", "drawings/bar/L1?numbers=9"],
)
def test_a_figure_of_nothing_is_a_sentence(reader: TestClient, path: str) -> None:
    answer = reader.get(f"/c/demo/{path}")
    assert answer.status_code in (404, 422)
    assert 'role="alert"' in answer.text


def test_nothing_is_reduced_before_somebody_is_at_work(writer: TestClient) -> None:
    page = writer.get("/c/demo/results").text
    assert 'action="/c/demo/work/reduce"' not in page
    assert ("/people", "Say who is at work") in links(page)
    answer = writer.post("/c/demo/work/reduce")
    assert answer.status_code == 422
    assert "choose under People" in words(answer.text)


def test_only_known_work_is_begun(writer: TestClient) -> None:
    assert writer.post("/c/demo/work/delete").status_code == 404


def test_a_second_click_joins_the_work_that_goes_on(
    writer: TestClient, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    at_work(writer, tmp_path)
    # Written down, never run: it waits for as long as the test looks.
    monkeypatch.setattr(jobs, "submit", lambda store, kind, parameters: jobs.begun(store, kind, {}))
    assert 'action="/c/demo/work/reduce"' in writer.get("/c/demo/results").text
    first = writer.post("/c/demo/work/reduce", headers=PART).text
    second = writer.post("/c/demo/work/reduce", headers=PART).text
    assert first == second
    assert "Reducing the readings" in words(first)
    assert "Reducing the readings" in words(writer.get("/c/demo/results").text)
    elsewhere = writer.post("/c/demo/work/reduce", follow_redirects=False)
    assert elsewhere.status_code == 303
    assert re.fullmatch(r"/c/demo/jobs/[0-9A-Z]{26}", elsewhere.headers["location"])


@pytest.mark.long
def test_reducing_again_after_a_decision_changes_the_page(
    writer: TestClient, tmp_path: Path
) -> None:
    at_work(writer, tmp_path)
    folder = tmp_path / "campaigns/demo"
    with CampaignStore.open(folder, working_context()) as store:
        gauge = store.labelled(Gauge, "L1-M-T")
        for entry in store.entries(Finding):
            if entry.record.subject == gauge.uid:
                no = dataclasses.replace(entry.record, decision=Decision.REJECTED, reason="looked")
                store.revise(entry.uid, entry.version, no, reason="looked")
    page = writer.get("/c/demo/results").text
    assert "A recording, a load step or a finding is newer than these numbers." in words(page)
    assert "L1-M-T with L1-M-U" not in page
    began = writer.post("/c/demo/work/reduce", headers=PART).text
    shares = ended(writer, re.search(r"/c/demo/jobs/[0-9A-Z]{26}", began))
    assert any(0 < share < 100 for share in shares)  # it was seen moving
    page = writer.get("/c/demo/results").text
    assert "is newer than these numbers" not in words(page)
    assert any(row and row[0] == "L1-M-T with L1-M-U" for row in rows(page))


def at_work(client: TestClient, folder: Path) -> None:
    with CampaignStore.open(folder / "campaigns/demo", working_context(), read_only=True) as store:
        label = store.entries(Person)[0].record.label
    client.post("/people/choose", data={"label": label})


def ended(client: TestClient, found: re.Match[str] | None, *, within: float = 200) -> list[int]:
    """Percents seen until a job ended well."""
    assert found is not None
    shares: list[int] = []
    until = time.monotonic() + within
    while time.monotonic() < until:
        text = client.get(found[0], headers=PART).text
        value = re.search(r'value="(\d+)"', text)
        if value is None:
            assert "done." in words(text), words(text)
            return shares
        shares.append(int(value[1]))
        time.sleep(0.2)
    raise AssertionError(f"still at work after {within} s: {shares[-1]} %")


def test_many_figures_of_a_bar_come_a_few_at_a_time_each_with_its_own_numbers(
    reader: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    numbers = kept_drawings.Samples("g", (1.0,), (2.0,), (0.1,))
    many = tuple(
        kept_drawings.KeptDrawing("<svg/>", "<svg/>", f"Plot {n}", "", "", "x", "y", (numbers,))
        for n in range(10)
    )
    monkeypatch.setattr(drawings_page, "drawings", lambda *_: many)
    url: str | None = "/c/demo/drawings/bar/L3"
    seen: list[str] = []
    while url is not None:
        text = reader.get(url, headers=PART).text
        titles = re.findall(r"<b>(Plot \d+)\.</b>", text)
        assert 0 < len(titles) <= 4
        seen += titles
        csv_urls = re.findall(r"bar/L3\?numbers=(\d+)", text)
        assert [f"Plot {n}" for n in csv_urls] == titles
        more = re.search(r'href="([^"]*first=\d+)"', text)
        url = more[1] if more else None
    assert seen == [one.title for one in many]
    assert reader.get("/c/demo/drawings/bar/L3?first=-1").status_code == 404
