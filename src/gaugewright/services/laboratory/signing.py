"""Signing: a person's word for records exactly as they are, and whether it still holds."""

import hashlib
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

from gaugewright.errors import InputError
from gaugewright.present.captions import listed
from gaugewright.records import Entry, label_of
from gaugewright.records.identity import Ref, Uid
from gaugewright.records.proof import Person, Signature
from gaugewright.records.results import Result
from gaugewright.services.campaign.book import Book
from gaugewright.store.campaign import CampaignStore

__all__ = [
    "LONGEST",
    "Standing",
    "digest",
    "plain_statement",
    "results_to_sign",
    "sign",
    "signatures_of",
    "signer",
    "standing_words",
]

LONGEST = 300  # characters of a statement: a sentence or two
MOST_NAMED = 5


@dataclass(frozen=True, slots=True)
class Standing:
    """A signature beside the records as they are now.

    ``changed`` are signed versions that aren't current any more; ``unsigned`` are current
    versions of what was asked about that the signature doesn't speak of.
    """

    entry: Entry[Signature]
    changed: tuple[Ref, ...]
    unsigned: tuple[Ref, ...]

    @property
    def holds(self) -> bool:
        """Whether everything signed is as it was."""
        return not self.changed


def results_to_sign(book: Book) -> tuple[Ref, ...]:
    """Every result of a campaign in its current version."""
    return _in_order(entry.ref for entry in book.of(Result))


def digest(refs: Iterable[Ref]) -> str:
    """SHA-256 that tells one set of versions from another, whatever their order."""
    lines = "\n".join(f"{ref.uid} {ref.version}" for ref in _in_order(refs))
    return hashlib.sha256(lines.encode("ascii")).hexdigest()


def plain_statement(typed: str) -> str:
    """Statement on one line, as it is signed and printed.

    Raises
    ------
    InputError
        If it is empty, too long or holds characters that can't be printed.
    """
    words = unicodedata.normalize("NFC", " ".join(typed.split()))
    if not words or len(words) > LONGEST or not words.isprintable():
        raise InputError("statement", words, f"1 to {LONGEST} characters that can be printed")
    return words


def sign(
    store: CampaignStore, *, person: Uid, statement: str, of: Iterable[Ref]
) -> Entry[Signature]:
    """Write down a person's word for these versions, if every one of them is current.

    Whether it is that person who signs has to be found out before. The journal's head is
    that of the entry right before the signature: the signature speaks for all up to there.

    Raises
    ------
    InputError
        If nothing is signed, a version isn't current, the statement can't be printed, the same
        was signed already, or somebody else is at work.
    """
    words = plain_statement(statement)
    refs = _in_order(of)
    if not refs:
        raise InputError("number of records to sign", 0, "1 or more", "there is nothing to sign")
    if store.context.person not in (None, person):
        raise InputError("person", person, "who is at work", "nobody signs for somebody else")
    with store.several():
        if not isinstance(store.entry(person).record, Person):
            raise InputError("person", person, "the uid of a person")
        _refuse_stale(store, refs)
        _refuse_again(store, person, words, refs)
        signature = Signature(
            person=person,
            statement=words,
            of=refs,
            signed=store.context.now(),
            journal_head=store.head().sha256,
        )
        return store.as_person(person).add(signature, reason="signed")


def signatures_of(book: Book, refs: Iterable[Ref]) -> tuple[Standing, ...]:
    """Signatures of these records in any version, oldest first, each as it stands now.

    One whose records were all taken out since is told too: its word is for something gone.
    """
    asked = set(refs)
    about = {ref.uid for ref in asked}
    current = {entry.ref for entry in book.every()}
    there = {ref.uid for ref in current}
    return tuple(
        Standing(
            entry,
            changed=tuple(ref for ref in entry.record.of if ref not in current),
            unsigned=_in_order(asked - set(entry.record.of)),
        )
        for entry in book.of(Signature)
        if any(ref.uid in about or ref.uid not in there for ref in entry.record.of)
    )


def standing_words(standing: Standing) -> str:
    """Whether a signature of results holds, in words."""
    signed, changed = len(standing.entry.record.of), len(standing.changed)
    if changed:
        return f"the results have changed since: {changed} of the {signed} signed"
    many = f"{signed} result{'' if signed == 1 else 's'}"
    # A new version of a signed record is among the changed ones: what isn't signed is new.
    new = len(standing.unsigned)
    return f"holds for the {many} signed; {new} came since" if new else f"holds for the {many}"


def signer(store: CampaignStore, signature: Signature) -> str:
    """Name of who signed, also of somebody who was taken out of the lists since."""
    person: Entry[Person] = store.entry(signature.person)
    return person.record.name


def _refuse_stale(store: CampaignStore, refs: tuple[Ref, ...]) -> None:
    latest = [store.entry(ref.uid) for ref in refs]
    stale = [
        (ref, entry)
        for ref, entry in zip(refs, latest, strict=True)
        if entry.ref != ref or entry.withdrawn
    ]
    if not stale:
        return
    ref, entry = stale[0]
    if len(stale) == 1 and not entry.withdrawn:
        name = f"version of {label_of(entry.record) or entry.uid}"
        do = "look at what it says now, then sign that"
        raise InputError(name, ref.version, f"{entry.version}, the current one", do)
    names = [label_of(entry.record) or str(entry.uid) for _, entry in stale]
    raise InputError(
        "number of records changed or taken out meanwhile",
        len(stale),
        "0",
        f"look at what stands now, then sign that: {listed(names, most=MOST_NAMED)}",
    )


def _refuse_again(store: CampaignStore, person: Uid, statement: str, refs: tuple[Ref, ...]) -> None:
    """A form that is sent twice signs once."""
    for entry in store.entries(Signature):
        told = entry.record
        if (told.person, told.statement, _in_order(told.of)) == (person, statement, refs):
            raise InputError(
                "statement",
                statement,
                "one that this person hasn't signed for these versions yet",
                "this one stands already",
            )


def _in_order(refs: Iterable[Ref]) -> tuple[Ref, ...]:
    """Each version once, in an order that doesn't depend on who asks."""
    return tuple(sorted(set(refs), key=lambda ref: (ref.uid, ref.version)))
