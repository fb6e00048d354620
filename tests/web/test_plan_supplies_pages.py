"""Pages of supplies and of labels: made from their contexts, files taken, what is wrong told."""

import dataclasses
import io
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import openpyxl
from starlette.testclient import TestClient

from gaugewright import settings
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import working_context
from gaugewright.records.specimen import Station
from gaugewright.services.campaign.book import Book
from gaugewright.services.laboratory.on_shelf import shelf_of
from gaugewright.services.plan.packs import assumed_packs
from gaugewright.services.supplying.tag_codes import tag_code
from gaugewright.store.campaign import CampaignStore
from tests.web.reading import words
from tests.web.test_frame import assert_plain, drawn, names_used
from tests.web.test_guard_text import assert_nothing_runs
from tests.web.test_plan_parts_pages import lab, planner

__all__ = ["drawn", "lab", "planner"]  # fixtures: pytest finds them here by their names

ALWAYS = {"frame", "static"}


def test_pages_are_made_from_their_contexts_and_lead_to_each_other(
    planner: TestClient, drawn: list[tuple[str, Any]]
) -> None:
    drawn.clear()
    supplies = planner.get("/c/brace/plan/supplies").text
    labels = planner.get("/c/brace/plan/labels").text
    for name, context in drawn:
        fields = {field.name for field in dataclasses.fields(context)}
        assert names_used(planner.app.state.templates, name) - ALWAYS == fields, name  # type: ignore[attr-defined]
        assert_plain(context)
    assert {name for name, _ in drawn} == {"plan_supplies.html", "plan_labels.html"}
    for text in (supplies, labels):
        assert_nothing_runs(text)
    assert 'href="/c/brace/plan/labels"' in supplies
    assert 'href="/c/brace/plan/supplies"' in labels
    assert 'href="/c/brace/bench"' in supplies
    plan = planner.get("/c/brace/plan").text
    assert all(f'href="/c/brace/plan/{part}"' in plan for part in ("supplies", "labels"))
    assert "4 to put on and 1 spare; no pack of this kind is on hand" in words(supplies)


def test_the_shelf_is_counted_and_what_is_wrong_stands_at_its_field(
    planner: TestClient, lab: settings.Settings
) -> None:
    sent = {"supply": "cable", "left": "12", "batch": "R1", "expires": ""}
    answer = planner.post("/c/brace/plan/supplies", data=sent)
    assert answer.status_code == 200
    (one,) = shelf_of(lab)
    assert (one.label, one.amount, one.batch) == ("cable", 12.0, "R1")
    wrong = planner.post("/c/brace/plan/supplies", data={**sent, "left": "some"})
    assert wrong.status_code == 422
    assert 'id="left-wrong"' in wrong.text
    assert len(shelf_of(lab)) == 1


def test_lists_and_sheets_are_taken_as_files(planner: TestClient) -> None:
    book = planner.get("/c/brace/plan/supplies.xlsx?plug=6&spares=50")
    rows = list(openpyxl.load_workbook(io.BytesIO(book.content))["supplies"].values)
    assert rows[1][:2] == ("gauges, 350 Ω, grid 3 × 1.5 mm", 6)
    for path in ("supplies.pdf", "labels.pdf", "labels.pdf?paper=roll&roll=90"):
        answer = planner.get(f"/c/brace/plan/{path}")
        assert answer.content.startswith(b"%PDF"), path
        assert "attachment" in answer.headers["content-disposition"]
    assert planner.get("/c/brace/plan/supplies.doc").status_code == 404
    assert planner.get("/c/brace/plan/supplies?bonding=soon").status_code == 200
    svg = planner.get("/c/brace/plan/labels/T0/plug%20end.svg")
    assert svg.text.startswith("<svg")
    assert "T0-plug end" in unquote(svg.headers["content-disposition"])
    assert planner.get("/c/brace/plan/labels/T9/plug%20end.svg").status_code == 404


def test_a_size_or_paper_that_does_not_do_is_told(planner: TestClient) -> None:
    thin = words(planner.get("/c/brace/plan/labels?form=wrap&diameter=2").text)
    assert "3.6 mm or more for a wrap" in thin
    assert "Print the sheets" not in thin
    narrow = planner.get("/c/brace/plan/labels.pdf?paper=roll&roll=40")
    assert narrow.status_code == 422
    assert "85 × 16 mm or larger" in words(narrow.text)
    assert 'id="roll-wrong"' in planner.get("/c/brace/plan/labels?paper=roll").text


def test_a_scanned_tag_opens_its_gauge_and_a_mistyped_one_is_told_apart(
    planner: TestClient, tmp_path: Path
) -> None:
    with CampaignStore.open(tmp_path / "campaigns" / "brace", working_context()) as store:
        pack = store.add(assumed_packs()[0]).uid
        for station in Book.read(store).of(Station):
            store.add(Gauge(station.record.label, pack, station.uid))
        code = tag_code(store.campaign.uid, "T2")
    answer = planner.get("/c/brace/search", params={"label": code}, follow_redirects=False)
    assert answer.headers["location"] == "/c/brace/gauges/T2"
    mark, name, check = code.split()
    wrong = f"{mark} {name} {'A' if check != 'A' else 'B'}"
    text = planner.get("/c/brace/search", params={"label": wrong}).text
    assert "A character is misread" in words(text)
    assert 'href="/c/brace/gauges/T2"' in text
    other = words(planner.get("/c/brace/search", params={"label": "7QK2MD T2 X"}).text)
    assert "This code isn" in other or "another campaign" in other
