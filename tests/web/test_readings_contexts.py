"""Pages of readings, events, imports and jobs: made from their contexts, and from all of them."""

import dataclasses
import shutil
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from gaugewright import settings
from gaugewright.records.readings import Event
from gaugewright.web.app import create_app
from gaugewright.web.people import Someone
from tests.web.conftest import BASE, TOKEN
from tests.web.test_frame import assert_plain, drawn, names_used
from tests.web.test_guard_text import assert_nothing_runs
from tests.web.test_import_pages import PULL

__all__ = ["drawn"]  # a fixture: pytest finds it here by its name

ALWAYS = {"frame", "static"}
A = "/c/demo/readings/test%2C%20Recorder%20A"


def open_every_page(app: FastAPI, client: TestClient) -> list[str]:
    people = app.state.people
    people.choose(people.devices()[0], Someone("AB", "A. Bonder (invented)"))
    client.post("/c/demo/events", data={"key": "k" * 20, "kind": "crack seen"})
    room = app.state.rooms.room("demo", None)
    event = room.book.of(Event)[0].uid
    waiting = client.post("/c/demo/import", files={"file": ("pull.csv", PULL)})
    job = room.store.jobs.put_up("report", {}, room.store.context)
    paths = ["/c/demo/readings", A, f"{A}/table", "/c/demo/events", f"/c/demo/events/{event}"]
    paths += ["/c/demo/import", str(waiting.url).removeprefix(BASE)]
    paths += ["/c/demo/jobs", f"/c/demo/jobs/{job}"]
    return [client.get(path).text for path in paths]


@pytest.fixture
def app(demo_campaign: Path, tmp_path: Path) -> FastAPI:
    shutil.copytree(demo_campaign, tmp_path / "campaigns" / "demo")
    shipped = settings.load({}, environment={}, user_folder=tmp_path / "none")
    return create_app(shipped, tmp_path / "campaigns", token=TOKEN)


def test_every_page_is_made_from_all_of_its_context_and_nothing_runs_in_it(
    app: FastAPI, drawn: list[tuple[str, Any]]
) -> None:
    with TestClient(app, base_url=BASE, headers={"origin": BASE}) as client:
        client.get("/", params={"key": TOKEN})
        drawn.clear()
        for text in open_every_page(app, client):
            assert_nothing_runs(text)
    names = {name for name, _ in drawn}
    assert names == {
        "readings.html", "recording.html", "recording_table.html", "events.html", "event.html",
        "import.html", "import_confirm.html", "jobs.html", "job.html",
    }  # fmt: skip
    for name, context in drawn:
        assert type(context).__dataclass_params__.frozen, name
        assert_plain(context)
        fields = {field.name for field in dataclasses.fields(context)}
        assert names_used(app.state.templates, name) - ALWAYS == fields, name
