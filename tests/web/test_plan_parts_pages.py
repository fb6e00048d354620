"""Pages of what a plan comes to: made from their contexts, with CSV, forms and refusals."""

import dataclasses
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from gaugewright import settings
from gaugewright.records.gauges import GaugePack
from gaugewright.records.identity import working_context
from gaugewright.records.specimen import Station
from gaugewright.services.campaign.book import Book
from gaugewright.services.plan.packs import assumed_packs
from gaugewright.services.plan.packs_on_hand import on_hand
from gaugewright.services.plan.packs_typed import kept_of
from gaugewright.store.campaign import CampaignStore
from gaugewright.web.app import create_app
from gaugewright.web.people import Someone
from tests.services import planned_campaigns as made
from tests.web.conftest import BASE, TOKEN
from tests.web.reading import rows, words
from tests.web.test_frame import assert_plain, drawn, names_used
from tests.web.test_guard_text import assert_nothing_runs

__all__ = ["drawn"]  # a fixture: pytest finds it here by its name

ALWAYS = {"frame", "static"}
PARTS = ("questions", "prediction", "selection", "electrical", "packs")


@pytest.fixture
def lab(tmp_path: Path) -> settings.Settings:
    (tmp_path / "lab").mkdir()
    return settings.load(
        {"laboratory": str(tmp_path / "lab")}, environment={}, user_folder=tmp_path / "none"
    )


@pytest.fixture
def planner(tmp_path: Path, lab: settings.Settings) -> Iterator[TestClient]:
    """A browser in front of a brace that is only planned, with somebody at work."""
    made.brace(tmp_path / "campaigns" / "brace")
    app = create_app(lab, tmp_path / "campaigns", token=TOKEN)
    with TestClient(app, base_url=BASE, headers={"origin": BASE}) as client:
        assert client.get("/", params={"key": TOKEN}).status_code == 200
        people = app.state.people
        people.choose(people.devices()[0], Someone("AB", "A. Bonder (invented)"))
        yield client


def test_every_part_is_made_from_its_context_and_leads_to_the_others(
    planner: TestClient, drawn: list[tuple[str, Any]]
) -> None:
    drawn.clear()
    for part in PARTS:
        answer = planner.get(f"/c/brace/plan/{part}")
        assert answer.status_code == 200
        assert_nothing_runs(answer.text)
        for other in PARTS:
            assert (f'href="/c/brace/plan/{other}"' in answer.text) == (other != part)
    for name, context in drawn:
        fields = {field.name for field in dataclasses.fields(context)}
        assert names_used(planner.app.state.templates, name) - ALWAYS == fields, name  # type: ignore[attr-defined]
        assert_plain(context)
    drawn.clear()
    plan = planner.get("/c/brace/plan").text
    assert all(f'href="/c/brace/plan/{part}"' in plan for part in PARTS)


def test_questions_stand_with_resolution_chance_and_proposals(planner: TestClient) -> None:
    text = planner.get("/c/brace/plan/questions").text
    found = rows(text)
    axial = next(row for row in found if row and row[0].startswith("axial"))
    assert axial[2] == "200 kN"
    assert axial[6] == "0.76"
    seen = words(text)
    assert "what its metal carries: up to" in seen
    assert "calibrate every gauged bar before the test: 0.5 % in place of 1.5 %" in seen
    assert "Losses reckoned with: bare metal: 0.95 a gauge" in seen
    csv = planner.get("/c/brace/plan/questions?numbers=gains")
    assert csv.headers["content-type"].startswith("text/csv")
    assert planner.get("/c/brace/plan/questions?numbers=gold").status_code == 404


def test_proposed_stations_are_added_by_their_button(planner: TestClient, tmp_path: Path) -> None:
    assert "Add these 2 stations" in planner.get("/c/brace/plan/questions").text
    answer = planner.post("/c/brace/plan/questions", data={"question": "nowhere"})
    assert answer.status_code == 200
    assert "Add these 2 stations" not in answer.text
    with CampaignStore.open(
        tmp_path / "campaigns" / "brace", working_context(), read_only=True
    ) as store:
        assert len(Book.read(store).of(Station)) == 6
    again = planner.post("/c/brace/plan/questions", data={"question": "nowhere"})
    assert again.status_code == 422
    assert "none yet, for stations to be proposed" in words(again.text)


def test_what_was_typed_wrong_stands_beside_its_field(planner: TestClient) -> None:
    text = planner.get("/c/brace/plan/selection?days=soon").text
    assert 'id="days-wrong"' in text
    assert "Days is 'soon'; it must be a number" in words(text)
    text = planner.get("/c/brace/plan/prediction?loads=40%3B80").text
    assert "At 40 kN" in words(text)
    killed = words(planner.get("/c/brace/plan/selection?length=30").text)
    assert "loss in the leads kills it" in killed.lower()


def test_packs_on_hand_are_kept_counted_and_taken(
    planner: TestClient, lab: settings.Settings, tmp_path: Path
) -> None:
    (pack, _) = assumed_packs()
    kept_of(lab, pack, None, left=20, changes={})
    page = planner.get("/c/brace/plan/packs").text
    assert f"Take {pack.label} into this campaign" in words(page)
    answer = planner.post("/c/brace/plan/packs", data={"pack": pack.label, "left": "7"})
    assert answer.status_code == 200
    assert on_hand(lab)[0].left == 7
    wrong = planner.post("/c/brace/plan/packs", data={"pack": pack.label, "left": "3.5"})
    assert wrong.status_code == 422
    assert 'id="left-wrong"' in wrong.text
    planner.post("/c/brace/plan/packs", data={"take": pack.label})
    with CampaignStore.open(
        tmp_path / "campaigns" / "brace", working_context(), read_only=True
    ) as store:
        assert [e.record.label for e in Book.read(store).of(GaugePack)] == [pack.label]


def test_without_a_laboratory_packs_say_how_to_get_one(client: TestClient) -> None:
    seen = words(client.get("/c/beam/plan/packs").text)
    assert "No laboratory folder" in seen
    assert "No question is written down yet" in words(client.get("/c/beam/plan/questions").text)
