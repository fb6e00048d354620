"""Cycles that gauges have seen: by range, by range and mean, and what they used of a life."""

from dataclasses import dataclass, replace
from http import HTTPStatus
from urllib.parse import quote, urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.errors import InputError
from gaugewright.present.cells import csv_text
from gaugewright.present.typed import number_typed
from gaugewright.records.gauges import Gauge
from gaugewright.services.bars.together import quarter_circuits
from gaugewright.services.campaign.states import standing_of_gauge
from gaugewright.services.cycling import damage as fatigue_damage
from gaugewright.services.cycling import plots as cycle_plots
from gaugewright.services.cycling import words as cycle_words
from gaugewright.services.cycling.counted import History
from gaugewright.services.cycling.damage import DEFAULT_CURVE, GaugeCycles
from gaugewright.services.cycling.words import RangeRow
from gaugewright.services.showing.sized_figure import SizedFigure
from gaugewright.services.strain.strains import Desk
from gaugewright.web import frame, rooms
from gaugewright.web.figures import Figures, FigureShown
from gaugewright.web.forms import Choice, Field
from gaugewright.web.links import GaugeLink, gauge_url
from gaugewright.web.not_there import NotThere

__all__ = ["CyclesPage", "GaugesWithCycles", "router"]

router = APIRouter()

_SIZES = ((800.0, 420.0), (360.0, 360.0))


@dataclass(frozen=True, slots=True)
class Asked:
    """How cycles are counted, as it stands in the address."""

    gate: str
    history: str
    curve: str
    partial_factor: str


@dataclass(frozen=True, slots=True)
class GaugesWithCycles:
    """Gauges whose cycles can be counted."""

    sheet: frame.Sheet
    gauges: tuple[GaugeLink, ...]
    results_url: str


@dataclass(frozen=True, slots=True)
class CyclesPage:
    """Cycles of one gauge; ``failure`` says what was wrong with what was asked."""

    sheet: frame.Sheet
    title: str
    gauge: GaugeLink
    action: str
    fields: tuple[Field, ...]
    failure: str
    counted: str
    damage: tuple[str, ...]
    figures: Figures | None
    rows: tuple[RangeRow, ...]
    list_url: str


@router.get("/c/{name}/results/cycles")
def show_all(request: Request) -> Response:
    """List of gauges."""
    room = rooms.room(request)
    found = quarter_circuits(Desk(room.store, room.book))
    context = GaugesWithCycles(
        frame.Sheet("Cycles", "Cycles", frame.room_block(room, "Cycles"), "results"),
        tuple(
            GaugeLink(
                gauge.record.label,
                _url(room, gauge.record.label),
                standing_of_gauge(room.book, gauge).state.value,
            )
            for _, gauge in found
        ),
        room.url("results"),
    )
    return frame.page(request, "results_cycles_gauges.html", context)


@router.get("/c/{name}/results/cycles/{label:path}")
def show(request: Request, label: str, numbers: int | None = None) -> Response:
    """Cycles of one gauge, counted as the address says; ``numbers`` are those of a figure."""
    room = rooms.room(request)
    if not any(gauge.record.label == label for gauge in room.book.of(Gauge)):
        raise NotThere("gauge", label, "one of this campaign", "look at the list of gauges")
    given = request.query_params
    asked = Asked(
        given.get("gate", "").strip(),
        given.get("history", History.ONCE.value),
        given.get("curve", DEFAULT_CURVE),
        given.get("partial_factor", "").strip(),
    )
    found, wrong = None, None
    try:
        found = _counted(room, label, asked)
    except InputError as error:
        wrong = error
    drawings = cycle_plots.cycle_figures(found, room.units, _SIZES) if found else ()
    if numbers is not None:
        return _csv(label, drawings, numbers)
    status = HTTPStatus.UNPROCESSABLE_ENTITY if wrong else HTTPStatus.OK
    context = _page(room, label, asked, (found, wrong), drawings)
    return frame.page(request, "results_cycles.html", context, status=status)


