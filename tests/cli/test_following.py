"""The command follow: lines for people and machines, and the file brought in at the end."""

import json
import shutil
from pathlib import Path

import pytest

from gaugewright.cli import main
from gaugewright.records.identity import working_context
from gaugewright.records.readings import Recording
from gaugewright.store.campaign import CampaignStore

PROFILE = ("--profile", "files of Recorder A")


@pytest.fixture(scope="module")
def beam(demo_campaign: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return Path(shutil.copytree(demo_campaign, tmp_path_factory.mktemp("follow") / "demo"))


@pytest.fixture
def live(beam: Path, tmp_path: Path) -> Path:
    """What a recorder wrote so far: the beginning of the demo's test, its last line half."""
    with CampaignStore.open(beam, working_context(), read_only=True) as store:
        recording = store.labelled(Recording, "test, Recorder A").record
        text = store.original_bytes(recording.original_sha256).decode()
    lines = text.splitlines(keepends=True)
    path = tmp_path / "live.csv"
    path.write_text("".join(lines[:62]) + lines[62][:20])
    return path


def test_lines_end_with_a_table_and_the_account(
    beam: Path, live: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code = main(
        ["follow", str(beam), str(live), *PROFILE, "--every", "0.2", "--until-still", "0.1"]
    )
    assert code == 0
    told = capsys.readouterr().out
    assert "L1-M-T with L1-M-U" in told
    assert "60 rows followed" in told
    assert "never a safety device" in told
    assert "Nothing was recorded" in told


def test_machines_get_a_line_for_each_look_and_the_file_is_compared(
    beam: Path, live: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    campaign = Path(shutil.copytree(beam, tmp_path / "demo"))
    ending = ["--every", "0.2", "--until-still", "0.1", "--import-as", "followed", "--json"]
    assert main(["follow", str(campaign), str(live), *PROFILE, *ending]) == 0
    told = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    first, last = told[0], told[-1]
    assert first["rows"] == 60
    gauges = {gauge["label"]: gauge for gauge in first["gauges"]}
    assert gauges["L3-M-T with L3-M-U"]["state"] == "sound"
    assert abs(gauges["L3-M-T with L3-M-U"]["strain"]) < 1e-5  # before any load
    assert last["ended"]
    [imported] = last["imported"]
    assert imported["is_same"]
    assert imported["rows"] == last["files"][0]["rows"]


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (["--every", "0"], "--every is 0.0"),
        (["--until-still", "-1"], "--until-still is -1.0"),
        (["--profile", "files of Recorder B"], "--profile is '2 for 1 file(s)"),
        (["--recorder", "nobody"], "recorder label is 'nobody'"),
    ],
)
def test_what_cannot_be_meant_is_refused_in_one_line(
    beam: Path, live: Path, capsys: pytest.CaptureFixture[str], wrong: list[str], said: str
) -> None:
    assert main(["follow", str(beam), str(live), *PROFILE, *wrong]) == 2
    caught = capsys.readouterr()
    assert said in caught.err
    assert caught.err.count("\n") == 1


def test_an_unknown_profile_is_refused(
    beam: Path, live: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["follow", str(beam), str(live), "--profile", "nothing"]) == 2
    assert "files of Recorder A" in capsys.readouterr().err
