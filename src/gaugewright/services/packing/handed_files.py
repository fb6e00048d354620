"""Sheets, files and archives that lie in a campaign's folder, and whether they are of today."""

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from gaugewright.records.readings import Event
from gaugewright.services.campaign.book import Book
from gaugewright.services.packing.archive import KIND
from gaugewright.services.sheets import sheets
from gaugewright.store.campaign import CampaignStore

__all__ = ["ANALYST", "HandedArchive", "HandedSheet", "archives", "found", "sheets_there"]

ANALYST = "analyst.zip"
_ARCHIVE = re.compile(r"archive-([0-9]+)\.zip")
_TOLD = re.compile(r"(?P<name>.*?)(, SHA-256 (?P<sha256>[0-9a-f]{64}))?, journal head (?P<head>.*)")


@dataclass(frozen=True, slots=True)
class HandedSheet:
    """A receiver's sheet; ``path`` None while there is none, ``is_behind`` when records changed."""

    receiver: str
    title: str
    path: Path | None
    made: datetime | None
    is_behind: bool


@dataclass(frozen=True, slots=True)
class HandedArchive:
    """An archive in the campaign's folder, with what the journal says of it."""

    path: Path
    size: int
    made: datetime
    sha256: str
    head: str


def sheets_there(store: CampaignStore, book: Book) -> tuple[HandedSheet, ...]:
    """Sheets of all receivers, there or not."""
    changed = max((entry.at for entry in book.every() if not _is_told(entry.record)), default=None)
    told = []
    for receiver, (title, _) in sheets.RECEIVERS.items():
        path = store.folder / "handover" / sheets.file_name(receiver)
        made = datetime.fromtimestamp(path.stat().st_mtime, UTC) if path.is_file() else None
        is_behind = made is not None and changed is not None and made < changed
        told.append(
            HandedSheet(receiver, title, path if made is not None else None, made, is_behind)
        )
    return tuple(told)


def _is_told(record: object) -> bool:
    """Whether a record only tells of something that was handed over."""
    return isinstance(record, Event) and record.kind in (KIND, "report built")


def archives(store: CampaignStore, book: Book) -> tuple[HandedArchive, ...]:
    """Archives in the campaign's folder, the newest first."""
    told = {}
    for entry in book.of(Event):
        match = _TOLD.fullmatch(entry.record.text) if entry.record.kind == KIND else None
        if match:
            told[match["name"]] = (match["sha256"] or "", match["head"], entry.record.at)
    there = []
    for path in (store.folder / "handover").glob("archive-*.zip"):
        number = _ARCHIVE.fullmatch(path.name)
        if number:
            made = datetime.fromtimestamp(path.stat().st_mtime, UTC)
            sha256, head, at = told.get(path.name, ("", "", made))
            one = HandedArchive(path, path.stat().st_size, at, sha256, head)
            there.append((int(number[1]), one))
    return tuple(one for _, one in sorted(there, key=lambda pair: -pair[0]))


def found(store: CampaignStore, book: Book, name: str) -> Path | None:
    """File of a sheet, an archive or the analyst's files by its name; None for any other."""
    known = [one.path for one in sheets_there(store, book) if one.path is not None]
    known += [one.path for one in archives(store, book)]
    analyst = store.folder / "handover" / ANALYST
    known += [analyst] if analyst.is_file() else []
    return next((path for path in known if path.name == name), None)
