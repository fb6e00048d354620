"""Overview of a campaign: where it is, what is at risk, what comes next, told from its records."""

import dataclasses
import re
from collections.abc import Callable
from pathlib import Path
from urllib.parse import quote

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import working_context
from gaugewright.records.readings import Decision, Finding, Severity
from gaugewright.records.specimen import Question
from gaugewright.services.campaign.book import Book
from gaugewright.store.campaign import CampaignStore
from tests.web.reading import links, rows, words
from tests.web.test_guard_text import HOSTILE, assert_nothing_runs


def of_severity(book: Book, severity: Severity) -> set[str]:
    return {f.record.subject for f in book.of(Finding) if f.record.severity is severity}


def test_the_three_answers_are_told_from_the_records(reader: TestClient, records: Book) -> None:
    text = words(reader.get("/c/demo/").text)
    lost = of_severity(records, Severity.LOST)
    doubtful = of_severity(records, Severity.DOUBTFUL) - lost
    assert lost
    assert doubtful
    assert f"doubtful {len(doubtful)} " in text
    assert f"lost {len(lost)} " in text
    assert f"sound {len(records.of(Gauge)) - len(lost | doubtful)} gauges" in text
    undecided = sum(f.record.decision is Decision.OPEN for f in records.of(Finding))
    assert f"Decide {undecided} open findings: accept, exclude or reject with a reason." in text
    assert "1 report is built" in text


def test_every_gauge_is_on_the_list_and_its_page_opens(reader: TestClient, records: Book) -> None:
    listed = {url for url, _ in links(reader.get("/c/demo/").text) if "/gauges/" in url}
    assert listed == {f"/c/demo/gauges/{g.record.label}" for g in records.of(Gauge)}
    for url in sorted(listed):
        assert reader.get(url).status_code == 200, url


def test_a_bad_gauge_is_named_with_its_finding(reader: TestClient, records: Book) -> None:
    text = words(reader.get("/c/demo/").text)
    for uid in of_severity(records, Severity.LOST):
        sentences = [f.record.sentence for f in records.of(Finding) if f.record.subject == uid]
        label = records.label(uid)
        assert any(sentence.removeprefix(f"{label} ") in text for sentence in sentences), label


def test_a_question_says_how_many_of_its_gauges_can_be_used(
    reader: TestClient, records: Book
) -> None:
    table = rows(reader.get("/c/demo/").text)
    bad = of_severity(records, Severity.LOST) | of_severity(records, Severity.DOUBTFUL)
    for question in records.of(Question):
        mine = {g.uid for g in records.of(Gauge) if g.record.station in question.record.stations}
        row = next(row for row in table if row and row[0] == question.record.text)
        assert row[1] == ("fewer gauges" if mine & bad else "safe")
        assert row[2].startswith(f"{len(mine - bad)} of {len(mine)} gauges can be used")
        assert all(records.label(uid) in row[2] for uid in mine & bad)


def test_what_is_decided_is_no_longer_to_do(writer: TestClient, tmp_path: Path) -> None:
    with CampaignStore.open(tmp_path / "campaigns/demo", working_context()) as store:
        for entry in store.entries(Finding):
            decided = dataclasses.replace(
                entry.record, decision=Decision.REJECTED, reason="looked at it"
            )
            store.revise(entry.uid, entry.version, decided, reason="looked at it")
    text = words(writer.get("/c/demo/").text)
    assert "open finding" not in text
    assert "Nothing that the records show." in text
    assert "lost none" in text


def test_an_empty_campaign_says_what_comes_first(client: TestClient) -> None:
    text = client.get("/c/beam/").text
    assert "Nothing is placed yet" in words(text)
    assert "Begin the plan. Next, questions: what must be known, how well." in words(text)
    assert ("/c/beam/plan", "Open Plan") in links(text)
    assert "<svg xmlns" not in text  # no map of nothing


@pytest.mark.parametrize("label", [*HOSTILE, "P/1 ?#%"])
def test_a_label_is_text_wherever_it_stands(writer: TestClient, tmp_path: Path, label: str) -> None:
    with CampaignStore.open(tmp_path / "campaigns/demo", working_context()) as store:
        gauge = store.labelled(Gauge, "L1-M-T")
        renamed = dataclasses.replace(gauge.record, label=label)
        store.revise(gauge.uid, gauge.version, renamed, reason=label)
    quoted = quote(label, safe="")
    for path in ("/c/demo/", f"/c/demo/gauges/{quoted}", f"/c/demo/drawings/gauge/{quoted}"):
        answer = writer.get(path)
        assert answer.status_code == 200, path
        assert label in words(answer.text), path
        assert_nothing_runs(answer.text)


def test_the_journal_tells_what_was_written_last_and_by_whom(
    writer: TestClient, tmp_path: Path
) -> None:
    with CampaignStore.open(tmp_path / "campaigns/demo", working_context()) as store:
        store.add(Question("late", "Did the plate slip?", "force"), reason="asked on the phone")
    text = words(writer.get("/c/demo/").text).partition("Journal")[2]
    assert "question late: asked on the phone" in text


def test_a_line_of_the_journal_keeps_its_count_when_records_change_later(
    writer: TestClient, tmp_path: Path
) -> None:
    with CampaignStore.open(tmp_path / "campaigns/demo", working_context()) as store:
        late = [store.add(Question(f"late {n}", "Slipped?", "force")) for n in range(3)]
    assert "3 questions" in words(writer.get("/c/demo/").text).partition("Journal")[2]
    with CampaignStore.open(tmp_path / "campaigns/demo", working_context()) as store:
        changed = dataclasses.replace(late[0].record, text="Did it slip?")
        store.revise(late[0].uid, 1, changed, reason="asked better")
    text = words(writer.get("/c/demo/").text).partition("Journal")[2]
    assert "3 questions" in text
    assert "question late 0 changed, version 2: asked better" in text
    assert ("/c/demo/journal", "The whole journal") in links(writer.get("/c/demo/").text)


def test_the_whole_journal_is_there_a_hundred_entries_a_page(
    reader: TestClient, demo_campaign: Path
) -> None:
    with CampaignStore.open(demo_campaign, working_context(), read_only=True) as store:
        head = store.head().seq
    seen: list[int] = []
    url = "/c/demo/journal"
    while url:
        page = reader.get(url).text
        seen += [int(number) for number in re.findall(r'class="when">(\d+)\. ', page)]
        url = next((to for to, said in links(page) if said == "Older entries"), "")
    assert seen == list(range(head, 0, -1))


def test_pages_on_a_campaign_are_made_from_their_contexts_alone(
    reader: TestClient, drawn: list[tuple[str, object]], names_used: Callable[[str], set[str]]
) -> None:
    paths = ("", "gauges/L1-M-T", "results", "handover", "drawings/bar/L1")
    for path in paths:
        assert reader.get(f"/c/demo/{path}").status_code == 200
    assert len(drawn) == len(paths)
    for name, context in drawn:
        fields = {field.name for field in dataclasses.fields(context)}  # type: ignore[arg-type]
        assert names_used(name) == fields, name


@pytest.fixture
def names_used(reader: TestClient) -> Callable[[str], set[str]]:
    from tests.web import test_frame

    app = reader.app
    assert isinstance(app, FastAPI)
    return lambda name: test_frame.names_used(app.state.templates, name) - test_frame.ALWAYS


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, object]]:
    from gaugewright.web import frame

    found: list[tuple[str, object]] = []
    as_it_is = frame.page

    def page(request: object, name: str, context: object, **more: object) -> object:
        found.append((name, context))
        return as_it_is(request, name, context, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(frame, "page", page)
    return found
