"""Prediction: strain of every planned gauge at every load, and the range it needs."""

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.web import frame, rooms
from gaugewright.web.listed import csv_of
from gaugewright.web.plan_shown import part_page

__all__ = ["router"]

router = APIRouter()

_LEAD = "What each gauge should read at each load, before anybody looks at what it reads."
_MARGIN = "Statics and the section through a crack, on first loading."


@router.get("/c/{name}/plan/prediction")
def show(request: Request, numbers: str | None = None) -> Response:
    """Lists of this part of the plan; ``numbers`` asks for one of them as CSV."""
    room = rooms.room(request)
    context, lists = part_page(request, room, "prediction", _LEAD, _MARGIN)
    if numbers is not None:
        return csv_of(room, lists, numbers)
    return frame.page(request, "plan_part.html", context)
