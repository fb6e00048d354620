"""Survival: how many gauges came through, what the lost share, and the laboratory's own counts."""

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import GaugewrightError
from gaugewright.services.laboratory import survival_published
from gaugewright.services.laboratory.survival import at_gates, lost_gauges
from gaugewright.services.laboratory.survival_lab_lists import lab_lists, published_words
from gaugewright.services.laboratory.survival_lists import survival_lists
from gaugewright.services.showing.listings import Listing
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.web import frame, rooms
from gaugewright.web.listed import Listed, csv_of, listed

__all__ = ["SurvivalPage", "router"]

router = APIRouter()


@dataclass(frozen=True, slots=True)
class SurvivalPage:
    """Survival of the campaign and of the laboratory; ``why_not`` is why it can't be published."""

    sheet: frame.Sheet
    lead: str
    lists: tuple[Listed, ...]
    lab: tuple[Listed, ...]
    told: str
    failure: str
    why_not: str
    plan_url: str


@router.get("/c/{name}/survival")
def show(request: Request, numbers: str | None = None, done: str = "") -> Response:
    """Survival; ``numbers`` asks for one list as CSV."""
    room = rooms.room(request)
    lists = survival_lists(Page.of(Desk(room.store, room.book)))
    if numbers is not None:
        return csv_of(room, (*lists, *lab_lists(room.settings)), numbers)
    return frame.page(request, "survival.html", _context(room, lists, is_done=bool(done)))


@router.post("/c/{name}/survival")
def publish(request: Request) -> Response:
    """Add the campaign to the laboratory's own counts."""
    try:
        room = rooms.room_to_write(request)
        survival_published.publish(room.store, room.settings)
    except GaugewrightError as error:
        room = rooms.room(request)
        lists = survival_lists(Page.of(Desk(room.store, room.book)))
        context = _context(room, lists, failure=str(error))
        return frame.page(request, "survival.html", context, status=422)
    return RedirectResponse(room.url("survival?done=1#publish"), status_code=303)


def _context(
    room: rooms.Room, lists: tuple[Listing, ...], *, is_done: bool = False, failure: str = ""
) -> SurvivalPage:
    lab, broken = _lab(room)
    told = _told(room) if is_done and not broken else ""
    url = room.url("survival")
    return SurvivalPage(
        sheet=frame.Sheet("Survival", "Survival", frame.room_block(room, "Survival"), "gates"),
        lead=_lead(room),
        lists=tuple(listed(room, one, url) for one in lists),
        lab=tuple(listed(room, one, url) for one in lab),
        told=told,
        failure=failure or broken,
        why_not=_why_not(room),
        plan_url=room.url("plan"),
    )


def _lab(room: rooms.Room) -> tuple[tuple[Listing, ...], str]:
    """The laboratory's lists, or why its file can't be read."""
    try:
        return lab_lists(room.settings), ""
    except GaugewrightError as error:
        return (), str(error)


def _told(room: rooms.Room) -> str:
    for found in survival_published.published(room.settings):
        if found.campaign == room.store.campaign.uid:
            return published_words(found)
    return ""


def _why_not(room: rooms.Room) -> str:
    if not room.settings["laboratory"]:
        return (
            "no laboratory is set: start the app with --set laboratory=FOLDER, or write it into "
            "settings.toml"
        )
    if room.store.campaign.record.invented:
        return "this campaign is invented: the laboratory counts what it bonded itself"
    if not at_gates(room.book):
        return "no gauge is checked at a gate yet"
    return ""


def _lead(room: rooms.Room) -> str:
    gates = at_gates(room.book)
    if not gates:
        return "No gauge is checked at a gate yet."
    lost = [gauge.record.label for gauge in lost_gauges(room.book)]
    names = f": {', '.join(lost)}" if lost else ""
    return f"{gates[0].exposed} gauges came to the first gate; {len(lost)} are lost{names}."
