"""A section's sheet: the same numbers as the service has, steps without a script, its faults."""

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from gaugewright.records.identity import working_context
from gaugewright.services.campaign.book import Book
from gaugewright.services.planes import look as section_look
from gaugewright.services.planes import words as section_words
from gaugewright.services.planes.look import SectionLook
from gaugewright.services.strain.strains import Desk
from gaugewright.store.campaign import CampaignStore
from tests.web.reading import links, words

SHEET = "/c/demo/results/sections/H3%20at%201.80%20m"


@pytest.fixture(scope="module")
def look(demo_campaign: Path) -> SectionLook:
    with CampaignStore.open(demo_campaign, working_context(), read_only=True) as store:
        return section_look.look_at_section(Desk(store, Book.read(store)), "H3 at 1.80 m")


def test_results_lead_to_the_list_and_the_list_to_every_section(reader: TestClient) -> None:
    assert "/c/demo/results/sections" in [u for u, _ in links(reader.get("/c/demo/results").text)]
    found = [u for u, _ in links(reader.get("/c/demo/results/sections").text) if "/sections/" in u]
    assert len(found) == 3
    assert SHEET in found


def test_the_sheet_shows_the_numbers_of_the_instant_asked_for(
    reader: TestClient, look: SectionLook
) -> None:
    row = section_look.row_at(look, load=160e3)
    text = words(reader.get(SHEET, params={"at": row}).text)
    for value, quantity in (
        (look.series.planes.curvature[row], "curvature"),
        (look.series.inside[row], "moment"),
        (look.series.applied[row], "moment"),
    ):
        assert words(section_words.number_text(value, quantity, "si")) in text
    for gauge in look.section.gauges:
        assert gauge.label in text


def test_steps_need_no_script(reader: TestClient, look: SectionLook) -> None:
    page = reader.get(SHEET).text
    urls = [url for url, _ in links(page)]
    for hold in look.held:
        assert f"{SHEET}?at={section_look.row_of_hold(look, hold)}#instant" in urls
    assert '<input type="range" name="at"' in page
    assert 'method="get"' in page


def test_the_handle_gets_the_instant_alone(reader: TestClient) -> None:
    part = reader.get(SHEET, params={"at": 100}, headers={"HX-Request": "true"}).text
    assert "<html" not in part
    assert 'id="section-now"' in part
    whole = reader.get(SHEET, params={"at": 100}).text
    assert words(part) in words(whole)


def test_both_axes_on_request(reader: TestClient) -> None:
    page = words(reader.get(SHEET, params={"biaxial": "true"}).text)
    assert "Curvature to the right" in page
    assert "Curvature to the right" not in words(reader.get(SHEET).text)


def test_no_such_section_or_instant_is_told(reader: TestClient) -> None:
    assert reader.get("/c/demo/results/sections/nowhere").status_code == 404
    answer = reader.get(SHEET, params={"at": 99999})
    assert answer.status_code == 422
    assert "from 0 to" in words(answer.text)
