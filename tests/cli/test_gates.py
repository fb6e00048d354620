"""The commands gate and gates: one gauge, a sheet, the table, and what can't be meant."""

import json
import shutil
from pathlib import Path

import pytest

from gaugewright.cli import main

ONE = ["--ab", "353.53", "--bc", "4.41", "--insulation", "> 2000", "--unplugged"]


@pytest.fixture
def beam(demo_campaign: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(demo_campaign, tmp_path / "demo"))


def gate(beam: Path, *words: str) -> int:
    return main(["--set", "person=bonder", "gate", str(beam), "before pour", *words])


def test_one_gauge_is_written_down(beam: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert gate(beam, "--gauge", "L1-M-T", *ONE, "--json") == 0
    (check,) = json.loads(capsys.readouterr().out)["checks"]
    assert check["verdict"] == "pass"
    assert check["readings"][2] == {
        "what": "insulation",
        "value": 2e9,
        "bound": "above",
        "typed": "> 2000 MΩ",
    }


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--gauge", "L1-M-T", "--ab", "335.53", "--unplugged"], "probably 353.53 Ω"),
        (["--gauge", "L1-M-T", "--ab", "353.53"], "ends the zero"),
        (["--gauge", "L1-M-T", "--read", "D-B=353.5", "--unplugged"], "one of A-B, B-C"),
        (["--gauge", "NIX", "--ab", "353.53"], "the label of a gauge"),
        (["--ab", "353.53"], "one of them"),
    ],
)
def test_what_cannot_be_meant_gets_one_sentence(
    beam: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    assert gate(beam, *words) == 2
    assert said in capsys.readouterr().err


def test_a_check_needs_who_read_it(beam: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["gate", str(beam), "before pour", "--gauge", "L1-M-T", *ONE]) == 2
    assert "person" in capsys.readouterr().err


def test_a_sheet_goes_out_and_comes_back(
    beam: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "pour.csv"
    assert main(["gates", str(beam), "--gate", "before pour", "--sheet", str(path)]) == 0
    assert gate(beam, "--sheet", str(path)) == 0
    assert "0 taken in, 24 unchanged, 6 empty" in capsys.readouterr().err
    assert main(["gates", str(beam), "--gate", "before pour", "--sheet", str(path)]) == 2


def test_the_table_names_every_gauge_and_what_to_repair(
    beam: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["gates", str(beam), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert len(told["gauges"]) == 30
    assert told["gauges"]["L3-R6-S"]["after pour"]["verdict"] == "fail"
    assert told["repair"] == []  # what failed after the pour can't be reached any more
