"""Gates: every gauge at every gate, what to repair first, meters, and the sheet of a gate."""

from dataclasses import dataclass
from http import HTTPStatus
from pathlib import Path
from tempfile import TemporaryDirectory
from urllib.parse import quote

from fastapi import APIRouter, Form, UploadFile
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import Faults, GaugewrightError
from gaugewright.present.typed import number_typed
from gaugewright.present.units_shown import resistance_text
from gaugewright.records.proof import Gate, GateCheck, Meter
from gaugewright.records.stated import State
from gaugewright.services.campaign.gates import gate_number, gates_of
from gaugewright.services.gating import sheet as gate_sheet
from gaugewright.services.gating import table as gate_table
from gaugewright.services.gating.fields import gate_named
from gaugewright.services.gating.typed import quantity_of
from gaugewright.services.overview.steps import failed_words
from gaugewright.services.wiring.identifying import words_at_gate
from gaugewright.units import unit_named
from gaugewright.web import frame, rooms, uploads
from gaugewright.web.forms import Field
from gaugewright.web.links import gauge_url
from gaugewright.web.rooms import Room

__all__ = ["GatesPage", "MetersPage", "gate_url", "router"]

router = APIRouter()

_XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@dataclass(frozen=True, slots=True)
class CellShown:
    """One gauge at one gate: its mark, words and address."""

    url: str
    state: str
    words: str
    visits: int
    is_chosen: bool


@dataclass(frozen=True, slots=True)
class RowShown:
    """One gauge through the gates; ``why`` and ``signed`` speak of the chosen gate."""

    label: str
    url: str
    cells: tuple[CellShown, ...]
    why: str
    signed: str


@dataclass(frozen=True, slots=True)
class GateShown:
    """A gate by which the table is filtered."""

    number: int
    name: str
    url: str
    is_chosen: bool
    counts: str


@dataclass(frozen=True, slots=True)
class RepairShown:
    """A gauge to be repaired, why, and what hangs on it."""

    label: str
    url: str
    reason: str
    needed: str
    diagnosis_url: str


@dataclass(frozen=True, slots=True)
class GatesPage:
    """The table of gauges and gates."""

    sheet: frame.Sheet
    lead: str
    gates: tuple[GateShown, ...]
    chosen: str
    rows: tuple[RowShown, ...]
    repairs: tuple[RepairShown, ...]
    go_on_url: str
    go_on: str
    csv_url: str
    xlsx_url: str
    blank_url: str
    filled_url: str
    upload_action: str
    meters_url: str
    faults_url: str
    meters: tuple[str, ...]
    left_out: str
    faults: tuple[str, ...]
    done: str


@dataclass(frozen=True, slots=True)
class MeterRow:
    """A meter with its limits of error."""

    label: str
    reads: str
    limits: str
    certificate: str


@dataclass(frozen=True, slots=True)
class MetersPage:
    """Meters of a campaign, and the form for another."""

    sheet: frame.Sheet
    meters: tuple[MeterRow, ...]
    fields: tuple[Field, ...]
    action: str
    back: str
    failure: str


def gate_url(room: Room, gate: Gate, label: str = "") -> str:
    """Address of a gauge at a gate."""
    name = gate.value.replace(" ", "-")
    return room.url(f"gates/{name}" + (f"/{quote(label, safe='')}" if label else ""))


@router.get("/c/{name}/gates")
def show(request: Request, gate: str = "", done: str = "") -> Response:
    """Every gauge at every gate; ``gate`` chooses the one that is spoken of."""
    room = rooms.room(request)
    chosen = gate_named(gate) if gate else gate_table.current_gate(room.book)
    return _gates_page(request, room, chosen, done=done)


@router.get("/c/{name}/gates/meters")
def meters(request: Request) -> Response:
    """Meters and the form for another."""
    return _meters_page(request, rooms.room(request), {}, None)


@router.post("/c/{name}/gates/meters")
def add_meter(
    request: Request,
    label: str = Form(""),
    unit: str = Form(""),
    share: str = Form(""),
    fixed: str = Form(""),
    highest: str = Form(""),
    test_voltage: str = Form(""),
    certificate: str = Form(""),
) -> Response:
    """Enter a meter with its limits of error."""
    typed = {
        "label": label,
        "unit": unit,
        "share": share,
        "fixed": fixed,
        "highest": highest,
        "test_voltage": test_voltage,
        "certificate": certificate,
    }
    try:
        room = rooms.room_to_write(request)
        made = Meter(
            label.strip(),
            unit_named(unit).name,
            number_typed("share", share) / 100,
            number_typed("fixed part", fixed),
            number_typed("end of range", highest) if highest.strip() else None,
            number_typed("test voltage", test_voltage) if test_voltage.strip() else None,
            certificate.strip(),
        )
        quantity_of(made)
        room.store.add(made, reason="meter for gates")
    except GaugewrightError as error:
        return _meters_page(request, rooms.room(request), typed, error)
    return RedirectResponse(room.url("gates/meters"), status_code=303)


