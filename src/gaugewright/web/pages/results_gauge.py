"""One gauge or opposite pair under load: curves, holds, events, loops; one instant at a time."""

import math
from dataclasses import dataclass
from urllib.parse import quote

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from gaugewright.errors import InputError
from gaugewright.present.cells import csv_text
from gaugewright.present.numbers import Shown
from gaugewright.present.units_shown import in_shown, quantity_shown
from gaugewright.records.gauges import Gauge
from gaugewright.records.results import Result
from gaugewright.services.campaign.states import standing_of_gauge
from gaugewright.services.gauge import look as gauge_look
from gaugewright.services.gauge import named as gauge_named
from gaugewright.services.gauge import plots as gauge_plots
from gaugewright.services.gauge import predicted as gauge_predicted
from gaugewright.services.gauge import recent as gauge_recent
from gaugewright.services.gauge.look import GaugeLook
from gaugewright.services.gauge.plots import Samples
from gaugewright.services.loading.holds import SETTLED_WHEN
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.web import frame, gauge_tables, rooms
from gaugewright.web.gauge_marks import MarkedPlot, marked
from gaugewright.web.gauge_tables import NumberTable
from gaugewright.web.links import GaugeLink, gauge_url
from gaugewright.web.not_there import NotThere

__all__ = ["EventsPage", "GaugesPage", "ResultsGaugePage", "gauge_results_url", "router"]

router = APIRouter()

SIZES = ((800.0, 420.0), (360.0, 360.0))


@dataclass(frozen=True, slots=True)
class Instant:
    """What stands at one sample, in words; ``number`` is its place among the samples."""

    number: int
    last: int
    facts: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class ResultsGaugePage:
    """A gauge or pair under load."""

    sheet: frame.Sheet
    title: str
    lead: str
    state_shown: str
    why: str
    gauges: tuple[GaugeLink, ...]
    others: tuple[GaugeLink, ...]
    kept: tuple[tuple[str, str], ...]
    plots: tuple[MarkedPlot, ...]
    instant: Instant
    tables: tuple[NumberTable, ...]
    criteria: tuple[tuple[str, str], ...]
    settled_when: str
    no_prediction: str
    page_url: str
    samples_url: str
    csv_url: str
    review_url: str
    list_url: str


@dataclass(frozen=True, slots=True)
class GaugesPage:
    """Every gauge and pair that has a record under load."""

    sheet: frame.Sheet
    bars: tuple[tuple[str, tuple[GaugeLink, ...]], ...]
    pairs: tuple[GaugeLink, ...]
    events_url: str
    results_url: str


@dataclass(frozen=True, slots=True)
class EventsPage:
    """First cracking and first yield of every gauge, and of the usable ones together."""

    sheet: frame.Sheet
    together: NumberTable | None
    tables: tuple[NumberTable, ...]
    criteria: tuple[tuple[str, str], ...]
    list_url: str


@router.get("/c/{name}/results/gauges")
def gauges(request: Request) -> Response:
    """List of gauges and pairs."""
    room = rooms.room(request)
    desk = Desk(room.store, room.book)
    singles, pairs = gauge_named.labels(desk)
    by_bar: dict[str, list[GaugeLink]] = {}
    for gauge in room.book.of(Gauge):
        if gauge.record.label in singles:
            bar = room.book.bar_of(gauge).record.label
            by_bar.setdefault(bar, []).append(_link(room, gauge.record.label))
    context = GaugesPage(
        frame.Sheet("Gauges under load", "Gauges under load", _block(room, "Gauges"), "results"),
        tuple((bar, tuple(found)) for bar, found in by_bar.items()),
        tuple(_link(room, label) for label in pairs),
        room.url("results/events"),
        room.url("results"),
    )
    return frame.page(request, "results_gauges.html", context)


@router.get("/c/{name}/results/events")
def events(request: Request) -> Response:
    """Events of every gauge."""
    room = rooms.room(request)
    page = Page.of(Desk(room.store, room.book))
    found = gauge_recent.events_kept(room.store, room.book)
    context = EventsPage(
        frame.Sheet("Events", "Cracking and yield", _block(room, "Cracking and yield"), "results"),
        gauge_tables.together(page, found),
        tuple(
            gauge_tables.of_every_gauge(page, found, lambda label: gauge_results_url(room, label))
        ),
        gauge_tables.criteria(tuple(event for one in found for event in one.events)),
        room.url("results/gauges"),
    )
    return frame.page(request, "results_events.html", context)


