"""Which reports were built, when, from which records and where to: told by the journal."""

import hashlib
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from gaugewright.records.identity import instant_from_text, instant_text
from gaugewright.records.readings import Event
from gaugewright.services.campaign.book import Book
from gaugewright.store.campaign import CampaignStore

__all__ = [
    "KIND",
    "Built",
    "as_of",
    "built_reports",
    "next_revision",
    "note_built",
    "place_of",
    "reserved",
]

KIND = "report built"
_FILE = re.compile(r"report-([0-9]+)\.pdf")
_WORDS = re.compile(
    r"report (?P<revision>[0-9]+): (?P<name>.*), SHA-256 (?P<sha256>[0-9a-f]{64}), "
    r"records as of (?P<as_of>\S+)"
)


@dataclass(frozen=True, slots=True)
class Built:
    """A report: ``path`` is None when it isn't in the campaign's folder.

    ``as_of`` and ``sha256`` are None and "" for a file that the journal says nothing of.
    """

    revision: int
    built: datetime
    as_of: datetime | None
    name: str
    sha256: str
    path: Path | None


def built_reports(folder: Path, book: Book) -> tuple[Built, ...]:
    """Reports that the journal tells of and files in the folder of reports, oldest first."""
    files = dict(_files(folder))
    found = {}
    for entry in book.of(Event):
        told = _WORDS.fullmatch(entry.record.text) if entry.record.kind == KIND else None
        if told:
            revision, name = int(told["revision"]), told["name"]
            path = files.get(revision)
            found[revision] = Built(
                revision,
                entry.record.at,
                instant_from_text(told["as_of"]),
                name,
                told["sha256"],
                path if path is not None and path.name == name else None,
            )
    for revision, path in files.items():
        if revision not in found:
            at = datetime.fromtimestamp(path.stat().st_mtime, UTC)
            found[revision] = Built(revision, at, None, path.name, "", path)
    return tuple(found[revision] for revision in sorted(found))


def next_revision(store: CampaignStore) -> int:
    """Number that no report ever had: neither a file there nor one the journal tells of."""
    taken = [revision for revision, _ in _files(store.folder)]
    for entry in store.journal():
        told = entry.told()
        if told["kind"] == "event" and told["record"]["kind"] == KIND:
            words = _WORDS.fullmatch(told["record"]["text"])
            taken += [int(words["revision"])] if words else []
    return max(taken, default=0) + 1


@contextmanager
def reserved(store: CampaignStore) -> Iterator[tuple[int, Path]]:
    """Number of a report that is being built, and its file: nobody else has either meanwhile.

    Two reports built at once would else take one number, and the later write over the earlier.
    A number is used up where the computer stops before the report is there.
    """
    place, cache = place_of(store), store.folder / "cache"
    for folder in (place, cache):
        folder.mkdir(exist_ok=True)
    revision = next_revision(store)
    while True:
        begun = cache / f"report-{revision}.begun"
        try:
            begun.touch(exist_ok=False)
        except FileExistsError:
            revision += 1
            continue
        if next_revision(store) <= revision:
            break
        begun.unlink()  # somebody ended this one between the two looks
        revision = next_revision(store)
    try:
        yield revision, place / f"report-{revision}.pdf"
    finally:
        begun.unlink(missing_ok=True)


def place_of(store: CampaignStore) -> Path:
    """Folder in which a campaign's reports are."""
    return store.folder / "handover"


def as_of(store: CampaignStore) -> datetime:
    """When the last entry of the journal was written: what a report built now knows of."""
    (last,) = store.journal(store.head().seq)
    return instant_from_text(last.told()["at"])


def note_built(store: CampaignStore, revision: int, path: Path, records: datetime) -> None:
    """Write down that a report was built, from records as of ``records``, with its SHA-256."""
    with path.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
    words = (
        f"report {revision}: {path.name}, SHA-256 {digest}, records as of {instant_text(records)}"
    )
    store.add(Event(store.context.now(), KIND, words), reason="report built")


def _files(folder: Path) -> Iterator[tuple[int, Path]]:
    place = folder / "handover"
    for path in place.iterdir() if place.is_dir() else ():
        if match := _FILE.fullmatch(path.name):
            yield int(match[1]), path
