"""Results: what came out, how well it is known and why, drawn bar by bar and as tables."""

from dataclasses import dataclass
from datetime import datetime

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.present.captions import coverage_text, listed
from gaugewright.present.cells import csv_text
from gaugewright.present.numbers import Shown
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.readings import Recording
from gaugewright.records.results import Chain, Result
from gaugewright.records.specimen import Bar
from gaugewright.report.document import Answer
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.campaign.states import standing_of_gauge
from gaugewright.services.handover import answers as handover_answers
from gaugewright.services.handover import tables as result_tables
from gaugewright.services.handover.figures import circuits_on
from gaugewright.services.loading.marking import mark_holds, unmarked_holds
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.services.telling import chains as handover_chains
from gaugewright.services.work import jobs
from gaugewright.services.work.jobs import JobState
from gaugewright.web import frame, rooms
from gaugewright.web.figures import Figures, figures
from gaugewright.web.job_shown import JobShown
from gaugewright.web.links import GaugeLink, gauge_url
from gaugewright.web.pages import work
from gaugewright.web.results_parts import PartLink, part_links

__all__ = ["ResultsPage", "behind", "router"]

router = APIRouter()

CRITERIA = 3  # told beside a table; each result's own stands with its gauge


@dataclass(frozen=True, slots=True)
class BarFigures:
    """Figures of one bar."""

    label: str
    figures: Figures


@dataclass(frozen=True, slots=True)
class ResultLine:
    """A result in a table."""

    name: str
    gauges: tuple[GaugeLink, ...]
    state: str
    number: Shown | None
    cause: str
    zero: str
    criterion: str
    note: str
    counts: bool
    budget_url: str


@dataclass(frozen=True, slots=True)
class ResultTable:
    """Results of one quantity."""

    title: str
    unit: str
    align: str
    criteria: tuple[str, ...]
    lines: tuple[ResultLine, ...]


@dataclass(frozen=True, slots=True)
class ResultsPage:
    """What the results page shows."""

    sheet: frame.Sheet
    lead: str
    answers: tuple[Answer, ...]
    answer_urls: tuple[str, ...]
    behind: str
    has_readings: bool
    was_reduced: bool
    holds: str
    holds_url: str
    begin_url: str
    job: JobShown | None
    parts: tuple[PartLink, ...]
    bars: tuple[BarFigures, ...]
    tables: tuple[ResultTable, ...]
    numbers_url: str
    readings_url: str
    handover_url: str


NUMBER_HEADS = (
    "result",
    "value",
    "expanded uncertainty",
    "coverage",
    "unit",
    "state",
    "in an answer",
    "main cause",
    "criterion",
    "zero",
    "note",
    "software",
    "uid",
    "version",
)


@router.get("/c/{name}/results")
def show(request: Request) -> Response:
    """Results of a campaign."""
    return frame.page(request, "results.html", results_page(rooms.room(request)))


@router.get("/c/{name}/results/numbers.csv")
def numbers(request: Request) -> Response:
    """Every result in SI units, as the records hold it."""
    room = rooms.room(request)
    page = Page.of(Desk(room.store, room.book))
    rows = [
        (
            r.label,
            r.value,
            r.expanded_uncertainty,
            r.coverage,
            r.unit,
            page.worst(r.subjects).value,
            "yes" if handover_answers.in_an_answer(page, r) else "no",
            r.main_cause,
            r.criterion,
            r.zero,
            r.note,
            r.software,
            entry.uid,
            str(entry.version),
        )
        for entry in room.book.of(Result)
        for r in (entry.record,)
    ]
    return Response(
        csv_text(NUMBER_HEADS, rows),
        media_type="text/csv; charset=utf-8",
        headers={"content-disposition": 'attachment; filename="results.csv"'},
    )


def results_page(room: rooms.Room) -> ResultsPage:
    """Everything the results page shows."""
    page = Page.of(Desk(room.store, room.book))
    answers = handover_answers.answers(page)
    has_results = bool(room.book.of(Result))
    was_reduced = has_results or bool(room.book.of(Chain))
    return ResultsPage(
        sheet=frame.Sheet("Results", "Results", _block(room, page), "results"),
        lead=_lead(page, answers),
        answers=answers if was_reduced else (),
        answer_urls=_budget_urls(room, page, answers),
        behind=behind(room),
        has_readings=bool(room.book.of(Recording)),
        was_reduced=was_reduced,
        holds=_holds_words(page),
        holds_url=room.url("results/holds"),
        begin_url=work.begin_url(room, "reduce"),
        job=work.going_on(room, "reduce"),
        parts=part_links(room),
        bars=tuple(_bars(room, page)) if has_results else (),
        tables=tuple(_table(room, table) for table in result_tables.result_tables(page)),
        numbers_url=room.url("results/numbers.csv") if has_results else "",
        readings_url=room.url("readings"),
        handover_url=room.url("handover"),
    )


