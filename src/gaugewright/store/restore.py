"""A campaign made again from its journal and the files that the journal tells of."""

import shutil
from collections.abc import Callable, Iterable
from pathlib import Path

from sqlalchemy import insert, select

from gaugewright.errors import StoreError
from gaugewright.records.identity import Context
from gaugewright.store import folders, journal, schema, tables
from gaugewright.store.campaign import CampaignStore
from gaugewright.store.engine import Database
from gaugewright.store.folders import Folder
from gaugewright.store.originals import Originals
from gaugewright.store.upgrade import make

__all__ = ["restored"]


def restored(
    target: Path,
    texts: Iterable[str],
    context: Context,
    *,
    original: Callable[[str], Path],
    readings: Path,
    beside: Iterable[Path] = (),
) -> CampaignStore:
    """Make a campaign from what its journal says and open it; it appears whole or not at all.

    Parameters
    ----------
    target : path
        A folder that doesn't exist, or an empty one.
    texts : iterable of str
        Texts of the journal's entries in their order.
    context : Context
        Who opens it.
    original : callable
        Where the bytes of a file as received are, by their SHA-256.
    readings : path
        A folder a recording, as the store keeps them.
    beside : iterable of path, optional
        Folders to be copied as they are, such as photos and reports.

    Raises
    ------
    StoreError
        If the target is in use or not safe to write in, or a file the journal tells of is missing
        or isn't what was written.
    """
    folders.refuse_unsafe(target)
    if target.exists() and (not target.is_dir() or any(target.iterdir())):
        raise StoreError(f"{target} exists and isn't empty; choose a new folder")
    room = Folder(target.with_name(f".{target.name}.{context.new_uid()}"))
    room.make()
    try:
        database = Database(room.database)
        try:
            make(database)
            _write_journal(database, texts)
            _keep_originals(database, room, original, context)
            _copy_parts(database, room, readings)
        finally:
            database.close()
        for folder in beside:
            shutil.copytree(folder, room.path / folder.name, dirs_exist_ok=True)
        if target.is_dir():
            target.rmdir()
        room.path.rename(target)
    finally:
        shutil.rmtree(room.path, ignore_errors=True)
    return CampaignStore.open(target, context)


def _write_journal(database: Database, texts: Iterable[str]) -> None:
    previous = journal.START
    with database.writing() as connection:
        for seq, text in enumerate(texts, 1):
            sha256 = journal.chained(previous, text)
            row = {"seq": seq, "previous": previous, "sha256": sha256, "text": text}
            connection.execute(insert(schema.journal).values(row))
            previous = sha256
        if previous == journal.START:
            raise StoreError("the journal has no entry: there is no campaign to be made from it")
        tables.rebuild(connection)


def _keep_originals(
    database: Database, room: Folder, original: Callable[[str], Path], context: Context
) -> None:
    kept = Originals(room, database)
    with database.reading() as connection:
        listed = list(connection.execute(select(schema.original.c.sha256)).scalars())
    for sha256 in listed:
        source = original(sha256)
        if not source.is_file():
            raise StoreError(f"{source} is missing: the journal tells of it")
        if kept.keep(source, context) != sha256:
            raise StoreError(f"{source} isn't the file that the journal tells of")


def _copy_parts(database: Database, room: Folder, readings: Path) -> None:
    with database.reading() as connection:
        files = list(connection.execute(select(schema.part.c.recording, schema.part.c.file)))
    for recording, file in files:
        source = readings / recording / file
        if not source.is_file():
            raise StoreError(f"{source} is missing: the journal tells of it")
        place = room.readings / recording
        place.mkdir(exist_ok=True)
        shutil.copyfile(source, place / file)
