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
from gaugewright.sources.tables import COMMA, DELIMITER, OPEN_COMMA, Table, chosen
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
    table = chosen(path, tables, stated.table or "")
    rows = max(_FEWEST_ROWS, SAMPLED_CELLS // max(table.columns, 1))
    given = replace(
        stated,
        encoding="utf-8",
        delimiter=DELIMITER,
        decimal=".",
        thousands="," if stated.decimal == "." else "",
        comment="",
    )
    with TemporaryDirectory() as folder:
        text = importer.as_text(path, table.name, Path(folder), rows=rows)
        commas = _open_commas(text)
        text = _with_points(text) if stated.decimal == "," else text
        with _named_after(path, text) as sample:
            seen = proposal(sample, given, marks_asked=False)
    commas = [(line, cell) for line, cell in commas if line >= seen.first_data_row]
    _refuse_marks(path, importer.label, stated, asked=bool(commas))
    size = path.stat().st_size
    return replace(
        seen,
        path=path,
        stated=stated,
        size_bytes=size,
        sampled_bytes=size if table.rows <= rows else int(size * rows / table.rows),
        decimal=stated.decimal or seen.decimal,
        questions=(*_about_tables(tables, stated), *_about_commas(commas, stated), *seen.questions),
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
        if text != path and layout.decimal == ",":
            text, layout = _with_points(text), replace(layout, decimal=".")
        yield delimited.read(text, layout, block_rows=block_rows, progress=progress)


def _open_commas(text: Path) -> list[tuple[int, str]]:
    """Lines and cells whose comma may be a decimal mark or may divide thousands.

    Numbers that are stored as numbers come with a point, so that only numbers kept as text can be.
    """
    with text.open(encoding="utf-8", newline="") as lines:
        return [
            (number, cell.strip())
            for number, line in enumerate(lines, start=1)
            if "," in line
            for cell in line.rstrip("\r\n").split(DELIMITER)
            if OPEN_COMMA.fullmatch(cell)
        ]


def _about_commas(commas: Sequence[tuple[int, str]], stated: Stated) -> tuple[Question, ...]:
    if not commas or stated.decimal:
        return ()
    line, cell = commas[0]
    what = (
        f"is {cell} in row {line} a number with three decimals (,), "
        "or does its comma divide thousands (.)?"
    )
    return (Question("decimal", what, (",", ".")),)


def _with_points(text: Path) -> Path:
    """The same text with points for decimal commas in its numbers."""
    pointed = text.with_name(f"points {text.name}")
    with (
        text.open(encoding="utf-8", newline="") as lines,
        pointed.open("w", encoding="utf-8", newline="") as out,
    ):
        for line in lines:
            body = line.rstrip("\r\n")
            cells = body.split(DELIMITER)
            cells = [c.replace(",", ".") if COMMA.fullmatch(c) else c for c in cells]
            out.write(DELIMITER.join(cells) + line[len(body) :])
    return pointed


def _refuse_marks(path: Path, label: str, stated: Stated, *, asked: bool) -> None:
    """Refuse what only text has, stated for a file whose cells are already apart."""
    for name in ("encoding", "delimiter", "decimal", "thousands", "comment"):
        if name == "decimal" and asked and stated.decimal in (",", "."):
            continue  # asked about, and answered
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
