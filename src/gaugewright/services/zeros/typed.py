"""Zeros of everything plugged in, taken from recordings as a person typed the stretch."""

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from gaugewright.errors import InputError
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import ClockMap, Recording
from gaugewright.records.sensors import TemperaturePoint
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.events import instant_typed
from gaugewright.services.zeros.everything import Zeros, take_zeros
from gaugewright.store.campaign import CampaignStore

__all__ = ["begun", "taken", "taken_words", "without_temperature"]


def begun(book: Book) -> tuple[tuple[str, datetime], ...]:
    """Labels of recordings whose clock is joined, each with when its time begins."""
    maps = {entry.record.recording: entry.record for entry in book.of(ClockMap)}
    return tuple(
        (entry.record.label, joined.epoch + timedelta(seconds=joined.offset.value))
        for entry in book.of(Recording)
        if (joined := maps.get(entry.uid)) is not None
    )


def without_temperature(book: Book) -> tuple[str, ...]:
    """Labels of wired gauges that no thermometer stands for: no zero of them can be taken."""
    told = {uid for point in book.of(TemperaturePoint) for uid in point.record.gauges}
    firsts = [book.gauges_of(circuit)[:1] for circuit in book.of(BridgeCircuit)]
    return tuple(one.record.label for first in firsts for one in first if one.uid not in told)


def taken(
    store: CampaignStore,
    typed: Mapping[str, str],
    progress: Callable[[int, int, str], None] | None = None,
) -> Zeros:
    """Take zeros as typed: kind, recordings (labels with semicolons), begins, ends.

    All of them are kept, or none.

    Raises
    ------
    InputError
        If something typed can't be, or nothing was plugged in through the stretch.
    """
    book = Book.read(store)
    zone, now = ZoneInfo(store.campaign.record.zone), store.context.now()
    kind = _kind(typed.get("kind", ""))
    labels = [one.strip() for one in typed.get("recordings", "").split(";") if one.strip()]
    if not labels:
        known = "; ".join(entry.record.label for entry in book.of(Recording)) or "none yet"
        raise InputError("recordings", "", f"one or more of: {known}")
    recordings = tuple(book.labelled(Recording, label).uid for label in labels)
    begins, ends = (_moment(typed, name, zone, now) for name in ("begins", "ends"))
    with store.several():
        return take_zeros(store, kind, recordings, begins=begins, ends=ends, progress=progress)


def _moment(typed: Mapping[str, str], name: str, zone: ZoneInfo, now: datetime) -> datetime:
    text = typed.get(name, "").strip()
    if not text:
        raise InputError(name, "", "a time of the hall, such as 2026-10-13 09:00")
    return instant_typed(text, zone, now)


def _kind(text: str) -> ZeroKind:
    for kind in ZeroKind:
        if kind.value == text.strip():
            return kind
    raise InputError("kind", text, "one of " + "; ".join(kind.value for kind in ZeroKind))


def taken_words(book: Book, zeros: Zeros) -> tuple[str, ...]:
    """What was taken and what wasn't, in sentences."""
    many = f"{len(zeros.taken)} zero{'' if len(zeros.taken) == 1 else 's'} taken"
    none = "; every circuit has one" if not zeros.missed else f"; {len(zeros.missed)} have none"
    told = [f"{many}{none}."]
    missed: dict[str, list[str]] = {}
    for uid, why in zeros.missed:
        missed.setdefault(why, []).append(book.label(uid))
    return (*told, *(f"{', '.join(labels)}: {why}" for why, labels in missed.items()))
