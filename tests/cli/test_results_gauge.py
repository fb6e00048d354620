"""What gauges show under load, as a person and as a machine read it from the command line."""

import json
from pathlib import Path

import pytest

from gaugewright.cli import main


def test_one_gauge_is_printed_hold_by_hold_with_its_events(
    demo_campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["results", "gauge", str(demo_campaign), "L2-M-T"]) == 0
    told = capsys.readouterr().out
    assert told.startswith("L2-M-T at L2-M-T: ")
    for word in ("cracking", "yield", "departure", "unloading from", "loop from"):
        assert word in told
    assert "yield by strain: mechanical strain passes f_y/E" in told


def test_json_has_the_same_numbers_in_si(
    demo_campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["results", "gauge", str(demo_campaign), "L2-M-T", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    by = {(event["event"], event["criterion"]): event for event in told["events"]}
    departure = by["yield", "departure"]["load_n"]
    # The truth of the demo: the bar yields at 250 kN.
    assert departure["value"] == pytest.approx(250e3, rel=0.03)
    assert 0 < departure["expanded_uncertainty"] < 10e3
    assert by["yield", "departure"]["at"].endswith("+00:00")
    assert set(told) >= {"holds", "unloadings", "residuals", "loops", "zero", "state"}


def test_events_of_every_gauge_end_with_the_first_and_the_last(
    demo_campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["results", "events", str(demo_campaign)]) == 0
    assert "Usable gauges together" in capsys.readouterr().out
    assert main(["results", "events", str(demo_campaign), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    labels = [one["gauge"] for one in told["gauges"]]
    assert "L2-M-T" in labels
    assert any(" with " in label for label in labels)
    for one in told["specimen"]:
        assert one["first_load_n"]["value"] <= one["last_load_n"]["value"]


def test_a_gauge_that_isnt_there_ends_with_two_and_names_those_that_are(
    demo_campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["results", "gauge", str(demo_campaign), "G99"]) == 2
    told = capsys.readouterr().err
    assert "gauge is 'G99'" in told
    assert "L2-M-T" in told


def test_a_campaign_without_results_says_what_comes_first(
    campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["results", "events", str(campaign)]) == 0
    assert "gaugewright reduce" in capsys.readouterr().out
    assert main(["results", "gauge", str(campaign), "G1"]) == 2
    assert "gaugewright reduce" in capsys.readouterr().err
