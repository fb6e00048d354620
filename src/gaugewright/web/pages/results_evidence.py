"""Where one number came from: every record it stands on, with who wrote it and when."""

from dataclasses import dataclass
from urllib.parse import quote

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import InputError
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.services.tracing import evidence
from gaugewright.web import frame, rooms
from gaugewright.web.listed import Listed, csv_of, listed
from gaugewright.web.not_there import NotThere

__all__ = ["EvidencePage", "router"]

router = APIRouter()

LONG = 12


@dataclass(frozen=True, slots=True)
class EvidencePage:
    """What the page shows: the number, and lists of records nearer and nearer to the readings."""

    sheet: frame.Sheet
    title: str
    value: str
    id: str
    lists: tuple[Listed, ...]
    budget_url: str
    results_url: str


@router.get("/c/{name}/evidence")
def find(request: Request, id: str = "") -> Response:
    """Go to a number by the id printed beside it."""
    room = rooms.room(request)
    return RedirectResponse(room.url(f"evidence/{id.strip() or 'none'}"), status_code=303)


@router.get("/c/{name}/evidence/{typed}")
def show(request: Request, typed: str, numbers: str = "") -> Response:
    """Evidence of one result by its uid or the id printed beside it."""
    room = rooms.room(request)
    page = Page.of(Desk(room.store, room.book))
    try:
        trail = evidence.trail_of(page, typed)
    except InputError as error:
        raise NotThere("number", typed, error.allowed, error.do) from error
    if numbers:
        return csv_of(room, trail.steps, numbers)
    entry = trail.result
    key = quote(trail.id, safe="") if entry is None else entry.uid
    url = room.url(f"evidence/{key}")
    value, zero, budget_url = "Every number told of this gauge stands on these.", "", ""
    if entry is not None:
        shown = page.result(entry.record)
        value = entry.record.note if shown is None else shown.text
        zero, budget_url = entry.record.zero, room.url(f"results/budget/{entry.uid}")
    name = f"Evidence of {trail.title}"
    block = frame.room_block(room, name, zero=zero or frame.NONE_HERE)
    context = EvidencePage(
        sheet=frame.Sheet(trail.title, name, block, "results"),
        title=f"{trail.title[:1].upper()}{trail.title[1:]}",
        value=value,
        id=trail.id,
        lists=tuple(
            listed(room, one, url, is_long=len(one.rows) > LONG) for one in trail.steps if one.rows
        ),
        budget_url=budget_url,
        results_url=room.url("results"),
    )
    return frame.page(request, "results_evidence.html", context)
