"""Long pieces of work on a campaign: what was asked for, how far it is, how it ended."""

import enum
import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout
from sqlalchemy import (
    Boolean,
    Column,
    Float,
    Integer,
    MetaData,
    Row,
    String,
    Table,
    Text,
    insert,
    select,
    update,
)

from gaugewright.errors import InputError, StoreError
from gaugewright.records.identity import Context, Uid
from gaugewright.records.plain import canonical_text
from gaugewright.store.engine import Database
from gaugewright.store.folders import Folder
from gaugewright.store.schema import UtcText

__all__ = ["Job", "JobBoard", "JobState"]

_LOOK_S = 5.0  # somebody who only looks whether a job is held holds it for a moment
_METADATA = MetaData()
_job = Table(
    "job",
    _METADATA,
    Column("uid", String(26), primary_key=True),
    Column("kind", String(80), nullable=False),
    Column("parameters", Text, nullable=False),
    Column("person", String(26)),
    Column("state", String(20), nullable=False),
    Column("share", Float, nullable=False),
    Column("message", Text, nullable=False),
    Column("pid", Integer),
    Column("cancel", Boolean, nullable=False),
    Column("submitted", UtcText, nullable=False),
    Column("began", UtcText),
    Column("ended", UtcText),
)


class JobState(enum.Enum):
    """Where a job is."""

    QUEUED = "queued"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    CANCELLED = "cancelled"

    @property
    def is_over(self) -> bool:
        """Whether nothing more will happen."""
        return self in (JobState.DONE, JobState.FAILED, JobState.CANCELLED)


@dataclass(frozen=True, slots=True)
class Job:
    """A job as it was at one moment; ``share`` goes from 0 to 1 and ``message`` says the rest."""

    uid: Uid
    kind: str
    parameters: Mapping[str, Any]
    person: Uid | None
    state: JobState
    share: float
    message: str
    cancel_asked: bool
    submitted: datetime
    began: datetime | None
    ended: datetime | None


class JobBoard:
    """Jobs of one campaign, in the cache: deleting it loses no record and no reading."""

    def __init__(self, folder: Folder) -> None:
        self._room = folder.cache
        self._room.mkdir(parents=True, exist_ok=True)
        self._database = Database(self._room / "work.sqlite")
        self._database.make_tables(_METADATA)

    def close(self) -> None:
        """Let go of the board."""
        self._database.close()

    def put_up(self, kind: str, parameters: Mapping[str, Any], context: Context) -> Uid:
        """Write down a job to be done and return its uid."""
        uid = context.new_uid()
        with self._database.writing() as connection:
            connection.execute(
                insert(_job).values(
                    uid=uid,
                    kind=kind,
                    parameters=canonical_text(dict(parameters)),
                    person=context.person,
                    state=JobState.QUEUED.value,
                    share=0.0,
                    message="",
                    cancel=False,
                    submitted=context.now(),
                )
            )
        return uid

    def job(self, uid: Uid) -> Job:
        """One job.

        Raises
        ------
        InputError
            If there is no such job.
        """
        with self._database.reading() as connection:
            row = connection.execute(select(_job).where(_job.c.uid == uid)).one_or_none()
        if row is None:
            raise InputError("job", uid, "that of a job of this campaign")
        return _from_row(row)

    def jobs(self) -> tuple[Job, ...]:
        """Every job, the newest first."""
        with self._database.reading() as connection:
            rows = connection.execute(select(_job).order_by(_job.c.submitted.desc())).all()
        return tuple(_from_row(row) for row in rows)

    def begin(self, uid: Uid, context: Context, pid: int) -> Job:
        """Take up a queued job.

        Raises
        ------
        StoreError
            If it was taken up before.
        """
        with self._database.writing() as connection:
            taken = connection.execute(
                update(_job)
                .where(_job.c.uid == uid, _job.c.state == JobState.QUEUED.value)
                .values(state=JobState.RUNNING.value, began=context.now(), pid=pid)
            ).rowcount
        if not taken:
            job = self.job(uid)
            raise StoreError(f"job {uid} is {job.state.value}; only a queued job can be begun")
        return self.job(uid)

    def tell(self, uid: Uid, share: float, message: str) -> None:
        """Write down how far a job is."""
        self._change(uid, share=min(max(share, 0.0), 1.0), message=message)

    def end(self, uid: Uid, state: JobState, message: str, context: Context) -> None:
        """Write down how a job ended; a job that is over stays as it ended."""
        values: dict[str, Any] = {"state": state.value, "message": message, "ended": context.now()}
        if state is JobState.DONE:
            values["share"] = 1.0
        self._change(uid, **values)

    def ask_to_cancel(self, uid: Uid) -> None:
        """Raise the flag that a job looks at between blocks."""
        self._change(uid, cancel=True)

    @contextmanager
    def held(self, uid: Uid) -> Iterator[None]:
        """Hold a job while it is done; the system lets go however the process ends.

        Raises
        ------
        StoreError
            If another process holds it.
        """
        lock = self._lock(uid)
        try:
            lock.acquire(timeout=_LOOK_S)
        except Timeout as error:
            raise StoreError(f"job {uid} is being done by another process") from error
        try:
            yield
        finally:
            lock.release()

    def is_held(self, uid: Uid) -> bool:
        """Whether some process is doing a job at this moment."""
        lock = self._lock(uid)
        try:
            lock.acquire(timeout=0)
        except Timeout:
            return True
        lock.release()
        return False

    def _lock(self, uid: Uid) -> FileLock:
        return FileLock(self._room / f"job-{uid}.lock")

    def log(self, uid: Uid) -> Path:
        """What a job's process wrote."""
        return self._room / f"job-{uid}.log"

    def _change(self, uid: Uid, **values: Any) -> None:
        open_states = [state.value for state in JobState if not state.is_over]
        with self._database.writing() as connection:
            connection.execute(
                update(_job)
                .where(_job.c.uid == uid, _job.c.state.in_(open_states))
                .values(**values)
            )


def _from_row(row: Row[Any]) -> Job:
    return Job(
        uid=Uid(row.uid),
        kind=row.kind,
        parameters=json.loads(row.parameters),
        person=None if row.person is None else Uid(row.person),
        state=JobState(row.state),
        share=row.share,
        message=row.message,
        cancel_asked=row.cancel,
        submitted=row.submitted,
        began=row.began,
        ended=row.ended,
    )
