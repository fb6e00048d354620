"""Help that every page carries: what its numbers mean, the guide of its day, the first steps."""

import pytest
from fastapi.testclient import TestClient

from gaugewright.services.guides.definitions import EXPLAINED
from gaugewright.services.guides.quick_guides import guides
from gaugewright.web.explained import GUIDED, NO_QUANTITIES, SHOWN
from gaugewright.web.frame import TEMPLATES
from tests.web.reading import words


def whole_pages() -> set[str]:
    return {path.name for path in TEMPLATES.glob("[!_]*.html")} - {"base.html"}


def test_every_page_is_said_to_show_quantities_or_to_show_none() -> None:
    assert whole_pages() - set(SHOWN) - NO_QUANTITIES == set()
    assert set(SHOWN) & NO_QUANTITIES == set()


@pytest.mark.parametrize("name", sorted(NO_QUANTITIES - {"quantities.html"}))
def test_a_page_said_to_show_none_draws_no_number(name: str) -> None:
    path = TEMPLATES / name
    source = path.read_text(encoding="utf-8") if path.exists() else ""
    assert "_number.html" not in source


def test_what_stands_on_pages_is_explained_and_what_guides_them_is_there() -> None:
    assert {name for names in SHOWN.values() for name in names} <= set(EXPLAINED)
    assert set(GUIDED) <= whole_pages()
    assert set(GUIDED.values()) == {one.key for one in guides()}


def test_a_sheet_with_numbers_says_what_they_mean_without_a_script(client: TestClient) -> None:
    text = client.get("/c/beam/gates").text
    assert 'href="#meaning"' in text
    assert 'id="means-insulation_resistance"' in text
    assert "Resistance of grid or lead to the metal." in words(text)
    assert 'href="/guides/gate-check"' in text
    assert 'id="meaning"' not in client.get("/people").text


@pytest.mark.parametrize("guide", guides(), ids=lambda one: one.key)
def test_a_guide_says_when_what_to_stop_and_who_comes_first(client: TestClient, guide) -> None:
    text = words(client.get(f"/guides/{guide.key}").text)
    for told in (guide.title, guide.when, guide.stop, *guide.steps, *guide.cautions):
        assert told in text
    assert "Local codes, the products’ safety data sheets and licensed or competent" in text


def test_a_guide_that_isnt_there_is_told_so_and_all_are_listed(client: TestClient) -> None:
    assert client.get("/guides/lunch").status_code == 404
    listed = client.get("/guides").text
    assert all(f'href="/guides/{one.key}"' in listed for one in guides())


def test_first_steps_stand_beside_the_campaigns_until_done_and_can_be_called_back(
    client: TestClient,
) -> None:
    assert "name the laboratory’s own folder" in client.get("/").text
    steps = words(client.get("/first-steps").text)
    assert "3 of 4 are left." in steps  # a campaign is there, and nothing else
    assert 'href="/first-steps"' in client.get("/people").text


def test_every_quantity_is_listed_with_its_formula(client: TestClient) -> None:
    text = client.get("/quantities").text
    assert all(f'id="means-{name}"' in text for name in EXPLAINED)
    assert "4z/3 of heat" in text
