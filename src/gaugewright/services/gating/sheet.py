"""A gate's sheet of the whole campaign: written out to be filled in anywhere, and read back."""

import csv
import hashlib
import io
import re
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from gaugewright.errors import Faults, FileError, GaugewrightError, InputError
from gaugewright.present.cells import csv_text
from gaugewright.present.typed import number_typed
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Gate, GateReading, Meter
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.events import instant_typed
from gaugewright.services.gating.checks import (
    Recorded,
    Sent,
    box_unit,
    judgement_at,
    meter_for,
    readings_at,
    record,
)
from gaugewright.services.gating.fields import GateField, Setup, gauge_named, setup
from gaugewright.sources.workbook import Workbook
from gaugewright.sources.workbook_out import workbook_bytes
from gaugewright.store.campaign import CampaignStore
from gaugewright.units import parse_unit

__all__ = ["SheetTable", "TakenIn", "as_csv", "as_workbook", "sheet_of", "take_in"]

_GAUGE, _TEMPERATURE, _TIME = "gauge", "temperature in °C", "time"
_VERDICT, _REASON = "verdict", "reason"
_HEAD = re.compile(r"(?P<what>.*?)\s*(?:\bin\b|\[|\()\s*(?P<unit>[^\])]+?)\s*[\])]?")
_DASHES = re.compile("[\N{EN DASH}\N{MINUS SIGN}\N{HYPHEN}]")
MOST_ROWS = 5000


@dataclass(frozen=True, slots=True)
class SheetTable:
    """Heads and one row for each gauge; readings stand as they were typed."""

    gate: Gate
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    left_out: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TakenIn:
    """What came of a sheet: checks that were written, and rows that said nothing new."""

    recorded: tuple[tuple[str, Recorded], ...]
    unchanged: int
    empty: int


@dataclass(frozen=True, slots=True)
class _Row:
    """A filled row, where it stands, and the form that it makes."""

    line: int
    setup: Setup
    sent: Sent


def sheet_of(book: Book, gate: Gate, zone: ZoneInfo) -> SheetTable:
    """Sheet of a gate with what was read so far; gauges without a circuit are named as left out.

    Columns are the fields of all circuits together; a field that a gauge hasn't stays empty.
    """
    setups, left_out = [], []
    for gauge in book.of(Gauge):
        try:
            setups.append(setup(book, gauge, gate))
        except InputError:
            left_out.append(gauge.record.label)
    fields = {field.what: field for one in setups for field in one.fields}
    units = {what: _unit(book, field) for what, field in fields.items()}
    heads = [_GAUGE, _TEMPERATURE, _TIME]
    heads += [f"{what} in {unit}" if (unit := units[what]) else what for what in fields]
    heads += [_VERDICT, _REASON]
    rows = [_row(book, one, tuple(fields), units, zone) for one in setups]
    return SheetTable(gate, tuple(heads), tuple(rows), tuple(left_out))


def _unit(book: Book, field: GateField) -> str:
    meter = meter_for(book, field, None)
    return box_unit(book, meter, field) if meter is not None else ""


def _row(
    book: Book, one: Setup, fields: tuple[str, ...], units: Mapping[str, str], zone: ZoneInfo
) -> tuple[str, ...]:
    readings = readings_at(book, one)
    warmth = next(
        (r.temperature_degc for r in readings.values() if r.temperature_degc is not None), None
    )
    measured = min((r.measured for r in readings.values()), default=None)
    found = judgement_at(book, one)
    return (
        one.gauge.record.label,
        "" if warmth is None else f"{warmth:g}",
        "" if measured is None else f"{measured.astimezone(zone):%Y-%m-%d %H:%M:%S}",
        *(_cell(readings.get(what), units[what]) for what in fields),
        "" if found is None else found.verdict.value,
        "" if found is None else "; ".join((found.reason, *found.flags)),
    )


