"""Events of a campaign: noted once however often they are sent, changed, taken out."""

import hashlib
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from gaugewright.errors import InputError, StaleEdit
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.plain import canonical_text, to_plain
from gaugewright.records.readings import Event
from gaugewright.services.campaign.book import Book
from gaugewright.store.campaign import CampaignStore

__all__ = [
    "ALLOWED",
    "KINDS",
    "Noted",
    "change",
    "instant_typed",
    "note",
    "subject_named",
    "take_out",
]

# What is noted most in a hall, so that one tap does it; any other word may be typed.
KINDS = (
    "load step reached",
    "crack seen",
    "noise heard",
    "gauge touched",
    "test paused",
    "test goes on",
    "recording begun",
    "recording ended",
)
_PATTERNS = ("%Y-%m-%d %H:%M:%S", "%Y-%m-%d %H:%M", "%d.%m.%Y %H:%M:%S", "%d.%m.%Y %H:%M")
_TODAY = ("%H:%M:%S", "%H:%M")
ALLOWED = "like 14:05, 14:05:30 or 2026-06-14 14:05:30"


@dataclass(frozen=True, slots=True)
class Noted:
    """An event as it stands, and whether this sending wrote it or an earlier one had."""

    entry: Entry[Event]
    is_new: bool


def note(store: CampaignStore, event: Event, *, key: str, reason: str = "") -> Noted:
    """Write an event down, once for each ``key``: sent again, the same entry is the answer.

    Raises
    ------
    InputError
        If the key came before with another event.
    """
    content = hashlib.sha256(canonical_text(to_plain(event)).encode("utf-8")).hexdigest()
    sending = store.sendings.received(key, content, store.context)
    with store.several():  # one writer at a time: of two sendings the later sees the earlier's
        kept = _kept(store, sending.uid)
        if kept is not None:
            return Noted(kept, is_new=False)
        return Noted(store.add(event, reason=reason, uid=sending.uid), is_new=True)


def change(
    store: CampaignStore, uid: Uid, version: int, event: Event, *, reason: str
) -> Entry[Event]:
    """Write an event's next version, from the version that was looked at.

    A change that was taken in already and is sent again is no stale edit.

    Raises
    ------
    StaleEdit
        If somebody wrote another version meanwhile; it holds both.
    InputError
        If it is no event, or no reason is given.
    """
    before = _event(store, uid)
    if before.version == version + 1 and before.record == event and not before.withdrawn:
        return before
    if before.version == version and before.record == event:
        return before  # nothing was changed
    return store.revise(uid, version, event, reason=reason)


def take_out(store: CampaignStore, uid: Uid, version: int, *, reason: str) -> Entry[Event]:
    """Take an event out of the lists; it and its history stay.

    Raises
    ------
    StaleEdit
        If somebody changed it meanwhile.
    InputError
        If it is no event, or no reason is given.
    """
    before = _event(store, uid)
    if before.withdrawn:
        return before
    if before.version != version:
        raise StaleEdit(uid, version, before.version, before.record, None)
    return store.withdraw(uid, version, reason=reason)


def subject_named(book: Book, label: str) -> Uid | None:
    """Gauge that an event is about, by its label; None when none was named.

    Raises
    ------
    InputError
        If no gauge is called so.
    """
    typed = label.strip()
    if not typed:
        return None
    for gauge in book.of(Gauge):
        if gauge.record.label.casefold() == typed.casefold():
            return gauge.uid
    raise InputError("gauge", typed, "the label of a gauge of this campaign, or empty")


def instant_typed(text: str, zone: ZoneInfo, now: datetime) -> datetime:
    """Instant typed as local time of the hall; a time alone is one of today's.

    Raises
    ------
    InputError
        If it can't be read, or the clock showed that time twice or never.

    Examples
    --------
    >>> from datetime import UTC
    >>> noon = datetime(2026, 6, 14, 12, tzinfo=UTC)
    >>> instant_typed("14:05", ZoneInfo("Europe/Rome"), noon).isoformat()
    '2026-06-14T12:05:00+00:00'
    """
    local = _local_typed(text.strip(), now.astimezone(zone))
    first = local.replace(tzinfo=zone)
    utc = ZoneInfo("UTC")
    if first.astimezone(utc).astimezone(zone).replace(tzinfo=None) != local:
        raise InputError("time", text, "one that the clock showed: it was put forward then")
    if first.utcoffset() != first.replace(fold=1).utcoffset():
        do = "note it now with the time in words, or a minute outside that hour"
        raise InputError("time", text, "one that the clock showed once: it was put back then", do)
    return first.astimezone(utc)


def _local_typed(text: str, today: datetime) -> datetime:
    """Local time without its zone."""
    for pattern in _PATTERNS:
        found = _parsed(text.replace("T", " "), pattern)
        if found is not None:
            return found
    for pattern in _TODAY:
        found = _parsed(text, pattern)
        if found is not None:
            return found.replace(year=today.year, month=today.month, day=today.day)
    raise InputError("time", text, ALLOWED)


def _parsed(text: str, pattern: str) -> datetime | None:
    try:
        return datetime.strptime(text, pattern)  # noqa: DTZ007 (the caller adds the zone)
    except ValueError:
        return None


def _kept(store: CampaignStore, uid: Uid) -> Entry[Event] | None:
    """Event with a uid that was put aside for it, if it was written."""
    try:
        return _event(store, uid)
    except InputError:
        return None


def _event(store: CampaignStore, uid: Uid) -> Entry[Event]:
    entry = store.entry(uid)
    if not isinstance(entry.record, Event):
        raise InputError("uid of an event", uid, "a record of that kind")
    found: Entry[Event] = entry
    return found
