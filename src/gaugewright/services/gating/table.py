"""Gauges and gates in one table, and which of the failed gauges to repair first."""

from dataclasses import dataclass

from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Gate, GateCheck, Verdict
from gaugewright.records.specimen import Question
from gaugewright.records.stated import State
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.gates import gates_of
from gaugewright.services.campaign.states import state_of_gauge
from gaugewright.services.gating.checks import state_of_check
from gaugewright.services.gating.fields import LAST_FOR_REPAIR

__all__ = ["Cell", "Repair", "Row", "current_gate", "latest_checks", "repair_now", "rows"]

_ORDER = list(Gate)
_LOST = (State.REPAIR, State.DOUBTFUL, State.LOST)


@dataclass(frozen=True, slots=True)
class Cell:
    """One gauge at one gate: the last visit, and how many there were."""

    gate: Gate
    state: State
    check: Entry[GateCheck] | None
    visits: int


@dataclass(frozen=True, slots=True)
class Row:
    """One gauge through all gates."""

    gauge: Entry[Gauge]
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Repair:
    """A gauge to be repaired while hands can reach it, and what hangs on it.

    ``left`` is how many others can still answer the question that has fewest of them; None where
    no question asks for the gauge.
    """

    gauge: Entry[Gauge]
    check: Entry[GateCheck]
    left: int | None
    has_opposite: bool
    sentence: str


def latest_checks(book: Book) -> dict[tuple[Uid, Gate], tuple[Entry[GateCheck], int]]:
    """Last check of every gauge at every gate, and how often it was visited."""
    found: dict[tuple[Uid, Gate], tuple[Entry[GateCheck], int]] = {}
    for check in book.of(GateCheck):
        place = (check.record.gauge, check.record.gate)
        known, visits = found.get(place, (None, 0))
        entered = max(reading.entered for reading in check.record.readings)
        if known is None or entered >= max(r.entered for r in known.record.readings):
            known = check
        found[place] = (known, visits + 1)
    return found


def current_gate(book: Book) -> Gate:
    """Gate at which work goes on: the furthest that any gauge saw; the first when none did."""
    seen = [check.record.gate for check in book.of(GateCheck)]
    return max(seen, key=_ORDER.index, default=Gate.BONDED)


def rows(book: Book) -> tuple[Row, ...]:
    """Every gauge with its cells, in the order in which gauges were entered."""
    latest, gates = latest_checks(book), gates_of(book)
    return tuple(
        Row(gauge, tuple(_cell(latest, gauge.uid, gate) for gate in gates))
        for gauge in book.of(Gauge)
    )


def _cell(
    latest: dict[tuple[Uid, Gate], tuple[Entry[GateCheck], int]], gauge: Uid, gate: Gate
) -> Cell:
    check, visits = latest.get((gauge, gate), (None, 0))
    state = State.NOT_YET if check is None else state_of_check(check.record)
    return Cell(gate, state, check, visits)


def repair_now(book: Book) -> tuple[Repair, ...]:
    """Gauges that failed their last gate and can still be reached, the most needed first."""
    last: dict[Uid, Entry[GateCheck]] = {}
    for check, _ in latest_checks(book).values():
        known = last.get(check.record.gauge)
        if known is None or _later(check, known):
            last[check.record.gauge] = check
    reach = _ORDER.index(LAST_FOR_REPAIR)
    bad = {
        uid: check
        for uid, check in last.items()
        if check.record.verdict is Verdict.FAIL and _ORDER.index(check.record.gate) <= reach
    }
    gone = set(bad) | {g.uid for g in book.of(Gauge) if state_of_gauge(book, g) in _LOST}
    found = [_repair(book, book.entry(uid, Gauge), check, gone) for uid, check in bad.items()]
    return tuple(
        sorted(
            found,
            key=lambda one: (
                one.left is None,
                one.left if one.left is not None else 0,
                one.has_opposite,
                one.gauge.record.label,
            ),
        )
    )


def _later(one: Entry[GateCheck], other: Entry[GateCheck]) -> bool:
    return _ORDER.index(one.record.gate) > _ORDER.index(other.record.gate)


def _repair(book: Book, gauge: Entry[Gauge], check: Entry[GateCheck], gone: set[Uid]) -> Repair:
    opposite = gauge.record.opposite
    if opposite is None:
        opposite = next((g.uid for g in book.of(Gauge) if g.record.opposite == gauge.uid), None)
    alive = opposite is not None and opposite not in gone
    left, asked = None, ""
    for question in book.of(Question):
        if gauge.record.station not in question.record.stations:
            continue
        stations = set(question.record.stations)
        others = sum(g.record.station in stations and g.uid not in gone for g in book.of(Gauge))
        if left is None or others < left:
            left, asked = others, question.record.text
    return Repair(gauge, check, left, alive, _needed(book, (left, asked), opposite, alive=alive))


def _needed(
    book: Book, question: tuple[int | None, str], opposite: Uid | None, *, alive: bool
) -> str:
    left, asked = question
    if left is None:
        words = "no question asks for it"
    elif left == 0:
        words = f"“{asked}” hangs on it alone"
    else:
        words = f"{left} other{'s' if left > 1 else ''} can still answer “{asked}”"
    if opposite is None:
        return words + "; nothing sits opposite"
    label = book.label(opposite)
    return words + (f"; {label} opposite is alive" if alive else f"; {label} opposite is gone too")
