"""Campaigns of the folder: the list, a new one, a copy of one."""

import re
import unicodedata
from dataclasses import dataclass, replace
from datetime import datetime
from zoneinfo import ZoneInfo, available_timezones

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.records.identity import working_context
from gaugewright.records.specimen import Campaign
from gaugewright.services.campaign import campaigns
from gaugewright.services.campaign import changes as campaign_changes
from gaugewright.services.guides.first_steps import FirstStep
from gaugewright.web import frame, rooms
from gaugewright.web.forms import Choice, Field
from gaugewright.web.pages.guides import first_of
from gaugewright.web.rooms import Rooms

__all__ = ["CampaignRow", "CampaignsPage", "CopyPage", "NewPage", "router"]

router = APIRouter()

UNITS = (Choice("si", "SI: mm, kN, MPa"), Choice("us", "US customary: in, kip, ksi"))
CHANGED = ("title", "units", "zone", "purpose")

FOLDER_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,79}")
FOLDER_ALLOWED = "letters, digits, dots, dashes and underscores, the first a letter or digit"


@dataclass(frozen=True, slots=True)
class CampaignRow:
    """A campaign in the list; with a ``problem`` it can't be opened."""

    name: str
    url: str
    copy_url: str
    label: str
    title: str
    state: str
    gauges: str
    recordings: str
    last_entry: str
    invented: bool
    problem: str


@dataclass(frozen=True, slots=True)
class CampaignsPage:
    """The list of campaigns."""

    sheet: frame.Sheet
    lead: str
    folder: str
    rows: tuple[CampaignRow, ...]
    can_begin: bool
    steps: tuple[FirstStep, ...]


@dataclass(frozen=True, slots=True)
class NewPage:
    """The form that begins a campaign."""

    sheet: frame.Sheet
    fields: tuple[Field, ...]
    zones: tuple[str, ...]
    failure: str


@dataclass(frozen=True, slots=True)
class ChangePage:
    """How a campaign is called and shown, to be changed."""

    sheet: frame.Sheet
    fields: tuple[Field, ...]
    zones: tuple[str, ...]
    failure: str
    action: str
    back: str


@dataclass(frozen=True, slots=True)
class CopyPage:
    """The form that copies a campaign."""

    sheet: frame.Sheet
    title: str
    action: str
    folder: Field
    failure: str


@router.get("/")
def list_campaigns(request: Request) -> Response:
    """The list; an app on one campaign opens it at once."""
    found: Rooms = request.app.state.rooms
    if found.is_one:
        return RedirectResponse(f"/c/{found.home.name}/", status_code=303)
    rows = tuple(_row(summary) for summary in found.summaries())
    steps = first_of(request)
    context = CampaignsPage(
        sheet=_sheet("Campaigns"),
        lead=_lead(rows),
        folder=str(found.home),
        rows=rows,
        can_begin=not found.is_one,
        steps=steps if any(not step.done and not step.can_wait for step in steps) else (),
    )
    return frame.page(request, "campaigns.html", context, part="_campaigns.html")


@router.get("/new")
def new_form(request: Request) -> Response:
    """The empty form for a campaign."""
    settings = request.app.state.settings
    return _new_page(request, {"zone": settings["zone"], "units": settings["units"]})


@router.post("/new")
def begin(
    request: Request,
    folder: str = Form(""),
    title: str = Form(""),
    zone: str = Form(""),
    units: str = Form(""),
    purpose: str = Form(""),
) -> Response:
    """Begin a campaign, or show the form again with what is wrong beside the field."""
    found: Rooms = request.app.state.rooms
    folder = folder.strip() or _folder_of(found, title)
    typed = {"folder": folder, "title": title, "zone": zone, "units": units, "purpose": purpose}
    settings = request.app.state.settings
    try:
        place = found.home / _folder_name(found, folder)
        record = Campaign(
            label=folder.strip(),
            title=title.strip(),
            zone=zone.strip(),
            units=units,
            laboratory=settings["laboratory"],
            purpose=purpose.strip(),
        )
        campaigns.new(place, record, settings, context=working_context()).close()
    except GaugewrightError as error:
        return _new_page(request, typed, error)
    return RedirectResponse(f"/c/{place.name}/", status_code=303)


@router.get("/c/{name}/change")
def change_form(request: Request) -> Response:
    """The form that changes how a campaign is called and shown."""
    room = rooms.room(request)
    record = room.store.campaign.record
    typed = {name: getattr(record, name) for name in CHANGED}
    return _change_page(request, room, typed)


@router.post("/c/{name}/change")
def change(
    request: Request,
    title: str = Form(""),
    units: str = Form(""),
    zone: str = Form(""),
    purpose: str = Form(""),
) -> Response:
    """Write a new version of the campaign's own record, or say beside the field why not."""
    typed = {"title": title, "units": units, "zone": zone, "purpose": purpose}
    try:
        room = rooms.room_to_write(request)
        campaign_changes.changed(room.store, title=title, units=units, zone=zone, purpose=purpose)
    except GaugewrightError as error:
        return _change_page(request, rooms.room(request), typed, error)
    return RedirectResponse(room.url(), status_code=303)


@router.get("/c/{name}/copy")
def copy_form(request: Request) -> Response:
    """The form that copies a campaign."""
    room = rooms.room(request)
    return _copy_page(request, room, f"{room.name}-copy")


