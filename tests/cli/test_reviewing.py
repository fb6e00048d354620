"""The command review: lists findings, keeps a decision, refuses what can't be meant."""

import json
import shutil
from pathlib import Path

import pytest

from gaugewright.cli import main
from gaugewright.records.identity import working_context
from gaugewright.records.readings import Decision, Finding
from gaugewright.services.campaign.book import Book
from gaugewright.store.campaign import CampaignStore


@pytest.fixture
def beam(demo_campaign: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(demo_campaign, tmp_path / "demo"))


def findings(campaign: Path) -> dict[str, Finding]:
    with CampaignStore.open(campaign, working_context(), read_only=True) as store:
        return {entry.uid: entry.record for entry in Book.read(store).of(Finding)}


def test_every_finding_is_listed_with_its_number_and_place(
    beam: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["review", str(beam)]) == 0
    told = capsys.readouterr().out
    for uid, finding in findings(beam).items():
        line = next(line for line in told.splitlines() if uid in line)
        assert finding.code in line
        assert "open" in line
    assert f"{len(findings(beam))} to decide." in told


def test_machines_get_the_number_as_it_was_measured(
    beam: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["review", str(beam), "--json"]) == 0
    rows = {row["uid"]: row for row in json.loads(capsys.readouterr().out)["findings"]}
    for uid, finding in findings(beam).items():
        assert (rows[uid]["measured"], rows[uid]["limit"]) == (finding.measured, finding.limit)
        assert set(rows[uid]["would_follow"]) >= {"accepted", "rejected"}


def test_a_gauge_with_one_open_finding_is_named_by_its_label(
    beam: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["--decide", "L2-M-U", "--reject", "--reason", "plug was out"]
    assert main(["review", str(beam), *words]) == 0
    told = capsys.readouterr()
    assert "L2-M-U is sound now" in told.out
    assert "plug was out" in told.out
    assert "--set person" in told.err  # nobody was named
    (finding,) = [f for f in findings(beam).values() if f.code == "over-range"]
    assert (finding.decision, finding.reason) == (Decision.REJECTED, "plug was out")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--decide", "L1-M-T", "--accept", "--reason", "x"], "falling away"),  # it has two
        (["--decide", "L2-M-U", "--accept"], "reason"),
        (["--decide", "L2-M-U", "--reason", "x"], "--accept, --exclude and --reject"),
        (["--decide", "L2-M-U", "--accept", "--reject", "--reason", "x"], "accepted and rejected"),
        (["--accept", "--reason", "x"], "--decide"),
        (["--decide", "L9", "--accept", "--reason", "x"], "L2-M-U"),
    ],
)
def test_what_cant_be_meant_is_refused_in_one_sentence(
    beam: Path, words: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    before = findings(beam)
    assert main(["review", str(beam), *words]) == 2
    told = capsys.readouterr().err
    assert says in told
    assert len(told.strip().splitlines()) == 1
    assert findings(beam) == before


def test_a_campaign_nobody_looked_through_says_so(
    campaign: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["review", str(campaign)]) == 0
    assert "No findings" in capsys.readouterr().out
