"""Pages of the bench: the form of a step, what is kept, methods as data, papers, refusals."""

import re
from urllib.parse import quote

import pytest
from starlette.testclient import TestClient

from gaugewright.records.gauges import Gauge
from gaugewright.services.bench.methods import complete_methods
from gaugewright.services.campaign.book import Book
from tests.web.reading import words

DO = "/c/demo/bench/do"
PLACE = {"method": "bar to be cast in", "step": "smooth", "gauges": "L1-M-T; L1-M-U"}


@pytest.fixture
def at_work(writer: TestClient) -> TestClient:
    """A browser at which somebody of the demo is at work."""
    chosen = writer.get("/people").text.split('name="label" value="')[1].split('"')[0]
    assert writer.post("/people/choose", data={"label": chosen}).status_code == 200
    return writer


def test_each_step_of_each_method_has_a_form_that_says_all_of_it(
    reader: TestClient, records: Book
) -> None:
    for method in complete_methods(records):
        for step in method.steps:
            query = {"method": method.label, "step": step.name, "gauge": ["L1-M-T", "L1-M-U"]}
            answer = reader.get(DO, params=query)
            assert answer.status_code == 200, step.name
            told = words(answer.text)
            for line in (*step.text.splitlines(), *step.hazards, *step.cautions):
                assert words(line) in told, line
            for label in step.limits:
                assert f"{label}: " in told
            for field in step.fields:
                count = 3 if field.each else 1  # one for all of them, one for each
                assert answer.text.count(f'name="value:{field.name}') == count, field.name
            assert "unverified" in told


def test_a_place_that_is_not_there_is_said_so(reader: TestClient) -> None:
    for query, status in (
        ({"method": "strand", "step": "bond"}, 422),
        ({"method": "strand", "step": "weld", "gauge": "L1-M-T"}, 404),
        ({"method": "no such", "step": "bond", "gauge": "L1-M-T"}, 404),
        ({"method": "strand", "step": "bond", "gauge": "nobody"}, 404),
    ):
        assert reader.get(DO, params=query).status_code == status
    assert reader.get("/c/demo/bench/kept/01ARZ3NDEKTSV4RRFFQ69G5FAV").status_code == 404
    assert reader.get("/c/demo/bench/methods/none").status_code == 404
    assert reader.get("/c/demo/bench/blank?method=none").status_code == 404
    assert reader.get("/c/demo/bench/record?gauge=none").status_code == 404


def test_steel_lost_is_told_for_what_is_typed_so_far(reader: TestClient) -> None:
    typed = {**PLACE, "value:flat width:L1-M-T": "5.2", "value:flat width:L1-M-U": "0.052"}
    told = reader.get("/c/demo/bench/loss", params=typed).text
    assert "L1-M-T: " in told
    assert "% of the steel is gone" in told
    assert "L1-M-U: flat width 0.052: did you mean 5.2 mm?" in told
    assert reader.get("/c/demo/bench/loss", params=PLACE).text == ""


