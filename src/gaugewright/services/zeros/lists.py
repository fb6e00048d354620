"""Zeros as lists: every zero with what it is worth now, and the way from each to its next."""

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.present.units_shown import quantity_shown
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Connection
from gaugewright.records.member import Concrete
from gaugewright.records.proof import Censor, Zero, ZeroKind
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.showing.listings import Cell, Column, Doubted, Listing
from gaugewright.services.showing.page import Page
from gaugewright.services.zeros.shifts import Leak, Shift, shifts, told, zeros_of

__all__ = ["missing_kinds", "zero_lists"]


def zero_lists(page: Page) -> tuple[Listing, ...]:
    """Shifts from zero to zero, every zero, and circuits that lack one."""
    return (_shifts(page), _zeros(page), _missing(page.book))


def _shifts(page: Page) -> Listing:
    found = page.book.once("shifts of zeros", shifts)
    rows = tuple(_shift_row(page, one) for one in found)
    return Listing(
        "shifts",
        "From zero to zero",
        (
            Column("circuit"),
            Column("from"),
            Column("to"),
            Column("warmer [K]"),
            Column("temperature", "strain"),
            Column("left", "strain"),
            Column("mean of faces", "strain"),
            Column("bending", "strain"),
            Column("leak at most"),
            Column("told"),
        ),
        rows,
        "The way from one zero to the next will stand here once a circuit has two.",
        "Left: what the corrections make of the later zero, temperature taken off. ± covers "
        f"95 %.{_free(page)}",
    )


def _free(page: Page) -> str:
    """What the concrete did by itself between pour and test, where that is on record."""
    told = [
        f"{entry.record.label} {page.stated('strain', entry.record.free_strain).text}"
        for entry in page.book.of(Concrete)
        if entry.record.free_strain is not None
    ]
    return f" Free strain of the concrete, on record: {'; '.join(told)}." if told else ""


def _shift_row(page: Page, one: Shift) -> tuple[Cell, ...]:
    earlier, later = one.earlier.record, one.later.record
    return (
        one.circuit.record.label,
        earlier.kind.value,
        later.kind.value,
        round(later.temperature.value - earlier.temperature.value, 2),
        None if one.thermal is None else round(one.thermal, 8),
        _doubted(one.strain),
        _doubted(one.mean),
        _doubted(one.bending),
        _leak(page, one.after),
        told(one),
    )


def _doubted(value: Uncertain | None) -> Doubted | None:
    if value is None:
        return None
    return Doubted(float(value.value), float(value.expanded(COVERAGE)))


def _leak(page: Page, leak: Leak | None) -> str:
    if leak is None:
        return "insulation never read"
    read = quantity_shown("insulation_resistance", leak.insulation_resistance, None, page.system)
    bound = {Censor.ABOVE: "above ", Censor.BELOW: "below "}.get(leak.censor, "")
    if leak.strain is None:
        return f"not bounded ({bound}{read.text})"
    strain = quantity_shown("strain", round(leak.strain, 8), None, page.system).text
    return f"{strain} ({bound}{read.text})"


def _zeros(page: Page) -> Listing:
    book = page.book
    rows: list[tuple[Cell, ...]] = []
    for circuit in book.of(BridgeCircuit):
        now = next((c for c in book.connections_of(circuit.uid) if c.record.ends is None), None)
        rows += [_zero_row(page, circuit, zero, now) for zero in zeros_of(book, circuit)]
    return Listing(
        "zeros",
        "Every zero",
        (
            Column("circuit"),
            Column("zero"),
            Column("taken"),
            Column("channel"),
            Column("plug"),
            Column("reading", "bridge_ratio"),
            Column("at", "temperature_degc"),
            Column("doubt of carrying", "bridge_ratio"),
            Column("holds now"),
        ),
        tuple(rows),
        "Zeros will stand here: bare bar, before pour, before test, after seating.",
        "± as stated with the zero: standard uncertainty of the reading, limits of the "
        "temperature.",
    )


def _zero_row(
    page: Page, circuit: Entry[BridgeCircuit], entry: Entry[Zero], now: Entry[Connection] | None
) -> tuple[Cell, ...]:
    zero, book = entry.record, page.book
    connection = book.entry(zero.connection, Connection).record
    if now is None:
        holds = "unplugged"
    elif now.uid == zero.connection:
        holds = "yes"
    else:
        holds = "carried over" if now.uid in zero.carried_to else "no: ended with its plug"
    return (
        circuit.record.label,
        zero.kind.value,
        page.moment(zero.measured),
        book.label(connection.channel),
        connection.plug,
        zero.bridge_ratio,
        zero.temperature,
        None if zero.transfer is None else zero.transfer.plus_minus,
        holds,
    )


def missing_kinds(book: Book, circuit: Entry[BridgeCircuit]) -> tuple[ZeroKind, ...]:
    """Kinds of zero that a circuit has none of, among those that any circuit has."""
    taken = {zero.record.kind for zero in book.of(Zero)}
    own = {zero.record.kind for zero in zeros_of(book, circuit)}
    return tuple(kind for kind in ZeroKind if kind in taken - own)


def _missing(book: Book) -> Listing:
    rows = tuple(
        (circuit.record.label, ", ".join(kind.value for kind in missing))
        for circuit in book.of(BridgeCircuit)
        if (missing := missing_kinds(book, circuit))
    )
    return Listing(
        "missing",
        "Without",
        (Column("circuit"), Column("has no zero")),
        rows,
        "Every circuit has each kind of zero that was taken.",
    )
