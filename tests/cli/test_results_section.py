"""A section from the command line, for a person and for a machine."""

import json
from pathlib import Path

import pytest

from gaugewright.cli import main


def test_a_section_is_printed_at_a_load_with_everything_assumed(
    demo_campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = ["results", "section", str(demo_campaign), "H3 at 1.80 m", "--at", "160 kN"]
    assert main(asked) == 0
    told = capsys.readouterr().out
    for word in ("curvature", "neutral axis", "moment from load and statics", "L3-M-U", "Assumed:"):
        assert word in told
    assert "kept out" in told


def test_json_has_planes_closure_and_prediction_in_si(
    demo_campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["results", "section", str(demo_campaign), "--at", "160 kN", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["section"] == "H3 at 1.80 m"
    assert told["instant"]["load"]["value"] == pytest.approx(160e3, rel=0.02)
    # Statics by hand: half the load on 1.2 m, and 3.3 kN/m on 3.6 m.
    expected = told["instant"]["load"]["value"] * 0.6 + 3.3e3 * 3.6**2 / 8
    assert told["instant"]["moment_applied"]["value"] == pytest.approx(expected, rel=1e-3)
    assert told["instant"]["plane"]["outlier"] is None
    assert {one["gauge"] for one in told["compared"]} == {
        gauge["label"] for gauge in told["gauges"] if gauge["used"]
    }


def test_a_time_of_the_hall_is_found_and_one_outside_the_test_refused(
    demo_campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["results", "section", str(demo_campaign), "--at", "03:00"]) == 2
    assert "within the test" in capsys.readouterr().err
    assert main(["results", "section", str(demo_campaign), "--at", "900 kN"]) == 2
    assert "reached in the test" in capsys.readouterr().err


def test_an_unknown_section_names_those_that_are_there(
    demo_campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["results", "section", str(demo_campaign), "nowhere"]) == 2
    assert "H3 at 1.40 m" in capsys.readouterr().err
