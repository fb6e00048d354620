"""Photos of cracks and the like: kept as taken, under the hash of their bytes, with their event.

They aren't made smaller, and what a camera writes into them (time, perhaps the place) stays in.
"""

from pathlib import Path

from gaugewright.errors import FileError, InputError
from gaugewright.records import Entry
from gaugewright.records.gauges import Attachment
from gaugewright.records.identity import Uid
from gaugewright.records.readings import Event
from gaugewright.services.book import Book
from gaugewright.store.campaign import CampaignStore

__all__ = ["KINDS", "attach", "kind_of", "photos_of"]

# How files of each kind begin, and what browsers call it; a browser shows all of these.
KINDS = {
    "image/jpeg": (b"\xff\xd8\xff", 0),
    "image/png": (b"\x89PNG\r\n\x1a\n", 0),
    "image/webp": (b"WEBP", 8),
}
_HEAD = 16


def kind_of(head: bytes) -> str:
    """What a photo is by its first bytes, or "" when it is none of those that can be shown."""
    return next(
        (kind for kind, (mark, at) in KINDS.items() if head[at : at + len(mark)] == mark), ""
    )


def attach(
    store: CampaignStore, event: Uid, path: Path, *, file_name: str, caption: str = ""
) -> Entry[Attachment]:
    """Keep a photo with an event; the same one sent again is the same entry.

    Raises
    ------
    InputError
        If there is no such event, or the file is no photo that a browser shows.
    FileError
        If it can't be read.
    """
    book = Book.read(store)
    book.entry(event, Event)
    try:
        with path.open("rb") as file:
            head = file.read(_HEAD)
    except OSError as error:
        raise FileError(path, f"can't be read ({error.strerror or error})") from error
    if not kind_of(head):
        allowed = "a JPEG, PNG or WebP picture"
        raise InputError("photo", file_name, allowed, "let the camera save it as JPEG")
    sha256 = store.keep_original(path)
    with store.several():
        for known in photos_of(book, event):
            if known.record.sha256 == sha256:
                return known
        return store.add(Attachment(event, sha256, file_name, caption), reason="photo of an event")


def photos_of(book: Book, event: Uid) -> tuple[Entry[Attachment], ...]:
    """Photos kept with an event, in order."""
    return tuple(entry for entry in book.of(Attachment) if entry.record.of == event)
