"""Bench: gauges against steps, what is put aside, supplies and their dates, and a new step."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.errors import GaugewrightError
from gaugewright.records.gauges import BenchStep, Gauge, Supply
from gaugewright.records.proof import Person
from gaugewright.services import bench
from gaugewright.services.bench_lists import bench_lists, steps_known
from gaugewright.web import frame, rooms
from gaugewright.web.forms import Choice, Field, told_beside, typed_form
from gaugewright.web.links import gauge_url
from gaugewright.web.listed import Listed, csv_of, listed

__all__ = ["BenchPage", "router"]

router = APIRouter()

_OF_GAUGES = ("sheet", "parked", "covers", "steps")
_PLACES = {
    "label of a Gauge": "gauges",
    "label of a Person": "person",
    "label of a Supply": "supplies",
    "time": "begun",
}


@dataclass(frozen=True, slots=True)
class BenchPage:
    """Lists of the bench and the form for a step."""

    sheet: frame.Sheet
    lead: str
    told: tuple[str, ...]
    failure: str
    is_open: bool
    fields: tuple[Field, ...]
    lists: tuple[Listed, ...]
    survival_url: str


@router.get("/c/{name}/bench")
def show(request: Request, numbers: str | None = None) -> Response:
    """Lists of the bench; ``numbers`` asks for one of them as CSV."""
    room = rooms.room(request)
    if numbers is not None:
        return csv_of(room, bench_lists(room.book, room.zone), numbers)
    return frame.page(request, "bench.html", _context(room, {}))


@router.post("/c/{name}/bench")
def note(request: Request, typed: Annotated[dict[str, str], Depends(typed_form)]) -> Response:
    """Write down a step."""
    try:
        kept = bench.noted(rooms.room_to_write(request).store, typed)
    except GaugewrightError as error:
        context = _context(rooms.room(request), typed, error=error)
        return frame.page(request, "bench.html", context, status=422)
    room = rooms.room(request)
    told = bench.step_words(room.book, kept)
    return frame.page(request, "bench.html", _context(room, {}, told=told))


def _context(
    room: rooms.Room,
    typed: Mapping[str, str],
    *,
    told: tuple[str, ...] = (),
    error: GaugewrightError | None = None,
) -> BenchPage:
    wrong, failure = told_beside(error, bench.FIELDS, lambda name: _PLACES.get(name, name))
    return BenchPage(
        sheet=frame.Sheet("Bench", "Bench", frame.room_block(room, "Bench"), "bench"),
        lead=_lead(room),
        told=told,
        failure=failure,
        is_open=error is not None,
        fields=_fields(room, typed, wrong),
        lists=tuple(
            listed(
                room,
                one,
                room.url("bench"),
                (lambda label: gauge_url(room, label)) if one.key in _OF_GAUGES else None,
                is_long=one.key in ("steps", "covers"),
            )
            for one in bench_lists(room.book, room.zone)
        ),
        survival_url=room.url("survival"),
    )


def _fields(
    room: rooms.Room, typed: Mapping[str, str], wrong: Mapping[str, str]
) -> tuple[Field, ...]:
    people = tuple(Choice(p.record.label, p.record.name) for p in room.book.of(Person))
    supplies = "; ".join(entry.record.label for entry in room.book.of(Supply)) or "none yet"
    done = sorted(room.book.of(BenchStep), key=lambda entry: entry.record.begun)
    at = "Time of the hall, as 14:05 or 2026-10-13 14:05"

    def one(name: str, label: str, hint: str = "", choices: tuple[Choice, ...] = ()) -> Field:
        value = typed.get(name, "")
        return Field(name, label, value, hint=hint, wrong=wrong.get(name, ""), choices=choices)

    return (
        one("gauges", "Gauges", "Labels with semicolons between."),
        one("step", "Step", f"So far: {', '.join(steps_known(done)) or 'none yet'}."),
        one("person", "By", "", (Choice("", "whoever is at work here"), *people)),
        one("begun", "Begun", f"{at}; empty for now."),
        one("ended", "Ended", f"{at}; empty while it goes on."),
        one("supplies", "Supplies", f"Labels with semicolons between: {supplies}."),
        one("temperature", "Air", "Such as 21 °C."),
        one("humidity", "Humidity", "In per cent."),
        one("parked", "Put aside, because", "Empty unless it is put aside."),
        one("note", "Note"),
    )


def _lead(room: rooms.Room) -> str:
    gauges = {entry.uid for entry in room.book.of(Gauge)}
    steps = room.book.of(BenchStep)
    if not steps:
        return "No step is written down yet."
    begun = len(gauges & {entry.record.gauge for entry in steps})
    parked = sum(bool(entry.record.parked) for entry in steps)
    aside = f" {parked} steps were put aside." if parked else " None is put aside."
    return f"{len(steps)} steps are written down, for {begun} of {len(gauges)} gauges.{aside}"
