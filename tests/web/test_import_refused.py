"""A file that isn't understood is mended in place; its troubles are shown before it comes in."""

import html
import re
from pathlib import Path

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from gaugewright.records.identity import working_context
from gaugewright.records.readings import Recording
from gaugewright.sources import plugins
from gaugewright.store.campaign import CampaignStore
from gaugewright.web.people import Someone
from tests.web.conftest import BASE
from tests.web.reading import words

IMPORT = "/c/beam/import"
# More remarks follow the readings than there are readings: nothing is found by itself.
ODD = "".join(f"{n / 10:.1f};{n * 0.5:.2f}\n" for n in range(40)) + "".join(
    f"note {n}: nothing here\n" for n in range(260)
)
PULL = "t (s);P (kN)\n" + "".join(f"{n / 10:.1f};{n * 0.5:.2f}\n" for n in range(40))


@pytest.fixture
def at_work(app: FastAPI, client: TestClient) -> TestClient:
    people = app.state.people
    people.choose(people.devices()[0], Someone("AB", "A. Bonder (invented)"))
    return client


def handed_in(client: TestClient, text: str, name: str = "pull.csv") -> tuple[str, str, int]:
    answer = client.post(IMPORT, files={"file": (name, text.encode())})
    return str(answer.url).removeprefix(BASE), answer.text, answer.status_code


def recordings(home: Path) -> list[Recording]:
    with CampaignStore.open(home / "beam", working_context(), read_only=True) as store:
        return [entry.record for entry in store.entries(Recording)]


def hidden(page: str, name: str) -> str:
    found = re.search(rf'name="{name}" value="([^"]*)"', page)
    return html.unescape(found[1]) if found else ""


def test_a_refused_file_waits_with_its_lines_and_is_mended_in_place(at_work: TestClient) -> None:
    where, page, status = handed_in(at_work, ODD)
    assert status == 422
    assert "Not understood" in words(page)
    assert "0.3;1.50" in words(page)
    for name in ("delimiter", "first_data_row", "encoding"):
        assert f'name="{name}"' in page
    again = at_work.post(where, data={"do": "look", "delimiter": "tab", "label": "my pull"})
    assert again.status_code == 422
    # What was typed stays, also what belongs to the page that comes after.
    assert 'value="tab"' in again.text
    assert hidden(again.text, "label") == "my pull"
    stated = {"do": "look", "delimiter": "semicolon", "label": "my pull"}
    mended = at_work.post(where, data=stated)
    assert mended.status_code == 200
    assert 'value="my pull"' in mended.text


def test_answers_are_there_again_when_the_page_is_opened_later(at_work: TestClient) -> None:
    where, _, _ = handed_in(at_work, PULL)
    at_work.post(where, data={"do": "look", "label": "first pull", "unit_2": "N"})
    page = at_work.get(where).text
    assert 'value="first pull"' in page
    assert re.search(r'name="unit_2"[^>]*value="N"', page)


def test_troubles_are_shown_before_anything_is_brought_in(at_work: TestClient, home: Path) -> None:
    broken = PULL.replace("1.0;5.00\n", "1.0;5.00;7\n").replace("2.0;10.00\n", "pump off\n")
    where, page, _ = handed_in(at_work, broken)
    assert "questions the file can" in words(page)
    answers = {"do": "bring in", "label": "pull", "epoch": "none"}
    first = at_work.post(where, data=answers)
    told = words(first.text)
    assert "2 lines that are no rows" in told
    assert "line 12" in told
    assert "pump off" in told
    assert "Bring it in all the same" in words(first.text)
    assert recordings(home) == []
    agreed = at_work.post(where, data=answers | {"troubles": hidden(first.text, "troubles")})
    assert "/jobs/" in str(agreed.url)


def test_a_file_without_trouble_says_so_and_comes_in_at_once(at_work: TestClient) -> None:
    where, _, _ = handed_in(at_work, PULL)
    page = at_work.post(where, data={"do": "look", "epoch": "none"}).text
    assert "Nothing in it troubles" in words(page)
    answer = at_work.post(where, data={"do": "bring in", "label": "pull", "epoch": "none"})
    assert "/jobs/" in str(answer.url)


class Twin(plugins.DelimitedText):
    """Another importer that fits text exactly as well."""

    label = "text of the other hall"


def test_importers_that_fit_equally_well_are_shown_and_one_is_chosen(
    at_work: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(plugins, "SHIPPED", (*plugins.SHIPPED, Twin()))
    where, page, status = handed_in(at_work, PULL)
    assert status == 422
    told = words(page)
    for label in ("delimited text", Twin.label):
        assert label in told
    assert told.count("fits as well as another") >= 2
    chosen = at_work.post(where, data={"do": "look", "importer": Twin.label, "epoch": "none"})
    assert chosen.status_code == 200
    assert "Nothing in it troubles" in words(chosen.text)
