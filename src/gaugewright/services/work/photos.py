"""Photos of cracks and the like: written anew without what the camera put in beside the picture.

Place, time, make and the camera's own small picture go; every pixel stays, turned upright. The
hash of the file as it was taken is kept with it, so that whoever holds that file can show that
it is the one.
"""

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING

from gaugewright.errors import FileError, InputError
from gaugewright.records import Entry
from gaugewright.records.gauges import Attachment
from gaugewright.records.identity import Uid
from gaugewright.records.readings import Event
from gaugewright.services.campaign.book import Book
from gaugewright.store.campaign import CampaignStore

if TYPE_CHECKING:
    from PIL.Image import Image as Picture

__all__ = [
    "KINDS",
    "MOST_PIXELS",
    "attach",
    "kind_of",
    "photos_of",
    "refuse_no_photo",
    "write_anew",
]

# How files of each kind begin, and what browsers call it; a browser shows all of these.
KINDS = {
    "image/jpeg": (b"\xff\xd8\xff", 0),
    "image/png": (b"\x89PNG\r\n\x1a\n", 0),
    "image/webp": (b"WEBP", 8),
}
MOST_PIXELS = 100_000_000  # 300 MB while it is written anew
_HEAD = 16
_PIECE = 1 << 20
# As little is lost as can't be seen in a crack of one pixel; PNG loses nothing.
_WRITTEN = {
    "image/jpeg": ("JPEG", {"quality": 92, "subsampling": 0}),
    "image/png": ("PNG", {}),
    "image/webp": ("WEBP", {"quality": 92}),
}


def kind_of(head: bytes) -> str:
    """What a photo is by its first bytes, or "" when it is none of those that can be shown."""
    return next(
        (kind for kind, (mark, at) in KINDS.items() if head[at : at + len(mark)] == mark), ""
    )


def attach(
    store: CampaignStore, of: Uid, path: Path, *, file_name: str, caption: str = ""
) -> Entry[Attachment]:
    """Keep a photo with a record, written anew; the same one sent again is the same entry.

    Raises
    ------
    InputError
        If there is no such record, or the file is no photo that can be opened.
    FileError
        If it can't be read.
    """
    book = Book.read(store)
    if book.found(of) is None:
        raise InputError("uid a photo belongs to", of, "that of a record of this campaign")
    taken = _hash(path)
    for known in photos_of(book, of):
        if taken in (known.record.taken_sha256, known.record.sha256):
            return known
    folder = store.folder / "cache" / "photos"
    folder.mkdir(parents=True, exist_ok=True)
    target = folder / f"{store.context.new_uid()}{path.suffix}"
    try:
        write_anew(path, target, file_name=file_name)
        sha256 = store.keep_original(target)
    finally:
        target.unlink(missing_ok=True)
    reason = "photo of an event" if isinstance(_record(book, of), Event) else "photo"
    with store.several():
        for known in photos_of(Book.read(store), of):
            if known.record.taken_sha256 == taken:
                return known
        return store.add(Attachment(of, sha256, file_name, caption, taken), reason=reason)


def photos_of(book: Book, of: Uid) -> tuple[Entry[Attachment], ...]:
    """Photos kept with a record, in order."""
    return tuple(entry for entry in book.of(Attachment) if entry.record.of == of)


def refuse_no_photo(path: Path, file_name: str) -> str:
    """Kind of a photo by its first bytes.

    Raises
    ------
    InputError
        If it is none that a browser shows.
    FileError
        If it can't be read.
    """
    try:
        with path.open("rb") as file:
            head = file.read(_HEAD)
    except OSError as error:
        raise FileError(path, f"can't be read ({error.strerror or error})") from error
    kind = kind_of(head)
    if not kind:
        allowed = "a JPEG, PNG or WebP picture"
        raise InputError("photo", file_name, allowed, "let the camera save it as JPEG")
    return kind


def write_anew(path: Path, target: Path, *, file_name: str) -> None:
    """Write the picture of a file, upright, and nothing else that was in it.

    A colour profile stays, since without it colours would be others.

    Raises
    ------
    InputError
        If it is no photo, can't be opened to its end, or has more pixels than are taken.
    FileError
        If it can't be read or written.
    """
    from PIL import Image, ImageOps

    kind = refuse_no_photo(path, file_name)
    format_name, options = _WRITTEN[kind]
    try:
        with Image.open(path, formats=(format_name,)) as opened:
            if opened.width * opened.height > MOST_PIXELS:
                raise _too_large(file_name, opened.size)
            profile = opened.info.get("icc_profile")
            upright = ImageOps.exif_transpose(opened)
            bare = _bare(upright, format_name)
    except InputError:
        raise
    except Image.DecompressionBombError as error:
        raise _too_large(file_name, None) from error
    except (OSError, SyntaxError, ValueError) as error:  # how a broken picture is told by each kind
        allowed = "a picture that can be opened to its end"
        raise InputError("photo", file_name, allowed, "take it again, or send it again") from error
    if profile and bare.mode == upright.mode:
        options = {**options, "icc_profile": profile}
    try:
        bare.save(target, format_name, **options)
    except OSError as error:
        raise FileError(target, f"can't be written ({error.strerror or error})") from error


def _bare(picture: "Picture", format_name: str) -> "Picture":
    """The pixels alone, in a mode that the format can hold."""
    picture.load()
    bare = picture.copy()
    if format_name == "JPEG" and bare.mode not in ("L", "RGB"):
        bare = bare.convert("RGB")
    bare.info = {}
    return bare


def _too_large(file_name: str, size: tuple[int, int] | None) -> InputError:
    told = file_name if size is None else f"{file_name}, {size[0]} by {size[1]} pixels"
    allowed = f"a picture of {MOST_PIXELS // 1_000_000} million pixels or fewer"
    return InputError("photo", told, allowed, "set the camera to a smaller picture")


def _hash(path: Path) -> str:
    digest = hashlib.sha256()
    try:
        with path.open("rb") as file:
            while piece := file.read(_PIECE):
                digest.update(piece)
    except OSError as error:
        raise FileError(path, f"can't be read ({error.strerror or error})") from error
    return digest.hexdigest()


def _record(book: Book, uid: Uid) -> object:
    found = book.found(uid)
    return None if found is None else found.record
