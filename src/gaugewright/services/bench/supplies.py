"""A supply entered at the bench: batch, date, and the times of its own data sheet."""

import re
from collections.abc import Callable, Mapping
from datetime import date
from typing import Any, TypeVar

from gaugewright.errors import InputError, InputFaults
from gaugewright.present.typed import quantity_typed
from gaugewright.records import Entry
from gaugewright.records.benching import CureRow, SupplySheet
from gaugewright.records.gauges import Supply
from gaugewright.services.bench.clocks import duration_text
from gaugewright.services.campaign.book import Book
from gaugewright.store.campaign import CampaignStore

__all__ = ["FIELDS", "duration_typed", "sheet_words", "supply_kept"]

FIELDS = (
    "label",
    "what",
    "batch",
    "expires",
    "source",
    "pot_life",
    "pressing",
    "next_layer",
    "cure",
    "highest",
)
T = TypeVar("T")
_NUMBER_ALONE = re.compile(r"[0-9.,\s]+")
_SHEET = ("pot_life", "pressing", "next_layer", "cure", "highest")


def duration_typed(name: str, text: str) -> float:
    """A stretch of time as typed, minutes where no unit is given [s].

    Raises
    ------
    InputError
        If it isn't a time above 0.

    Examples
    --------
    >>> duration_typed("pot life", "20"), duration_typed("cure", "24 h")
    (1200.0, 86400.0)
    """
    words = f"{text.strip()} min" if _NUMBER_ALONE.fullmatch(text.strip()) else text
    seconds = quantity_typed(name, words, "time")
    if seconds <= 0:
        raise InputError(name, text, "a time above 0, such as 20 min or 24 h")
    return seconds


def supply_kept(store: CampaignStore, typed: Mapping[str, str]) -> Entry[Supply]:
    """Enter a supply, or its next version when the label is known and something changed.

    Raises
    ------
    InputError
        If something typed can't be, or times are given without saying from which sheet.
    InputFaults
        If several of it can't be: all are told at once.
    """
    text = {name: typed.get(name, "").strip() for name in FIELDS}
    made = _supply(text)
    with store.several():
        for known in Book.read(store).of(Supply):
            if known.record.label == made.label:
                if known.record == made:
                    return known
                return store.revise(known.uid, known.version, made, reason="entered anew")
        return store.add(made, reason="entered at the bench")


class _Told:
    """Faults of one form, gathered."""

    def __init__(self) -> None:
        self.faults: list[InputError] = []

    def read(self, of: Callable[[str, str], T], name: str, text: str) -> T | None:
        """What a field says, None where it is empty or wrong."""
        if not text:
            return None
        try:
            return of(name, text)
        except InputError as error:
            self.faults.append(InputError(name, text, error.allowed, error.do))
            return None

    def wanted(self, name: str, text: str, allowed: str) -> None:
        """A field that has to be filled in."""
        if not text:
            self.faults.append(InputError(name, "", allowed))


def _supply(text: Mapping[str, str]) -> Supply:
    told = _Told()
    told.wanted("label", text["label"], "a short name, such as glue-2")
    told.wanted("what", text["what"], "what it is, in general words")
    expires = told.read(_day, "good until", text["expires"])
    pot_life = told.read(duration_typed, "pot life", text["pot_life"])
    pressing = told.read(duration_typed, "press for", text["pressing"])
    next_layer = told.read(duration_typed, "next layer after", text["next_layer"])
    rows = told.read(_rows, "cured", text["cure"]) or ()
    highest = told.read(_degrees, "never above", text["highest"])
    has_sheet = any(text[name] for name in (*_SHEET, "source"))
    if has_sheet:
        told.wanted("its data sheet", text["source"], "named, with its date: the times are its own")
    if told.faults:
        raise told.faults[0] if len(told.faults) == 1 else InputFaults("supply", told.faults)
    sheet = None
    if has_sheet:
        sheet = SupplySheet(text["source"], pot_life, pressing, next_layer, rows, highest)
    return Supply(text["label"], text["what"], text["batch"], expires, sheet)


def _day(name: str, text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise InputError(name, text, "a date like 2027-03-31, or empty") from error


def _degrees(name: str, text: str) -> float:
    return quantity_typed(name, text, "temperature_degc")


def _rows(name: str, text: str) -> tuple[CureRow, ...]:
    """Rows such as ``20 °C: 24 h; 40 °C: 3 h``."""
    rows = []
    for part in re.split(r"[;\n]", text):
        if not part.strip():
            continue
        warm, sign, time = part.partition(":")
        if not (sign and warm.strip() and time.strip()):
            raise InputError(name, part.strip(), "a temperature with its time, as 20 °C: 24 h")
        rows.append(CureRow(_degrees(name, warm.strip()), duration_typed(name, time)))
    tidy = tuple(sorted(rows, key=lambda row: row.temperature_degc))
    SupplySheet("as typed", cure=tidy)  # refuses rows out of order, by the name of their field
    return tidy


def sheet_words(supply: Supply) -> str:
    """Times of a supply's sheet in words; "" where none was typed in."""
    sheet = supply.sheet
    if sheet is None:
        return ""
    named: tuple[tuple[str, Any], ...] = (
        ("pot life", sheet.pot_life),
        ("press", sheet.pressing),
        ("next layer after", sheet.next_layer),
    )
    told = [f"{name} {duration_text(seconds)}" for name, seconds in named if seconds is not None]
    rows = [f"{row.temperature_degc:g} °C {duration_text(row.time)}" for row in sheet.cure]
    told += ["cured at " + ", ".join(rows)] if rows else []
    if sheet.highest_degc is not None:
        told.append(f"never above {sheet.highest_degc:g} °C")
    return f"{'; '.join(told) or 'no times typed in'} ({sheet.source})"
