"""Plan: questions with their standing, members and bars, stations planned and as built."""

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.records.specimen import Question, Station
from gaugewright.services.overview import MARKS, overview, question_line
from gaugewright.services.plan_lists import plan_lists
from gaugewright.web import frame, rooms
from gaugewright.web.listed import ListPage, MapShown, csv_of, listed
from gaugewright.web.pages.overview import gauge_maps

__all__ = ["router"]

router = APIRouter()


@router.get("/c/{name}/plan")
def show(request: Request, numbers: str | None = None) -> Response:
    """Lists of the plan; ``numbers`` asks for one of them as CSV."""
    room = rooms.room(request)
    lists = plan_lists(room.book, room.units)
    if numbers is not None:
        return csv_of(room, lists, numbers)
    (wide, narrow), note = gauge_maps(room, overview(room.book, reports=0))
    context = ListPage(
        sheet=frame.Sheet("Plan", "Plan", frame.room_block(room, "Plan"), "plan"),
        title="Plan",
        lead=_lead(room),
        margin="What must be known, and where a gauge sits to tell it.",
        links=(),
        map=MapShown("Gauge map", wide, narrow, note) if wide else None,
        lists=tuple(listed(room, one, room.url("plan")) for one in lists),
    )
    return frame.page(request, "listing.html", context)


def _lead(room: rooms.Room) -> str:
    questions = room.book.of(Question)
    stations = room.book.of(Station)
    if not stations:
        return "Nothing is placed yet."
    built = sum(entry.record.distance_built is not None for entry in stations)
    told = [question_line(room.book, entry).standing for entry in questions]
    standing = ", ".join(f"{told.count(word)} {word}" for word in MARKS if word in told)
    asked = f"{len(told)} questions: {standing}. " if told else "No question is written down. "
    return f"{asked}{len(stations)} stations are planned; {built} of them are measured as built."
