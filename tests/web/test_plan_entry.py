"""A plan entered in the browser: forms that follow, faults beside fields, versions, undo."""

import re
from collections.abc import Callable
from typing import Any

import openpyxl
import pytest
from starlette.testclient import TestClient

from gaugewright.records.identity import working_context
from gaugewright.records.specimen import Bar, Specimen, Station
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering import entry as plan_entry
from gaugewright.services.plan import order
from gaugewright.store.campaign import CampaignStore, JournalHead
from tests.web.reading import links, words

PLAN = "/c/beam/plan"
STEEL = {
    "label": "B500",
    "law": "elastic",
    "elastic_modulus": "200 ± 2 (k=2)",
    "poisson_ratio": "0.3",
    "thermal_expansion": "11.6",
}


@pytest.fixture
def at_work(client: TestClient) -> TestClient:
    """A browser at which AB is at work on an empty campaign."""
    assert client.post("/people/choose", data={"label": "AB"}).status_code == 200
    return client


@pytest.fixture
def with_bars(at_work: TestClient) -> TestClient:
    """The same, with a specimen, a metal and two bars."""
    enter(at_work, "specimen", label="H3", kind="cast member", length="4200")
    enter(at_work, "material", **STEEL)
    enter(at_work, "bar", label="L1; L2", specimen="H3", material="B500", size="d16", length="4140")
    return at_work


def enter(client: TestClient, key: str, **texts: str) -> Any:
    answer = client.post(f"{PLAN}/enter/{key}", data=texts)
    assert answer.status_code == 200, words(answer.text)
    return answer


def book(home: Any) -> Book:
    with CampaignStore.open(home / "beam", working_context(), read_only=True) as store:
        return Book.read(store)


def undone(client: TestClient, text: str) -> Any:
    """Press the button that takes back what a page says was kept."""
    block = re.search(r'<form class="notice undo".*?</form>', text, re.DOTALL)
    assert block
    action = re.search(r'action="([^"]+)"', block[0])
    assert action
    return client.post(action[1], data=dict(re.findall(r'name="(\w+)" value="([^"]*)"', block[0])))


def test_an_empty_plan_leads_to_every_form(at_work: TestClient) -> None:
    text = at_work.get(PLAN).text
    assert "Next, questions: what must be known, how well. Enter a question" in words(text)
    assert words(text).count("none yet") == len(order.ORDER) + len(order.LATER) - 1  # one person
    forms = {url for url, _ in links(text) if "/plan/enter/" in url}
    assert {url.rpartition("/")[2] for url in forms} == {*plan_entry.KINDS, *plan_entry.MANY, "AB"}
    for url in forms:
        assert at_work.get(url).status_code == 200, url


def test_a_form_that_lacks_records_leads_to_theirs_first(with_bars: TestClient) -> None:
    page = with_bars.get(f"{PLAN}/enter/stations").text
    assert (f"{PLAN}/sheet", "From a spreadsheet") in set(links(page))
    assert f'<p>Next: <a href="{PLAN}/enter/pack">' in page
    assert (
        f'<a href="{PLAN}/enter/pack">Enter a pack</a> first.'
        in with_bars.get(f"{PLAN}/enter/gauges").text
    )
    assert (
        f'<a class="button is-next" href="{PLAN}/enter/sensor">'
        in with_bars.get(f"{PLAN}/enter/sensed").text
    )


def test_a_question_that_names_no_station_is_led_to_by_its_own_form(
    with_bars: TestClient,
) -> None:
    place = {"distance_planned": "100", "angle_planned": "0"}
    enter(with_bars, "station", label="S", bar="L1", datum="end", **place)
    enter(with_bars, "question", label="how far", text="Strain?", quantity="strain")
    own = f"{PLAN}/enter/question/how%20far"
    assert (own, "Question how far") in set(links(with_bars.get(PLAN).text))
    assert f'<p>Next: <a href="{own}">' in with_bars.get(f"{PLAN}/enter/person").text


def test_a_form_explains_the_quantities_that_it_asks_and_no_others(at_work: TestClient) -> None:
    metal = at_work.get(f"{PLAN}/enter/material").text
    assert 'id="means-elastic_modulus"' in metal
    assert 'id="means-lead_resistance"' not in metal
    assert 'id="meaning"' not in at_work.get(f"{PLAN}/enter/person").text


