"""A gauge over its whole record on its page: what is listed, drawn and taken away as numbers."""

import csv
import io
import json
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from gaugewright.cli import main
from tests.web.reading import rows

PAGE = "/c/demo/results/long/L2-M-T"


def told(folder: Path, capsys: pytest.CaptureFixture[str]) -> dict[str, object]:
    assert main(["results", "long", str(folder), "L2-M-T", "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_every_gauge_leads_to_its_record(reader: TestClient) -> None:
    page = reader.get("/c/demo/results/long")
    assert page.status_code == 200
    assert f'href="{PAGE}"' in page.text
    assert 'href="/c/demo/results/long"' in reader.get("/c/demo/results").text


def test_the_page_has_the_command_s_segments_and_gaps(
    reader: TestClient, demo_campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plain = told(demo_campaign, capsys)
    page = reader.get(PAGE)
    assert page.status_code == 200
    for table in ("segments", "gaps"):
        part = page.text.partition(f'id="{table}"')[2].partition("</section>")[0]
        assert len(rows(part)) == 1 + len(plain[table])  # type: ignore[arg-type]
    assert "zero carried over: two contacts remade" in page.text
    assert "Not fitted: no cycle of a year" in page.text


def test_the_numbers_of_the_record_can_be_taken_with_their_segment(
    reader: TestClient, demo_campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plain = told(demo_campaign, capsys)
    sent = reader.get(PAGE, params={"numbers": 0})
    assert sent.headers["content-type"].startswith("text/csv")
    heads, *numbers = csv.reader(io.StringIO(sent.text))
    assert heads[0] == "time, s since 1970 UTC"
    numbered = {float(row[1]) for row in numbers}
    assert len(numbered) == len(plain["segments"])  # type: ignore[arg-type]
    assert all(float(row[3]) > 0 for row in numbers)
    assert reader.get(PAGE, params={"numbers": 9}).status_code == 404


def test_a_gauge_without_a_record_says_what_is_missing(reader: TestClient) -> None:
    assert reader.get("/c/demo/results/long/NO-SUCH").status_code == 404
