"""Writing a recording: nothing of it is in the campaign until all of it is on the disk."""

import io
import json
import os
import shutil
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import numpy as np
import numpy.typing as npt
import polars as pl
from filelock import FileLock, Timeout

from gaugewright.errors import InputError, StoreError
from gaugewright.records import Entry
from gaugewright.records.identity import Uid
from gaugewright.records.plain import canonical_text, from_plain, to_plain
from gaugewright.records.readings import Recording, RecordingColumn
from gaugewright.store.folders import Folder
from gaugewright.store.parts import (
    BLOCK_ROWS,
    ELAPSED,
    MARKS_FILE,
    MARKS_SCHEMA,
    PartFile,
    footer,
    part_name,
)
from gaugewright.store.safely import file_hash, sync_folder, write_synced

__all__ = [
    "Draft",
    "RecordingWriter",
    "clear",
    "drafts",
    "finish",
    "is_whole",
    "reached",
    "series_lock",
    "settle",
    "take_back",
]

_GROUPS_A_PART = 16
_PART_BYTES = 128 << 20  # of numbers held while a part is put together


def reached(step: str) -> None:
    """Called between every two steps of a publish; tests put a crash in its place."""


def series_lock(folder: Folder) -> FileLock:
    """The one lock of a campaign for work that writes series; records are edited meanwhile."""
    return FileLock(folder.incoming / ".series.lock")


@dataclass(frozen=True, slots=True)
class Draft:
    """A recording whose files are complete: all that is needed to list it.

    ``alone`` is False when other records are written with it as one: without them it must
    not be listed by itself later.
    """

    uid: Uid
    person: Uid | None
    alone: bool
    recording: Recording
    files: tuple[PartFile, ...]

    def told_files(self) -> list[dict[str, Any]]:
        """Files as the journal tells them."""
        return [asdict(file) for file in self.files]


