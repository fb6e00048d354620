"""Review: findings decided by a person, taken back, met by another's decision, looked for again."""

import dataclasses
import re
import shutil
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from gaugewright.records.identity import working_context
from gaugewright.records.proof import GateCheck
from gaugewright.records.readings import Decision, Finding
from gaugewright.records.stated import State
from gaugewright.services.campaign import states
from gaugewright.services.campaign.book import Book
from gaugewright.services.reviewing import review
from gaugewright.settings import Settings
from gaugewright.store.campaign import CampaignStore
from gaugewright.web.app import create_app
from tests.web.conftest import BASE, TOKEN
from tests.web.test_frame import assert_plain, names_used
from tests.web.test_guard_text import assert_nothing_runs

ALWAYS = {"frame", "static"}


@pytest.fixture
def campaign(demo_campaign: Path, tmp_path: Path) -> Path:
    """A copy of the demo to work in."""
    folder = tmp_path / "campaigns" / "demo"
    shutil.copytree(demo_campaign, folder)
    return folder


@pytest.fixture
def reviewer(campaign: Path, in_force: Settings) -> Iterator[TestClient]:
    """A browser that was let in, with Ines Example at work."""
    app = create_app(in_force, campaign.parent, token=TOKEN)
    with TestClient(app, base_url=BASE, headers={"origin": BASE}) as client:
        client.get("/", params={"key": TOKEN})
        label = re.search(r'<option value="([^"]+)"', client.get("/people").text)
        assert label is not None
        client.post("/people/choose", data={"label": label[1]})
        yield client


def findings(campaign: Path) -> dict[str, Finding]:
    with CampaignStore.open(campaign, working_context(), read_only=True) as store:
        return {entry.uid: entry.record for entry in Book.read(store).of(Finding)}


def uid_of(campaign: Path, code: str) -> str:
    return next(uid for uid, finding in findings(campaign).items() if finding.code == code)


def decision(reviewer: TestClient, uid: str, version: int, word: str, reason: str):  # type: ignore[no-untyped-def]
    form = {"version": str(version), "decision": word, "reason": reason}
    return reviewer.post(f"/c/demo/review/{uid}", data=form, follow_redirects=False)


def test_what_says_the_worst_comes_first_with_its_number_limit_and_place(
    reviewer: TestClient, campaign: Path
) -> None:
    text = reviewer.get("/c/demo/review").text
    known = findings(campaign)
    assert f"{len(known)} findings to decide" in text
    case = text.partition('id="case"')[2]
    first = case.partition('class="review-says">')[2].partition("</p>")[0]
    lost = [f for f in known.values() if f.severity is review.Severity.LOST]
    assert any(f.sentence.split(" from ")[0] in first.replace("&#39;", "'") for f in lost)
    for word in ("Measured", "Limit", "Where", "When", "choice of this project, no source"):
        assert word in case


def test_the_plot_shows_the_gauge_beside_its_neighbours(
    reviewer: TestClient, campaign: Path
) -> None:
    uid = uid_of(campaign, "over-range")
    text = reviewer.get(f"/c/demo/review/{uid}").text
    drawn = re.search(r'<svg[^>]*aria-label="(Readings of [^"]+)"', text)
    assert drawn is not None
    assert drawn[1].startswith("Readings of L2-M-U, L2-M-T")
    assert ">begins</text>" in text


def test_a_finding_without_rows_offers_no_exclusion(reviewer: TestClient, campaign: Path) -> None:
    uid = uid_of(campaign, "gate failed")
    text = reviewer.get(f"/c/demo/review/{uid}").text
    choice = re.search(r'<input[^>]*value="excluded"[^>]*>', text)
    assert choice is not None
    assert " disabled" in choice[0]
    answer = decision(reviewer, uid, 1, "excluded", "rows")
    assert answer.status_code == 422
    assert "names no rows" in answer.text
    assert findings(campaign)[uid].decision is Decision.OPEN


