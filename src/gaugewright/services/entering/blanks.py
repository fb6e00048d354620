"""What a form of the plan asks, how what was typed is read, and how a record stands in it again.

What a person leaves as it stood keeps the record's own value to the last bit: the text in a field
has fewer digits than the value behind it, and a source or degrees of freedom may not be shown.
"""

import enum
import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial
from typing import Any, TypeVar

from gaugewright.errors import InputError, InputFaults
from gaugewright.present.typed import number_typed, quantity_typed, text_to_type
from gaugewright.present.units_shown import System
from gaugewright.quantities import unit_named
from gaugewright.records import Entry, label_of
from gaugewright.records.identity import Uid
from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.work.typed_values import stated_typed

__all__ = [
    "BASES",
    "Blank",
    "Kind",
    "Reader",
    "cell_name",
    "labels_in",
    "only_one",
    "rows_typed",
    "stated_text",
    "texts_of_values",
]

T = TypeVar("T")

BASES = tuple((basis.value, basis.value) for basis in Basis)
_FREEDOM = re.compile(r"[,;]?\s*(?P<dof>\d+(?:[.,]\d+)?)\s*degrees? of freedom\s*$")


class Kind(enum.Enum):
    """What may be typed into a blank."""

    WORDS = "words"
    LONG = "long words"
    NUMBER = "number"
    COUNT = "whole number"
    NUMBERS = "several numbers"
    STATED = "stated value"
    CHOICE = "choice"
    PICK = "a record"
    PICKS = "several records"
    YES = "yes or no"
    DAY = "day"
    LIST = "several words"
    ROWS = "rows"


@dataclass(frozen=True, slots=True)
class Blank:
    """One thing that a form asks.

    ``quantity`` is what its number is, "" for one without a unit; ``of`` the records that may be
    picked; ``choices`` values with their words; ``decides`` that other blanks follow from it;
    ``group`` the heading it stands under. ``unit`` is what a bare number is in, where that isn't
    the unit shown for its quantity. ``basis`` is what a stated value is known by unless the person
    says otherwise. ``standing`` is the text that it has on an empty form, and, where it ``follows``
    another choice, also after that choice was made. ``columns`` are the blanks of each row, and
    ``standing_rows`` what stands in the first of them, by name of the column.
    """

    name: str
    label: str
    kind: Kind = Kind.WORDS
    quantity: str = ""
    hint: str = ""
    is_needed: bool = False
    of: type | None = None
    choices: tuple[tuple[str, str], ...] = ()
    of_enum: type[enum.Enum] | None = None
    decides: bool = False
    group: str = ""
    unit: str = ""
    basis: Basis = Basis.STATED
    standing: str = ""
    follows: bool = False
    columns: tuple["Blank", ...] = ()
    standing_rows: tuple[Mapping[str, str], ...] = ()


def cell_name(rows: str, number: int, column: str) -> str:
    """Name of a field in a table of rows, numbered from 1."""
    return f"{rows}.{number}.{column}"


def rows_typed(texts: Mapping[str, str], blank: Blank) -> int:
    """Number of the last row in which something was typed; 0 where nothing was."""
    found = 0
    for name, text in texts.items():
        rows, _, rest = name.partition(".")
        number, _, column = rest.partition(".")
        known = any(one.name == column for one in blank.columns)
        if rows == blank.name and number.isdecimal() and known and text.strip():
            found = max(found, int(number))
    return found


def labels_in(text: str) -> tuple[str, ...]:
    """Labels with semicolons, commas or line ends between them."""
    sign = r"[;\n]" if re.search(r"[;\n]", text) else r","
    return tuple(part.strip() for part in re.split(sign, text) if part.strip())


def only_one(blank: Blank, book: Book) -> Entry[Any] | None:
    """The one record that a needed blank can name; None where there are more or none."""
    if blank.kind is not Kind.PICK or not blank.is_needed:
        return None
    known = _known(book, blank)
    return known[0] if len(known) == 1 else None


