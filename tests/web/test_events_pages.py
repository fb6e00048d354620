"""Noting events through the app: once for a key, in the person's name, words staying words."""

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from gaugewright.records.identity import instant_text, working_context
from gaugewright.records.readings import Event
from gaugewright.store.campaign import CampaignStore
from gaugewright.web.people import Someone
from tests.web.reading import words

EVENTS = "/c/beam/events"
JSON = {"accept": "application/json"}
KEY = "device-0123456789abcdef"


@pytest.fixture
def at_work(app: FastAPI, client: TestClient) -> TestClient:
    people = app.state.people
    people.choose(people.devices()[0], Someone("AB", "A. Bonder (invented)"))
    return client


def noted(home: Path) -> list[tuple[str, str, str]]:
    with CampaignStore.open(home / "beam", working_context(), read_only=True) as store:
        return [
            (each.record.kind, each.record.text, store.entry(each.person).record.label)
            for each in store.entries(Event)
            if each.person is not None
        ]


def test_a_form_sent_again_is_taken_in_once_and_answered_the_same(
    at_work: TestClient, home: Path
) -> None:
    now = instant_text(datetime.now(UTC))
    form = {"key": KEY, "kind": "crack seen", "words": "midspan", "at": now, "sent": now}
    first = at_work.post(EVENTS, data=form, headers=JSON)
    again = at_work.post(EVENTS, data=form, headers=JSON)
    assert first.status_code == again.status_code == 200
    assert first.json()["uid"] == again.json()["uid"]
    assert noted(home) == [("crack seen", "midspan", "AB")]


def test_a_page_s_form_sent_twice_is_one_event(at_work: TestClient, home: Path) -> None:
    key = re.search(r'name="key" value="([^"]+)"', at_work.get(EVENTS).text)
    assert key is not None
    form = {"key": key[1], "kind": "noise heard", "at": "2026-06-14T09:30:00.000000Z"}
    for _ in range(2):
        assert at_work.post(EVENTS, data=form).status_code == 200
    assert len(noted(home)) == 1


def test_an_hour_typed_without_the_network_is_of_the_day_of_the_tap(
    at_work: TestClient, home: Path
) -> None:
    form = {"key": KEY, "kind": "crack seen", "when": "14:05", "at": "2026-06-14T10:00:00.000000Z"}
    assert at_work.post(EVENTS, data=form, headers=JSON).status_code == 200
    with CampaignStore.open(home / "beam", working_context(), read_only=True) as store:
        (event,) = [one for one in store.entries(Event) if one.person is not None]
    assert event.record.at.date().isoformat() == "2026-06-14"


def test_nobody_at_work_means_nothing_is_written_and_it_is_said(
    client: TestClient, home: Path
) -> None:
    answer = client.post(EVENTS, data={"key": KEY, "kind": "crack seen"}, headers=JSON)
    assert answer.status_code == 422
    assert "choose under People" in answer.json()["sentence"]
    assert noted(home) == []


@pytest.mark.parametrize(
    ("form", "said"),
    [
        ({"kind": ""}, "kind is empty"),
        ({"kind": "crack seen", "when": "soon"}, "time is 'soon'"),
        ({"kind": "crack seen", "gauge": "G99"}, "gauge is 'G99'"),
        ({"kind": "crack seen", "at": "yesterday"}, "time is 'yesterday'"),
        ({"kind": "x" * 81}, "kind is"),
        ({"kind": "crack seen", "key": "short"}, "key of a form"),
    ],
)
def test_what_can_t_be_noted_is_said_beside_the_form_and_to_the_queue(
    at_work: TestClient, home: Path, form: dict[str, str], said: str
) -> None:
    told = at_work.post(EVENTS, data={"key": KEY, **form}, headers=JSON)
    assert told.status_code == 422
    assert said in told.json()["sentence"]
    page = at_work.post(EVENTS, data={"key": KEY, "words": "these stay", **form})
    assert page.status_code == 422
    assert "these stay" in page.text
    assert noted(home) == []


def test_a_script_in_words_stays_words(at_work: TestClient) -> None:
    bad = "<script>alert(1)</script>"
    form = {"key": KEY, "other": "<b>bold</b>", "words": bad}
    page = at_work.post(EVENTS, data=form).text
    assert bad not in page
    assert "&lt;script&gt;" in page
    assert "<b>bold" not in page


def test_a_tablet_s_clock_that_is_off_is_told_in_the_journal(
    at_work: TestClient, home: Path
) -> None:
    slow = datetime.now(UTC) - timedelta(seconds=95)
    form = {"key": KEY, "kind": "crack seen", "at": instant_text(slow), "sent": instant_text(slow)}
    at_work.post(EVENTS, data=form, headers=JSON)
    with CampaignStore.open(home / "beam", working_context(), read_only=True) as store:
        (entry,) = store.entries(Event)
    assert re.fullmatch(
        r"noted on a device whose clock stood 9[5-9] s behind this machine's", entry.reason
    )
    assert entry.record.at == slow


def test_a_stale_edit_shows_both_and_writes_nothing(at_work: TestClient, home: Path) -> None:
    told = at_work.post(EVENTS, data={"key": KEY, "kind": "crack seen"}, headers=JSON)
    where = f"{EVENTS}/{told.json()['uid']}"
    when = re.search(r'id="when" name="when"[^>]*value="([^"]+)"', at_work.get(where).text)
    assert when is not None
    form = {"version": "1", "kind": "crack seen", "when": when[1], "reason": "looked again"}
    first = at_work.post(where, data={**form, "words": "theirs"})
    assert first.status_code == 200
    late = at_work.post(where, data={**form, "words": "mine"})
    assert late.status_code == 409
    assert "theirs" in words(late.text)
    assert 'value="mine"' in late.text or "mine" in words(late.text)
    assert 'name="version" value="2"' in late.text
    queued = at_work.post(where, data={**form, "words": "mine"}, headers=JSON)
    assert queued.json()["both"] == [{"name": "In words", "theirs": "theirs", "yours": "mine"}]
    assert [text for _, text, _ in noted(home)] == ["theirs"]


def test_an_event_is_taken_out_with_a_reason_only(at_work: TestClient, home: Path) -> None:
    told = at_work.post(EVENTS, data={"key": KEY, "kind": "crack seen"}, headers=JSON)
    where = f"{EVENTS}/{told.json()['uid']}"
    refused = at_work.post(where, data={"version": "1", "do": "take out"})
    assert refused.status_code == 422
    assert len(noted(home)) == 1
    gone = at_work.post(where, data={"version": "1", "do": "take out", "reason": "by mistake"})
    assert gone.status_code == 200
    assert noted(home) == []
    assert at_work.get(where).status_code == 404
