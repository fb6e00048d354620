"""Two campaigns, or one at two moments of its journal: which numbers changed, and why."""

import json
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from gaugewright.errors import InputError
from gaugewright.records import Entry, kind_said, label_of
from gaugewright.records.identity import Uid
from gaugewright.records.plain import to_plain
from gaugewright.records.proof import Person
from gaugewright.records.results import Chain, Result
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.history import entry_told
from gaugewright.services.showing.listings import Column, Listing
from gaugewright.services.showing.page import Page
from gaugewright.store.campaign import CampaignStore

__all__ = ["Side", "at_entry", "compared", "of_now"]

_LONGEST = 60
# What a record says of others changes with them and tells nobody why.
_QUIET = (Chain, Result)


@dataclass(frozen=True, slots=True)
class Side:
    """One of the two: its records, what to call it, and the journal it is from."""

    name: str
    book: Book
    page: Page

    @property
    def store(self) -> CampaignStore:
        """Campaign the records are of."""
        return self.page.desk.store


def of_now(page: Page, name: str) -> Side:
    """A campaign as it stands."""
    return Side(name, page.book, page)


def at_entry(page: Page, seq: int, name: str) -> Side:
    """A campaign as it stood after an entry of its journal.

    Raises
    ------
    InputError
        If the journal has no such entry.
    """
    last = page.desk.store.head().seq
    if not 1 <= seq <= last:
        raise InputError("entry of the journal", seq, f"from 1 to {last}")
    latest: dict[Uid, Entry[Any]] = {}
    for entry in page.desk.store.journal():
        if entry.seq > seq:
            break
        told = entry.told()
        if told["action"] != "keep":
            latest[told["uid"]] = entry_told(told)
    return Side(name, Book(e for e in latest.values() if not e.withdrawn), page)


def compared(before: Side, after: Side) -> tuple[Listing, ...]:
    """What differs between two sides: results, corrections, and every other record."""
    return (
        _results(before, after),
        _corrections(before, after),
        _records(before, after),
    )


def _results(before: Side, after: Side) -> Listing:
    was = {e.record.label: e for e in before.book.of(Result)}
    now = {e.record.label: e for e in after.book.of(Result)}
    rows = []
    for label in dict.fromkeys((*was, *now)):
        one, other = was.get(label), now.get(label)
        row = _result_row(before, after, one, other)
        if row is not None:
            rows.append((label, *row))
    same = len(set(was) & set(now)) - sum(row[0] in was and row[0] in now for row in rows)
    columns = ("result", before.name, after.name, "moved", "of its ±", "told")
    about = f"{same} more are the same on both sides."
    return Listing(
        "results", "Numbers", tuple(map(Column, columns)), tuple(rows), "No number differs.", about
    )


def _result_row(
    before: Side, after: Side, one: Entry[Result] | None, other: Entry[Result] | None
) -> tuple[str, str, str, str, str] | None:
    if one is None and other is not None:
        return "–", _shown(after.page, other.record), "", "", "only there"
    if other is None and one is not None:
        return _shown(before.page, one.record), "–", "", "", "only here"
    if one is None or other is None or _same(one.record, other.record):
        return None
    moved, share = "", ""
    if one.record.value is not None and other.record.value is not None:
        difference = other.record.value - one.record.value
        moved = before.page.number(difference, None, other.record.unit).text
        if one.record.expanded_uncertainty:
            share = f"{abs(difference) / one.record.expanded_uncertainty:.2g}"
    why = "; ".join(_why(before, after, one.record, other.record))
    return (
        _shown(before.page, one.record),
        _shown(after.page, other.record),
        moved,
        share,
        why or "criterion, zero or note only",
    )


def _same(one: Result, other: Result) -> bool:
    """Whether two results say the same; to the last bit, so that nothing small goes unseen."""
    numbers = (
        (one.value, other.value),
        (one.expanded_uncertainty, other.expanded_uncertainty),
    )
    words = (one.criterion, one.zero, one.note) == (other.criterion, other.zero, other.note)
    return words and all(a == b for a, b in numbers)


def _shown(page: Page, result: Result) -> str:
    shown = page.result(result)
    return result.note if shown is None else shown.text


def _why(before: Side, after: Side, one: Result, other: Result) -> Iterator[str]:
    """Causes that came, went or changed, the one that weighs most first."""
    was = {line.meaning: line for line in one.budget}
    now = {line.meaning: line for line in other.budget}
    weighed: list[tuple[float, str]] = []
    for meaning in dict.fromkeys((*was, *now)):
        a, b = was.get(meaning), now.get(meaning)
        if a is None and b is not None:
            weighed.append((_weight(b), f"{meaning} counts now"))
        elif b is None and a is not None:
            weighed.append((_weight(a), f"{meaning} counts no more"))
        elif a is not None and b is not None:
            if a.value is not None and b.value is not None and a.value != b.value:
                change = abs((b.value - a.value) * b.sensitivity)
                weighed.append((change, f"{meaning}: {a.value:.6g} became {b.value:.6g}"))
            elif not math.isclose(_weight(a), _weight(b), rel_tol=1e-9):
                words = f"{meaning}: brings {_weight(a):.3g}, then {_weight(b):.3g} {other.unit}"
                weighed.append((abs(_weight(b) - _weight(a)), words))
    if one.software != other.software:
        yield f"{one.software}, then {other.software}"
    if set(one.subjects) != set(other.subjects):
        left = [before.book.label(uid) for uid in one.subjects if uid not in other.subjects]
        new = [after.book.label(uid) for uid in other.subjects if uid not in one.subjects]
        gone, come = ", ".join(left) or "–", ", ".join(new) or "–"
        yield f"rests on other gauges: without {gone}, with {come}"
    for _, words in sorted(weighed, key=lambda pair: -pair[0])[:4]:
        yield words


