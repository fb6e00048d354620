"""Stations from a spreadsheet by the command line: questions first, then all of them or none."""

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from gaugewright.cli import main
from gaugewright.records.identity import working_context
from gaugewright.records.specimen import Station
from gaugewright.store.campaign import CampaignStore, JournalHead


def test_stations_are_asked_about_then_kept(
    demo_campaign: Path,
    tmp_path: Path,
    head: Callable[[Path], JournalHead],
    capsys: pytest.CaptureFixture[str],
) -> None:
    folder = tmp_path / "beams"
    shutil.copytree(demo_campaign, folder)
    list_ = tmp_path / "list.csv"
    list_.write_text(
        "MORE GAUGES\n\nStation;Bar;Distance from west end;Face\nN1;L1;12,5;top\n", encoding="utf-8"
    )
    before = head(folder)
    assert main(["stations", str(folder), str(list_)]) == 2
    told = capsys.readouterr().out
    assert '--answer "unit C=mm"' in told
    assert "Nothing is written yet" in told
    assert main(["stations", str(folder), str(list_), "--json"]) == 2
    asked = json.loads(capsys.readouterr().out)["questions"]
    assert [one["key"] for one in asked] == ["unit C"]
    assert head(folder) == before
    answer = ["--answer", "unit C=in"]
    assert main(["stations", str(folder), str(list_), *answer, "--json"]) == 0
    kept = json.loads(capsys.readouterr().out)
    assert kept["written"] == 1
    assert kept["stations"][0]["distance"] == pytest.approx(0.3175)
    with CampaignStore.open(folder, working_context(), read_only=True) as store:
        assert store.labelled(Station, "N1").record.datum == "west end"
    assert main(["stations", str(folder), str(list_), *answer, "--json"]) == 2
    again = json.loads(capsys.readouterr().out)["questions"]
    assert [one["key"] for one in again] == ["there N1"]


def test_a_file_that_can_t_be_read_is_told_in_a_line(
    campaign: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "odd.csv").write_bytes(b"Station;Bar\n\xff\xfe")
    for name, words in (("odd.csv", "isn't text in UTF-8"), ("none.csv", "none.csv")):
        assert main(["stations", str(campaign), str(tmp_path / name)]) == 2
        assert words in capsys.readouterr().err
