"""Cycles of a gauge on their page, and the how-to's numbers on the demo."""

import csv
import io
import json
import re
import shlex
from pathlib import Path

import numpy as np
import pytest
from starlette.testclient import TestClient

from gaugewright.cli import main
from tests.web.reading import rows

HOW_TO = Path(__file__).parents[2] / "docs" / "how-to" / "count-cycles.md"
PAGE = "/c/demo/results/cycles/L2-W-T"


def plain_spaces(text: str) -> str:
    """Spaces that may break a line, as a page of text has them."""
    return text.replace("\N{NO-BREAK SPACE}", " ").replace("\N{NARROW NO-BREAK SPACE}", " ")


def command(campaign: Path) -> list[str]:
    line = next(
        line
        for line in HOW_TO.read_text(encoding="utf-8").splitlines()
        if line.startswith("gaugewright results cycles")
    )
    words = shlex.split(line)[1:]
    words[2] = str(campaign)
    return words


def columns(table: str) -> list[list[float]]:
    """Ranges and cycles of every class, without heads and means."""
    cells = [re.split(r"\s{2,}", line)[:3] for line in table.splitlines()[2:]]
    return [[float(re.sub(r"[^0-9.]", "", cell)) for cell in row] for row in cells]


def test_the_how_to_prints_what_the_command_prints(
    demo_campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(command(demo_campaign)) == 0
    table = plain_spaces(capsys.readouterr().out.split("\n\n")[1])
    printed = HOW_TO.read_text(encoding="utf-8").partition("```text\n")[2].partition("\n```")[0]
    shown, expected = columns(table), columns(printed)
    assert [row[2] for row in shown] == [row[2] for row in expected]
    # The demo of tests is shorter than the how-to's: its largest range differs in a last digit.
    assert np.array(shown) == pytest.approx(np.array(expected), rel=2e-3)


def test_the_page_shows_the_command_s_classes_and_takes_its_gate_from_the_address(
    reader: TestClient, demo_campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*command(demo_campaign), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    page = reader.get(PAGE, params={"gate": "20"}).text
    table = rows(page.partition('id="classes"')[2])
    counts = np.sum(told["matrix"], axis=1)
    assert [float(row[1]) for row in table[1:]] == counts[counts > 0][::-1].tolist()
    assert 'name="gate" type="text" value="20"' in page
    got = reader.get(PAGE, params={"gate": "20", "numbers": "1"}).text
    cells = list(csv.reader(io.StringIO(got.lstrip("\N{ZERO WIDTH NO-BREAK SPACE}"))))[1:]
    assert sum(float(row[-1]) for row in cells) == told["cycles"]


def test_a_gauge_that_passed_yield_has_cycles_and_says_why_no_damage(reader: TestClient) -> None:
    page = reader.get("/c/demo/results/cycles/L1-M-T", params={"gate": "20"})
    assert page.status_code == 200
    assert "No damage: strain reached" in page.text
    assert "Damage as it grew" not in page.text


def test_what_can_t_be_asked_stands_beside_its_field(reader: TestClient) -> None:
    page = reader.get(PAGE, params={"curve": "no such line"})
    assert page.status_code == 422
    assert "curve-wrong" in page.text
    assert "straight bars" in page.text
    assert reader.get(PAGE, params={"gate": "-3"}).status_code == 422
    assert reader.get("/c/demo/results/cycles/nobody").status_code == 404


def test_results_lead_to_the_cycles_of_every_gauge(reader: TestClient) -> None:
    assert "/c/demo/results/cycles" in reader.get("/c/demo/results").text
    assert "/c/demo/results/cycles/L2-W-T" in reader.get("/c/demo/results/cycles").text
