"""Survival: how many gauges came through each gate and the test, and what the lost share."""

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.services.handover_page import Page
from gaugewright.services.strains import Desk
from gaugewright.services.survival import at_gates, lost_gauges
from gaugewright.services.survival_lists import survival_lists
from gaugewright.web import frame, rooms
from gaugewright.web.listed import ListPage, csv_of, listed

__all__ = ["router"]

router = APIRouter()


@router.get("/c/{name}/survival")
def show(request: Request, numbers: str | None = None) -> Response:
    """Survival; ``numbers`` asks for one list as CSV."""
    room = rooms.room(request)
    lists = survival_lists(Page.of(Desk(room.store, room.book)))
    if numbers is not None:
        return csv_of(room, lists, numbers)
    context = ListPage(
        sheet=frame.Sheet("Survival", "Survival", frame.room_block(room, "Survival"), "gates"),
        title="Survival",
        lead=_lead(room),
        margin="What to reckon with next time: counted here, not assumed.",
        links=(),
        map=None,
        lists=tuple(listed(room, one, room.url("survival")) for one in lists),
    )
    return frame.page(request, "listing.html", context)


def _lead(room: rooms.Room) -> str:
    gates = at_gates(room.book)
    if not gates:
        return "No gauge is checked at a gate yet."
    lost = [gauge.record.label for gauge in lost_gauges(room.book)]
    names = f": {', '.join(lost)}" if lost else ""
    return f"{gates[0].exposed} gauges came to the first gate; {len(lost)} are lost{names}."
