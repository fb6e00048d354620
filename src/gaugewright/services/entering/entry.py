"""Entering a plan: every kind of record by its form, new, changed, taken out or taken back.

Web and command line call the same functions. A change is a new version; what is taken out stays in
the journal; nothing that other records name can be taken out from under them.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from gaugewright.errors import Faults, InputError, StaleEdit
from gaugewright.present.units_shown import System
from gaugewright.records import Entry, kind_said, label_of
from gaugewright.records.identity import Ref, Uid
from gaugewright.records.plain import to_plain
from gaugewright.records.proof import Signature
from gaugewright.services.campaign import campaigns, undoing
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering.asked import PROTOCOL, QUESTION
from gaugewright.services.entering.bench_days import SCHEDULE
from gaugewright.services.entering.blanks import (
    Blank,
    Reader,
    cell_name,
    labels_in,
    only_one,
    texts_of_values,
)
from gaugewright.services.entering.gauges import GAUGE, GAUGES, PACK
from gaugewright.services.entering.instruments import CHANNEL, CHANNELS, INSTRUMENT, METER, PERSON
from gaugewright.services.entering.kinds import Asking, EntryKind, ManyKind
from gaugewright.services.entering.loading import LOADING
from gaugewright.services.entering.metal import BAR, MATERIAL
from gaugewright.services.entering.places import FLAT, SMOOTHED, STATION, STATIONS
from gaugewright.services.entering.plugged import SENSED, WIRED
from gaugewright.services.entering.sensing import POINT, SENSOR
from gaugewright.services.entering.specimen import CONCRETE, MEMBER, SPECIMEN
from gaugewright.services.entering.wiring import CIRCUIT, CIRCUITS, LEAD
from gaugewright.store.campaign import CampaignStore

__all__ = [
    "KINDS",
    "MANY",
    "changed",
    "entry_named",
    "kind_named",
    "kind_of_record",
    "many_written",
    "naming",
    "record_typed",
    "standing_texts",
    "taken_back",
    "taken_out",
    "texts_of",
    "written",
]

# In the order in which a plan is made; a form's address ends with its key.
KINDS: Mapping[str, EntryKind] = {
    kind.key: kind
    for kind in (
        QUESTION,
        SPECIMEN,
        MATERIAL,
        BAR,
        CONCRETE,
        MEMBER,
        LOADING,
        PROTOCOL,
        STATION,
        FLAT,
        SMOOTHED,
        PACK,
        GAUGE,
        LEAD,
        CIRCUIT,
        INSTRUMENT,
        CHANNEL,
        SENSOR,
        POINT,
        METER,
        PERSON,
        SCHEDULE,
    )
}
MANY: Mapping[str, ManyKind] = {
    many.key: many for many in (STATIONS, GAUGES, CIRCUITS, CHANNELS, WIRED, SENSED)
}


def kind_named(key: str) -> EntryKind:
    """Kind of entry by the key in its address.

    Raises
    ------
    InputError
        If there is none.
    """
    if key not in KINDS:
        raise InputError("kind of entry", key, "one of " + ", ".join(KINDS))
    return KINDS[key]


def kind_of_record(record: type) -> EntryKind | None:
    """Kind of entry that writes records of a type; None where no form does."""
    return next((kind for kind in KINDS.values() if kind.record is record), None)


def entry_named(book: Book, kind: EntryKind, name: str) -> Entry[Any]:
    """Record of a kind by what its address calls it.

    Raises
    ------
    InputError
        If there is none.
    """
    entries: tuple[Entry[Any], ...] = book.of(kind.record)
    for entry in entries:
        if kind.named(book, entry) == name:
            return entry
    known = [kind.named(book, entry) for entry in entries[:12]]
    raise InputError(kind.one, name, "one of: " + (", ".join(known) or "none is entered yet"))


def standing_texts(
    blanks: Iterable[Blank], texts: Mapping[str, str], book: Book | None = None
) -> dict[str, str]:
    """What stands in an empty form: what was given already, else what a blank begins with.

    Where the ``book`` has but one record that a needed blank can name, it names that one.
    """
    found = dict(texts)
    for blank in blanks:
        only = only_one(blank, book) if book is not None else None
        standing = blank.standing or (label_of(only.record) if only is not None else "")
        is_open = _fits_no_more(blank, found) if blank.follows else blank.name not in found
        if standing and is_open:
            found[blank.name] = standing
        for number, row in enumerate(blank.standing_rows, start=1):
            for column, text in row.items():
                found.setdefault(cell_name(blank.name, number, column), text)
    return found


def _fits_no_more(blank: Blank, texts: Mapping[str, str]) -> bool:
    """Whether what stands in a blank that follows a choice is nothing, or none of its choices."""
    text = texts.get(blank.name, "")
    return not text or bool(blank.choices and text not in dict(blank.choices))


def texts_of(kind: EntryKind, book: Book, entry: Entry[Any], system: System) -> dict[str, str]:
    """What stands in the form of a record."""
    values = kind.spread(entry.record, book)
    # What a choice decides must be known before the other blanks are: read them twice.
    first = texts_of_values(kind.blanks(Asking(book, {}, system)), values, book, system)
    blanks = kind.blanks(Asking(book, first, system))
    return texts_of_values(blanks, values, book, system)


def written(store: CampaignStore, key: str, texts: Mapping[str, str]) -> tuple[Entry[Any], ...]:
    """Write a new record as typed, or one for each of several labels.

    Raises
    ------
    InputError
        If something can't be used.
    InputFaults
        If several things can't.
    """
    kind, book = kind_named(key), Book.read(store)
    labels = labels_in(texts.get("label", "")) if kind.is_many else ()
    if len(labels) < 2:
        record = record_typed(kind, book, texts, campaigns.system_of(store))
        return (store.add(record, reason="planned"),)
    if len(set(labels)) < len(labels):
        raise InputError("label", texts["label"], "each label once")
    with store.several():
        return tuple(
            store.add(
                record_typed(kind, book, {**texts, "label": label}, campaigns.system_of(store)),
                reason="planned",
            )
            for label in labels
        )


def changed(
    store: CampaignStore, key: str, name: str, from_version: int, texts: Mapping[str, str]
) -> Entry[Any]:
    """Write a new version of a record as typed.

    Raises
    ------
    StaleEdit
        If somebody changed it meanwhile; it holds both.
    InputError
        If something can't be used, or nothing would change.
    InputFaults
        If several things can't be used.
    """
    kind, book = kind_named(key), Book.read(store)
    entry = entry_named(book, kind, name)
    seen = store.entry(entry.uid, from_version)
    record = record_typed(kind, book, texts, campaigns.system_of(store), seen)
    if from_version != entry.version:
        raise StaleEdit(entry.uid, from_version, entry.version, entry.record, record)
    if record == entry.record:
        raise InputError("change", "none", "something other than what is there")
    return store.revise(entry.uid, from_version, record, reason="plan changed")


def record_typed(
    kind: EntryKind,
    book: Book,
    texts: Mapping[str, str],
    system: System,
    before: Entry[Any] | None = None,
) -> Any:
    """Record that was typed; what stands as it did in ``before`` is taken from there.

    Raises
    ------
    InputError
        If something can't be used.
    InputFaults
        If several things can't.
    """
    blanks = kind.blanks(Asking(book, texts, system))
    stood: tuple[Mapping[str, str], Mapping[str, Any]] = ({}, {})
    if before is not None:
        stood = (texts_of(kind, book, before, system), kind.spread(before.record, book))
    reader = Reader(texts, book, system, before=stood)
    values = reader.values(blanks)
    reader.done(f"form for {kind.one}")
    record = None if before is None else before.record
    made = reader.tried(lambda: _built(kind, values, record, reader))
    reader.done(f"form for {kind.one}")
    return made


def _built(kind: EntryKind, values: dict[str, Any], before: Any, reader: Reader) -> Any:
    try:
        return kind.build(values, before, reader)
    except InputError:
        raise
    except Faults as error:
        raise InputError(kind.one, "not possible", "; ".join(map(str, error.faults))) from error


def many_written(store: CampaignStore, key: str, texts: Mapping[str, str]) -> tuple[Ref, ...]:
    """Write many records as typed, all of them or none.

    Raises
    ------
    InputError
        If something can't be used.
    InputFaults
        If several things can't.
    """
    if key not in MANY:
        raise InputError("kind of entry", key, "one of " + ", ".join(MANY))
    many, book = MANY[key], Book.read(store)
    reader = Reader(texts, book, campaigns.system_of(store))
    values = reader.values(many.blanks(Asking(book, texts, campaigns.system_of(store))))
    reader.done(many.title.lower())
    with store.several():
        return many.write(store, book, values)


def naming(book: Book, uid: Uid, *, besides: Iterable[Uid] = ()) -> tuple[Entry[Any], ...]:
    """Records that name a record and would hang in the air without it."""
    left = {uid, *besides}
    return tuple(
        entry
        for entry in book.every()
        if entry.uid not in left
        and not isinstance(entry.record, Signature)
        and _names(to_plain(entry.record), uid)
    )


def _names(plain: Any, uid: Uid) -> bool:
    if isinstance(plain, dict):
        return any(_names(value, uid) for value in plain.values())
    if isinstance(plain, list):
        return any(_names(value, uid) for value in plain)
    return bool(plain == uid)


def taken_out(store: CampaignStore, key: str, name: str, from_version: int) -> Entry[Any]:
    """Take a record out of the lists; its versions stay in the journal.

    Raises
    ------
    StaleEdit
        If somebody changed it meanwhile.
    InputError
        If other records name it.
    """
    book = Book.read(store)
    entry = entry_named(book, kind_named(key), name)
    _refuse_named(book, entry, ())
    return store.withdraw(entry.uid, from_version, reason="taken out of the plan")


def taken_back(store: CampaignStore, refs: Iterable[Ref]) -> None:
    """Take back what was written together, the last first; all of it or nothing.

    Raises
    ------
    StaleEdit
        If somebody changed one of them since.
    InputError
        If a record written since names one that would go.
    """
    wanted = tuple(refs)
    if not wanted:
        raise InputError("what is to be taken back", "nothing", "one entry or more")
    book = Book.read(store)
    together = [ref.uid for ref in wanted]
    for ref in wanted:
        found = book.found(ref.uid)
        if found is not None and ref.version == 1:
            _refuse_named(book, found, together)
    with store.several():
        for ref in reversed(wanted):
            undoing.undo(store, ref)


def _refuse_named(book: Book, entry: Entry[Any], besides: Iterable[Uid]) -> None:
    by = naming(book, entry.uid, besides=besides)
    if not by:
        return
    told = [f"{kind_said(one.record)} {label_of(one.record)}".strip() for one in by[:6]]
    more = f" and {len(by) - 6} more" if len(by) > 6 else ""
    raise InputError(
        f"{kind_said(entry.record)} {label_of(entry.record)}".strip(),
        "named by " + ", ".join(told) + more,
        "named by nothing before it is taken out",
        "take those out first, or change what they name",
    )
