"""Signing on the Handover page: by the person at work, with that PIN, what was shown."""

import dataclasses
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from gaugewright.records.identity import working_context
from gaugewright.records.proof import Signature
from gaugewright.records.results import Result
from gaugewright.services.laboratory.signing import digest
from gaugewright.store.campaign import CampaignStore, JournalHead
from gaugewright.web import frame
from gaugewright.web import people as people_module
from tests.web.reading import links, words
from tests.web.test_frame import assert_plain, names_used

PIN, OTHER = "2468", "1357"
PAGE = "/c/beam/handover"
ACTION = 'action="/c/beam/handover/sign#signatures"'
RIGHT = {"statement": "made", "pin": PIN}


def result(label: str, value: float = 1.0) -> Result:
    return Result(label, "force", value, 0.1, 0.95, "N", "largest", (), ())


@pytest.fixture(autouse=True)
def cheap_tries(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(people_module.COST, "n", 1 << 4)


@pytest.fixture
def at_desk(app: FastAPI, client: TestClient, home: Path) -> TestClient:
    """AB is at work with a PIN, CD has one too, and there are two results."""
    with CampaignStore.open(home / "beam", working_context()) as store:
        store.add(result("force one"))
        store.add(result("force two"))
    client.post("/people/choose", data={"label": "AB"})
    app.state.people.set_pin("AB", PIN)
    app.state.people.set_pin("CD", OTHER)
    return client


def shown(client: TestClient) -> str:
    """What the form says was seen."""
    found = re.search(r'name="seen" value="([0-9a-f]{64})"', client.get(PAGE).text)
    assert found is not None
    return found[1]


def send(client: TestClient, **form: str) -> tuple[int, str]:
    answer = client.post(f"{PAGE}/sign", data={"seen": shown(client), **RIGHT, **form})
    return answer.status_code, answer.text


def kept(home: Path) -> list[Signature]:
    with CampaignStore.open(home / "beam", working_context(), read_only=True) as store:
        return [entry.record for entry in store.entries(Signature)]


def test_the_right_pin_signs_what_was_shown(at_desk: TestClient, home: Path) -> None:
    before = words(at_desk.get(PAGE).text)
    assert "Nobody has signed the results." in before
    assert "signs 2 results, as they stand under Results now" in before
    status, text = send(at_desk)
    assert status == 200  # after the redirect to the page
    assert "A. Bonder (invented)" in words(text.partition('id="signatures"')[2])
    assert "I made these results holds for the 2 results" in words(text)
    (signature,) = kept(home)
    assert len(signature.of) == 2


def test_the_head_that_will_be_signed_is_shown(
    at_desk: TestClient, head: Callable[[], JournalHead], home: Path
) -> None:
    now = head()
    assert now.sha256[:12] in at_desk.get(PAGE).text.partition(ACTION)[2]
    send(at_desk)
    assert kept(home)[0].journal_head == now.sha256


@pytest.mark.parametrize("pin", ["2469", "", OTHER], ids=["wrong", "none", "another person's"])
def test_another_pin_signs_nothing_and_is_said_beside_the_field(
    at_desk: TestClient, head: Callable[[], JournalHead], pin: str
) -> None:
    before = head()
    status, text = send(at_desk, pin=pin)
    assert status == 422
    beside = text.partition('id="pin-wrong"')[2].partition("</p>")[0]
    assert "PIN of AB is what you typed; it must be the one this person has set." in words(beside)
    assert 'aria-invalid="true"' in text
    assert head() == before


def test_no_page_gives_the_pin_back(at_desk: TestClient) -> None:
    _, text = send(at_desk, pin="86420975")
    assert "86420975" not in text
    field = re.search(r'<input id="pin"[^>]*>', text)
    assert field is not None
    for told in ('type="password"', 'inputmode="numeric"', 'autocomplete="off"'):
        assert told in field[0]
    assert "value=" not in field[0]


def test_the_pin_is_never_kept_as_a_draft(at_desk: TestClient) -> None:
    form = re.search(f"<form[^>]*{ACTION}[^>]*>", at_desk.get(PAGE).text)
    assert form is not None
    assert "data-kept" not in form[0]


def test_after_five_wrong_ones_the_right_one_waits_and_the_page_says_so(
    at_desk: TestClient, home: Path
) -> None:
    for _ in range(5):
        assert send(at_desk, pin="1111")[0] == 422
    status, text = send(at_desk)
    assert status == 422
    beside = text.partition('id="pin-wrong"')[2].partition("</p>")[0]
    assert "wait a minute" in words(beside)
    assert kept(home) == []


def test_without_a_pin_there_is_no_form_but_the_way_to_one(
    app: FastAPI, client: TestClient, home: Path
) -> None:
    with CampaignStore.open(home / "beam", working_context()) as store:
        entry = store.add(result("force one"))
    client.post("/people/choose", data={"label": "AB"})
    text = client.get(PAGE).text
    assert "handover/sign" not in text
    assert "has no PIN yet" in words(text)
    assert ("/people", "Set a PIN under People") in links(text)
    before = app.state.rooms.room("beam", None).head
    answer = client.post(f"{PAGE}/sign", data={**RIGHT, "seen": digest([entry.ref])})
    assert answer.status_code == 422
    assert "set before signing" in words(answer.text)
    assert before == app.state.rooms.room("beam", None).head


def test_nobody_signs_without_a_name(app: FastAPI, client: TestClient, home: Path) -> None:
    with CampaignStore.open(home / "beam", working_context()) as store:
        store.add(result("force one"))
    text = client.get(PAGE).text
    assert "handover/sign" not in text
    assert ("/people", "Say who is at work on this device") in links(text)
    assert client.post(f"{PAGE}/sign", data=RIGHT).status_code == 422
    assert kept(home) == []


def test_without_results_there_is_nothing_to_sign(
    app: FastAPI, client: TestClient, home: Path
) -> None:
    client.post("/people/choose", data={"label": "AB"})
    app.state.people.set_pin("AB", PIN)
    assert "There is no result to sign yet." in words(client.get(PAGE).text)
    answer = client.post(f"{PAGE}/sign", data={**RIGHT, "seen": digest([])})
    assert answer.status_code == 422
    assert "nothing to sign" in words(answer.text)
    assert kept(home) == []


@pytest.mark.parametrize("change", ["revised", "added", "taken out"])
def test_results_that_changed_while_the_page_was_open_arent_signed(
    at_desk: TestClient, home: Path, change: str
) -> None:
    seen = shown(at_desk)
    with CampaignStore.open(home / "beam", working_context()) as store:
        entry = store.entries(Result)[0]
        if change == "revised":
            store.revise(entry.uid, 1, result("force one", 2.0), reason="reduced again")
        elif change == "added":
            store.add(result("force three"))
        else:
            store.withdraw(entry.uid, 1, reason="no such force")
    answer = at_desk.post(f"{PAGE}/sign", data={**RIGHT, "seen": seen})
    assert answer.status_code == 422
    assert "look at them as they are now, then sign" in words(answer.text)
    assert kept(home) == []
    assert send(at_desk)[0] == 200  # what the page shows now can be signed
    assert len(kept(home)) == 1


def test_the_list_says_when_the_results_have_changed_since(at_desk: TestClient, home: Path) -> None:
    send(at_desk)
    with CampaignStore.open(home / "beam", working_context()) as store:
        entry = store.entries(Result)[0]
        record = dataclasses.replace(entry.record, value=2.0)
        store.revise(entry.uid, 1, record, reason="reduced again")
    said = "the results have changed since: 1 of the 2 signed"
    assert said in words(at_desk.get(PAGE).text)


def test_own_words_are_signed_letter_by_letter_and_never_run(
    at_desk: TestClient, home: Path
) -> None:
    typed = "<script>alert(1)</script> as far as G07 goes"
    status, text = send(at_desk, statement="own", own=typed)
    assert status == 200
    assert kept(home)[0].statement == typed
    assert "<script>alert" not in text


def test_own_words_that_are_missing_are_asked_for_at_their_field(
    at_desk: TestClient, home: Path
) -> None:
    status, text = send(at_desk, statement="own", own=" ")
    assert status == 422
    assert 'id="own-wrong"' in text
    assert kept(home) == []


def test_a_statement_that_isnt_offered_is_refused(at_desk: TestClient, home: Path) -> None:
    status, text = send(at_desk, statement="anything")
    assert status == 422
    assert 'id="statement-wrong"' in text
    assert kept(home) == []


def test_a_form_sent_twice_signs_once(at_desk: TestClient, home: Path) -> None:
    assert send(at_desk)[0] == 200
    status, text = send(at_desk)
    assert status == 422
    assert "stands already" in words(text)
    assert len(kept(home)) == 1


def test_a_wrong_pin_enters_nobody_in_the_campaign(
    app: FastAPI, at_desk: TestClient, head: Callable[[], JournalHead], home: Path
) -> None:
    at_desk.post("/people/new", data={"label": "NN", "name": "N. Newcomer (invented)"})
    app.state.people.set_pin("NN", "9753")
    before = head()
    assert send(at_desk)[0] == 422
    assert head() == before
    assert send(at_desk, pin="9753")[0] == 200
    assert len(kept(home)) == 1


def test_undo_takes_no_signature_back(at_desk: TestClient, home: Path) -> None:
    send(at_desk)
    with CampaignStore.open(home / "beam", working_context(), read_only=True) as store:
        uid = store.entries(Signature)[0].uid
    answer = at_desk.post("/c/beam/undo", data={"uid": uid, "version": "1", "back": "handover"})
    assert answer.status_code == 422
    assert len(kept(home)) == 1


def test_a_page_of_somewhere_else_signs_nothing(at_desk: TestClient, home: Path) -> None:
    form = {**RIGHT, "seen": shown(at_desk)}
    answer = at_desk.post(f"{PAGE}/sign", data=form, headers={"origin": "http://elsewhere.test"})
    assert answer.status_code == 403
    assert kept(home) == []


def test_the_page_is_made_from_a_frozen_context_of_plain_values(
    app: FastAPI, at_desk: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    found: list[tuple[str, object]] = []
    as_it_is = frame.page

    def page(request, name, context, **more):  # type: ignore[no-untyped-def]
        found.append((name, context))
        return as_it_is(request, name, context, **more)

    send(at_desk)
    monkeypatch.setattr(frame, "page", page)
    at_desk.get(PAGE)
    ((name, context),) = found
    assert type(context).__dataclass_params__.frozen  # type: ignore[attr-defined]
    assert_plain(context)
    used = names_used(app.state.templates, name) - {"frame", "static"}
    assert {"signing", "signatures"} <= used