@router.get("/c/{name}/gates/{gate}/sheet.csv")
def as_csv(request: Request, gate: str) -> Response:
    """Sheet of a gate as text with commas."""
    room = rooms.room(request)
    table = gate_sheet.sheet_of(room.book, gate_named(gate), room.zone)
    return _file(gate_sheet.as_csv(table).encode("utf-8-sig"), room, gate, ("csv", "text/csv"))


@router.get("/c/{name}/gates/{gate}/sheet.xlsx")
def as_workbook(request: Request, gate: str) -> Response:
    """Sheet of a gate as a workbook."""
    room = rooms.room(request)
    table = gate_sheet.sheet_of(room.book, gate_named(gate), room.zone)
    return _file(gate_sheet.as_workbook(table), room, gate, ("xlsx", _XLSX))


@router.post("/c/{name}/gates/{gate}/sheet")
def take_sheet(
    request: Request,
    gate: str,
    file: UploadFile,
    as_typed: str = Form(""),
    unplugged: str = Form(""),
) -> Response:
    """Take a filled sheet in, all of its rows or none."""
    chosen = gate_named(gate)
    try:
        room = rooms.room_to_write(request)
        with TemporaryDirectory() as folder:
            received = uploads.keep(file, Path(folder), room.store.context)
            taken = gate_sheet.take_in(
                room.store,
                room.book,
                chosen,
                received.path,
                zone=room.zone,
                as_typed=bool(as_typed),
                unplugged=bool(unplugged),
            )
    except GaugewrightError as error:
        return _gates_page(request, rooms.room(request), chosen, error=error)
    words = f"{len(taken.recorded)} taken in, {taken.unchanged} unchanged, {taken.empty} empty"
    query = f"?gate={quote(chosen.value)}&done={quote(words)}"
    return RedirectResponse(room.url("gates") + query, status_code=303)


def _file(content: bytes, room: Room, gate: str, kind: tuple[str, str]) -> Response:
    name = f"{room.name}-gate-{gate_named(gate).value.replace(' ', '-')}.{kind[0]}"
    told = {"content-disposition": f"attachment; filename*=UTF-8''{quote(name)}"}
    return Response(content, media_type=kind[1], headers=told)


def _repairs(room: Room) -> tuple[RepairShown, ...]:
    """What is to be repaired while it can be reached; a bonded gauge has nothing to weigh yet."""
    shown = []
    for one in gate_table.repair_now(room.book):
        gate, label = one.check.record.gate, one.gauge.record.label
        url = gate_url(room, gate, label)
        why = "" if gate is Gate.BONDED else url + "/diagnosis"
        shown.append(RepairShown(label, url, one.check.record.reason, one.sentence, why))
    return tuple(shown)


def _gates_page(
    request: Request,
    room: Room,
    chosen: Gate,
    *,
    done: str = "",
    error: GaugewrightError | None = None,
) -> Response:
    table = gate_table.rows(room.book)
    waiting = [row.gauge.record.label for row in table if _cell(row, chosen).check is None]
    first = waiting[0] if waiting else ""
    context = GatesPage(
        sheet=frame.Sheet("Gates", "Gates", frame.room_block(room, "Gates"), step="gates"),
        lead=" ".join(
            words
            for words in (
                _lead(room, table, chosen, waiting),
                words_at_gate(room.book, chosen),
                failed_words(room.book),
            )
            if words
        ),
        gates=tuple(_gate_shown(room, table, gate, chosen) for gate in gates_of(room.book)),
        chosen=chosen.value,
        rows=tuple(_row(room, row, chosen) for row in table),
        repairs=_repairs(room),
        go_on_url=gate_url(room, chosen, first) if first else "",
        go_on=first,
        csv_url=gate_url(room, chosen, "sheet.csv"),
        xlsx_url=gate_url(room, chosen, "sheet.xlsx"),
        blank_url=gate_url(room, chosen) + "/sheet/blank",
        filled_url=gate_url(room, chosen) + "/sheet/filled",
        upload_action=gate_url(room, chosen, "sheet"),
        meters_url=room.url("gates/meters"),
        faults_url=room.url("faults"),
        meters=tuple(meter.record.label for meter in room.book.of(Meter)),
        left_out="",
        faults=_told(error),
        done=done if done.isprintable() and len(done) < 100 else "",
    )
    status = HTTPStatus.UNPROCESSABLE_ENTITY if error else HTTPStatus.OK
    return frame.page(request, "gates.html", context, status=status)


