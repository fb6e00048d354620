"""Identity and survival as pages: a proof by form, exchanged channels, why nothing is published."""

import pytest
from starlette.testclient import TestClient

from tests.web.reading import words

PAGE = "/c/demo/identity"


@pytest.fixture
def at_work(writer: TestClient) -> TestClient:
    """A browser at which somebody of the demo is at work."""
    chosen = writer.get("/people").text.split('name="label" value="')[1].split('"')[0]
    assert writer.post("/people/choose", data={"label": chosen}).status_code == 200
    return writer


def test_a_proof_is_written_by_form_and_two_exchanged_channels_are_named(
    at_work: TestClient,
) -> None:
    page = words(at_work.get(PAGE).text)
    assert "Identity proved for 0 of" in page
    at = {"stimulus": "touched", "at": "2026-10-13 12:00"}
    first = at_work.post(PAGE, data=at | {"gauge": "L1-M-T", "moved": "A02"})
    assert "L1-M-T: touched: A02 moved, not A01, which should read L1-M-U" in words(first.text)
    second = at_work.post(PAGE, data=at | {"gauge": "L1-M-U", "moved": "A01"})
    told = words(second.text)
    assert "exchanged with L1-M-T" in told
    assert "not where their labels say: L1-M-T, L1-M-U" in told
    assert "Undo" in told
    assert "Identity proved for 0 of" in words(at_work.get("/c/demo/wiring").text)
    overview = words(at_work.get("/c/demo/").text)
    assert "L1-M-T isn’t where its label says" in overview


def test_what_is_missing_stands_beside_its_field(at_work: TestClient) -> None:
    refused = at_work.post(PAGE, data={"gauge": "L1-M-T", "stimulus": "touched"})
    assert refused.status_code == 422
    assert "type the channels that moved" in words(refused.text)
    assert "numbers=identity" in refused.text
    listed = at_work.get(PAGE + "?numbers=identity").text
    assert listed.splitlines()[0].startswith("gauge,identity")


def test_survival_says_why_it_isn_t_published(at_work: TestClient) -> None:
    page = words(at_work.get("/c/demo/survival").text)
    assert "no laboratory is set" in page
    refused = at_work.post("/c/demo/survival")
    assert refused.status_code == 422
    assert "set it: gaugewright --set laboratory=FOLDER" in words(refused.text)
