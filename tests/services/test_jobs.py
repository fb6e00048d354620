"""Jobs: done here or in a process of their own, watched, cancelled, and never lost in silence."""

import itertools
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from gaugewright.errors import InputError, StoreError
from gaugewright.records.identity import Uid, working_context
from gaugewright.records.proof import Person
from gaugewright.records.specimen import Campaign, Question
from gaugewright.services.work import jobs
from gaugewright.services.work.jobs import JobState, Progress
from gaugewright.store.campaign import CampaignStore

CAMPAIGN = Campaign("INV-1", "Invented beam", "UTC", invented=True)
PROGRAM = """
import os, signal, sys, time
from pathlib import Path
from gaugewright.records.identity import working_context
from gaugewright.services.work import jobs
from gaugewright.store.campaign import CampaignStore

def counting(store, parameters, progress):
    for number in range(parameters["blocks"]):
        progress(number, parameters["blocks"], "blocks")
        time.sleep(parameters["pause"])
    return f"counted {parameters['blocks']} blocks"

def dying(store, parameters, progress):
    print("last words of the dying", flush=True)
    os.kill(os.getpid(), signal.SIGKILL)

_, verb, uid, option, folder = sys.argv
assert (verb, option) == ("job", "--campaign")
with CampaignStore.open(Path(folder), working_context()) as store:
    jobs.run(store, uid, {"counting": counting, "dying": dying})
"""


@pytest.fixture
def store(tmp_path: Path) -> Iterator[CampaignStore]:
    with CampaignStore.create(tmp_path / "campaign", CAMPAIGN, working_context()) as opened:
        yield opened


@pytest.fixture
def program(tmp_path: Path) -> tuple[str, ...]:
    path = tmp_path / "program.py"
    path.write_text(PROGRAM)
    return (sys.executable, str(path))


def until(store: CampaignStore, uid: Uid, wanted: Callable[[jobs.Job], bool]) -> jobs.Job:
    for _ in range(900):
        found = jobs.job(store, uid)
        if wanted(found):
            return found
        time.sleep(0.05)
    raise AssertionError(f"waited in vain: {found}")


def asking(store: CampaignStore, parameters: Mapping[str, Any], progress: Progress) -> str:
    progress(0, 1, "asking")
    store.add(Question("q", parameters["text"], "strain"))
    return "asked"


def test_a_job_done_here_ends_with_its_message(store: CampaignStore) -> None:
    person = store.add(Person("NB", "Nora Beispiel (invented)"))
    uid = jobs.begun(store.as_person(person.uid), "asking", {"text": "Where?"})
    waiting = jobs.job(store, uid)
    assert (waiting.state, waiting.parameters) == (JobState.QUEUED, {"text": "Where?"})
    done = jobs.run(store, uid, {"asking": asking})
    assert (done.state, done.share, done.message) == (JobState.DONE, 1.0, "asked")
    assert done.began is not None
    assert done.ended is not None
    assert done.submitted <= done.began <= done.ended
    assert store.labelled(Question, "q").person == person.uid  # done for whoever asked for it
    with pytest.raises(StoreError, match="is done; only a queued job can be begun"):
        jobs.run(store, uid, {"asking": asking})


def test_work_that_cannot_be_done_says_why(store: CampaignStore) -> None:
    uid = jobs.begun(store, "asking", {"text": " "})
    failed = jobs.run(store, uid, {"asking": asking})
    assert failed.state is JobState.FAILED
    assert failed.message == "text is ' '; it must be the question itself, in words"


def test_an_unknown_kind_fails_with_those_there_are(store: CampaignStore) -> None:
    uid = jobs.begun(store, "dancing", {})
    failed = jobs.run(store, uid, {"asking": asking})
    assert failed.state is JobState.FAILED
    assert "one of asking" in failed.message


def test_a_fault_of_ours_fails_the_job_and_is_not_hidden(store: CampaignStore) -> None:
    def faulty(store: CampaignStore, parameters: Mapping[str, Any], progress: Progress) -> str:
        raise ZeroDivisionError("division by zero")

    uid = jobs.begun(store, "faulty", {})
    with pytest.raises(ZeroDivisionError):
        jobs.run(store, uid, {"faulty": faulty})
    failed = jobs.job(store, uid)
    assert failed.state is JobState.FAILED
    assert "a fault of this program (ZeroDivisionError)" in failed.message