def test_a_slip_is_asked_about_by_page_and_by_queue_and_kept_once(at_work: TestClient) -> None:
    typed = {**PLACE, "phase": "done", "key": "page-of-this-test-1", "value:flat width": "0.052"}
    none = at_work.post(DO, data={**typed, "value:flat width": "", "key": "page-of-this-test-0"})
    assert none.status_code == 422
    assert "flat width (all 2 gauges)" in words(none.text)
    assert "data-asked-keep>Keep it, not read<" in none.text
    assert 'name="phase" value="done"' in none.text  # its answer ends the step as well
    asked = at_work.post(DO, data=typed)
    assert asked.status_code == 422
    assert "Take <span data-asked-words>5.2 mm" in asked.text
    queue = {"accept": "application/json"}
    told = at_work.post(DO, data={**typed, "key": "device-of-this-test-1"}, headers=queue)
    assert (told.status_code, told.json()["asked"]) == (422, "5.2 mm")
    assert "value%3Aflat+width=0.052" in told.json()["url"]
    used = {**typed, "use": "1"}
    first = at_work.post(DO, data=used, follow_redirects=False)
    again = at_work.post(DO, data=used, follow_redirects=False)
    assert first.status_code == again.status_code == 303
    assert first.headers["location"] == again.headers["location"]
    shown = at_work.get(first.headers["location"]).text
    assert "autofocus" in shown  # answers what was just done; opened later it only tells it
    assert "autofocus" not in at_work.get(first.headers["location"].partition("?")[0]).text
    kept = words(shown)
    assert "smooth: L1-M-T, L1-M-U" in kept
    assert re.search(r"Kept on \d+ \w+ \d{4}, \d\d:\d\d as #[0-9a-z]{4}\. ", kept)
    assert "bar to be cast in, version 1" in kept
    record = words(at_work.get("/c/demo/bench/record?gauge=L1-M-T").text)
    assert "5.2 mm" in record


def test_a_refusal_stands_at_the_top_with_gauge_and_field_and_the_box_is_taken(
    at_work: TestClient,
) -> None:
    typed = {**PLACE, "phase": "done", "value:flat width": "5.2", "ended": "soon"}
    typed |= {"value:flat depth:L1-M-U": "-3 mm", "key": "page-of-this-test-8"}
    page = at_work.post(DO, data=typed)
    assert page.status_code == 422
    top, _, below = page.text.partition("data-refused-list")[2].partition("</ul>")
    assert '<a href="#f3-1">Flat depth of L1-M-U is' in top
    assert 'id="f3-1" name="value:flat depth:L1-M-U" value="-3 mm"' in below
    assert below.partition('id="f3-1"')[2].partition(">")[0].count("autofocus") == 1
    queue = at_work.post(DO, data=typed, headers={"accept": "application/json"}).json()
    assert queue["at"][0]["key"] == "value:flat depth:L1-M-U"


def test_a_cure_takes_a_file_and_a_wrong_step_is_put_right_or_taken_back(
    at_work: TestClient,
) -> None:
    bench = "/c/demo/bench"
    dated = {"what": "adhesive", "batch": "7", "source": "sheet of 2025", "cure_1_degc": "20"}
    wrong = at_work.post(f"{bench}/supply", data={**dated, "expires": "soon", "pot_life": "-2"})
    told = words(wrong.text)
    for part in ("Label is empty", "Good until is 'soon'", "Pot life is '-2'", "Cured is '20"):
        assert part in told, part
    good = {**dated, "label": "glue-7", "expires": "2028-01-31", "cure_1_time": "24"}
    assert "entered as glue-7" in words(at_work.post(f"{bench}/supply", data=good).text)

    place = {"method": "bar to be cast in", "step": "cure", "gauges": "L1-M-T", "phase": "done"}
    moment = {"begun": "2026-11-02 09:00", "ended": "2026-11-03 10:00", "supply:glue-7": "1"}
    page = words(at_work.get(DO, params={**place, "gauge": "L1-M-T"}).text)
    assert "From one line to the next 1 h at most" in page
    log = "Recorder 7;;\nday;time;temp °C\n" + "".join(
        f"{2 + h // 24:02d}.11.2026;{h % 24:02d}:00;21,5\n" for h in range(9, 35)
    )
    file = {"log_file": ("log.csv", log.encode(), "text/csv")}
    cured = {**place, **moment, "key": "page-of-this-test-9"}
    kept = at_work.post(DO, data=cured, files=file)
    assert "cured to 104 %" in words(kept.text)
    own = str(kept.url).partition("?")[0]
    again = at_work.get(f"{own}/right")
    assert "09.11.2026" not in again.text
    assert "21,5" in again.text
    assert 'value="2026-11-02 09:00"' in again.text
    uid = own.rpartition("/")[2]
    mended = {
        **cured,
        "instead": uid,
        "key": "page-of-this-test-10",
        "value:lowest temperature": "19",
    }
    cold = at_work.post(DO, data=mended)
    assert ", version 2." in words(cold.text)
    assert "cured to 0 %" in words(cold.text)
    assert "Asked for by this record: cure, begun 2 November 2026" in words(at_work.get(bench).text)
    refused = at_work.post(f"{own}/back", data={"of": uid, "back_reason": " "})
    assert "why it is taken back" in words(refused.text)
    gone = at_work.post(f"{own}/back", data={"of": uid, "back_reason": "of another bar"})
    assert "taken back on" in words(gone.text)
    assert at_work.get(f"{bench}/kept/{uid}").status_code == 404


