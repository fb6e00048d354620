"""Handover: what leaves the campaign is listed with its hash, and only that can be taken."""

import hashlib
import re
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from gaugewright.records.gauges import Gauge
from gaugewright.records.readings import Finding, Severity
from gaugewright.services.book import Book
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


@pytest.mark.parametrize(
    "name",
    [
        "report-2.pdf",
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


@pytest.mark.long
def test_the_next_revision_is_built_beside_the_first(writer: TestClient, tmp_path: Path) -> None:
    at_work(writer, tmp_path)
    folder = tmp_path / "campaigns/demo/handover"
    first = (folder / "report-1.pdf").read_bytes()
    began = writer.post("/c/demo/work/report", headers=PART).text
    ended(writer, re.search(r"/c/demo/jobs/[0-9A-Z]{26}", began))
    assert (folder / "report-1.pdf").read_bytes() == first
    listed = [row[0] for row in rows(writer.get("/c/demo/handover").text) if len(row) == 5]
    assert listed == ["Revision", "2", "1"]
    assert writer.get("/c/demo/handover/report-2.pdf").content.startswith(b"%PDF")
