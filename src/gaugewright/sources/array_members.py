"""Which channels do structures, cells and packed numbers of an array file hold?

A structure for each channel (name, unit, readings), a cell for each text, a cell for each vector
and whole numbers packed by a factor are how many programs write what is one table. Here each
becomes vectors with a name and a unit; nothing is guessed from how large a number is.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from gaugewright.extras import needs
from gaugewright.sources.tables import text_of

__all__ = ["Unpacked", "Vector", "is_plain", "length_of", "members_of", "texts_of", "unpacked"]

Anything = npt.NDArray[Any]

# Fields of a channel's structure in which programs write its name and its unit.
_NAMES = ("name", "label", "channel", "title")
_UNITS = ("unit", "units")
# How version 7.3 says what a dataset is; the first word of these attributes is a program's name.
_KIND, _NOTHING = "_class", "_empty"


@dataclass(frozen=True, slots=True)
class Vector:
    """Readings or texts of one channel: something with a shape that gives its rows."""

    name: str
    unit: str
    item: Any


class Unpacked:
    """Numbers that were packed: each times a factor, plus an offset; one number means nothing.

    As the CF conventions for NetCDF say it (version 1.11, section 8.1 "Packed data", and 2.5.1
    for ``_FillValue`` and ``missing_value``): both factor and offset apply to what is no filling.
    """

    def __init__(self, item: Any, factor: float, offset: float, nothing: Sequence[float]) -> None:
        self._item, self._factor, self._offset = item, factor, offset
        self._nothing = tuple(nothing)
        self.shape: tuple[int, ...] = tuple(item.shape)
        self.ndim = len(self.shape)
        self.dtype = np.dtype(np.float64)
        self.attrs: Mapping[str, Any] = item.attrs

    def __getitem__(self, place: Any) -> Anything:
        """Rows as the numbers they stand for, NaN for none."""
        raw = np.asarray(self._item[place])
        values = raw.astype(np.float64) * self._factor + self._offset
        for number in self._nothing:
            values = np.where(raw == number, np.nan, values)
        return np.asarray(values)


def unpacked(item: Any) -> Any:
    """The dataset, or what its packed numbers stand for where its attributes say they are."""
    attributes = item.attrs
    keys = ("scale_factor", "add_offset", "_FillValue", "missing_value")
    if item.dtype.kind not in "fiu" or not any(key in attributes for key in keys):
        return item
    factor, offset = (
        float(np.ravel(attributes[key])[0]) if key in attributes else usual
        for key, usual in (("scale_factor", 1.0), ("add_offset", 0.0))
    )
    nothing = [np.ravel(attributes[key])[0] for key in keys[2:] if key in attributes]
    return Unpacked(item, factor, offset, nothing)


def is_plain(kind: np.dtype[Any]) -> bool:
    """Whether cells are numbers or text; text of any length is an object with a note of it."""
    notes: Mapping[str, Any] = kind.metadata or {}
    as_text = notes.get("vlen") in (str, bytes)
    return kind.kind in "fiubSU" or as_text


def length_of(shape: Sequence[int]) -> int:
    """Length of a vector, also one written as a matrix of one row or column; 0 if it is none."""
    long = [size for size in shape if size != 1]
    return long[0] if len(long) == 1 and long[0] > 1 else 0


def _is_vector(item: Any) -> bool:
    shape, kind = getattr(item, "shape", None), getattr(item, "dtype", None)
    return shape is not None and kind is not None and is_plain(kind) and length_of(shape) > 0


def members_of(key: str, cells: Sequence[Any]) -> Iterator[Vector]:
    """Vectors of a list of structures, of texts, or of vectors; nothing of any other list.

    Examples
    --------
    >>> [v.name for v in members_of("ch", [{"name": "SG1", "data": np.arange(3.0)}, {}])]
    ['SG1']
    """
    if not len(cells):
        return
    if all(isinstance(cell, str) for cell in cells):
        if len(cells) > 1:
            yield Vector(key, "", np.asarray(list(cells), dtype=np.str_))
        return
    for number, cell in enumerate(cells, start=1):
        label = f"{key} {number}"
        if isinstance(cell, Mapping):
            yield from _of_structure(label, cell)
        elif _is_vector(cell):
            yield Vector(label, "", cell)


def _of_structure(label: str, cell: Mapping[str, Any]) -> Iterator[Vector]:
    """Vectors of one structure; its unit is theirs only where there is one vector of numbers."""
    name = next((cell[k] for k in _NAMES if isinstance(cell.get(k), str) and cell[k]), label)
    unit = next((cell[k] for k in _UNITS if isinstance(cell.get(k), str)), "")
    vectors = {key: item for key, item in cell.items() if _is_vector(item)}
    if len(vectors) == 1:
        yield Vector(name, unit, *vectors.values())
        return
    for key, item in vectors.items():
        yield Vector(f"{name} {key}", "", item)


def _said(item: Any, what: str) -> Any:
    """What an attribute says whose name ends so, None where there is none."""
    return next((item.attrs[key] for key in item.attrs if key.endswith(what)), None)


def texts_of(key: str, group: Any, item: Any) -> tuple[bool, list[Vector]]:
    """Whether a dataset or group isn't to be read as it stands, and the vectors it means.

    Version 7.3 keeps texts as numbers of letters, and cells and structures as references.
    """
    h5py = needs("h5py", extra="interop", to="read HDF5 files")
    if _said(item, _NOTHING) is not None and np.all(_said(item, _NOTHING)):
        return True, []
    if isinstance(item, h5py.Group):
        return _of_references(key, group, item)
    if h5py.check_ref_dtype(item.dtype) is not None:
        return True, list(members_of(key, _followed(group, item)))
    if _kind(item) == "char":
        letters = np.asarray(item[()])
        rows = [_word(column) for column in letters.T] if letters.ndim == 2 else []
        return True, list(members_of(key, rows))
    return False, []


def _of_references(key: str, group: Any, item: Any) -> tuple[bool, list[Vector]]:
    """A structure for each of several channels: one dataset of references for each field."""
    h5py = needs("h5py", extra="interop", to="read HDF5 files")
    fields = {
        name: field
        for name, field in item.items()
        if isinstance(field, h5py.Dataset)
        and h5py.check_ref_dtype(field.dtype) is not None
        and not _kind(field)
    }
    if not fields or len(fields) != len(item) or len({f.size for f in fields.values()}) > 1:
        return False, []
    columns = [_followed(group, field) for field in fields.values()]
    cells = [dict(zip(fields, row, strict=True)) for row in zip(*columns, strict=True)]
    return True, list(members_of(key, cells))


def _kind(item: Any) -> str:
    said = _said(item, _KIND)
    return "" if said is None else text_of(said if isinstance(said, str) else bytes(said))


def _followed(group: Any, item: Any) -> list[Any]:
    """What references lead to: texts as such, anything else as the file has it."""
    found = []
    for reference in np.ravel(item[()]).tolist():
        there = group.file[reference] if reference else None
        found.append(_word(there[()]) if there is not None and _kind(there) == "char" else there)
    return found


def _word(letters: Anything) -> str:
    return "".join(chr(int(letter)) for letter in np.ravel(letters)).rstrip(" \0")
