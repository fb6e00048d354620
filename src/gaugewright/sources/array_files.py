"""Array files: HDF5, and MAT in its versions 5 and 7.3, written out as text.

A table here is what belongs together: all vectors of one length in one group or structure, or one
matrix, each of whose columns is a channel. Attributes ``unit`` or ``units`` of a dataset become
the row of units, and numbers that attributes say are packed are written as what they stand for.
Nothing else is taken from attributes: a rate or a start that somebody wrote there is asked about
like any other.
"""

import zlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import scipy.io

from gaugewright.errors import FileError
from gaugewright.extras import needs
from gaugewright.sources.array_members import (
    Vector,
    is_plain,
    length_of,
    members_of,
    texts_of,
    unpacked,
)
from gaugewright.sources.match import Match
from gaugewright.sources.tables import Table, chosen, line, text_of

__all__ = ["Hdf5File", "MatFile"]

Anything = npt.NDArray[Any]
_CHUNK = 65_536
_MAT_TROUBLES = (
    scipy.io.matlab.MatReadError,
    ValueError,
    TypeError,
    NotImplementedError,
    OSError,
    EOFError,
    KeyError,
    MemoryError,
    zlib.error,
)
_HDF5 = b"\x89HDF\r\n\x1a\n"
_MAT_MARK = slice(126, 128)  # where version 5 states its byte order, by the letters M and I
_MAT_VERSION = slice(124, 126)


@dataclass(frozen=True, slots=True)
class _Channels:
    """Columns of one table: names, units, and how to read rows of each."""

    name: str
    rows: int
    names: tuple[str, ...]
    units: tuple[str, ...]
    part: Callable[[int, int], Sequence[Anything]]

    @property
    def table(self) -> Table:
        return Table(self.name, self.rows, len(self.names))


class Hdf5File:
    """The importer for HDF5; needs the extra ``interop``."""

    label = "HDF5"

    def match(self, head: bytes) -> Match:
        """Judge the first bytes; the signature may stand at 512, 1024 and so on."""
        places = (0, *(512 << n for n in range(7)))
        if any(head[place : place + 8] == _HDF5 for place in places):
            return Match(0.9, "it has the signature of HDF5")
        return Match(0.0, "it hasn't the signature of HDF5")

    def tables(self, path: Path) -> tuple[Table, ...]:
        """Groups of vectors of one length, and matrices.

        Raises
        ------
        FileError
            If it can't be read.
        MissingExtraError
            Without the extra.
        """
        with _hdf5(path) as file:
            return tuple(found.table for found in _in_group(file, ""))

    def as_text(self, path: Path, table: str, folder: Path, *, rows: int | None = None) -> Path:
        """Write a table as delimited text into ``folder``; only its first ``rows`` if given.

        Raises
        ------
        FileError
            If it can't be read or holds no table.
        InputError
            If there is no table of that name.
        MissingExtraError
            Without the extra.
        """
        with _hdf5(path) as file:
            found = {channels.name: channels for channels in _in_group(file, "")}
            name = chosen(path, [channels.table for channels in found.values()], table).name
            return _written(found[name], folder, rows)


class MatFile:
    """The importer for MAT of version 5; version 7.3 is HDF5 and is read as that."""

    label = "MAT"

    def match(self, head: bytes) -> Match:
        """Judge the first 128 bytes."""
        if head[_MAT_MARK] not in (b"IM", b"MI") or len(head) < 128:
            return Match(0.0, "its byte 126 doesn't say a byte order as MAT files do")
        version = head[_MAT_VERSION]
        if version in (b"\x00\x02", b"\x02\x00"):
            return Match(0.1, "MAT of version 7.3, which is HDF5")
        return Match(0.9, "it begins as MAT of version 5 does")

    def tables(self, path: Path) -> tuple[Table, ...]:
        """Variables of one length together, matrices, and structures of vectors.

        Raises
        ------
        FileError
            If it can't be read.
        """
        return tuple(found.table for found in _in_mapping(_mat(path), ""))

    def as_text(self, path: Path, table: str, folder: Path, *, rows: int | None = None) -> Path:
        """Write a table as delimited text into ``folder``; only its first ``rows`` if given.

        Raises
        ------
        FileError
            If it can't be read or holds no table.
        InputError
            If there is no table of that name.
        """
        found = {channels.name: channels for channels in _in_mapping(_mat(path), "")}
        name = chosen(path, [channels.table for channels in found.values()], table).name
        return _written(found[name], folder, rows)


def _written(channels: _Channels, folder: Path, rows: int | None) -> Path:
    target = folder / "arrays.txt"
    last = channels.rows if rows is None else min(rows, channels.rows)
    with target.open("w", encoding="utf-8", newline="") as file:
        file.write(line(channels.names))
        if any(channels.units):
            file.write(line(channels.units))
        for first in range(0, last, _CHUNK):
            columns = [part.tolist() for part in channels.part(first, min(first + _CHUNK, last))]
            file.writelines(line(row) for row in zip(*columns, strict=True))
    return target


