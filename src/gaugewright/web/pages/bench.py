"""Bench: gauges against steps, what is put aside, supplies and their dates, and a new step."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.errors import GaugewrightError
from gaugewright.records.gauges import BenchStep, Gauge, Supply
from gaugewright.records.identity import instant_text, uid_from_text
from gaugewright.records.proof import Person
from gaugewright.services.bench import clocks as bench_clocks
from gaugewright.services.bench import put_right
from gaugewright.services.bench import supplies as bench_supplies
from gaugewright.services.bench import written as bench
from gaugewright.services.bench.lists import bench_lists, steps_known
from gaugewright.services.bench.step_words import step_words
from gaugewright.web import frame, rooms
from gaugewright.web.bench_shown import (
    ClockShown,
    NextShown,
    clocks_shown,
    next_shown,
    short_name,
)
from gaugewright.web.forms import Choice, Field, told_beside, typed_form
from gaugewright.web.links import gauge_url
from gaugewright.web.listed import Listed, csv_of, listed

__all__ = ["BenchPage", "router"]

router = APIRouter()

_RECENT = timedelta(hours=3)
_LATEST = 6  # runs of steps that stand open; the earlier ones are folded away
_OF_GAUGES = ("sheet", "parked", "unread", "covers", "steps")
_PLACES = {
    "gauge label": "gauges",
    "person label": "person",
    "supply label": "supplies",
    "time": "begun",
    "good until": "expires",
    "its data sheet": "source",
    "pot life": "pot_life",
    "press for": "pressing",
    "next layer after": "next_layer",
    "cured": "cure",
    "never above": "highest",
}
_CURE_ROWS = 4


@dataclass(frozen=True, slots=True)
class KeptRow:
    """Steps that were written down together: what, for which gauges, when, whose, and where."""

    step: str
    gauges: str
    when: str
    who: str
    short: str
    url: str


@dataclass(frozen=True, slots=True)
class BenchPage:
    """Lists of the bench and the form for a step."""

    sheet: frame.Sheet
    lead: str
    told: tuple[str, ...]
    failure: str
    is_open: bool
    is_supply_open: bool
    fields: tuple[Field, ...]
    lists: tuple[Listed, ...]
    survival_url: str
    clocks: tuple[ClockShown, ...]
    now: str
    waiting: tuple[NextShown, ...]
    kept: tuple[KeptRow, ...]
    earlier: tuple[KeptRow, ...]
    margins: tuple[str, ...]
    choose_url: str
    papers: tuple[tuple[str, str], ...]
    supply: tuple[Field, ...]
    supply_url: str


@router.get("/c/{name}/bench")
def show(request: Request, numbers: str | None = None, gone: str = "") -> Response:
    """Lists of the bench; ``numbers`` asks for one as CSV, ``gone`` tells of a step taken back."""
    room = rooms.room(request)
    if numbers is not None:
        return csv_of(room, bench_lists(room.book, room.zone), numbers)
    return frame.page(request, "bench.html", _context(room, {}, told=_gone(room, gone)))


def _gone(room: rooms.Room, uid: str) -> tuple[str, ...]:
    """What was taken back, and what of it stays all the same."""
    if not uid:
        return ()
    entry = room.store.entry(uid_from_text(uid))
    if not isinstance(entry.record, BenchStep) or not entry.withdrawn:
        return ()
    stays = put_right.built_words(room.book, entry.record)
    at = frame.instant_shown(entry.at, room)
    told = (
        f"{entry.record.step}, #{short_name(entry.uid)}: taken back on {at}; the journal keeps it"
    )
    return (f"{told}.", f"{stays}.") if stays else (f"{told}.",)


@router.post("/c/{name}/bench")
def note(request: Request, typed: Annotated[dict[str, str], Depends(typed_form)]) -> Response:
    """Write down a step."""
    try:
        kept = bench.noted(rooms.room_to_write(request).store, typed)
    except GaugewrightError as error:
        context = _context(rooms.room(request), typed, error=error)
        return frame.page(request, "bench.html", context, status=422)
    room = rooms.room(request)
    told = step_words(room.book, kept)
    return frame.page(request, "bench.html", _context(room, {}, told=told))


def _context(
    room: rooms.Room,
    typed: Mapping[str, str],
    *,
    told: tuple[str, ...] = (),
    error: GaugewrightError | None = None,
) -> BenchPage:
    now = room.store.context.now()
    kept = _kept(room)
    wrong, failure = told_beside(
        error, (*bench.FIELDS, *bench_supplies.FIELDS), lambda name: _PLACES.get(name, name)
    )
    return BenchPage(
        sheet=frame.Sheet("Bench", "Bench", frame.room_block(room, "Bench"), "bench"),
        lead=_lead(room),
        told=told,
        failure=failure or ("; ".join(wrong.values()) if error else ""),
        is_open=error is not None and "gauges" in typed,
        is_supply_open=error is not None and "gauges" not in typed,
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
        clocks=clocks_shown(room, now),
        now=instant_text(now),
        waiting=next_shown(room),
        kept=kept[:_LATEST],
        earlier=kept[_LATEST:],
        margins=_margins(room, now),
        choose_url=room.url("bench/choose"),
        papers=_papers(room),
        supply=supply_fields(typed, wrong),
        supply_url=room.url("bench/supply"),
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


@router.post("/c/{name}/bench/supply")
def supply(request: Request, typed: Annotated[dict[str, str], Depends(typed_form)]) -> Response:
    """Enter a supply, or its next version."""
    try:
        entry = bench_supplies.supply_kept(rooms.room_to_write(request).store, _with_rows(typed))
    except GaugewrightError as error:
        context = _context(rooms.room(request), typed, error=error)
        return frame.page(request, "bench.html", context, status=422)
    record = entry.record
    at = frame.instant_shown(entry.at, rooms.room(request))
    told = (f"{record.what}, batch {record.batch}: entered as {record.label}, {at}.",)
    return frame.page(request, "bench.html", _context(rooms.room(request), {}, told=told))


def supply_fields(typed: Mapping[str, str], wrong: Mapping[str, str]) -> tuple[Field, ...]:
    """Fields of a supply: batch and date, and the times of its own data sheet."""

    def one(name: str, label: str, hint: str = "", unit: str = "", kind: str = "text") -> Field:
        value, told = typed.get(name, ""), wrong.get(name, "")
        return Field(name, label, value, unit, hint, told, kind)

    rows = []
    for n in range(1, _CURE_ROWS + 1):
        hint = "Colder rows first; as many as the sheet has, empty where it has fewer." * (n == 1)
        rows.append(one(f"cure_{n}_degc", f"Cured at, row {n}", hint, "°C", "number"))
        rows.append(one(f"cure_{n}_time", f"for, row {n}", "", "h", "number"))
    if wrong.get("cure"):
        rows[0] = replace(rows[0], wrong=wrong["cure"])
    return (
        one("label", "Label", "A known label makes a new version."),
        one("what", "What", "In general words: adhesive, coating, mastic."),
        one("batch", "Batch"),
        one("expires", "Good until", "Empty when nothing is stated.", kind="date"),
        one("source", "Its data sheet", "Which, with its date; needed for what stands below."),
        one("pot_life", "Pot life", unit="min", kind="number"),
        one("pressing", "Press for", unit="min", kind="number"),
        one("next_layer", "Next layer after", unit="min", kind="number"),
        *rows,
        one("highest", "Never above", unit="°C", kind="number"),
    )


def _with_rows(typed: Mapping[str, str]) -> dict[str, str]:
    """The rows of a sheet in one text, as the service takes them; hours where no unit is typed."""
    rows = []
    for n in range(1, _CURE_ROWS + 1):
        warm = typed.get(f"cure_{n}_degc", "").strip()
        time = typed.get(f"cure_{n}_time", "").strip()
        if warm or time:
            rows.append(f"{warm}: {time} h" if time[-1:].isdigit() else f"{warm}: {time}")
    return {**typed, "cure": "; ".join(rows) or typed.get("cure", "")}


def _margins(room: rooms.Room, now: datetime) -> tuple[str, ...]:
    """Dew-point margins measured within the last hours, the latest of each batch."""
    found: dict[str, str] = {}
    for entry in sorted(room.book.of(BenchStep), key=lambda entry: entry.record.begun):
        step = entry.record
        metal = next((r.value for r in step.readings if r.what == bench_clocks.METAL), None)
        margin = bench_clocks.dew_margin(room.book, step, metal)
        if margin is None or not timedelta() <= now - step.begun <= _RECENT:
            continue
        ago = bench_clocks.duration_text(60 * ((now - step.begun).total_seconds() // 60))
        found[step.step] = f"{step.step}, {ago} ago: {margin[1]}"
    return tuple(found.values())


def _kept(room: rooms.Room) -> tuple[KeptRow, ...]:
    """What was written down, batch by batch, each with its own page."""
    return tuple(
        KeptRow(
            run[0].record.step,
            ", ".join(room.book.label(entry.record.gauge) for entry in run),
            frame.instant_shown(run[0].record.begun, room),
            room.book.label(run[0].record.person),
            short_name(run[0].uid),
            room.url(f"bench/kept/{run[0].uid}"),
        )
        for run in bench.batches(room.book)
    )


def _papers(room: rooms.Room) -> tuple[tuple[str, str], ...]:
    return (
        ("Methods and their limits", room.url("bench/methods")),
        ("Blank sheets to fill by hand", room.url("bench/blank")),
        ("Filled records to print", room.url("bench/record")),
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