def test_fields_follow_the_kind_with_and_without_a_script(at_work: TestClient) -> None:
    page = f"{PLAN}/enter/member"
    assert 'name="flange_width"' not in at_work.get(page).text
    chosen = at_work.get(page, params={"shape": "T", "label": "kept as typed"})
    assert 'name="flange_width"' in chosen.text
    assert 'value="kept as typed"' in chosen.text
    # Enter in a field presses the first button of a form: it keeps, whatever else is there.
    buttons = re.findall(r"<button[^>]*>", chosen.text.partition('class="form plan-form"')[2])
    assert buttons[0] == '<button type="submit" hidden>'
    part = at_work.get(page, params={"shape": "circle"}, headers={"hx-request": "true"})
    assert "<html" not in part.text
    assert 'name="width"' not in part.text


def test_faults_stand_beside_their_fields_and_nothing_is_kept(
    with_bars: TestClient, head: Callable[[], JournalHead]
) -> None:
    before = head()
    typed = {"label": "S", "bar": "L9", "datum": "", "distance_planned": "1,234"}
    answer = with_bars.post(f"{PLAN}/enter/station", data=typed)
    assert answer.status_code == 422
    for field in ("bar", "datum", "distance_planned", "angle_planned"):
        assert f'id="{field}-wrong"' in answer.text
    assert "can&#39;t be read in two ways" in answer.text
    # What is to be mended is told where the page begins, each with a way to its field.
    assert "To be mended: Bar , Distance counts from , Distance ," in words(answer.text)
    assert '<a href="#distance_planned">' in answer.text
    assert 'value="1,234"' in answer.text
    assert head() == before


def test_a_change_is_a_version_and_a_stale_one_shows_both(with_bars: TestClient, home: Any) -> None:
    page = f"{PLAN}/enter/bar/L1"
    form = dict(
        re.findall(r'name="([\w.]+)" type="text" value="([^"]*)"', with_bars.get(page).text)
    )
    form |= {"version": "1", "specimen": "H3", "material": "B500", "size": "d16"}
    form |= {f"{n}_basis": "stated" for n in ("diameter", "area")}
    form |= {f"{n}_source": "nominal, EN 10080" for n in ("diameter", "area")}
    assert with_bars.post(page, data=form | {"length": "4100"}).status_code == 200
    stale = with_bars.post(page, data=form | {"length": "4000"})
    assert stale.status_code == 409
    told = words(stale.text)
    assert "Somebody changed it meanwhile" in told
    assert re.search(r"Length 4100 4000", told)
    assert 'name="version" value="2"' in stale.text
    assert book(home).labelled(Bar, "L1").record.length == 4.1
    again = with_bars.post(page, data=form | {"length": "4000", "version": "2"})
    assert again.status_code == 200
    assert book(home).labelled(Bar, "L1").version == 3
    undone(with_bars, again.text)
    assert book(home).labelled(Bar, "L1").record.length == 4.1


def test_what_has_no_doubt_is_said_to_count_as_exact(at_work: TestClient) -> None:
    assert "A number alone counts as exact" in words(at_work.get(f"{PLAN}/enter/material").text)
    told = words(enter(at_work, "material", **STEEL).text)
    assert "Taken as exact. Thermal expansion, Poisson’s ratio: without a ±" in told
    form = words(at_work.get(f"{PLAN}/enter/material/B500").text)
    assert form.count("No ± is given: it counts as exact.") == 2
    assert "numbers without ±" in words(at_work.get(PLAN).text).lower()
    assert "B500 (thermal expansion, Poisson’s ratio)" in words(at_work.get("/c/beam/").text)
    assert "A number alone" not in words(at_work.get(f"{PLAN}/enter/person").text)


def test_the_only_record_there_is_is_chosen(with_bars: TestClient) -> None:
    text = with_bars.get(f"{PLAN}/enter/bar").text
    assert '<option value="H3" selected>' in text
    assert '<option value="B500" selected>' in text
    # Of two bars neither is.
    assert 'value="" selected>choose' in with_bars.get(f"{PLAN}/enter/station").text


def test_what_was_written_together_is_taken_back_together(with_bars: TestClient, home: Any) -> None:
    typed = {"label": "M1; M2", "specimen": "H3", "material": "B500"}
    made = enter(with_bars, "bar", **typed)
    assert "Kept: M1, M2" in words(made.text)
    assert undone(with_bars, made.text).status_code == 200
    assert [bar.record.label for bar in book(home).of(Bar)] == ["L1", "L2"]


