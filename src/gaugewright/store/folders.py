"""Where things stand in a campaign's folder, and whether a folder is safe to write one in."""

import os
import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from gaugewright.errors import StoreError

__all__ = ["Folder", "Mount", "mounts", "mounts_from_text", "refuse_unsafe", "trouble_with"]

# File locks and shared memory, which the database relies on, don't hold on these.
SHARED_FILE_SYSTEMS = {
    "9p": "a folder shared between a virtual machine and its host",
    "afpfs": "a network folder",
    "afs": "a network folder",
    "ceph": "a network folder",
    "cifs": "a network folder",
    "coda": "a network folder",
    "davfs": "a network folder",
    "fuse.ceph": "a network folder",
    "fuse.davfs": "a network folder",
    "fuse.gvfsd-fuse": "a network folder",
    "fuse.rclone": "a network folder",
    "fuse.s3fs": "a network folder",
    "fuse.sshfs": "a network folder",
    "glusterfs": "a network folder",
    "lustre": "a network folder",
    "ncpfs": "a network folder",
    "nfs": "a network folder",
    "nfs4": "a network folder",
    "smb2": "a network folder",
    "smb3": "a network folder",
    "smbfs": "a network folder",
    "vboxsf": "a folder shared between a virtual machine and its host",
    "virtiofs": "a folder shared between a virtual machine and its host",
    "webdav": "a network folder",
}
# Synchronising programs leave hidden books and marks at the top of what they synchronise:
# a hidden name with "sync" in it that ends in what books end in, or a mark of the shared folder.
SYNCHRONISING_MARKS = (
    re.compile(r"\.[a-z_]*sync[a-z_-]*[0-9a-f]*(\.(db|log|journal)|_journal\.db)?", re.IGNORECASE),
    re.compile(r"\.st(folder|ignore|versions)", re.IGNORECASE),
)


@dataclass(frozen=True, slots=True)
class Folder:
    """Names in a campaign's folder."""

    path: Path

    @property
    def database(self) -> Path:
        """Records and journal."""
        return self.path / "campaign.sqlite"

    @property
    def originals(self) -> Path:
        """Files as received, compressed, under their SHA-256."""
        return self.path / "originals"

    @property
    def readings(self) -> Path:
        """A folder a recording."""
        return self.path / "readings"

    @property
    def incoming(self) -> Path:
        """What is being written and isn't part of the campaign yet."""
        return self.path / "incoming"

    @property
    def photos(self) -> Path:
        """Photos in a form to be shown."""
        return self.path / "photos"

    @property
    def handover(self) -> Path:
        """Reports and archives made."""
        return self.path / "handover"

    @property
    def cache(self) -> Path:
        """What can be made again: deletable while nothing runs."""
        return self.path / "cache"

    def make(self) -> None:
        """Make the folder and those in it."""
        for folder in (
            self.originals,
            self.readings,
            self.incoming,
            self.photos,
            self.handover,
            self.cache,
        ):
            folder.mkdir(parents=True, exist_ok=True)


@dataclass(frozen=True, slots=True)
class Mount:
    """A place in the tree of folders and the type of file system that stands there."""

    place: Path
    kind: str


def mounts_from_text(text: str) -> tuple[Mount, ...]:
    """Mounts from the text of ``/proc/mounts``, where odd characters are written in octal."""
    found = []
    for line in text.splitlines():
        fields = line.split()
        if len(fields) >= 3:
            place = re.sub(r"\\([0-7]{3})", lambda m: chr(int(m[1], 8)), fields[1])
            found.append(Mount(Path(place), fields[2]))
    return tuple(found)


def mounts() -> tuple[Mount, ...]:
    """Mounts of this machine; none where the system doesn't tell."""
    table = Path("/proc/mounts")
    if not table.is_file():
        return ()
    return mounts_from_text(table.read_text(encoding="utf-8", errors="surrogateescape"))


def trouble_with(folder: Path, mounted: Iterable[Mount]) -> str:
    """Why a campaign must not be written in a folder, or "" when nothing speaks against it."""
    place = folder.absolute()
    if str(place).startswith("\\\\"):
        return "a network folder"
    above = [mount for mount in mounted if place.is_relative_to(mount.place)]
    if above:
        nearest = max(reversed(above), key=lambda mount: len(mount.place.parts))
        if nearest.kind in SHARED_FILE_SYSTEMS:
            return f"{SHARED_FILE_SYSTEMS[nearest.kind]} ({nearest.kind} at {nearest.place})"
    for parent in (place, *place.parents):
        mark = _synchronising_mark(parent)
        if mark:
            return f"inside a folder that a program keeps in step with other machines ({mark})"
    return ""


def refuse_unsafe(folder: Path) -> None:
    """Refuse to write a campaign where a network or a synchronising program could spoil it.

    Raises
    ------
    StoreError
        With the reason.
    """
    trouble = trouble_with(folder.resolve(), mounts())
    if trouble:
        raise StoreError(
            f"{folder} is {trouble}, where two programs can overwrite each other's records "
            "without noticing; keep the campaign on this machine's own disk and hand on copies"
        )


def _synchronising_mark(folder: Path) -> str:
    try:
        names = os.listdir(folder)
    except OSError:  # not there yet, or not ours to look into: nothing can be seen
        return ""
    for name in names:
        if any(mark.fullmatch(name) for mark in SYNCHRONISING_MARKS):
            return str(folder / name)
    return ""
