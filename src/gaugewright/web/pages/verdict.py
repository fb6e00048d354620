"""Gauge or specimen? What speaks for which, of one finding, and a verdict or none."""

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.errors import GaugewrightError
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import uid_from_text
from gaugewright.records.readings import Finding
from gaugewright.services.campaign.states import standing_of_gauge
from gaugewright.services.reviewing import arbiter
from gaugewright.services.reviewing.arbiter import Judged
from gaugewright.services.strain.strains import Desk
from gaugewright.web import frame, rooms
from gaugewright.web.links import GaugeLink, gauge_url
from gaugewright.web.not_there import NotThere

__all__ = ["VerdictPage", "router"]

router = APIRouter()


@dataclass(frozen=True, slots=True)
class SignRow:
    """One piece of evidence: what it speaks for, how strongly, and what it is."""

    side: str
    weight: str
    words: str


@dataclass(frozen=True, slots=True)
class VerdictPage:
    """A verdict on one finding with its evidence; ``failure`` says why none can be had."""

    sheet: frame.Sheet
    gauge: GaugeLink
    finding: str
    verdict: str
    failure: str
    signs: tuple[SignRow, ...]
    unasked: tuple[str, ...]
    back_url: str


@router.get("/c/{name}/review/{uid}/verdict")
def show(request: Request, uid: str) -> Response:
    """Evidence on one finding, weighed."""
    room = rooms.room(request)
    wanted = uid_from_text(uid)
    entry = next((e for e in room.book.of(Finding) if e.uid == wanted), None)
    if entry is None:
        raise NotThere("finding", uid, "one of this campaign", "look at the list of findings")
    judged: Judged | None = None
    wrong = ""
    try:
        judged = arbiter.judged_of(Desk(room.store, room.book), entry)
    except GaugewrightError as error:
        wrong = str(error)
    gauge = room.book.entry(entry.record.subject, Gauge)
    label = gauge.record.label
    state = standing_of_gauge(room.book, gauge).state.value
    title = "Gauge or specimen?"
    signs = judged.signs if judged else ()
    context = VerdictPage(
        sheet=frame.Sheet(title, title, frame.room_block(room, title), step="review"),
        gauge=GaugeLink(label, gauge_url(room, label), state),
        finding=entry.record.sentence,
        verdict=judged.cause if judged else "",
        failure=wrong,
        signs=tuple(SignRow(one.side.value, f"{one.weight:g}", one.words) for one in signs),
        unasked=judged.unasked if judged else (),
        back_url=room.url(f"review/{entry.uid}"),
    )
    return frame.page(request, "verdict.html", context, status=422 if wrong else 200)
