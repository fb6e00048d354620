"""Files as they were received: kept once each, under the hash of their bytes."""

import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import zstandard
from filelock import FileLock, Timeout
from sqlalchemy import Connection, select

from gaugewright.errors import FileError, InputError, StoreError
from gaugewright.records.identity import Context, instant_text
from gaugewright.records.plain import to_plain
from gaugewright.store import journal, schema, tables
from gaugewright.store.engine import Database
from gaugewright.store.folders import Folder
from gaugewright.store.safely import sync_file, sync_folder

__all__ = ["Originals"]

_PIECE = 1 << 20
_PATIENCE_S = 600.0


class Originals:
    """The kept files of one campaign."""

    def __init__(self, folder: Folder, database: Database) -> None:
        self._folder = folder
        self._database = database

    def keep(self, path: Path, context: Context, name: str = "") -> str:
        """Keep the bytes of a file and return their SHA-256; bytes kept already stay as they are.

        Raises
        ------
        FileError
            If the file can't be read.
        """
        sha256, size, is_new = self._put_in_place(path, context)
        place = self.path(sha256)
        with self._database.writing() as connection:
            if not place.is_file():  # another writer had put it there, and took it back since
                raise StoreError(
                    f"{path} was being kept by another program, which gave up; keep it again"
                )
            # Listed meanwhile by somebody else, it is theirs too: not to be taken back any more.
            if is_new and not _is_listed(connection, sha256):
                self._database.with_transaction(
                    undo=lambda: place.unlink(missing_ok=True), after=lambda: None
                )
            self._list(connection, context, sha256, size, _plain_name(Path(name or path)))
        return sha256

    def _put_in_place(self, path: Path, context: Context) -> tuple[str, int, bool]:
        """Hash and size of a file whose bytes are in place now, and whether they are new there."""
        waiting = self._folder.incoming / f"original-{context.new_uid()}.zst"
        # Let go before the database is asked for: who holds that may be waiting for this.
        with self._locked():
            try:
                sha256, size = _compress(path, waiting)
            except OSError as error:
                waiting.unlink(missing_ok=True)
                raise FileError(
                    path, f"can't be read or kept ({error.strerror})", do="check path and disk"
                ) from error
            if not self.trouble_with(sha256):
                waiting.unlink()
                return sha256, size, False
            os.replace(waiting, self.path(sha256))
            sync_folder(self._folder.originals)
            return sha256, size, True

    @contextmanager
    def _locked(self) -> Iterator[None]:
        lock = self.lock()
        try:
            lock.acquire(timeout=_PATIENCE_S)
        except Timeout as error:
            raise StoreError(
                f"{self._folder.path}: another program has been keeping a file for "
                f"{_PATIENCE_S:.0f} s; wait for it to end and try again"
            ) from error
        try:
            yield
        finally:
            lock.release()

    def lock(self) -> FileLock:
        """Lock held while a file is being kept, and while leftovers are cleared away."""
        return FileLock(self._folder.incoming / ".originals.lock")

    def path(self, sha256: str) -> Path:
        """Where the compressed bytes are."""
        return self._folder.originals / f"{sha256}.zst"

    def bytes_of(self, sha256: str) -> bytes:
        """Bytes as they were received.

        Raises
        ------
        InputError
            If no such file was kept.
        StoreError
            If it was, and its bytes are gone or no longer the same.
        """
        with self._database.reading() as connection:
            table = schema.original
            row = connection.execute(select(table).where(table.c.sha256 == sha256)).one_or_none()
        if row is None:
            raise InputError("sha256", sha256, "that of a file kept in this campaign")
        trouble = self.trouble_with(sha256)
        if trouble:
            raise StoreError(f"the original of {row.file_name} {trouble}; take it from a copy")
        return b"".join(_pieces(self.path(sha256)))

    def trouble_with(self, sha256: str) -> str:
        """What is wrong with a kept file, or "" when its bytes have the hash it is kept under."""
        path = self.path(sha256)
        if not path.is_file():
            return f"is missing ({path})"
        digest = hashlib.sha256()
        try:
            for piece in _pieces(path):
                digest.update(piece)
        except zstandard.ZstdError:
            return f"can't be uncompressed ({path})"
        if digest.hexdigest() != sha256:
            return f"has been changed: its bytes have another hash ({path})"
        return ""

    def adopt(self, context: Context) -> None:
        """List files that were put in place before their writer stopped; clear what wasn't."""
        lock = self.lock()
        try:
            lock.acquire(timeout=0)
        except Timeout:
            return  # somebody is keeping a file at this moment: nothing here is left over
        try:
            for path in self._folder.incoming.glob("original-*.zst"):
                path.unlink()
        finally:
            lock.release()
        with self._database.reading() as connection:
            listed = set(connection.execute(select(schema.original.c.sha256)).scalars())
        for path in sorted(self._folder.originals.glob("*.zst")):
            if path.stem not in listed and not self.trouble_with(path.stem):
                size = sum(len(piece) for piece in _pieces(path))
                with self._database.writing() as connection:
                    self._list(connection, context, path.stem, size, "name not written down")

    def _list(
        self, connection: Connection, context: Context, sha256: str, size: int, file_name: str
    ) -> None:
        if _is_listed(connection, sha256):
            return
        told = {
            "action": "keep",
            "at": instant_text(context.now()),
            "kind": "original",
            "original": {"file_name": file_name, "sha256": sha256, "size": size},
            "person": context.person,
            "reason": "",
        }
        tables.write(connection, journal.append(connection, told))


def _is_listed(connection: Connection, sha256: str) -> bool:
    table = schema.original
    found = connection.execute(select(table.c.sha256).where(table.c.sha256 == sha256))
    return found.one_or_none() is not None


def _compress(source: Path, target: Path) -> tuple[str, int]:
    """Compress a file and return the hash and number of the bytes that went in."""
    digest, size = hashlib.sha256(), 0
    compressor = zstandard.ZstdCompressor(level=3, threads=-1, write_checksum=True)
    with (
        source.open("rb") as read,
        target.open("wb") as written,
        compressor.stream_writer(written, closefd=False) as stream,
    ):
        while piece := read.read(_PIECE):
            digest.update(piece)
            size += len(piece)
            stream.write(piece)
    sync_file(target)
    return digest.hexdigest(), size


def _pieces(path: Path) -> Iterator[bytes]:
    with (
        path.open("rb") as read,
        zstandard.ZstdDecompressor().stream_reader(read, closefd=False) as stream,
    ):
        while piece := stream.read(_PIECE):
            yield piece


def _plain_name(path: Path) -> str:
    """Name of a file with what isn't text in it replaced: a journal holds text only."""
    name: str = to_plain(path.name.encode("utf-8", "replace").decode("utf-8"))
    return name
