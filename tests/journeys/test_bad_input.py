"""Whatever a person gets wrong: one sentence, exit code 2, and the campaign as it was."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from gaugewright.records.identity import working_context
from gaugewright.store.campaign import CampaignStore

pytestmark = pytest.mark.full

TEXT = "t,Load\n(s),(kN)\n" + "".join(f"{n}.0,{n}.5\n" for n in range(30))


def gaugewright(*words: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "gaugewright", *map(str, words)],
        capture_output=True,
        text=True,
        env={**os.environ, "COLUMNS": "100"},
    )


@pytest.fixture(scope="module")
def beam(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A closed campaign, to be copied."""
    folder = tmp_path_factory.mktemp("beam") / "beam"
    assert gaugewright("new", folder, "--title", "Beam").returncode == 0
    return folder


@pytest.fixture
def place(beam: Path, tmp_path: Path) -> Path:
    """A folder with a campaign ``beam``, a good file and bad ones of every kind."""
    shutil.copytree(beam, tmp_path / "beam")
    (tmp_path / "good.csv").write_text(TEXT)
    (tmp_path / "empty.csv").write_bytes(b"")
    (tmp_path / "zeros.csv").write_bytes(b"\0" * 5000)
    (tmp_path / "words.csv").write_text("once upon a time\nthere was a bar\n")
    (tmp_path / "picture.jpg").write_bytes(bytes(range(256)) * 40)
    (tmp_path / "folder.csv").mkdir()
    (tmp_path / "head.csv").write_text("t,Load\n(s),(kN)\n")
    (tmp_path / "two.csv").write_text(TEXT.replace("Load", "t"))
    (tmp_path / "mine.txt").write_text("mine")
    (tmp_path / "broken").mkdir()
    (tmp_path / "broken" / "campaign.sqlite").write_bytes(b"not a database" * 100)
    return tmp_path


BAD: list[tuple[str, ...]] = [
    ("import", "beam", "missing.csv", "--yes"),
    ("import", "beam", "empty.csv", "--yes"),
    ("import", "beam", "zeros.csv", "--yes"),
    ("import", "beam", "words.csv", "--yes"),
    ("import", "beam", "picture.jpg", "--yes"),
    ("import", "beam", "folder.csv", "--yes"),
    ("import", "beam", "head.csv", "--yes"),
    ("import", "beam", "good.csv", "--delimiter", ";;", "--yes"),
    ("import", "beam", "good.csv", "--decimal", "x", "--yes"),
    ("import", "beam", "good.csv", "--first-row", "0", "--yes"),
    ("import", "beam", "good.csv", "--names-row", "99", "--yes"),
    ("import", "beam", "good.csv", "--clock", "rate", "--yes"),
    ("import", "beam", "good.csv", "--clock", "9", "--yes"),
    ("import", "beam", "good.csv", "--rate", "-5", "--clock", "rate", "--yes"),
    ("import", "beam", "good.csv", "--epoch", "yesterday", "--yes"),
    ("import", "beam", "good.csv", "--sign", "Load=sideways", "--yes"),
    ("import", "beam", "good.csv", "--recorder", "none such", "--yes"),
    ("import", "beam", "good.csv", "--unit", "Load=mm", "--unit", "Load=kN", "--yes"),
    ("import", "broken", "good.csv"),
    ("import", "nowhere", "good.csv"),
    ("new", "beam", "--title", "Again"),
    ("new", "mine.txt", "--title", "On a file"),
    ("new", "fresh", "--title", ""),
    ("new", "fresh", "--title", "T", "--zone", "Mars/Olympus"),
    ("new", "fresh", "--title", "T", "--units", "furlongs"),
    ("--set", "laboratory=nowhere", "new", "fresh", "--title", "T"),
    ("list", "mine.txt"),
    ("copy", "beam", "broken"),
    ("copy", "nowhere", "fresh"),
    ("reduce", "nowhere"),
    ("reduce", "broken"),
    ("report", "nowhere"),
    ("report", "beam", "--out", "no/such/folder/report.pdf"),
    ("selfcheck", "nowhere"),
    ("--set", "coverage=2", "settings", "show"),
    ("job", "not-a-uid", "--campaign", "beam"),
]


@pytest.mark.parametrize("words", BAD, ids=" ".join)
def test_one_sentence_exit_code_2_and_nothing_half_written(
    words: tuple[str, ...], place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(place)
    with CampaignStore.open(place / "beam", working_context(), read_only=True) as store:
        before = store.head()
    there = sorted(place.iterdir())
    done = gaugewright(*words)
    assert done.returncode == 2, done.stderr
    told = [line for line in done.stderr.splitlines() if "[bytes]: " not in line]
    assert len(told) == 1, done.stderr
    assert len(told[0]) > 20
    assert "Traceback" not in done.stderr
    with CampaignStore.open(place / "beam", working_context(), read_only=True) as store:
        assert store.head() == before
        assert store.problems() == ()
    assert sorted(place.iterdir()) == there
    assert (place / "mine.txt").read_text() == "mine"


def test_reducing_a_campaign_without_readings_says_what_is_missing(place: Path) -> None:
    done = gaugewright("reduce", place / "beam")
    assert done.returncode == 2
    assert "imported before reducing" in done.stderr
