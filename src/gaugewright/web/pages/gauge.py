"""One gauge's whole life: card, station, bench, gates, wiring, zeros, corrections, results."""

from dataclasses import dataclass, field, replace

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import GaugewrightError
from gaugewright.present.captions import listed
from gaugewright.present.numbers import Shown
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import Gate, GateCheck
from gaugewright.records.results import Result
from gaugewright.report.document import ChainTable, FindingRow
from gaugewright.services.campaign import finding_by_label, history
from gaugewright.services.campaign.states import standing_of_gauge
from gaugewright.services.gauge import life as gauge_life
from gaugewright.services.gauge import named as gauge_named
from gaugewright.services.gauge import proof as gauge_proof
from gaugewright.services.gauge.life import BenchRow
from gaugewright.services.gauge.proof import ConnectionRow, GateLine, ResultRow, ZeroRow
from gaugewright.services.showing.facts import Fact
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.web import frame, rooms
from gaugewright.web.figures import Figures, figures
from gaugewright.web.gauge_story import LifeStop, ReportLine, counted, life_stops, report_lines
from gaugewright.web.links import GaugeLink, gauge_url
from gaugewright.web.not_there import NotThere
from gaugewright.web.pages.overview import JournalLine
from gaugewright.web.pages.results_gauge import gauge_results_url
from gaugewright.web.pages.undo import Undo
from gaugewright.web.stage_form import StageForm, decided, stage_form

__all__ = ["GaugePage", "router"]

router = APIRouter()

SHORT = 3


@dataclass(frozen=True, slots=True)
class Stop:
    """A gate on the line of a gauge's life; ``node`` says passed, not passed, or to come."""

    gate: str
    day: str
    node: str
    is_last: bool


@dataclass(frozen=True, slots=True)
class Headline:
    """One of the gauge's own results, large."""

    label: str
    number: Shown
    cause: str
    uid: str


@dataclass(frozen=True, slots=True)
class Around:
    """The gauges entered before and after this one."""

    earlier: GaugeLink | None
    later: GaugeLink | None


@dataclass(frozen=True, slots=True)
class GaugePage:
    """What the page of a gauge shows."""

    sheet: frame.Sheet
    title: str
    place: str
    state_word: str
    why: str
    around: Around
    lifeline: tuple[Stop, ...]
    short: tuple[Headline, ...]
    pack: str
    lot: str
    pack_note: str
    pack_facts: tuple[Fact, ...]
    bonded: tuple[Fact, ...]
    bench: tuple[BenchRow, ...]
    quantities: tuple[str, ...]
    columns: int
    gates: tuple[GateLine, ...]
    circuit: tuple[Fact, ...]
    connections: tuple[ConnectionRow, ...]
    zeros: tuple[ZeroRow, ...]
    chains: tuple[ChainTable, ...]
    stages: StageForm | None
    undo: Undo | None
    figures: Figures
    under_load_url: str
    findings: tuple[FindingRow, ...]
    results: tuple[ResultRow, ...]
    budgets_url: str
    journal: tuple[JournalLine, ...]
    number_end: str = ""
    stops: dict[str, LifeStop] = field(default_factory=dict)
    reports: tuple[ReportLine, ...] = ()


@router.get("/c/{name}/gauges/{label:path}")
def show(request: Request, label: str, decided: str = "") -> Response:
    """Page of one gauge."""
    room = rooms.room(request)
    gauge = _gauge(room, label)
    form = _stages(room, gauge, {}, None, decided)
    return frame.page(request, "gauge.html", gauge_page(room, gauge, form))


