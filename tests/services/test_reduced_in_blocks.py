"""A reduction that is stopped, killed or cut otherwise ends with the same bits, or with nothing."""

import os
import shutil
import signal
import subprocess
import sys
from itertools import pairwise

import polars as pl
import pytest

from gaugewright.records.identity import working_context
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import Recording
from gaugewright.records.results import Chain, Result
from gaugewright.services.campaign.book import Book
from gaugewright.services.dispatching import kinds as job_kinds
from gaugewright.services.reducing import reduction
from gaugewright.services.strain import strain_files
from gaugewright.services.strain.strains import Desk
from gaugewright.services.work import jobs
from gaugewright.services.work.jobs import Cancelled
from gaugewright.store.campaign import CampaignStore

pytestmark = pytest.mark.full

ROWS = 200  # of a block here: several in every recording


@pytest.fixture(scope="module")
def reduced(demo_campaign, tmp_path_factory):
    """A copy of the demo campaign, reduced in blocks of the usual size."""
    folder = shutil.copytree(demo_campaign, tmp_path_factory.mktemp("reduced") / "campaign")
    shutil.rmtree(folder / "cache" / "derived", ignore_errors=True)
    with CampaignStore.open(folder, working_context()) as store:
        reduction.reduce(store)
    return folder


@pytest.fixture
def campaign(reduced, tmp_path):
    """The same without what it had worked out."""
    folder = shutil.copytree(reduced, tmp_path / "campaign")
    shutil.rmtree(folder / "cache" / "derived")
    return folder


def strain_of(folder, also=None):
    """Strain of the largest recording, column by column, and the calls of its progress."""
    told = []

    def progress(*said):
        told.append(said)
        if also is not None:
            also(*said)

    with CampaignStore.open(folder, working_context()) as store:
        desk = Desk(store, Book.read(store))
        largest = max(desk.book.of(Recording), key=lambda entry: entry.record.rows)
        chained = frozenset(entry.record.connection for entry in store.entries(Chain))
        key = strain_files.write_strains(
            desk,
            largest,
            ZeroKind.BEFORE_TEST,
            connections=chained,
            progress=progress,
        )
        return bits(store.derived(key)), told


def bits(folder):
    """Numbers of all parts one after another, to the last bit, by column."""
    table = pl.concat([pl.read_parquet(path) for path in sorted(folder.glob("*.parquet"))])
    return {name: table[name].to_numpy().tobytes() for name in table.columns}


def derived_of(folder):
    """What lies in the cache of derived series, hidden or not."""
    place = folder / "cache" / "derived"
    return sorted(path.name for path in place.iterdir()) if place.is_dir() else []


@pytest.mark.parametrize("rows", [ROWS, 900])
@pytest.mark.parametrize("cores", [1, 3])
def test_blocks_of_any_size_and_any_number_of_cores_give_the_same_bits(
    campaign, reduced, monkeypatch, rows, cores
):
    whole, _ = strain_of(reduced)
    monkeypatch.setattr(strain_files, "BLOCK_ROWS", rows)
    monkeypatch.setattr(os, "cpu_count", lambda: cores)
    cut, told = strain_of(campaign)
    assert cut == whole
    assert len(told) > 1


def test_progress_counts_rows_and_never_goes_back(campaign, monkeypatch):
    monkeypatch.setattr(strain_files, "BLOCK_ROWS", ROWS)
    told = []
    with CampaignStore.open(campaign, working_context()) as store:
        reduction.reduce(store, progress=lambda done, total, what: told.append((done, total)))
        rows = [entry.record.rows for entry in store.entries(Recording)]
    done = [at for at, _ in told]
    assert {total for _, total in told} == {reduction.STEPS * sum(rows)}
    assert done == sorted(done)
    assert done[-1] == reduction.STEPS * sum(rows)
    in_strain = sorted({at for at in done if at <= sum(rows)})
    largest_step = max(after - before for before, after in pairwise(in_strain))
    assert largest_step <= max(ROWS, *(n for n in rows if n < ROWS), 0)


