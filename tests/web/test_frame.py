"""Every page of the shell: what it is made from, what stands round it, how it fails."""

import dataclasses
import enum
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import jinja2
import jinja2.meta
import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from gaugewright.records.identity import working_context
from gaugewright.records.specimen import Campaign
from gaugewright.store.campaign import CampaignStore, JournalHead
from gaugewright.web import frame
from gaugewright.web.people import Someone
from tests.web.test_guard_text import assert_nothing_runs

PLAIN = (str, int, bool, type(None), enum.Enum)
ALWAYS = {"frame", "static"}
STEPS = ("Plan", "Bench", "Gates", "Wiring", "Readings", "Review", "Results", "Handover")


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, Any]]:
    """Template and context of every page that is drawn."""
    found: list[tuple[str, Any]] = []
    as_it_is = frame.page

    def page(request: Any, name: str, context: Any, **more: Any) -> Any:
        found.append((name, context))
        return as_it_is(request, name, context, **more)

    monkeypatch.setattr(frame, "page", page)
    return found


def open_every_page(client: TestClient) -> None:
    for path in ("/", "/new", "/people", "/pair", "/nope", "/c/beam/plan", "/c/beam/copy"):
        client.get(path)
    client.get("/c/beam/search?label=beam")
    client.post("/people/choose", data={"label": "AB"})
    client.post("/people/pair")
    client.post("/new", data={"folder": "../x"})


def names_used(environment: jinja2.Environment, name: str) -> set[str]:
    """Names that a template and everything it includes or extends take from its context."""
    assert environment.loader is not None
    source = environment.loader.get_source(environment, name)[0]
    tree = environment.parse(source)
    used = set(jinja2.meta.find_undeclared_variables(tree))
    for imported in tree.find_all(jinja2.nodes.FromImport):
        names = {name if isinstance(name, str) else name[1] for name in imported.names}
        used -= names  # macros: blocks see them, which the search above doesn't know
    for kind in (jinja2.nodes.Extends, jinja2.nodes.Include):
        for other in tree.find_all(kind):
            assert isinstance(other.template, jinja2.nodes.Const)
            used |= names_used(environment, other.template.value)
    return used


def test_every_page_is_made_from_the_fields_of_its_context_and_from_all_of_them(
    app: FastAPI, client: TestClient, drawn: list[tuple[str, Any]]
) -> None:
    open_every_page(client)
    assert len({name for name, _ in drawn}) >= 8
    for name, context in drawn:
        fields = {field.name for field in dataclasses.fields(context)}
        used = names_used(app.state.templates, name) - ALWAYS
        assert used == fields, name


def test_a_context_is_frozen_and_holds_plain_values_only(
    client: TestClient, drawn: list[tuple[str, Any]]
) -> None:
    open_every_page(client)
    for name, context in drawn:
        assert type(context).__dataclass_params__.frozen, name
        assert_plain(context)


def assert_plain(value: Any) -> None:
    if dataclasses.is_dataclass(value):
        for field in dataclasses.fields(value):
            assert_plain(getattr(value, field.name))
    elif isinstance(value, tuple):
        for item in value:
            assert_plain(item)
    else:
        assert isinstance(value, PLAIN), value


def test_no_template_reckons() -> None:
    """Numbers reach a template as text; a sum in one would round by rules of its own."""
    environment = jinja2.Environment()
    reckoning = (jinja2.nodes.Add, jinja2.nodes.Sub, jinja2.nodes.Mul, jinja2.nodes.Div)
    for path in frame.TEMPLATES.glob("*.html"):
        tree = environment.parse(path.read_text(encoding="utf-8"))
        assert list(tree.find_all(reckoning)) == [], path.name


def test_no_page_holds_a_script_or_a_style_of_its_own(client: TestClient) -> None:
    for path in ("/", "/new", "/people", "/pair", "/nope", "/c/beam/plan", "/c/beam/copy"):
        assert_nothing_runs(client.get(path).text)


@pytest.mark.parametrize("step", [step.lower() for step in STEPS])
def test_the_chain_names_every_step_and_none_leads_nowhere(client: TestClient, step: str) -> None:
    answer = client.get(f"/c/beam/{step}")
    assert answer.status_code == 200
    for name in STEPS:
        assert f'<span class="name">{name}</span>' in answer.text
    here = answer.text.partition('aria-current="page"')[2]
    assert here.partition('class="name">')[2].startswith(step.capitalize())


def test_the_title_block_says_on_which_terms_the_numbers_stand(
    client: TestClient, head: Callable[[], JournalHead]
) -> None:
    text = client.get("/c/beam/plan").text
    for term in ("Campaign", "Sheet", "Sign and units", "Zero", "Coverage", "Chain", "Data check"):
        assert f"<dt>{term}</dt>" in text
    assert "tension positive; mm, kN, MPa, µε" in text
    assert head().sha256[:12] in text


