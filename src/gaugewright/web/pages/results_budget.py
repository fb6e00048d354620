"""One reported number: what its uncertainty is made of, what it stands on, what would reduce it."""

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.errors import InputError
from gaugewright.present.captions import coverage_text
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.results import Result
from gaugewright.report.document import BudgetTable, InputRow
from gaugewright.services.campaign.states import standing_of_gauge
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.services.tracing import budget as result_budget
from gaugewright.web import frame, rooms
from gaugewright.web.links import GaugeLink, gauge_url
from gaugewright.web.not_there import NotThere

__all__ = ["BudgetPage", "router"]

router = APIRouter()


@dataclass(frozen=True, slots=True)
class BudgetPage:
    """The budget of one number and the inputs it came from; ``budget`` None with the reason."""

    sheet: frame.Sheet
    title: str
    criterion: str
    budget: BudgetTable | None
    missing: str
    inputs: tuple[InputRow, ...]
    gauges: tuple[GaugeLink, ...]
    results_url: str
    limits_url: str
    evidence_url: str


@router.get("/c/{name}/results/budget/{uid}")
def show(request: Request, uid: str) -> Response:
    """Budget of one result."""
    room = rooms.room(request)
    entry = room.book.found(Uid(uid))
    if entry is None or not isinstance(entry.record, Result):
        raise NotThere("result", uid, "one of this campaign", "go by the results' own page")
    return frame.page(request, "results_budget.html", budget_page(room, entry))


def budget_page(room: rooms.Room, entry: Entry[Result]) -> BudgetPage:
    """Everything the page shows."""
    page = Page.of(Desk(room.store, room.book))
    result = entry.record
    budget, missing = None, ""
    try:
        budget = result_budget.budget_table(page, entry)
    except InputError as error:
        missing = str(error)
    block = frame.room_block(
        room,
        f"Budget of {result.label}",
        zero=result.zero or frame.NONE_HERE,
        chain=f"{len(result.chains)} in use" if result.chains else frame.NONE_HERE,
        coverage=coverage_text(result.coverage),
    )
    return BudgetPage(
        sheet=frame.Sheet(result.label, f"Budget of {result.label}", block, "results"),
        title=f"{result.label[:1].upper()}{result.label[1:]}",
        criterion=result.criterion,
        budget=budget,
        missing=missing,
        inputs=result_budget.input_rows(page, [entry]),
        gauges=tuple(_link(room, uid) for uid in dict.fromkeys(result.subjects)),
        results_url=room.url("results"),
        limits_url=room.url("limits"),
        evidence_url=room.url(f"evidence/{entry.uid}"),
    )


def _link(room: rooms.Room, uid: Uid) -> GaugeLink:
    gauge = room.book.entry(uid, Gauge)
    label = gauge.record.label
    return GaugeLink(label, gauge_url(room, label), standing_of_gauge(room.book, gauge).state.value)
