"""A gauge over months: segments and their borders, gaps, clocks, and fits that change nothing."""

from dataclasses import dataclass
from urllib.parse import quote

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.errors import InputError
from gaugewright.present.cells import csv_text
from gaugewright.records.gauges import Gauge
from gaugewright.services.campaign.states import standing_of_gauge
from gaugewright.services.long_run import pairs as long_pairs
from gaugewright.services.long_run import plots as long_plots
from gaugewright.services.long_run import term as long_term
from gaugewright.services.long_run import words as long_words
from gaugewright.services.long_run.words import WordTable
from gaugewright.services.showing.page import Page
from gaugewright.services.showing.sized_figure import SizedFigure
from gaugewright.services.strain.strains import Desk
from gaugewright.web import frame, rooms
from gaugewright.web.figures import Figures, FigureShown
from gaugewright.web.links import GaugeLink, gauge_url
from gaugewright.web.not_there import NotThere

__all__ = ["GaugesOverMonths", "LongPage", "router"]

router = APIRouter()

_SIZES = ((800.0, 420.0), (360.0, 360.0))


@dataclass(frozen=True, slots=True)
class GaugesOverMonths:
    """Gauges whose whole record can be shown."""

    sheet: frame.Sheet
    gauges: tuple[GaugeLink, ...]
    results_url: str


@dataclass(frozen=True, slots=True)
class LongPage:
    """One gauge over its whole record; ``failure`` says why there is none."""

    sheet: frame.Sheet
    title: str
    gauge: GaugeLink
    failure: str
    sentences: tuple[str, ...]
    figures: Figures | None
    tables: tuple[WordTable, ...]
    list_url: str


@router.get("/c/{name}/results/long")
def show_all(request: Request) -> Response:
    """List of gauges."""
    room = rooms.room(request)
    found = long_term.gauges(Desk(room.store, room.book))
    context = GaugesOverMonths(
        frame.Sheet("Over months", "Over months", frame.room_block(room, "Over months"), "results"),
        tuple(
            GaugeLink(label, _url(room, label), standing_of_gauge(room.book, gauge).state.value)
            for label, (_, gauge) in found.items()
        ),
        room.url("results"),
    )
    return frame.page(request, "results_long_gauges.html", context)


@router.get("/c/{name}/results/long/{label:path}")
def show(request: Request, label: str, numbers: int | None = None) -> Response:
    """One gauge; ``numbers`` are those of a figure."""
    room = rooms.room(request)
    if not any(gauge.record.label == label for gauge in room.book.of(Gauge)):
        raise NotThere("gauge", label, "one of this campaign", "look at the list of gauges")
    page = Page.of(Desk(room.store, room.book))
    look, wrong = None, ""
    try:
        look = long_term.look_at(page.desk, label)
    except InputError as error:
        wrong = str(error)
    drawings = long_plots.figures(page, look, _SIZES) if look else ()
    if numbers is not None:
        return _csv(label, drawings, numbers)
    state = standing_of_gauge(room.book, room.book.labelled(Gauge, label)).state.value
    title = f"{label} over months"
    zero = f"zero {look.zero.value}" if look else frame.NONE_HERE
    context = LongPage(
        sheet=frame.Sheet(title, title, frame.room_block(room, title, zero=zero), "results"),
        title=title,
        gauge=GaugeLink(label, gauge_url(room, label), state),
        failure=wrong,
        sentences=long_words.sentences(page, look) if look else (),
        figures=_figures(room, label, drawings) if look else None,
        tables=(*long_words.tables(page, look), *_pair(page, look)) if look else (),
        list_url=room.url("results/long"),
    )
    return frame.page(request, "results_long.html", context)


def _pair(page: Page, look: long_term.LongTerm) -> tuple[WordTable, ...]:
    pair = long_pairs.pair_of(page.desk, look)
    return () if pair is None else (long_pairs.pair_table(page, pair),)


def _figures(room: rooms.Room, label: str, drawings: tuple[SizedFigure, ...]) -> Figures:
    url = _url(room, label)
    shown = tuple(
        FigureShown(one.wide, one.narrow, one.title, one.caption, "", f"{url}?numbers={number}")
        for number, one in enumerate(drawings)
    )
    return Figures(f"{label} over months", url, is_to_come=False, shown=shown)


def _url(room: rooms.Room, label: str) -> str:
    return room.url(f"results/long/{quote(label, safe='')}")


def _csv(label: str, drawings: tuple[SizedFigure, ...], number: int) -> Response:
    if not 0 <= number < len(drawings):
        allowed = f"from 0 to {len(drawings) - 1}" if drawings else "of a record that can be shown"
        raise NotThere("numbers", str(number), allowed)
    one = drawings[number]
    name = quote(f"{label}-{number}.csv", safe="")
    return Response(
        csv_text(one.heads, one.numbers),
        media_type="text/csv; charset=utf-8",
        headers={"content-disposition": f"attachment; filename*=UTF-8''long-{name}"},
    )
