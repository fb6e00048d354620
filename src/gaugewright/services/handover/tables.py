"""Results of a campaign in tables: one for each quantity, with what every number stands on."""

from dataclasses import dataclass
from datetime import datetime

from gaugewright.present.numbers import Shown
from gaugewright.records import Entry
from gaugewright.records.identity import Uid
from gaugewright.records.readings import Finding, LoadStep, Recording
from gaugewright.records.results import Chain, Result
from gaugewright.services.campaign.book import Book
from gaugewright.services.handover.answers import name_of_result
from gaugewright.services.showing.page import UNUSABLE, Page

__all__ = ["Line", "Table", "result_tables", "results_are_behind"]

# Title, and the quantities of results that stand in one table, in the order of the page.
_TABLES = (
    ("Onset of yield", ("yield load",)),
    ("Bar forces", ("force",)),
    ("Bond stress", ("bond stress",)),
    ("Plate stress", ("principal stress", "angle")),
)


@dataclass(frozen=True, slots=True)
class Line:
    """One result: ``number`` None with the reason in ``note``; the gauges it rests on."""

    uid: Uid
    name: str
    gauges: tuple[Uid, ...]
    state: str
    number: Shown | None
    cause: str
    zero: str
    criterion: str
    note: str
    counts: bool


@dataclass(frozen=True, slots=True)
class Table:
    """Results of one quantity; ``unit`` is "" where they don't share one."""

    title: str
    unit: str
    places: int
    lines: tuple[Line, ...]


def result_tables(page: Page) -> tuple[Table, ...]:
    """Every result, those with a number first; quantities of no table of their own come last."""
    every = page.book.of(Result)
    known = {quantity for _, quantities in _TABLES for quantity in quantities}
    found = dict.fromkeys(entry.record.quantity for entry in every)
    others = [quantity for quantity in found if quantity not in known]
    plan = [*_TABLES, *((quantity.capitalize(), (quantity,)) for quantity in others)]
    tables = (
        _table(page, title, [e for e in every if e.record.quantity in quantities])
        for title, quantities in plan
    )
    return tuple(table for table in tables if table.lines)


def _table(page: Page, title: str, results: list[Entry[Result]]) -> Table:
    # Means and pairs answer questions; single gauges and what has no number come after them.
    results.sort(key=lambda e: (e.record.value is None, -len(e.record.subjects)))
    lines = tuple(_line(page, result) for result in results)
    numbers = [line.number for line in lines if line.number is not None]
    units = {number.unit for number in numbers}
    places = max((len(number.value.partition(".")[2]) for number in numbers), default=0)
    return Table(title, units.pop() if len(units) == 1 else "", min(places, 3), lines)


def _line(page: Page, entry: Entry[Result]) -> Line:
    result = entry.record
    worst = page.worst(result.subjects)
    return Line(
        entry.uid,
        name_of_result(result),
        result.subjects,
        worst.value,
        page.result(result),
        result.main_cause,
        result.zero,
        result.criterion,
        result.note,
        worst not in UNUSABLE,
    )


def results_are_behind(book: Book, reduced: datetime | None = None) -> bool:
    """Whether a recording, load step or finding is newer than what was reduced, or nothing was.

    ``reduced`` is when work that reduced the campaign last ended: where nothing changed by it,
    no result is newer.
    """
    results = [entry.at for entry in book.of(Result)]
    results += [entry.at for entry in book.of(Chain)]
    known = max([*results, *([reduced] if reduced and results else [])], default=None)
    later = [entry.at for entry in book.of(Recording)]
    later += [entry.at for entry in book.of(Finding)]
    later += [entry.at for entry in book.of(LoadStep)]
    return bool(later) and (known is None or max(later) > known)
