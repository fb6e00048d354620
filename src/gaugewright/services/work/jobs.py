"""Long pieces of work: begun here or in a process of their own, watched, cancelled, ended."""

import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from datetime import timedelta
from pathlib import Path
from types import TracebackType
from typing import Any, Protocol

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.records.identity import Context, Uid
from gaugewright.store.campaign import CampaignStore
from gaugewright.store.jobs import Job, JobBoard, JobState

__all__ = [
    "Cancelled",
    "Job",
    "JobKind",
    "JobState",
    "Progress",
    "ask_to_cancel",
    "begun",
    "job",
    "jobs",
    "run",
    "submit",
]

PROGRAM = (sys.executable, "-m", "gaugewright")
WRITES_APART_S = 0.5
BEGIN_WITHIN = timedelta(seconds=60)  # a process that hasn't begun by then never will
_processes: dict[str, subprocess.Popen[bytes]] = {}


class Cancelled(GaugewrightError):
    """A person asked for this work to stop; what it had half done isn't kept."""


class Progress(Protocol):
    """How a piece of work tells how far it is; called at the border of every block."""

    def __call__(self, done: int, total: int, what: str) -> None:
        """Tell that ``done`` of ``total`` is done; ``Cancelled`` is raised when asked to stop."""


JobKind = Callable[[CampaignStore, Mapping[str, Any], Progress], str]


def submit(
    store: CampaignStore,
    kind: str,
    parameters: Mapping[str, Any],
    *,
    program: Sequence[str] = PROGRAM,
) -> Uid:
    """Begin a piece of work in a process of its own and return its uid at once.

    The process runs ``program`` with ``job UID --campaign PATH``; what it prints goes to a log
    in the campaign's cache.
    """
    board = store.jobs
    uid = board.put_up(kind, parameters, store.context)
    command = [*program, "job", uid, "--campaign", str(store.folder.resolve())]
    with board.log(uid).open("wb") as log:
        process = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            start_new_session=True,  # a key that stops the program it was begun from isn't for it
        )
    _processes[uid] = process
    # Somebody must wait for it, or it stays in the system's table until this program ends.
    threading.Thread(target=process.wait, name=f"job {uid}", daemon=True).start()
    return uid


def begun(store: CampaignStore, kind: str, parameters: Mapping[str, Any]) -> Uid:
    """Write down a piece of work that ``run`` is to do in this very process."""
    return store.jobs.put_up(kind, parameters, store.context)


def run(
    store: CampaignStore,
    uid: Uid,
    kinds: Mapping[str, JobKind],
    *,
    also: Progress | None = None,
) -> Job:
    """Do a queued job here: the same for a process of its own and for the foreground.

    ``also`` is told the progress too. Work that can't be done or is cancelled ends the job with
    the sentence that says why; a fault of ours ends it as failed and goes on to the caller.

    Raises
    ------
    StoreError
        If the job was begun before.
    """
    board = store.jobs
    with board.held(uid):
        taken = board.begin(uid, store.context, os.getpid())
        work = kinds.get(taken.kind)
        with _Ending(board, uid, store.context) as ending:
            if work is None:
                raise InputError("kind of job", taken.kind, "one of " + ", ".join(sorted(kinds)))
            progress = _Written(board, uid, also)
            ending.message = work(store.as_person(taken.person), taken.parameters, progress)
    return board.job(uid)


def job(store: CampaignStore, uid: Uid) -> Job:
    """One job as it is now; one whose process has gone without a word is shown as failed.

    Raises
    ------
    InputError
        If there is no such job.
    """
    board = store.jobs
    found = board.job(uid)
    if not found.state.is_over and not _is_alive(board, found, store.context):
        board.end(uid, JobState.FAILED, _last_words(board.log(uid)), store.context)
        return board.job(uid)
    return found


def jobs(store: CampaignStore) -> tuple[Job, ...]:
    """Every job as it is now, the newest first."""
    return tuple(job(store, found.uid) for found in store.jobs.jobs())


def ask_to_cancel(store: CampaignStore, uid: Uid) -> Job:
    """Ask a job to stop; it does so at its next block, and one that hasn't begun at its first."""
    store.jobs.ask_to_cancel(uid)
    return job(store, uid)


class _Written:
    """Progress written to the board at most twice a second; the flag is read every time."""

    def __init__(self, board: JobBoard, uid: Uid, also: Progress | None) -> None:
        self._board = board
        self._uid = uid
        self._also = also
        self._written = float("-inf")

    def __call__(self, done: int, total: int, what: str) -> None:
        if self._board.job(self._uid).cancel_asked:
            raise Cancelled("stopped as asked; nothing half-done was kept")
        now = time.monotonic()
        if now - self._written >= WRITES_APART_S:
            self._written = now
            self._board.tell(self._uid, done / total if total > 0 else 0.0, what)
        if self._also is not None:
            self._also(done, total, what)


class _Ending:
    """Writes down how a job ended, whatever ended it."""

    def __init__(self, board: JobBoard, uid: Uid, context: Context) -> None:
        self._board = board
        self._uid = uid
        self._context = context
        self.message = ""

    def __enter__(self) -> "_Ending":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> bool:
        if error is None:
            self._end(JobState.DONE, self.message)
        elif isinstance(error, Cancelled):
            self._end(JobState.CANCELLED, str(error))
        elif isinstance(error, GaugewrightError):
            self._end(JobState.FAILED, str(error))
        elif isinstance(error, KeyboardInterrupt):
            self._end(JobState.CANCELLED, "stopped from the keyboard; nothing half-done was kept")
            return False
        else:
            name = type(error).__name__
            self._end(JobState.FAILED, f"a fault of this program ({name}): {error or 'no words'}")
            return False
        return True

    def _end(self, state: JobState, message: str) -> None:
        self._board.end(self._uid, state, message, self._context)


def _is_alive(board: JobBoard, found: Job, context: Context) -> bool:
    """Whether somebody works on a job: its lock is held, or its process may yet begin."""
    if board.is_held(found.uid):
        return True
    if board.job(found.uid).state is not found.state:
        return True  # it went on between the two looks
    process = _processes.get(found.uid)
    if found.state is JobState.QUEUED and process is not None:
        return process.poll() is None
    if found.state is JobState.QUEUED:
        return context.now() - found.submitted < BEGIN_WITHIN
    return False


def _last_words(log: Path) -> str:
    """Why a process is gone, as far as its log tells."""
    lines: list[str] = []
    if log.is_file():
        lines = log.read_text(encoding="utf-8", errors="replace").strip().splitlines()
    told = f": {lines[-1].strip()}" if lines else ""
    return f"its process has gone without ending the work{told}; nothing half-done was kept"
