"""Column files in the open formats Parquet and Arrow, written out as text.

Numbers are written with as many digits as bring back the same 64-bit float; one of 32 bits is
widened first, so that what is read is what was stored. Instants with a zone are written in UTC.
"""

from collections.abc import Callable
from pathlib import Path

import polars as pl

from gaugewright.errors import FileError
from gaugewright.sources.match import Match
from gaugewright.sources.tables import DELIMITER, Table

__all__ = ["ArrowFile", "ParquetFile"]

_CHUNK = 65_536
_STREAM = b"\xff\xff\xff\xff"  # what every message of a stream begins with
Scan = Callable[[Path], pl.LazyFrame]


class ParquetFile:
    """The importer for Parquet."""

    label = "Parquet"

    def match(self, head: bytes) -> Match:
        """Judge the first bytes."""
        if head.startswith(b"PAR1"):
            return Match(1.0, "it begins as Parquet does")
        return Match(0.0, "it doesn't begin as Parquet does")

    def tables(self, path: Path) -> tuple[Table, ...]:
        """The one table there is.

        Raises
        ------
        FileError
            If it can't be read.
        """
        return (_table(path, pl.scan_parquet),)

    def as_text(self, path: Path, table: str, folder: Path, *, rows: int | None = None) -> Path:
        """Write it as delimited text into ``folder``; only its first ``rows`` if given.

        Raises
        ------
        FileError
            If it can't be read, or a column holds lists.
        """
        return _written(path, pl.scan_parquet, folder, rows)


class ArrowFile:
    """The importer for Arrow, as a file or as a stream."""

    label = "Arrow"

    def match(self, head: bytes) -> Match:
        """Judge the first bytes."""
        if head.startswith(b"ARROW1"):
            return Match(1.0, "it begins as an Arrow file does")
        if head.startswith(_STREAM):
            return Match(0.6, "it begins as an Arrow stream may")
        return Match(0.0, "it begins neither as an Arrow file nor as an Arrow stream")

    def tables(self, path: Path) -> tuple[Table, ...]:
        """The one table there is.

        Raises
        ------
        FileError
            If it can't be read.
        """
        return (_table(path, _arrow),)

    def as_text(self, path: Path, table: str, folder: Path, *, rows: int | None = None) -> Path:
        """Write it as delimited text into ``folder``; only its first ``rows`` if given.

        Raises
        ------
        FileError
            If it can't be read, or a column holds lists.
        """
        return _written(path, _arrow, folder, rows)


def _arrow(path: Path) -> pl.LazyFrame:
    with path.open("rb") as file:
        is_stream = file.read(len(_STREAM)) == _STREAM
    return pl.read_ipc_stream(path).lazy() if is_stream else pl.scan_ipc(path)


def _table(path: Path, scan: Scan) -> Table:
    try:
        frame = scan(path)
        columns = len(_flat(frame).collect_schema())
        rows = int(frame.select(pl.len()).collect().item())
    except (pl.exceptions.PolarsError, OSError) as error:
        raise _unreadable(path, error) from error
    return Table("", rows, columns)


def _written(path: Path, scan: Scan, folder: Path, rows: int | None) -> Path:
    target = folder / "columns.txt"
    try:
        frame = _flat(scan(path))
        schema = frame.collect_schema()
        _refuse_nested(path, schema)
        frame = frame.select(
            _as_text(name, kind).alias(_head(name, kind)) for name, kind in schema.items()
        )
        if rows is not None:
            frame = frame.head(rows)
        frame.sink_csv(target, separator=DELIMITER, batch_size=_CHUNK, null_value="")
    except (pl.exceptions.PolarsError, OSError) as error:
        raise _unreadable(path, error) from error
    return target


def _flat(frame: pl.LazyFrame) -> pl.LazyFrame:
    """Fields of structures as columns named after both, however deep they lie."""
    while any(isinstance(kind, pl.Struct) for kind in frame.collect_schema().values()):
        parts: list[pl.Expr] = []
        for name, kind in frame.collect_schema().items():
            if isinstance(kind, pl.Struct):
                inside = pl.col(name).struct
                parts += [inside.field(f.name).alias(f"{name} {f.name}") for f in kind.fields]
            else:
                parts.append(pl.col(name))
        frame = frame.select(parts)
    return frame


def _head(name: str, kind: pl.DataType) -> str:
    """Name as it is written above a column: a time span is written in seconds, and says so."""
    plain = " ".join(name.split())
    return f"{plain} [s]" if isinstance(kind, pl.Duration) else plain


def _as_text(name: str, kind: pl.DataType) -> pl.Expr:
    column = pl.col(name)
    if isinstance(kind, pl.Datetime):
        if kind.time_zone is None:
            return column.dt.to_string("%Y-%m-%dT%H:%M:%S%.f")
        return column.dt.convert_time_zone("UTC").dt.to_string("%Y-%m-%dT%H:%M:%S%.fZ")
    if isinstance(kind, pl.Duration):
        return column.dt.total_nanoseconds() / 1e9
    if kind == pl.Float32:
        return column.cast(pl.Float64)
    if isinstance(kind, pl.Categorical | pl.Enum):
        return column.cast(pl.String)
    if isinstance(kind, pl.Binary):
        return column.bin.encode("hex")
    return column


def _refuse_nested(path: Path, schema: pl.Schema) -> None:
    nested = [name for name, kind in schema.items() if kind.is_nested()]
    if nested:
        problem = f"has columns that hold lists: {', '.join(nested)}"
        raise FileError(path, problem, do="write one plain column for each channel")


def _unreadable(path: Path, error: Exception) -> FileError:
    words = str(error).strip().splitlines()[0][:200] if str(error).strip() else "no reason given"
    return FileError(path, f"can't be read ({words})", do="copy it again from where it was written")