def _weight(line: Any) -> float:
    return abs(float(line.sensitivity) * float(line.standard_uncertainty))


def _corrections(before: Side, after: Side) -> Listing:
    """Parameters and switches of the chains that aren't the same."""
    was = {e.record.label: e for e in before.book.of(Chain)}
    rows = []
    for entry in after.book.of(Chain):
        old = was.pop(entry.record.label, None)
        if old is None:
            rows.append((entry.record.label, "", "–", "new", ""))
            continue
        for stage, name, a, b in _stage_changes(old.record.stages, entry.record.stages):
            rows.append((entry.record.label, stage, a, b, name))
    rows += [(label, "", "was there", "–", "") for label in was]
    columns = ("chain", "stage", before.name, after.name, "which")
    return Listing(
        "corrections",
        "Corrections",
        tuple(map(Column, columns)),
        tuple(rows),
        "No chain of corrections differs.",
    )


def _stage_changes(one: str, other: str) -> Iterator[tuple[str, str, str, str]]:
    first, second = _flat(json.loads(one)), _flat(json.loads(other))
    for key in dict.fromkeys((*first, *second)):
        a, b = first.get(key, "–"), second.get(key, "–")
        # Influences and inputs follow from the parameters: they would tell the same twice.
        stage, _, name = key.removeprefix("stages ").partition(" parameters ")
        if a != b and (name or stage.endswith(" on")):
            yield stage, name, a, b


def _flat(plain: Any, path: str = "") -> dict[str, str]:
    """Every leaf of a JSON value by the path to it; stages are called by their kind."""
    if isinstance(plain, dict):
        found: dict[str, str] = {}
        for name, value in plain.items():
            found |= _flat(value, f"{path} {name}".strip())
        return found
    if isinstance(plain, list):
        found = {}
        for number, value in enumerate(plain):
            kind = value.get("kind", number) if isinstance(value, dict) else number
            found |= _flat(value, f"{path} {kind}".strip())
        return found
    return {path: _short(plain)}


def _short(value: Any) -> str:
    text = f"{value:.8g}" if isinstance(value, float) else str(value)
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}…"


def _records(before: Side, after: Side) -> Listing:
    """Every other record that came, went or changed: field by field, by whom, when and why."""
    was = {_identity(e, before, after): e for e in before.book.every() if _counts(e)}
    now = {_identity(e, before, after): e for e in after.book.every() if _counts(e)}
    rows = []
    for key in dict.fromkeys((*was, *now)):
        one, other = was.get(key), now.get(key)
        changes = "" if one is None or other is None else _changes(one, other)
        if one is None and other is not None:
            rows.append((*_named(after, other), "came", _who(after, other)))
        elif other is None and one is not None:
            rows.append((*_named(before, one), "isn't there any more", ""))
        elif one is not None and other is not None and changes:
            rows.append((*_named(after, other), changes, _who(after, other)))
    columns = ("record", "which", "what", "told")
    return Listing(
        "records", "Records", tuple(map(Column, columns)), tuple(rows), "No record differs."
    )


def _counts(entry: Entry[Any]) -> bool:
    return not isinstance(entry.record, _QUIET)


def _identity(entry: Entry[Any], before: Side, after: Side) -> tuple[str, str]:
    """What makes two records the same one: the uid in one campaign, kind and label in two."""
    if before.store.campaign.uid == after.store.campaign.uid:
        return kind_said(entry.record), entry.uid
    return kind_said(entry.record), label_of(entry.record) or entry.uid


def _named(side: Side, entry: Entry[Any]) -> tuple[str, str]:
    about = getattr(entry.record, "gauge", None) or getattr(entry.record, "subject", None)
    return kind_said(entry.record), label_of(entry.record) or (
        side.book.label(about) if about else ""
    )


def _who(side: Side, entry: Entry[Any]) -> str:
    name = "nobody named"
    if entry.person is not None:
        person = side.book.found(entry.person)
        name = person.record.name if person and isinstance(person.record, Person) else name
    why = f": {entry.reason}" if entry.reason else ""
    return f"{name}, {side.page.moment(entry.at)}{why}"


def _changes(one: Entry[Any], other: Entry[Any]) -> str:
    first, second = _flat(to_plain(one.record)), _flat(to_plain(other.record))
    told = [
        f"{key}: {first.get(key, '–')} became {second.get(key, '–')}"
        for key in dict.fromkeys((*first, *second))
        if first.get(key) != second.get(key)
    ]
    more = f"; and {len(told) - 4} more" if len(told) > 4 else ""
    return "; ".join(told[:4]) + more