class Reader:
    """What was typed into one form, read blank by blank; what is wrong is gathered."""

    def __init__(
        self,
        texts: Mapping[str, str],
        book: Book,
        system: System,
        *,
        before: tuple[Mapping[str, str], Mapping[str, Any]] = ({}, {}),
    ) -> None:
        self.texts = texts
        self.book = book
        self.system = system
        self.faults: list[InputError] = []
        self._before = before

    def values(self, blanks: Sequence[Blank]) -> dict[str, Any]:
        """Value of every blank by its name; what can't be read is None and gathered."""
        return {blank.name: self.value(blank) for blank in blanks}

    def value(self, blank: Blank) -> Any:
        """Value of one blank, or None."""
        if self._is_unchanged(blank):
            return self._before[1][blank.name]
        if blank.kind is Kind.ROWS:
            return self._rows(blank)
        text = self.texts.get(blank.name, "").strip()
        if not text:
            if blank.is_needed:
                self.refuse(blank.name, "", "given")
            return _EMPTY.get(blank.kind)
        return self.tried(partial(_READ[blank.kind], self, blank, text))

    def tried(self, read: Callable[[], T]) -> T | None:
        """What a reading gives, or None with its fault gathered."""
        try:
            return read()
        except InputFaults as error:
            self.faults += [fault for fault in error.faults if isinstance(fault, InputError)]
        except InputError as error:
            self.faults.append(error)
        return None

    def refuse(self, name: str, value: object, allowed: str, do: str = "") -> None:
        """Gather a fault."""
        self.faults.append(InputError(name, value, allowed, do))

    def done(self, what: str) -> None:
        """Stop here if anything was wrong.

        Raises
        ------
        InputError
            If one thing was.
        InputFaults
            If several were.
        """
        if len(self.faults) == 1:
            raise self.faults[0]
        if self.faults:
            raise InputFaults(what, self.faults)

    def _is_unchanged(self, blank: Blank) -> bool:
        texts, values = self._before
        if blank.name not in values:
            return False
        names = _names(blank, texts) | _names(blank, self.texts)
        return all(
            self.texts.get(name, "").strip() == texts.get(name, "").strip() for name in names
        )

    def _rows(self, blank: Blank) -> tuple[dict[str, Any], ...]:
        found = []
        for number in range(1, rows_typed(self.texts, blank) + 1):
            mine = {c.name: cell_name(blank.name, number, c.name) for c in blank.columns}
            if not any(self.texts.get(name, "").strip() for name in mine.values()):
                continue
            row: dict[str, Any] = {}
            for column in blank.columns:
                placed = _placed(blank, column, number)
                only = only_one(column, self.book)
                is_open = only is not None and not self.texts.get(placed.name, "").strip()
                row[column.name] = only.uid if is_open and only else self.value(placed)
            found.append(row)
        if blank.is_needed and not found:
            self.refuse(cell_name(blank.name, 1, blank.columns[0].name), "", "given in one row")
        return tuple(found)


def _placed(rows: Blank, column: Blank, number: int) -> Blank:
    """A column's blank in one row; basis and source stand once for the whole table."""
    return Blank(
        cell_name(rows.name, number, column.name),
        column.label,
        column.kind,
        column.quantity,
        is_needed=column.is_needed,
        of=column.of,
        choices=column.choices,
        of_enum=column.of_enum,
        unit=column.unit,
        basis=rows.basis,
        group=rows.name,
    )


def _names(blank: Blank, texts: Mapping[str, str]) -> set[str]:
    """Names of the fields that a blank has among some texts."""
    mine = {blank.name}
    if blank.kind is Kind.STATED or blank.columns:
        mine |= {f"{blank.name}_basis", f"{blank.name}_source"}
    return mine | {name for name in texts if blank.columns and name.startswith(f"{blank.name}.")}


def _number(reader: Reader, blank: Blank, text: str) -> float:
    if blank.quantity:
        full = _with_unit(blank, text)
        return quantity_typed(blank.name, full, blank.quantity, reader.system)
    return number_typed(blank.name, text)


def _with_unit(blank: Blank, text: str) -> str:
    """A bare number gets the unit that its field shows, where that is one of its own."""
    if not blank.unit:
        return text
    try:
        number_typed(blank.name, text)
    except InputError:
        return text
    return f"{text} {blank.unit}"


def _count(reader: Reader, blank: Blank, text: str) -> int:
    number = number_typed(blank.name, text)
    if number != math.floor(number):
        raise InputError(blank.name, text, "a whole number")
    return int(number)


def _numbers(reader: Reader, blank: Blank, text: str) -> tuple[float, ...]:
    """Numbers with semicolons between; a comma may be a decimal sign."""
    return tuple(_number(reader, blank, part) for part in text.split(";") if part.strip())


def _stated(reader: Reader, blank: Blank, text: str) -> Stated:
    table = blank.group if f"{blank.group}_basis" in reader.texts else blank.name
    basis = reader.texts.get(f"{table}_basis", "") or blank.basis.value
    if basis not in dict(BASES):
        raise InputError(blank.name, basis, "one of " + ", ".join(dict(BASES)))
    source = reader.texts.get(f"{table}_source", "").strip()
    freedom = _FREEDOM.search(text)
    tidy = text[: freedom.start()] if freedom else text
    if blank.quantity:
        found = stated_typed(
            blank.name, tidy, blank.quantity, reader.system, basis=Basis(basis), source=source
        )
    else:
        found = stated_typed(blank.name, tidy, "value", basis=Basis(basis), source=source)
    dof = number_typed(blank.name, freedom["dof"]) if freedom else None
    return Stated(found.value, found.plus_minus, found.meaning, found.basis, found.source, dof)


def _choice(reader: Reader, blank: Blank, text: str) -> Any:
    known = {value for value, _ in blank.choices}
    if blank.choices and text not in known:
        raise InputError(blank.name, text, "one of " + "; ".join(sorted(known)))
    return blank.of_enum(text) if blank.of_enum is not None else text


