"""Lines that a laboratory only ever adds to: each follows from the one before, none is changed."""

import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from gaugewright.errors import FileError, StoreError
from gaugewright.records.plain import canonical_text
from gaugewright.store.journal import START, chained
from gaugewright.store.safely import sync_folder

__all__ = ["add_line", "lines"]

_LOCK_S = 10.0


def add_line(path: Path, told: dict[str, Any]) -> None:
    """Add a line to a file of them, on the disk when this returns; the file begins with it.

    Raises
    ------
    FileError
        If the folder isn't there, or a line that stands was changed.
    StoreError
        If somebody else keeps the file locked.
    """
    if not path.parent.is_dir():
        raise FileError(
            path.parent, "isn't a folder", do="correct the setting laboratory, or make the folder"
        )
    lock = FileLock(path.with_name(f".{path.name}.lock"), timeout=_LOCK_S)
    try:
        with lock:
            previous = [START, *(sha256 for sha256, _ in _checked(path))][-1]
            text = canonical_text(told)
            line = canonical_text({"sha256": chained(previous, text), "text": text}) + "\n"
            with path.open("ab") as file:
                file.write(line.encode("utf-8"))
                file.flush()
                os.fsync(file.fileno())
            sync_folder(path.parent)
    except Timeout as error:
        raise StoreError(
            f"{path} is being written by another program for {_LOCK_S:g} s; try again"
        ) from error


def lines(path: Path) -> tuple[dict[str, Any], ...]:
    """What every line tells, in order; none where there is no file yet.

    Raises
    ------
    FileError
        Naming the line that was changed, taken out or never finished.
    """
    return tuple(told for _, told in _checked(path))


def _checked(path: Path) -> Iterator[tuple[str, dict[str, Any]]]:
    """Hash and content of every line, each held against the one before."""
    if not path.is_file():
        return
    previous = START
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
        try:
            kept = json.loads(line)
            text, sha256 = str(kept["text"]), str(kept["sha256"])
            told: dict[str, Any] = json.loads(text)
        except (ValueError, KeyError, TypeError) as error:
            raise FileError(
                path, "isn't a line as it was written", line=number, do="take it from a copy"
            ) from error
        if sha256 != chained(previous, text):
            raise FileError(
                path,
                "doesn't follow from the line before it: one of them was changed or taken out",
                line=number,
                do="take the file from a copy; it is only ever added to",
            )
        previous = sha256
        yield sha256, told
