"""The bench by command: a supply, a method, a batch, a limit that ran out, a name under it."""

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from gaugewright.cli import main

CAST = "bar to be cast in"


@pytest.fixture(scope="module")
def campaign(demo_campaign: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("bench") / "demo"
    shutil.copytree(demo_campaign, folder)
    return folder


def told(capsys: pytest.CaptureFixture[str], *command: str) -> Any:
    assert main([*command, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_a_day_at_the_bench_goes_by_command(
    campaign: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    folder = str(campaign)
    sheet = ["--sheet", "its sheet of 2025 (invented)", "--pot-life", "20 min"]
    cure = ["--cure", "20 °C: 24 h; 40 °C: 3 h", "--pressing", "2 min"]
    glue = ["bench-supply", folder, "glue-2", "--what", "adhesive", "--batch", "A-77"]
    assert told(capsys, *glue, *sheet, *cure)["version"] == 1

    step = ["bench-step", folder, "--method", CAST, "--person", "bonder"]
    batch = ["L1-M-T", "L1-M-U", "--step", "smooth", "--value", "calliper limit=0.02"]
    widths = ["--value", "L1-M-T:flat width=5.2", "--value", "L1-M-U:flat width=5.4"]
    early = ["--begun", "2026-11-02 08:00", "--ended", "2026-11-02 08:20"]
    smooth = told(capsys, *step, *batch, *widths, *early)
    assert len(smooth["steps"]) == 2
    assert sum("of the steel is gone" in line for line in smooth["told"]) == 2

    day = "2026-11-02"
    cleaned = ["--begun", f"{day} 09:00", "--ended", f"{day} 09:10", "--temperature", "21 °C"]
    told(capsys, *step, "L1-M-T", "--step", "clean", *cleaned, "--humidity", "48")
    late = [
        "--as-typed",
        "--begun",
        f"{day} 10:00",
        "--ended",
        f"{day} 10:05",
        "--supply",
        "glue-2",
    ]
    bond = told(capsys, *step, "L1-M-T", "--step", "bond", *late)
    assert bond["ran_out"] == [["cleaned to bonded"]]

    def waits() -> tuple[str, str]:
        rows = told(capsys, "bench-now", folder)["next"]
        mine = next(row for row in rows if row["gauge"] == "L1-M-T")
        return mine["step"], mine["place"]

    assert waits() == ("clean", "to do again")
    override = ["bench-override", folder, bond["steps"][0], "cleaned to bonded"]
    assert main([*override, "--because", "dry air"]) == 2
    assert "override_person" in capsys.readouterr().err
    told(capsys, *override, "--because", "dry air", "--person", "engineer")
    assert waits()[0] == "cure"

    log = tmp_path / "log.csv"
    log.write_text("time;°C\n" + "".join(f"{day} {h}:00;40.5\n" for h in range(11, 15)))
    cured = ["--begun", f"{day} 11:00", "--ended", f"{day} 14:00", "--log", str(log)]
    assert told(capsys, *step, "L1-M-T", "--step", "cure", *cured)["ran_out"] == [[]]
    assert waits()[0] != "cure"


def test_a_slip_and_a_missing_log_are_told_in_one_line(
    campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    step = ["bench-step", str(campaign), "L2-M-T", "--method", CAST, "--person", "bonder"]
    for more, words in (
        (["--step", "smooth", "--value", "flat width=0.052"], "did you mean 5.2 mm?"),
        (["--step", "smooth", "--value", "flat width"], "FIELD=VALUE"),
        (["--step", "cure", "--log", "no such file"], "can't be read"),
        (["--step", "no such step"], "one of bar to be cast in"),
    ):
        assert main([*step, *more]) == 2
        assert words in capsys.readouterr().err


def test_methods_and_limits_are_edited_as_data_by_version(
    campaign: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    folder = str(campaign)
    assert main(["bench-method", folder, "strand", "--toml"]) == 0
    text = capsys.readouterr().out
    changed = tmp_path / "strand.toml"
    changed.write_text(text.replace("Label both ends of every cable", "Mark both ends"))
    assert main(["bench-method", folder, "--read", str(changed)]) == 2
    assert "reason" in capsys.readouterr().err
    read = told(capsys, "bench-method", folder, "--read", str(changed), "--reason", "own trials")
    assert read["methods"] == [["strand", 2]]
    assert main(["bench-method", folder, "strand"]) == 0
    assert "Mark both ends" in capsys.readouterr().out
    limit = ["bench-limit", folder, "cleaned to bonded", "--value", "20 min"]
    assert main([*limit, "--source", "house rule (invented)"]) == 2
    capsys.readouterr()
    kept = told(
        capsys, *limit, "--source", "house rule (invented)", "--reason", "damp", "--confirmed"
    )
    assert kept["told"] == "cleaned to bonded: 20 min, confirmed, version 2."
