"""Supplies of a plan: what to order, lots, cable, dates; to take away; and what is on the shelf."""

import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated
from urllib.parse import quote, urlencode

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import GaugewrightError
from gaugewright.records.identity import working_context
from gaugewright.services.laboratory import on_shelf
from gaugewright.services.plan_parts.parts import part_lists
from gaugewright.services.supplying import papers as plan_papers
from gaugewright.services.supplying.lists import shelf_list
from gaugewright.web import frame, rooms
from gaugewright.web.forms import Choice, Field, told_beside, typed_form
from gaugewright.web.listed import Listed, csv_of, listed
from gaugewright.web.not_there import NotThere
from gaugewright.web.plan_shown import TITLES, PartPage, asked_of, part_page, shared, typed_of

__all__ = ["SuppliesPage", "router"]

router = APIRouter()

_LEAD = "What to order before the first gauge is bonded, what is short, what will be out of date."
_MARGIN = "A supply's own data sheet and safety data sheet go before every number here."
_KINDS = {
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "pdf": "application/pdf",
}
_SHELF = ("supply", "left", "batch", "expires")
SEE_OTHER = 303


@dataclass(frozen=True, slots=True)
class SuppliesPage(PartPage):
    """Lists of supplies, files of them, and a form for the shelf."""

    ways: tuple[tuple[str, str], ...]
    has_laboratory: bool
    shelf_open: bool
    shelf_fields: tuple[Field, ...]
    shelf: Listed


@router.get("/c/{name}/plan/supplies")
def show(request: Request, numbers: str | None = None) -> Response:
    """Lists of supplies; ``numbers`` asks for one of them as CSV."""
    room = rooms.room(request)
    context, lists = part_page(request, room, "supplies", _LEAD, _MARGIN)
    if numbers is not None:
        return csv_of(room, (*lists, shelf_list(room.settings)), numbers)
    return frame.page(request, "plan_supplies.html", _page(request, room, context))


@router.get("/c/{name}/plan/supplies.{kind}")
def take(request: Request, kind: str) -> Response:
    """Lists of supplies as a workbook or a paper."""
    room = rooms.room(request)
    lists = part_lists(asked_of(room, typed_of(request, "supplies")), "supplies")
    if kind not in _KINDS:
        raise NotThere("kind of file", kind, " or ".join(_KINDS))
    with tempfile.TemporaryDirectory(prefix="supplies-") as folder:
        out = Path(folder) / f"supplies.{kind}"
        title = TITLES["supplies"]
        content = plan_papers.written(room.store, lists, room.units, out, title=title).read_bytes()
    name = quote(f"{room.name}-supplies.{kind}", safe="")
    told = {"content-disposition": f"attachment; filename*=UTF-8''{name}"}
    return Response(content, media_type=_KINDS[kind], headers=told)


@router.post("/c/{name}/plan/supplies")
def keep(request: Request, typed: Annotated[dict[str, str], Depends(typed_form)]) -> Response:
    """Write down how much of a supply is on the shelf."""
    room = rooms.room(request)
    try:
        person = "nobody named" if room.person is None else room.person.record.label
        one = on_shelf.shelf_typed(typed)
        on_shelf.kept_shelf(room.settings, one, at=working_context().now(), person=person)
    except GaugewrightError as error:
        context, _ = part_page(request, room, "supplies", _LEAD, _MARGIN)
        page = _page(request, room, context, typed, error)
        return frame.page(request, "plan_supplies.html", page, status=422)
    return RedirectResponse(room.url("plan/supplies") + "#shelf", status_code=SEE_OTHER)


def _page(
    request: Request,
    room: rooms.Room,
    part: PartPage,
    typed: Mapping[str, str] | None = None,
    error: GaugewrightError | None = None,
) -> SuppliesPage:
    wrong, failure = told_beside(error, _SHELF)
    asked = {k: v for k, v in typed_of(request, "supplies").items() if v.strip()}
    query = f"?{urlencode(asked)}" if asked else ""
    ways = tuple(
        (words, room.url(f"plan/supplies.{kind}") + query)
        for words, kind in (("Take it as a workbook", "xlsx"), ("Take it as a paper", "pdf"))
    )
    return SuppliesPage(
        **shared(part)
        | {
            "links": (*part.links, ("Bench: supplies and protection", room.url("bench"))),
            "failure": part.failure or failure,
        },
        ways=() if part.failure or any(f.wrong for f in part.fields) else ways,
        has_laboratory=bool(room.settings["laboratory"]),
        shelf_open=error is not None,
        shelf_fields=_shelf_fields(room, typed or {}, wrong),
        shelf=listed(room, shelf_list(room.settings), room.url("plan/supplies")),
    )


def _shelf_fields(
    room: rooms.Room, typed: Mapping[str, str], wrong: Mapping[str, str]
) -> tuple[Field, ...]:
    choices = tuple(
        Choice(rate.label, f"{rate.label} ({rate.unit})")
        for rate in on_shelf.rates_of(room.settings)
    )

    empty = (
        Field("supply", "Supply", choices=choices),
        Field("left", "On the shelf", kind="number", hint="In its unit; 0 when it is used up."),
        Field("batch", "Batch"),
        Field("expires", "Good until", kind="date"),
    )
    return tuple(
        replace(one, value=typed.get(one.name, ""), wrong=wrong.get(one.name, "")) for one in empty
    )
