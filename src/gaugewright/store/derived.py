"""Series worked out from readings, kept so that they need not be worked out again."""

import os
import re
import shutil
from collections.abc import Iterable
from pathlib import Path

import polars as pl

from gaugewright.errors import InputError
from gaugewright.records.identity import Uid
from gaugewright.store.folders import Folder
from gaugewright.store.parts import BLOCK_ROWS, part_name

__all__ = ["derived", "write_derived"]

LEVEL = 1  # three fifths of the time saved for a fifth more room, in what can be made again
_KEY = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,127}")


def derived(folder: Folder, key: str) -> Path | None:
    """Folder of Parquet files kept under a key, or None when it must be worked out."""
    place = _place(folder, key)
    return place if place.is_dir() else None


def write_derived(folder: Folder, key: str, frames: Iterable[pl.DataFrame], uid: Uid) -> Path:
    """Keep frames under a key, 64-bit numbers as 32-bit ones, and return their folder.

    It appears whole or not at all, under a new name first; nothing but time is lost with it.

    Raises
    ------
    InputError
        If the key can't be a file's name, or there are no frames.
    """
    place = _place(folder, key)
    room = place.with_name(f".{key}.{uid}")
    room.mkdir(parents=True)
    try:
        number = -1
        for number, frame in enumerate(frames):
            smaller = frame.with_columns(pl.col(pl.Float64).cast(pl.Float32))
            smaller.write_parquet(
                room / part_name(number),
                compression="zstd",
                compression_level=LEVEL,
                row_group_size=BLOCK_ROWS,
            )
        if number < 0:
            raise InputError("frames", 0, "1 or more")
        if place.is_dir():  # kept meanwhile by somebody else, from the same key: the same numbers
            return place
        os.rename(room, place)
    finally:
        shutil.rmtree(room, ignore_errors=True)
    return place


def _place(folder: Folder, key: str) -> Path:
    if not _KEY.fullmatch(key):
        raise InputError("key", key, "1 to 128 letters, digits, - or _")
    return folder.cache / "derived" / key