@router.post("/c/{name}/gauges/{label:path}")
def decide(
    request: Request,
    label: str,
    stage: str = Form(""),
    wanted: str = Form("", alias="set"),
    reason: str = Form(""),
    numbers: str = Form(""),
    beside: str = Form(""),
) -> Response:
    """Turn a stage of the gauge's corrections on or off."""
    typed = {
        "stage": stage,
        "set": wanted,
        "reason": reason,
        "numbers": numbers,
        "beside": beside,
    }
    try:
        room = rooms.room_to_write(request)
        circuit = Page.of(Desk(room.store, room.book)).circuit_of(_gauge(room, label))
        if circuit is None:
            raise NotThere("circuit of", label, "one it is wired into", "enter its circuit first")
        made = decided(room, circuit, typed)
    except NotThere:
        raise
    except GaugewrightError as error:
        room = rooms.room(request)
        gauge = _gauge(room, label)
        context = gauge_page(room, gauge, _stages(room, gauge, typed, error))
        return frame.page(request, "gauge.html", context, status=422)
    return RedirectResponse(f"{gauge_url(room, label)}?decided={made}#decide", status_code=303)


def _gauge(room: rooms.Room, label: str) -> Entry[Gauge]:
    gauge = next((g for g in room.book.of(Gauge) if g.record.label == label), None)
    if gauge is None:
        raise NotThere("gauge", label, "one of this campaign", "look for it on the overview")
    return gauge


def _stages(
    room: rooms.Room,
    gauge: Entry[Gauge],
    typed: dict[str, str],
    error: GaugewrightError | None,
    just: str = "",
) -> StageForm | None:
    circuit = Page.of(Desk(room.store, room.book)).circuit_of(gauge)
    if circuit is None:
        return None
    return stage_form(room, circuit, gauge.record.label, typed, error, just)


def _under_load_url(room: rooms.Room, page: Page, label: str) -> str:
    return gauge_results_url(room, label) if label in gauge_named.labels(page.desk)[0] else ""


def gauge_page(room: rooms.Room, gauge: Entry[Gauge], stages: StageForm | None = None) -> GaugePage:
    """Everything the records say of a gauge."""
    page = Page.of(Desk(room.store, room.book))
    pack = room.book.pack_of(gauge).record
    standing = standing_of_gauge(room.book, gauge)
    gates = gauge_proof.gate_lines(page, gauge)
    quantities = gauge_proof.gate_quantities(page, gauge)
    chains = gauge_proof.chains_of_gauge(page, gauge)
    zeros = gauge_proof.zero_rows(page, gauge)
    label = gauge.record.label
    told = GaugePage(
        sheet=frame.Sheet(label, label, _block(room, label, zeros, chains), ""),
        title=f"{label}, bar {room.book.bar_of(gauge).record.label}",
        place=gauge_life.place_sentence(page, gauge),
        state_word=standing.state.value,
        why=f"{standing.why}." if standing.why else "Nothing counts against it.",
        around=_around(room, gauge),
        lifeline=_lifeline(page, gates),
        short=_short(page, gauge),
        pack=f"Pack card, {pack.label}",
        lot=pack.lot,
        pack_note=pack.note,
        pack_facts=gauge_life.pack_facts(page, gauge),
        bonded=gauge_life.as_bonded(page, gauge),
        bench=gauge_life.bench_rows(page, gauge),
        quantities=quantities,
        columns=len(quantities) + 3,
        gates=gates,
        circuit=gauge_proof.circuit_facts(page, gauge),
        connections=gauge_proof.connection_rows(page, gauge),
        zeros=zeros,
        chains=chains,
        stages=stages,
        undo=stages.undo if stages else None,
        figures=figures(room, "gauge", label),
        under_load_url=_under_load_url(room, page, label),
        findings=gauge_proof.findings_of_gauge(page, gauge),
        results=gauge_proof.result_rows(page, gauge),
        budgets_url=room.url("results/budget/"),
        journal=_journal(room, page, gauge),
    )
    return _with_life(room, page, gauge, told)