def test_a_decision_is_kept_with_its_reason_and_can_be_taken_back(
    reviewer: TestClient, campaign: Path
) -> None:
    uid = uid_of(campaign, "over-range")
    many = len(findings(campaign))
    answer = decision(reviewer, uid, 1, "accepted", "the plug was found open")
    assert answer.status_code == 303
    text = reviewer.get(answer.headers["location"]).text
    assert f"{many - 1} findings to decide" in text
    assert "the plug was found open" in text
    undo = text.partition('class="notice undo"')[2].partition("</form>")[0]
    form = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)">', undo))
    assert form["uid"] == uid
    taken = reviewer.post("/c/demo/undo", data=form)
    assert taken.status_code == 200
    assert findings(campaign)[uid].decision is Decision.OPEN
    with CampaignStore.open(campaign, working_context(), read_only=True) as store:
        versions = store.history(store.entry(uid).uid)  # type: ignore[arg-type]
    assert [v.record.decision.value for v in versions] == ["open", "accepted", "open"]


def test_a_decision_without_a_reason_is_refused_beside_the_field(
    reviewer: TestClient, campaign: Path
) -> None:
    uid = uid_of(campaign, "falling away")
    answer = decision(reviewer, uid, 1, "rejected", "   ")
    assert answer.status_code == 422
    assert 'id="reason-wrong"' in answer.text
    assert re.search(r'value="rejected"[^>]* checked', answer.text)
    assert findings(campaign)[uid].decision is Decision.OPEN


@pytest.mark.parametrize("word", ["", "open", "maybe", "<script>alert(1)</script>"])
def test_only_the_three_decisions_are_taken(
    reviewer: TestClient, campaign: Path, word: str
) -> None:
    uid = uid_of(campaign, "falling away")
    answer = decision(reviewer, uid, 1, word, "because")
    assert answer.status_code == 422
    assert_nothing_runs(answer.text.replace("/js/review.js", ""))
    assert findings(campaign)[uid].decision is Decision.OPEN


def test_two_people_who_decide_at_once_see_both_decisions(
    reviewer: TestClient, campaign: Path
) -> None:
    uid = uid_of(campaign, "differs from similar gauges")
    assert decision(reviewer, uid, 1, "accepted", "bond line under the bar").status_code == 303
    answer = decision(reviewer, uid, 1, "rejected", "bar bends here")
    assert answer.status_code == 409
    assert "bond line under the bar" in answer.text
    assert "bar bends here" in answer.text
    assert findings(campaign)[uid].decision is Decision.ACCEPTED
    version = re.search(r'name="version" value="(\d+)"', answer.text)
    assert version is not None
    assert decision(reviewer, uid, int(version[1]), "rejected", "bar bends here").status_code == 303
    assert findings(campaign)[uid].decision is Decision.REJECTED


def test_nobody_decides_without_a_name(campaign: Path, in_force: Settings) -> None:
    app = create_app(in_force, campaign.parent, token=TOKEN)
    with TestClient(app, base_url=BASE, headers={"origin": BASE}) as client:
        client.get("/", params={"key": TOKEN})
        uid = uid_of(campaign, "falling away")
        answer = decision(client, uid, 1, "accepted", "because")
    assert answer.status_code == 422
    assert "choose under People" in answer.text


def test_a_finding_that_isnt_there_is_a_page_that_isnt_there(reviewer: TestClient) -> None:
    assert reviewer.get("/c/demo/review/0123456789ABCDEFGHJKMNPQRS").status_code == 404


def test_a_reason_with_a_script_in_it_is_shown_as_typed(
    reviewer: TestClient, campaign: Path
) -> None:
    uid = uid_of(campaign, "falling away")
    decision(reviewer, uid, 1, "accepted", "<script>alert(1)</script>")
    text = reviewer.get("/c/demo/review").text
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in text
    assert "<script>alert" not in text


