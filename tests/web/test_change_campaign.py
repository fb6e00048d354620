"""Changing how a campaign is called and shown, in the app and from the command line."""

import json
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from gaugewright.cli import main
from tests.web.reading import words

FORM = {"title": "Beam in bending", "units": "us", "zone": "Europe/Rome", "purpose": ""}


@pytest.fixture
def at_work(client: TestClient) -> TestClient:
    """A browser at which somebody of the campaign is at work."""
    assert client.post("/people/choose", data={"label": "AB"}).status_code == 200
    return client


def test_units_are_changed_and_the_overview_leads_there(at_work: TestClient) -> None:
    assert "/c/beam/change" in at_work.get("/c/beam/").text
    page = at_work.get("/c/beam/change").text
    assert 'value="Europe/Rome"' in page
    answer = at_work.post("/c/beam/change", data=FORM)
    assert answer.status_code == 200
    assert "changed: units us" in words(answer.text)


def test_a_wrong_zone_is_told_beside_its_field_and_typed_text_stays(at_work: TestClient) -> None:
    answer = at_work.post("/c/beam/change", data=FORM | {"zone": "Rome", "title": "Other"})
    assert answer.status_code == 422
    assert 'id="zone-wrong"' in answer.text
    assert 'value="Other"' in answer.text


def test_the_zone_of_read_stamps_stays(writer: TestClient, tmp_path: Path, capsys) -> None:
    page = words(writer.get("/c/demo/change").text)
    assert "Fixed: stamps of readings were read by it" in page
    folder = str(tmp_path / "campaigns" / "demo")
    assert main(["change", folder, "--zone", "Asia/Tokyo"]) == 2
    assert "begin a campaign in the right zone" in capsys.readouterr().err
    assert main(["change", folder, "--units", "us", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["units"] == "us"