def test_taking_out_is_refused_while_others_name_it(with_bars: TestClient, home: Any) -> None:
    typed = {"key": "specimen", "label": "H3", "version": "1"}
    refused = with_bars.post(f"{PLAN}/take-out", data=typed)
    assert refused.status_code == 422
    assert "named by bar L1, bar L2" in words(refused.text)
    typed = {"key": "bar", "label": "L2", "version": "1"}
    assert with_bars.post(f"{PLAN}/take-out", data=typed).status_code == 200
    assert len(book(home).of(Bar)) == 1
    assert len(book(home).of(Specimen)) == 1


def test_nobody_at_work_enters_nothing(client: TestClient) -> None:
    answer = client.post(f"{PLAN}/enter/specimen", data={"label": "x", "kind": "dummy"})
    assert answer.status_code == 422
    assert "choose under People" in words(answer.text)


def test_what_isn_t_there_is_said(with_bars: TestClient) -> None:
    assert with_bars.get(f"{PLAN}/enter/gold").status_code == 404
    assert with_bars.get(f"{PLAN}/enter/bar/L9").status_code == 404
    assert with_bars.get(f"{PLAN}/place?bar=L9").status_code == 404
    bad = {"refs": "nonsense", "back": "plan"}
    assert with_bars.post(f"{PLAN}/take-back", data=bad).status_code == 422
    away = {"refs": "", "back": "//elsewhere"}
    assert with_bars.post(f"{PLAN}/take-back", data=away).status_code == 422


def test_a_drawing_s_places_are_links_and_the_station_is_kept(
    with_bars: TestClient, home: Any
) -> None:
    page = with_bars.get(f"{PLAN}/place", params={"bar": "L2"})
    places = {
        name: url.replace("&amp;", "&")
        for url, name in re.findall(r'<a href="([^"]+)" aria-label="([^"]+)"', page.text)
    }
    tapped = with_bars.get(places["L2 at 2000 mm"])
    assert 'name="distance_planned" type="text" value="2000"' in tapped.text
    assert "right, 90°" in places
    typed = {"bar": "L2", "label": "S", "datum": "end", "angle_planned": "90"}
    wrong = with_bars.post(f"{PLAN}/place", data=typed)
    assert wrong.status_code == 422
    assert 'id="distance_planned-wrong"' in wrong.text
    kept = with_bars.post(f"{PLAN}/place", data=typed | {"distance_planned": "2013"})
    assert "Kept: S" in words(kept.text)
    assert book(home).labelled(Station, "S").record.distance_planned == 2.013


def test_a_workbook_is_asked_about_then_kept(
    with_bars: TestClient, home: Any, tmp_path: Any, head: Callable[[], JournalHead]
) -> None:
    made = openpyxl.Workbook()
    made.active.append(["GAUGES"])
    made.active.append(["Station", "Bar", "Distance from end", "Face"])
    made.active.append(["S1", "L1", 12.5, "top"])
    made.active.append(["=1+1", "L1", 13, "under"])
    made.save(tmp_path / "g.xlsx")
    before = head()
    with (tmp_path / "g.xlsx").open("rb") as file:
        asked = with_bars.post(f"{PLAN}/sheet", files={"file": ("g.xlsx", file)})
    assert asked.status_code == 200
    assert 'name="answer unit C"' in asked.text
    text = re.search(r"<textarea[^>]*>\n?(.*?)</textarea>", asked.text, re.DOTALL)
    assert text
    sheet = text[1].strip("\n").replace("&#34;", '"')
    answers = {"text": sheet, "answer unit C": "in", "act": "answer"}
    # A formula that nobody calculated has no value: it is asked, not taken as its text.
    second = with_bars.post(f"{PLAN}/sheet", data=answers)
    assert 'name="answer label 4"' in second.text
    early = with_bars.post(f"{PLAN}/sheet", data=answers | {"act": "keep"})
    assert early.status_code == 422
    assert head() == before
    answers |= {"answer label 4": "S2"}
    ready = with_bars.post(f"{PLAN}/sheet", data=answers)
    assert "Keep 2 stations" in words(ready.text)
    kept = with_bars.post(f"{PLAN}/sheet", data=answers | {"act": "keep"})
    assert "Kept: S1, S2" in words(kept.text)
    assert book(home).labelled(Station, "S1").record.distance_planned == 12.5 * 0.0254


def test_a_sheet_that_can_t_be_read_is_told_beside_its_field(with_bars: TestClient) -> None:
    empty = with_bars.post(f"{PLAN}/sheet", data={"text": "  "})
    assert empty.status_code == 422
    assert 'id="text-wrong"' in empty.text
    bad = with_bars.post(f"{PLAN}/sheet", files={"file": ("x.xlsx", b"no workbook")})
    assert bad.status_code == 422
    assert "can&#39;t be read as a workbook" in bad.text
