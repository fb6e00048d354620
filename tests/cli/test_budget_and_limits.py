"""results budget and limits on the command line: for a person and for a machine."""

import json
from pathlib import Path

import pytest

from gaugewright.cli import main


def test_a_budget_by_name(demo_campaign: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["results", "budget", str(demo_campaign), "yield load L1-M-U"]) == 0
    told = capsys.readouterr().out
    assert "installation of this gauge" in told
    assert "Inputs:" in told


def test_a_budget_for_a_machine(demo_campaign: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["results", "budget", str(demo_campaign), "yield load L1-M-U", "--json"]
    assert main(words) == 0
    told = json.loads(capsys.readouterr().out)
    assert sum(cause["share"] for cause in told["causes"]) == pytest.approx(1)
    assert told["causes"][0]["expanded_if_halved"] < told["expanded_uncertainty"]
    assert told["unit"] == "N"


def test_an_unknown_result_is_refused_with_those_there_are(
    demo_campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["results", "budget", str(demo_campaign), "moon"]) == 2
    assert "yield load" in capsys.readouterr().err


def test_limits(demo_campaign: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["limits", str(demo_campaign)]) == 0
    short = capsys.readouterr().out
    assert "installation scatter" in short
    assert "joint resistance" not in short
    assert main(["limits", str(demo_campaign), "--all", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    first = told["limits"][0]
    assert {"value", "unit", "source", "unverified", "version", "changed", "reaches"} < set(first)
    assert told["assumptions"]
