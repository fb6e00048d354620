"""Gates as pages: the table, a gauge's form with and without a queue, meters, sheets."""

import re

import pytest
from starlette.testclient import TestClient

from gaugewright.services.book import Book

POUR = "/c/demo/gates/before-pour/L1-M-T"
FORM = {"a_b": "353.53", "b_c": "4.41", "insulation": "> 2000", "at": "2026-09-04T09:00:00.000000Z"}
KEPT = {"accept": "application/json"}


@pytest.fixture
def at_work(writer: TestClient) -> TestClient:
    assert writer.post("/people/choose", data={"label": "bonder"}).status_code < 400
    return writer


def key_of(page: str) -> str:
    found = re.search(r'name="key" value="([^"]+)"', page)
    assert found
    return found[1]


def filled(client: TestClient, **more: str) -> dict[str, str]:
    """Form as a browser without scripts sends it: what it was drawn with, and what was typed."""
    page = client.get(POUR).text
    hidden = dict(re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', page))
    chosen = re.findall(
        r'<select id="(meter_\w+)".*?<option value="([^"]*)" selected', page, re.DOTALL
    )
    return {**hidden, **dict(chosen), **FORM, **more}


def test_the_table_shows_every_gauge_at_every_gate(reader: TestClient, records: Book) -> None:
    page = reader.get("/c/demo/gates?gate=after%20pour").text
    assert "Gate 7, after pour: 24 of 30 gauges measured." in page
    assert page.count('<th scope="row"><a href="/c/demo/gauges/') == 30
    assert page.count('href="/c/demo/gates/before-pour/') >= 30
    assert "doubtful: fail" in page


def test_a_gate_or_gauge_that_is_not_there_is_said(reader: TestClient) -> None:
    assert reader.get("/c/demo/gates/nowhere/L1-M-T").status_code == 404
    assert reader.get("/c/demo/gates/wired/NIX").status_code == 404


def test_the_form_holds_the_fewest_fields_and_what_they_were(reader: TestClient) -> None:
    page = reader.get(POUR).text
    order = re.findall(r'<input id="(\w+)" name="\w+" inputmode="decimal"', page)
    assert order[:3] == ["a_b", "b_c", "insulation"]
    assert "was 353.53" in page
    full = reader.get(POUR + "?full=1").text
    assert 'id="a_c"' in full
    assert 'id="a_c"' not in page


def test_a_form_goes_round_without_a_script(at_work: TestClient) -> None:
    sent = at_work.post(POUR, data=filled(at_work), follow_redirects=False)
    assert sent.status_code == 303, sent.text
    assert sent.headers["location"].startswith("/c/demo/gates/before-pour/")
    onward = at_work.get(sent.headers["location"]).text
    assert "<b>L1-M-T</b>: pass." in onward
    back = at_work.get(POUR).text
    assert "bonder: A–B 353.53, B–C 4.41, Leads to bar &gt; 2000 MΩ; pass" in back


def test_the_same_page_sent_twice_writes_once(at_work: TestClient) -> None:
    form = filled(at_work)
    first = at_work.post(POUR, data=form, headers=KEPT).json()
    again = at_work.post(POUR, data=form, headers=KEPT).json()
    assert first["uid"] == again["uid"]


@pytest.mark.parametrize(
    ("field", "text", "said"),
    [
        ("a_b", "335.53", "probably 353.53 Ω"),
        ("a_b", "3x3", "must be a number"),
        ("insulation", "> many", "must be a number"),
        ("temperature", "warm", "a number"),
        ("insulation", "381000000", "probably 381 MΩ"),
    ],
)
def test_bad_input_gets_a_sentence_and_keeps_what_was_typed(
    at_work: TestClient, field: str, text: str, said: str
) -> None:
    answer = at_work.post(POUR, data=filled(at_work, **{field: text}))
    assert answer.status_code == 422
    assert said in answer.text
    assert f'value="{text.replace(">", "&gt;")}"' in answer.text


def test_what_was_meant_is_taken_at_a_tap(at_work: TestClient) -> None:
    form = filled(at_work, a_b="335.53")
    asked = at_work.post(POUR, data=form)
    assert 'name="use" value="1"' in asked.text
    form["key"] = key_of(asked.text)
    taken = at_work.post(POUR, data={**form, "use": "1"}, headers=KEPT)
    assert taken.status_code == 200, taken.text
    assert "A–B 353.53," in at_work.get(POUR).text


def test_as_typed_is_recorded_and_watched(at_work: TestClient) -> None:
    answer = at_work.post(POUR, data=filled(at_work, a_b="335.53", as_typed="1"), headers=KEPT)
    assert answer.status_code == 200
    assert "confirmed as typed" in at_work.get(POUR).text
    assert "?full=1" in answer.json()["next"]


def test_the_queue_hears_why_and_where_to_decide(at_work: TestClient) -> None:
    told = at_work.post(POUR, data=filled(at_work, a_b="335.53"), headers=KEPT)
    assert told.status_code == 422
    assert told.json()["asked"] == "353.53"
    page = at_work.get(told.json()["url"]).text
    assert 'value="335.53"' in page


def test_nobody_at_work_is_told_to_choose(writer: TestClient) -> None:
    page = writer.get(POUR).text
    assert "choose who you are" in page
    answer = writer.post(POUR, data={**FORM, "key": key_of(page)})
    assert answer.status_code == 422
    assert "choose under People" in answer.text


def test_a_second_person_signs_later(at_work: TestClient) -> None:
    at_work.post(POUR, data=filled(at_work), headers=KEPT)
    assert (
        "Put my name under it"
        not in at_work.get(POUR)
        .text.partition("Everything about")[0][at_work.get(POUR).text.index("Written down") :]
        .partition("</li>")[0]
    )
    at_work.post("/people/choose", data={"label": "engineer"})
    page = at_work.get(POUR).text
    form = re.search(
        r'action="([^"]+/second)"><input type="hidden" name="uid" value="(\w+)">'
        r'<input type="hidden" name="version" value="(\d+)">',
        page,
    )
    assert form
    signed = at_work.post(form[1], data={"uid": form[2], "version": form[3]})
    assert "bonder, engineer: A–B" in signed.text


def test_two_people_s_values_stand_side_by_side(at_work: TestClient) -> None:
    at_work.post(POUR, data=filled(at_work), headers=KEPT)
    at_work.post("/people/choose", data={"label": "checker"})
    told = at_work.post(POUR, data=filled(at_work, a_b="353.93"), headers=KEPT).json()
    assert "read 353.53, you 353.93, both are kept" in told["sentence"]
    page = at_work.get(POUR).text
    assert "checker: A–B 353.93" in page
    assert "bonder: A–B 353.53" in page


def test_a_meter_is_entered_with_its_limits_and_brings_its_box(at_work: TestClient) -> None:
    assert 'id="reading"' not in at_work.get(POUR).text
    bad = at_work.post("/c/demo/gates/meters", data={"label": "R", "unit": "furlong"})
    assert bad.status_code == 422
    good = {"label": "recorder A", "unit": "mV/V", "share": "0.05", "fixed": "0.001"}
    page = at_work.post("/c/demo/gates/meters", data=good).text
    assert "±(0.05 % of reading + 0.001 mV/V)" in page
    assert 'id="reading"' in at_work.get(POUR).text


def test_a_sheet_comes_back_row_by_row(at_work: TestClient) -> None:
    csv = at_work.get("/c/demo/gates/before-pour/sheet.csv")
    assert csv.headers["content-type"].startswith("text/csv")
    text = csv.content.decode("utf-8-sig")
    assert text.startswith("gauge,temperature in °C,time,A-B in Ω,B-C in Ω,insulation in MΩ")
    wrong = text.replace("353.53", "335.53", 1).replace("L2-M-T", "NIX", 1)
    url = "/c/demo/gates/before-pour/sheet"
    refused = at_work.post(url, files={"file": ("pour.csv", wrong.encode())})
    assert refused.status_code == 422
    assert "Nothing was taken in; 2 to mend" in refused.text
    assert "line 2" in refused.text
    assert "line 4" in refused.text
    same = at_work.post(url, files={"file": ("pour.csv", csv.content)})
    assert "0 taken in, 24 unchanged, 6 empty" in same.text


def test_a_workbook_is_given_too(reader: TestClient) -> None:
    answer = reader.get("/c/demo/gates/before-pour/sheet.xlsx")
    assert answer.content.startswith(b"PK")
