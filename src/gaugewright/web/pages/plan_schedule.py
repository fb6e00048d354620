"""The days at the bench: drawn, listed with slack, kept, improved, as calendar and as sheet."""

import tempfile
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.present.typed import number_typed
from gaugewright.records.scheduling import BenchDays
from gaugewright.services.scheduling.calendar import calendar
from gaugewright.services.scheduling.drawn import DayDrawn, all_days, days_drawn
from gaugewright.services.scheduling.lists import lead_words, schedule_lists
from gaugewright.services.scheduling.schedule import BenchSchedule, bench_schedule, schedule_kept
from gaugewright.services.scheduling.sheet import schedule_sheet
from gaugewright.services.scheduling.solver import JOB
from gaugewright.services.strain.strains import Desk
from gaugewright.web import frame, rooms
from gaugewright.web.job_shown import JobShown
from gaugewright.web.listed import Listed, csv_of, listed
from gaugewright.web.pages.work import begun, going_on
from gaugewright.web.plan_ways import entry_url

__all__ = ["SchedulePage", "router"]

router = APIRouter()

_TITLE = "Days at the bench"
_MOST_SECONDS = 3600.0


@dataclass(frozen=True, slots=True)
class SchedulePage:
    """The plan of the days as it would be now, beside the one that is kept."""

    sheet: frame.Sheet
    title: str
    lead: str
    margin: str
    failure: str
    days_url: str
    days_words: str
    plan_url: str
    drawing: str
    days: tuple[DayDrawn, ...]
    lists: tuple[Listed, ...]
    can_keep: bool
    keep_words: str
    keep_url: str
    improve_url: str
    can_improve: bool
    calendar_url: str
    sheet_url: str
    job: JobShown | None
    seconds: str


@router.get("/c/{name}/plan/schedule")
def show(request: Request, numbers: str | None = None) -> Response:
    """The days; ``numbers`` asks for one of the lists as CSV."""
    room = rooms.room(request)
    if numbers is not None:
        return csv_of(room, schedule_lists(room.book, _made(room)), numbers)
    return _answer(request, room)


@router.post("/c/{name}/plan/schedule/keep")
def keep(request: Request) -> Response:
    """Keep the plan as the one to work by."""
    room = rooms.room_to_write(request)
    try:
        schedule_kept(room.store, _made(room))
    except InputError as error:
        return _answer(request, room, error=error)
    return RedirectResponse(room.url("plan/schedule"), status_code=303)


@router.post("/c/{name}/plan/schedule/improve")
def improve(request: Request, seconds: str = Form("")) -> Response:
    """Begin to improve the plan in a process of its own."""
    room = rooms.room_to_write(request)
    try:
        limit = number_typed("seconds", seconds)
        if not 1 <= limit <= _MOST_SECONDS:
            raise InputError("seconds", seconds, f"from 1 to {_MOST_SECONDS:.0f}")
        _made(room)
    except InputError as error:
        return _answer(request, room, error=error, seconds=seconds)
    job = begun(room, JOB, {"seconds": f"{limit:g}"})
    return RedirectResponse(job.url, status_code=303)


@router.get("/c/{name}/plan/schedule/calendar")
def as_calendar(request: Request) -> Response:
    """The days as a calendar file."""
    room = rooms.room(request)
    content = calendar(room.store, room.book, _made(room))
    return _file(content, f"{room.name}-bench.ics", "text/calendar; charset=utf-8")


@router.get("/c/{name}/plan/schedule/sheet")
def as_sheet(request: Request) -> Response:
    """The days as a sheet for the wall."""
    room = rooms.room(request)
    made = _made(room)
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "days.pdf"
        content = schedule_sheet(room.store, Desk(room.store, room.book), made, out).read_bytes()
    return _file(content, f"{room.name}-bench-days.pdf", "application/pdf")


def _file(content: bytes, name: str, kind: str) -> Response:
    headers = {"content-disposition": f"attachment; filename*=UTF-8''{quote(name)}"}
    return Response(content, media_type=kind, headers=headers)


def _made(room: rooms.Room) -> BenchSchedule:
    return bench_schedule(room.store, room.book, room.store.context.now())


def _answer(
    request: Request,
    room: rooms.Room,
    *,
    error: GaugewrightError | None = None,
    seconds: str = "20",
) -> Response:
    made: BenchSchedule | None = None
    failure = "" if error is None else str(error)
    try:
        made = _made(room)
    except InputError as missing:
        failure = failure or str(missing)
    page = _page(room, made, failure, seconds)
    return frame.page(request, "plan_schedule.html", page, status=422 if error else 200)


def _page(room: rooms.Room, made: BenchSchedule | None, failure: str, seconds: str) -> SchedulePage:
    entries = room.book.of(BenchDays)
    url = room.url("plan/schedule")
    named = entries[-1].record.label if entries else ""
    is_new = made is not None and made.kept is None
    return SchedulePage(
        sheet=frame.Sheet(_TITLE, _TITLE, frame.room_block(room, _TITLE), "plan"),
        title=_TITLE,
        lead="" if made is None else lead_words(made),
        margin="Worked backward from the pour or the first loading; while something cures, hands "
        "are elsewhere.",
        failure=failure,
        days_url=entry_url(room, "schedule", named),
        days_words="Change what it is planned with" if entries else "Enter the days at the bench",
        plan_url=room.url("plan"),
        drawing="" if made is None else all_days(made),
        days=() if made is None else days_drawn(room.book, made),
        lists=()
        if made is None
        else tuple(
            listed(room, one, url, is_long=one.key == "pieces" and len(one.rows) > 12)
            for one in schedule_lists(room.book, made)
        ),
        can_keep=made is not None
        and made.is_possible
        and not made.is_as_kept
        and bool(made.starts),
        keep_words="Keep this plan" if is_new else "Keep the mended plan",
        keep_url=f"{url}/keep",
        improve_url=f"{url}/improve",
        can_improve=made is not None and bool(made.starts),
        calendar_url=f"{url}/calendar" if made is not None and made.starts else "",
        sheet_url=f"{url}/sheet" if made is not None and made.starts else "",
        job=going_on(room, JOB),
        seconds=seconds,
    )