def _cell(reading: GateReading | None, unit: str) -> str:
    """Reading as typed, without the unit that the head says."""
    if reading is None:
        return ""
    return reading.typed.removesuffix(unit).strip() if unit else reading.typed


def as_csv(table: SheetTable) -> str:
    """Sheet as text with commas; no cell begins a formula."""
    return csv_text(table.heads, table.rows)


def as_workbook(table: SheetTable) -> bytes:
    """Sheet as a workbook; every cell is text or a number, none a formula."""
    return workbook_bytes(f"gate {table.gate.value}", table.heads, table.rows)


def take_in(
    store: CampaignStore,
    book: Book,
    gate: Gate,
    path: Path,
    *,
    zone: ZoneInfo,
    as_typed: bool = False,
    unplugged: bool = False,
) -> TakenIn:
    """Write down every filled row of a sheet, all of them or none.

    Raises
    ------
    FileError
        If it is no table, or has no column of gauges.
    Faults
        With every row that can't be used, its line and column.
    """
    heads, lines = _table(path)
    columns = _columns(path, heads)
    now = store.context.now()
    rows: list[_Row] = []
    faults: list[GaugewrightError] = []
    unchanged = empty = 0
    for line, cells in lines:
        values = dict(zip(heads, (*cells, *[""] * (len(heads) - len(cells))), strict=False))
        try:
            one = _one(book, gate, path, (line, values), columns)
            if one is None:
                empty += 1
                continue
            sent = _sent(one[1], values, columns, zone=zone, now=now)
            sent = replace(sent, as_typed=as_typed, unplugged=unplugged)
            if _says_nothing_new(book, one[1], sent):
                unchanged += 1
            else:
                rows.append(_Row(line, one[1], sent))
        except InputError as error:
            faults.append(_at(path, line, error))
        except FileError as error:
            faults.append(error)
    recorded = _written(store, book, rows, path, faults)
    return TakenIn(recorded, unchanged, empty)


def _written(
    store: CampaignStore,
    book: Book,
    rows: Sequence[_Row],
    path: Path,
    faults: list[GaugewrightError],
) -> tuple[tuple[str, Recorded], ...]:
    """Every row in one go: a fault in one of them leaves nothing behind."""
    content = hashlib.sha256(path.read_bytes()).hexdigest()[:40]
    found: list[tuple[str, Recorded]] = []
    circuits: set[tuple[Uid, tuple[str, ...]]] = set()
    with store.several():
        for row in rows:
            if row.setup.circuit is not None:
                # Gauges of one bridge share their readings: the same row twice is one check.
                shared = (row.setup.circuit.uid, tuple(row.sent.texts.values()))
                if shared in circuits:
                    continue
                circuits.add(shared)
            label = row.setup.gauge.record.label
            # Two gates in a row may read the same to the last digit: the gate belongs to the key.
            key = f"sheet-{row.setup.gate.name.lower()}-{content}-{row.line}"
            try:
                found.append((label, record(store, book, row.setup, row.sent, key=key)))
            except InputError as error:
                faults.append(_at(path, row.line, error))
        if faults:
            faults.sort(key=lambda fault: getattr(fault, "line", 0) or 0)
            raise Faults(f"sheet {path.name}: nothing of it was taken in", faults)
    return tuple(found)


def _at(path: Path, line: int, error: InputError) -> FileError:
    return FileError(path, str(error), line=line, column=error.name)


