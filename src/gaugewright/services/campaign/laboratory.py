"""What a laboratory brings to every campaign: limits and methods, people, meters, packs, metals."""

import tomllib
from collections.abc import Iterator, Mapping
from datetime import date, datetime
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

from gaugewright.errors import Faults, FileError, GaugewrightError, InputError
from gaugewright.records import label_of
from gaugewright.records.gauges import GaugePack
from gaugewright.records.identity import instant_text
from gaugewright.records.plain import from_plain
from gaugewright.records.proof import Limit, Meter, Method, Person
from gaugewright.records.specimen import Material
from gaugewright.services.campaign.book import Book
from gaugewright.settings import Settings

__all__ = [
    "FILES",
    "campaign_defaults",
    "laboratory_records",
    "limit_or_shipped",
    "records_of_file",
    "shipped_records",
]

# File of a laboratory folder -> name of a table in it -> the record it becomes.
FILES: dict[str, tuple[str, type]] = {
    "limits.toml": ("limit", Limit),
    "methods.toml": ("method", Method),
    "people.toml": ("person", Person),
    "meters.toml": ("meter", Meter),
    "packs.toml": ("pack", GaugePack),
    "materials.toml": ("material", Material),
}
SHIPPED = ("limits.toml", "methods.toml")


@cache
def shipped_records() -> tuple[object, ...]:
    """Limits and methods that come with the package."""
    folder = resources.files("gaugewright").joinpath("defaults")
    return tuple(
        record for name in SHIPPED for record in _records(folder.joinpath(name), Path(name), name)
    )


def limit_or_shipped(book: Book, label: str) -> Limit:
    """Limit of the campaign; the shipped one where the campaign is older than it.

    Raises
    ------
    InputError
        If neither the campaign nor this package has it.
    """
    for entry in book.of(Limit):
        if entry.record.label == label:
            return entry.record
    for record in book.once("shipped records", lambda _: shipped_records()):
        if isinstance(record, Limit) and record.label == label:
            return record
    raise InputError(f"limit {label}", None, "in the campaign", "add it: gaugewright ships one")


def laboratory_records(folder: Path) -> tuple[object, ...]:
    """Records of a laboratory's own folder; files that aren't there are left out.

    Raises
    ------
    FileError
        If there is no such folder.
    Faults
        Naming file, table and field of everything that can't be used.
    """
    if not folder.is_dir():
        raise FileError(
            folder, "isn't a folder", do="correct the setting laboratory, or make the folder"
        )
    found: list[object] = []
    faults: list[GaugewrightError] = []
    for name in FILES:
        path = folder / name
        if path.is_file():
            try:
                found.extend(_records(path, path, name))
            except Faults as several:
                faults.extend(several.faults)
    if faults:
        raise Faults(f"laboratory folder {folder}", faults)
    return tuple(found)


def campaign_defaults(settings: Settings) -> tuple[object, ...]:
    """What a new campaign copies whole: shipped records, those of the laboratory in their place.

    A laboratory's record takes the place of a shipped one of the same kind and label.

    Raises
    ------
    FileError
        If the laboratory's folder isn't there.
    Faults
        Naming file, table and field of everything that can't be used.
    """
    records = {_name(record): record for record in shipped_records()}
    if settings["laboratory"]:
        own = laboratory_records(Path(settings["laboratory"]))
        records.update({_name(record): record for record in own})
    return tuple(records.values())


def _name(record: object) -> tuple[type, str]:
    return type(record), label_of(record)


def _records(source: Path | Traversable, shown: Path, name: str) -> tuple[object, ...]:
    return records_of_file(source, shown, *FILES[name])


def records_of_file(
    source: Path | Traversable, shown: Path, table: str, kind: type
) -> tuple[object, ...]:
    """Records that stand as tables of one name in a file.

    Raises
    ------
    Faults
        All that is wrong with it, at once.
    """
    found: dict[str, object] = {}
    faults: list[GaugewrightError] = []
    for number, fields in _tables(source, shown, table):
        place = f"[[{table}]] number {number}"
        try:
            record = from_plain(kind, _plain(fields))
        except InputError as error:
            told = str(fields.get("label", "without a label"))
            faults.append(FileError(shown, f"{place}, {told}: {error}"))
            continue
        label = label_of(record)
        if label in found:
            faults.append(FileError(shown, f"{place}, {label}: this label is there twice"))
        found[label] = record
    if faults:
        raise Faults(f"laboratory file {shown}", faults)
    return tuple(found.values())


def _tables(
    source: Path | Traversable, shown: Path, table: str
) -> Iterator[tuple[int, Mapping[str, Any]]]:
    try:
        told = tomllib.loads(source.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        fault = FileError(shown, f"isn't readable as TOML ({error})", do="mend it")
        raise Faults(f"laboratory file {shown}", [fault]) from error
    unknown = sorted(set(told) - {table})
    rows = told.get(table, [])
    if unknown or not isinstance(rows, list) or not all(isinstance(r, dict) for r in rows):
        fault = FileError(
            shown,
            f"has something else than [[{table}]]",
            expected=f"tables that begin with [[{table}]] only",
            got=unknown[0] if unknown else table,
        )
        raise Faults(f"laboratory file {shown}", [fault])
    yield from enumerate(rows, start=1)


def _plain(value: Any) -> Any:
    """TOML value as the plain value a record is read from."""
    if isinstance(value, dict):
        return {name: _plain(item) for name, item in value.items()}
    if isinstance(value, list):
        return [_plain(item) for item in value]
    if isinstance(value, datetime):
        return instant_text(value)
    if isinstance(value, date):
        return value.isoformat()
    return value.strip() if isinstance(value, str) else value
