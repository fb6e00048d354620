"""Which faults are known: causes, signs, readings, meters; shipped or of a laboratory."""

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any, TypeVar

from gaugewright.calc.diagnosis import Finder
from gaugewright.calc.diagnosis_causes import (
    Allowances,
    Cause,
    Effort,
    Range,
    ReadingError,
    Sign,
    with_pairs,
)
from gaugewright.calc.diagnosis_circuit import Setup
from gaugewright.calc.diagnosis_harness import names_of
from gaugewright.calc.diagnosis_templates import causes_of, efforts_of, like_of
from gaugewright.errors import Faults, FileError, GaugewrightError, InputError

__all__ = ["FILE", "FaultBook", "fault_book", "fault_book_kept"]

FILE = "faults.toml"
T = TypeVar("T")
# Tables of the file, and the field that tells one row from another.
_TABLES = {
    "cause": "label",
    "sign": "name",
    "measurement": "what",
    "meter": "what",
    "allowance": "source",
}
_TOLD = ("source", "unverified")
# A nominal resistance names a kind of gauge: within a tenth it is that kind.
_SAME_KIND = 0.1
_KEPT = 4  # finders kept: some 60 MB each


@dataclass(frozen=True, slots=True)
class FaultBook:
    """Everything the fault finder is told, and where it stands.

    ``nominal`` limits a cause to gauges of about that resistance; ``unverified`` holds labels
    nobody has confirmed yet.
    """

    causes: tuple[Cause, ...]
    nominal: Mapping[str, float]
    signs: tuple[Sign, ...]
    efforts: tuple[Effort, ...]
    meters: Mapping[str, ReadingError]
    allowances: Allowances
    unverified: frozenset[str]
    kept: dict[Setup, Finder] = field(default_factory=dict, compare=False, repr=False)

    def causes_for(self, setup: Setup) -> tuple[Cause, ...]:
        """Causes that a gauge of that resistance and circuit can have, two at once among them."""
        fitting = tuple(
            cause
            for cause in self.causes
            if cause.label not in self.nominal
            or abs(setup.gauge_resistance / self.nominal[cause.label] - 1) < _SAME_KIND
        )
        return with_pairs(causes_of(setup, fitting), self.allowances)

    def finder(self, setup: Setup) -> Finder:
        """Fault finder of a gauge; those made last are kept, for they take some tenths of a second.

        What is kept depends on nothing but the setup, so that it never grows old.
        """
        found = self.kept.pop(setup, None)
        if found is None:
            found = Finder(setup, self.causes_for(setup), self.allowances, self.signs)
        self.kept[setup] = found
        while len(self.kept) > _KEPT:
            self.kept.pop(next(iter(self.kept)), None)
        return found

    def efforts_for(self, setup: Setup) -> tuple[Effort, ...]:
        """How long each reading of that circuit takes."""
        return efforts_of(setup, self.efforts)

    def meter(self, what: str) -> ReadingError | None:
        """Meter at hand for a reading of any circuit."""
        return self.meters.get(what) or self.meters.get(like_of(what))

    def meters_for(self, setup: Setup) -> dict[str, ReadingError]:
        """Meters at hand for the readings of that circuit."""
        found = {what: self.meter(what) for what in names_of(setup)}
        return {what: meter for what, meter in found.items() if meter is not None}


def fault_book(laboratory: Path | None = None) -> FaultBook:
    """Known faults; rows of a laboratory's own file take the place of shipped ones by label.

    Raises
    ------
    Faults
        Naming table and row of everything that can't be used.
    """
    shipped = resources.files("gaugewright").joinpath("defaults", FILE).read_text(encoding="utf-8")
    tables = _tables(shipped, Path(FILE))
    own = laboratory / FILE if laboratory is not None else None
    shown = Path(FILE)
    if own is not None and own.is_file():
        shown = own
        try:
            theirs = _tables(own.read_text(encoding="utf-8"), own)
        except UnicodeDecodeError as error:
            raise FileError(own, f"isn't readable as UTF-8 ({error})", do="mend it") from error
        for name, key in _TABLES.items():
            tables[name] = _replaced(name, key, tables[name], theirs[name])
    return _book(tables, shown)


def fault_book_kept(laboratory: Path | None = None) -> FaultBook:
    """The same, read again only after the laboratory's file was changed: finders stay made."""
    own = laboratory / FILE if laboratory is not None else None
    stat = own.stat() if own is not None and own.is_file() else None
    return _read_once(laboratory, (stat.st_mtime_ns, stat.st_size) if stat else (0, 0))


@lru_cache(maxsize=2)
def _read_once(laboratory: Path | None, _changed: tuple[int, int]) -> FaultBook:
    return fault_book(laboratory)


def _tables(text: str, shown: Path) -> dict[str, list[dict[str, Any]]]:
    try:
        told = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise FileError(shown, f"isn't readable as TOML ({error})", do="mend it") from error
    unknown = sorted(set(told) - set(_TABLES))
    if unknown:
        expected = "tables " + ", ".join(_TABLES)
        raise FileError(shown, "has an unknown table", expected=expected, got=unknown[0])
    return {name: list(told.get(name, [])) for name in _TABLES}


def _replaced(
    name: str, key: str, rows: list[dict[str, Any]], own: list[dict[str, Any]]
) -> list[dict[str, Any]]:
    if name == "allowance":
        return own or rows
    if name == "meter":
        return [*rows, *own]  # later ones win, reading by reading
    taken = {row.get(key) for row in own}
    return [*(row for row in rows if row.get(key) not in taken), *own]


def _book(tables: Mapping[str, list[dict[str, Any]]], shown: Path) -> FaultBook:
    faults: list[GaugewrightError] = []

    def made(name: str, make: Callable[[dict[str, Any]], T]) -> list[T]:
        found = []
        for number, row in enumerate(tables[name], start=1):
            try:
                found.append(make(dict(row)))
            except (InputError, TypeError, KeyError) as error:
                label = row.get(_TABLES[name], "without a label")
                faults.append(FileError(shown, f"[[{name}]] number {number}, {label}: {error}"))
        return found

    causes = made("cause", _cause)
    signs = made("sign", lambda row: Sign(**_without(row, *_TOLD)))
    efforts = made("measurement", lambda row: Effort(**_without(row, *_TOLD)))
    meters = made("meter", _meter)
    allowances = made("allowance", lambda row: Allowances(**_without(row, *_TOLD)))
    if not allowances:
        faults.append(FileError(shown, "has no [[allowance]]"))
    if faults:
        raise Faults(f"faults in {shown}", faults)
    rows = [row for table in tables.values() for row in table]
    return FaultBook(
        tuple(causes),
        {row["label"]: float(row["nominal"]) for row in tables["cause"] if "nominal" in row},
        tuple(signs),
        tuple(efforts),
        {what: error for whats, error in meters for what in whats},
        allowances[-1],
        frozenset(
            str(row.get("label") or row.get("name") or row.get("what"))
            for row in rows
            if row.get("unverified", True)
        ),
    )


def _without(row: dict[str, Any], *names: str) -> dict[str, Any]:
    return {name: value for name, value in row.items() if name not in names}


def _cause(row: dict[str, Any]) -> Cause:
    ranges = tuple(Range(**one) for one in row.get("ranges", []))
    return Cause(ranges=ranges, **_without(row, "ranges", "nominal", "unverified"))


def _meter(row: dict[str, Any]) -> tuple[tuple[str, ...], ReadingError]:
    return tuple(row["what"]), ReadingError(**_without(row, "what", *_TOLD))
