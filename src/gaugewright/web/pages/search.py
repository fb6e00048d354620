"""Search by label: a gauge, bar, channel or recording by what people call it."""

from dataclasses import dataclass
from urllib.parse import quote

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.services import finding_by_label
from gaugewright.web import frame, rooms
from gaugewright.web.rooms import Room

__all__ = ["Hit", "SearchPage", "router"]

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Hit:
    """A record found: what it is, and the gauges it leads to."""

    label: str
    kind: str
    url: str
    gauges: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class SearchPage:
    """What was found for a label."""

    sheet: frame.Sheet
    typed: str
    lead: str
    hits: tuple[Hit, ...]


@router.get("/c/{name}/search")
def search(request: Request, label: str = "") -> Response:
    """Records by label; one gauge called exactly so is opened at once."""
    room = rooms.room(request)
    found = finding_by_label.by_label(room.book, label) if label.strip() else ()
    exact = [one for one in found if one.kind == "gauge" and one.label == label.strip()]
    if len(exact) == 1 and not frame.is_part(request):
        return RedirectResponse(gauge_url(room, exact[0].label), status_code=303)
    context = SearchPage(
        sheet=frame.Sheet("Search", "Search", frame.room_block(room, "Search")),
        typed=label,
        lead=_lead(label, len(found)),
        hits=tuple(_hit(room, one) for one in found),
    )
    return frame.page(request, "search.html", context, part="_search.html")


def gauge_url(room: Room, label: str) -> str:
    """Address of a gauge's page."""
    return room.url(f"gauges/{quote(label, safe='')}")


def _hit(room: Room, found: finding_by_label.Found) -> Hit:
    url = gauge_url(room, found.label) if found.kind == "gauge" else ""
    others = () if url else found.gauges
    return Hit(found.label, found.kind, url, tuple((one, gauge_url(room, one)) for one in others))


def _lead(typed: str, count: int) -> str:
    if not typed.strip():
        return "Type a label, or a part of one, in the field above."
    if not count:
        return f"Nothing in this campaign is called {typed.strip()}, nor has that in its label."
    if count == finding_by_label.MOST:
        return f"The first {count} labels with {typed.strip()} in them; type more of it."
    if count == 1:
        return f"One label has {typed.strip()} in it."
    return f"{count} labels have {typed.strip()} in them."
