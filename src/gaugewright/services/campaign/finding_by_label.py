"""Where is what people call by a label, or by the end of its number? Exact labels first."""

import difflib
import unicodedata
from dataclasses import dataclass
from typing import Any

from gaugewright.errors import InputError
from gaugewright.records import Entry, kind_said, label_of
from gaugewright.records.electrical import BridgeCircuit, Channel, Instrument
from gaugewright.records.gauges import Gauge, GaugePack
from gaugewright.records.identity import Uid
from gaugewright.records.readings import Recording
from gaugewright.records.sensors import Sensor
from gaugewright.records.specimen import Bar, Material, Specimen, Station
from gaugewright.services.campaign.book import Book

__all__ = ["LAST", "MOST", "NEAR", "SEARCHED", "Found", "by_label", "near_labels", "number_end"]

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
NEAR = 5
LAST = 4  # characters of a number that are read out or found on a worn tag
# Letters that the alphabet of numbers leaves out, and the digit each is read as.
_READ_AS = str.maketrans("OIL", "011")
_BY_NUMBER = 2  # after what is called exactly so, before labels that begin or go on so


@dataclass(frozen=True, slots=True)
class Found:
    """A record found; ``gauges`` are labels of the gauges it has to do with.

    ``end`` is the last characters of its number; ``by_number`` says that it was found by them.
    """

    label: str
    kind: str
    gauges: tuple[str, ...]
    end: str
    by_number: bool = False


def by_label(book: Book, typed: str) -> tuple[Found, ...]:
    """Records whose label is, begins with or holds what was typed, in this order.

    Gauges whose number ends in the four or more characters typed come after those called exactly
    so. Case, blanks and hyphens don't matter. What carries one gauge and is called like it, its
    station or circuit, is not told beside it.

    Raises
    ------
    InputError
        If nothing was typed.
    """
    wanted = _folded(typed)
    if not typed.strip():
        raise InputError("label", typed, "a label or a part of one, such as G07")
    if not wanted:
        return ()
    ranked = []
    for place, kind in enumerate(SEARCHED):
        for entry in book.of(kind):
            rank = _rank(label_of(entry.record), wanted, typed.strip())
            by_number = rank not in (0, 1) and kind is Gauge and _ends_so(entry.uid, wanted)
            rank = _BY_NUMBER if by_number else rank
            if rank is not None and not _is_told_with_its_gauge(book, entry):
                ranked.append((rank, place, label_of(entry.record), by_number, entry))
    ranked.sort(key=lambda item: item[:3])
    return tuple(
        Found(
            label, kind_said(entry.record), _gauges(book, entry), number_end(entry.uid), by_number
        )
        for _, _, label, by_number, entry in ranked[:MOST]
    )


def number_end(uid: Uid) -> str:
    """The last four characters of a record's number."""
    return uid[-LAST:]


def near_labels(book: Book, typed: str) -> tuple[str, ...]:
    """Labels of gauges most like what was typed, for when nothing is called so; perhaps none."""
    by_folded = {_folded(entry.record.label): entry.record.label for entry in book.of(Gauge)}
    near = difflib.get_close_matches(_folded(typed), by_folded, n=NEAR, cutoff=0.5)
    return tuple(by_folded[folded] for folded in near)


def _ends_so(uid: Uid, wanted: str) -> bool:
    return len(wanted) >= LAST and uid.endswith(wanted.upper().translate(_READ_AS))


def _folded(text: str) -> str:
    kept = (c for c in text if not c.isspace() and unicodedata.category(c) != "Pd")
    return "".join(kept).casefold()


def _rank(label: str, wanted: str, typed: str) -> int | None:
    folded = _folded(label)
    if label == typed:
        return 0
    if folded == wanted:
        return 1
    if folded.startswith(wanted):
        return _BY_NUMBER + 1
    return _BY_NUMBER + 2 if wanted in folded else None


def _is_told_with_its_gauge(book: Book, entry: Entry[Any]) -> bool:
    is_carrier = isinstance(entry.record, (Station, BridgeCircuit, Channel))
    return is_carrier and _gauges(book, entry) == (label_of(entry.record),)


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
