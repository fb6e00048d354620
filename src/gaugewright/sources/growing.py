"""A text file that a recorder is still writing, read on from where it was left.

Only whole lines are taken; the last, half written one waits. What can happen to the file
meanwhile is told apart: nothing new, out of reach, begun anew. Whatever was followed is
advisory: the recording is made from the whole file when it is complete.
"""

import codecs
import enum
import hashlib
import os
from dataclasses import dataclass
from pathlib import Path

from gaugewright.errors import FileError
from gaugewright.sources.delimited import Block, Feed, Layout, Report
from gaugewright.sources.stream import LONGEST_LINE, Lines

__all__ = ["Fresh", "Growing", "Standing", "newest"]

MOST_AT_ONCE = 1 << 24
_HEAD = 1 << 12


class Standing(enum.Enum):
    """How the file stands at one look."""

    GREW = "grew"
    STILL = "nothing new"
    AWAY = "out of reach"
    BEGUN_ANEW = "begun anew"


@dataclass(frozen=True, slots=True)
class Fresh:
    """What one look found: rows since the last look, and bytes that are there but not read yet.

    ``why`` says why the file is out of reach or was begun anew.
    """

    standing: Standing
    blocks: tuple[Block, ...] = ()
    bytes_waiting: int = 0
    half_line: bool = False
    why: str = ""

    @property
    def rows(self) -> int:
        """How many rows are new."""
        return sum(block.rows for block in self.blocks)


class Growing:
    """A file being followed from its beginning.

    Parameters
    ----------
    path : path
        The file; it need not be there yet.
    layout : Layout
        What a person confirmed, of this file or of one like it.
    """

    def __init__(self, path: Path, layout: Layout) -> None:
        if layout.importer != "delimited text":
            raise FileError(
                path,
                f"is written as {layout.importer}, which can't be followed",
                expected="delimited text",
                do="let the recorder write text, or import it when it is complete",
            )
        self.path = path
        self.layout = layout
        self._held = b""
        self._begin()

    @property
    def report(self) -> Report:
        """Account of every line so far."""
        return self._feed.report

    def look(self) -> Fresh:
        """Read on by at most 16 MB.

        Nothing is raised for a file that is gone or can't be reached: recorders and networks do
        that, and it comes back.
        """
        try:
            size, data, head = self._more()
        except OSError as error:
            return Fresh(Standing.AWAY, why=error.strerror or type(error).__name__)
        if size < self._done or (self._done and head != self._head(head)):
            why = "it is shorter than what was read" if size < self._done else "it begins otherwise"
            return Fresh(Standing.BEGUN_ANEW, why=why)
        if not data:
            return Fresh(Standing.STILL, half_line=bool(self._held))
        self._done += len(data)
        lines = self._lines(data)
        if lines is not None:
            self._feed.take(lines)
        blocks = (*self._feed.full(), *self._feed.rest())
        return Fresh(Standing.GREW, blocks, size - self._done, bool(self._held))

    def last(self) -> Fresh:
        """Take the last line as it stands, when nothing more will be written."""
        if self._decoder is not None:
            rest = self._decoder.decode(b"", final=True)
            self._held += rest.encode("utf-8", errors="backslashreplace")
        if not self._held:
            return Fresh(Standing.STILL)
        held, self._held = self._held, b""
        self._feed.take(Lines(self._line, 1, held + b"\n", self._done, open_end=True))
        self._line += 1
        return Fresh(Standing.GREW, tuple(self._feed.rest()))

    def begin_anew(self) -> None:
        """Forget the earlier file and follow the new one of the same name from its beginning."""
        self._begin()

    def _begin(self) -> None:
        self._feed = Feed(self.layout, MOST_AT_ONCE)
        self._done = 0
        self._line = 1
        self._held = b""
        self._seen_head: tuple[int, str] = (0, "")
        plain = codecs.lookup(self.layout.encoding).name in ("utf-8", "utf-8-sig", "ascii")
        decoding = codecs.getincrementaldecoder(self.layout.encoding)
        self._decoder = None if plain else decoding(errors="backslashreplace")

    def _more(self) -> tuple[int, bytes, bytes]:
        """Size of the file, its bytes from where it was left, and its first ones."""
        with self.path.open("rb") as file:
            size = os.fstat(file.fileno()).st_size
            head = file.read(min(_HEAD, self._done)) if self._done else b""
            file.seek(self._done)
            data = file.read(MOST_AT_ONCE)
        return size, data, head

    def _head(self, head: bytes) -> bytes:
        """The same bytes where the file still begins as it did; the longer beginning is kept."""
        length, known = self._seen_head
        if length and hashlib.sha256(head[:length]).hexdigest() != known:
            return b""
        if len(head) > length:
            self._seen_head = (len(head), hashlib.sha256(head).hexdigest())
        return head

    def _lines(self, data: bytes) -> Lines | None:
        text = data if self._decoder is None else self._utf8(data)
        if self._line == 1 and not self._held:
            text = text.removeprefix(codecs.BOM_UTF8)
        if self.layout.line_end == "\r":
            text = text.replace(b"\r", b"\n")
        whole, self._held = self._whole(self._held + text)
        if not whole:
            return None
        first, count = self._line, whole.count(b"\n")
        self._line += count
        return Lines(first, count, whole, self._done)

    def _utf8(self, data: bytes) -> bytes:
        if self._decoder is None:
            return data
        return self._decoder.decode(data).encode("utf-8", errors="backslashreplace")

    @staticmethod
    def _whole(data: bytes) -> tuple[bytes, bytes]:
        """Whole lines and the half one behind; a line that never ends is cut as the reader does."""
        end = data.rfind(b"\n") + 1
        if not end and len(data) > LONGEST_LINE:
            return data[:LONGEST_LINE] + b"\n", b""
        return data[:end], data[end:]


def newest(folder: Path, pattern: str = "*") -> Path | None:
    """File of a folder that was begun last, by name where times are equal; None without any.

    Raises
    ------
    FileError
        If the folder can't be read.
    """
    try:
        found = [path for path in folder.glob(pattern) if path.is_file()]
        return max(found, key=lambda path: (path.stat().st_mtime_ns, path.name), default=None)
    except OSError as error:
        raise FileError(folder, f"can't be read ({error.strerror or error})") from error
