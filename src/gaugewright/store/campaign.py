"""A campaign on disk: the only door to its records, readings, originals and journal."""

import shutil
import threading
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeVar

from filelock import Timeout
from sqlalchemy import Connection, select

from gaugewright.errors import InputError, StoreError
from gaugewright.records import KINDS, Entry
from gaugewright.records.identity import Context, Uid
from gaugewright.records.readings import Recording, RecordingColumn
from gaugewright.records.specimen import Campaign
from gaugewright.store import copies, derived, folders, incoming, journal, schema, tables
from gaugewright.store.derived import Frames
from gaugewright.store.engine import Database
from gaugewright.store.entries import Rows
from gaugewright.store.folders import Folder
from gaugewright.store.incoming import Draft, RecordingWriter
from gaugewright.store.jobs import JobBoard
from gaugewright.store.journal import JournalEntry, JournalHead
from gaugewright.store.originals import Originals
from gaugewright.store.parts import PartFile, Readings
from gaugewright.store.problems import Problem, problems
from gaugewright.store.sendings import Sendings
from gaugewright.store.upgrade import make, refuse_other_schema, upgraded

__all__ = [
    "CampaignStore",
    "JournalEntry",
    "JournalHead",
    "Problem",
    "Readings",
    "RecordingWriter",
]

R = TypeVar("R")
_NAMES = {record_class: name for name, record_class in KINDS.items()}


@dataclass(slots=True)
class _Opened:
    """What every view of one open campaign shares, whoever is at work in it."""

    folder: Folder
    database: Database
    rows: Rows = field(default_factory=Rows)
    board: JobBoard | None = None
    sendings: Sendings | None = None
    lock: threading.Lock = field(default_factory=threading.Lock)


