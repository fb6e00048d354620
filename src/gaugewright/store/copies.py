"""Copying a campaign, also one that is open and being written to."""

import shutil
from pathlib import Path

from sqlalchemy import select

from gaugewright.errors import StoreError
from gaugewright.records.identity import Uid
from gaugewright.store import schema
from gaugewright.store.engine import Database
from gaugewright.store.folders import Folder

__all__ = ["copy"]


def copy(folder: Folder, database: Database, target: Path, uid: Uid) -> Path:
    """Copy of a campaign at one moment, without its cache; it appears whole or not at all.

    The database is copied by its own backup: copied as a file while open, it could come
    without its last records or without any.

    Raises
    ------
    StoreError
        If the target exists, or a file that the campaign lists is missing.
    """
    if target.exists():
        raise StoreError(f"{target} exists; choose a new folder for the copy")
    room = Folder(target.with_name(f".{target.name}.{uid}"))
    room.make()
    try:
        database.backup(room.database)
        # After the backup: whatever it lists is on the disk already and never changes.
        _copy_listed(folder, room)
        for name in ("photos", "handover"):
            source = folder.path / name
            if source.is_dir():
                shutil.copytree(source, room.path / name, dirs_exist_ok=True)
        room.path.rename(target)
    finally:
        shutil.rmtree(room.path, ignore_errors=True)
    return target


def _copy_listed(folder: Folder, room: Folder) -> None:
    listed = Database(room.database)
    with listed.reading() as connection:
        hashes = list(connection.execute(select(schema.original.c.sha256)).scalars())
        files = list(connection.execute(select(schema.part.c.recording, schema.part.c.file)))
    listed.close()
    for sha256 in hashes:
        name = f"{sha256}.zst"
        _copy_file(folder.originals / name, room.originals / name)
    for recording, file in files:
        place = room.readings / recording
        place.mkdir(exist_ok=True)
        _copy_file(folder.readings / recording / file, place / file)


def _copy_file(source: Path, target: Path) -> None:
    if not source.is_file():
        raise StoreError(
            f"{source} is missing; a copy would lack it too: take it from another copy"
        )
    shutil.copy2(source, target)
