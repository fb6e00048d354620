"""Who wrote what, when and why: the journal of a campaign, or of one thing, as people read it."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import groupby, islice
from typing import Any

from gaugewright.records import Entry, kind_of, label_of
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Person
from gaugewright.services.book import Book
from gaugewright.store.campaign import CampaignStore

__all__ = ["Line", "history_of", "latest_lines", "name_of"]

ONE_GO = timedelta(seconds=60)
_MANY = {"person": "people", "supply": "supplies"}
# Records without a label are known by what they are about.
_ABOUT = ("gauge", "subject", "connection", "recording", "station", "channel", "of")


@dataclass(frozen=True, slots=True)
class Line:
    """Something written: what, by whom ("" when nobody was named), and the reason given."""

    at: datetime
    what: str
    person: str
    reason: str


def latest_lines(book: Book, most: int) -> tuple[Line, ...]:
    """What was written last, newest first; records written together are told together."""
    every = sorted(book.every(), key=lambda entry: entry.at, reverse=True)
    together = groupby(every, key=lambda e: (kind_of(e.record), e.person, e.version > 1))
    return tuple(_told(book, list(group)) for _, group in islice(together, most))


def history_of(store: CampaignStore, book: Book, uids: Iterable[Uid]) -> tuple[Line, ...]:
    """Every version of some records, oldest first; what was written in one go is told in one."""
    versions = sorted(
        (version for uid in uids for version in _versions(store, book, uid)),
        key=lambda entry: entry.at,
    )
    lines: list[Line] = []
    for before, entry in zip([None, *versions], versions, strict=False):
        line = _told(book, [entry])
        if before is not None and _in_one_go(before, entry):
            earlier = lines.pop()
            line = replace(earlier, what=f"{earlier.what}; {line.what}")
        lines.append(line)
    return tuple(lines)


def _in_one_go(before: Entry[Any], entry: Entry[Any]) -> bool:
    alike = (before.person, before.reason) == (entry.person, entry.reason)
    return alike and entry.at - before.at < ONE_GO


def _versions(store: CampaignStore, book: Book, uid: Uid) -> Iterator[Entry[Any]]:
    latest = book.entry(uid, object)
    if latest.version == 1:
        yield latest
    else:
        yield from store.history(uid)


def _told(book: Book, entries: list[Entry[Any]]) -> Line:
    first = entries[0]
    kind = kind_of(first.record)
    if len(entries) > 1:
        what = f"{len(entries)} {_MANY.get(kind, kind + 's')}"
    else:
        what = name_of(book, first.record)
    if first.withdrawn:
        what += " withdrawn"
    elif first.version > 1:
        what += " changed" if len(entries) > 1 else f" changed, version {first.version}"
    person = book.entry(first.person, Person).record.name if first.person else ""
    # Each of several may have its own reason; only one that they share is told.
    reasons = {entry.reason for entry in entries}
    return Line(first.at, what, person, first.reason if len(reasons) == 1 else "")


def name_of(book: Book, record: object) -> str:
    """Kind of a record, and its label or what it is about."""
    kind = kind_of(record)
    if kind == "gate check":
        gate = getattr(record, "gate").value  # noqa: B009 - the kind has been asked just before
        return f"gate {gate}, {book.label(getattr(record, 'gauge'))}"  # noqa: B009
    label = label_of(record) or str(getattr(record, "step", ""))
    if label:
        return f"{kind} {label}"
    for field in _ABOUT:
        about = getattr(record, field, None)
        if isinstance(about, str):
            return f"{kind} of {_known(book, Uid(about))}"
    return kind


def _known(book: Book, uid: Uid) -> str:
    """Label of a record, or of what a connection joins."""
    record = book.entry(uid, object).record
    subject = getattr(record, "subject", None)
    return book.label(Uid(subject)) if isinstance(subject, str) else book.label(uid)
