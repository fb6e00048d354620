"""What a kind of entry in the plan is: its form, the record it becomes, and its way back."""

import enum
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from gaugewright.present.units_shown import System
from gaugewright.records import Entry, label_of
from gaugewright.records.identity import Ref
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering.blanks import Blank, Reader
from gaugewright.store.campaign import CampaignStore

__all__ = [
    "Asking",
    "EntryKind",
    "ManyKind",
    "field_of",
    "label_blank",
    "plain_build",
    "plain_spread",
]


E = TypeVar("E", bound=enum.Enum)


@dataclass(frozen=True, slots=True)
class Asking:
    """What a form may follow: the campaign's records, what was typed so far, the units shown."""

    book: Book
    texts: Mapping[str, str]
    system: System

    def text(self, name: str, otherwise: str = "") -> str:
        """What was typed into a field."""
        return self.texts.get(name, "").strip() or otherwise

    def member(self, name: str, otherwise: E) -> E:
        """What was chosen; ``otherwise`` where nothing was, or what isn't a choice."""
        text = self.text(name)
        return next((one for one in type(otherwise) if one.value == text), otherwise)


Build = Callable[[dict[str, Any], Any, Reader], Any]
Spread = Callable[[Any, Book], dict[str, Any]]


def plain_build(record: type, *clears: str) -> Build:
    """Record whose fields are the blanks; ``clears`` are emptied where a form doesn't ask them."""

    def build(values: dict[str, Any], before: Any, reader: Reader) -> Any:
        if before is None:
            return record(**values)
        empty = dict.fromkeys(name for name in clears if name not in values)
        return replace(before, **values, **empty)

    return build


def plain_spread(record: Any, book: Book) -> dict[str, Any]:
    """Fields of a record by name."""
    return {name: getattr(record, name) for name in record.__dataclass_fields__}


def _label_of_entry(book: Book, entry: Entry[Any]) -> str:
    return label_of(entry.record)


@dataclass(frozen=True, slots=True)
class EntryKind:
    """A kind of record that is entered one by one.

    ``key`` stands in addresses; ``one`` is what a single one is called, with its article;
    ``places`` says which field an error means by another name. ``is_many`` lets the label of a new
    entry hold several labels, one record each; ``after`` is what usually comes next.
    """

    key: str
    one: str
    title: str
    about: str
    record: type
    blanks: Callable[[Asking], Sequence[Blank]]
    build: Build
    spread: Spread = plain_spread
    named: Callable[[Book, Entry[Any]], str] = _label_of_entry
    places: tuple[tuple[str, str], ...] = ()
    is_many: bool = False
    after: str = ""


@dataclass(frozen=True, slots=True)
class ManyKind:
    """Something that writes many records at once, all of them or none.

    ``write`` gets the values of the blanks and gives what was written, in the order of writing.
    ``nothing`` is said where no blank is asked, ``before`` the form that mends it.
    """

    key: str
    title: str
    about: str
    button: str
    of: str
    blanks: Callable[[Asking], Sequence[Blank]]
    write: Callable[[CampaignStore, Book, dict[str, Any]], tuple[Ref, ...]]
    places: tuple[tuple[str, str], ...] = ()
    after: str = ""
    nothing: str = ""
    before: str = ""


def field_of(kind: EntryKind | ManyKind, name: str) -> str:
    """Field of the form that an error means by a name."""
    return dict(kind.places).get(name, name)


def label_blank(hint: str = "") -> Blank:
    """The blank that nearly every form begins with."""
    return Blank("label", "Label", hint=hint, is_needed=True)
