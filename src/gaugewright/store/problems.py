"""Whether the campaign on disk is still what was written: chain, rows, originals, readings."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, select

from gaugewright.store import journal, schema, tables
from gaugewright.store.folders import Folder
from gaugewright.store.originals import Originals
from gaugewright.store.safely import file_hash

__all__ = ["Problem", "problems"]


@dataclass(frozen=True, slots=True)
class Problem:
    """Something on disk that isn't what was written: where, and what is wrong."""

    place: str
    sentence: str


def problems(folder: Folder, connection: Connection, originals: Originals) -> Iterator[Problem]:
    """Everything that differs from what the journal tells, and the journal itself."""
    broken = False
    for seq, sentence in journal.broken_links(connection):
        broken = True
        yield Problem(f"journal {seq}", f"entry {seq} {sentence}")
    for place, sentence in tables.differences(connection):
        yield Problem(place, f"{place} {sentence}")
    if broken:
        yield Problem("journal", "what follows a broken entry proves nothing; take a sound copy")
    yield from _originals(folder, connection, originals)
    yield from _readings(folder, connection)
    for path in sorted(folder.incoming.glob("*.json")):
        yield Problem(
            f"incoming/{path.name}",
            f"recording {path.stem} was interrupted while being published; open the campaign for "
            "writing to take it up, and look into its files if this stays",
        )


def _originals(folder: Folder, connection: Connection, originals: Originals) -> Iterator[Problem]:
    rows = connection.execute(select(schema.original)).all()
    for row in rows:
        trouble = originals.trouble_with(row.sha256)
        if trouble:
            place = f"originals/{row.sha256}.zst"
            yield Problem(place, f"the original of {row.file_name} {trouble}")
    listed = {f"{row.sha256}.zst" for row in rows}
    yield from _unlisted(folder.originals, listed, "originals")


def _readings(folder: Folder, connection: Connection) -> Iterator[Problem]:
    listed: dict[str, set[str]] = {}
    for row in connection.execute(select(schema.part)):
        listed.setdefault(row.recording, set()).add(row.file)
        path = folder.readings / row.recording / row.file
        place = f"readings/{row.recording}/{row.file}"
        if not path.is_file():
            yield Problem(place, f"{place} is missing")
        elif file_hash(path) != row.sha256:
            yield Problem(place, f"{place} has been changed: it doesn't have the hash written")
    yield from _unlisted(folder.readings, set(listed), "readings")
    for recording, files in listed.items():
        yield from _unlisted(folder.readings / recording, files, f"readings/{recording}")


def _unlisted(folder: Path, listed: set[str], place: str) -> Iterator[Problem]:
    if not folder.is_dir():
        return
    for path in sorted(folder.iterdir()):
        if path.name not in listed:
            where = f"{place}/{path.name}"
            yield Problem(where, f"{where} isn't in the journal: it was put there from outside")