class RecordingWriter:
    """Takes rows in order and publishes them whole; left without publishing, nothing stays.

    ``list_it`` writes the rows of the database for a complete draft and returns the entry;
    ``is_alone`` tells whether it is published on its own or with other records.
    """

    def __init__(
        self,
        folder: Folder,
        uid: Uid,
        list_it: Callable[[Draft], Entry[Recording]],
        *,
        is_alone: Callable[[], bool],
        person: Uid | None,
        columns: Sequence[RecordingColumn] = (),
        wait: float = 60.0,
    ) -> None:
        self._folder = folder
        self.uid = uid
        self._list_it = list_it
        self._is_alone = is_alone
        self._person = person
        self._columns = tuple(columns)
        self._wait = wait
        self._lock = series_lock(folder)
        self._pending: list[pl.DataFrame] = []
        self._pending_rows = 0
        self._part_rows = 0
        self._parts: list[PartFile] = []
        self._schema: dict[str, Any] | None = None
        self._marks: list[pl.DataFrame] = []
        self._published = False

    @property
    def rows(self) -> int:
        """Rows taken so far."""
        written = self._parts[-1].end if self._parts else 0
        return written + self._pending_rows

    def __enter__(self) -> Self:
        try:
            self._lock.acquire(timeout=self._wait)
        except Timeout as error:
            raise StoreError(
                f"{self._folder.path}: another job has been writing readings for "
                f"{self._wait:.0f} s; wait for it to end or cancel it"
            ) from error
        self._room.mkdir(parents=True)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._pending.clear()
        if not self._published:
            shutil.rmtree(self._room, ignore_errors=True)
        self._lock.release()

    @property
    def _room(self) -> Path:
        return self._folder.incoming / self.uid

    def write(
        self,
        elapsed_ns: npt.NDArray[np.int64] | pl.Series,
        time_columns: Mapping[str, pl.Series],
        values: pl.DataFrame,
    ) -> None:
        """Take the next rows: elapsed time, time columns as received, values (null where bad).

        A series of elapsed time may hold nulls: rows whose time nobody knows.

        Raises
        ------
        InputError
            If lengths, names or types don't fit, or a value is NaN or infinite: what is bad
            must be null and marked, so that nobody takes it for a number.
        """
        frame = _frame(elapsed_ns, time_columns, values)
        if self._schema is None:
            self._schema = dict(frame.schema)
            width = max(1, frame.width) * 8 * BLOCK_ROWS
            groups = min(_GROUPS_A_PART, max(1, _PART_BYTES // width))
            self._part_rows = groups * BLOCK_ROWS
        elif dict(frame.schema) != self._schema:
            raise InputError(
                "columns", _shape(frame.schema), f"those of the first rows: {_shape(self._schema)}"
            )
        while frame.height:
            taken = frame.head(self._part_rows - self._pending_rows)
            self._pending.append(taken)
            self._pending_rows += taken.height
            frame = frame.slice(taken.height)
            if self._pending_rows == self._part_rows:
                self._write_part()

    def mark(self, column: str, first_row: int, last_row: int, code: str, text: str) -> None:
        """Note what stood in rows ``first_row`` to ``last_row`` of a column instead of numbers.

        Raises
        ------
        InputError
            If the rows aren't in order or the code is empty.
        """
        self.mark_all(
            pl.DataFrame(
                [(column, first_row, last_row, code, text)], schema=MARKS_SCHEMA, orient="row"
            )
        )

    def mark_all(self, marks: pl.DataFrame) -> None:
        """Note many marks: columns ``column``, ``first_row``, ``last_row``, ``code``, ``text``.

        Raises
        ------
        InputError
            As ``mark``.
        """
        odd = marks.filter((pl.col("first_row") < 0) | (pl.col("last_row") < pl.col("first_row")))
        if odd.height:
            rows = odd.row(0, named=True)
            told = (rows["first_row"], rows["last_row"])
            raise InputError("rows", told, "0 or more and in order")
        if marks.filter(pl.col("code") == "").height:
            raise InputError("code", "", "a word for what the marker means")
        self._marks.append(marks)

    def publish(self, build: Callable[[Uid], Recording]) -> Entry[Recording]:
        """Make what was written part of the campaign, with the record that ``build`` makes.

        Raises
        ------
        InputError
            If the record's rows or fields aren't those that were written.
        """
        if self._published:
            raise StoreError(f"recording {self.uid} is published already")
        if not self.rows:
            raise InputError("rows written", 0, "1 or more: a recording without rows says nothing")
        if self._pending_rows:
            self._write_part()
        reached("parts written")
        marks = self._marks_file()
        reached("marks written")
        recording = build(self.uid)
        self._refuse_other(recording)
        files = (*self._parts, marks)
        draft = Draft(self.uid, self._person, self._is_alone(), recording, files)
        _write_draft(self._folder, draft)
        reached("draft written")
        # From here on the recording is complete: a crash is made good at the next opening.
        self._published = True
        return finish(self._folder, draft, self._list_it)

    def _write_part(self) -> None:
        frame = pl.concat(self._pending, rechunk=True)
        first_row = self._parts[-1].end if self._parts else 0
        told = footer(self.uid, first_row, frame.columns, self._columns)
        name = part_name(len(self._parts))
        self._parts.append(self._written(name, frame, first_row, told))
        self._pending.clear()
        self._pending_rows = 0

    def _marks_file(self) -> PartFile:
        marks = pl.concat([pl.DataFrame(schema=MARKS_SCHEMA), *self._marks])
        last = int(str(marks["last_row"].max())) if marks.height else -1
        if last >= self.rows:
            raise InputError("marked row", last, f"below {self.rows}, the number of rows written")
        return self._written(MARKS_FILE, marks, 0, {})

    def _written(
        self, name: str, frame: pl.DataFrame, first_row: int, told: dict[str, str]
    ) -> PartFile:
        content = io.BytesIO()
        frame.write_parquet(
            content, compression="zstd", row_group_size=BLOCK_ROWS, metadata=told or None
        )
        sha256 = write_synced(self._room / name, content.getbuffer())
        return PartFile(name, first_row, frame.height, sha256)

    def _refuse_other(self, recording: Recording) -> None:
        """Refuse a record that doesn't describe what was written."""
        if recording.rows != self.rows:
            raise InputError("rows", recording.rows, f"{self.rows}, as many as were written")
        if self._columns and recording.columns != self._columns:
            raise InputError("columns", "others", "those the parts were written with")
        told = [column.field for column in recording.columns]
        missing = sorted(set(told) - set(self._schema or {}))
        untold = sorted(set(self._schema or {}) - set(told) - {ELAPSED})
        if missing or untold:
            raise InputError(
                "fields of the recording's columns",
                ", ".join(missing + untold),
                "both in the record and in the rows that were written",
            )


def finish(
    folder: Folder, draft: Draft, list_it: Callable[[Draft], Entry[Recording]]
) -> Entry[Recording]:
    """Last steps of a publish, also for a draft whose writer stopped before them.

    ``list_it`` ties ``take_back`` and ``settle`` to its transaction.
    """
    room, place = folder.incoming / draft.uid, folder.readings / draft.uid
    if room.is_dir():
        os.rename(room, place)
        sync_folder(folder.readings)
        sync_folder(folder.incoming)
    reached("moved")
    return list_it(draft)


def take_back(folder: Folder, draft: Draft) -> None:
    """Remove the files of a recording that wasn't listed after all."""
    _draft_path(folder, draft.uid).unlink(missing_ok=True)
    for place in (folder.incoming / draft.uid, folder.readings / draft.uid):
        if place.is_dir():
            shutil.rmtree(place)


def settle(folder: Folder, draft: Draft) -> None:
    """Remove the draft of a recording that is listed."""
    reached("kept")
    _draft_path(folder, draft.uid).unlink(missing_ok=True)


def drafts(folder: Folder) -> tuple[Draft, ...]:
    """Complete recordings whose writer stopped before they were listed."""
    return tuple(_read_draft(path) for path in sorted(folder.incoming.glob("*.json")))


def clear(folder: Folder) -> None:
    """Remove what a writer left behind without completing it."""
    for path in folder.incoming.glob("*.json.part"):
        path.unlink()
    for path in folder.incoming.iterdir():
        if path.is_dir() and not _draft_path(folder, path.name).exists():
            shutil.rmtree(path)


def is_whole(folder: Folder, draft: Draft) -> bool:
    """Whether every file of a draft is there with the hash it was written with."""
    room = folder.incoming / draft.uid
    place = room if room.is_dir() else folder.readings / draft.uid
    return all(
        (place / file.file).is_file() and file_hash(place / file.file) == file.sha256
        for file in draft.files
    )


def _draft_path(folder: Folder, uid: str) -> Path:
    return folder.incoming / f"{uid}.json"


def _write_draft(folder: Folder, draft: Draft) -> None:
    told = {
        "alone": draft.alone,
        "files": draft.told_files(),
        "person": draft.person,
        "recording": to_plain(draft.recording),
        "uid": draft.uid,
    }
    sync_folder(folder.incoming / draft.uid)
    path = _draft_path(folder, draft.uid)
    waiting = path.with_name(path.name + ".part")
    write_synced(waiting, canonical_text(told).encode("utf-8"))
    os.replace(waiting, path)
    sync_folder(folder.incoming)


def _read_draft(path: Path) -> Draft:
    told = json.loads(path.read_text(encoding="utf-8"))
    return Draft(
        Uid(told["uid"]),
        None if told["person"] is None else Uid(told["person"]),
        told["alone"],
        from_plain(Recording, told["recording"]),
        tuple(PartFile(**file) for file in told["files"]),
    )


def _frame(
    elapsed_ns: npt.NDArray[np.int64] | pl.Series,
    time_columns: Mapping[str, pl.Series],
    values: pl.DataFrame,
) -> pl.DataFrame:
    """One frame of the rows, or a sentence on why they can't be one."""
    elapsed = pl.Series(ELAPSED, elapsed_ns)
    if elapsed.dtype != pl.Int64:
        raise InputError("elapsed_ns", elapsed.dtype, "a row of 64-bit whole nanoseconds")
    names = [ELAPSED, *time_columns, *values.columns]
    if len(set(names)) != len(names):
        raise InputError("fields", ", ".join(names), "all different")
    lengths = {name: len(series) for name, series in time_columns.items()}
    if values.width:
        lengths["values"] = values.height
    for name, length in lengths.items():
        if length != elapsed.len():
            raise InputError(f"rows of {name}", length, f"{elapsed.len()}, as many as elapsed_ns")
    for name, dtype in values.schema.items():
        if dtype != pl.Float64:
            raise InputError(f"type of {name}", dtype, "Float64")
    finite = values.select(pl.all().is_finite().all())
    bad = [name for name in values.columns if finite.get_column(name).item() is False]
    if bad:
        raise InputError(
            "values", ", ".join(bad), "finite or null", "put null and a mark where a sample is bad"
        )
    columns = [elapsed]
    columns += [series.rename(name) for name, series in time_columns.items()]
    return pl.DataFrame([*columns, *values.get_columns()])


def _shape(schema: Mapping[str, Any]) -> str:
    return ", ".join(f"{name} {dtype}" for name, dtype in schema.items())
