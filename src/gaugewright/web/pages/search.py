"""Search: a gauge, bar, channel or recording by its label, a gauge by the end of its number."""

from dataclasses import dataclass
from urllib.parse import quote

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.records.gauges import BenchStep, Gauge
from gaugewright.records.results import Result
from gaugewright.services.campaign import finding_by_label
from gaugewright.services.supplying import tag_codes
from gaugewright.web import frame, rooms
from gaugewright.web.forms import Field
from gaugewright.web.rooms import Room

__all__ = ["Hit", "SearchPage", "router"]

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Hit:
    """A record found: what it is, and the gauges it leads to."""

    label: str
    kind: str
    how: str
    url: str
    gauges: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class SearchPage:
    """What was found for a label."""

    sheet: frame.Sheet
    typed: str
    lead: str
    asked: Field
    hits: tuple[Hit, ...]
    near: tuple[tuple[str, str], ...]
    overview_url: str


@router.get("/c/{name}/search")
def search(request: Request, label: str = "") -> Response:
    """Records by label; a gauge called exactly so, or the only one found, is opened at once."""
    room = rooms.room(request)
    found = finding_by_label.by_label(room.book, label) if label.strip() else ()
    exact = [one for one in found if one.kind == "gauge" and one.label == label.strip()]
    only = exact if len(exact) == 1 else [one for one in found if one.by_number]
    is_one = len(only) == 1 and (bool(exact) or len(found) == 1)
    if is_one and not frame.is_part(request):
        return RedirectResponse(gauge_url(room, only[0].label), status_code=303)
    tag = None if found else tag_codes.tag_meaning(room.book, room.store.campaign.uid, label)
    if tag is not None and tag.label in _gauges(room) and not frame.is_part(request):
        return RedirectResponse(gauge_url(room, tag.label), status_code=303)
    if tag is not None and tag.label:
        found = finding_by_label.by_label(room.book, tag.label)
    numbered = "" if found or tag is not None else _by_number(room, label)
    if numbered and not frame.is_part(request):
        return RedirectResponse(numbered, status_code=303)
    near = finding_by_label.near_labels(room.book, label) if label.strip() and not found else ()
    if tag is not None:
        near = tuple(one for one in tag.near if one in _gauges(room))
    context = SearchPage(
        sheet=frame.Sheet("Search", "Search", frame.room_block(room, "Search")),
        typed=label,
        lead=_lead(label, len(found)) if tag is None else tag.words,
        asked=Field("label", "Label, or last four characters", label),
        hits=tuple(_hit(room, one) for one in found),
        near=tuple((one, gauge_url(room, one)) for one in near),
        overview_url=room.url(),
    )
    return frame.page(request, "search.html", context, part="_search.html")


def _by_number(room: Room, typed: str) -> str:
    """Address of the result or bench step whose number ends as is printed beside it."""
    end = typed.strip().lstrip("#").upper()
    if len(end) < finding_by_label.LAST:
        return ""
    for kind, place in ((Result, "results/budget"), (BenchStep, "bench/kept")):
        for entry in room.book.of(kind):
            if entry.uid.endswith(end):
                return room.url(f"{place}/{entry.uid}")
    return ""


def _gauges(room: Room) -> set[str]:
    return {entry.record.label for entry in room.book.of(Gauge)}


def gauge_url(room: Room, label: str) -> str:
    """Address of a gauge's page."""
    return room.url(f"gauges/{quote(label, safe='')}")


def _hit(room: Room, found: finding_by_label.Found) -> Hit:
    url = gauge_url(room, found.label) if found.kind == "gauge" else ""
    others = () if url else found.gauges
    how = f"number ends in {found.end}" if found.by_number else ""
    links = tuple((one, gauge_url(room, one)) for one in others)
    return Hit(found.label, found.kind, how, url, links)


def _lead(typed: str, count: int) -> str:
    if not typed.strip():
        return "Type a label, a part of one, or the last four characters of a gauge’s number."
    if not count:
        return (
            f"Nothing in this campaign is called {typed.strip()}, has that in its label, or has "
            "a number that ends so."
        )
    if count == finding_by_label.MOST:
        return f"The first {count} that {typed.strip()} leads to; type more of it."
    if count == 1:
        return f"{typed.strip()} leads to one."
    return f"{typed.strip()} leads to {count}; what is called exactly so stands first."
