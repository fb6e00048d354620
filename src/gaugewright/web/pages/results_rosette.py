"""One rosette: its arms and axes, Mohr's circle, stresses, and its axes over the test."""

from dataclasses import dataclass
from urllib.parse import quote, urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import Faults, InputError
from gaugewright.present.cells import csv_text
from gaugewright.present.numbers import Shown
from gaugewright.present.plots import Plot, drawn
from gaugewright.present.units_shown import quantity_shown, unit_shown
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import ZeroKind
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.campaign.states import standing_of_gauge
from gaugewright.services.loading.moments import Moment, moment_or_highest, moments
from gaugewright.services.showing.page import Page
from gaugewright.services.specimen import rosette_page, rosettes
from gaugewright.services.specimen.rosettes import Group, RosetteSeries, RosetteState
from gaugewright.services.strain.strains import Desk
from gaugewright.web import frame, rooms
from gaugewright.web.gauge_tables import Cell, NumberTable, Row
from gaugewright.web.links import GaugeLink, gauge_url
from gaugewright.web.moment_links import (
    MomentLinks,
    ZeroLink,
    moment_links,
    zero_links,
    zero_named,
)
from gaugewright.web.not_there import NotThere

__all__ = ["ResultsRosettePage", "RosettePlot", "RosettesPage", "rosette_url", "router"]

router = APIRouter()

WIDE, NARROW = (800.0, 380.0), (360.0, 340.0)


@dataclass(frozen=True, slots=True)
class RosettePlot:
    """A plot of the series; both drawings are our own SVG."""

    title: str
    caption: str
    wide: str
    narrow: str


@dataclass(frozen=True, slots=True)
class ResultsRosettePage:
    """A rosette at one moment and over the test; without a state, why there is none."""

    sheet: frame.Sheet
    title: str
    lead: str
    layout: str
    why_not: str
    arms: tuple[GaugeLink, ...]
    here: str
    moments: MomentLinks
    zeros: tuple[ZeroLink, ...]
    kept: tuple[tuple[str, str], ...]
    page_url: str
    drawing: str
    circle: str
    direction: str
    tables: tuple[NumberTable, ...]
    plots: tuple[RosettePlot, ...]
    no_series: str
    csv_url: str
    list_url: str


@dataclass(frozen=True, slots=True)
class RosettesPage:
    """Every rosette of the campaign."""

    sheet: frame.Sheet
    rows: tuple[tuple[str, str, str, str], ...]
    results_url: str


@router.get("/c/{name}/results/rosettes")
def listed(request: Request) -> Response:
    """List of rosettes."""
    room = rooms.room(request)
    found = rosettes.groups(Desk(room.store, room.book))
    context = RosettesPage(
        frame.Sheet("Rosettes", "Rosettes", frame.room_block(room, "Rosettes"), "results"),
        tuple((g.name, rosette_url(room, g.name), g.layout, g.why_not) for g in found),
        room.url("results"),
    )
    return frame.page(request, "results_rosettes.html", context)


@router.get("/c/{name}/results/rosettes/{group:path}")
def show(request: Request, group: str, at: str = "", zero: str = "", numbers: str = "") -> Response:
    """One rosette at a moment; ``numbers`` asks for its series as CSV."""
    room = rooms.room(request)
    page = Page.of(Desk(room.store, room.book))
    found = next((one for one in rosettes.groups(page.desk) if one.name == group), None)
    if found is None:
        raise NotThere("rosette", group, "one of this campaign", "look at the list of rosettes")
    kind = zero_named(zero)
    if numbers == "series":
        return _csv(rosettes.rosette_series(page.desk, found, kind))
    return frame.page(request, "results_rosette.html", _page(room, page, found, (at, kind)))


def rosette_url(room: rooms.Room, group: str) -> str:
    """Address of a rosette's page."""
    return room.url(f"results/rosettes/{quote(group, safe='')}")


def _page(
    room: rooms.Room, page: Page, group: Group, which: tuple[str, ZeroKind]
) -> ResultsRosettePage:
    every, (at, zero) = moments(page.desk), which
    moment = moment_or_highest(page.desk, at)
    url = rosette_url(room, group.name)
    state, why_not = _state(page, group, moment, zero)
    plots, no_series = _plots(page, group, moment, zero)
    both = rosette_page.drawings_of(page, state) if state else None
    return ResultsRosettePage(
        sheet=frame.Sheet(
            f"Rosette {group.name}", f"Rosette {group.name}", _block(room, group, zero), "results"
        ),
        title=f"Rosette {group.name}",
        lead=f"At {moment.label}: {moment.words}.",
        layout=f"{group.layout.capitalize()}, {len(group.arms)} arms."
        if "arms" not in group.layout
        else f"{group.layout.capitalize()}.",
        why_not=why_not,
        arms=tuple(_link(room, gauge) for _, gauge in group.arms),
        here=moment.key,
        moments=moment_links(every, moment, url, {"zero": zero.value}),
        zeros=zero_links(rosettes.zeros_of_rosette(page.desk, group), zero, url, moment.key),
        kept=(("zero", zero.value),),
        page_url=url,
        drawing=both.rosette if both else "",
        circle=both.circle if both else "",
        direction=rosette_page.angle_words(state) if state else "",
        tables=(_numbers(page, state), _arms(page, state)) if state else (),
        plots=plots,
        no_series=no_series,
        csv_url=f"{url}?{urlencode({'numbers': 'series', 'zero': zero.value})}",
        list_url=room.url("results/rosettes"),
    )


