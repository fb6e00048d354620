"""Files of any kind: which importer fits, what was understood, and the reading of it.

Text is read as it is. Anything else is written out as delimited text first, by the importer that
fits best, so that both go through one reader: the same questions, the same marks, the same
account of every row.
"""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from gaugewright.errors import InputError
from gaugewright.sources import delimited, plugins
from gaugewright.sources.layout import Layout
from gaugewright.sources.plugins import Importer
from gaugewright.sources.proposal import proposal
from gaugewright.sources.tables import DELIMITER, Table, chosen
from gaugewright.sources.understanding import Evidence, Question, Stated, Understanding

__all__ = ["importer_for", "reading", "understand"]

SAMPLED_CELLS = 60_000
_FEWEST_ROWS = 200


def importer_for(path: Path, label: str = "") -> tuple[Importer, str]:
    """Importer of that label, or the one that fits best, and why.

    Raises
    ------
    FileError
        If the file can't be read or nothing fits it.
    InputError
        If there is none of that label, or several fit equally well.
    """
    importers = plugins.installed().importers
    if label:
        for importer in importers:
            if importer.label == label:
                return importer, "stated"
        known = ", ".join(importer.label for importer in importers)
        raise InputError("importer", label, f"one of {known}", "install the one it was read by")
    fitting = plugins.ranked(path, importers)
    best, match = fitting[0]
    equals = [other.label for other, judged in fitting if judged.score == match.score]
    if len(equals) > 1:
        raise InputError(
            f"importer of {path.name}", "not stated", f"one of {', '.join(equals)}", "state one"
        )
    return best, match.reason


def understand(path: Path | str, **structure: Any) -> Understanding:
    """Proposal for reading a file of any kind, as ``proposal.understand`` makes for text.

    Parameters
    ----------
    path : path
        The file.
    **structure
        What is stated rather than sought: ``importer`` by its label, ``table`` by its name in
        the file, and for text what ``delimited.understand`` takes.

    Raises
    ------
    FileError
        If the file can't be read, or holds no rows of readings.
    InputError
        If a stated part can't be used.
    MissingExtraError
        If its kind needs an extra that isn't installed.
    """
    return _understood(Path(path), Stated(**structure))


def _understood(path: Path, stated: Stated) -> Understanding:
    importer, why = importer_for(path, stated.importer or "")
    tables = importer.tables(path)
    if not tables:
        return replace(proposal(path, stated), again=_understood, importer=importer.label)
    _refuse_marks(path, importer.label, stated)
    table = chosen(path, tables, stated.table or "")
    rows = max(_FEWEST_ROWS, SAMPLED_CELLS // max(table.columns, 1))
    given = replace(
        stated, encoding="utf-8", delimiter=DELIMITER, decimal=".", thousands="", comment=""
    )
    with TemporaryDirectory() as folder:
        text = importer.as_text(path, table.name, Path(folder), rows=rows)
        with _named_after(path, text) as sample:
            seen = proposal(sample, given, marks_asked=False)
    size = path.stat().st_size
    share = 1.0 if table.rows <= rows else rows / table.rows
    return replace(
        seen,
        path=path,
        stated=stated,
        size_bytes=size,
        sampled_bytes=size if share == 1.0 else int(size * share),
        questions=(*_about_tables(tables, stated), *seen.questions),
        evidence=(Evidence(importer.label, why), *_about(table), *seen.evidence[1:]),
        again=_understood,
        importer=importer.label,
        table=table.name,
    )


@contextmanager
def reading(
    path: Path,
    layout: Layout,
    *,
    block_rows: int = 65_536,
    progress: Callable[[int, int], None] | None = None,
) -> Iterator[delimited.Reading]:
    """Blocks of a file of any kind; what was written out for it is gone afterwards.

    Parameters
    ----------
    path : path
        The file as received.
    layout : Layout
        What a person confirmed.
    block_rows : int
        Rows of every block but the last.
    progress : callable, optional
        Called with bytes done and bytes in all, of the text that is read.

    Raises
    ------
    FileError
        If the file can't be read.
    InputError
        If its importer isn't installed, or ``block_rows`` isn't positive.
    MissingExtraError
        If its kind needs an extra that isn't installed.
    """
    importer, _ = importer_for(path, layout.importer)
    with TemporaryDirectory() as folder:
        text = importer.as_text(path, layout.table, Path(folder))
        yield delimited.read(text, layout, block_rows=block_rows, progress=progress)


def _refuse_marks(path: Path, label: str, stated: Stated) -> None:
    """Refuse what only text has, stated for a file whose cells are already apart."""
    for name in ("encoding", "delimiter", "decimal", "thousands", "comment"):
        if getattr(stated, name) is not None:
            allowed = f"left out: {path.name} is read as {label}, whose cells are apart already"
            raise InputError(name, getattr(stated, name), allowed)


@contextmanager
def _named_after(path: Path, text: Path) -> Iterator[Path]:
    """Let what is said about the sample name the file that a person knows."""
    named = text.with_name(path.name)
    text.rename(named)
    yield named


def _about(table: Table) -> tuple[Evidence, ...]:
    name = f"table {table.name}" if table.name else "table"
    words = ", ".join((f"{table.rows} rows and {table.columns} columns", *_note(table)))
    return (Evidence(name, words),)


def _note(table: Table) -> tuple[str, ...]:
    return (table.note,) if table.note else ()


def _about_tables(tables: Sequence[Table], stated: Stated) -> tuple[Question, ...]:
    if len(tables) < 2 or stated.table:
        return ()
    told = ", ".join(
        f"{each.name} ({', '.join((f'{each.rows} rows', f'{each.columns} columns', *_note(each)))})"
        for each in tables
    )
    return (Question("table", f"which table? {told}", tuple(each.name for each in tables)),)