@contextmanager
def _hdf5(path: Path) -> Iterator[Any]:
    h5py = needs("h5py", extra="interop", to="read HDF5 files")
    try:
        file = h5py.File(path, "r")
    except OSError as error:
        do = "copy it again from where it was written"
        raise FileError(path, f"can't be read as HDF5 ({error})", do=do) from error
    with file:
        yield file


def _in_group(group: Any, name: str) -> Iterator[_Channels]:
    h5py = needs("h5py", extra="interop", to="read HDF5 files")
    vectors: list[Vector] = []
    for key, item in group.items():
        if key.startswith("#"):
            continue  # where references are kept, never a person's data
        place = f"{name}/{key}" if name else key
        meant, found = texts_of(key, group, item)
        vectors += found
        if meant:
            continue
        if isinstance(item, h5py.Group):
            yield from _in_group(item, place)
        elif isinstance(item, h5py.Dataset):
            if item.dtype.names:
                yield _of_fields(place, item)
            elif is_plain(item.dtype) and length_of(item.shape):
                vectors.append(Vector(key, _unit(item), unpacked(item)))
            elif is_plain(item.dtype) and len(item.shape) == 2:
                yield _of_matrix(place, unpacked(item), _units(item))
    yield from _of_vectors(name, vectors)


def _in_mapping(found: Mapping[str, Any], name: str) -> Iterator[_Channels]:
    vectors: list[Vector] = []
    for key, item in found.items():
        place = f"{name}/{key}" if name else key
        if isinstance(item, dict):
            yield from _in_mapping(item, place)
        elif isinstance(item, list):
            vectors += members_of(key, item)
        elif isinstance(item, np.ndarray) and item.dtype == object:
            vectors += members_of(key, item.ravel().tolist())
        elif isinstance(item, np.ndarray) and is_plain(item.dtype):
            if length_of(item.shape):
                vectors.append(Vector(key, "", item))
            elif item.ndim == 2:
                yield _of_matrix(place, item, ())
    yield from _of_vectors(name, vectors)


def _of_vectors(name: str, vectors: Sequence[Vector]) -> Iterator[_Channels]:
    """A table for each length; where there are several the length is part of the name."""
    by_length: dict[int, list[Vector]] = {}
    for vector in vectors:
        by_length.setdefault(length_of(vector.item.shape), []).append(vector)
    told = {
        length: members
        for length, members in by_length.items()
        if any(member.item.dtype.kind in "fiub" for member in members)
    }
    # Names of channels beside their readings are no table; where all is text, that is read.
    for length, members in (told or by_length).items():
        label = name or "variables"
        yield _of_one_length(
            f"{label} of {length} rows" if len(told or by_length) > 1 else label, length, members
        )


def _of_one_length(label: str, length: int, members: Sequence[Vector]) -> _Channels:
    def part(first: int, last: int) -> list[Anything]:
        return [_rows_of(member.item, first, last) for member in members]

    names = tuple(member.name for member in members)
    return _Channels(label, length, names, tuple(member.unit for member in members), part)


def _of_matrix(name: str, item: Any, units: Sequence[str]) -> _Channels:
    """A matrix: the longer side is time, as every recorder writes more samples than channels."""
    upright = item.shape[0] >= item.shape[1]
    rows, width = item.shape if upright else item.shape[::-1]

    def part(first: int, last: int) -> list[Anything]:
        block = np.asarray(item[first:last] if upright else item[:, first:last].T)
        return [block[:, column] for column in range(width)]

    key = name.rpartition("/")[2]
    names = tuple(f"{key} {number}" for number in range(1, width + 1))
    given = tuple(units) if len(units) == width else ("",) * width
    return _Channels(name, rows, names, given, part)


def _of_fields(name: str, item: Any) -> _Channels:
    """A one-dimensional dataset of records, each of whose plain fields is a channel."""
    names = tuple(key for key in item.dtype.names if is_plain(item.dtype[key]))

    def part(first: int, last: int) -> list[Anything]:
        block = item[first:last]
        return [np.asarray(block[key]).reshape(len(block)) for key in names]

    return _Channels(name, int(item.shape[0]), names, ("",) * len(names), part)


def _rows_of(item: Any, first: int, last: int) -> Anything:
    if len(item.shape) == 1:
        return np.asarray(item[first:last])
    along = int(np.argmax(item.shape))
    place = tuple(slice(first, last) if axis == along else 0 for axis in range(len(item.shape)))
    return np.asarray(item[place])


def _unit(item: Any) -> str:
    found = _units(item)
    return found[0] if len(found) == 1 else ""


def _units(item: Any) -> tuple[str, ...]:
    attributes = getattr(item, "attrs", {})
    for key in ("unit", "units", "Unit", "Units"):
        if key in attributes:
            given = np.atleast_1d(attributes[key]).tolist()
            return tuple(text_of(unit) for unit in given)
    return ()


def _mat(path: Path) -> dict[str, Any]:
    try:
        found = scipy.io.loadmat(path, simplify_cells=True)
    except _MAT_TROUBLES as error:
        do = "copy it again, or save it as version 7.3 or as text"
        raise FileError(path, f"can't be read as MAT ({error})", do=do) from error
    return {key: value for key, value in found.items() if not key.startswith("__")}
