"""Electrical: bridges, leads, excitation, range, resolution and channels of a plan."""

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.web import frame, rooms
from gaugewright.web.listed import csv_of
from gaugewright.web.plan_shown import part_page

__all__ = ["router"]

router = APIRouter()

_LEAD = "What every circuit loses, feigns, bears and resolves, and what the channels must be."
_MARGIN = "The test at half excitation decides, not the table."


@router.get("/c/{name}/plan/electrical")
def show(request: Request, numbers: str | None = None) -> Response:
    """Lists of this part of the plan; ``numbers`` asks for one of them as CSV."""
    room = rooms.room(request)
    context, lists = part_page(request, room, "electrical", _LEAD, _MARGIN)
    if numbers is not None:
        return csv_of(room, lists, numbers)
    return frame.page(request, "plan_part.html", context)
