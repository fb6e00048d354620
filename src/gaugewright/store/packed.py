"""Folders in one file, and taken out again only where every name in it is harmless."""

import os
import shutil
import stat
import struct
import threading
import unicodedata
import zipfile
import zlib
from collections.abc import Iterable
from pathlib import Path, PurePosixPath

from gaugewright.errors import FileError

__all__ = ["pack", "unpack"]

_PIECE = 1 << 20
_MOMENT = (1980, 1, 1, 0, 0, 0)  # the format's first; a packed file must not depend on the hour
_PACKED_ALREADY = {".parquet", ".pdf", ".zst", ".jpg", ".jpeg", ".png", ".zip", ".xlsx"}
_RESERVED = {"con", "prn", "aux", "nul", *(f"{n}{i}" for n in ("com", "lpt") for i in range(1, 10))}
# What the library says of files that are no zip file, or none any more.
_DAMAGE = (
    zipfile.BadZipFile,
    zlib.error,
    OSError,
    EOFError,
    NotImplementedError,
    UnicodeDecodeError,
    struct.error,
)
_LONGEST_NAME = 240
_DEEPEST = 12
# Text shrinks to a tenth, a table of one number to a thousandth; beyond that it is a trap.
_MOST_STRETCH = 2000


def pack(folder: Path, out: Path) -> Path:
    """Everything in a folder as one zip file, below the folder's name; whole or not at all.

    The same files give the same bytes.
    """
    own = f"{os.getpid()}-{threading.get_ident()}"  # two may make the same one at once
    partial = out.with_name(f".{out.name}.{own}.partial")
    try:
        with zipfile.ZipFile(partial, "w", allowZip64=True) as packed:
            for path in sorted(path for path in folder.rglob("*") if path.is_file()):
                _put(packed, path, f"{folder.name}/{path.relative_to(folder).as_posix()}")
        os.replace(partial, out)
    finally:
        partial.unlink(missing_ok=True)
    return out


def _put(packed: zipfile.ZipFile, path: Path, name: str) -> None:
    told = zipfile.ZipInfo(name, _MOMENT)
    told.external_attr = (stat.S_IFREG | 0o644) << 16
    is_packed = path.suffix.lower() in _PACKED_ALREADY
    told.compress_type = zipfile.ZIP_STORED if is_packed else zipfile.ZIP_DEFLATED
    told.file_size = path.stat().st_size
    with path.open("rb") as read, packed.open(told, "w") as written:
        shutil.copyfileobj(read, written, _PIECE)


def unpack(path: Path, folder: Path, *, most_bytes: int | None = None) -> Path:
    """Take a zip file out into a new folder and return the one folder that was in it.

    Names, sizes and kinds of everything in it are looked at before the first byte is written:
    a packed file from elsewhere is not to be trusted.

    Parameters
    ----------
    path : path
        The packed file.
    folder : path
        An empty folder, or one that doesn't exist.
    most_bytes : int, optional
        What may be taken out at most; half of the free space of the disk when left out.

    Raises
    ------
    FileError
        If it isn't a zip file, is damaged, or holds a name, size or kind of member that could
        do harm.
    """
    folder.mkdir(parents=True, exist_ok=True)
    most = shutil.disk_usage(folder).free // 2 if most_bytes is None else most_bytes
    try:
        with zipfile.ZipFile(path) as packed:
            members = packed.infolist()
            _refuse_harmful(path, members, most)
            for member in members:
                if not member.is_dir():
                    _take_out(path, packed, member, folder)
    except _DAMAGE as error:
        raise FileError(path, f"can't be unpacked ({error})", do="take it from a copy") from error
    tops = sorted({PurePosixPath(member.filename).parts[0] for member in members})
    if len(tops) != 1:
        raise FileError(path, "has no single folder in it", got=", ".join(tops[:5]) or "nothing")
    return folder / tops[0]


def _take_out(path: Path, packed: zipfile.ZipFile, member: zipfile.ZipInfo, folder: Path) -> None:
    target = folder / PurePosixPath(member.filename)
    target.parent.mkdir(parents=True, exist_ok=True)
    left = member.file_size
    with packed.open(member) as read, target.open("xb") as written:
        while piece := read.read(_PIECE):
            left -= len(piece)
            if left < 0:
                raise FileError(path, f"{member.filename} is longer than it says")
            written.write(piece)
    if left:
        raise FileError(path, f"{member.filename} is shorter than it says")


def _refuse_harmful(path: Path, members: Iterable[zipfile.ZipInfo], most_bytes: int) -> None:
    seen: dict[str, str] = {}
    total = 0
    for member in members:
        trouble = _trouble_with(member)
        if trouble:
            raise FileError(path, f"is refused: {member.filename!r} {trouble}")
        # Two names that some file systems hold for one would overwrite each other there.
        alike = unicodedata.normalize("NFC", member.filename).casefold().rstrip("/")
        if alike in seen:
            raise FileError(path, f"is refused: {member.filename!r} stands for {seen[alike]!r} too")
        seen[alike] = member.filename
        total += member.file_size
    if total > most_bytes:
        raise FileError(
            path,
            "is refused: it would fill the disk",
            expected=f"at most {most_bytes} bytes unpacked",
            got=f"{total} bytes",
            do="unpack it where there is more room",
        )


def _trouble_with(member: zipfile.ZipInfo) -> str:
    name = member.filename
    # zipfile mends names silently: what is looked at is what stands in the file.
    if name != getattr(member, "orig_filename", name) or "\\" in name:
        return "is written in a way that systems read differently"
    parts = PurePosixPath(name).parts
    mode = member.external_attr >> 16
    if name.startswith("/") or ":" in name or ".." in parts or not parts:
        return "points out of the folder"
    if any(not character.isprintable() for character in name):
        return "has characters that can't be shown"
    if len(name) > _LONGEST_NAME or len(parts) > _DEEPEST:
        return "is too long a path"
    if any(_is_reserved(part) for part in parts):
        return "is a name that some systems keep for themselves"
    if stat.S_IFMT(mode) not in (0, stat.S_IFREG, stat.S_IFDIR):
        return "is a link or a device, not a file"
    if member.flag_bits & 0x1:
        return "is encrypted"
    if member.file_size > _MOST_STRETCH * max(member.compress_size, 1):
        return f"would grow from {member.compress_size} to {member.file_size} bytes"
    return ""


def _is_reserved(part: str) -> bool:
    return part.split(".")[0].casefold() in _RESERVED or part.endswith((" ", "."))
