"""Labels and tags of a plan: as they will be printed, true to size, as sheets and one by one."""

import tempfile
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote, urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.present.tag_drawing import tag_svg
from gaugewright.services.supplying import labels as plan_labels
from gaugewright.web import frame, rooms
from gaugewright.web.forms import told_beside
from gaugewright.web.listed import csv_of
from gaugewright.web.not_there import NotThere
from gaugewright.web.plan_shown import FIELDS, PartPage, part_page, shared, typed_of

__all__ = ["LabelsPage", "router"]

router = APIRouter()

_LEAD = "A tag at the gauge, 1 m from it and at the plug: if the lead is cut, its name survives."
_MARGIN = "A tag shows what was meant; the warm gauge shows what is."
_SHOWN = 6


@dataclass(frozen=True, slots=True)
class TagShown:
    """A tag as it will be printed, with its own file."""

    name: str
    says: str
    svg: str
    url: str


@dataclass(frozen=True, slots=True)
class LabelsPage(PartPage):
    """Tags: the first of them drawn, the sheets to print, all of them as a list."""

    pdf_url: str
    count: str
    shown: tuple[TagShown, ...]
    refused: tuple[str, ...]


@router.get("/c/{name}/plan/labels")
def show(request: Request, numbers: str | None = None) -> Response:
    """Tags of the plan; ``numbers`` asks for their list as CSV."""
    room = rooms.room(request)
    context, lists = part_page(request, room, "labels", _LEAD, _MARGIN)
    if numbers is not None:
        return csv_of(room, lists, numbers)
    return frame.page(request, "plan_labels.html", _page(request, room, context))


@router.get("/c/{name}/plan/labels.pdf")
def sheets(request: Request) -> Response:
    """Sheets of tags, true to size."""
    room = rooms.room(request)
    try:
        with tempfile.TemporaryDirectory(prefix="tags-") as folder:
            out = Path(folder) / "tags.pdf"
            plan_labels.written(room.store, _tags(request, room), out)
            content = out.read_bytes()
    except GaugewrightError as error:
        return _refused(request, room, error)
    name = quote(f"{room.name}-tags.pdf", safe="")
    told = {"content-disposition": f"attachment; filename*=UTF-8''{name}"}
    return Response(content, media_type="application/pdf", headers=told)


@router.get("/c/{name}/plan/labels/{lead}/{place}.svg")
def one(request: Request, lead: str, place: str) -> Response:
    """One tag by itself, as a drawing true to size."""
    room = rooms.room(request)
    for tag in _tags(request, room).printed:
        if tag.name == lead and tag.place == place and tag.drawing is not None:
            name = quote(f"{tag.form}-{lead}-{place}.svg", safe="")
            told = {"content-disposition": f"attachment; filename*=UTF-8''{name}"}
            content = tag_svg(tag.drawing)
            return Response(content, media_type="image/svg+xml", headers=told)
    raise NotThere("tag", f"{lead}, {place}", "one that can be printed")


def _tags(request: Request, room: rooms.Room) -> plan_labels.Tags:
    typed = {k: v for k, v in typed_of(request, "labels").items() if v.strip()}
    return plan_labels.tags_of(room.store, room.book, room.settings, typed)


def _refused(request: Request, room: rooms.Room, error: GaugewrightError) -> Response:
    """What can't be put on a sheet, told on the page that asked for it."""
    context, _ = part_page(request, room, "labels", _LEAD, _MARGIN)
    page = _page(request, room, context, error)
    return frame.page(request, "plan_labels.html", page, status=422)


def _page(
    request: Request, room: rooms.Room, part: PartPage, error: GaugewrightError | None = None
) -> LabelsPage:
    typed = {k: v for k, v in typed_of(request, "labels").items() if v.strip()}
    query = f"?{urlencode(typed)}" if typed else ""
    failure, count = part.failure, ""
    shown: tuple[TagShown, ...] = ()
    refused: tuple[str, ...] = ()
    wrong, more = told_beside(error, FIELDS["labels"])
    pdf = ""
    if not failure and not any(field.wrong for field in part.fields):
        try:
            tags = _tags(request, room)
            sheets = len(plan_labels.sheets_of(tags))
            count = f"{len(tags.printed)} tags on {sheets} sheet{'s' if sheets != 1 else ''}."
            shown = _shown(room, tags, query)
            refused = tuple(dict.fromkeys(tag.refused for tag in tags.tags if tag.refused))
            pdf = room.url("plan/labels.pdf") + query if tags.printed else ""
        except InputError as fault:  # the paper is too small: nothing else is wrong
            failure = str(fault)
    return LabelsPage(
        **shared(part)
        | {
            "is_open": part.is_open or bool(wrong),
            "failure": failure or more or "; ".join(wrong.values()),
        },
        pdf_url=pdf,
        count=count,
        shown=shown,
        refused=refused,
    )


def _shown(room: rooms.Room, tags: plan_labels.Tags, query: str) -> tuple[TagShown, ...]:
    """The first tags; of both forms where both are asked for."""
    forms = dict.fromkeys(tag.form for tag in tags.printed)
    each = _SHOWN // max(1, len(forms))
    found = []
    for form in forms:
        for tag in [one for one in tags.printed if one.form == form][:each]:
            if tag.drawing is not None:
                rest = f"{quote(tag.name, safe='')}/{quote(tag.place, safe='')}.svg"
                found.append(
                    TagShown(
                        tag.name,
                        f"{tag.size}, {tag.place}",
                        tag_svg(tag.drawing),
                        room.url(f"plan/labels/{rest}") + query,
                    )
                )
    return tuple(found)
