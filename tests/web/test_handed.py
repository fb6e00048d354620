"""Sheets and archives are made by jobs, and only those that are listed can be taken."""

import re
import zipfile
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from gaugewright.records.identity import working_context
from gaugewright.services.dispatching.kinds import KINDS
from gaugewright.services.work import jobs
from gaugewright.store.campaign import CampaignStore
from tests.web.test_import_pages import ANSWERS, PULL
from tests.web.test_results import at_work, ended


def test_the_page_lists_every_receiver_before_anything_is_made(reader: TestClient) -> None:
    text = reader.get("/c/demo/handed").text
    assert text.count("not made yet") == 5
    assert "Archives will stand here" in text
    assert 'href="/c/demo/handed"' in reader.get("/c/demo/handover").text


@pytest.mark.parametrize(
    "name", ["archive-1.zip", "sheet-crew.pdf", "report-1.pdf", "..%2Fcampaign.sqlite"]
)
def test_nothing_but_what_is_listed_can_be_taken(reader: TestClient, name: str) -> None:
    answer = reader.get(f"/c/demo/handed/{name}")
    assert answer.status_code == 404
    assert b"SQLite" not in answer.content


def test_an_archive_without_a_licence_isn_t_begun(writer: TestClient, tmp_path: Path) -> None:
    at_work(writer, tmp_path)
    answer = writer.post("/c/demo/handed/archive", data={"licence": "  "})
    assert answer.status_code == 422
    assert "what others may do with the archive" in answer.text


@pytest.mark.full
def test_made_by_jobs_they_are_taken_and_proved(writer: TestClient, tmp_path: Path) -> None:
    at_work(writer, tmp_path)
    folder = tmp_path / "campaigns/demo"
    waiting = writer.post("/c/demo/import", files={"file": ("pull 1.csv", PULL)})
    ended(writer, re.match(r"\S+", str(writer.post(waiting.url, data=ANSWERS).url)))
    for url, data in (
        ("/c/demo/work/sheets", {}),
        ("/c/demo/handed/archive", {"licence": "CC0-1.0"}),
    ):
        answer = writer.post(url, data=data, follow_redirects=False)
        assert answer.status_code == 303
        ended(writer, re.match(r"\S+", answer.headers["location"]))
    text = writer.get("/c/demo/handed").text
    assert "not made yet" not in text
    for name in ("sheet-crew.pdf", "sheet-sponsor.pdf", "analyst.zip", "archive-1.zip"):
        answer = writer.get(f"/c/demo/handed/{name}")
        assert answer.content == (folder / "handover" / name).read_bytes()
    with zipfile.ZipFile(folder / "handover/archive-1.zip") as archive:
        # Under its own name, not that of the bytes which waited to be confirmed.
        assert [n for n in archive.namelist() if n.endswith("-pull_1.csv")]
    answer = writer.post("/c/demo/handed/archive-1.zip/prove", follow_redirects=False)
    ended(writer, re.match(r"\S+", answer.headers["location"]))
    assert "bit-identical" in writer.get(answer.headers["location"]).text


def test_a_damaged_archive_ends_its_job_with_what_is_wrong(tmp_path: Path, demo_campaign) -> None:
    with CampaignStore.open(demo_campaign, working_context(), read_only=True) as store:
        store.copy_to(tmp_path / "copy")
    with CampaignStore.open(tmp_path / "copy", working_context()) as store:
        (store.folder / "handover" / "archive-3.zip").write_bytes(b"no zip file")
        uid = jobs.begun(store, "prove", {"file": "archive-3.zip"})
        done = jobs.run(store, uid, KINDS)
        assert done.state is jobs.JobState.FAILED
        assert "can't be unpacked" in done.message