def _told(error: GaugewrightError | None) -> tuple[str, ...]:
    if error is None:
        return ()
    return tuple(str(one) for one in error.faults) if isinstance(error, Faults) else (str(error),)


def _cell(row: gate_table.Row, gate: Gate) -> gate_table.Cell:
    none = gate_table.Cell(gate, State.NOT_YET, None, 0)
    return next((cell for cell in row.cells if cell.gate is gate), none)


def _lead(room: Room, table: tuple[gate_table.Row, ...], chosen: Gate, waiting: list[str]) -> str:
    if not table:
        return "No gauge is placed yet; the plan comes first."
    number = gate_number(room.book, chosen)
    have = len(table) - len(waiting)
    return f"Gate {number}, {chosen.value}: {have} of {len(table)} gauges measured."


def _gate_shown(
    room: Room, table: tuple[gate_table.Row, ...], gate: Gate, chosen: Gate
) -> GateShown:
    cells = [_cell(row, gate) for row in table]
    have = sum(cell.check is not None for cell in cells)
    bad = sum(cell.state not in (State.SOUND, State.NOT_YET) for cell in cells)
    counts = f"{have}" + (f", {bad} to look at" if bad else "") if have else "none yet"
    url = room.url(f"gates?gate={quote(gate.value)}")
    return GateShown(gate_number(room.book, gate), gate.value, url, gate is chosen, counts)


def _row(room: Room, row: gate_table.Row, chosen: Gate) -> RowShown:
    label = row.gauge.record.label
    check = _cell(row, chosen).check
    cells = tuple(
        CellShown(
            gate_url(room, cell.gate, label),
            cell.state.value,
            cell.state.value if cell.check is None else cell.check.record.verdict.value,
            cell.visits,
            cell.gate is chosen,
        )
        for cell in row.cells
    )
    why = "" if check is None else "; ".join((check.record.reason, *check.record.flags))
    return RowShown(
        label, gauge_url(room, label), cells, why, _signed(room, check.record if check else None)
    )


def _signed(room: Room, check: GateCheck | None) -> str:
    if check is None:
        return ""
    first = room.book.label(check.person)
    if check.second_person is None:
        return f"{first}; second name pending"
    return f"{first}, {room.book.label(check.second_person)}"


def _meters_page(
    request: Request, room: Room, typed: dict[str, str], error: GaugewrightError | None
) -> Response:
    fields = (
        Field("label", "Name on the meter", hint="As your people call it.", is_needed=True),
        Field("unit", "Unit it shows", hint="Ω, MΩ, GΩ, mV/V or µε.", is_needed=True),
        Field("share", "May be off by, of reading", unit="%", kind="number", is_needed=True),
        Field("fixed", "and by, whatever it reads", hint="In its unit.", kind="number"),
        Field("highest", "Reads no further than", hint="In its unit.", kind="number"),
        Field("test_voltage", "Test voltage", unit="V", hint="Of a leak tester.", kind="number"),
        Field("certificate", "Certificate"),
    )
    context = MetersPage(
        sheet=frame.Sheet("Meters", "Meters", frame.room_block(room, "Meters"), step="gates"),
        meters=tuple(_meter_row(meter.record) for meter in room.book.of(Meter)),
        fields=tuple(
            Field(f.name, f.label, typed.get(f.name, ""), f.unit, f.hint, kind=f.kind)
            for f in fields
        ),
        action=room.url("gates/meters"),
        back=room.url("gates"),
        failure="; ".join(_told(error)),
    )
    status = HTTPStatus.UNPROCESSABLE_ENTITY if error else HTTPStatus.OK
    return frame.page(request, "gate_meters.html", context, status=status)


def _meter_row(meter: Meter) -> MeterRow:
    def told(value: float) -> str:
        return resistance_text(value) if meter.unit == "ohm" else f"{value:g} {meter.unit}"

    limits = f"±({100 * meter.error_share:g} % of reading + {told(meter.error_fixed)})"
    unit = "Ω" if meter.unit == "ohm" else meter.unit
    reads = unit if meter.highest is None else f"to {told(meter.highest)}"
    return MeterRow(meter.label, reads, limits, meter.certificate)
