"""Open for reading only: nothing in the folder changes, whoever else is at work in it."""

import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from gaugewright.errors import StoreError
from gaugewright.records.readings import Recording
from gaugewright.records.specimen import Question
from gaugewright.store.campaign import CampaignStore
from tests.store import invented

ROOT = Path(__file__).parents[2]
KILLED = """
import os, signal, sys
from pathlib import Path
from tests.store import invented
store = invented.new_store(Path(sys.argv[1]))
store.add(invented.question("in the log only"))
os.kill(os.getpid(), signal.SIGKILL)
"""


def state(folder: Path) -> dict[str, tuple[int, bytes]]:
    files = (path for path in folder.rglob("*") if path.is_file())
    return {str(p.relative_to(folder)): (p.stat().st_mtime_ns, p.read_bytes()) for p in files}


def reader_of(folder: Path) -> CampaignStore:
    return CampaignStore.open(folder, invented.context(days=9), read_only=True)


@pytest.fixture
def closed(tmp_path: Path, original: Path) -> Path:
    with invented.filled_store(tmp_path / "campaign", original) as store:
        return store.folder


def test_reading_changes_no_file(closed: Path) -> None:
    before = state(closed)
    with reader_of(closed) as reader:
        (recording,) = reader.entries(Recording)
        assert reader.readings(recording.uid).values("g1").size == 10
        assert reader.original_bytes(recording.record.original_sha256)
        assert reader.problems() == ()
        assert reader.derived("strain") is None
        assert state(closed) == before
    assert state(closed) == before


def test_reading_works_in_a_folder_nobody_may_write_in(closed: Path) -> None:
    folders = [closed, *(path for path in closed.iterdir() if path.is_dir())]
    for folder in folders:
        folder.chmod(0o555)
    try:
        with reader_of(closed) as reader:
            assert reader.problems() == ()
    finally:
        for folder in folders:
            folder.chmod(0o755)


def test_folders_for_writing_are_not_needed(closed: Path) -> None:
    for name in ("cache", "incoming", "photos", "handover"):
        shutil.rmtree(closed / name)
    with reader_of(closed) as reader:
        assert reader.problems() == ()
    assert not (closed / "cache").exists()


@pytest.mark.parametrize(
    "write",
    [
        lambda store: store.add(invented.question("q")),
        lambda store: store.revise(store.campaign.uid, 1, invented.CAMPAIGN, reason="why"),
        lambda store: store.withdraw(store.campaign.uid, 1, reason="why"),
        lambda store: store.several().__enter__(),
        lambda store: store.keep_original(store.folder / "campaign.sqlite"),
        lambda store: store.new_recording(),
        lambda store: store.write_derived("k", [pl.DataFrame({"x": np.zeros(1)})]),
        lambda store: store.rebuild(),
        lambda store: store.jobs,
    ],
)
def test_every_write_is_refused(closed: Path, write: Callable[[CampaignStore], object]) -> None:
    before = state(closed)
    with reader_of(closed) as reader, pytest.raises(StoreError, match="for reading only"):
        write(reader)
    assert state(closed) == before


def test_a_reader_sees_what_a_writer_writes_meanwhile(closed: Path) -> None:
    with reader_of(closed) as reader:
        with CampaignStore.open(closed, invented.context(days=1)) as writer:
            writer.add(invented.question("asked now"))
            assert reader.labelled(Question, "asked now").version == 1
            writer.add(invented.question("asked then"))
            assert len(reader.entries(Question)) == 3
        # The writer has closed and its log is gone.
        assert len(reader.entries(Question)) == 3


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL there")
@pytest.mark.parametrize("with_shared_memory", [True, False])
def test_the_log_of_a_killed_writer_is_read_too(
    tmp_path: Path, *, with_shared_memory: bool
) -> None:
    folder = tmp_path / "campaign"
    done = subprocess.run(
        [sys.executable, "-c", KILLED, str(folder)], cwd=ROOT, capture_output=True, check=False
    )
    assert done.returncode == -signal.SIGKILL, done.stderr.decode()
    if not with_shared_memory:  # as on a disk the killed machine's files were copied to
        os.unlink(folder / "campaign.sqlite-shm")
    names = sorted(path.name for path in folder.iterdir())
    with reader_of(folder) as reader:
        assert reader.labelled(Question, "in the log only").version == 1
        assert reader.problems() == ()
    assert sorted(path.name for path in folder.iterdir()) == names
