"""Handover: what leaves the campaign is listed with its hash, and only that can be taken."""

import dataclasses
import hashlib
import re
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from starlette.testclient import TestClient

from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import working_context
from gaugewright.records.proof import GateCheck, Verdict
from gaugewright.records.readings import Decision, Event, Finding, Severity
from gaugewright.services.campaign.book import Book
from gaugewright.services.handover import reports_built
from gaugewright.store.campaign import CampaignStore
from tests.web.reading import rows, words
from tests.web.test_results import PART, at_work, ended


def test_a_report_is_listed_with_the_hash_of_its_bytes(
    reader: TestClient, demo_campaign: Path
) -> None:
    content = (demo_campaign / "handover/report-1.pdf").read_bytes()
    (row,) = (row for row in rows(reader.get("/c/demo/handover").text) if row and row[0] == "1")
    assert hashlib.sha256(content).hexdigest() in row
    answer = reader.get("/c/demo/handover/report-1.pdf")
    assert answer.content == content
    assert answer.headers["content-type"] == "application/pdf"
    assert 'filename="demo-report-1.pdf"' in answer.headers["content-disposition"]


def test_the_same_report_as_one_page_is_taken_as_a_file(reader: TestClient) -> None:
    answer = reader.get("/c/demo/handover/report-1.html")
    assert answer.headers["content-type"].startswith("text/html")
    assert answer.headers["content-disposition"].startswith("attachment")
    assert 'href="/c/demo/handover/report-1.html"' in reader.get("/c/demo/handover").text


@pytest.mark.parametrize(
    "name",
    [
        "report-2.pdf",
        "report-2.html",
        "..%2Fcampaign.sqlite",
        "%2E%2E%2F%2E%2E%2Fetc%2Fpasswd",
        "report-1.pdf%00",
        ".",
    ],
)
def test_nothing_but_a_listed_report_can_be_taken(reader: TestClient, name: str) -> None:
    answer = reader.get(f"/c/demo/handover/{name}")
    assert answer.status_code == 404 or answer.headers["content-type"].startswith("text/html")
    assert b"SQLite" not in answer.content
    assert b"root:" not in answer.content


def test_a_file_that_only_looks_like_one_isnt_listed(writer: TestClient, tmp_path: Path) -> None:
    (tmp_path / "campaigns/demo/handover/notes.txt").write_text("mine", encoding="utf-8")
    assert writer.get("/c/demo/handover/notes.txt").status_code == 404


def test_the_register_names_every_gauge_no_answer_rests_on(
    reader: TestClient, records: Book
) -> None:
    text = reader.get("/c/demo/handover").text
    register = rows(text.partition("<h2>Register of states</h2>")[2])[1:]
    grave = [f.record for f in records.of(Finding) if f.record.severity is not Severity.NOTE]
    named = {records.entry(f.subject, Gauge).record.label for f in grave}
    assert {row[0] for row in register} == named
    for row in register:
        mine = [f for f in grave if records.label(f.subject) == row[0]]
        assert row[1] == ("lost" if any(f.severity is Severity.LOST for f in mine) else "doubtful")
        assert all(finding.sentence in row[3] for finding in mine)
        assert re.search(r"\d{4}, \d\d:\d\d$", row[2])


def test_a_gauge_that_failed_a_gate_is_bad_since_the_first_it_failed(
    reader: TestClient, records: Book
) -> None:
    register = rows(reader.get("/c/demo/handover").text.partition("Register of states</h2>")[2])
    since = {row[0]: row[2] for row in register[1:]}
    found = [f.record for f in records.of(Finding) if f.record.code == "gate failed"]
    others = {f.record.subject for f in records.of(Finding) if f.record.severity is Severity.LOST}
    assert found
    for finding in found:
        if finding.subject in others and finding.severity is not Severity.LOST:
            continue  # since it was lost
        checks = [c.record for c in records.of(GateCheck) if c.record.gauge == finding.subject]
        times = {max(r.measured for r in c.readings): c.verdict for c in checks}
        passed = max((at for at, said in times.items() if said is Verdict.PASS), default=None)
        first = min(
            at
            for at, said in times.items()
            if said is Verdict.FAIL and (passed is None or at > passed)
        )
        local = first.astimezone(ZoneInfo("Europe/Rome"))
        assert since[records.label(finding.subject)] == f"{local.day} {local:%b %Y, %H:%M}"


def test_open_findings_and_unconfirmed_limits_are_told_before_it_goes_out(
    reader: TestClient,
) -> None:
    seen = words(reader.get("/c/demo/handover").text)
    assert "findings are open: the report says so" in seen
    assert "nobody here has confirmed them" in seen


def test_an_empty_campaign_says_why_there_is_no_report(client: TestClient) -> None:
    text = client.get("/c/beam/handover").text
    assert "There is no gauge to report on yet." in words(text)
    assert "disabled" in text


def test_a_report_written_elsewhere_is_listed_and_its_number_is_taken(
    writer: TestClient, tmp_path: Path
) -> None:
    out = tmp_path / "us.pdf"
    out.write_bytes(b"%PDF invented")
    moment = datetime(2026, 10, 14, 9, 30, tzinfo=UTC)
    with CampaignStore.open(tmp_path / "campaigns/demo", working_context()) as store:
        assert reports_built.next_revision(store) == 2
        reports_built.note_built(store, 2, out, moment)
        assert reports_built.next_revision(store) == 3
        event = store.entries(Event)[-1]
        store.withdraw(event.uid, event.version, reason="looked wrong")
        assert reports_built.next_revision(store) == 3  # a number is never used again
        reports_built.note_built(store, 3, out, moment)
    (row,) = (row for row in rows(writer.get("/c/demo/handover").text) if row and row[0] == "3")
    assert "written elsewhere" in row
    assert "us.pdf" in row
    assert hashlib.sha256(out.read_bytes()).hexdigest() in row
    assert "14 Oct" in row[2]


def test_numbers_that_are_behind_are_told_before_a_report_is_built(
    writer: TestClient, tmp_path: Path
) -> None:
    at_work(writer, tmp_path)
    newer = "A recording, a load step or a finding is newer than these numbers."
    with CampaignStore.open(tmp_path / "campaigns/demo", working_context()) as store:
        for entry in store.entries(Finding)[:1]:
            changed = dataclasses.replace(
                entry.record, decision=Decision.REJECTED, reason="looked at it"
            )
            store.revise(entry.uid, entry.version, changed, reason="looked at it")
    page = writer.get("/c/demo/handover").text
    assert newer in words(page)
    assert page.index("Reduce first") < page.index("Build the next revision")
    assert 'action="/c/demo/work/reduce"' in page


@pytest.mark.long
def test_the_next_revision_is_built_beside_the_first(writer: TestClient, tmp_path: Path) -> None:
    at_work(writer, tmp_path)
    folder = tmp_path / "campaigns/demo/handover"
    first = (folder / "report-1.pdf").read_bytes()
    began = writer.post("/c/demo/work/report", headers=PART).text
    found = re.search(r"/c/demo/jobs/[0-9A-Z]{26}", began)
    ended(writer, found)
    assert found is not None
    # The list beside the work is older than what it wrote: the page reads itself again.
    assert writer.get(found[0], headers=PART).headers["hx-refresh"] == "true"
    assert "hx-refresh" not in writer.get(found[0]).headers
    assert (folder / "report-1.pdf").read_bytes() == first
    listed = [row[0] for row in rows(writer.get("/c/demo/handover").text) if len(row) == 6]
    assert listed == ["Revision", "2", "1"]
    assert writer.get("/c/demo/handover/report-2.pdf").content.startswith(b"%PDF")
