"""What a laboratory has on the shelf, and how much is used: its own lists, nothing erased."""

from collections.abc import Mapping
from datetime import date, datetime
from importlib import resources
from pathlib import Path

from gaugewright.errors import InputError
from gaugewright.present.typed import quantity_typed
from gaugewright.records.identity import instant_text
from gaugewright.records.plain import from_plain, to_plain
from gaugewright.records.supplying import OnShelf, SupplyRate
from gaugewright.services.campaign.laboratory import records_of_file
from gaugewright.services.laboratory.survival_published import laboratory_folder
from gaugewright.settings import Settings
from gaugewright.store.kept_lines import add_line, lines

__all__ = [
    "RATES",
    "SHELF",
    "amount_typed",
    "kept_shelf",
    "length_typed",
    "rates_of",
    "shelf_of",
    "shelf_typed",
]

SHELF = "stock.jsonl"
RATES = "supplies.toml"


def rates_of(settings: Settings | None) -> tuple[SupplyRate, ...]:
    """How much is used of what: shipped rates, the laboratory's own in their place.

    Raises
    ------
    Faults
        If the laboratory's file can't be used.
    """
    shipped = resources.files("gaugewright").joinpath("defaults").joinpath(RATES)
    found = {
        _label(one): one for one in records_of_file(shipped, Path(RATES), "supply", SupplyRate)
    }
    if settings is not None and settings["laboratory"]:
        own = Path(settings["laboratory"]) / RATES
        if own.is_file():
            records = records_of_file(own, own, "supply", SupplyRate)
            found |= {_label(one): one for one in records}
    return tuple(one for one in found.values() if isinstance(one, SupplyRate))


def _label(record: object) -> str:
    return str(getattr(record, "label", ""))


def shelf_of(settings: Settings | None) -> tuple[OnShelf, ...]:
    """What is on the shelf, by supply and batch as it was written last; used up is left out.

    Raises
    ------
    FileError
        If a line was changed.
    """
    if settings is None or not settings["laboratory"]:
        return ()
    found: dict[tuple[str, str], OnShelf] = {}
    for told in lines(laboratory_folder(settings) / SHELF):
        one: OnShelf = from_plain(OnShelf, told["shelf"])
        found[one.label, one.batch] = one
    return tuple(one for one in found.values() if one.amount > 0)


def kept_shelf(settings: Settings, one: OnShelf, *, at: datetime, person: str) -> OnShelf:
    """Write down how much of a supply is on the shelf: a new line, the last one holds.

    Raises
    ------
    InputError
        If no laboratory is set, or no supply is called so.
    """
    known = [rate.label for rate in rates_of(settings)]
    if one.label not in known:
        raise InputError("supply", one.label, "one of: " + "; ".join(known))
    line = {"shelf": to_plain(one), "at": instant_text(at), "person": person}
    add_line(laboratory_folder(settings) / SHELF, line)
    return one


def shelf_typed(typed: Mapping[str, str]) -> OnShelf:
    """A supply on the shelf as typed: supply, left, batch, expires.

    Raises
    ------
    InputError
        If the number or the date can't be.
    """
    day = typed.get("expires", "").strip()
    try:
        expires = date.fromisoformat(day) if day else None
    except ValueError as error:
        raise InputError("expires", day, "a date like 2027-03-31, or empty") from error
    left = amount_typed("left", typed.get("left", ""))
    return OnShelf(typed.get("supply", "").strip(), left, typed.get("batch", "").strip(), expires)


def length_typed(name: str, text: str, unit: str) -> float:
    """A length as typed [m]: in ``unit`` where none is given, else in its own, such as 20 ft.

    Raises
    ------
    InputError
        If it is none, or below 0.

    Examples
    --------
    >>> length_typed("plug", "6", "m"), round(length_typed("plug", "20 ft", "m"), 3)
    (6.0, 6.096)
    """
    try:
        float(text)
    except ValueError:
        words = text.strip()
    else:
        words = f"{text.strip()} {unit}"
    found = quantity_typed(name, words, "length")
    if found < 0:
        raise InputError(name, text, "0 or more")
    return found


def amount_typed(name: str, text: str) -> float:
    """A number of 0 or more as typed.

    Raises
    ------
    InputError
        If it is none.
    """
    try:
        found = float(text.strip())
    except ValueError as error:
        raise InputError(name, text.strip(), "a number, 0 or more") from error
    if not 0 <= found < float("inf"):
        raise InputError(name, text.strip(), "a number, 0 or more")
    return found