def _pick(reader: Reader, blank: Blank, text: str) -> Uid:
    known = _known(reader.book, blank)
    for entry in known:
        if label_of(entry.record) == text:
            return entry.uid
    labels = ", ".join(label_of(entry.record) for entry in known[:12]) or "none is entered yet"
    raise InputError(blank.name, text, f"one of: {labels}")


def _picks(reader: Reader, blank: Blank, text: str) -> tuple[Uid, ...]:
    return tuple(dict.fromkeys(_pick(reader, blank, label) for label in labels_in(text)))


def _known(book: Book, blank: Blank) -> tuple[Entry[Any], ...]:
    return book.of(blank.of) if blank.of is not None else ()


def _yes(reader: Reader, blank: Blank, text: str) -> bool:
    if text not in ("yes", "no"):
        raise InputError(blank.name, text, "yes or no")
    return text == "yes"


def _day(reader: Reader, blank: Blank, text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise InputError(blank.name, text, "a day such as 2026-10-14") from error


def _words(reader: Reader, blank: Blank, text: str) -> str:
    return text


def _list(reader: Reader, blank: Blank, text: str) -> tuple[str, ...]:
    return labels_in(text)


_READ: Mapping[Kind, Callable[[Reader, Blank, str], Any]] = {
    Kind.WORDS: _words,
    Kind.LONG: _words,
    Kind.NUMBER: _number,
    Kind.COUNT: _count,
    Kind.NUMBERS: _numbers,
    Kind.STATED: _stated,
    Kind.CHOICE: _choice,
    Kind.PICK: _pick,
    Kind.PICKS: _picks,
    Kind.YES: _yes,
    Kind.DAY: _day,
    Kind.LIST: _list,
}
# What an empty field stands for where it isn't "not known".
_EMPTY: Mapping[Kind, Any] = {
    Kind.WORDS: "",
    Kind.LONG: "",
    Kind.CHOICE: "",
    Kind.PICKS: (),
    Kind.LIST: (),
    Kind.NUMBERS: (),
    Kind.YES: False,
}


def texts_of_values(
    blanks: Sequence[Blank], values: Mapping[str, Any], book: Book, system: System
) -> dict[str, str]:
    """What stands in the fields of a form for the values of a record."""
    texts: dict[str, str] = {}
    for blank in blanks:
        value = values.get(blank.name)
        if blank.kind is Kind.ROWS:
            texts |= _texts_of_rows(blank, value or (), book, system)
            continue
        texts[blank.name] = _text(blank, value, book, system)
        if blank.kind is Kind.STATED:
            stated = value if isinstance(value, Stated) else None
            texts[f"{blank.name}_basis"] = (stated.basis if stated else blank.basis).value
            texts[f"{blank.name}_source"] = stated.source if stated else ""
    return texts


def _texts_of_rows(
    blank: Blank, rows: Sequence[Mapping[str, Any]], book: Book, system: System
) -> dict[str, str]:
    texts: dict[str, str] = {}
    known = [v for row in rows for v in row.values() if isinstance(v, Stated)]
    if any(column.kind is Kind.STATED for column in blank.columns):
        texts[f"{blank.name}_basis"] = (known[0].basis if known else blank.basis).value
        texts[f"{blank.name}_source"] = known[0].source if known else ""
    for number, row in enumerate(rows, start=1):
        for column in blank.columns:
            name = cell_name(blank.name, number, column.name)
            texts[name] = _text(column, row.get(column.name), book, system)
    return texts


def _text(blank: Blank, value: Any, book: Book, system: System) -> str:
    if value is None:
        return ""
    if isinstance(value, Stated):
        return stated_text(value, blank.quantity, system)
    if isinstance(value, enum.Enum):
        return str(value.value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if blank.kind is Kind.PICK:
        return book.label(value)
    if blank.kind is Kind.PICKS:
        return "; ".join(book.label(uid) for uid in value)
    if blank.kind is Kind.LIST:
        return "; ".join(value)
    if blank.kind is Kind.NUMBERS:
        return "; ".join(_number_text(one, blank.quantity, system) for one in value)
    if blank.kind is Kind.NUMBER and blank.unit:
        unit = unit_named(blank.unit)
        return f"{float(value) / unit.factor - unit.offset:.12g}"
    if blank.kind is Kind.NUMBER:
        return _number_text(float(value), blank.quantity, system)
    return value.isoformat() if isinstance(value, date) else str(value)


def _number_text(value: float, quantity: str, system: System) -> str:
    return text_to_type(value, quantity, system) if quantity else f"{value:.12g}"


def stated_text(stated: Stated, quantity: str, system: System) -> str:
    """A stated value as it may be typed again: "199 ± 2.4 (k=2), 4 degrees of freedom"."""
    text = _number_text(stated.value, quantity, system)
    if stated.plus_minus is not None:
        zero = float(_number_text(0.0, quantity, system))
        width = float(_number_text(stated.plus_minus, quantity, system)) - zero
        text += f" ± {width:.10g}"
        if stated.meaning is not Meaning.UNKNOWN:
            text += f" ({stated.meaning.value})"
    if stated.degrees_of_freedom is not None:
        text += f", {stated.degrees_of_freedom:g} degrees of freedom"
    return text