def test_when_all_are_decided_the_page_says_so_and_lists_them(
    reviewer: TestClient, campaign: Path
) -> None:
    for uid in findings(campaign):
        assert decision(reviewer, uid, 1, "accepted", "seen").status_code == 303
    text = reviewer.get("/c/demo/review").text
    assert "Every finding is decided" in text
    assert text.count("Decide again") == len(findings(campaign))
    assert 'id="case"' not in text


@pytest.mark.full
def test_looking_again_is_a_job_that_finds_nothing_twice(
    reviewer: TestClient, campaign: Path
) -> None:
    before = findings(campaign)
    answer = reviewer.post("/c/demo/review/look", follow_redirects=False)
    assert answer.status_code == 303
    assert re.fullmatch(r"/c/demo/jobs/[0-9A-Z]{26}", answer.headers["location"])
    until = time.monotonic() + 50
    while "0 of them new" not in (text := reviewer.get(answer.headers["location"]).text):
        assert "not done" not in text
        assert time.monotonic() < until
        time.sleep(0.2)
    assert findings(campaign) == before


def test_an_empty_campaign_says_what_will_stand_here(client: TestClient) -> None:
    text = client.get("/c/beam/review").text
    assert "Findings will stand here once readings are in" in text
    assert "<button" not in text.partition("Look again")[2].partition("title-block")[0]


def test_the_page_is_made_from_its_context_and_from_all_of_it(
    reviewer: TestClient, campaign: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from gaugewright.web import frame

    drawn: list[object] = []
    as_it_is = frame.page

    def page(request, name, context, **more):  # type: ignore[no-untyped-def]
        drawn.append((name, context))
        return as_it_is(request, name, context, **more)

    monkeypatch.setattr(frame, "page", page)
    reviewer.get("/c/demo/review")
    ((name, context),) = drawn  # type: ignore[misc]
    templates = reviewer.app.state.templates  # type: ignore[attr-defined]
    assert names_used(templates, name) - ALWAYS == {f.name for f in dataclasses.fields(context)}
    assert_plain(context)


class TestWhatADecisionDoes:
    """Of a gauge with one doubtful finding about some of its rows."""

    @pytest.fixture
    def store(self, campaign: Path) -> Iterator[CampaignStore]:
        with CampaignStore.open(campaign, working_context()) as store:
            yield store

    def standing(self, store: CampaignStore, entry) -> State:  # type: ignore[no-untyped-def]
        book = Book.read(store)
        gauge = book.entry(entry.record.subject, object)
        return states.state_of_gauge(book, gauge)  # type: ignore[arg-type]

    @pytest.mark.parametrize(
        ("decided", "state"),
        [
            (Decision.ACCEPTED, State.DOUBTFUL),
            (Decision.EXCLUDED, State.WATCH),
            (Decision.REJECTED, State.SOUND),
        ],
    )
    def test_the_state_follows_and_was_foretold(
        self, store: CampaignStore, decided: Decision, state: State
    ) -> None:
        book = Book.read(store)
        found = {e.record.code: e for e in book.of(Finding)}
        review.decide(
            store,
            found["differs from similar gauges"].uid,
            1,
            Decision.REJECTED,
            "the other one is tried",
        )
        entry = found["falling away"]
        assert any(c.record.gauge == entry.record.subject for c in book.of(GateCheck))
        told = states.standing_if(Book.read(store), entry, decided)
        review.decide(store, entry.uid, 1, decided, "tried")
        assert self.standing(store, entry) is state
        assert told.state is state

    def test_a_lost_gauge_stays_lost_when_its_rows_are_excluded(self, store: CampaignStore) -> None:
        entry = next(e for e in Book.read(store).of(Finding) if e.record.code == "over-range")
        review.decide(store, entry.uid, 1, Decision.EXCLUDED, "open from here on")
        assert self.standing(store, entry) is State.LOST
