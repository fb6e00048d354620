"""Papers of the bench: blank sheets to fill by hand, and filled records to print."""

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.errors import InputError
from gaugewright.present.units_shown import quantity_shown, unit_shown
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import Method
from gaugewright.services.bench.coming import standing, steps_of
from gaugewright.services.bench.methods import complete_methods, method_named, method_of
from gaugewright.web import frame, rooms
from gaugewright.web.bench_shown import limit_short
from gaugewright.web.not_there import NotThere
from gaugewright.web.pages.bench_kept import StepKept, step_kept
from gaugewright.web.rooms import Room

__all__ = ["BlankPage", "RecordPage", "router"]

router = APIRouter()


@dataclass(frozen=True, slots=True)
class BlankStep:
    """A step on paper: what to do, limits, hazards, and a column for each thing to write."""

    name: str
    text: tuple[str, ...]
    limits: tuple[str, ...]
    hazards: tuple[str, ...]
    cautions: tuple[str, ...]
    clocks: tuple[str, ...]
    columns: tuple[str, ...]
    shared: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BlankSheet:
    """A method's blank sheet with a row for each of its gauges."""

    label: str
    about: str
    terms: str
    rows: tuple[tuple[str, str], ...]
    steps: tuple[BlankStep, ...]


@dataclass(frozen=True, slots=True)
class BlankPage:
    """Blank sheets: of one method, or of every gauge of the campaign by its method."""

    sheet: frame.Sheet
    sheets: tuple[BlankSheet, ...]
    choices: tuple[tuple[str, str], ...]
    bench_url: str


@dataclass(frozen=True, slots=True)
class GaugeRecord:
    """Everything that was written down for one gauge at the bench."""

    label: str
    place: str
    method: str
    missing: tuple[str, ...]
    steps: tuple[StepKept, ...]


@dataclass(frozen=True, slots=True)
class RecordPage:
    """Filled records: of one gauge, or of all."""

    sheet: frame.Sheet
    records: tuple[GaugeRecord, ...]
    choices: tuple[tuple[str, str], ...]
    bench_url: str


@router.get("/c/{name}/bench/blank")
def blank(request: Request, method: str = "") -> Response:
    """Sheets to fill by hand; with ``method`` a sheet without gauges named on it."""
    room = rooms.room(request)
    title = f"Blank sheet, {method}" if method else "Blank sheets"
    page = BlankPage(
        sheet=frame.Sheet(title, title, frame.room_block(room, title), "bench"),
        sheets=_of_method(room, method) if method else _of_campaign(room),
        choices=(
            ("the whole campaign", room.url("bench/blank")),
            *(
                (one.label, room.url("bench/blank") + f"?method={one.label.replace(' ', '+')}")
                for one in complete_methods(room.book)
            ),
        ),
        bench_url=room.url("bench"),
    )
    return frame.page(request, "bench_blank.html", page)


def _of_method(room: Room, label: str) -> tuple[BlankSheet, ...]:
    try:
        method = method_named(room.book, label)
    except InputError as error:
        raise NotThere("method", label, error.allowed) from error
    return (_sheet(room, method, (("", ""),) * 6),)


def _of_campaign(room: Room) -> tuple[BlankSheet, ...]:
    rows: dict[str, list[tuple[str, str]]] = {}
    for gauge in room.book.of(Gauge):
        label = method_of(room.book, gauge).label
        rows.setdefault(label, []).append((gauge.record.label, _place(room, gauge)))
    return tuple(
        _sheet(room, method_named(room.book, label), tuple(mine)) for label, mine in rows.items()
    )


def _place(room: Room, gauge: Entry[Gauge]) -> str:
    station = room.book.station_of(gauge).record
    built = station.distance_built
    distance = station.distance_planned if built is None else built.value
    at = quantity_shown("distance", distance, None, room.units).text
    return f"{room.book.bar_of(gauge).record.label}, {at} from {station.datum}"


def _sheet(room: Room, method: Method, rows: tuple[tuple[str, str], ...]) -> BlankSheet:
    unsure = "unverified" if method.unverified else "confirmed"
    steps = tuple(
        BlankStep(
            step.name,
            tuple(step.text.splitlines()),
            tuple(limit_short(room, label) for label in step.limits),
            step.hazards,
            step.cautions,
            tuple(
                f"{clock.name}: {clock.kind.value} "
                + (limit_short(room, clock.limit) if clock.limit else "as the sheet says")
                for clock in step.clocks
            ),
            tuple(_head(room, field.name, field.quantity) for field in step.fields if field.each),
            (
                *(_head(room, f.name, f.quantity) for f in step.fields if not f.each),
                "air [°C]",
                "humidity [%]",
                *(f"{what}: batch, good until" for what in step.supplies),
            ),
        )
        for step in method.steps
    )
    return BlankSheet(method.label, method.text, f"{method.source}, {unsure}", rows, steps)


def _head(room: Room, name: str, quantity: str) -> str:
    unit = unit_shown(quantity, room.units).text if quantity else ""
    return f"{name} [{unit}]" if unit else name


@router.get("/c/{name}/bench/record")
def record(request: Request, gauge: str = "") -> Response:
    """Filled records; with ``gauge`` that of one."""
    room = rooms.room(request)
    wanted = [g for g in room.book.of(Gauge) if not gauge or g.record.label == gauge]
    if not wanted:
        raise NotThere("gauge", gauge, "one of this campaign")
    title = f"Bench record of {gauge}" if gauge else "Bench records"
    page = RecordPage(
        sheet=frame.Sheet(title, title, frame.room_block(room, title), "bench"),
        records=tuple(_record(room, one) for one in wanted),
        choices=(
            ("all gauges", room.url("bench/record")),
            *(
                (one.record.label, room.url(f"bench/record?gauge={one.record.label}"))
                for one in room.book.of(Gauge)
            ),
        ),
        bench_url=room.url("bench"),
    )
    return frame.page(request, "bench_record.html", page)


def _record(room: Room, gauge: Entry[Gauge]) -> GaugeRecord:
    method = method_of(room.book, gauge)
    here = standing(room.book, gauge, method)
    missing = tuple(one.step.name for one in here.places if one.entry is None)
    steps = tuple(step_kept(room, entry) for entry in steps_of(room.book).get(gauge.uid, []))
    return GaugeRecord(gauge.record.label, _place(room, gauge), method.label, missing, steps)
