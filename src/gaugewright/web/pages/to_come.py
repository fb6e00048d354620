"""Steps of the work that have no pages yet: each says so, and how it is done meanwhile."""

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.services.steps import STEPS
from gaugewright.web import frame, rooms
from gaugewright.web.faults import NotThere

__all__ = ["MEANWHILE", "ToCome", "router"]

router = APIRouter()

MEANWHILE: dict[str, str] = {}


@dataclass(frozen=True, slots=True)
class ToCome:
    """A step without pages."""

    sheet: frame.Sheet
    name: str
    words: str
    sentence: str


@router.get("/c/{name}/{step}")
def to_come(request: Request, step: str) -> Response:
    """Page of a step that isn't built."""
    room = rooms.room(request)
    if step not in MEANWHILE:
        raise NotThere("page", step, "one of " + ", ".join(STEPS))
    words = next(facts.words for facts in room.steps if facts.step == step)
    sheet = frame.Sheet(
        title=f"{step.capitalize()}, page not built yet",
        name=step.capitalize(),
        block=frame.room_block(room, f"{step.capitalize()}, page not built yet"),
        step=step,
    )
    context = ToCome(sheet, step.capitalize(), words, MEANWHILE[step])
    return frame.page(request, "to_come.html", context)