@router.get("/c/{name}/results/gauges/{label:path}")
def show(
    request: Request, label: str, at: int | None = None, numbers: str | None = None
) -> Response:
    """One gauge or pair; ``at`` names a sample, ``numbers`` asks for them alone."""
    room = rooms.room(request)
    page = Page.of(Desk(room.store, room.book))
    singles, pairs = gauge_named.labels(page.desk)
    if label not in singles and label not in pairs:
        raise NotThere(
            "gauge", label, "reduced, and a gauge or usable pair", "look at the list of gauges"
        )
    look, samples = gauge_recent.look_kept(room.store, room.book, label)
    if numbers == "samples":
        return _csv(page, look, samples)
    if at is not None and not 0 <= at < samples.rows.size:
        raise InputError("at", at, f"from 0 to {samples.rows.size - 1}")
    place = _first_place(look, samples) if at is None else at
    plots, frames = _plots(page, look, samples, place)
    if numbers == "plots":
        return JSONResponse(_told(page, samples, frames))
    context = _page(room, page, look, samples, (place, plots))
    return frame.page(request, "results_gauge.html", context)


def gauge_results_url(room: rooms.Room, label: str) -> str:
    """Address of a gauge or pair under load."""
    return room.url(f"results/gauges/{quote(label, safe='')}")


def _page(
    room: rooms.Room,
    page: Page,
    look: GaugeLook,
    samples: Samples,
    drawn: tuple[int, tuple[MarkedPlot, ...]],
) -> ResultsGaugePage:
    label, record = look.record.label, look.record
    predicted, why_not = gauge_predicted.predicted_at_holds(look)
    url = gauge_results_url(room, label)
    standing = [standing_of_gauge(room.book, gauge) for gauge in record.gauges]
    why = "; ".join(dict.fromkeys(one.why for one in standing if one.why))
    return ResultsGaugePage(
        sheet=frame.Sheet(label, f"{label} under load", _block(room, label, look), "results"),
        title=f"{label} under load",
        lead=_lead(look),
        state_shown=look.state.value,
        why=f"{why}." if why else "Nothing counts against it.",
        gauges=tuple(
            GaugeLink(one.record.label, gauge_url(room, one.record.label), s.state.value)
            for one, s in zip(record.gauges, standing, strict=True)
        ),
        others=_others(room, page.desk, label),
        kept=_kept(room, look),
        plots=drawn[1],
        instant=Instant(drawn[0], samples.rows.size - 1, _facts(page, samples, drawn[0])),
        tables=gauge_tables.of_gauge(
            page, look, predicted, lambda time: _at_url(url, samples, time)
        ),
        criteria=gauge_tables.criteria(look.events),
        settled_when=SETTLED_WHEN,
        no_prediction=why_not,
        page_url=url,
        samples_url=f"{url}?numbers=plots",
        csv_url=f"{url}?numbers=samples",
        review_url=room.url("review"),
        list_url=room.url("results/gauges"),
    )


def _lead(look: GaugeLook) -> str:
    record = look.record
    kind = "Mean of two opposite gauges" if len(record.gauges) == 2 else "One gauge"
    return (
        f"{kind} at {record.station}: mechanical strain since the zero {record.zero.value}, "
        f"stress by the law of {record.material.record.label}."
    )


def _kept(room: rooms.Room, look: GaugeLook) -> tuple[tuple[str, str], ...]:
    """Kept numbers of this gauge, this pair or a pair it is in, with the pages of their budgets."""
    mine = {gauge.uid for gauge in look.record.gauges}
    return tuple(
        (entry.record.label, room.url(f"results/budget/{entry.uid}"))
        for entry in room.book.of(Result)
        if entry.record.value is not None
        and mine & set(entry.record.subjects)
        and len(set(entry.record.subjects)) <= 2
    )


def _others(room: rooms.Room, desk: Desk, label: str) -> tuple[GaugeLink, ...]:
    """The pairs that a gauge is in, or the gauges of a pair; then its neighbours in the list."""
    singles, pairs = gauge_named.labels(desk)
    mine = set(label.split(" with "))
    near = [pair for pair in pairs if pair != label and mine & set(pair.split(" with "))]
    near += [one for one in singles if one != label and one in mine]
    every = [*singles, *pairs]
    at = every.index(label)
    near += [every[n] for n in (at - 1, at + 1) if 0 <= n < len(every)]
    return tuple(_link(room, one) for one in dict.fromkeys(near) if one != label)


def _link(room: rooms.Room, label: str) -> GaugeLink:
    gauges = [g for g in room.book.of(Gauge) if g.record.label in label.split(" with ")]
    states = [standing_of_gauge(room.book, gauge).state for gauge in gauges]
    order = list(type(states[0]))
    return GaugeLink(label, gauge_results_url(room, label), max(states, key=order.index).value)


def _plots(
    page: Page, look: GaugeLook, samples: Samples, place: int
) -> tuple[tuple[MarkedPlot, ...], dict[str, object]]:
    strain = in_shown(float(samples.strain[place]), "strain", page.system)
    load = in_shown(float(samples.load[place]), "force", page.system)
    along = (float(samples.time[place]) - samples.begins) / gauge_plots.time_unit_of(samples)
    there = math.isfinite(strain) and math.isfinite(load)
    wanted = [
        ("load", gauge_plots.under_load(look, samples, page.system), (strain, load)),
        ("time", gauge_plots.time_plot(look, samples, page.system), (along, strain)),
        ("loops", gauge_plots.loop_plot(look, page.system), (strain, load)),
    ]
    made, frames = [], {}
    for name, one, at in wanted:
        if one is None:
            continue
        mark = at if there else (None, None)
        plot, frames[name] = marked(
            name, (one.plot, one.narrow), (one.title, one.caption), SIZES, mark
        )
        made.append(plot)
    return tuple(made), dict(frames)