def _lead(page: Page, answers: tuple[Answer, ...]) -> str:
    if page.book.of(Result):
        return handover_answers.lead(page, answers)
    if page.book.of(Chain):
        return (
            "Strain is reduced, but no number that a question asks came out of it; why not, stands "
            "with each question."
        )
    return "Nothing is reduced yet."


def _holds_words(page: Page) -> str:
    """Holds that the load shows and nobody marked, for whoever would mark them; "" for none."""
    steps = unmarked_holds(page.desk)
    if not steps:
        return ""
    loads = listed([one.label for one in steps])
    times = "once" if len(steps) == 1 else f"{len(steps)} times"
    return (
        f"The load stood still {times}, at {loads}, and no load step is marked: force is asked at "
        "load steps."
    )


@router.post("/c/{name}/results/holds")
def mark(request: Request) -> Response:
    """Keep the holds that the load shows as load steps."""
    room = rooms.room_to_write(request)
    mark_holds(room.store)
    return RedirectResponse(room.url("results"), status_code=303)


def _budget_urls(room: rooms.Room, page: Page, answers: tuple[Answer, ...]) -> tuple[str, ...]:
    """Where each answer's number leads: the budget of the result that heads it."""
    heads = iter(handover_answers.heading_results(page))
    return tuple(
        "" if answer.number is None else room.url(f"results/budget/{next(heads).uid}")
        for answer in answers
    )


def _block(room: rooms.Room, page: Page) -> tuple[tuple[str, str], ...]:
    told = {r.record.zero.removeprefix("zero ") for r in room.book.of(Result)} - {""}
    zeros = sorted({kind for zero in told for kind in zero.split(" or ")})
    chains = len(room.book.of(Chain))
    kinds = len(handover_chains.chain_tables(page))
    return frame.room_block(
        room,
        "Results",
        zero=listed(zeros) or "none in use yet",
        coverage=coverage_text(COVERAGE),
        chain=f"{handover_chains.told(chains, kinds)}; see each gauge"
        if chains
        else "none applied yet",
    )


def behind(room: rooms.Room) -> str:
    """Why reducing again may change numbers, or ""."""
    if not room.book.of(Recording):
        return ""
    if not room.book.of(Result) and not room.book.of(Chain):
        return "There are readings that nobody has reduced."
    if result_tables.results_are_behind(room.book, _last_reduced(room)):
        return "A recording, a load step or a finding is newer than these numbers."
    return ""


def _last_reduced(room: rooms.Room) -> datetime | None:
    if room.store.read_only:
        return None
    ended = [
        job.ended
        for job in jobs.jobs(room.store)
        if job.kind == "reduce" and job.state is JobState.DONE and job.ended
    ]
    return max(ended, default=None)


def _bars(room: rooms.Room, page: Page) -> list[BarFigures]:
    return [
        BarFigures(bar.record.label, figures(room, "bar", bar.record.label))
        for bar in room.book.of(Bar)
        if circuits_on(page, bar)
    ]


def _table(room: rooms.Room, table: result_tables.Table) -> ResultTable:
    lines = tuple(
        ResultLine(
            line.name,
            tuple(_link(room, uid) for uid in line.gauges),
            line.state,
            line.number,
            line.cause,
            line.zero,
            line.criterion,
            line.note,
            line.counts,
            room.url(f"results/budget/{line.uid}") if line.number else "",
        )
        for line in table.lines
    )
    criteria = tuple(dict.fromkeys(line.criterion for line in lines if line.criterion))
    align = f"f{table.places}" if table.places else ""
    return ResultTable(table.title, table.unit, align, criteria[:CRITERIA], lines)


def _link(room: rooms.Room, uid: Uid) -> GaugeLink:
    gauge: Entry[Gauge] = room.book.entry(uid, Gauge)
    label = gauge.record.label
    return GaugeLink(label, gauge_url(room, label), standing_of_gauge(room.book, gauge).state.value)