def _state(
    page: Page, group: Group, moment: Moment, zero: ZeroKind
) -> tuple[RosetteState | None, str]:
    try:
        return rosettes.rosette_state_at(page.desk, group, moment, zero), ""
    except (InputError, Faults) as problem:
        return None, str(problem)


def _plots(
    page: Page, group: Group, moment: Moment, zero: ZeroKind
) -> tuple[tuple[RosettePlot, ...], str]:
    try:
        series = rosettes.rosette_series(page.desk, group, zero)
    except (InputError, Faults) as problem:
        return (), str(problem)
    plots = rosette_page.series_plots(page, series, moment)
    if group.is_tee:
        plots = plots[:1]
    captions = (
        f"{series.time.size} scans spread evenly over the test; band: ± for 95 %.",
        "Band: 95 %, without the doubt of how the rosette was turned when bonded, which is the "
        "same all along; nothing is drawn where no direction is determined.",
    )
    return tuple(_plot(plot, words) for plot, words in zip(plots, captions, strict=False)), ""


def _plot(plot: Plot, words: str) -> RosettePlot:
    return RosettePlot(plot.alt, words, drawn(plot, *WIDE), drawn(plot, *NARROW))


def _numbers(page: Page, state: RosetteState) -> NumberTable:
    rows = tuple(
        Row(row.name, "", (Cell(number=row.shown), Cell(row.shown.unit), Cell(row.cause)))
        for row in rosette_page.number_rows(page, state)
    )
    heads = (("value", "", True), ("unit", "", False), ("main cause of ±", "", False))
    about = (
        "Transverse sensitivity of all arms is corrected together. Axes by the convention of "
        "ASTM E1561 (from memory): ε₁ is the algebraically larger, angles count counter-clockwise."
    )
    return NumberTable("numbers", "Numbers", "What", heads, rows, "", about)


def _arms(page: Page, state: RosetteState) -> NumberTable:
    left = state.surface.residuals
    rows = []
    for place, ((_, gauge), arm) in enumerate(zip(state.group.arms, state.arms, strict=True)):
        angle = quantity_shown("angle", gauge.record.angle_to_axis, None, page.system)
        cells = [Cell(number=angle), Cell(number=_strain(page, arm))]
        if left:
            cells.append(Cell(number=_strain(page, left[place])))
        rows.append(Row(gauge.record.label, "", tuple(cells)))
    unit = unit_shown("strain", page.system).text
    heads = [("direction", "°", True), ("indicated strain", unit, True)]
    if left:
        heads.append(("left over by the fit", unit, True))
    about = "As read, before the correction for transverse sensitivity."
    return NumberTable("arms", "Arms", "Arm", tuple(heads), tuple(rows), "", about)


def _strain(page: Page, value: Uncertain) -> Shown:
    doubt = float(value.expanded(COVERAGE))
    return quantity_shown("strain", float(value.value), doubt or None, page.system)


def _link(room: rooms.Room, gauge: Entry[Gauge]) -> GaugeLink:
    label = gauge.record.label
    return GaugeLink(label, gauge_url(room, label), standing_of_gauge(room.book, gauge).state.value)


def _block(room: rooms.Room, group: Group, zero: ZeroKind) -> tuple[tuple[str, str], ...]:
    return frame.room_block(room, f"Rosette {group.name}", zero=zero.value, chain="see each gauge")


def _csv(series: RosetteSeries) -> Response:
    """Series in SI units; no direction where none is determined."""
    state = series.principal
    doubts = [value.expanded(COVERAGE).tolist() for value in (state.first, state.second)]
    columns = zip(
        series.time.tolist(),
        series.load.tolist(),
        state.first.value.tolist(),
        doubts[0],
        state.second.value.tolist(),
        doubts[1],
        state.angle.value.tolist(),
        state.lower.tolist(),
        state.upper.tolist(),
        state.is_determined.tolist(),
        strict=True,
    )
    rows = [
        (*row[:6], *((row[6], row[7], row[8]) if row[9] else (None, None, None))) for row in columns
    ]
    heads = (
        "campaign time in s",
        "load in N",
        "larger principal strain",
        "its expanded uncertainty",
        "smaller principal strain",
        "its expanded uncertainty",
        "axis of the larger in rad",
        "back from it in rad",
        "on from it in rad",
    )
    return Response(
        csv_text(heads, rows),
        media_type="text/csv; charset=utf-8",
        headers={"content-disposition": 'attachment; filename="rosette.csv"'},
    )
