"""Calibrating a bar from the command line: the how-to's own commands and numbers, and refusals."""

import json
import shlex
import shutil
from pathlib import Path

import pytest

from gaugewright.cli import main
from gaugewright.services.calibrated_bars import own_scatter
from gaugewright.services.campaign import campaigns
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.laboratory import laboratory_records
from gaugewright.services.chaining.chains import chain_for
from tools import repository

HOW_TO = repository.ROOT / "docs" / "how-to"
TABLE = HOW_TO / "examples" / "calibration_of_a_bar.csv"
WORDS = ["--measured", "2026-09-08T10:00", "--load-error", "0.24", "--temperature", "21"]


@pytest.fixture
def beams(demo_campaign: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the demo beside the how-to's table, as its commands name them."""
    folder = tmp_path / "beams"
    shutil.copytree(demo_campaign, folder)
    shutil.copy(TABLE, tmp_path)
    monkeypatch.chdir(tmp_path)
    return folder


def printed(capsys: pytest.CaptureFixture[str]) -> str:
    return capsys.readouterr().out.replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.long
def test_the_how_to_s_commands_run_and_print_its_numbers(
    beams: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (HOW_TO / "calibrate-a-bar.md").read_text(encoding="utf-8")
    blocks = text.split("```")
    promised = next(b.removeprefix("text\n") for b in blocks if b.startswith("text\n"))
    said = []
    for block in blocks:
        for line in block.removeprefix("sh\n").splitlines() if block.startswith("sh\n") else ():
            if line.startswith("gaugewright demo"):
                continue  # the copy stands in for it
            assert main(shlex.split(line)[1:]) == 0, line
            said.append(printed(capsys))
    whole = "\n".join(said)
    for line in promised.strip().splitlines():
        assert line in whole
    assert "1.053 % at the largest load" in whole
    assert "laboratory's own, 2 bare-bar calibrations" in whole


def test_results_as_json_are_in_newtons(beams: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["calibrate", "beams", "L1", TABLE.name, *WORDS]) == 0
    printed(capsys)
    assert main(["results", "calibration", "beams", "L1", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)["calibrations"]
    first = next(one for one in told if one["circuit"] == "L1-M-T")
    # By hand, ends of the first run: 40 kN over 0.6532 - 0.1311 mV/V, bent by the bridge's 1/1000.
    assert first["force_per_reading_n"] == pytest.approx(40e3 / 0.5221, rel=3e-3)
    assert first["expanded_uncertainty_n"] > 0


def test_a_file_that_is_not_there_is_named(beams: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["calibrate", "beams", "L1", "no-such.csv", *WORDS]) == 2
    assert "or a recording's label" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--load-error", "0.24", "--temperature", "21"], "a day and time like"),
        ([*WORDS, "--curve", "square"], "line or cubic"),
        ([*WORDS, "--means", "k=9"], "one of k=2"),
        (["--measured", "2027-01-01T00:00", "--load-error", "x", "--temperature", "y"], "error of"),
        (["--measured", "2020-01-01T00:00", *WORDS[2:]], "on a channel when it was calibrated"),
    ],
)
def test_what_cannot_be_used_is_refused_in_a_line(
    beams: Path, capsys: pytest.CaptureFixture[str], words: list[str], sentence: str
) -> None:
    assert main(["calibrate", "beams", "L1", TABLE.name, *words]) == 2
    assert sentence in capsys.readouterr().err


def test_scatter_of_pairs_in_a_cast_member_is_shown_and_not_kept(
    beams: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["scatter", "beams"]) == 0
    assert "Bars of a cast member bend" in printed(capsys)
    assert main(["scatter", "beams", "--keep"]) == 2
    assert "calibrate bars before they are cast" in capsys.readouterr().err


def test_a_kept_scatter_reaches_the_chain_and_the_laboratory_s_folder(
    beams: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["calibrate", "beams", "L1", TABLE.name, *WORDS]) == 0
    assert main(["scatter", "beams", "--keep", "--json"]) == 0
    told = json.loads(capsys.readouterr().out.split("beams L1\n")[-1])
    assert told["degrees_of_freedom"] == 1
    with campaigns.opened(beams, read_only=True) as store:
        book = Book.read(store)
        found = own_scatter.own_scatter(store)
        connection = next(
            c
            for c in book.every()
            if type(c.record).__name__ == "Connection"
            and book.label(c.record.subject) == "L2-M-T"
            and c.record.ends is None
        )
        chain = chain_for(book, connection)
    cause = next(q for q in chain.chain.inputs if q.name.startswith("installation@"))
    assert cause.standard_uncertainty == told["relative_standard_uncertainty"]
    assert cause.degrees_of_freedom == 1
    assert "laboratory's own, 2 bare-bar calibrations" in cause.meaning
    source = next(s for s in chain.sources if s.parameter == "installation_factor")
    assert source.basis == "measured"
    folder = tmp_path / "laboratory"
    folder.mkdir()
    (folder / "limits.toml").write_text(found.as_toml(), encoding="utf-8")
    (limit,) = laboratory_records(folder)
    assert (limit.value, limit.counted) == (found.standard_uncertainty, 2)
