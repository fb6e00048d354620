"""Stations put on a drawing: tap the bar, the side and the place along it, then keep it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.present import plan_drawing
from gaugewright.present.section_drawing import BarDrawn, SectionDrawn
from gaugewright.present.typed import quantity_typed, text_to_type
from gaugewright.services.entering import entry as plan_entry
from gaugewright.services.entering import place as plan_entry_place
from gaugewright.services.entering.place import FACES, Site
from gaugewright.web import frame, rooms
from gaugewright.web.forms import Field, told_beside, typed_form
from gaugewright.web.not_there import NotThere
from gaugewright.web.pages.plan_entry import TakeBack, refs_text, take_back
from gaugewright.web.plan_ways import entry_url

__all__ = ["PlacePage", "router"]

router = APIRouter()

_ASKED = ("bar", "distance_planned", "angle_planned", "datum", "label")
_SIDES = ("top", "upper right", "right", "lower right", "under", "lower left", "left", "upper left")


@dataclass(frozen=True, slots=True)
class PlacePage:
    """The drawings of one bar with places to tap, and the form of the station."""

    sheet: frame.Sheet
    lead: str
    done: TakeBack | None
    failure: str
    bars: tuple[tuple[str, str, bool], ...]
    bar: str
    elevation: str
    section: str
    clock: str
    fields: tuple[Field, ...]
    action: str
    known: tuple[tuple[str, str], ...]
    ways: tuple[tuple[str, str], ...]
    missing: tuple[str, str] | None


@router.get("/c/{name}/plan/place")
def show(request: Request, done: str = "") -> Response:
    """The drawing with what was tapped so far."""
    typed = {name: request.query_params.get(name, "") for name in _ASKED}
    return _answer(request, rooms.room(request), typed, done=done)


@router.post("/c/{name}/plan/place")
def keep(request: Request, typed: Annotated[dict[str, str], Depends(typed_form)]) -> Response:
    """Keep the station, or say beside its field why not."""
    try:
        room = rooms.room_to_write(request)
        entries = plan_entry.written(room.store, "station", typed)
    except GaugewrightError as error:
        return _answer(request, rooms.room(request), typed, error=error)
    stays = {"bar": typed.get("bar", ""), "angle_planned": typed.get("angle_planned", "")}
    query = urlencode(stays | {"done": refs_text([entry.ref for entry in entries])})
    return RedirectResponse(f"{room.url('plan/place')}?{query}", status_code=303)


def _answer(
    request: Request,
    room: rooms.Room,
    typed: Mapping[str, str],
    *,
    done: str = "",
    error: GaugewrightError | None = None,
) -> Response:
    bars = plan_entry_place.sites(room.book)
    if not bars:
        missing = ("Enter a bar with its length", entry_url(room, "bar"))
        return frame.page(request, "plan_place.html", _empty(room, missing))
    label = typed.get("bar", "") or bars[0].record.label
    try:
        site = plan_entry_place.site_of(room.book, label, room.units)
    except InputError as fault:
        raise NotThere(fault.name, fault.value, fault.allowed) from fault
    chosen = dict(typed) | {"bar": label}
    chosen["angle_planned"] = chosen.get("angle_planned", "") or "0"
    chosen["datum"] = chosen.get("datum", "") or site.datum
    chosen["label"] = chosen.get("label", "") or plan_entry_place.free_label(room.book, label)
    fields, failure = _fields(room, chosen, error)
    page = replace(
        _empty(room, None),
        lead=_lead(chosen, site.unit),
        done=take_back(room, done, "plan/place"),
        failure=failure,
        bars=_bars(room, site, chosen),
        bar=label,
        elevation=_elevation(room, site, chosen),
        section=_section(room, site, chosen),
        clock=_clock(room, site, chosen),
        fields=fields,
        known=tuple(
            (name, entry_url(room, "station", name)) for name, _, _, here in site.stations if here
        ),
    )
    return frame.page(request, "plan_place.html", page, status=422 if error else 200)


def _bars(
    room: rooms.Room, site: Site, chosen: Mapping[str, str]
) -> tuple[tuple[str, str, bool], ...]:
    """Bars that can be drawn, each with the address of its drawing."""
    return tuple(
        (one.record.label, _href(room, chosen, bar=one.record.label), one.uid == site.bar.uid)
        for one in plan_entry_place.sites(room.book)
    )


def _empty(room: rooms.Room, missing: tuple[str, str] | None) -> PlacePage:
    title = "Stations on a drawing"
    return PlacePage(
        sheet=frame.Sheet(title, title, frame.room_block(room, title), "plan"),
        lead="No bar has a length yet: nothing can be drawn.",
        done=None,
        failure="",
        bars=(),
        bar="",
        elevation="",
        section="",
        clock="",
        fields=(),
        action=room.url("plan/place"),
        known=(),
        ways=(
            ("The plan", room.url("plan")),
            ("Stations in a table", entry_url(room, "stations")),
        ),
        missing=missing,
    )


def _lead(chosen: Mapping[str, str], unit: str) -> str:
    at = chosen.get("distance_planned", "")
    if not at:
        return f"Tap a place along bar {chosen['bar']}, then keep the station."
    turn = chosen["angle_planned"]
    return f"Bar {chosen['bar']}, {at} {unit} from its datum, at {turn}° round it."


def _href(room: rooms.Room, chosen: Mapping[str, str], **changed: str) -> str:
    """Address of the same page with one thing chosen otherwise."""
    wanted = dict(chosen) | changed
    if "bar" in changed and changed["bar"] != chosen["bar"]:
        wanted |= {"label": "", "datum": ""}
    query = {name: wanted[name] for name in _ASKED if wanted.get(name)}
    return f"{room.url('plan/place')}?{urlencode(query)}#draw"


def _elevation(room: rooms.Room, site: Site, chosen: Mapping[str, str]) -> str:
    here = chosen.get("distance_planned", "").strip()
    name = f"{chosen['bar']} at"
    taps = tuple(
        plan_drawing.Tap(
            cell.first,
            cell.last,
            _href(room, chosen, distance_planned=cell.text),
            f"{name} {cell.text} {site.unit}",
            cell.text == here,
        )
        for cell in site.cells
    )
    every = -(-len(site.cells) // 10)  # a word at every fifth place or so, none on another
    ruler = tuple(
        (site.here.first + cell.distance, cell.text if n % every == 0 else "")
        for n, cell in enumerate(site.cells)
    )
    ends = [end for bar in site.bars for end in (bar.first, bar.last)]
    drawn = plan_drawing.Elevation(
        min([*ends, *site.supports]),
        max([*ends, *site.supports]),
        site.height,
        tuple(
            plan_drawing.BarLine(b.label, b.first, b.last, b.depth, b.label == site.here.label)
            for b in site.bars
        ),
        site.supports,
        site.loads,
        tuple(plan_drawing.StationMark(*one) for one in site.stations),
        taps,
        ruler,
        f"distance on bar {site.here.label}, {site.unit}",
    )
    return plan_drawing.elevation_taps(drawn, f"Elevation with bar {site.here.label}")


def _section(room: rooms.Room, site: Site, chosen: Mapping[str, str]) -> str:
    if site.height is None:
        return ""
    drawn = SectionDrawn(
        site.shape,
        site.height,
        site.width,
        site.flange_width,
        site.flange_depth,
        tuple(BarDrawn(b.label, b.depth, b.across, b.diameter) for b in site.bars),
        (),
        None,
        "seen along the way in which distances grow",
    )
    taps = tuple(
        plan_drawing.SectionTap(
            b.label,
            b.depth,
            b.across,
            _href(room, chosen, bar=b.label),
            b.label == site.here.label,
        )
        for b in site.bars
    )
    return plan_drawing.section_taps(drawn, taps, "Section: tap a bar")


def _clock(room: rooms.Room, site: Site, chosen: Mapping[str, str]) -> str:
    now = _angle(chosen["angle_planned"])
    taps = []
    for angle, side in zip(FACES, _SIDES, strict=True):
        text = text_to_type(angle, "angle")
        href = _href(room, chosen, angle_planned=text)
        is_here = now is not None and abs(now - angle) < 1e-6
        taps.append(plan_drawing.ClockTap(angle, f"{side}, {text}°", href, is_here))
    return plan_drawing.clock_taps(tuple(taps), site.here.label)


def _angle(text: str) -> float | None:
    try:
        return quantity_typed("angle", text, "angle")
    except InputError:
        return None  # the form's own field says what is wrong with it


def _fields(
    room: rooms.Room, chosen: Mapping[str, str], error: GaugewrightError | None
) -> tuple[tuple[Field, ...], str]:
    wrong, failure = told_beside(error, _ASKED)
    unit = plan_entry_place.unit_of(room.units)

    def one(name: str, label: str, shown: str = "", hint: str = "", kind: str = "text") -> Field:
        return Field(name, label, chosen.get(name, ""), shown, hint, wrong.get(name, ""), kind)

    return (
        one("label", "Label"),
        one(
            "distance_planned",
            "Distance",
            unit,
            "Tapped to a round place: type it exactly.",
            "number",
        ),
        one("angle_planned", "Place round the bar", "°", "", "number"),
        one("datum", "Distance counts from", "", "A hard edge, in words: west end of the bar."),
    ), failure
