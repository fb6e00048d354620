"""A bar along its length and a rosette, as commands print them and refuse what can't be had."""

import json
from pathlib import Path

import pytest

from gaugewright.cli import main

Told = pytest.CaptureFixture[str]


def bar(folder: Path, *more: str) -> list[str]:
    return ["results", "bar", str(folder), "L3", "--at", "160 kN", *more]


def test_a_bar_is_printed_station_by_station_with_its_bond(
    demo_campaign: Path, capsys: Told
) -> None:
    assert main(bar(demo_campaign)) == 0
    told = capsys.readouterr().out
    assert told.startswith("Bar L3 at 160 kN")
    for words in ("L3-R1-S", "L3-R6-S: lost", "bond stress between", "smoothing spline"):
        assert words in told


def test_the_window_and_the_law_are_in_the_json_by_hand(demo_campaign: Path, capsys: Told) -> None:
    law = ("--law", "good", "--concrete-strength", "36", "--rib-spacing", "0.01")
    slip = ("--slip-at", "0.42", "--slip", "0", "--slip-doubt", "0.0001")
    assert main(bar(demo_campaign, "--window", "0.5", *law, *slip, "--json")) == 0
    told = json.loads(capsys.readouterr().out)
    assert "500 mm" in told["bond_estimate"]
    assert sum(0 < one["slip"] < 2e-3 for one in told["local_law"]) >= 3
    for one in told["local_law"]:
        # 2.5 √36 = 15 MPa from 1 mm to 2 mm of slip, power 0.4 before.
        if 0 < one["slip"] < 2e-3:
            expected = 15e6 * min(one["slip"] / 1e-3, 1.0) ** 0.4
            assert one["law"] == pytest.approx(expected, rel=1e-9)
        assert one["law_low"] <= one["law"] <= one["law_high"]


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (("--law", "good"), "--concrete-strength"),
        (("--law", "fair", "--concrete-strength", "36", "--rib-spacing", "0.01"), "good or other"),
        (("--law", "good", "--concrete-strength", "36", "--rib-spacing", "0.01"), "one place"),
        (("--zero", "tomorrow"), "--zero"),
        (("--window", "-1"), "positive length"),
        (("--mean-from", "0.9", "--mean-to", "0.8"), "beyond 0.9 m"),
    ],
)
def test_what_cannot_be_had_ends_with_two_and_a_line(
    demo_campaign: Path, capsys: Told, more: tuple[str, ...], words: str
) -> None:
    assert main(bar(demo_campaign, *more)) == 2
    told = capsys.readouterr().err
    assert words in told
    assert "Traceback" not in told


def test_rosettes_are_listed_and_one_that_is_none_is_refused(
    demo_campaign: Path, capsys: Told
) -> None:
    assert main(["results", "rosette", str(demo_campaign), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)["rosettes"]
    assert {one["name"]: one["layout"] for one in told}["P"] == "rectangular"
    assert main(["results", "rosette", str(demo_campaign), "Q"]) == 2
    assert "one of: P" in capsys.readouterr().err
    assert main(["results", "rosette", str(demo_campaign), "P", "--zero", "tomorrow"]) == 2
    assert "one that every arm has: before test" in capsys.readouterr().err
