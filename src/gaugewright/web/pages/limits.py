"""Limits and assumptions in force: each with value, source and where it reaches a number."""

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.services.laboratory.limits_in_force import (
    AssumptionRow,
    LimitRow,
    assumption_rows,
    limit_rows,
    summary,
)
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.web import frame, rooms

__all__ = ["LimitsPage", "router"]

router = APIRouter()


@dataclass(frozen=True, slots=True)
class LimitsPage:
    """What the campaign holds its gauges to, and what it takes without having measured it."""

    sheet: frame.Sheet
    lead: str
    used: tuple[LimitRow, ...]
    unused: tuple[LimitRow, ...]
    assumptions: tuple[AssumptionRow, ...]


@router.get("/c/{name}/limits")
def show(request: Request) -> Response:
    """Limits and assumptions of a campaign."""
    room = rooms.room(request)
    page = Page.of(Desk(room.store, room.book))
    limits = limit_rows(page)
    context = LimitsPage(
        sheet=frame.Sheet("Limits", "Limits", frame.room_block(room, "Limits and assumptions")),
        lead=summary(limits),
        used=tuple(row for row in limits if row.is_used),
        unused=tuple(row for row in limits if not row.is_used),
        assumptions=assumption_rows(page),
    )
    return frame.page(request, "limits.html", context)
