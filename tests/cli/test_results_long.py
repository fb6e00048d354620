"""A long record and its allowance for drift, as they are typed and printed."""

import json
import shutil
from pathlib import Path

import pytest

from gaugewright.calc.seasons import YEAR
from gaugewright.cli import main


def test_an_allowance_for_drift_is_written_down_and_told(
    demo_campaign: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "copy"
    shutil.copytree(demo_campaign, folder)
    typed = ["drift", str(folder), "20", "--source", "idle gauges", "--json"]
    assert main(typed) == 0
    made = json.loads(capsys.readouterr().out)
    assert made["rate_per_s"] == pytest.approx(20e-6 / YEAR)
    assert main(["results", "long", str(folder), "L2-M-T", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    # From the zero before the pour to the test 35 days lie: 1.96 times 20 µm/m times 35/365.
    assert told["drift_expanded_at_end"] == pytest.approx(1.96 * 20e-6 * 35.1 / 365.2, rel=0.01)
    assert main(["results", "long", str(folder), "L2-M-T"]) == 0
    assert "from: idle gauges" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (["drift", "CAMPAIGN", "a lot", "--source", "x"], "rate"),
        (["drift", "CAMPAIGN", "-1", "--source", "x"], ""),
        (["results", "long", "CAMPAIGN", "G-X"], "'G-X'"),
    ],
)
def test_what_cannot_be_used_is_said_in_one_line(
    demo_campaign: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    typed: list[str],
    said: str,
) -> None:
    folder = tmp_path / "copy"
    shutil.copytree(demo_campaign, folder)
    assert main([str(folder) if word == "CAMPAIGN" else word for word in typed]) == 2
    lines = capsys.readouterr().err.strip().splitlines()
    assert len(lines) == 1
    assert said in lines[0]
