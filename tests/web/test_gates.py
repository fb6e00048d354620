"""Gates as pages: the table, a gauge's form with and without a queue, meters, sheets."""

import re

import pytest
from starlette.testclient import TestClient

from gaugewright.services.campaign.book import Book

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
    assert re.search(r"<b>L1-M-T</b>: pass, kept on [\w ,]+:\d\d as #\w{4}\.", onward)
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
    page = at_work.get(POUR).text
    assert "confirmed as typed" in page
    assert '/plan/enter/lead/cable%20L1-M-T">Lead cable L1-M-T</a>' in page
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


def test_a_second_person_signs_later_with_a_pin_of_their_own(at_work: TestClient) -> None:
    at_work.post(POUR, data=filled(at_work), headers=KEPT)
    page = at_work.get(POUR).text
    assert "Second name pending" in page
    form = re.search(
        r'action="([^"]+/second)"><input type="hidden" name="uid" value="(\w+)">'
        r'<input type="hidden" name="version" value="(\d+)">',
        page,
    )
    assert form
    first_form = page[form.start() :].partition("</form>")[0]
    assert 'value="bonder"' not in first_form  # who read it can't be second
    signing = {"uid": form[2], "version": form[3], "person": "engineer"}
    none_set = at_work.post(form[1], data={**signing, "pin": "1234"})
    assert none_set.status_code == 422
    assert "set it under People" in none_set.text
    at_work.post("/people/choose", data={"label": "engineer"})
    at_work.post("/people/pin", data={"pin": "482913"})
    at_work.post("/people/choose", data={"label": "bonder"})  # it is the bonder's tablet
    wrong = at_work.post(form[1], data={**signing, "pin": "482914"})
    assert wrong.status_code == 422
    assert "the one this person has set" in wrong.text
    assert "bonder, engineer: A–B" not in at_work.get(POUR).text
    signed = at_work.post(form[1], data={**signing, "pin": "482913"})
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


LOST = "/c/demo/gates/before-test/L3-R6-S"


def test_an_odd_check_leads_to_its_reasons(reader: TestClient) -> None:
    page = reader.get(LOST).text
    assert f'hx-get="{LOST}/diagnosis"' in page
    assert f'href="{LOST}/diagnosis"' in page
    sound = reader.get("/c/demo/gates/wired/L2-M-T").text
    assert "hx-get" not in sound.partition("<main")[2]
    assert "/diagnosis" in sound


def test_the_reasons_are_told_evidence_first(reader: TestClient) -> None:
    page = reader.get(LOST + "/diagnosis").text
    order = [page.index(words) for words in (">Evidence<", ">What it may be<", ">Read next<")]
    assert order == sorted(order)
    assert "excludes what, by how many standard uncertainties" in page
    assert re.search(r"\d+ ± \d+ % of the cable’?'?s length|of the cable&#39;s length", page)
    assert re.search(r'class="share">\d+ %<', page)
    assert "priors of faults.toml" in page
    part = reader.get(LOST + "/diagnosis", headers={"hx-request": "true"}).text
    assert "<html" not in part
    assert "What it may be" in part


def test_what_is_to_be_read_next_is_typed_right_there_and_kept(at_work: TestClient) -> None:
    url = "/c/demo/gates/before-pour/L1-M-T"
    page = at_work.get(url + "/diagnosis").text
    form = re.search(r'<form class="next-form" method="post".*?</form>', page, re.DOTALL)
    assert form
    hidden = dict(re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', form[0]))
    name = re.findall(r'<input id="step-\d" name="([^"]+)"', form[0])[0]
    sent = at_work.post(url, data={**hidden, name: "open", "unplugged": "1"})
    assert sent.status_code == 200
    assert sent.request.url.path.endswith("/diagnosis")
    assert "open" in sent.text.partition("Readings used")[2].partition("</ul>")[0]


def test_a_look_and_a_reading_kept_nowhere_are_weighed_in_the_address(reader: TestClient) -> None:
    page = reader.get(LOST + "/diagnosis?seen=hum+at+mains+frequency").text
    assert "Seen: hum at mains frequency" in page
    assert "kept nowhere" in page
    wrong = reader.get(LOST + "/diagnosis?seen=purple+smoke").text
    assert "That wasn’t weighed" in wrong


def test_the_catalogue_is_browsed_by_symptom(reader: TestClient) -> None:
    every = reader.get("/c/demo/faults").text
    assert every.count("<dt>Check</dt>") > 80
    found = reader.get("/c/demo/faults?q=hum+mains").text
    assert "Shield or earth" in found
    assert found.count("<dt>Check</dt>") < 20
    assert "unverified" in found
    nothing = reader.get("/c/demo/faults?q=purple+smoke").text
    assert "words of the catalogue" in nothing


def test_a_gate_prints_blank_and_filled(reader: TestClient) -> None:
    blank = reader.get("/c/demo/gates/before-pour/sheet/blank").text
    # Gauges that are read alike stand together: three leads, and the demo's half bridge.
    heads = re.findall(r'<thead><tr><th scope="col">gauge</th>(.*?)</tr></thead>', blank)
    assert len(heads) >= 2
    assert "A–B (Ω)" in heads[0]
    assert "if odd: A–C (Ω)" in heads[0]
    assert len(re.findall(r'<tr><th scope="row">', blank)) == 30
    filled = reader.get("/c/demo/gates/after-pour/sheet/filled").text
    assert "24 gauges read." in filled
    assert "read by bonder; seen by checker" in filled
    assert "Not read at this gate: P-1" in filled
    assert reader.get("/c/demo/gates/nowhere/sheet/blank").status_code == 404
