"""A supply entered at the bench: batch, date, and the times of its own data sheet."""

import re
from collections.abc import Mapping
from datetime import date
from typing import Any

from gaugewright.errors import InputError
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
    """
    text = {name: typed.get(name, "").strip() for name in FIELDS}
    made = Supply(text["label"], text["what"], text["batch"], _day(text["expires"]), _sheet(text))
    if not made.what:
        raise InputError("what", "", "what it is, in general words")
    with store.several():
        for known in Book.read(store).of(Supply):
            if known.record.label == made.label:
                if known.record == made:
                    return known
                return store.revise(known.uid, known.version, made, reason="entered anew")
        return store.add(made, reason="entered at the bench")


def _day(text: str) -> date | None:
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise InputError("expires", text, "a date like 2027-03-31, or empty") from error


def _sheet(text: Mapping[str, str]) -> SupplySheet | None:
    if not any(text[name] for name in (*_SHEET, "source")):
        return None

    def seconds(name: str, words: str) -> float | None:
        return duration_typed(words, text[name]) if text[name] else None

    highest = text["highest"]
    return SupplySheet(
        text["source"],
        seconds("pot_life", "pot life"),
        seconds("pressing", "pressing"),
        seconds("next_layer", "next layer"),
        _rows(text["cure"]),
        quantity_typed("highest", highest, "temperature_degc") if highest else None,
    )


def _rows(text: str) -> tuple[CureRow, ...]:
    """Rows such as ``20 °C: 24 h; 40 °C: 3 h``."""
    rows = []
    for part in re.split(r"[;\n]", text):
        if not part.strip():
            continue
        warm, sign, time = part.partition(":")
        if not sign:
            raise InputError("cure", part.strip(), "rows such as 20 °C: 24 h; 40 °C: 3 h")
        degrees = quantity_typed("cure", warm.strip(), "temperature_degc")
        rows.append(CureRow(degrees, duration_typed("cure", time)))
    return tuple(sorted(rows, key=lambda row: row.temperature_degc))


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
