"""Families of adhesive and protection to choose among: shipped ones, the laboratory's in place."""

import tomllib
from importlib import resources
from pathlib import Path
from typing import Any

from gaugewright.errors import FileError, InputError
from gaugewright.records.families import Adhesive, Coating
from gaugewright.records.plain import from_plain
from gaugewright.settings import Settings

__all__ = ["FILE", "families"]

FILE = "families.toml"
_TABLES: dict[str, type] = {"adhesive": Adhesive, "protection": Coating}


def families(settings: Settings | None) -> tuple[tuple[Adhesive, ...], tuple[Coating, ...]]:
    """Adhesives and protections; a laboratory's own of the same label take a shipped one's place.

    Raises
    ------
    FileError
        Naming the table and field of the laboratory's file that can't be used.
    """
    source = resources.files("gaugewright").joinpath("defaults").joinpath(FILE)
    found = _read(source.read_text(encoding="utf-8"), Path(FILE))
    if settings is not None and settings["laboratory"]:
        own = Path(settings["laboratory"]) / FILE
        if own.is_file():
            for table, records in _read(own.read_text(encoding="utf-8"), own).items():
                found[table] |= records
    adhesives = tuple(r for r in found["adhesive"].values() if isinstance(r, Adhesive))
    coatings = tuple(r for r in found["protection"].values() if isinstance(r, Coating))
    return adhesives, coatings


def _read(text: str, shown: Path) -> dict[str, dict[str, object]]:
    try:
        told: dict[str, Any] = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise FileError(shown, f"isn't readable as TOML ({error})", do="mend it") from error
    unknown = sorted(set(told) - set(_TABLES))
    if unknown:
        allowed = " and ".join(f"[[{name}]]" for name in _TABLES)
        raise FileError(shown, "has another table", expected=allowed, got=unknown[0])
    found: dict[str, dict[str, object]] = {name: {} for name in _TABLES}
    for table, kind in _TABLES.items():
        for number, fields in enumerate(told.get(table, []), start=1):
            try:
                record = from_plain(kind, fields)
            except InputError as error:
                raise FileError(shown, f"[[{table}]] number {number}: {error}") from error
            found[table][record.label] = record
    return found
