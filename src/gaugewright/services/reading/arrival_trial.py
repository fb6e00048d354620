"""What would come of a waiting file: which importers fit it, and a trial that keeps nothing."""

import itertools
from dataclasses import dataclass
from pathlib import Path

from gaugewright.errors import FileError
from gaugewright.services.reading.arrivals import Arrival, bytes_of, named_as_it_came
from gaugewright.sources import delimited, files, plugins
from gaugewright.sources.blocks import SHOWN, RowProblem
from gaugewright.store.campaign import CampaignStore

__all__ = ["Fitting", "Trial", "beginning", "fitting", "tried"]

TRIED_ROWS = 200_000
_PROBLEMS = 12
_LINES = 15
_HEAD = 1 << 14


@dataclass(frozen=True, slots=True)
class Fitting:
    """An importer that fits a file, how well, and why."""

    label: str
    score: float
    reason: str


@dataclass(frozen=True, slots=True)
class Trial:
    """What a reading of a file tells before anything is brought in.

    ``troubles`` are sentences on the rows looked through, ``problems`` the first lines that are
    no rows, of ``problem_count``; ``is_whole`` when all rows were looked through.
    """

    rows: int
    is_whole: bool
    troubles: tuple[str, ...]
    problems: tuple[RowProblem, ...]
    problem_count: int


def fitting(store: CampaignStore, one: Arrival) -> tuple[Fitting, ...]:
    """Importers that fit a waiting file, the best first; equals stand beside each other.

    Raises
    ------
    FileError
        If none does.
    """
    with named_as_it_came(one):
        found = plugins.ranked(bytes_of(store, one), plugins.installed().importers)
    return tuple(Fitting(importer.label, match.score, match.reason) for importer, match in found)


def beginning(store: CampaignStore, one: Arrival) -> tuple[str, ...]:
    """First lines of a waiting file as far as they can be shown, whatever they are."""
    with bytes_of(store, one).open("rb") as file:
        head = file.read(_HEAD)
    encoding = "utf-16" if head.startswith((b"\xff\xfe", b"\xfe\xff")) else "utf-8"
    lines = head.decode(encoding, errors="backslashreplace").splitlines()[:_LINES]
    return tuple("".join(c if c.isprintable() else "·" for c in line)[:SHOWN] for line in lines)


def tried(store: CampaignStore, one: Arrival, layout: delimited.Layout) -> Trial:
    """Read a waiting file as it would be brought in, up to ``TRIED_ROWS`` rows, keeping nothing.

    Raises
    ------
    FileError, InputError
        If it can't be read so.
    """
    path: Path = bytes_of(store, one)
    problems: list[RowProblem] = []
    with named_as_it_came(one), files.reading(path, layout) as reading:
        for block in reading:
            problems += itertools.islice(block.problems, _PROBLEMS - len(problems))
            if reading.report.rows_kept >= TRIED_ROWS:
                break
    report = reading.report
    troubles = report.findings()
    if not report.complete:
        troubles = tuple(words for words in troubles if not words.startswith("the last line"))
    if report.complete and not report.rows_kept and not troubles:
        raise FileError(one.name, "holds no rows", do="state its first line of readings")
    return Trial(report.rows_kept, report.complete, troubles, tuple(problems), report.rows_reported)
