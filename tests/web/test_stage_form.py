"""The form on a gauge's page that turns a stage on or off: kept, taken back, or refused."""

import re

import pytest
from starlette.testclient import TestClient

from tests.web.reading import words

PAGE = "/c/demo/gauges/L1-M-T"
OFF = {"stage": "thermal output@1", "set": "off", "reason": "indoors, one hour"}


@pytest.fixture
def at_work(writer: TestClient) -> TestClient:
    """A browser at which somebody of the demo is at work."""
    chosen = writer.get("/people").text.split('name="label" value="')[1].split('"')[0]
    assert writer.post("/people/choose", data={"label": chosen}).status_code == 200
    return writer


def test_a_decision_is_shown_and_can_be_taken_back(at_work: TestClient) -> None:
    answer = at_work.post(PAGE, data=OFF)
    assert answer.status_code == 200
    assert "thermal output is to be off. It can be taken back" in words(answer.text)
    assert "Reduce again" in words(answer.text)
    again = at_work.post(PAGE, data=OFF | {"set": "on", "reason": "in the sun after all"})
    assert "thermal output is to be on." in words(again.text)
    block = re.search(r'<form class="notice undo".*?</form>', again.text, re.DOTALL)
    assert block
    hidden = dict(re.findall(r'name="(\w+)" value="([^"]*)"', block[0]))
    assert hidden["version"] == "2"
    back = at_work.post("/c/demo/undo", data=hidden)
    assert back.status_code == 200
    assert "indoors, one hour" in words(back.text)
    assert "taken back: as in version 1" in words(back.text)


def test_a_chain_that_can_t_be_is_refused_beside_its_field(at_work: TestClient) -> None:
    typed = {"stage": "calibration@1", "set": "on", "reason": "loaded before it was cast"}
    answer = at_work.post(
        PAGE, data=typed | {"numbers": "calibration_slope = 0.5\ncalibration_offset = 0"}
    )
    assert answer.status_code == 422
    wrong = re.search(r'id="stage-wrong">(.*?)</p>', answer.text, re.DOTALL)
    assert wrong
    assert "which contains it; switch one of the two off" in words(wrong[1])
    assert "calibration_slope = 0.5" in answer.text
    assert "Decided for circuit" not in words(at_work.get(PAGE).text)


def test_a_missing_number_and_reason_are_told_beside_their_fields(at_work: TestClient) -> None:
    answer = at_work.post(PAGE, data={"stage": "initial strain@1", "set": "on", "reason": "dead"})
    wrong = re.search(r'id="numbers-wrong">(.*?)</p>', answer.text, re.DOTALL)
    assert wrong
    assert "initial_strain" in wrong[1]
    answer = at_work.post(PAGE, data=OFF | {"reason": " "})
    assert 'id="reason-wrong"' in answer.text


def test_nobody_at_work_decides_nothing(writer: TestClient) -> None:
    answer = writer.post(PAGE, data=OFF)
    assert answer.status_code == 422
    assert "choose under People" in words(answer.text)
