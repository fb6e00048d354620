"""Where is what people call by a label? Exact labels first, then those that begin so or hold it."""

from dataclasses import dataclass
from typing import Any

from gaugewright.errors import InputError
from gaugewright.records import Entry, kind_of, label_of
from gaugewright.records.electrical import BridgeCircuit, Channel, Instrument
from gaugewright.records.gauges import Gauge, GaugePack
from gaugewright.records.readings import Recording
from gaugewright.records.sensors import Sensor
from gaugewright.records.specimen import Bar, Material, Specimen, Station
from gaugewright.services.book import Book

__all__ = ["SEARCHED", "Found", "by_label"]

SEARCHED: tuple[type[Any], ...] = (
    Gauge,
    Bar,
    Station,
    BridgeCircuit,
    Channel,
    Recording,
    Sensor,
    GaugePack,
    Specimen,
    Material,
    Instrument,
)
MOST = 60


@dataclass(frozen=True, slots=True)
class Found:
    """A record found by its label; ``gauges`` are labels of the gauges it has to do with."""

    label: str
    kind: str
    gauges: tuple[str, ...]


def by_label(book: Book, typed: str) -> tuple[Found, ...]:
    """Records whose label is, begins with or holds what was typed, in this order.

    Case and spaces don't matter.

    Raises
    ------
    InputError
        If nothing was typed.
    """
    wanted = _folded(typed)
    if not wanted:
        raise InputError("label", typed, "a label or a part of one, such as G07")
    ranked = []
    for place, kind in enumerate(SEARCHED):
        for entry in book.of(kind):
            rank = _rank(_folded(label_of(entry.record)), wanted)
            if rank is not None:
                ranked.append((rank, place, label_of(entry.record), entry))
    ranked.sort(key=lambda item: item[:3])
    return tuple(
        Found(label, kind_of(entry.record), _gauges(book, entry))
        for _, _, label, entry in ranked[:MOST]
    )


def _folded(text: str) -> str:
    return "".join(text.split()).casefold()


def _rank(label: str, wanted: str) -> int | None:
    if label == wanted:
        return 0
    if label.startswith(wanted):
        return 1
    return 2 if wanted in label else None


def _gauges(book: Book, entry: Entry[Any]) -> tuple[str, ...]:
    record = entry.record
    if isinstance(record, Gauge):
        return (record.label,)
    if isinstance(record, Station):
        return _labels(book, {entry.uid})
    if isinstance(record, Bar):
        return _labels(book, {s.uid for s in book.of(Station) if s.record.bar == entry.uid})
    if isinstance(record, BridgeCircuit):
        return tuple(gauge.record.label for gauge in book.gauges_of(entry))
    if isinstance(record, Channel):
        subjects = {c.record.subject for c in book.connections_on(entry.uid)}
        circuits = [c for c in book.of(BridgeCircuit) if c.uid in subjects]
        return tuple(gauge.record.label for c in circuits for gauge in book.gauges_of(c))
    if isinstance(record, GaugePack):
        return tuple(g.record.label for g in book.of(Gauge) if g.record.pack == entry.uid)
    return ()


def _labels(book: Book, stations: set[Any]) -> tuple[str, ...]:
    return tuple(g.record.label for g in book.of(Gauge) if g.record.station in stations)
