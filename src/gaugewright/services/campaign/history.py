"""Who wrote what, when and why: the journal of a campaign, or of one thing, as people read it."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import groupby, islice
from typing import Any

from gaugewright.records import KINDS, Entry, kind_of, kind_said, label_of
from gaugewright.records.identity import Uid, instant_from_text
from gaugewright.records.plain import from_plain
from gaugewright.records.proof import Person
from gaugewright.services.campaign.book import Book
from gaugewright.store.campaign import CampaignStore

__all__ = ["Line", "entry_told", "history_of", "journal_lines", "latest_lines", "name_of"]

_KEPT = "keep"  # what the journal calls taking a file in as it was received
_AT_ONCE = 200
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


def latest_lines(store: CampaignStore, book: Book, most: int) -> tuple[Line, ...]:
    """What was written last, newest first, as it was then; written together is told together.

    A record that was changed since counts where it was written, and again where it was changed.
    """

    def lines(_: Book) -> tuple[Line, ...]:
        everything = Book(store.written_after(0))
        together = groupby(_last_first(store), key=_alike)
        return tuple(_told(everything, list(group)) for _, group in islice(together, most))

    return book.once(f"latest {most} lines of the journal", lines)


def _last_first(store: CampaignStore) -> Iterator[Entry[Any]]:
    """Versions of records as the journal tells them, the last one first; read as far as asked."""
    end = store.head().seq
    while end:
        first = max(1, end - _AT_ONCE + 1)
        for entry in reversed(list(islice(store.journal(first), end - first + 1))):
            told = entry.told()
            if told["action"] != _KEPT:
                yield entry_told(told)
        end = first - 1


def journal_lines(store: CampaignStore, first: int, most: int) -> tuple[tuple[int, Line], ...]:
    """Entries of the journal with their numbers, each for itself, from number ``first`` on."""
    everything = Book(store.written_after(0))
    found = []
    for entry in islice(store.journal(first), most):
        told = entry.told()
        if told["action"] == _KEPT:
            at = instant_from_text(told["at"])
            what = f"original {told['original']['file_name']} kept"
            found.append((entry.seq, Line(at, what, _name(everything, told["person"]), "")))
        else:
            found.append((entry.seq, _told(everything, [entry_told(told)])))
    return tuple(found)


def entry_told(told: dict[str, Any]) -> Entry[Any]:
    """Version of a record that an entry of the journal wrote."""
    return Entry(
        told["uid"],
        told["version"],
        instant_from_text(told["at"]),
        told["person"],
        told["reason"],
        told["action"] == "withdraw",
        from_plain(KINDS[told["kind"]], told["record"]),
    )


def _alike(entry: Entry[Any]) -> tuple[object, ...]:
    changed = entry.version > 1
    return kind_of(entry.record), entry.person, entry.at.date(), changed, entry.withdrawn


def _name(book: Book, person: Uid | None) -> str:
    return book.entry(person, Person).record.name if person else ""


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
    kind = kind_said(first.record)
    if len(entries) > 1:
        what = f"{len(entries)} {_MANY.get(kind, kind + 's')}"
    else:
        what = name_of(book, first.record)
    if first.withdrawn:
        what += " taken back"
    elif first.version > 1:
        what += " changed" if len(entries) > 1 else f" changed, version {first.version}"
    # Each of several may have its own reason; only one that they share is told.
    reasons = {entry.reason for entry in entries}
    return Line(
        first.at, what, _name(book, first.person), first.reason if len(reasons) == 1 else ""
    )


def name_of(book: Book, record: object) -> str:
    """Kind of a record, and its label or what it is about."""
    kind = kind_said(record)
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