def _counted(room: rooms.Room, label: str, asked: Asked) -> GaugeCycles:
    desk = Desk(room.store, room.book)
    histories = [history.value for history in History]
    if asked.history not in histories:
        raise InputError("history", asked.history, "one of " + ", ".join(histories))
    factor = asked.partial_factor
    return fatigue_damage.cycles_of_gauge(
        desk,
        desk.book.labelled(Gauge, label),
        gate=1e-6 * number_typed("gate", asked.gate) if asked.gate else None,
        history=History(asked.history),
        curve=asked.curve,
        partial_factor=number_typed("partial_factor", factor) if factor else 1.0,
    )


def _page(
    room: rooms.Room,
    label: str,
    asked: Asked,
    outcome: tuple[GaugeCycles | None, InputError | None],
    drawings: tuple[SizedFigure, ...],
) -> CyclesPage:
    found, wrong = outcome
    gauge = room.book.labelled(Gauge, label)
    state = standing_of_gauge(room.book, gauge).state.value
    zero = f"zero {found.zero.value}" if found else frame.NONE_HERE
    block = frame.room_block(room, f"Cycles of {label}", zero=zero)
    return CyclesPage(
        sheet=frame.Sheet(f"Cycles of {label}", f"Cycles of {label}", block, "results"),
        title=f"Cycles of {label}",
        gauge=GaugeLink(label, gauge_url(room, label), state),
        action=_url(room, label),
        fields=_fields(room, asked, wrong),
        failure=str(wrong) if wrong else "",
        counted=cycle_words.counted_sentence(found.counted, room.units) if found else "",
        damage=cycle_words.damage_sentences(found, room.units) if found else (),
        figures=_figures(room, label, asked, drawings) if found else None,
        rows=cycle_words.range_rows(found.counted, room.units) if found else (),
        list_url=room.url("results/cycles"),
    )


def _fields(room: rooms.Room, asked: Asked, wrong: InputError | None) -> tuple[Field, ...]:
    lines = tuple(Choice(name, name) for name in fatigue_damage.curves(room.book))
    histories = (
        Choice(History.ONCE.value, "it happened once"),
        Choice(History.REPEATING.value, "it happens again and again"),
    )
    gate = "Smaller moves are noise. Left empty: six standard deviations of it."
    factor = "Divides the line's ranges where a design is checked. Left empty: 1."
    fields = (
        Field("gate", "Gate", asked.gate, unit="µε", hint=gate, kind="number"),
        Field("history", "The record", asked.history, choices=histories),
        Field("curve", "Line of fatigue", asked.curve, choices=lines),
        Field("partial_factor", "Partial factor", asked.partial_factor, hint=factor, kind="number"),
    )
    return tuple(
        replace(field, wrong=str(wrong)) if wrong and wrong.name == field.name else field
        for field in fields
    )


def _figures(
    room: rooms.Room, label: str, asked: Asked, drawings: tuple[SizedFigure, ...]
) -> Figures:
    url = _url(room, label)
    typed = {
        "gate": asked.gate,
        "history": asked.history,
        "curve": asked.curve,
        "partial_factor": asked.partial_factor,
    }
    shown = tuple(
        FigureShown(
            one.wide,
            one.narrow,
            one.title,
            one.caption,
            "",
            f"{url}?{urlencode({**typed, 'numbers': number})}",
        )
        for number, one in enumerate(drawings)
    )
    return Figures(f"cycles of {label}", url, is_to_come=False, shown=shown)


def _url(room: rooms.Room, label: str) -> str:
    return room.url(f"results/cycles/{quote(label, safe='')}")


def _csv(label: str, drawings: tuple[SizedFigure, ...], number: int) -> Response:
    if not 0 <= number < len(drawings):
        allowed = f"from 0 to {len(drawings) - 1}" if drawings else "of cycles that were counted"
        raise NotThere("numbers", str(number), allowed)
    one = drawings[number]
    return Response(
        csv_text(one.heads, one.numbers),
        media_type="text/csv; charset=utf-8",
        headers={
            "content-disposition": "attachment; filename*=UTF-8''cycles-"
            + quote(f"{label}-{number}.csv", safe="")
        },
    )
