"""A writer killed between any two steps leaves a campaign that is whole at the next opening."""

import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from gaugewright.records.readings import Clock, Recording
from gaugewright.store.campaign import CampaignStore
from tests.store import invented

ROOT = Path(__file__).parents[2]
STEPS = ["parts written", "marks written", "draft written", "moved", "rows written", "kept"]
WRITER = """
import os, signal, sys
from contextlib import nullcontext
from pathlib import Path
from gaugewright.records.identity import working_context
from gaugewright.store import incoming
from gaugewright.store.campaign import CampaignStore
from tests.store import invented

folder, original, step, together = Path(sys.argv[1]), Path(sys.argv[2]), sys.argv[3], sys.argv[4]

def reached(name):
    if name == step:
        os.kill(os.getpid(), signal.SIGKILL)

incoming.reached = reached
store = CampaignStore.open(folder, working_context())
build = None if together == "together" else invented.builder(store, original, 10)
with store.new_recording(invented.COLUMNS) as writer:
    invented.write_rows(writer, 10)
    writer.mark("G2", 0, 0, "over-range", "OVL")
    reached("rows taken")
    with store.several() if together == "together" else nullcontext():
        build = build or invented.builder(store, original, 10)
        writer.publish(build)
"""


def killed_at(folder: Path, original: Path, step: str, *, together: bool) -> None:
    words = "together" if together else "alone"
    command = [sys.executable, "-c", WRITER, str(folder), str(original), step, words]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, timeout=60, check=False)
    assert done.returncode == -signal.SIGKILL, done.stderr.decode()


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL there")
@pytest.mark.parametrize("together", [False, True], ids=["alone", "with other records"])
@pytest.mark.parametrize("step", ["rows taken", *STEPS])
def test_killed_between_two_steps(
    tmp_path: Path, original: Path, step: str, *, together: bool
) -> None:
    folder = tmp_path / "campaign"
    invented.new_store(folder).close()
    killed_at(folder, original, step, together=together)

    # Whoever only reads, finds records and journal in order, before anything was put right.
    with CampaignStore.open(folder, invented.context(days=1), read_only=True) as reader:
        in_journal = [
            p for p in reader.problems() if not p.place.startswith(("inc", "orig", "rea"))
        ]
        assert in_journal == []

    from_here = STEPS.index("kept" if together else "draft written")
    is_there = step in STEPS[from_here:]
    with CampaignStore.open(folder, invented.context(days=1)) as store:
        assert store.problems() == ()
        recordings = store.entries(Recording)
        assert len(recordings) == (1 if is_there else 0)
        for recording in recordings:
            readings = store.readings(recording.uid)
            assert readings.values("g1").tolist() == list(range(10))
            assert readings.marks().height == 1
        if together:  # the clock goes with the recording, all or nothing
            assert len(store.entries(Clock)) == len(recordings)
        left = [p.name for p in (folder / "incoming").iterdir() if not p.name.startswith(".")]
        assert left == []
        in_place = sorted(path.name for path in (folder / "readings").iterdir())
        assert in_place == [recording.uid for recording in recordings]
        # And work goes on.
        invented.add_recording(store, original, label="R2")
        assert store.problems() == ()


def test_a_recording_taken_up_says_so(tmp_path: Path, original: Path) -> None:
    folder = tmp_path / "campaign"
    invented.new_store(folder).close()
    killed_at(folder, original, "moved", together=False)
    with CampaignStore.open(folder, invented.context(days=1)) as store:
        (entry,) = store.entries(Recording)
        assert entry.reason.startswith("taken up at opening")
        before = store.head()
    with CampaignStore.open(folder, invented.context(days=1)) as store:
        assert store.head() == before


def test_a_label_taken_meanwhile_does_not_stop_the_opening(tmp_path: Path, original: Path) -> None:
    folder = tmp_path / "campaign"
    invented.new_store(folder).close()
    with CampaignStore.open(folder, invented.context(days=1)) as other:
        killed_at(folder, original, "moved", together=False)
        build = invented.builder(other, original, 3, label="other")
        invented.write_and_publish(other, lambda uid: replace(build(uid), label="R1"), rows=3)
    with CampaignStore.open(folder, invented.context(days=2)) as store:
        labels = [entry.record.label for entry in store.entries(Recording)]
        assert labels[0] == "R1"
        assert labels[1].startswith("R1 (")
        assert store.problems() == ()


def test_a_draft_whose_files_are_spoilt_is_told_and_kept(tmp_path: Path, original: Path) -> None:
    folder = tmp_path / "campaign"
    invented.new_store(folder).close()
    killed_at(folder, original, "draft written", together=False)
    (part,) = (folder / "incoming").glob("*/part-000000.parquet")
    part.write_bytes(part.read_bytes()[:-100])
    with CampaignStore.open(folder, invented.context(days=1)) as store:
        assert store.entries(Recording) == ()
        (problem,) = store.problems()
        assert "was interrupted while being published" in problem.sentence
    assert part.is_file()


def test_nothing_is_cleared_away_while_somebody_writes(tmp_path: Path, original: Path) -> None:
    folder = tmp_path / "campaign"
    with invented.new_store(folder) as store:
        build = invented.builder(store, original, 10)
        with store.new_recording(invented.COLUMNS) as writer:
            invented.write_rows(writer, 10)
            with CampaignStore.open(folder, invented.context(days=1)) as other:
                assert other.entries(Recording) == ()
            entry = writer.publish(build)
        assert store.readings(entry.uid).rows == 10
