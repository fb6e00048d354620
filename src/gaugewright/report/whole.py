"""A file that is written complete or not at all, however many write it at once."""

import os
import threading
from pathlib import Path

from gaugewright.errors import InputError

__all__ = ["refuse_no_folder", "write_whole"]


def refuse_no_folder(out: Path) -> None:
    """Refuse a file whose folder isn't there, before any work is done for it.

    Raises
    ------
    InputError
        If there is no such folder.
    """
    if not out.absolute().parent.is_dir():
        raise InputError("folder", str(out.parent), "a folder that exists", "make it first")


def write_whole(out: Path, content: bytes) -> Path:
    """Write a file and return its path; what stood there is replaced at once, on the disk."""
    # A name of its own: two who make the same file would take each other's half.
    own = f"{os.getpid()}-{threading.get_ident()}"
    partial = out.with_name(f".{out.name}.{own}.partial")
    try:
        with partial.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.replace(partial, out)
    finally:
        partial.unlink(missing_ok=True)
    return out
