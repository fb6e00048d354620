"""Results as records: the number, its doubt, the main cause, and the chains it came through."""

from collections.abc import Iterable

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Ref, Uid
from gaugewright.records.results import BudgetInput, Chain, Result
from gaugewright.records.specimen import Question
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.coverage import COVERAGE, SOFTWARE
from gaugewright.services.results.inputs import budget_inputs
from gaugewright.store.campaign import CampaignStore

__all__ = ["NOT_AGAIN", "result_of", "written_results"]

NOT_AGAIN = "reduced again, and not found"


def result_of(
    book: Book,
    value: Uncertain | None,
    *,
    label: str,
    quantity: str,
    unit: str,
    criterion: str,
    subjects: tuple[Uid, ...],
    circuits: tuple[Uid, ...],
    zero: str,
    note: str = "",
) -> Result:
    """Result of one value: expanded uncertainty at the stated coverage, largest cause named.

    Without a value the note says why there is none.
    """
    number = expanded = None
    cause = ""
    inputs: tuple[BudgetInput, ...] = ()
    if value is not None:
        budget = value.budget(0 if value.value.ndim else None, coverage=COVERAGE)
        main = budget.lines[0] if budget.lines else None
        cause = "" if main is None else f"{main.meaning} ({main.basis})"
        number = float(value.value.reshape(-1)[0])
        expanded = float(value.expanded(COVERAGE).reshape(-1)[0])
        inputs = budget_inputs(book, value)
    return Result(
        label,
        quantity,
        number,
        expanded,
        COVERAGE,
        unit,
        criterion,
        subjects,
        chains_of(book, circuits),
        question_for(book, quantity, subjects),
        cause,
        zero,
        note,
        SOFTWARE,
        inputs,
    )


def chains_of(book: Book, circuits: Iterable[Uid]) -> tuple[Ref, ...]:
    """Versions of the chains of some circuits."""
    wanted = set(circuits)
    return tuple(entry.ref for entry in book.of(Chain) if entry.record.circuit in wanted)


def question_for(book: Book, quantity: str, subjects: tuple[Uid, ...]) -> Uid | None:
    """Question that asks for this quantity at the stations of these gauges."""
    stations = {entry.record.station for entry in book.of(Gauge) if entry.uid in set(subjects)}
    for question in book.of(Question):
        if question.record.quantity == quantity and stations & set(question.record.stations):
            return question.uid
    return None


def written_results(
    store: CampaignStore, book: Book, results: Iterable[Result]
) -> tuple[Entry[Result], ...]:
    """Results in the store: a changed one becomes a new version, an equal one stays.

    One of an earlier reduction that isn't among them is taken back: it would head an answer, be
    signed and be handed over beside numbers that no longer agree with it.
    """
    known = {entry.record.label: entry for entry in book.of(Result)}
    entries: list[Entry[Result]] = []
    with store.several():
        for result in results:
            entry = known.get(result.label)
            if entry is None:
                entries.append(store.add(result, reason="reduced"))
            elif entry.record == result:
                entries.append(entry)
            else:
                entries.append(
                    store.revise(entry.uid, entry.version, result, reason="reduced again")
                )
        made = {entry.uid for entry in entries}
        for stale in book.of(Result):
            if stale.uid not in made:
                store.withdraw(stale.uid, stale.version, reason=NOT_AGAIN)
    return tuple(entries)
