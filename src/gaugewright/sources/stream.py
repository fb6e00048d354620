"""A text file of any size as pieces of whole UTF-8 lines, with every line counted in the bytes."""

import codecs
from collections.abc import Iterator
from dataclasses import dataclass
from io import BufferedReader
from pathlib import Path

import numpy as np

from gaugewright.errors import FileError

__all__ = ["LONGEST_LINE", "Lines", "line_pieces"]

_LINE_FEED = ord("\n")
PIECE_BYTES = 1 << 24
_LOOKED_BACK = 1 << 16  # bytes in which the last line end of a piece is looked for
# No recorder writes such lines; megabytes of NUL bytes after a power failure look like one.
LONGEST_LINE = 1 << 22


@dataclass(frozen=True, slots=True)
class Lines:
    """Whole lines as UTF-8 bytes, each ended by a line feed.

    ``first`` is the first line's number from 1 and ``count`` how many there are, counted here.
    ``open_end`` says that the file's last line had no line end of its own (one was added);
    ``done`` is how many bytes of the file have been consumed. A line longer than
    ``LONGEST_LINE`` is handed on with its first bytes only and ``cut`` set.
    """

    first: int
    count: int
    data: bytes
    done: int
    open_end: bool = False
    cut: bool = False


def line_pieces(
    path: Path,
    encoding: str = "utf-8",
    *,
    line_end: str = "\n",
    piece_bytes: int | None = None,
) -> Iterator[Lines]:
    r"""Pieces of about ``piece_bytes``; memory is bounded by that and by ``LONGEST_LINE``.

    A byte-order mark is dropped. Bytes that aren't text in ``encoding`` become backslash
    escapes (``\\xb0``) when the file isn't UTF-8; UTF-8 is handed on as it is.

    Raises
    ------
    FileError
        If the file can't be opened or read.
    """
    number, held, overlong = 1, b"", False
    done = 0
    for done, data in _utf8(path, encoding, piece_bytes or PIECE_BYTES):
        if line_end == "\r":
            data = data.replace(b"\r", b"\n")
        if overlong:
            data, overlong = _after_line_end(data)
            if overlong:
                continue
            number += 1
        end = data.rfind(b"\n") + 1
        if end:
            whole = b"".join((held, memoryview(data)[:end])) if held or end < len(data) else data
            held = data[end:]
            count = int(np.count_nonzero(np.frombuffer(whole, dtype=np.uint8) == _LINE_FEED))
            yield Lines(number, count, whole, done)
            number += count
        else:
            held += data
        if len(held) > LONGEST_LINE:
            yield Lines(number, 1, held[:LONGEST_LINE] + b"\n", done, cut=True)
            held, overlong = b"", True
    if held:
        yield Lines(number, 1, held + b"\n", done, open_end=True)


def _after_line_end(data: bytes) -> tuple[bytes, bool]:
    end = data.find(b"\n")
    return (b"", True) if end < 0 else (data[end + 1 :], False)


def _utf8(path: Path, encoding: str, piece_bytes: int) -> Iterator[tuple[int, bytes]]:
    plain = codecs.lookup(encoding).name in ("utf-8", "utf-8-sig", "ascii")
    decoder = None if plain else codecs.getincrementaldecoder(encoding)(errors="backslashreplace")
    done = 0
    first = True
    try:
        with path.open("rb") as file:
            while raw := _to_line_end(file, piece_bytes):
                done += len(raw)
                data = raw if decoder is None else _encoded(decoder.decode(raw))
                if first and data:
                    data = data.removeprefix(codecs.BOM_UTF8)
                    first = False
                yield done, data
            if decoder is not None and (rest := decoder.decode(b"", final=True)):
                yield done, _encoded(rest)
    except OSError as error:
        problem = f"can't be read ({error.strerror or error})"
        raise FileError(path, problem, do="check the path and the permission to read it") from error


def _to_line_end(file: BufferedReader, piece_bytes: int) -> bytes:
    """Bytes from here to the last line end within a piece: what follows needn't be held or joined.

    A whole piece where no line end is near its end, or where the file ends first.
    """
    begin = file.tell()
    file.seek(begin + max(piece_bytes - _LOOKED_BACK, 0))
    last = file.read(min(piece_bytes, _LOOKED_BACK))
    file.seek(begin)
    whole = len(last) == min(piece_bytes, _LOOKED_BACK)
    spare = len(last) - 1 - last.rfind(b"\n") if whole and b"\n" in last else 0
    return file.read(piece_bytes - spare)


def _encoded(text: str) -> bytes:
    # Lone surrogates come out of broken UTF-16; they are text damage, not a reason to stop.
    return text.encode("utf-8", errors="backslashreplace")
