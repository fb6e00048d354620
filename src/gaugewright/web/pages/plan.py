"""Plan: what is there in the order of the job, what comes next, what is worked out from it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.records import Entry
from gaugewright.records.electrical import Connection
from gaugewright.records.gauges import Gauge
from gaugewright.records.specimen import Question, Station
from gaugewright.services.campaign.questions import MARKS, question_line
from gaugewright.services.entering import entry as plan_entry
from gaugewright.services.overview.overview import overview
from gaugewright.services.overview.steps import Progress, at_bench
from gaugewright.services.plan import order
from gaugewright.services.plan.lists import plan_lists
from gaugewright.web import frame, rooms
from gaugewright.web.listed import Listed, MapShown, csv_of, listed
from gaugewright.web.pages.overview import gauge_maps
from gaugewright.web.pages.plan_entry import TakeBack, take_back
from gaugewright.web.plan_shown import TITLES
from gaugewright.web.plan_ways import OTHER_WAYS, channel_url, coming_form, entry_url

__all__ = ["Holding", "PlanPage", "router"]

router = APIRouter()

# What is worked out from the plan, and what it is for: address below the campaign's plan.
_WORKED_OUT: tuple[tuple[str, str], ...] = (
    ("questions", "resolution and chance of every answer"),
    ("prediction", "strain of each gauge at each load"),
    ("electrical", "leads, heat, excitation and range"),
    ("selection", "which packs, adhesive and protection fit"),
    ("packs", "what the laboratory has"),
    ("supplies", "what must be ordered, by when"),
    ("labels", "tags for gauges and leads"),
    ("schedule", "days at the bench, back from the pour"),
)
# Which form a list's rows lead to.
_FORMS = {
    "questions": "question",
    "specimens": "specimen",
    "members": "member",
    "bars": "bar",
    "stations": "station",
}
_FEW = 8
_LONG = 4  # rows of a list that stands open; all of them stand above by name


@dataclass(frozen=True, slots=True)
class Holding:
    """One part of the plan: what it is for, what is there, what is left, and its forms.

    ``node`` is the mark beside it: done, half done or open.
    """

    title: str
    why: str
    node: str
    is_next: bool
    count: int
    left: str
    first: tuple[tuple[str, str], ...]
    more: int
    forms: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class WorkedOut:
    """A page that is worked out from the plan, and what it tells."""

    words: str
    url: str
    tells: str


@dataclass(frozen=True, slots=True)
class PlanPage:
    """Everything about the plan on one sheet.

    ``order`` is what every job needs, ``later`` what was entered beside it, ``unused`` what only
    some jobs have and this one hasn't.
    """

    sheet: frame.Sheet
    title: str
    lead: str
    margin: str
    next_form: tuple[str, str] | None
    next_words: str
    is_whole: bool
    done: TakeBack | None
    order: tuple[Holding, ...]
    later: tuple[Holding, ...]
    unused: tuple[Holding, ...]
    worked_out: tuple[WorkedOut, ...]
    map: MapShown | None
    lists: tuple[Listed, ...]


@router.get("/c/{name}/plan")
def show(request: Request, numbers: str | None = None, done: str = "") -> Response:
    """Lists of the plan; ``numbers`` asks for one of them as CSV."""
    room = rooms.room(request)
    lists = plan_lists(room.book, room.units)
    if numbers is not None:
        return csv_of(room, lists, numbers)
    (wide, narrow), note = gauge_maps(room, overview(room.book, reports=0))
    coming = order.next_stage(room.book)
    later = _holdings(room, order.LATER, None)
    context = PlanPage(
        sheet=frame.Sheet("Plan", "Plan", frame.room_block(room, "Plan"), "plan"),
        title="Plan",
        lead=_lead(room),
        margin="What must be known, and where a gauge sits to tell it.",
        next_form=_next_form(room, coming),
        next_words=coming.words if coming else "Every part that a job needs is there.",
        is_whole=coming is None,
        done=take_back(room, done, "plan"),
        order=_holdings(room, order.ORDER, coming),
        later=tuple(one for one in later if one.count),
        unused=tuple(one for one in later if not one.count),
        worked_out=tuple(
            WorkedOut(TITLES[key], room.url(f"plan/{key}"), tells) for key, tells in _WORKED_OUT
        ),
        map=MapShown("Gauge map", wide, narrow, note) if wide else None,
        lists=tuple(
            listed(
                room,
                one,
                room.url("plan"),
                _to_form(room, one.key) if one.key in _FORMS else None,
                is_long=len(one.rows) > _LONG,
            )
            for one in lists
            if one.rows
        ),
    )
    return frame.page(request, "plan.html", context)


def _to_form(room: rooms.Room, key: str) -> Callable[[str], str]:
    return lambda label: entry_url(room, _FORMS[key], label)


def _holdings(
    room: rooms.Room, stages: tuple[order.Stage, ...], coming: order.StageFacts | None
) -> tuple[Holding, ...]:
    found = []
    for facts in order.stage_facts(room.book, stages):
        stage = facts.stage
        names = _names(room, stage.key)
        forms = [(order.way_words(way), entry_url(room, way)) for way in stage.every_way]
        forms += [(words, room.url(rest)) for words, rest in OTHER_WAYS.get(stage.key, ())]
        progress = Progress.DONE if facts.is_done else Progress.HALF
        found.append(
            Holding(
                stage.name,
                stage.why,
                frame.NODES[progress if facts.count else Progress.OPEN],
                facts == coming,
                facts.count,
                facts.left,
                names[:_FEW],
                max(0, len(names) - _FEW),
                tuple(forms),
            )
        )
    return tuple(found)


def _names(room: rooms.Room, key: str) -> tuple[tuple[str, str], ...]:
    """What records of a kind are called, each with its form; a plug with its channel's page."""
    if not key:
        standing = [one.record for one in room.book.of(Connection) if one.record.ends is None]
        of = order.circuits_on(room.book)
        return tuple(
            (f"{room.book.label(one.subject)} on {channel}", channel_url(room, channel))
            for one in standing
            if one.subject in of and (channel := room.book.label(one.channel))
        )
    kind = plan_entry.KINDS[key]
    entries: tuple[Entry[Any], ...] = room.book.of(kind.record)
    names = [kind.named(room.book, entry) for entry in entries]
    return tuple((name, entry_url(room, key, name)) for name in names)


def _next_form(room: rooms.Room, coming: order.StageFacts | None) -> tuple[str, str] | None:
    if coming is None:
        return ("Open Bench", room.url("bench")) if at_bench(room.book).open else None
    return coming_form(room, coming)


def _lead(room: rooms.Room) -> str:
    questions = room.book.of(Question)
    stations = room.book.of(Station)
    told = [question_line(room.book, entry).standing for entry in questions]
    standing = ", ".join(f"{told.count(word)} {word}" for word in MARKS if word in told)
    count = f"{len(told)} question{'s' if len(told) != 1 else ''}"
    # Before there is a gauge nothing is at risk: it is planned.
    of_them = f" By the gauges that can be used: {standing}." if room.book.of(Gauge) else ""
    asked = f"{count}.{of_them} " if told else "No question is written down. "
    if not stations:
        return f"{asked}Nothing is placed yet."
    built = sum(entry.record.distance_built is not None for entry in stations)
    are = "station is" if len(stations) == 1 else "stations are"
    return f"{asked}{len(stations)} {are} planned; {built} of them measured as built."