class CampaignStore:
    """One campaign, open. Made by ``create`` or ``open``; use it in a ``with`` block.

    Several threads may share it; records never change once read.
    """

    def __init__(self, opened: _Opened, context: Context) -> None:
        self._opened = opened
        self._folder = opened.folder
        self._database = opened.database
        self._rows = opened.rows
        self._originals = Originals(opened.folder, opened.database)
        self.context = context

    @classmethod
    def create(
        cls,
        folder: Path,
        campaign: Campaign,
        context: Context,
        *,
        defaults: Iterable[object] = (),
        defaults_from: str = "copied from the laboratory at the beginning",
    ) -> Self:
        """New campaign in a new folder, with full copies of the laboratory's ``defaults``.

        Raises
        ------
        StoreError
            If the folder exists and isn't empty, or isn't safe to write a campaign in.
        """
        place = Path(folder)
        folders.refuse_unsafe(place)
        if place.exists() and (not place.is_dir() or any(place.iterdir())):
            raise StoreError(f"{place} exists and isn't empty; choose a new folder")
        room = Folder(place.with_name(f".{place.name}.{context.new_uid()}"))
        room.make()
        try:
            database = Database(room.database)
            try:
                make(database)
                store = cls(_Opened(room, database), context)
                with store.several():
                    store.add(campaign, reason="campaign begun")
                    for record in defaults:
                        store.add(record, reason=defaults_from)
            finally:
                database.close()
            if place.is_dir():
                place.rmdir()
            room.path.rename(place)
        finally:
            shutil.rmtree(room.path, ignore_errors=True)
        return cls.open(place, context)

    @classmethod
    def open(
        cls, folder: Path, context: Context, *, read_only: bool = False, upgrade: bool = False
    ) -> Self:
        """Campaign in a folder; what an interrupted writer left is taken up or cleared away.

        Raises
        ------
        StoreError
            If there is no campaign, or its folder isn't safe to write in.
        SchemaError
            If it was written with another schema; an older one is upgraded with ``upgrade``,
            after a copy of its database was made beside it.
        """
        place = Folder(Path(folder))
        if not place.database.is_file():
            raise StoreError(f"{folder} holds no campaign; choose another folder or begin one")
        if not read_only:
            folders.refuse_unsafe(place.path)
        is_older = refuse_other_schema(place.database, upgrade=upgrade, read_only=read_only)
        database = Database(place.database, read_only=read_only)
        try:
            if is_older:
                upgraded(database)
            store = cls(_Opened(place, database), context)
            if not read_only:
                place.make()
                store._take_up()
        except BaseException:
            database.close()
            raise
        return store

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the campaign; its database is one whole file afterwards."""
        if self._opened.board is not None:
            self._opened.board.close()
            self._opened.board = None
        if self._opened.sendings is not None:
            self._opened.sendings.close()
            self._opened.sendings = None
        self._database.close()

    @property
    def folder(self) -> Path:
        """Where the campaign is."""
        return self._folder.path

    @property
    def read_only(self) -> bool:
        """Whether the campaign is open for reading only."""
        return self._database.read_only

    @property
    def campaign(self) -> Entry[Campaign]:
        """The campaign's own record."""
        return self.entries(Campaign)[0]

    def as_person(self, uid: Uid | None) -> Self:
        """The same campaign, open once, with another person at work."""
        return type(self)(self._opened, replace(self.context, person=uid))

    def add(self, record: R, *, reason: str = "", uid: Uid | None = None) -> Entry[R]:
        """Write a new record.

        Raises
        ------
        InputError
            If its label is taken by another record of its kind.
        """
        with self._writing() as connection:
            return self._rows.add(connection, self.context, record, reason=reason, uid=uid)

    def revise(self, uid: Uid, from_version: int, record: R, *, reason: str) -> Entry[R]:
        """Write the next version of a record that was read at ``from_version``.

        Raises
        ------
        StaleEdit
            If somebody changed it meanwhile; it holds both values.
        InputError
            If no reason is given, the kind differs or the label is taken.
        """
        with self._writing() as connection:
            return self._rows.revise(
                connection, self.context, uid, from_version, record, reason=reason
            )

    def withdraw(self, uid: Uid, from_version: int, *, reason: str) -> Entry[Any]:
        """Take a record out of the lists; it and its history stay readable.

        Raises
        ------
        StaleEdit
            If somebody changed it meanwhile.
        InputError
            If no reason is given.
        """
        with self._writing() as connection:
            return self._rows.withdraw(connection, self.context, uid, from_version, reason=reason)

    @contextmanager
    def several(self) -> Iterator[Self]:
        """Many writes as one: all of them are kept, or none."""
        with self._writing():
            yield self

    def entry(self, uid: Uid, version: int | None = None) -> Entry[Any]:
        """One version of a record, the latest when none is named.

        Raises
        ------
        InputError
            If there is no such record or version.
        """
        with self._database.reading() as connection:
            return self._rows.entry(connection, uid, version)

    def entries(self, kind: type[R]) -> tuple[Entry[R], ...]:
        """Latest versions of one kind, without those withdrawn, in the order of first writing."""
        with self._database.reading() as connection:
            return self._rows.entries(connection, _kind_name(kind))

    def count(self, kind: type[object]) -> int:
        """How many records of one kind there are, without those withdrawn."""
        with self._database.reading() as connection:
            return self._rows.count(connection, _kind_name(kind))

    def written_after(self, seq: int) -> tuple[Entry[Any], ...]:
        """Latest versions of all kinds written after a journal entry, those withdrawn among them.

        In the order of first writing; every record of the campaign when ``seq`` is 0.
        """
        with self._database.reading() as connection:
            return self._rows.written_after(connection, seq)

    def labelled(self, kind: type[R], label: str) -> Entry[R]:
        """The record of a kind that a person calls by a label.

        Raises
        ------
        InputError
            If none is called so.
        """
        with self._database.reading() as connection:
            return self._rows.labelled(connection, _kind_name(kind), label)

    def history(self, uid: Uid) -> tuple[Entry[Any], ...]:
        """Every version of a record, oldest first, with who, when and why."""
        with self._database.reading() as connection:
            return self._rows.history(connection, uid)

    def head(self) -> JournalHead:
        """Number and hash of the last journal entry."""
        with self._database.reading() as connection:
            return journal.head(connection)

    def journal(self, start: int = 0) -> Iterator[JournalEntry]:
        """Journal entries in order, from number ``start`` on."""
        with self._database.reading() as connection:
            yield from journal.entries(connection, start)

    def problems(self) -> tuple[Problem, ...]:
        """Everything on disk that isn't what was written; empty when the campaign is whole."""
        with self._database.reading() as connection:
            return tuple(problems(self._folder, connection, self._originals))

    def rebuild(self) -> None:
        """Make every table but the journal again from the journal."""
        with self._writing() as connection:
            tables.rebuild(connection)
        self._rows.forget()

    def keep_original(self, path: Path, name: str = "") -> str:
        """Keep a file's bytes as received and return their SHA-256.

        ``name`` is what the file was called where it came from, when ``path`` has another.

        Raises
        ------
        FileError
            If the file can't be read.
        StoreError
            If the campaign is open for reading only.
        """
        self._refuse_read_only()
        return self._originals.keep(Path(path), self.context, name)

    def original_bytes(self, sha256: str) -> bytes:
        """Bytes of a kept file as they were received.

        Raises
        ------
        InputError
            If no such file was kept.
        StoreError
            If its bytes are gone or changed.
        """
        return self._originals.bytes_of(sha256)

    def new_recording(
        self, columns: Sequence[RecordingColumn] = (), *, wait: float = 60.0
    ) -> RecordingWriter:
        """Writer of a new recording, to be used in a ``with`` block.

        ``columns``, when they are known before the first row, are told in each part's footer
        too. ``wait`` is how long to wait for another writer of readings [s].
        """
        self._refuse_read_only()
        return RecordingWriter(
            self._folder,
            self.context.new_uid(),
            self._list,
            is_alone=lambda: not self._database.is_writing,
            person=self.context.person,
            columns=columns,
            wait=wait,
        )

    def readings(self, recording: Uid) -> Readings:
        """Raw readings of a recording.

        Raises
        ------
        InputError
            If there is no such recording.
        """
        entry = self.entry(recording)
        if not isinstance(entry.record, Recording):
            raise InputError("uid", recording, "that of a recording")
        table = schema.part
        with self._database.reading() as connection:
            rows = connection.execute(select(table).where(table.c.recording == recording)).all()
        files = [PartFile(row.file, row.first_row, row.rows, row.sha256) for row in rows]
        return Readings(self._folder.readings / recording, entry.record, files)

    def derived(self, key: str) -> Path | None:
        """Folder of a derived series kept under a key, or None."""
        return derived.derived(self._folder, key)

    def write_derived(self, key: str, frames: Frames) -> Path:
        """Keep a derived series under a key and return its folder of Parquet files."""
        self._refuse_read_only()
        return derived.write_derived(self._folder, key, frames, self.context.new_uid())

    def copy_to(self, folder: Path) -> Path:
        """Copy of the campaign at this moment, in a new folder.

        Raises
        ------
        StoreError
            If the folder exists.
        """
        return copies.copy(self._folder, self._database, Path(folder), self.context.new_uid())

    @property
    def jobs(self) -> JobBoard:
        """Long pieces of work on this campaign, queued, running and ended.

        Raises
        ------
        StoreError
            If the campaign is open for reading only: work writes.
        """
        self._refuse_read_only()
        with self._opened.lock:
            if self._opened.board is None:
                self._opened.board = JobBoard(self._folder)
            return self._opened.board

    @property
    def sendings(self) -> Sendings:
        """Keys of forms that devices sent, so that none is taken in twice.

        Raises
        ------
        StoreError
            If the campaign is open for reading only.
        """
        self._refuse_read_only()
        with self._opened.lock:
            if self._opened.sendings is None:
                self._opened.sendings = Sendings(self._folder)
            return self._opened.sendings

    def _refuse_read_only(self) -> None:
        if self.read_only:
            raise StoreError(
                f"{self.folder} is open for reading only; open it for writing to change it"
            )

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        try:
            with self._database.writing() as connection:
                yield connection
        except BaseException:
            self._rows.forget()  # what was taken back must not be remembered
            raise

    def _list(self, draft: Draft, reason: str = "") -> Entry[Recording]:
        """Write record, files and journal entry of a complete recording, in one transaction."""
        with self._writing() as connection:
            self._database.with_transaction(
                undo=lambda: incoming.take_back(self._folder, draft),
                after=lambda: incoming.settle(self._folder, draft),
            )
            entry = self._rows.add(
                connection,
                replace(self.context, person=draft.person),
                draft.recording,
                reason=reason,
                uid=draft.uid,
                action="publish",
                more={"files": draft.told_files()},
            )
            incoming.reached("rows written")
        return entry

    def _take_up(self) -> None:
        """List complete recordings of an interrupted writer and clear away incomplete ones."""
        self._originals.adopt(self.context)
        lock = incoming.series_lock(self._folder)
        try:
            lock.acquire(timeout=0)
        except Timeout:
            return  # somebody is writing a recording at this moment: nothing is left over
        try:
            for draft in incoming.drafts(self._folder):
                self._take_up_draft(draft)
            incoming.clear(self._folder)
        finally:
            lock.release()

    def _take_up_draft(self, draft: Draft) -> None:
        with self._database.reading() as connection:
            if self._rows.is_known(connection, draft.uid):
                incoming.settle(self._folder, draft)
                return
        if not draft.alone:
            incoming.take_back(self._folder, draft)  # what was to be written with it is lost
            return
        if not incoming.is_whole(self._folder, draft):
            return  # its files are kept as they are, and problems() tells of them
        taken = {entry.record.label for entry in self.entries(Recording)}
        if draft.recording.label in taken:
            label = f"{draft.recording.label[:50]} ({draft.uid})"
            draft = replace(draft, recording=replace(draft.recording, label=label))
        incoming.finish(self._folder, draft, self._list_taken_up)

    def _list_taken_up(self, draft: Draft) -> Entry[Recording]:
        return self._list(
            draft, "taken up at opening: the writer stopped after all of it was on the disk"
        )


def _kind_name(kind: type) -> str:
    name = _NAMES.get(kind)
    if name is None:
        raise InputError("kind", kind.__name__, "one of the kinds of record")
    return name