def test_nobody_at_work_writes_nothing(reader: TestClient) -> None:
    answer = reader.post(DO, data={**PLACE, "phase": "done", "key": "page-of-this-test-2"})
    assert answer.status_code == 422


def test_a_method_and_a_limit_are_changed_by_page_with_a_reason(at_work: TestClient) -> None:
    url = "/c/demo/bench/methods/" + quote("strand")
    page = at_work.get(url)
    assert "Unverified" in words(page.text)
    change = {"step": "label", "version": "1", "text": "Both ends.", "cautions": "Mind it."}
    assert at_work.post(url, data=change).status_code == 422  # without a reason
    kept = at_work.post(url, data={**change, "reason": "own way"})
    assert "own way" in words(kept.text)
    assert "Both ends." in words(kept.text)
    stale = at_work.post(url, data={**change, "text": "One end.", "reason": "late"})
    assert stale.status_code == 422
    assert "your edit began from version 1" in words(stale.text)
    limit = {"limit": "cleaned to bonded", "value": "20 min", "source": "own", "reason": "damp"}
    changed = at_work.post(url, data={**limit, "confirmed": "yes"})
    assert "cleaned to bonded: 20 min" in words(changed.text)
    text = at_work.get(url + "?text=1").text
    assert 'label = "strand"' in text
    whole = {"whole": text.replace("Both ends.", "Each end."), "reason": "by text"}
    assert "Each end." in words(at_work.post(url, data=whole).text)
    renamed = {"whole": text.replace('label = "strand"', 'label = "rope"'), "reason": "x"}
    assert at_work.post(url, data=renamed).status_code == 422


def test_papers_have_a_line_for_every_gauge(reader: TestClient, records: Book) -> None:
    blank = reader.get("/c/demo/bench/blank")
    filled = reader.get("/c/demo/bench/record")
    assert blank.status_code == filled.status_code == 200
    for gauge in records.of(Gauge):
        assert f'<th scope="row">{gauge.record.label}</th>' in blank.text
        assert f"<h2>{gauge.record.label}</h2>" in filled.text
    one = words(reader.get("/c/demo/bench/blank?method=strand").text)
    assert "note, or put aside because" in one


def test_only_the_latest_steps_stand_open_on_the_bench(reader: TestClient) -> None:
    part = reader.get("/c/demo/bench").text.partition('id="kept"')[2].partition("</section>")[0]
    open_ones, _, folded = part.partition("<details")
    assert open_ones.count("/bench/kept/") == 6
    count = folded.count("/bench/kept/")
    assert count > 100
    assert f"<summary>{count} earlier</summary>" in folded


def test_a_supply_that_is_refused_stands_open_and_is_told_at_the_top(at_work: TestClient) -> None:
    typed = {"label": "A-9", "what": "adhesive", "batch": "9", "expires": "soon", "source": "sheet"}
    answer = at_work.post("/c/demo/bench/supply", data=typed)
    assert answer.status_code == 422
    assert '<details class="as-list" id="supply" open>' in answer.text
    assert '<details class="as-list" id="note">' in answer.text
    told = answer.text.split('role="alert"')[1].split("</div>")[0]
    assert "soon" in told
