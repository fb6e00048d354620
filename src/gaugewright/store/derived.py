"""Series worked out from readings, kept so that they need not be worked out again."""

import os
import re
import shutil
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TypeAlias

import polars as pl
from filelock import FileLock, Timeout

import gaugewright
from gaugewright.errors import InputError
from gaugewright.records.identity import Uid
from gaugewright.store.folders import Folder
from gaugewright.store.parts import BLOCK_ROWS, part_name

__all__ = ["Frames", "derived", "write_derived"]

# All frames in order, or what gives them from the one of a number on.
Frames: TypeAlias = Iterable[pl.DataFrame] | Callable[[int], Iterable[pl.DataFrame]]
# Another version goes on with nothing: its formulas may be others.
BEGUN = f".{gaugewright.__version__}.begun"

LEVEL = 1  # three fifths of the time saved for a fifth more room, in what can be made again
_KEY = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,127}")


def derived(folder: Folder, key: str) -> Path | None:
    """Folder of Parquet files kept under a key, or None when it must be worked out."""
    place = _place(folder, key)
    return place if place.is_dir() else None


def write_derived(folder: Folder, key: str, frames: Frames, uid: Uid) -> Path:
    """Keep frames under a key, 64-bit numbers as 32-bit ones, and return their folder.

    It appears whole or not at all, under a new name first; nothing but time is lost with it.
    Where ``frames`` can begin at a later frame, what a writer that was killed had finished is
    taken over; one that stopped by itself leaves nothing.

    Raises
    ------
    InputError
        If the key can't be a file's name, or there are no frames.
    """
    place = _place(folder, key)
    place.parent.mkdir(parents=True, exist_ok=True)
    lock = FileLock(folder.cache / ".derived.lock")
    try:
        lock.acquire(timeout=0)
    except Timeout:  # somebody is at work on another series, or on this one: each by itself
        return _written(place, place.with_name(f".{key}.{uid}"), frames)
    try:
        room = place.with_name(f".{key}{BEGUN}")
        for left in place.parent.glob(".*.begun"):  # held by nobody, for the lock is ours
            if left != room or not callable(frames):
                shutil.rmtree(left)
        return _written(place, room, frames)
    finally:
        lock.release()


def _written(place: Path, room: Path, frames: Frames) -> Path:
    room.mkdir(exist_ok=True)
    try:
        number = _finished(room)
        rest = frames(number) if callable(frames) else frames
        for frame in rest:
            smaller = frame.with_columns(pl.col(pl.Float64).cast(pl.Float32))
            waiting = room / "waiting"
            smaller.write_parquet(
                waiting, compression="zstd", compression_level=LEVEL, row_group_size=BLOCK_ROWS
            )
            os.replace(waiting, room / part_name(number))
            number += 1
        if not number:
            raise InputError("frames", 0, "1 or more")
        (room / "waiting").unlink(missing_ok=True)
        try:
            os.rename(room, place)
        except OSError:
            if not place.is_dir():
                raise
            # Kept meanwhile by somebody else, from the same key: the same numbers.
    finally:
        shutil.rmtree(room, ignore_errors=True)
    return place


def _finished(room: Path) -> int:
    """How many frames a writer that was killed had finished, from the first one on."""
    number = 0
    while (path := room / part_name(number)).is_file():
        try:
            pl.read_parquet(path)
        except pl.exceptions.PolarsError:
            path.unlink()  # the machine stopped before it was on the disk
            break
        number += 1
    return number


def _place(folder: Folder, key: str) -> Path:
    if not _KEY.fullmatch(key):
        raise InputError("key", key, "1 to 128 letters, digits, - or _")
    return folder.cache / "derived" / key