def test_a_job_of_two_works_tells_one_progress(campaign, monkeypatch):
    told = []

    def progress(done, total, what):
        told.append(done / total)

    with CampaignStore.open(campaign, working_context()) as store:
        job_kinds.KINDS["reduce"](store, {}, progress)
    assert told == sorted(told)
    assert told[-1] == 1.0
    assert any(0.0 < at < 0.5 for at in told)
    assert any(0.5 < at < 1.0 for at in told)


def test_cancelled_at_a_block_it_leaves_nothing_and_begins_anew(campaign, reduced, monkeypatch):
    monkeypatch.setattr(strain_files, "BLOCK_ROWS", ROWS)
    with CampaignStore.open(campaign, working_context()) as store:
        results = {entry.uid: entry.version for entry in store.entries(Result)}
        uid = jobs.begun(store, "reduce", {})
        blocks = []

        def then_cancel(done, total, what):
            blocks.append(done)
            if len(blocks) == 3:
                jobs.ask_to_cancel(store, uid)

        def work(store, parameters, progress):
            reduction.reduce(store, progress=progress)
            return "done"

        ended = jobs.run(store, uid, {"reduce": work}, also=then_cancel)
        assert ended.state is jobs.JobState.CANCELLED
        assert len(blocks) == 3  # the very next block saw it
        assert {entry.uid: entry.version for entry in store.entries(Result)} == results
    # A recording that was finished before may stay; of the one that was stopped nothing does.
    assert [name for name in derived_of(campaign) if name.startswith(".")] == []
    assert strain_of(campaign)[0] == strain_of(reduced)[0]


KILLED = """
import os, signal, sys
from pathlib import Path
sys.path.insert(0, sys.argv[2])
from test_reduced_in_blocks import ROWS, strain_of
from gaugewright.services.strain import strain_files

strain_files.BLOCK_ROWS = ROWS
blocks = []

def killed(done, total, what):
    blocks.append(done)
    if len(blocks) == 3:
        os.kill(os.getpid(), signal.SIGKILL)

strain_of(Path(sys.argv[1]), also=killed)
"""


def killed_after_three(campaign):
    """A process that works out strain is killed after three blocks; returns what it left."""
    command = [sys.executable, "-c", KILLED, str(campaign), os.path.dirname(__file__)]
    assert subprocess.run(command, check=False).returncode == -signal.SIGKILL
    (begun,) = (campaign / "cache" / "derived").glob(".*.begun")
    parts = sorted(begun.glob("part-*.parquet"))
    assert len(parts) == 3
    return parts


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no such signal here")
def test_killed_it_goes_on_after_the_last_block_and_ends_with_the_same_bits(
    campaign, reduced, monkeypatch
):
    killed_after_three(campaign)
    monkeypatch.setattr(strain_files, "BLOCK_ROWS", ROWS)
    found, told = strain_of(campaign)
    assert found == strain_of(reduced)[0]
    assert told[0][0] == 4 * ROWS  # no block is done twice
    assert [name for name in derived_of(campaign) if name.startswith(".")] == []


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no such signal here")
def test_a_part_that_never_reached_the_disk_is_worked_out_again(campaign, reduced, monkeypatch):
    killed_after_three(campaign)[-1].write_bytes(b"")
    monkeypatch.setattr(strain_files, "BLOCK_ROWS", ROWS)
    found, told = strain_of(campaign)
    assert found == strain_of(reduced)[0]
    assert told[0][0] == 3 * ROWS


def test_stopped_from_within_it_raises_and_leaves_nothing(campaign, monkeypatch):
    monkeypatch.setattr(strain_files, "BLOCK_ROWS", ROWS)

    def stop(done, total, what):
        raise Cancelled("stop")

    with CampaignStore.open(campaign, working_context()) as store:
        with pytest.raises(Cancelled):
            reduction.reduce(store, progress=stop)
        assert store.problems() == ()
    assert derived_of(campaign) == []
