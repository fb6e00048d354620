"""How the database is reached: one way to connect, one way to read, one way to write."""

import sqlite3
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Connection, Engine, MetaData, RootTransaction, create_engine, event
from sqlalchemy.exc import OperationalError
from sqlalchemy.pool import NullPool

from gaugewright.errors import StoreError

__all__ = ["Database"]

BUSY_MILLISECONDS = 30_000


class Database:
    """A SQLite file: reads see one moment, writes are whole or not at all.

    ``BEGIN IMMEDIATE`` is said outright: left to itself the driver begins late, and writers
    that read first then fork the journal's chain.
    """

    def __init__(self, path: Path, *, read_only: bool = False) -> None:
        self.path = path
        self.read_only = read_only
        self._local = threading.local()
        self._is_usable = False
        self._copies: list[tempfile.TemporaryDirectory[str]] = []
        self._copied: tuple[object, Path] | None = None
        self._engine = self._made()

    def _made(self) -> Engine:
        if self.read_only:
            # A connection a read: what a writer has put down meanwhile is seen by the next one.
            engine = create_engine("sqlite://", creator=self._read_only, poolclass=NullPool)
        else:
            engine = create_engine(f"sqlite:///{self.path}")
        event.listen(engine, "connect", self._set_up)
        event.listen(engine, "begin", _begin)
        return engine

    def _set_up(self, connection: sqlite3.Connection, _record: object) -> None:
        connection.isolation_level = None
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute(f"PRAGMA busy_timeout = {BUSY_MILLISECONDS}")
        if not self.read_only:
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
        self._is_usable = True

    def _read_only(self) -> sqlite3.Connection:
        """Connection that makes no file beside the database, unlike SQLite's usual reader."""
        log = self.path.with_name(self.path.name + "-wal")
        if not _size(log):
            return _connected(self.path, "mode=ro&immutable=1")
        if self.path.with_name(self.path.name + "-shm").exists():
            connection = _connected(self.path, "mode=ro")
            try:
                connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
                return connection
            except sqlite3.OperationalError:
                connection.close()
        return _connected(self._private_copy(log), "mode=rw")

    def _private_copy(self, log: Path) -> Path:
        """Copy of a database whose writer died: its log can't be read in where it stands.

        Made again only when somebody wrote since: every read asks for it.
        """
        stamp = tuple((path.stat().st_mtime_ns, path.stat().st_size) for path in (self.path, log))
        if self._copied is None or self._copied[0] != stamp:
            room = tempfile.TemporaryDirectory(prefix="gaugewright-")
            self._copies.append(room)
            copy = Path(room.name) / self.path.name
            copy.write_bytes(self.path.read_bytes())
            copy.with_name(log.name).write_bytes(log.read_bytes())
            self._copied = (stamp, copy)
        return self._copied[1]

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Connection that sees one moment; inside a write, it sees the write so far."""
        current: Connection | None = getattr(self._local, "connection", None)
        if current is not None:
            yield current
            return
        with self._engine.connect() as connection:
            yield connection

    @property
    def is_writing(self) -> bool:
        """Whether this thread is inside ``writing``."""
        return getattr(self._local, "connection", None) is not None

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One transaction: everything written inside is kept, or nothing; it may be nested.

        Raises
        ------
        StoreError
            If the campaign is open for reading only, or another program holds it too long.
        """
        if self.read_only:
            raise StoreError(
                f"{self.path.parent} is open for reading only; open it for writing to change it"
            )
        outer: Connection | None = getattr(self._local, "connection", None)
        if outer is not None:
            with outer.begin_nested(), self._undone_from(len(self._local.undo)):
                yield outer
            return
        with self._engine.connect().execution_options(immediate=True) as connection:
            transaction = self._begun(connection)
            self._local.connection = connection
            self._local.undo, self._local.after = [], []
            try:
                with transaction, self._undone_from(0):
                    yield connection
                after: list[Callable[[], None]] = self._local.after
            finally:
                del self._local.connection, self._local.undo, self._local.after
        for step in after:
            step()

    def with_transaction(self, *, undo: Callable[[], None], after: Callable[[], None]) -> None:
        """Tie work on files to the transaction of this thread.

        ``undo`` is done when the transaction is taken back, ``after`` when it is kept.
        """
        self._local.undo.append(undo)
        self._local.after.append(after)

    @contextmanager
    def _undone_from(self, count: int) -> Iterator[None]:
        """Undo the work on files that was tied in since ``count`` when the block fails.

        Inside the transaction, so that nobody else can come to rely on those files meanwhile.
        """
        try:
            yield
        except BaseException:
            for step in reversed(self._local.undo[count:]):
                step()
            del self._local.undo[count:], self._local.after[count:]
            raise

    def _begun(self, connection: Connection) -> RootTransaction:
        try:
            return connection.begin()
        except OperationalError as error:
            raise StoreError(
                f"{self.path.parent} has been busy for {BUSY_MILLISECONDS // 1000} s: another "
                "program is writing to it; wait for it to end and try again"
            ) from error

    def make_tables(self, metadata: MetaData) -> None:
        """Make the tables that aren't there yet."""
        with self.writing() as connection:
            metadata.create_all(connection)

    def backup(self, target: Path) -> None:
        """Copy of the database as it is at one moment, also while others write to it."""
        with self.reading() as connection:
            source = connection.connection.driver_connection
            if not isinstance(source, sqlite3.Connection):
                raise StoreError(f"{self.path} isn't a SQLite database")
            copy = sqlite3.connect(target)
            try:
                source.backup(copy)
            finally:
                copy.close()

    def close(self) -> None:
        """Let go; the write-ahead log is folded into the file, so that one file holds all."""
        if self._is_usable and not self.read_only:
            with self._engine.connect() as connection:
                connection.connection.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")
        self._engine.dispose()
        for room in self._copies:
            room.cleanup()
        self._copies.clear()
        self._copied = None


def _size(path: Path) -> int:
    """Size of a file in bytes; 0 where there is none, or none any more."""
    try:
        return path.stat().st_size
    except FileNotFoundError:
        return 0


def _connected(path: Path, query: str) -> sqlite3.Connection:
    return sqlite3.connect(f"{path.resolve().as_uri()}?{query}", uri=True, check_same_thread=False)


def _begin(connection: Connection) -> None:
    immediate = connection.get_execution_options().get("immediate")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if immediate else "BEGIN")
