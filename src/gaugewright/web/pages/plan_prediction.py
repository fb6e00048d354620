"""Prediction: strain of every planned gauge at every load, drawn and listed, and its range."""

from dataclasses import dataclass, fields
from urllib.parse import urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.present.plots import drawn
from gaugewright.services.plan.figures import bars_drawn, prediction_figures
from gaugewright.services.plan.parts import readings_asked
from gaugewright.services.section.plots import Drawn
from gaugewright.web import frame, rooms
from gaugewright.web.listed import csv_of
from gaugewright.web.not_there import NotThere
from gaugewright.web.plan_shown import PartPage, asked_of, part_page, typed_of

__all__ = ["PredictionPage", "router"]

router = APIRouter()

_LEAD = "What each gauge should read at each load, before anybody looks at what it reads."
_MARGIN = "Statics, the section through a crack, bare metal pulled, bent or twisted: first loading."
_WIDE, _NARROW = (720.0, 400.0), (360.0, 360.0)


@dataclass(frozen=True, slots=True)
class Figure:
    """A plot for a wide and a narrow sheet, with its words."""

    name: str
    wide: str
    narrow: str
    title: str
    caption: str


@dataclass(frozen=True, slots=True)
class PredictionPage(PartPage):
    """The prediction’s lists with the figures of one bar, and the way to the other bars’."""

    figures: tuple[Figure, ...]
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
    figures: tuple[Figure, ...] = ()
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
            figures = tuple(_figure(one) for one in made)
        url = room.url("plan/prediction")
        bars = tuple(
            (one, f"{url}?{urlencode({**typed, 'bar': one})}#drawn", one == here) for one in known
        )
    page = PredictionPage(
        **{each.name: getattr(context, each.name) for each in fields(context)},
        figures=figures,
        bars=bars,
        table_url="#prediction",
    )
    return frame.page(request, "plan_prediction.html", page)


def _figure(one: Drawn) -> Figure:
    return Figure(
        one.name, drawn(one.plot, *_WIDE), drawn(one.plot, *_NARROW), one.title, one.caption
    )
