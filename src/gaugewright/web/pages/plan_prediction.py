"""Prediction: strain of every planned gauge at every load, drawn and listed, and its range."""

from dataclasses import dataclass
from urllib.parse import urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.services.plan.figures import bars_drawn, prediction_figures
from gaugewright.services.plan_parts.parts import readings_asked
from gaugewright.web import frame, rooms
from gaugewright.web.figures import NamedFigure, in_two_widths
from gaugewright.web.listed import csv_of
from gaugewright.web.not_there import NotThere
from gaugewright.web.plan_shown import PartPage, asked_of, part_page, shared, typed_of

__all__ = ["PredictionPage", "router"]

router = APIRouter()

_LEAD = "What each gauge should read at each load, before anybody looks at what it reads."
_MARGIN = "Statics, the section through a crack, bare metal pulled, bent or twisted: first loading."
_WIDE, _NARROW = (720.0, 400.0), (360.0, 360.0)


@dataclass(frozen=True, slots=True)
class PredictionPage(PartPage):
    """The prediction’s lists with the figures of one bar, and the way to the other bars’."""

    figures: tuple[NamedFigure, ...]
    bars: tuple[tuple[str, str, bool], ...]
    table_url: str


@router.get("/c/{name}/plan/prediction")
def show(request: Request, numbers: str | None = None, bar: str = "") -> Response:
    """Lists of this part of the plan; ``numbers`` asks for one of them as CSV."""
    room = rooms.room(request)
    context, lists = part_page(request, room, "prediction", _LEAD, _MARGIN)
    if numbers is not None:
        return csv_of(room, lists, numbers)
    typed = {name: text for name, text in typed_of(request, "prediction").items() if text}
    figures: tuple[NamedFigure, ...] = ()
    bars: tuple[tuple[str, str, bool], ...] = ()
    if not context.failure:
        asked = asked_of(room, typed)
        readings = readings_asked(asked)
        known = bars_drawn(readings)
        if bar and bar not in known:
            raise NotThere("bar", bar, "one of: " + (", ".join(known) or "none has a gauge yet"))
        here = bar or (known[0] if known else "")
        if here:
            made = prediction_figures(readings, room.book, here, room.units)
            figures = tuple(in_two_widths(one, _WIDE, _NARROW) for one in made)
        url = room.url("plan/prediction")
        bars = tuple(
            (one, f"{url}?{urlencode({**typed, 'bar': one})}#drawn", one == here) for one in known
        )
    page = PredictionPage(
        **shared(context),
        figures=figures,
        bars=bars,
        table_url="#prediction",
    )
    return frame.page(request, "plan_prediction.html", page)
