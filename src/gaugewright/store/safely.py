"""Making sure that what was written is on the disk before anything relies on it."""

import hashlib
import os
from pathlib import Path

__all__ = ["file_hash", "sync_file", "sync_folder", "write_synced"]


def sync_file(path: Path) -> None:
    """Wait until a file's bytes are on the disk."""
    handle = os.open(path, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_folder(path: Path) -> None:
    """Wait until a folder's names are on the disk, where the system can be asked to."""
    if os.name == "nt":  # folders can't be opened there; renames are written through
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def write_synced(path: Path, content: bytes | memoryview) -> str:
    """Write a file, wait until it is on the disk and return the SHA-256 of what was meant."""
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    return hashlib.sha256(content).hexdigest()


def file_hash(path: Path) -> str:
    """SHA-256 of a file's bytes."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
