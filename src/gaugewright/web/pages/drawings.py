"""Figures of a bar or a gauge alone: the part that other pages fetch, and the numbers behind."""

import re
from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.present.cells import csv_text
from gaugewright.services.handover.kept_drawings import KeptDrawing, drawings
from gaugewright.web import frame, rooms
from gaugewright.web.figures import Figures, figures_of
from gaugewright.web.not_there import NotThere

__all__ = ["DrawingPage", "router"]

router = APIRouter()


@dataclass(frozen=True, slots=True)
class DrawingPage:
    """A page with nothing but the figures of one bar or gauge."""

    sheet: frame.Sheet
    title: str
    figures: Figures
    back_url: str


@router.get("/c/{name}/drawings/{kind}/{label:path}")
def show(
    request: Request, kind: str, label: str, numbers: int | None = None, first: int = 0
) -> Response:
    """Figures from the ``first`` on, drawn now if they aren't kept; the numbers of one as CSV."""
    room = rooms.room(request)
    if kind not in ("bar", "gauge"):
        raise NotThere("drawing", kind, "of a bar or a gauge")
    if first < 0:
        raise NotThere("figure", first, "one that is drawn")
    found = drawings(room.store, room.book, room.head, f"{kind} {label}")
    if numbers is not None:
        return _csv(found, numbers)
    title = f"{kind.capitalize()} {label}"
    back = room.url("results") if kind == "bar" else room.url(f"gauges/{label}")
    block = frame.room_block(room, f"Figures of {kind} {label}", chain="named under each figure")
    context = DrawingPage(
        frame.Sheet(title, title, block, "results"),
        title,
        figures_of(room, kind, label, found, first=first),
        back,
    )
    return frame.page(request, "drawing.html", context, part="_figures.html")


def _csv(found: tuple[KeptDrawing, ...], number: int) -> Response:
    """Every drawn sample: load, strain and ±, gauge by gauge."""
    if not 0 <= number < len(found) or not found[number].samples:
        raise NotThere("figure", number, "one that has numbers")
    drawing = found[number]
    heads = ("gauge", drawing.y_title, drawing.x_title, "expanded uncertainty, 95 %")
    rows = [
        (curve.label, y, x, doubt)
        for curve in drawing.samples
        for x, y, doubt in zip(curve.x, curve.y, curve.plus_minus, strict=True)
    ]
    file_name = re.sub(r"[^A-Za-z0-9]+", "-", drawing.title).strip("-") or "figure"
    return Response(
        csv_text(heads, rows),
        media_type="text/csv; charset=utf-8",
        headers={"content-disposition": f'attachment; filename="{file_name}.csv"'},
    )
