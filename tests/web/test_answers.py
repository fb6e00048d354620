"""Pages of single questions: asked, answered, refused beside the field, and linked from pages."""

import dataclasses
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from gaugewright import settings
from gaugewright.services.answering.asks import TOOLS
from gaugewright.web import frame
from gaugewright.web.app import create_app
from tests.web.conftest import BASE, TOKEN
from tests.web.test_frame import assert_plain, names_used
from tests.web.test_guard_text import assert_nothing_runs

ALWAYS = {"frame", "static"}
READING = {"reading": "2,5", "gauge_factor": "2"}


def example(tool: str) -> dict[str, str]:
    words = TOOLS[tool].example
    return {
        name.removeprefix("--").replace("-", "_"): text
        for name, text in zip(words[::2], words[1::2], strict=True)
    }


def test_every_question_is_listed_and_opens(client: TestClient) -> None:
    text = client.get("/answers").text
    for tool in TOOLS.values():
        assert tool.question in text
        opened = client.get(f"/answers/{tool.name}")
        assert opened.status_code == 200
        assert 'id="answer"' not in opened.text


@pytest.mark.parametrize("tool", TOOLS)
def test_its_example_is_answered_with_number_drawing_assumptions_and_source(
    client: TestClient, tool: str
) -> None:
    answer = client.get(f"/answers/{tool}", params=example(tool))
    assert answer.status_code == 200
    told = answer.text.partition('id="answer"')[2]
    for part in ('class="answer-says"', '<svg xmlns="http://www.w3.org/2000/svg" class="dwg"'):
        assert part in told
    assert "Assumed, because nothing was typed" in told
    assert ">From</h2>" in told
    assert_nothing_runs(answer.text)


def test_a_decimal_comma_is_read_and_what_was_typed_stays_in_the_form(client: TestClient) -> None:
    # 4 x 2.5e-3 / (1 - 5e-3) / 2 = 5025.126 µε by hand.
    text = client.get("/answers/reading", params=READING).text
    assert "+5\N{NARROW NO-BREAK SPACE}030" in text or "+5\N{NARROW NO-BREAK SPACE}025" in text
    assert 'name="reading" type="text" value="2,5"' in text


def test_what_is_wrong_stands_beside_its_field_and_all_of_it_at_once(client: TestClient) -> None:
    answer = client.get("/answers/flat", params={"diameter": "x", "flat_width": "1,234"})
    assert answer.status_code == 422
    assert 'id="diameter-wrong"' in answer.text
    assert 'id="flat_width-wrong"' in answer.text
    assert "write 1.234 or 1234" in answer.text


def test_a_script_in_a_field_is_shown_as_typed(client: TestClient) -> None:
    typed = {"diameter": "<script>alert(1)</script>"}
    text = client.get("/answers/flat", params=typed).text
    assert "&lt;script&gt;" in text
    assert "<script>alert" not in text


def test_a_script_in_a_reading_that_is_drawn_is_refused_or_escaped(client: TestClient) -> None:
    typed = {"pair_ab": "<b>1</b>", "pair_ac": "1", "pair_bc": "1"}
    assert "<b>1</b>" not in client.get("/answers/leads", params=typed).text


def test_a_question_that_isnt_there_is_a_page_that_isnt_there(client: TestClient) -> None:
    assert client.get("/answers/weather").status_code == 404


def test_a_stranger_gets_no_answer(stranger: TestClient) -> None:
    told = stranger.get("/answers")
    assert told.status_code in (401, 403) or told.url.path == "/pair"
    assert TOOLS["flat"].question not in told.text


def test_every_page_leads_there(client: TestClient) -> None:
    for path in ("/", "/c/beam/", "/c/beam/plan"):
        assert 'href="/answers"' in client.get(path).text


def test_a_reader_of_inches_gets_inches(home: Path, tmp_path: Path) -> None:
    in_inches = settings.load({"units": "us"}, environment={}, user_folder=tmp_path / "none")
    app = create_app(in_inches, home, token=TOKEN)
    with TestClient(app, base_url=BASE, headers={"origin": BASE}) as client:
        client.get("/", params={"key": TOKEN})
        # 5/8 in with a flat of 1/4 in: (0.625 - sqrt(0.625² - 0.25²))/2 = 0.0261 in by hand.
        typed = {"diameter": "5/8", "flat_width": "1/4"}
        text = client.get("/answers/flat", params=typed).text
    assert "0.0261" in text
    assert '<span class="unit">in</span>' in text


def test_pages_are_made_from_their_context_and_from_all_of_it(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn: list[tuple[str, Any]] = []
    as_it_is = frame.page

    def page(request: Any, name: str, context: Any, **more: Any) -> Any:
        drawn.append((name, context))
        return as_it_is(request, name, context, **more)

    monkeypatch.setattr(frame, "page", page)
    client.get("/answers")
    client.get("/answers/shunt", params=example("shunt"))
    templates = client.app.state.templates  # type: ignore[attr-defined]
    for name, context in drawn:
        fields = {field.name for field in dataclasses.fields(context)}
        assert names_used(templates, name) - ALWAYS == fields, name
        assert_plain(context)
    assert len(drawn) == 2
