"""Importers: the one that is shipped, those installed beside it, and which fits a file best.

A plug-in is one object under the entry-point group ``gaugewright.importers``, with a ``label``,
``match(head) -> Match(score, reason)``, ``tables(path)`` and ``as_text(path, table, folder)``:
it writes a file out as delimited text, which one reader then reads. One that can't be loaded
becomes a line in a list, never a failure of this package.
"""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from importlib.metadata import EntryPoint, entry_points
from pathlib import Path
from typing import Protocol, runtime_checkable

from gaugewright.errors import FileError
from gaugewright.sources.array_files import Hdf5File, MatFile
from gaugewright.sources.column_files import ArrowFile, ParquetFile
from gaugewright.sources.match import Match
from gaugewright.sources.tables import Table
from gaugewright.sources.workbook import Workbook

__all__ = [
    "GROUP",
    "HEAD_BYTES",
    "SHIPPED",
    "DelimitedText",
    "Importer",
    "Installed",
    "Match",
    "PluginProblem",
    "installed",
    "ranked",
]

GROUP = "gaugewright.importers"
HEAD_BYTES = 1 << 16


@runtime_checkable
class Importer(Protocol):
    """What a plug-in object offers."""

    label: str

    def match(self, head: bytes) -> Match:
        """Judge the first bytes of a file."""

    def tables(self, path: Path) -> tuple[Table, ...]:
        """Tables in a file; none for text, whose lines are one."""

    def as_text(self, path: Path, table: str, folder: Path, *, rows: int | None = None) -> Path:
        """Delimited text of a table, written into ``folder``; its first ``rows`` if given.

        The text is in UTF-8, divided by tabs, with points in its numbers. A file that is
        delimited text already is returned as it is.
        """


@dataclass(frozen=True, slots=True)
class PluginProblem:
    """A plug-in that can't be used, and why."""

    name: str
    what: str


@dataclass(frozen=True, slots=True)
class Installed:
    """Importers that can be used and plug-ins that can't."""

    importers: tuple[Importer, ...]
    problems: tuple[PluginProblem, ...]


class DelimitedText:
    """The importer for delimited text."""

    label = "delimited text"

    def match(self, head: bytes) -> Match:
        """Judge the first bytes of a file: text in lines, or not."""
        if not head.strip(b"\x00 \r\n\t\x1a"):
            return Match(0.0, "the file begins with nothing that can be read")
        if head.startswith((b"\xff\xfe", b"\xfe\xff")):
            return Match(0.5, "text in UTF-16")
        zeros = head.count(0)
        controls = sum(head.count(code) for code in range(1, 32) if code not in (9, 10, 13, 26))
        if zeros > 0.4 * len(head) and controls < 0.02 * len(head):
            return Match(0.4, "text in UTF-16 without a byte-order mark, or damaged")
        if controls + zeros > 0.02 * len(head):
            return Match(0.0, "control characters: the file isn't text")
        if b"\n" not in head and b"\r" not in head:
            return Match(0.1, "text, but no line ends in its beginning")
        return Match(0.5, "text in lines")

    def tables(self, path: Path) -> tuple[Table, ...]:
        """None: the lines of the file are the table."""
        return ()

    def as_text(self, path: Path, table: str, folder: Path, *, rows: int | None = None) -> Path:
        """Return the file itself."""
        return path


SHIPPED: tuple[Importer, ...] = (
    DelimitedText(),
    Workbook(),
    ParquetFile(),
    ArrowFile(),
    Hdf5File(),
    MatFile(),
)


def installed(found: Sequence[EntryPoint] | None = None) -> Installed:
    """Every importer, the shipped ones first.

    Parameters
    ----------
    found : sequence of EntryPoint, optional
        Those of the group ``gaugewright.importers`` when left out.
    """
    importers: list[Importer] = list(SHIPPED)
    problems: list[PluginProblem] = []
    for entry in entry_points(group=GROUP) if found is None else found:
        plugin, problem = _loaded(entry)
        if plugin is None:
            problems.append(PluginProblem(entry.name, problem))
        elif plugin.label in {importer.label for importer in importers}:
            words = f"its label {plugin.label!r} is already taken"
            problems.append(PluginProblem(entry.name, words))
        else:
            importers.append(plugin)
    return Installed(tuple(importers), tuple(problems))


def _loaded(entry: EntryPoint) -> tuple[Importer | None, str]:
    # A future holds whatever a plug-in raises, also exceptions of its own making; all are listed.
    with ThreadPoolExecutor(max_workers=1) as pool:
        loading = pool.submit(_made, entry)
    error = loading.exception()
    if error is not None:
        return None, f"it can't be loaded ({type(error).__name__}: {error})"
    plugin = loading.result()
    if not isinstance(plugin, Importer):
        return None, "it lacks label, match, tables or as_text"
    return plugin, ""


def _made(entry: EntryPoint) -> object:
    plugin = entry.load()
    return plugin() if isinstance(plugin, type) else plugin


def ranked(path: Path, importers: Sequence[Importer]) -> tuple[tuple[Importer, Match], ...]:
    """Importers that fit a file, best first; equals at the front are for a person to choose from.

    Raises
    ------
    FileError
        If the file can't be read or nothing fits it.
    """
    try:
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES)
    except OSError as error:
        raise FileError(path, f"can't be read ({error.strerror or error})") from error
    judged = [(importer, importer.match(head)) for importer in importers]
    fitting = [(importer, match) for importer, match in judged if match.score > 0]
    if not fitting:
        reasons = "; ".join(f"{importer.label}: {match.reason}" for importer, match in judged)
        raise FileError(path, "fits no importer", got=reasons, do="convert it to delimited text")
    return tuple(sorted(fitting, key=lambda pair: -pair[1].score))