def test_us_units_are_those_of_the_campaign(client: TestClient, home: Path) -> None:
    with CampaignStore.open(home / "beam", working_context()) as store:
        entry = store.campaign
        record = dataclasses.replace(entry.record, units="us")
        store.revise(entry.uid, entry.version, record, reason="shown in customary units")
    assert "tension positive; in, kip, ksi, µε" in client.get("/c/beam/plan").text


def test_what_another_program_wrote_is_on_the_next_page(client: TestClient, home: Path) -> None:
    assert "Beam in bending" in client.get("/c/beam/plan").text
    with CampaignStore.open(home / "beam", working_context()) as store:
        entry = store.campaign
        store.revise(
            entry.uid, entry.version, dataclasses.replace(entry.record, title="Beam 2"), reason="x"
        )
    assert "Beam 2" in client.get("/c/beam/plan").text
    assert "Beam 2" in client.get("/").text


def test_a_campaign_put_in_the_place_of_another_is_the_one_shown(
    client: TestClient, home: Path, tmp_path: Path, in_force: Any
) -> None:
    from gaugewright.services.campaign import campaigns

    assert "Beam in bending" in client.get("/c/beam/plan").text
    (home / "beam").rename(tmp_path / "away")
    record = Campaign(label="beam", title="Another beam", zone="UTC")
    campaigns.new(home / "beam", record, in_force, context=working_context()).close()
    assert "Another beam" in client.get("/c/beam/plan").text


def test_records_are_read_again_only_when_the_journal_went_on(app: FastAPI, home: Path) -> None:
    rooms = app.state.rooms
    first = rooms.room("beam", None)
    assert rooms.room("beam", Someone("AB", "A. Bonder")).book is first.book
    with CampaignStore.open(home / "beam", working_context()) as store:
        entry = store.campaign
        store.revise(
            entry.uid, entry.version, dataclasses.replace(entry.record, title="T"), reason="x"
        )
    assert rooms.room("beam", None).book is not first.book


@pytest.mark.parametrize("path", ["/nope", "/c/nope/plan", "/c/beam/nope"])
def test_what_isnt_there_is_a_sentence_on_a_page(client: TestClient, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 404
    assert "<h1" in answer.text
    assert 'role="alert"' in answer.text


def test_a_failure_is_a_part_where_a_part_was_asked(client: TestClient) -> None:
    asked = {"hx-request": "true", "hx-request-type": "partial"}
    answer = client.get("/c/nope/plan", headers=asked)
    assert answer.status_code == 404
    assert answer.text.strip().startswith('<div class="failed" role="alert">')
    assert "nope" in answer.text


def test_a_part_is_the_same_text_as_on_the_page(client: TestClient) -> None:
    part = client.get("/", headers={"hx-request": "true", "hx-request-type": "partial"})
    assert "<html" not in part.text
    assert part.headers["vary"] == "HX-Request"
    page = client.get("/").text
    assert "Beam in bending" in part.text
    assert "".join(part.text.split()) in "".join(page.split())


def test_a_new_campaign_keeps_what_was_typed_and_names_the_field_that_is_wrong(
    client: TestClient, home: Path
) -> None:
    form = {"folder": "next", "title": "Next beam", "zone": "Europe/Nowhere", "units": "us"}
    answer = client.post("/new", data=form)
    assert answer.status_code == 422
    assert 'id="zone-wrong"' in answer.text
    assert "such as Europe/Rome" in answer.text
    assert 'value="Next beam"' in answer.text
    assert '<option value="us" selected>' in answer.text
    assert not (home / "next").exists()
    answer = client.post("/new", data={**form, "zone": "Europe/Rome"}, follow_redirects=False)
    assert answer.headers["location"] == "/c/next/"
    with CampaignStore.open(home / "next", working_context()) as store:
        record = store.campaign.record
    assert (record.title, record.zone, record.units) == ("Next beam", "Europe/Rome", "us")


def test_a_copy_holds_what_the_campaign_held(
    client: TestClient, home: Path, head: Callable[[], JournalHead]
) -> None:
    client.get("/c/beam/plan")  # it is open while it is copied
    answer = client.post("/c/beam/copy", data={"folder": "beam-2"}, follow_redirects=False)
    assert answer.headers["location"] == "/"
    with CampaignStore.open(home / "beam-2", working_context()) as store:
        assert store.head() == head()
        assert store.problems() == ()


def test_a_campaign_that_cant_be_read_doesnt_hide_the_others(
    client: TestClient, home: Path
) -> None:
    (home / "spoilt").mkdir()
    (home / "spoilt" / "campaign.sqlite").write_bytes(b"no database at all" * 100)
    text = client.get("/").text
    assert "Beam in bending" in text
    assert "spoilt" in text


def test_times_are_those_of_the_campaigns_zone(app: FastAPI) -> None:
    room = app.state.rooms.room("beam", None)
    instant = datetime.fromisoformat("2026-07-01T10:00:00+00:00")
    assert frame.instant_shown(instant, room) == "1 July 2026, 12:00"
