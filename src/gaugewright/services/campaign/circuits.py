"""Which circuit is a gauge wired into?"""

from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.services.campaign.book import Book

__all__ = ["circuit_of"]


def circuit_of(book: Book, gauge: Entry[Gauge]) -> Entry[BridgeCircuit] | None:
    """Circuit a gauge is wired into, the first entered of several; None while it is in none."""
    return book.once("circuits by gauge", _by_gauge).get(gauge.uid)


def _by_gauge(book: Book) -> dict[Uid, Entry[BridgeCircuit]]:
    found: dict[Uid, Entry[BridgeCircuit]] = {}
    for circuit in book.of(BridgeCircuit):
        for arm in circuit.record.arms:
            if arm.gauge is not None:
                found.setdefault(arm.gauge, circuit)
    return found
