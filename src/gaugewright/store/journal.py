"""What was written, in which order: the chain of entries that nothing may be taken out of."""

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, insert, select

from gaugewright.records.plain import canonical_text
from gaugewright.store import schema

__all__ = [
    "START",
    "JournalEntry",
    "JournalHead",
    "append",
    "broken_links",
    "chained",
    "entries",
    "head",
]

START = "0" * 64  # what the first entry follows


@dataclass(frozen=True, slots=True)
class JournalHead:
    """The last entry's number and hash: printed on what is signed and handed over."""

    seq: int
    sha256: str


@dataclass(frozen=True, slots=True)
class JournalEntry:
    """One entry: ``sha256`` is the hash of ``previous`` followed by ``text``."""

    seq: int
    previous: str
    sha256: str
    text: str

    def told(self) -> dict[str, Any]:
        """What the entry says."""
        told: dict[str, Any] = json.loads(self.text)
        return told


def chained(previous: str, text: str) -> str:
    """Hash of an entry.

    Examples
    --------
    >>> chained("a", "bc") == hashlib.sha256(b"abc").hexdigest()
    True
    """
    return hashlib.sha256((previous + text).encode("utf-8")).hexdigest()


def head(connection: Connection) -> JournalHead:
    """Number and hash of the last entry; 0 and zeros for an empty journal."""
    table = schema.journal.c
    row = connection.execute(
        select(table.seq, table.sha256).order_by(table.seq.desc()).limit(1)
    ).one_or_none()
    return JournalHead(0, START) if row is None else JournalHead(row.seq, row.sha256)


def append(connection: Connection, told: dict[str, Any]) -> dict[str, Any]:
    """Write an entry at the end and return what it tells, with its number ``seq``."""
    last = head(connection)
    seq = last.seq + 1
    numbered = {**told, "seq": seq}
    text = canonical_text(numbered)
    connection.execute(
        insert(schema.journal).values(
            seq=seq, previous=last.sha256, sha256=chained(last.sha256, text), text=text
        )
    )
    return numbered


def entries(connection: Connection, start: int = 0) -> Iterator[JournalEntry]:
    """Entries in order, from number ``start`` on."""
    table = schema.journal
    query = select(table).where(table.c.seq >= start).order_by(table.c.seq)
    for row in connection.execute(query):
        yield JournalEntry(row.seq, row.previous, row.sha256, row.text)


def broken_links(connection: Connection) -> Iterator[tuple[int, str]]:
    """Numbers of entries that don't follow from the one before, each with what is wrong."""
    previous, expected = START, 1
    for entry in entries(connection):
        if entry.seq != expected:
            yield entry.seq, f"follows entry {expected - 1}: entries are missing between them"
        if entry.previous != previous:
            yield entry.seq, "doesn't follow the entry before it"
        if entry.sha256 != chained(entry.previous, entry.text):
            yield entry.seq, "has been changed: its text doesn't have the hash written with it"
        previous, expected = entry.sha256, entry.seq + 1
