"""A quantity recorded twice on its page: the command's numbers, its clocks, and what can't be."""

import csv
import io
import json
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from gaugewright.cli import main
from tests.web.reading import rows

PAGE = "/c/demo/results/twice"
FIRST, SECOND = "test, Recorder A / A22", "test, Recorder B / B16"
ASKED = {"first": FIRST, "second": SECOND, "apart": "5"}


def test_results_lead_to_the_page_and_it_asks_for_two_columns(reader: TestClient) -> None:
    assert f'href="{PAGE}"' in reader.get("/c/demo/results").text
    page = reader.get(PAGE)
    assert page.status_code == 200
    assert "Choose two columns" in page.text
    assert FIRST in page.text


def test_gain_and_clocks_are_those_of_the_command(
    reader: TestClient, demo_campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = reader.get(PAGE, params=ASKED)
    assert page.status_code == 200
    given = ["test, Recorder A", "A22", "test, Recorder B", "B16", "--apart", "5"]
    assert main(["results", "twice", str(demo_campaign), *given]) == 0
    said = capsys.readouterr().out.replace("\xa0", " ")
    for part in ("gain", "clocks"):
        shown = rows(page.text.partition(f'id="{part}"')[2].partition("</section>")[0])
        assert len(shown) >= 5
        for what, value, note in shown[1:]:
            line = next(line for line in said.splitlines() if line.startswith(what + "  "))
            assert value in line
            assert note in line


def test_the_numbers_of_a_figure_can_be_taken(reader: TestClient) -> None:
    sent = reader.get(PAGE, params=ASKED | {"numbers": "1"})
    assert sent.headers["content-type"].startswith("text/csv")
    heads, *numbers = csv.reader(io.StringIO(sent.text))
    assert heads == ["time, s since 1970 UTC", "first, V", "second, V", "left"]
    assert len(numbers) > 300
    assert reader.get(PAGE, params=ASKED | {"numbers": "9"}).status_code == 404


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"second": FIRST}, "another column than the first"),
        ({"second": "nothing"}, "chosen from the list"),
        ({"second": "test, Recorder A / A01", "apart": "5"}, ""),
        ({"apart": "soon"}, "apart"),
        ({"apart": "-1"}, "a time above 0"),
    ],
)
def test_what_cant_be_compared_is_said_beside_its_field(
    reader: TestClient, changed: dict[str, str], said: str
) -> None:
    page = reader.get(PAGE, params=ASKED | changed)
    assert page.status_code in (200, 422)
    assert said in page.text
    if changed.get("second", "").endswith("A01"):
        assert 'id="clocks"' not in page.text  # one recording has one clock


def test_the_command_tells_the_clocks_as_data(
    demo_campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    given = ["test, Recorder A", "A22", "test, Recorder B", "B16", "--apart", "5", "--json"]
    assert main(["results", "twice", str(demo_campaign), *given]) == 0
    clocks = json.loads(capsys.readouterr().out)["clocks"]
    assert abs(clocks["behind"][0]) < 3 * clocks["standard_uncertainty"][0]