def _table(path: Path) -> tuple[tuple[str, ...], list[tuple[int, list[str]]]]:
    """Heads and filled lines of a text or a workbook."""
    with tempfile.TemporaryDirectory() as folder:
        source = path
        if Workbook().match(path.read_bytes()[:2048]).score > 0.5:
            sheets = Workbook().tables(path)
            if not sheets:
                raise FileError(path, "the workbook is empty", do="fill in the sheet of a gate")
            source = Workbook().as_text(path, sheets[0].name, Path(folder))
        text = source.read_bytes()
    try:
        decoded = text.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise FileError(path, "it isn't text in UTF-8", do="save it as CSV, UTF-8") from error
    first = decoded.partition("\n")[0]
    sign = max(",;\t", key=first.count)
    rows = list(enumerate(csv.reader(io.StringIO(decoded, newline=""), delimiter=sign), start=1))
    filled = [(line, cells) for line, cells in rows if any(cell.strip() for cell in cells)]
    if not filled:
        raise FileError(path, "the sheet is empty", do="fetch the gate's sheet and fill it in")
    if len(filled) > MOST_ROWS:
        raise FileError(path, "too many rows", got=len(filled), expected=f"{MOST_ROWS} at most")
    return tuple(head.strip() for head in filled[0][1]), filled[1:]


def _columns(path: Path, heads: Sequence[str]) -> dict[str, tuple[str, str]]:
    """Head to (what it is, unit); heads that nobody knows are refused, not passed over."""
    found: dict[str, tuple[str, str]] = {}
    for head in heads:
        plain = _DASHES.sub("-", head).strip()
        parted = _HEAD.fullmatch(plain)
        what, unit = (parted["what"], parted["unit"]) if parted else (plain, "")
        if unit and parse_unit(unit) is None:
            raise FileError(path, "a unit that isn't known", line=1, column=head, got=unit)
        found[head] = (what.strip(), unit)
    if _GAUGE not in {what.casefold() for what, _ in found.values()}:
        raise FileError(
            path, "no column of gauges", line=1, expected="a column with the head gauge"
        )
    return found


def _one(
    book: Book,
    gate: Gate,
    path: Path,
    row: tuple[int, Mapping[str, str]],
    columns: Mapping[str, tuple[str, str]],
) -> tuple[Entry[Gauge], Setup] | None:
    """Gauge of a row and its fields; None when no reading stands in the row."""
    line, values = row
    label = next(values[h] for h, (what, _) in columns.items() if what.casefold() == _GAUGE)
    others = (_GAUGE, "temperature", _TIME, _VERDICT, _REASON)
    readings = {
        head: values[head].strip()
        for head, (what, _) in columns.items()
        if what.casefold() not in others and values[head].strip()
    }
    if not readings:
        return None
    gauge = gauge_named(book, label.lstrip("'"))
    made = setup(book, gauge, gate)
    known = {field.what.casefold() for field in made.fields}
    for head in readings:
        if columns[head][0].casefold() not in known:
            allowed = ", ".join(field.what for field in made.fields)
            raise FileError(
                path,
                f"{gauge.record.label} has no such reading",
                line=line,
                column=head,
                got=readings[head],
                expected=f"one of {allowed}",
            )
    return gauge, made


def _sent(
    made: Setup,
    values: Mapping[str, str],
    columns: Mapping[str, tuple[str, str]],
    *,
    zone: ZoneInfo,
    now: datetime,
) -> Sent:
    by_name = {field.what.casefold(): field.what for field in made.fields}
    texts, units = {}, {}
    temperature, measured = None, now
    for head, (what, unit) in columns.items():
        text, name = values[head].strip().lstrip("'"), what.casefold()
        if name in by_name and text:
            texts[by_name[name]], units[by_name[name]] = text, unit
        elif name == "temperature" and text:
            temperature = number_typed(head, text)
        elif name == _TIME and text:
            measured = instant_typed(text, zone, now)
    return Sent(texts, {}, measured, units, temperature)


def _says_nothing_new(book: Book, made: Setup, sent: Sent) -> bool:
    held = readings_at(book, made)
    meters: dict[str, Uid] = {}
    for what, text in sent.texts.items():
        reading = held.get(what)
        if reading is None:
            return False
        meters[what] = reading.meter
        own = box_unit(book, book.entry(reading.meter, Meter), made.field(what))
        unit = sent.units.get(what) or own
        if _cell(reading, unit) != text and reading.typed != text:
            return False
    return True
