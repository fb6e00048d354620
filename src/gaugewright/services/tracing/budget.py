"""What is each reported number's uncertainty made of, and what would reduce it?

Read from the result as it was written down, so that a budget always belongs to its number.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

from gaugewright.calc.budget import Budget, BudgetLine
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError
from gaugewright.present.captions import share_text
from gaugewright.present.numbers import fixed_text, shown, significant_text
from gaugewright.present.units_shown import UnitShown, quantity_shown, unit_shown
from gaugewright.records import Entry, kind_said, label_of
from gaugewright.records.electrical import Connection
from gaugewright.records.identity import Ref, Uid
from gaugewright.records.results import BudgetInput, Result
from gaugewright.report.document import BudgetRow, BudgetTable, InputRow
from gaugewright.services.campaign.book import Book
from gaugewright.services.showing.page import Page
from gaugewright.services.tracing.evidence import short_id

__all__ = [
    "budget_of",
    "budget_table",
    "budgets_elsewhere",
    "expanded_if_halved",
    "input_rows",
    "report_budgets",
    "result_named",
    "source_words",
]

# A cause with a smaller share of the variance goes into one line with its likes in a report.
SMALL = 0.01
UNBUDGETED = "reduce the campaign again: this result was written before budgets were kept"


def result_named(book: Book, name: str) -> Entry[Result]:
    """Result by its uid or its label.

    Raises
    ------
    InputError
        If there is none, with the labels that there are.
    """
    by_uid = book.found(Uid(name))
    if by_uid is not None and isinstance(by_uid.record, Result):
        return by_uid
    return book.labelled(Result, name)


def budget_of(entry: Entry[Result]) -> Uncertain:
    """A result's value with every cause that was kept with it.

    Raises
    ------
    InputError
        If the result has no value, or none of its causes were kept.
    """
    result = entry.record
    if result.value is None:
        raise InputError(f"value of {result.label}", "none", "worked out", result.note)
    if not result.budget and result.expanded_uncertainty:
        raise InputError(f"budget of {result.label}", "none", "kept with the result", UNBUDGETED)
    inputs = {line.input: _cause(line) for line in result.budget if line.input}
    base = Uncertain.exact(result.value)
    slopes = {
        line.input: Uncertain.exact(line.sensitivity).value for line in result.budget if line.input
    }
    noise = math.hypot(*(line.standard_uncertainty for line in result.budget if not line.input))
    return Uncertain(base.value, slopes, Uncertain.exact(noise).value, inputs)


def _cause(line: BudgetInput) -> InputQuantity:
    return InputQuantity(
        line.input,
        line.standard_uncertainty,
        math.inf if line.degrees_of_freedom is None else line.degrees_of_freedom,
        line.distribution,
        line.basis,
        line.meaning,
    )


def budget_table(page: Page, entry: Entry[Result], *, smallest: float = 0.0) -> BudgetTable:
    """Budget of one result; causes with less than ``smallest`` of the variance together.

    Raises
    ------
    InputError
        As ``budget_of``.
    """
    result = entry.record
    value = budget_of(entry)
    budget = value.budget(coverage=result.coverage)
    number = page.number(budget.value, budget.expanded or None, result.unit)
    kept = [line for line in budget.lines if budget.share(line) >= smallest]
    small = [line for line in budget.lines if budget.share(line) < smallest]
    rest = ""
    if small:
        rest = f"{len(small)} smaller causes: {share_text(sum(map(budget.share, small)))} together"
    return BudgetTable(
        result.label,
        number,
        _terms(page, budget, result),
        tuple(_row(page, value, budget, line, result) for line in kept),
        rest,
        short_id(entry.uid),
    )


def _terms(page: Page, budget: Budget, result: Result) -> str:
    if not budget.standard_uncertainty:
        return "no cause of uncertainty is known"
    one = _in_result_unit(page, budget.standard_uncertainty, result)
    factor = fixed_text(budget.expanded / budget.standard_uncertainty, 2)
    return (
        f"standard uncertainty {one}, {_freedom(budget.degrees_of_freedom)}; "
        f"times {factor} for {share_text(budget.coverage)}"
    )


def _row(
    page: Page,
    value: Uncertain,
    budget: Budget,
    line: BudgetLine,
    result: Result,
) -> BudgetRow:
    half = expanded_if_halved(value, line.input, budget.coverage)
    return BudgetRow(
        line.meaning,
        _belongs_to(page.book, line.input),
        line.basis,
        _sensitivity(page, next(one for one in result.budget if one.input == line.input), result),
        _in_result_unit(page, line.contribution, result),
        share_text(budget.share(line)),
        f"± {_in_result_unit(page, half, result)}" if half else "no uncertainty",
    )


def expanded_if_halved(value: Uncertain, name: str, coverage: float) -> float:
    """Expanded uncertainty that is left when one cause is known twice as well."""
    return _halved(value, name).expanded(coverage).item()


def _halved(value: Uncertain, name: str) -> Uncertain:
    """The same value with one cause known twice as well."""
    if not name:
        return replace(value, noise=value.noise / 2)
    cause = value.inputs[name]
    better = replace(cause, standard_uncertainty=cause.standard_uncertainty / 2)
    return replace(value, inputs={**value.inputs, name: better})


def _freedom(freedom: float) -> str:
    if math.isinf(freedom) or freedom > 1000:
        return "degrees of freedom not limited"
    return f"{fixed_text(freedom, 0 if freedom >= 10 else 1)} degrees of freedom"


def _result_unit(page: Page, result: Result) -> tuple[float, str]:
    """Factor and text of the unit a result is shown in."""
    like = page.unit_like(result.unit)
    return (1.0, result.unit) if like is None else (like.factor, like.text)


def _in_result_unit(page: Page, amount: float, result: Result) -> str:
    """A part of an uncertainty: two significant digits, in the unit of the number."""
    if not amount:
        return "0"
    number = page.number(0.0, amount, result.unit)
    return f"{number.plus_minus} {number.unit}".strip()


def _input_unit(page: Page, line: BudgetInput) -> UnitShown:
    """Unit of a cause; a doubt of a temperature is a difference."""
    if not line.quantity:
        return UnitShown("", 1.0)
    unit = unit_shown(line.quantity, page.system)
    is_celsius = unit.text == "°C"
    return UnitShown("K" if is_celsius else unit.text, unit.factor)


def _sensitivity(page: Page, line: BudgetInput, result: Result) -> str:
    """Change of the number, in its shown unit, for one shown unit of the cause."""
    if not line.input:
        return "1"
    factor, text = _result_unit(page, result)
    unit = _input_unit(page, line)
    digits = significant_text(line.sensitivity * unit.factor / factor, 3)
    per = f" per {unit.text}" if unit.text else ""
    return f"{digits} {text}{per}".strip()


def input_rows(page: Page, results: Iterable[Entry[Result]]) -> tuple[InputRow, ...]:
    """Inputs of some results, each once, in the order in which they first weigh."""
    seen: dict[tuple[str, Ref | None], InputRow] = {}
    for entry in results:
        for line in entry.record.budget:
            if line.input:
                seen.setdefault((line.input, line.source), _input_row(page, line))
    return tuple(seen.values())


def _input_row(page: Page, line: BudgetInput) -> InputRow:
    unit = _input_unit(page, line)
    doubt = line.standard_uncertainty / unit.factor
    value = "" if line.value is None else _value(page, line)
    freedom = "not limited"
    if line.degrees_of_freedom is not None:
        freedom = significant_text(line.degrees_of_freedom, 3)
    return InputRow(
        line.meaning,
        _belongs_to(page.book, line.input),
        value,
        f"{significant_text(doubt, 2)} {unit.text}".strip(),
        line.distribution,
        freedom,
        line.basis,
        source_words(page.book, line.source) or "worked out from this campaign’s own readings",
    )


def _value(page: Page, line: BudgetInput) -> str:
    """Value with as many digits as its doubt leaves sense in."""
    if line.value is None:
        return ""
    doubt = line.standard_uncertainty or None
    if not line.value:
        return f"0 {_input_unit(page, line).text}".strip()
    if not line.quantity:
        number = shown(line.value, doubt, "")
    else:
        number = quantity_shown(line.quantity, line.value, doubt, page.system)
    return f"{number.value} {number.unit}".strip()


def source_words(book: Book, source: Ref | None) -> str:
    """Kind, name and version of a record that a value came from; and the version of today."""
    if source is None:
        return ""
    entry = book.found(source.uid)
    if entry is None:
        return f"a record since taken back, version {source.version}"
    words = f"{kind_said(entry.record)} {_name(book, entry)}, version {source.version}"
    return words if entry.version == source.version else f"{words} (now {entry.version})"


def _name(book: Book, entry: Entry[Any]) -> str:
    """What people call a record; one without a label by what it belongs to."""
    record = entry.record
    own = label_of(record)
    if own:
        return own
    kind = getattr(record, "kind", None) or getattr(record, "gate", None)
    for field in ("connection", "station", "gauge", "recording", "subject", "of"):
        uid = getattr(record, field, None)
        if isinstance(uid, str):
            return f"{kind.value} of {_owner(book, Uid(uid))}" if kind else _owner(book, Uid(uid))
    return entry.uid


def _owner(book: Book, uid: Uid) -> str:
    entry = book.found(uid)
    if entry is None:
        return uid
    if isinstance(entry.record, Connection):
        return book.label(entry.record.subject)
    return _name(book, entry)


def _belongs_to(book: Book, name: str) -> str:
    """What an input is about: the gauge, bar, instrument that its name ends with."""
    uid = name.rpartition("@")[2]
    return _owner(book, Uid(uid)) if book.found(Uid(uid)) else ""


def report_budgets(
    page: Page, heads: Sequence[Entry[Result]]
) -> tuple[tuple[BudgetTable, ...], tuple[InputRow, ...]]:
    """Budgets of the numbers that head the answers, and what went into them, once.

    A budget for each of hundreds of numbers would bury the few that somebody signs for.
    """
    results = [e for e in heads if e.record.value is not None and e.record.budget]
    return (
        tuple(budget_table(page, entry, smallest=SMALL) for entry in results),
        _gathered(input_rows(page, results)),
    )


def budgets_elsewhere(page: Page, heads: Sequence[Entry[Result]]) -> str:
    """How many numbers have a budget that isn't printed, and where it is read; "" when none."""
    shown = {entry.uid for entry in heads}
    every = [e for e in page.book.of(Result) if e.record.value is not None and e.record.budget]
    rest = sum(entry.uid not in shown for entry in every)
    if not rest:
        return ""
    which = "number has its budget" if rest == 1 else "numbers have theirs"
    return f"{rest} further {which} in the app and by: gaugewright results budget"


def _gathered(rows: tuple[InputRow, ...]) -> tuple[InputRow, ...]:
    """Inputs that differ only in what they belong to, in one row that names all of it."""
    alike: dict[InputRow, list[str]] = {}
    for row in rows:
        alike.setdefault(replace(row, of=""), []).append(row.of)
    return tuple(replace(row, of=", ".join(dict.fromkeys(of))) for row, of in alike.items())
