"""A form of the plan as a page draws it: fields in groups, doubts with their source, rows."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from gaugewright.errors import GaugewrightError
from gaugewright.present.units_shown import System, unit_shown
from gaugewright.records import label_of
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering.blanks import BASES, Blank, Kind, cell_name, only_one, rows_typed
from gaugewright.services.entering.entry import kind_of_record
from gaugewright.services.entering.kinds import EntryKind, ManyKind, field_of
from gaugewright.services.guides.definitions import EXPLAINED
from gaugewright.web.forms import Choice, Field, told_beside

__all__ = ["Group", "PlanField", "Rows", "Wrong", "groups_of", "quantities_of", "wrong_of"]

_SPARE, _LEAST = 2, 3  # empty rows below those filled, and rows at least
_MOST = 500
_KNOWN = 40  # labels named below a field; more would hide the next one


@dataclass(frozen=True, slots=True)
class Rows:
    """A table of fields: heads with their units, and one line of fields for each row."""

    name: str
    heads: tuple[tuple[str, str], ...]
    lines: tuple[tuple[Field, ...], ...]


@dataclass(frozen=True, slots=True)
class PlanField:
    """One blank: its field; where a value is known from, for stated ones; a table for rows.

    ``lacks`` is the form of the records that it names, while there is none: key and words.
    """

    field: Field
    basis: Field | None = None
    source: Field | None = None
    rows: Rows | None = None
    decides: bool = False
    lacks: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True)
class Group:
    """Fields under one heading, "" for those before the first."""

    title: str
    fields: tuple[PlanField, ...]


@dataclass(frozen=True, slots=True)
class Wrong:
    """A field with something wrong: what the form calls it, and its place on the page."""

    label: str
    url: str


def wrong_of(groups: Sequence[Group]) -> tuple[Wrong, ...]:
    """Every field of a form with something wrong, in the order of the form."""
    found = []
    for group in groups:
        for one in group.fields:
            if one.field.wrong:
                found.append(Wrong(one.field.label, f"#{one.field.name}"))
            lines = one.rows.lines if one.rows is not None else ()
            found += [
                Wrong(
                    f"{one.field.label}: {cell.label[:1].lower()}{cell.label[1:]}", f"#{cell.name}"
                )
                for line in lines
                for cell in line
                if cell.wrong
            ]
    return tuple(found)


def quantities_of(blanks: Sequence[Blank]) -> tuple[str, ...]:
    """Quantities that a form asks and that are explained, in its order, each once."""
    asked = [one.quantity for blank in blanks for one in (blank, *blank.columns)]
    return tuple(dict.fromkeys(one for one in asked if one in EXPLAINED))


def groups_of(
    kind: EntryKind | ManyKind,
    blanks: Sequence[Blank],
    texts: Mapping[str, str],
    book: Book,
    system: System,
    *,
    error: GaugewrightError | None = None,
    more: int = 0,
) -> tuple[tuple[Group, ...], str]:
    """Groups of a form, and the sentence for what is wrong with none of its fields."""
    drawer = _Drawer(texts, book, system, more)
    drawn = [(blank, drawer.drawn(blank)) for blank in blanks]
    names = {name for _, one in drawn for name in _field_names(one)}
    wrong, failure = told_beside(error, names, lambda name: field_of(kind, name))
    titles = list(dict.fromkeys(blank.group for blank in blanks))
    groups = tuple(
        Group(title, tuple(_marked(one, wrong) for blank, one in drawn if blank.group == title))
        for title in titles
    )
    return groups, failure


def _field_names(one: PlanField) -> set[str]:
    names = {one.field.name}
    if one.rows is not None:
        names |= {field.name for line in one.rows.lines for field in line}
    return names


def _marked(one: PlanField, wrong: Mapping[str, str]) -> PlanField:
    """A field with what is wrong beside it; a name, as the label calls it, in the sentence."""
    field = _told(one.field, wrong)
    if one.rows is None:
        return replace(one, field=field)
    lines = tuple(tuple(_told(cell, wrong) for cell in line) for line in one.rows.lines)
    return replace(one, field=field, rows=replace(one.rows, lines=lines))


def _told(field: Field, wrong: Mapping[str, str]) -> Field:
    sentence = wrong.get(field.name, "")
    if sentence.startswith(f"{field.name} is "):
        sentence = f"{field.label}{sentence[len(field.name) :]}"
    return replace(field, wrong=sentence) if sentence else field


@dataclass(frozen=True, slots=True)
class _Drawer:
    texts: Mapping[str, str]
    book: Book
    system: System
    more: int

    def drawn(self, blank: Blank) -> PlanField:
        found = self._drawn(blank)
        missing = (self._lacks(one) for one in (blank, *blank.columns))
        return replace(found, lacks=next((one for one in missing if one), None))

    def _lacks(self, blank: Blank) -> tuple[str, str] | None:
        if not blank.is_needed or blank.kind not in (Kind.PICK, Kind.PICKS) or blank.of is None:
            return None
        kind = None if self._entries(blank) else kind_of_record(blank.of)
        return None if kind is None else (kind.key, kind.one)

    def _drawn(self, blank: Blank) -> PlanField:
        if blank.kind is Kind.ROWS:
            return self._rows(blank)
        field = self._field(blank, blank.name)
        if blank.kind is not Kind.STATED:
            return PlanField(field, decides=blank.decides)
        return PlanField(field, *self._known(blank))

    def _known(self, blank: Blank) -> tuple[Field, Field]:
        """How a stated value is known, and from where."""
        basis, source = f"{blank.name}_basis", f"{blank.name}_source"
        return (
            Field(
                basis,
                f"{blank.label}: it is",
                self.texts.get(basis, blank.basis.value),
                choices=tuple(Choice(*one) for one in BASES),
            ),
            Field(source, f"{blank.label}: by what", self.texts.get(source, "")),
        )

    def _rows(self, blank: Blank) -> PlanField:
        filled = rows_typed(self.texts, blank)
        count = max(filled + _SPARE, min(self.more, _MOST), _LEAST)
        lines = tuple(
            tuple(
                self._field(column, cell_name(blank.name, number, column.name), number)
                for column in blank.columns
            )
            for number in range(1, count + 1)
        )
        heads = tuple((column.label, self._unit(column)) for column in blank.columns)
        known: tuple[Field | None, Field | None] = (None, None)
        if any(column.kind is Kind.STATED for column in blank.columns):
            known = self._known(blank)
        head = Field(blank.name, blank.label, hint=blank.hint)
        return PlanField(head, *known, rows=Rows(blank.name, heads, lines))

    def _unit(self, blank: Blank) -> str:
        if blank.unit:
            return blank.unit
        return unit_shown(blank.quantity, self.system).text if blank.quantity else ""

    def _field(self, blank: Blank, name: str, row: int = 0) -> Field:
        value = self.texts.get(name, "")
        if value == blank.standing:  # its unit stands beside it
            value = value.removesuffix(f" {self._unit(blank)}")
        label = f"{blank.label}, row {row}" if row else blank.label
        if not blank.is_needed and not row and blank.kind in _MAY_BE_EMPTY:
            label = f"{label} (may be empty)"
        numeric = blank.kind in (Kind.NUMBER, Kind.COUNT)
        return Field(
            name,
            label,
            value,
            self._unit(blank) if not row else "",
            self._hint(blank),
            kind="date" if blank.kind is Kind.DAY else "number" if numeric else "text",
            choices=self._choices(blank, value, row),
            is_long=blank.kind in (Kind.LONG, Kind.PICKS),
        )

    def _hint(self, blank: Blank) -> str:
        text = self.texts.get(blank.name, "").strip()
        if blank.kind is Kind.STATED and text:
            return " ".join(part for part in (_ended(blank.hint), _doubt_told(text)) if part)
        if blank.kind is not Kind.PICKS:
            return blank.hint
        labels = [label_of(entry.record) for entry in self._entries(blank)]
        if not labels:
            return f"{blank.hint} None is entered yet."
        more = f" and {len(labels) - _KNOWN} more" if len(labels) > _KNOWN else ""
        return f"{blank.hint} Known: {'; '.join(labels[:_KNOWN])}{more}."

    def _entries(self, blank: Blank) -> tuple[Any, ...]:
        return self.book.of(blank.of) if blank.of is not None else ()

    def _choices(self, blank: Blank, value: str, row: int = 0) -> tuple[Choice, ...]:
        if blank.kind is Kind.YES:
            return (Choice("no", "no"), Choice("yes", "yes"))
        if blank.kind is Kind.PICK:
            labels = [label_of(entry.record) for entry in self._entries(blank)]
            empty = "none" if not blank.is_needed else "choose" if labels else "none entered yet"
            if row and not value and only_one(blank, self.book) is not None:
                return (Choice("", labels[0]),)  # a row that stays empty isn't one
            found = [Choice(label, label) for label in labels]
            if value and value not in labels:
                found.append(Choice(value, f"{value}: not entered"))
            return (Choice("", empty), *found)
        if blank.kind is Kind.CHOICE:
            found = [Choice(*one) for one in blank.choices]
            if value and value not in {one.value for one in found}:
                found.append(Choice(value, f"{value}: not a choice"))
            return tuple(found)
        return ()


_DOUBT = re.compile(r"±|\+/?-")
_MEANING = re.compile(r"k\s*=|limit|triangular")
_MAY_BE_EMPTY = (Kind.WORDS, Kind.NUMBER, Kind.COUNT, Kind.DAY, Kind.STATED)


def _ended(hint: str) -> str:
    """A hint as a sentence, so that another may follow."""
    return hint if not hint or hint.endswith(".") else f"{hint}."


def _doubt_told(text: str) -> str:
    """How a stated value was read whose ± is missing, or doesn't say what it means."""
    if not _DOUBT.search(text):
        return "No ± is given: it counts as exact."
    if not _MEANING.search(text):
        return "The ± doesn’t say what it means: it counts as a limit."
    return ""
