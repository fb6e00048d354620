"""A gate on paper: blank sheets to be filled in by hand, and the record of what was read."""

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.errors import InputError
from gaugewright.present.units_shown import ohm_signs
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Gate, Meter
from gaugewright.services.campaign.gates import gate_number
from gaugewright.services.diagnosis import said as diagnosis_said
from gaugewright.services.gating import checks as gate_checks
from gaugewright.services.gating.compare import checks_of
from gaugewright.services.gating.fields import GateField, Setup, gate_named, setup
from gaugewright.units import unit_named
from gaugewright.web import frame, rooms
from gaugewright.web.gate_shown import place_of
from gaugewright.web.not_there import NotThere
from gaugewright.web.rooms import Room

__all__ = ["GatePaperPage", "GateRecordPage", "router"]

router = APIRouter()
ORDER = (
    "Short the probes and null the meter. Pairs and insulation with the plug out, which ends the "
    "zero; then plug in, lock the plug, warm up, and read the channel last."
)


@dataclass(frozen=True, slots=True)
class BlankTable:
    """Gauges that are read alike: columns always read, those read when it looks odd, and rows."""

    columns: tuple[str, ...]
    more: tuple[str, ...]
    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class GatePaperPage:
    """Blank sheet of one gate."""

    sheet: frame.Sheet
    lead: str
    order: str
    caution: str
    tables: tuple[BlankTable, ...]
    left_out: tuple[str, ...]
    back: str


@dataclass(frozen=True, slots=True)
class RecordRow:
    """One gauge as its gate stands in the records."""

    label: str
    place: str
    readings: tuple[tuple[str, str], ...]
    meters: str
    temperature: str
    verdict: str
    reason: str
    flags: tuple[str, ...]
    at: str
    first: str
    second: str


@dataclass(frozen=True, slots=True)
class GateRecordPage:
    """Filled record of one gate."""

    sheet: frame.Sheet
    lead: str
    rows: tuple[RecordRow, ...]
    missing: tuple[str, ...]
    back: str


@router.get("/c/{name}/gates/{gate}/sheet/blank")
def blank(request: Request, gate: str) -> Response:
    """Sheet to be filled in by hand, gauges that are read alike together."""
    room = rooms.room(request)
    chosen = _gate(gate)
    tables: dict[tuple[tuple[str, ...], tuple[str, ...]], list[tuple[str, str]]] = {}
    left_out: list[str] = []
    for gauge in room.book.of(Gauge):
        made = _setup(room, gauge, chosen, left_out)
        if made is None:
            continue
        columns = tuple(_column(room, field) for field in made.fewest)
        more = tuple(_column(room, field) for field in made.fields if not field.fewest)
        tables.setdefault((columns, more), []).append((gauge.record.label, _short(room, made)))
    title = f"Gate {gate_number(room.book, chosen)}, {chosen.value}: blank sheet"
    context = GatePaperPage(
        sheet=frame.Sheet(title, title, frame.room_block(room, title), step="gates"),
        lead=f"{sum(map(len, tables.values()))} gauges.",
        order=ORDER,
        caution=diagnosis_said.CAUTION,
        tables=tuple(BlankTable(*names, tuple(rows)) for names, rows in tables.items()),
        left_out=tuple(left_out),
        back=room.url(f"gates?gate={chosen.value.replace(' ', '+')}"),
    )
    return frame.page(request, "gate_blank.html", context)


@router.get("/c/{name}/gates/{gate}/sheet/filled")
def filled(request: Request, gate: str) -> Response:
    """What holds of every gauge at a gate, with meters, verdict and names."""
    room = rooms.room(request)
    chosen = _gate(gate)
    rows: list[RecordRow] = []
    missing: list[str] = []
    for gauge in room.book.of(Gauge):
        made = _setup(room, gauge, chosen, missing)
        row = None if made is None else _row(room, made)
        if row is not None:
            rows.append(row)
        elif made is not None:
            missing.append(gauge.record.label)
    title = f"Gate {gate_number(room.book, chosen)}, {chosen.value}: record"
    context = GateRecordPage(
        sheet=frame.Sheet(title, title, frame.room_block(room, title), step="gates"),
        lead=f"{len(rows)} gauges read.",
        rows=tuple(rows),
        missing=tuple(missing),
        back=room.url(f"gates?gate={chosen.value.replace(' ', '+')}"),
    )
    return frame.page(request, "gate_record.html", context)


def _gate(name: str) -> Gate:
    try:
        return gate_named(name)
    except InputError as error:
        raise NotThere("gate", name, error.allowed) from error


def _setup(room: Room, gauge: Entry[Gauge], gate: Gate, left_out: list[str]) -> Setup | None:
    """Fields of a gauge; one whose circuit isn't known yet is named instead."""
    try:
        return setup(room.book, gauge, gate)
    except InputError:
        left_out.append(f"{gauge.record.label} (no circuit recorded)")
        return None


def _short(room: Room, made: Setup) -> str:
    """Bar and distance: a column on paper is narrow."""
    bar, *_, distance = place_of(room, made).split(", ")
    return f"{bar}, {distance.partition(' from ')[0]}"


def _column(room: Room, field: GateField) -> str:
    meter = gate_checks.meter_for(room.book, field, None)
    unit = gate_checks.box_unit(room.book, meter, field) if meter is not None else ""
    return f"{field.label} ({unit})" if unit else field.label


def _row(room: Room, made: Setup) -> RecordRow | None:
    """Last verdict of a gauge at the gate, with the readings that hold; None where nothing was."""
    mine = [c for c in checks_of(room.book, made) if c.record.gate is made.gate]
    if not mine:
        return None
    last = mine[-1].record
    held = gate_checks.readings_at(room.book, made)
    labels = {field.what: field.label for field in made.every}
    meters = {reading.meter: None for reading in held.values()}
    degrees = [r.temperature_degc for r in held.values() if r.temperature_degc is not None]
    second = "" if last.second_person is None else room.book.label(last.second_person)
    return RecordRow(
        made.gauge.record.label,
        place_of(room, made),
        tuple(
            (labels.get(what, what), ohm_signs(_with_unit(room, reading.typed, reading.meter)))
            for what, reading in held.items()
        ),
        ", ".join(room.book.label(uid) for uid in meters),
        f"{degrees[-1]:g} °C" if degrees else "not noted",
        last.verdict.value,
        last.reason,
        last.flags,
        frame.instant_shown(max(r.measured for r in held.values()), room),
        room.book.label(last.person),
        second or "pending",
    )


def _with_unit(room: Room, typed: str, meter: Uid) -> str:
    if any(letter.isalpha() for letter in typed):
        return typed
    return f"{typed} {unit_named(room.book.entry(meter, Meter).record.unit).name}"
