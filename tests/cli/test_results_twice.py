"""A quantity recorded twice, as it is typed and printed, on the demo's two recorders."""

import json
from pathlib import Path

import pytest

from gaugewright.cli import main

TYPED = ("test, Recorder A", "A22", "test, Recorder B", "B16")


def test_the_trigger_that_both_recorders_wrote_is_one_voltage(
    demo_campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["results", "twice", str(demo_campaign), *TYPED, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["gain"] == pytest.approx(1.0, abs=3 * told["gain_standard_uncertainty"])
    assert told["clocks_apart_standard_uncertainty_s"] > 0
    assert main(["results", "twice", str(demo_campaign), *TYPED]) == 0
    assert "does not differ from 1" in capsys.readouterr().out


def test_a_column_that_is_not_there_is_named_with_those_that_are(
    demo_campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    typed = ["test, Recorder A", "A99", "test, Recorder B", "B16"]
    assert main(["results", "twice", str(demo_campaign), *typed]) == 2
    assert "A22" in capsys.readouterr().err