@router.post("/c/{name}/copy")
def copy(request: Request, folder: str = Form("")) -> Response:
    """Copy a campaign beside itself, complete though somebody may be at work in it."""
    room = rooms.room(request)
    found: Rooms = request.app.state.rooms
    try:
        campaigns.copy(room.store.folder, found.home / _folder_name(found, folder))
    except GaugewrightError as error:
        return _copy_page(request, room, folder, error)
    return RedirectResponse("/", status_code=303)


def _folder_of(found: Rooms, title: str) -> str:
    """A folder's name out of a title, one that isn't there yet; "" where none can be made."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode()
    name = re.sub(r"[^A-Za-z0-9]+", "-", plain).strip("-").lower()[:40].rstrip("-")
    if not name:
        return ""
    tries = (name, *(f"{name}-{number}" for number in range(2, 100)))
    return next((one for one in tries if not (found.home / one).exists()), "")


def _folder_name(found: Rooms, typed: str) -> str:
    """Name of a folder that isn't there yet, directly in the home folder and nowhere else."""
    name = typed.strip()
    if found.is_one:
        raise InputError(
            "folder", name, "beside others", "serve the folder above to begin or copy campaigns"
        )
    if not name:
        raise InputError("folder", None, "given, or a title that one can be made of")
    if not FOLDER_NAME.fullmatch(name):
        raise InputError("folder", typed, FOLDER_ALLOWED)
    if (found.home / name).exists():
        raise InputError("folder", name, "one that isn't there yet", "choose another name")
    return name


def _new_page(
    request: Request, typed: dict[str, str], error: GaugewrightError | None = None
) -> Response:
    fields = (
        Field("title", "Title", hint="What the work is, in a line."),
        Field(
            "folder",
            "Folder",
            hint="Short; the campaign is kept and called under this name. Empty: out of the title.",
        ),
        Field("zone", "Time zone", hint="Of the hall, such as Europe/Rome.", list="zones"),
        Field("units", "Units shown", choices=UNITS, hint="Kept in SI whichever you choose."),
        Field("purpose", "Purpose", hint="What must be known, in words.", is_long=True),
    )
    known = {field.name for field in fields}
    at = getattr(error, "name", "")
    at = "folder" if at == "label" else at
    failure = str(error) if error is not None and at not in known else ""
    context = NewPage(
        sheet=_sheet("New campaign"),
        fields=tuple(
            replace(
                field,
                value=typed.get(field.name, ""),
                wrong=str(error) if error is not None and field.name == at else "",
            )
            for field in fields
        ),
        zones=tuple(sorted(available_timezones())),
        failure=failure,
    )
    return frame.page(request, "new.html", context, status=422 if error else 200)


def _change_page(
    request: Request, room: rooms.Room, typed: dict[str, str], error: GaugewrightError | None = None
) -> Response:
    fixed = campaign_changes.zone_is_fixed(room.store)
    hint = "Fixed: stamps of readings were read by it." if fixed else "Such as Europe/Rome."
    fields = (
        Field("title", "Title", hint="What the work is, in a line."),
        Field("units", "Units shown", choices=UNITS, hint="Kept in SI whichever you choose."),
        Field("zone", "Time zone", hint=hint, list="zones"),
        Field("purpose", "Purpose", hint="What must be known, in words.", is_long=True),
    )
    at = getattr(error, "name", "")
    context = ChangePage(
        sheet=frame.Sheet("Change", "Change", frame.room_block(room, "Change")),
        fields=tuple(
            replace(
                field,
                value=typed.get(field.name, ""),
                wrong=str(error) if error is not None and field.name == at else "",
            )
            for field in fields
        ),
        zones=tuple(sorted(available_timezones())),
        failure=str(error) if error is not None and at not in CHANGED else "",
        action=room.url("change"),
        back=room.url(),
    )
    return frame.page(request, "change.html", context, status=422 if error else 200)


def _copy_page(
    request: Request, room: rooms.Room, folder: str, error: GaugewrightError | None = None
) -> Response:
    at_field = getattr(error, "name", "") == "folder"
    context = CopyPage(
        sheet=frame.Sheet("Copy", "Copy", frame.room_block(room, "Copy")),
        title=room.store.campaign.record.title,
        action=room.url("copy"),
        folder=Field(
            "folder",
            "Folder of the copy",
            value=folder,
            hint="It is made beside the campaign.",
            wrong=str(error) if at_field else "",
        ),
        failure=str(error) if error is not None and not at_field else "",
    )
    return frame.page(request, "copy.html", context, status=422 if error else 200)


def _sheet(name: str) -> frame.Sheet:
    return frame.Sheet(title=name, name=name, block=frame.plain_block(name))


def _row(summary: campaigns.Summary) -> CampaignRow:
    name = summary.folder.name
    return CampaignRow(
        name=name,
        url=f"/c/{name}/",
        copy_url=f"/c/{name}/copy",
        label=summary.label or name,
        title=summary.title,
        state=summary.state,
        gauges=str(summary.gauges),
        recordings=str(summary.recordings),
        last_entry=_when(summary.last_entry, summary.zone) if summary.last_entry else "",
        invented=summary.invented and "invented" not in summary.title.casefold(),
        problem=summary.problem,
    )


def _when(instant: datetime, zone: str) -> str:
    local = instant.astimezone(ZoneInfo(zone))
    return f"{local.day} {local:%B %Y, %H:%M}, {zone}"


def _lead(rows: tuple[CampaignRow, ...]) -> str:
    if not rows:
        return "No campaign is in this folder yet."
    if len(rows) == 1:
        return f"One campaign is in this folder: {rows[0].title or rows[0].name}."
    return f"{len(rows)} campaigns are in this folder."