def test_cancelling_is_seen_at_the_next_block(store: CampaignStore) -> None:
    blocks: list[int] = []

    def counting(store: CampaignStore, parameters: Mapping[str, Any], progress: Progress) -> str:
        for number in itertools.count():
            progress(number, 0, "blocks")
            blocks.append(number)
            if number == 2:
                jobs.ask_to_cancel(store, uid)
        return "never"

    uid = jobs.begun(store, "counting", {})
    ended = jobs.run(store, uid, {"counting": counting})
    assert ended.state is JobState.CANCELLED
    assert ended.message == "stopped as asked; nothing half-done was kept"
    assert blocks == [0, 1, 2]


def test_progress_is_written_twice_a_second_at_most(
    store: CampaignStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = [100.0]
    monkeypatch.setattr(jobs, "time", SimpleNamespace(monotonic=lambda: now[0]))
    written: list[float] = []
    told: list[int] = []
    uid = jobs.begun(store, "counting", {})

    def counting(store: CampaignStore, parameters: Mapping[str, Any], progress: Progress) -> str:
        for number in range(20):
            progress(number, 20, "blocks")
            share = jobs.job(store, uid).share
            if not written or written[-1] != share:
                written.append(share)
            now[0] += 0.125
        return ""

    jobs.run(store, uid, {"counting": counting}, also=lambda done, total, what: told.append(done))
    assert written == [0.0, 0.2, 0.4, 0.6, 0.8]  # four blocks of an eighth of a second apart
    assert told == list(range(20))


def test_an_unknown_job_is_refused(store: CampaignStore) -> None:
    with pytest.raises(InputError, match="that of a job of this campaign"):
        jobs.job(store, Uid("0" * 26))


def test_a_job_in_its_own_process_runs_to_its_end(
    store: CampaignStore, program: tuple[str, ...]
) -> None:
    uid = jobs.submit(store, "counting", {"blocks": 3, "pause": 0.0}, program=program)
    ended = until(store, uid, lambda job: job.state.is_over)
    assert (ended.state, ended.message) == (JobState.DONE, "counted 3 blocks")
    assert [job.uid for job in jobs.jobs(store)] == [uid]


def test_a_job_in_its_own_process_is_watched_and_cancelled(
    store: CampaignStore, program: tuple[str, ...]
) -> None:
    uid = jobs.submit(store, "counting", {"blocks": 100_000, "pause": 0.01}, program=program)
    until(store, uid, lambda job: job.state is JobState.RUNNING and job.message == "blocks")
    store.add(Question("q", "Can records be edited meanwhile?", "strain"))
    jobs.ask_to_cancel(store, uid)
    assert until(store, uid, lambda job: job.state.is_over).state is JobState.CANCELLED


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL there")
def test_a_job_whose_process_is_gone_is_shown_as_failed(
    store: CampaignStore, program: tuple[str, ...]
) -> None:
    uid = jobs.submit(store, "dying", {}, program=program)
    failed = until(store, uid, lambda job: job.state.is_over)
    assert failed.state is JobState.FAILED
    assert "its process has gone" in failed.message
    assert "last words of the dying" in failed.message


def test_a_job_whose_process_never_begins_is_shown_as_failed(
    store: CampaignStore, tmp_path: Path
) -> None:
    program = (sys.executable, str(tmp_path / "not there.py"))
    uid = jobs.submit(store, "counting", {}, program=program)
    failed = until(store, uid, lambda job: job.state.is_over)
    assert failed.state is JobState.FAILED
    assert "No such file" in failed.message


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL there")
def test_a_job_left_by_a_program_that_is_gone_too_is_shown_as_failed(
    store: CampaignStore, program: tuple[str, ...]
) -> None:
    uid = jobs.begun(store, "counting", {"blocks": 100_000, "pause": 0.01})
    process = subprocess.Popen([*program, "job", uid, "--campaign", str(store.folder)])
    until(store, uid, lambda job: job.state is JobState.RUNNING)
    os.kill(process.pid, signal.SIGKILL)
    process.wait()
    assert until(store, uid, lambda job: job.state.is_over).state is JobState.FAILED


def test_jobs_are_in_the_cache_and_the_campaign_does_not_need_them(store: CampaignStore) -> None:
    jobs.begun(store, "asking", {})
    assert (store.folder / "cache" / "work.sqlite").is_file()
    assert store.problems() == ()
