"""Selection: which requirement kills which pack, adhesive or protection, and by what margin."""

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.web import frame, rooms
from gaugewright.web.listed import csv_of
from gaugewright.web.plan_shown import part_page

__all__ = ["router"]

router = APIRouter()

_LEAD = "Options by their numbers, requirement by requirement; what nobody stated kills nothing."
_MARGIN = "Families are in general words: a product’s data sheet prevails."


@router.get("/c/{name}/plan/selection")
def show(request: Request, numbers: str | None = None) -> Response:
    """Lists of this part of the plan; ``numbers`` asks for one of them as CSV."""
    room = rooms.room(request)
    context, lists = part_page(request, room, "selection", _LEAD, _MARGIN)
    if numbers is not None:
        return csv_of(room, lists, numbers)
    return frame.page(request, "plan_part.html", context)
