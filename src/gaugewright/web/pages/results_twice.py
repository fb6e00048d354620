"""A quantity recorded twice: gain and offset between two channels, and how their clocks stand."""

from dataclasses import dataclass, replace
from http import HTTPStatus
from urllib.parse import urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.errors import InputError
from gaugewright.present.cells import csv_text
from gaugewright.present.typed import number_typed
from gaugewright.services.comparing import twice_plots, twice_recorded, twice_words
from gaugewright.services.comparing.twice_recorded import Twice
from gaugewright.services.showing.page import Page
from gaugewright.services.showing.sized_figure import SizedFigure
from gaugewright.services.strain.strains import Desk
from gaugewright.web import frame, rooms
from gaugewright.web.figures import Figures, FigureShown
from gaugewright.web.forms import Choice, Field
from gaugewright.web.not_there import NotThere

__all__ = ["TwicePage", "router"]

router = APIRouter()

_SIZES = ((800.0, 420.0), (360.0, 360.0))
_APART = "2"
Row = tuple[str, str, str]


@dataclass(frozen=True, slots=True)
class TwicePage:
    """Two columns held against each other; ``failure`` says why they can't be."""

    sheet: frame.Sheet
    action: str
    fields: tuple[Field, ...]
    failure: str
    sentence: str
    rows: tuple[Row, ...]
    clock_sentence: str
    clock_rows: tuple[Row, ...]
    clock_failure: str
    figures: Figures | None
    readings_url: str


@dataclass(frozen=True, slots=True)
class _Asked:
    """What the address asks for, as typed."""

    first: str
    second: str
    apart: str


@router.get("/c/{name}/results/twice")
def show(request: Request, numbers: int | None = None) -> Response:
    """Two columns compared as the address says; ``numbers`` are those of a figure."""
    room = rooms.room(request)
    given = request.query_params
    asked = _Asked(
        given.get("first", ""), given.get("second", ""), given.get("apart", _APART).strip()
    )
    known = {_value(pair): pair for pair in twice_recorded.twice_read(room.book)}
    found, wrong = None, None
    if asked.first or asked.second:
        try:
            pair = (_pair(known, "first", asked.first), _pair(known, "second", asked.second))
            found = twice_recorded.compare(room.store, *pair)
        except InputError as error:
            wrong = error
    page = Page.of(Desk(room.store, room.book))
    drawings = twice_plots.twice_figures(page, found, _SIZES) if found else ()
    if numbers is not None:
        return _csv(drawings, numbers)
    context = _page(room, tuple(known), asked, (found, wrong), drawings)
    status = HTTPStatus.UNPROCESSABLE_ENTITY if wrong else HTTPStatus.OK
    return frame.page(request, "results_twice.html", context, status=status)


def _page(
    room: rooms.Room,
    known: tuple[str, ...],
    asked: _Asked,
    outcome: tuple[Twice | None, InputError | None],
    drawings: tuple[SizedFigure, ...],
) -> TwicePage:
    found, wrong = outcome
    left, clock_wrong = None, None
    if found is not None and found.first.recording.uid != found.second.recording.uid:
        try:
            left = twice_recorded.clock_left(found, number_typed("apart", asked.apart))
        except InputError as error:
            clock_wrong = error
    title = "Recorded twice"
    return TwicePage(
        sheet=frame.Sheet(title, title, frame.room_block(room, title), "results"),
        action=room.url("results/twice"),
        fields=_fields(known, asked, wrong or clock_wrong),
        failure=str(wrong) if wrong and wrong.name not in ("first", "second") else "",
        sentence=twice_words.sentence(found) if found else "",
        rows=twice_words.rows(found) if found else (),
        clock_sentence=twice_words.clock_sentence(left) if left else "",
        clock_rows=twice_words.clock_rows(left) if left else (),
        clock_failure=str(clock_wrong) if clock_wrong else "",
        figures=_figures(room, asked, drawings) if drawings else None,
        readings_url=room.url("readings"),
    )


def _fields(known: tuple[str, ...], asked: _Asked, wrong: InputError | None) -> tuple[Field, ...]:
    choices = (Choice("", "choose"), *(Choice(each, each) for each in known))
    made = (
        Field("first", "First: held to be right", asked.first, choices=choices),
        Field("second", "Second: compared with it", asked.second, choices=choices),
        Field(
            "apart",
            "Clocks are apart by at most",
            asked.apart,
            "s",
            "Looked for within this, if both are of two recordings.",
            kind="number",
        ),
    )
    if wrong is None:
        return made
    return tuple(replace(f, wrong=str(wrong) if f.name == wrong.name else "") for f in made)


def _value(pair: tuple[str, str]) -> str:
    return f"{pair[0]} / {pair[1]}"


def _pair(known: dict[str, tuple[str, str]], name: str, text: str) -> tuple[str, str]:
    if text not in known:
        raise InputError(name, text, "a recording and its column, chosen from the list")
    return known[text]


def _figures(room: rooms.Room, asked: _Asked, drawings: tuple[SizedFigure, ...]) -> Figures:
    url = room.url("results/twice")
    told = urlencode({"first": asked.first, "second": asked.second, "apart": asked.apart})
    shown = tuple(
        FigureShown(
            one.wide, one.narrow, one.title, one.caption, "", f"{url}?{told}&numbers={number}"
        )
        for number, one in enumerate(drawings)
    )
    return Figures("Recorded twice", f"{url}?{told}", is_to_come=False, shown=shown)


def _csv(drawings: tuple[SizedFigure, ...], number: int) -> Response:
    if not 0 <= number < len(drawings):
        allowed = f"from 0 to {len(drawings) - 1}" if drawings else "of a comparison"
        raise NotThere("numbers", str(number), allowed)
    one = drawings[number]
    return Response(
        csv_text(one.heads, one.numbers),
        media_type="text/csv; charset=utf-8",
        headers={"content-disposition": f'attachment; filename="twice-{number}.csv"'},
    )