def _first_place(look: GaugeLook, samples: Samples) -> int:
    """Sample at the highest load that has a strain: the one that people ask for first."""
    best = max(
        (n for n in range(samples.rows.size) if _is_read(samples, n)),
        key=lambda n: float(samples.load[n]),
        default=None,
    )
    if best is None:
        raise InputError(
            f"strain of {look.record.label} under load", "none", "read while a load was recorded"
        )
    return best


def _is_read(samples: Samples, place: int) -> bool:
    return math.isfinite(samples.load[place]) and math.isfinite(samples.strain[place])


def _facts(page: Page, samples: Samples, place: int) -> tuple[tuple[str, str, str], ...]:
    """Key, term and words of everything at one sample."""

    def words(value: float, quantity: str, doubt: float = math.nan) -> str:
        if not math.isfinite(value):
            return "none"
        known = doubt if math.isfinite(doubt) and doubt > 0 else None
        shown: Shown = quantity_shown(quantity, value, known, page.system)
        return shown.text

    local = gauge_look.instant_of(float(samples.time[place])).astimezone(page.zone)
    return (
        ("time", "Time of the hall", f"{local:%H:%M:%S}"),
        (
            "load",
            "Load",
            words(float(samples.load[place]), "force", float(samples.load_doubt[place])),
        ),
        (
            "strain",
            "Strain",
            words(float(samples.strain[place]), "strain", float(samples.doubt[place])),
        ),
        (
            "predicted",
            "Predicted",
            words(float(samples.predicted[place]), "strain", float(samples.predicted_doubt[place])),
        ),
        (
            "stress",
            "Stress",
            words(float(samples.stress[place]), "stress", float(samples.stress_doubt[place])),
        ),
        ("steel", "Steel", samples.steel[place] or "law not known"),
    )


def _told(page: Page, samples: Samples, frames: dict[str, object]) -> dict[str, object]:
    """Everything the script moves: places of the samples, their words, edges of the plots."""
    seconds = gauge_plots.time_unit_of(samples)
    strain = [_number(in_shown(float(v), "strain", page.system)) for v in samples.strain]
    load = [_number(in_shown(float(v), "force", page.system)) for v in samples.load]
    along = [_number((float(t) - samples.begins) / seconds) for t in samples.time]
    facts = [_facts(page, samples, place) for place in range(samples.rows.size)]
    return {
        "places": {"load": [strain, load], "loops": [strain, load], "time": [along, strain]},
        "frames": frames,
        "words": {
            key: [fact[number][2] for fact in facts] for number, (key, _, _) in enumerate(facts[0])
        },
    }


def _number(value: float) -> float | None:
    return float(f"{value:.7g}") if math.isfinite(value) else None


def _at_url(url: str, samples: Samples, time: float) -> str:
    """Address of the sample nearest to a time."""
    best = min(range(samples.rows.size), key=lambda n: abs(float(samples.time[n]) - time))
    return f"{url}?at={best}#instant"


def _csv(page: Page, look: GaugeLook, samples: Samples) -> Response:
    """Every drawn sample in SI."""
    heads = (
        "row",
        "time UTC",
        "load [N]",
        "expanded uncertainty of load, 95 % [N]",
        "strain [1]",
        "expanded uncertainty of strain, 95 % [1]",
        "predicted strain [1]",
        "its expanded uncertainty, 95 % [1]",
        "stress [Pa]",
        "expanded uncertainty of stress, 95 % [Pa]",
        "steel",
    )
    rows = [
        (
            int(samples.rows[n]),
            gauge_look.instant_of(float(samples.time[n])).isoformat(),
            float(samples.load[n]),
            float(samples.load_doubt[n]),
            float(samples.strain[n]),
            float(samples.doubt[n]),
            float(samples.predicted[n]),
            float(samples.predicted_doubt[n]),
            float(samples.stress[n]),
            float(samples.stress_doubt[n]),
            samples.steel[n],
        )
        for n in range(samples.rows.size)
    ]
    return Response(
        csv_text(heads, rows),
        media_type="text/csv; charset=utf-8",
        headers={"content-disposition": 'attachment; filename="gauge-under-load.csv"'},
    )


def _block(
    room: rooms.Room, sheet: str, look: GaugeLook | None = None
) -> tuple[tuple[str, str], ...]:
    if look is None:
        return frame.room_block(room, f"{sheet} under load", zero="each gauge's own, see its page")
    return frame.room_block(
        room,
        f"{sheet} under load",
        zero=look.record.zero.value,
        chain="as on the gauge's own page",
        coverage="95 %, noise and causes of strain and load",
    )
