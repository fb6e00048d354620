"""Which gauges may stand for something, and which stand together."""

from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import Gauge
from gaugewright.records.results import Chain
from gaugewright.records.stated import State
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.states import state_of_gauge
from gaugewright.services.strain.strains import Desk

__all__ = ["Pair", "Wired", "opposite_pairs", "quarter_circuits", "usable"]

Wired = tuple[Entry[BridgeCircuit], Entry[Gauge]]

# Circuits and gauges of two opposite grids, in the same order.
Pair = tuple[tuple[Entry[BridgeCircuit], Entry[BridgeCircuit]], tuple[Entry[Gauge], Entry[Gauge]]]


def usable(desk: Desk, gauge: Entry[Gauge]) -> bool:
    """Whether a gauge may stand for something: not doubtful, not lost."""
    return state_of_gauge(desk.book, gauge) not in (State.DOUBTFUL, State.LOST, State.REPAIR)


def quarter_circuits(desk: Desk) -> tuple[Wired, ...]:
    """Circuits of one gauge on a bar that have a chain, with it; no dummies, no rosettes."""
    return desk.book.once("quarter circuits", _quarter_circuits)


def _quarter_circuits(book: Book) -> tuple[Wired, ...]:
    dummies = {circuit.record.dummy for circuit in book.of(BridgeCircuit)}
    chained = {chain.record.circuit for chain in book.of(Chain)}
    found: list[Wired] = []
    for circuit in book.of(BridgeCircuit):
        gauges = book.gauges_of(circuit)
        alone = len(gauges) == 1 and not gauges[0].record.group
        if alone and circuit.uid in chained and circuit.uid not in dummies:
            found.append((circuit, gauges[0]))
    return tuple(found)


def opposite_pairs(desk: Desk) -> tuple[Pair, ...]:
    """Usable opposite gauges with their circuits."""
    by_gauge = {gauge.uid: (circuit, gauge) for circuit, gauge in quarter_circuits(desk)}
    pairs: list[Pair] = []
    for circuit, gauge in by_gauge.values():
        partner = by_gauge.get(gauge.record.opposite) if gauge.record.opposite else None
        if partner and usable(desk, gauge) and usable(desk, partner[1]):
            pairs.append(((partner[0], circuit), (partner[1], gauge)))
    return tuple(pairs)
