"""Pages of calibrated bars: what was entered stands there, and the form says what is wrong."""

import pytest
from starlette.testclient import TestClient

from tests.web.reading import words
from tools import repository

ALL = "/c/demo/results/calibrations"
TABLE = repository.ROOT / "docs" / "how-to" / "examples" / "calibration_of_a_bar.csv"
TYPED = {
    "bar": "L1",
    "table": TABLE.read_text(encoding="utf-8"),
    "measured": "2026-09-08T10:00",
    "load_error": "0.24",
    "temperature": "21",
    "certificate": "cell 7",
}


@pytest.fixture
def at_work(writer: TestClient) -> TestClient:
    """A browser at which somebody of the demo is at work."""
    label = words(writer.get("/people").text)
    assert "Choose" in label
    page = writer.get("/people").text
    chosen = page.split('name="label" value="')[1].split('"')[0]
    assert writer.post("/people/choose", data={"label": chosen}).status_code == 200
    return writer


def test_an_entered_calibration_stands_with_curve_terms_and_budget(at_work: TestClient) -> None:
    answer = at_work.post(ALL, data=TYPED)
    assert answer.status_code == 200
    seen = words(answer.text)
    assert "76.44 ± 0.93 kN per mV/V" in seen
    assert "1.053 % at the largest load" in seen
    assert "the reference load" in seen
    assert answer.text.count("<svg") >= 8  # curve and residuals, wide and narrow, of two gauges
    assert "0.2612" in seen  # a row as it was read
    assert "76.44 ± 0.93" in words(at_work.get(ALL).text)


def test_a_file_takes_the_place_of_pasted_rows_and_both_are_refused(at_work: TestClient) -> None:
    sent = {"file": ("calibration.csv", TABLE.read_bytes(), "text/csv")}
    both = at_work.post(ALL, data=TYPED, files=sent)
    assert both.status_code == 422
    assert "both pasted and in calibration.csv" in words(both.text)
    odd = {"file": ("calibration.xls", b"\xd0\xcf\x11\xe0", "application/octet-stream")}
    refused = at_work.post(ALL, data=TYPED | {"table": ""}, files=odd)
    assert refused.status_code == 422
    assert "save it as CSV in UTF-8" in words(refused.text)
    answer = at_work.post(ALL, data=TYPED | {"table": ""}, files=sent)
    assert answer.status_code == 200
    assert "76.44 ± 0.93 kN per mV/V" in words(answer.text)


def test_what_is_wrong_is_told_and_what_was_typed_is_kept(at_work: TestClient) -> None:
    answer = at_work.post(ALL, data=TYPED | {"temperature": "warm"})
    assert answer.status_code == 422
    seen = words(answer.text)
    assert "Temperature, in °C is " in seen
    assert "cell 7" in answer.text
    assert "1,10,0.2612,0.0431" in answer.text
    assert "not calibrated" in seen


def test_an_uncalibrated_bar_says_what_to_do_and_an_unknown_one_is_not_there(
    reader: TestClient,
) -> None:
    assert "Enter a calibration" in words(reader.get(f"{ALL}/L2").text)
    assert reader.get(f"{ALL}/L99").status_code == 404
