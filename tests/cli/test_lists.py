"""Plan, bench and wiring from the command line, and plugs written down there."""

import csv
import json
import shutil
from pathlib import Path

import pytest

from gaugewright.cli import main


@pytest.fixture
def beams(demo_campaign: Path, tmp_path: Path) -> str:
    """A copy of the demo."""
    shutil.copytree(demo_campaign, tmp_path / "beams")
    return str(tmp_path / "beams")


def test_lists_print_and_one_of_them_is_written_as_csv(
    demo_campaign: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder, file = str(demo_campaign), tmp_path / "stations.csv"
    for command, words in (("plan", "fewer gauges"), ("bench", "AD-77"), ("wiring", "Recorder B")):
        assert main([command, folder]) == 0
        assert words in capsys.readouterr().out
    assert main(["plan", folder, "--list", "stations", "--csv", str(file), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)["stations"]
    with file.open(encoding="utf-8", newline="") as opened:
        written = list(csv.reader(opened))
    assert len(written) == 1 + len(told["rows"])
    assert told["rows"][0][3] == pytest.approx(2.07)
    assert main(["plan", folder, "--csv", str(file)]) == 2
    assert "given with --list NAME" in capsys.readouterr().err
    assert main(["bench", folder, "--list", "gold"]) == 2
    assert "one of sheet, parked" in capsys.readouterr().err


def test_a_plug_is_written_down_or_refused_in_one_line(
    beams: str, capsys: pytest.CaptureFixture[str]
) -> None:
    at = ["--at", "2026-11-02 09:00"]
    assert main(["connect", beams, "A01", "L1-M-T", *at]) == 2
    told = capsys.readouterr().err
    assert "taken: L1-M-T on A01" in told
    assert told.count("\n") == 1
    assert main(["disconnect", beams, "A01", *at]) == 0
    capsys.readouterr()
    assert main(["connect", beams, "A01", "L1-M-T", *at, "--plug", "seal 9", "--json"]) == 0
    plugged = json.loads(capsys.readouterr().out)
    assert plugged["zeros_ended"] == ["before pour", "before test", "after seating"]
    assert (plugged["plug"], plugged["ends"]) == ("seal 9", None)
    step = ["--resistor", "174.65 kohm ± 0.1 %", "--step", "-0.2487 mV/V", "--position", "T1-T2"]
    assert main(["shunt-step", beams, "A01", *step, *at]) == 0
    assert "Half of it" in capsys.readouterr().out
    assert main(["wire-colours", beams, "L1-M-T", "brown", "grey", "violet"]) == 0
    assert main(["wiring", beams, "--list", "circuits"]) == 0
    assert "brown, grey, violet" in capsys.readouterr().out


def test_zeros_are_printed_and_a_second_one_of_a_kind_is_refused(
    beams: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["zeros", beams, "--list", "shifts"]) == 0
    assert "shorter, as shrinkage" in capsys.readouterr().out
    stretch = ["--from", "2026-10-13 09:00", "--to", "2026-10-13 09:01"]
    source = ["--recording", "zero before test, Recorder A"]
    assert main(["zeros", beams, "--take", "before test", *stretch, *source, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["taken"] == []
    assert "take that one back first" in told["missed"]["L1-M-T"]
    assert main(["zeros", beams, "--take", "warm", *stretch, *source]) == 2
    assert "one of bare bar" in capsys.readouterr().err


def test_survival_is_printed(demo_campaign: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["survival", str(demo_campaign)]) == 0
    told = capsys.readouterr().out
    assert "after pour" in told
    assert "L3-R6-S: lost between two gates" in told
