"""The demo as a person runs it: a report, a table, and a campaign that proves itself."""

import io
import json
import os
import re
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pypdf
import pytest

pytestmark = pytest.mark.full


def gaugewright(*words: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "gaugewright", *map(str, words)],
        capture_output=True,
        text=True,
        env={**os.environ, "COLUMNS": "100"},
    )


@dataclass(frozen=True)
class Made:
    """The demo made once, and what the command said."""

    folder: Path
    out: str
    err: str


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    folder = tmp_path_factory.mktemp("demo") / "campaign"
    done = gaugewright("demo", folder)
    assert done.returncode == 0, done.stderr
    return Made(folder, done.stdout, done.stderr)


def test_it_ends_with_the_path_of_a_readable_report(made: Made) -> None:
    path = Path(made.out.splitlines()[-1])
    assert path.is_relative_to(made.folder)
    pages = pypdf.PdfReader(io.BytesIO(path.read_bytes())).pages
    text = "\n".join(page.extract_text() for page in pages)
    assert len(pages) > 1
    assert "invented" in text


def test_it_prints_yield_loads_with_uncertainty_and_how_long_it_took(made: Made) -> None:
    rows = [line for line in made.out.splitlines() if re.search(r"\d\s±\s[\d.]+\skN", line)]
    assert len(rows) >= 5
    assert "load at yield (95 %)" in made.out
    assert re.search(r"The demo took \d+\.\d s\.", made.out)


def test_it_takes_well_under_two_minutes(made: Made) -> None:
    found = re.search(r"The demo took (\d+\.\d) s\.", made.out)
    assert found is not None
    assert float(found[1]) < 120


def test_its_progress_went_to_standard_error_and_counted_bytes_and_circuits(made: Made) -> None:
    assert re.search(r"reading test_A\.csv \[bytes\]: (\d+) of \1\n", made.err)
    assert "[circuits]" in made.err
    assert "[bytes]" not in made.out


def test_the_truth_is_nowhere_in_the_campaign(made: Made) -> None:
    names = {path.name for path in made.folder.rglob("*")}
    assert "truth.json" not in names
    told = json.loads((made.folder.with_name("campaign-truth") / "truth.json").read_text())
    assert told["bad gauges"]


def test_the_campaign_proves_itself_and_so_does_its_copy(made: Made, tmp_path: Path) -> None:
    assert gaugewright("copy", made.folder, tmp_path / "copy").returncode == 0
    heads = []
    for folder in (made.folder, tmp_path / "copy"):
        done = gaugewright("selfcheck", folder, "--json")
        assert done.returncode == 0, done.stdout
        [check] = [c for c in json.loads(done.stdout)["checks"] if c["name"].startswith("campaign")]
        heads.append(check["sentence"])
    assert heads[0] == heads[1]


def test_a_reading_changed_on_disk_is_found(made: Made, tmp_path: Path) -> None:
    gaugewright("copy", made.folder, tmp_path / "copy")
    part = sorted((tmp_path / "copy" / "readings").rglob("part-*.parquet"))[0]
    content = bytearray(part.read_bytes())
    content[len(content) // 2] ^= 1
    part.write_bytes(content)
    done = gaugewright("selfcheck", tmp_path / "copy")
    assert done.returncode == 1
    assert part.name in done.stdout


def test_reducing_again_changes_no_result(made: Made, tmp_path: Path) -> None:
    gaugewright("copy", made.folder, tmp_path / "copy")
    first = json.loads(gaugewright("reduce", tmp_path / "copy", "--json").stdout)
    again = json.loads(gaugewright("reduce", tmp_path / "copy", "--json").stdout)
    assert first == again


def test_the_list_shows_it_as_reduced(made: Made) -> None:
    listed = json.loads(gaugewright("list", made.folder.parent, "--json").stdout)["campaigns"]
    [found] = [one for one in listed if one["folder"] == str(made.folder)]
    assert (found["gauges"], found["recordings"]) == (30, 6)
    assert (found["state"], found["invented"]) == ("reduced", True)


def test_a_second_run_is_refused_with_the_way_out_and_touches_nothing(made: Made) -> None:
    before = sorted((path, path.stat().st_mtime_ns) for path in made.folder.rglob("*.sqlite"))
    done = gaugewright("demo", made.folder)
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1
    assert "--again" in done.stderr
    after = sorted((path, path.stat().st_mtime_ns) for path in made.folder.rglob("*.sqlite"))
    assert after == before


def test_again_moves_the_earlier_one_aside_and_makes_the_same_campaign(tmp_path: Path) -> None:
    folder = tmp_path / "campaign"
    heads = []
    for words in ([], ["--again"]):
        assert gaugewright("demo", folder, *words).returncode == 0
        done = gaugewright("selfcheck", folder, "--json")
        heads.append(json.loads(done.stdout)["checks"][-1]["sentence"])
    assert heads[0] == heads[1]
    assert (tmp_path / "campaign-earlier-1" / "campaign.sqlite").is_file()


def test_only_a_demo_is_moved_aside(tmp_path: Path) -> None:
    folder = tmp_path / "mine"
    assert gaugewright("new", folder, "--title", "Mine").returncode == 0
    done = gaugewright("demo", folder, "--again")
    assert done.returncode == 2
    assert "only a demo is moved aside" in done.stderr
    assert (folder / "campaign.sqlite").is_file()


def test_the_truth_can_not_be_put_into_the_campaign(tmp_path: Path) -> None:
    done = gaugewright("demo", tmp_path / "c", "--truth", tmp_path / "c" / "truth")
    assert done.returncode == 2
    assert "outside the campaign" in done.stderr
    assert list(tmp_path.iterdir()) == []
