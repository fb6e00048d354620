"""The frame of every page: campaign, chain of steps, person, title block, and how it is drawn."""

from dataclasses import dataclass, fields
from datetime import UTC, datetime
from http import HTTPStatus
from pathlib import Path
from typing import Any, Protocol

import jinja2
from starlette.requests import Request
from starlette.responses import HTMLResponse

from gaugewright.present.numbers import fixed_text
from gaugewright.present.units_shown import units_sentence
from gaugewright.records.specimen import Campaign
from gaugewright.services.guides.definitions import Definition, definition
from gaugewright.services.guides.quick_guides import Guide, guide
from gaugewright.services.overview.steps import STEPS, Progress
from gaugewright.web.assets import Assets
from gaugewright.web.explained import GUIDED, SHOWN
from gaugewright.web.people import Device
from gaugewright.web.rooms import Room

__all__ = [
    "TAKEN_BACK",
    "Context",
    "Frame",
    "Sheet",
    "Step",
    "instant_shown",
    "is_part",
    "page",
    "plain_block",
    "room_block",
    "sentence",
    "templates",
]

TEMPLATES = Path(__file__).with_name("templates")
NODES = {Progress.DONE: "nd-done", Progress.HALF: "nd-half", Progress.OPEN: "nd-open"}
NONE_HERE = "none on this page"

# Name, in the address, by which a page knows that its reader comes from taking something back.
TAKEN_BACK = "taken-back"


@dataclass(frozen=True, slots=True)
class Sheet:
    """What a page says about itself.

    ``title`` goes on the browser's tab, ``name`` names the sheet, ``step`` is the step of the
    chain that it belongs to ("" for none), ``block`` the eight fields of the title block,
    ``quantities`` what stands on it beside what its template always shows.
    """

    title: str
    name: str
    block: tuple[tuple[str, str], ...]
    step: str = ""
    quantities: tuple[str, ...] = ()


class Context(Protocol):
    """Every page's context: a frozen dataclass of plain values that has a sheet."""

    @property
    def sheet(self) -> Sheet:
        """What the page says about itself."""


@dataclass(frozen=True, slots=True)
class Step:
    """A step on the chain: its name, address, node and what is said below it."""

    name: str
    url: str
    node: str
    words: str
    progress: str
    is_here: bool


@dataclass(frozen=True, slots=True)
class Frame:
    """What stands round the sheet."""

    tab: str
    campaign: str
    campaign_url: str
    invented: bool
    steps: tuple[Step, ...]
    person: str
    is_paired: bool
    search_url: str
    explained: tuple[Definition, ...]
    guide: Guide | None
    has_taken_back: bool


def page(
    request: Request,
    name: str,
    context: Context,
    *,
    part: str | None = None,
    status: int = HTTPStatus.OK,
) -> HTMLResponse:
    """Page ``templates/name`` drawn from a context, or its ``part`` when only that was asked.

    The context's fields are the template's names; ``frame`` is added for what stands round it.
    """
    wanted = part if part is not None and is_part(request) else name
    values: dict[str, Any] = {field.name: getattr(context, field.name) for field in fields(context)}  # type: ignore[arg-type]
    template = request.app.state.templates.get_template(wanted)
    text = template.render(**values, frame=frame(request, context.sheet, name))
    return HTMLResponse(text, status_code=status, headers={"vary": "HX-Request"})


def is_part(request: Request) -> bool:
    """Whether a script asks for a part, to be put in a page that is already there."""
    headers = request.headers
    return headers.get("hx-request") == "true" and headers.get("hx-request-type") != "full"


def frame(request: Request, sheet: Sheet, name: str = "") -> Frame:
    """What stands round a sheet in answer to a request; ``name`` is that of its template."""
    state = request.scope.get("state", {})
    room: Room | None = state.get("room")
    device: Device | None = state.get("device")
    campaign = room.store.campaign.record if room else None
    person = device.person.name if device and device.person else ""
    return Frame(
        tab=f"{sheet.title} · gaugewright",
        campaign=campaign.title if campaign else "",
        campaign_url=room.url() if room else "/",
        invented=is_marked_invented(campaign) if campaign else False,
        steps=_steps(room, sheet.step) if room else (),
        person=person,
        is_paired=device is not None,
        search_url=room.url("search") if room else "",
        explained=tuple(
            definition(one, room.units if room else "si")
            for one in (*SHOWN.get(name, ()), *sheet.quantities)
        ),
        guide=guide(GUIDED[name]) if name in GUIDED else None,
        has_taken_back=TAKEN_BACK in request.query_params,
    )


def is_marked_invented(campaign: Campaign) -> bool:
    """Whether a title needs the mark beside it; one that says so itself doesn't."""
    return campaign.invented and "invented" not in campaign.title.casefold()


def room_block(
    room: "Room",
    sheet: str,
    *,
    zero: str = NONE_HERE,
    chain: str = NONE_HERE,
    check: str = "",
    coverage: str = "95 % unless stated",
) -> tuple[tuple[str, str], ...]:
    """Title block of a campaign's sheet: on which terms its numbers stand."""
    record: Campaign = room.store.campaign.record
    head = f"journal at entry {fixed_text(room.head.seq, 0)}, {room.head.sha256[:12]}"
    drawn = instant_shown(datetime.now(UTC), room)
    by = f", {room.person.record.name}" if room.person else ""
    return (
        ("Campaign", f"{record.label}, invented data" if record.invented else record.label),
        ("Sheet", sheet),
        ("Sign and units", units_sentence(room.units)),
        ("Zero", zero),
        ("Coverage", coverage),
        ("Chain", chain),
        ("Data check", check or head),
        ("Drawn", drawn + by),
    )


def plain_block(sheet: str) -> tuple[tuple[str, str], ...]:
    """Title block of a sheet outside any campaign."""
    drawn = datetime.now(UTC)
    return (
        ("Sheet", sheet),
        ("Campaign", "none open"),
        ("Drawn", f"{_day(drawn)}, {drawn:%H:%M} UTC"),
        ("Kept", "on this machine only"),
    )


def instant_shown(instant: datetime, room: "Room") -> str:
    """A moment in the campaign's own zone, as a person writes it."""
    local = instant.astimezone(room.zone)
    return f"{_day(local)}, {local:%H:%M}"


def _day(instant: datetime) -> str:
    return f"{instant.day} {instant:%B %Y}"


def _steps(room: "Room", here: str) -> tuple[Step, ...]:
    facts = {found.step: found for found in room.steps}
    return tuple(
        Step(
            name=step.capitalize(),
            url=room.url(step),
            node=NODES[facts[step].progress],
            words=facts[step].words,
            progress=facts[step].progress.value,
            is_here=step == here,
        )
        for step in STEPS
    )


def templates(assets: Assets) -> jinja2.Environment:
    """Templates with everything a person wrote escaped and every missing name an error."""
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals["static"] = assets.url
    environment.filters["sentence"] = sentence
    return environment


def sentence(text: str) -> str:
    """An error's words as they stand on a page: begun with a capital, ended with a point.

    Examples
    --------
    >>> sentence("zone is 'x'; it must be an IANA time zone")
    "Zone is 'x'; it must be an IANA time zone."
    """
    tidy = text.strip()
    return tidy[:1].upper() + tidy[1:] + ("" if tidy.endswith((".", "!", "?")) else ".")