def _with_life(room: rooms.Room, page: Page, gauge: Entry[Gauge], told: GaugePage) -> GaugePage:
    """The page with its line of stops, made from what stands on it."""
    written = frozenset(gauge_proof.uids_of_gauge(page, gauge))
    reports = report_lines(room, page, gauge, written)
    passed = sum(gate.passed for gate in told.gates)
    numbers = sum(row.number is not None for row in told.results)
    words = {
        "pack": room.book.pack_of(gauge).record.label,
        "bench": counted(len(told.bench), "step", "steps"),
        "gates": f"{passed} of {len(told.gates)} passed" if told.gates else "",
        "wiring": told.connections[-1].channel if told.connections else "",
        "readings": counted(len(told.zeros), "zero", "zeros"),
        "findings": counted(len(told.findings), "finding", "findings"),
        "results": counted(numbers, "number", "numbers"),
        "report": reports[0].name if reports else "",
    }
    return replace(
        told,
        number_end=finding_by_label.number_end(gauge.uid),
        stops=life_stops(room, page, gauge, words),
        reports=reports,
    )


def _block(
    room: rooms.Room, label: str, zeros: tuple[ZeroRow, ...], chains: tuple[ChainTable, ...]
) -> tuple[tuple[str, str], ...]:
    stages = [stage for chain in chains for stage in chain.stages]
    off = {stage.name for stage in stages if not stage.on}
    on = {stage.name for stage in stages} - off
    return frame.room_block(
        room,
        f"Life of gauge {label}",
        zero=listed(list(dict.fromkeys(zero.kind for zero in zeros))) or "none taken yet",
        chain=f"{len(on)} stages on, {len(off)} off with reason" if chains else "none applied yet",
    )


def _around(room: rooms.Room, gauge: Entry[Gauge]) -> Around:
    every = room.book.of(Gauge)
    at = next(place for place, one in enumerate(every) if one.uid == gauge.uid)
    earlier = every[at - 1] if at > 0 else None
    later = every[at + 1] if at + 1 < len(every) else None
    return Around(*(_linked(room, one) for one in (earlier, later)))


def _linked(room: rooms.Room, gauge: Entry[Gauge] | None) -> GaugeLink | None:
    if gauge is None:
        return None
    label = gauge.record.label
    state = standing_of_gauge(room.book, gauge).state
    return GaugeLink(label, gauge_url(room, label), state.value)


def _lifeline(page: Page, gates: tuple[GateLine, ...]) -> tuple[Stop, ...]:
    """Every gate that was held in this campaign; the last check counts where there were several."""
    held = {check.record.gate for check in page.book.of(GateCheck)}
    last = {line.gate: line for line in gates}
    stops = []
    for gate in Gate:
        if gate not in held:
            continue
        line = last.get(gate.value)
        node = "nd-open" if line is None else "nd-done" if line.passed else "nd-half"
        day = "not held" if line is None else line.day
        day += "" if line is None or line.passed else f", {line.verdict}"
        is_last = line is not None and bool(gates) and line is gates[-1]
        stops.append(Stop(gate.value, day, node, is_last))
    return tuple(stops)


def _short(page: Page, gauge: Entry[Gauge]) -> tuple[Headline, ...]:
    """The gauge's own numbers, one for each quantity, those it shares with a partner after them."""
    mine = [r for r in page.book.of(Result) if gauge.uid in r.record.subjects]
    mine.sort(key=lambda entry: len(entry.record.subjects))
    found: dict[str, Headline] = {}
    for entry in mine:
        result = entry.record
        number = page.result(result)
        if number is None or len(result.subjects) > 2 or result.quantity in found:
            continue
        cause = f"{result.zero}; mostly {result.main_cause}" if result.main_cause else result.zero
        found[result.quantity] = Headline(result.label, number, cause, entry.uid)
    return tuple(found.values())[:SHORT]


def _journal(room: rooms.Room, page: Page, gauge: Entry[Gauge]) -> tuple[JournalLine, ...]:
    uids = gauge_proof.uids_of_gauge(page, gauge)
    return tuple(
        JournalLine(frame.instant_shown(line.at, room), line.what, line.reason, line.person)
        for line in history.history_of(room.store, room.book, uids)
    )
