"""Plan: what was entered and where to enter more, questions with their standing, stations."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.records import Entry
from gaugewright.records.specimen import Question, Station
from gaugewright.services.campaign.overview import MARKS, overview, question_line
from gaugewright.services.entering import entry as plan_entry
from gaugewright.services.plan.lists import plan_lists
from gaugewright.web import frame, rooms
from gaugewright.web.listed import Listed, MapShown, csv_of, listed
from gaugewright.web.pages.overview import gauge_maps
from gaugewright.web.pages.plan_entry import TakeBack, entry_url, take_back

__all__ = ["LINKS", "Holding", "PlanPage", "router"]

router = APIRouter()

# What else the plan has: words, and the address below the campaign. A new page adds its line.
LINKS: tuple[tuple[str, str], ...] = (
    ("What the plan can answer", "plan/questions"),
    ("Prediction", "plan/prediction"),
    ("Selection", "plan/selection"),
    ("Electrical", "plan/electrical"),
    ("Packs on hand", "plan/packs"),
    ("Supplies", "plan/supplies"),
    ("Labels and tags", "plan/labels"),
    ("Days at the bench", "plan/schedule"),
    ("Stations from a spreadsheet", "plan/sheet"),
    ("Stations on a drawing", "plan/place"),
)
# Which form a list's rows lead to.
_FORMS = {
    "questions": "question",
    "specimens": "specimen",
    "members": "member",
    "bars": "bar",
    "stations": "station",
}
_PARTS = (
    ("What is asked", ("question",)),
    (
        "What is tested",
        ("specimen", "material", "bar", "concrete", "member", "loading", "protocol"),
    ),
    ("Where gauges sit", ("station", "flat", "smoothed")),
    ("Gauges", ("pack", "gauge")),
    ("How they are read", ("lead", "circuit", "instrument", "channel", "sensor", "point")),
    ("Who proves it, with what", ("meter", "person")),
    ("When it is put on", ("schedule",)),
)
_FEW = 8
_LONG = 4  # rows of a list that stands open; all of them stand above by name


@dataclass(frozen=True, slots=True)
class Holding:
    """One kind of entry: how many there are, the first of them, and the forms for more."""

    part: str
    title: str
    count: int
    first: tuple[tuple[str, str], ...]
    more: int
    forms: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class PlanPage:
    """Everything about the plan on one sheet."""

    sheet: frame.Sheet
    title: str
    lead: str
    margin: str
    next_form: tuple[str, str] | None
    done: TakeBack | None
    links: tuple[tuple[str, str], ...]
    map: MapShown | None
    holdings: tuple[Holding, ...]
    lists: tuple[Listed, ...]


@router.get("/c/{name}/plan")
def show(request: Request, numbers: str | None = None, done: str = "") -> Response:
    """Lists of the plan; ``numbers`` asks for one of them as CSV."""
    room = rooms.room(request)
    lists = plan_lists(room.book, room.units)
    if numbers is not None:
        return csv_of(room, lists, numbers)
    (wide, narrow), note = gauge_maps(room, overview(room.book, reports=0))
    context = PlanPage(
        sheet=frame.Sheet("Plan", "Plan", frame.room_block(room, "Plan"), "plan"),
        title="Plan",
        lead=_lead(room),
        margin="What must be known, and where a gauge sits to tell it.",
        next_form=_next(room),
        done=take_back(room, done, "plan"),
        links=tuple((words, room.url(rest)) for words, rest in LINKS),
        map=MapShown("Gauge map", wide, narrow, note) if wide else None,
        holdings=tuple(_holdings(room)),
        lists=tuple(
            listed(
                room,
                one,
                room.url("plan"),
                _to_form(room, one.key) if one.key in _FORMS else None,
                is_long=len(one.rows) > _LONG,
            )
            for one in lists
        ),
    )
    return frame.page(request, "plan.html", context)


def _to_form(room: rooms.Room, key: str) -> Callable[[str], str]:
    return lambda label: entry_url(room, _FORMS[key], label)


def _holdings(room: rooms.Room) -> list[Holding]:
    found = []
    for part, keys in _PARTS:
        for key in keys:
            kind = plan_entry.KINDS[key]
            entries: tuple[Entry[Any], ...] = room.book.of(kind.record)
            names = [kind.named(room.book, entry) for entry in entries]
            forms = [(f"Enter {kind.one}", entry_url(room, key))]
            forms += [
                (many.title, entry_url(room, many.key))
                for many in plan_entry.MANY.values()
                if many.of == key or (key == "channel" and not many.of)
            ]
            found.append(
                Holding(
                    part if key == keys[0] else "",
                    kind.title,
                    len(names),
                    tuple((name, entry_url(room, key, name)) for name in names[:_FEW]),
                    max(0, len(names) - _FEW),
                    tuple(forms),
                )
            )
    return found


# What comes next where nothing of a kind is there yet, in the order in which a plan is made.
_ORDER = (
    "question",
    "specimen",
    "material",
    "bar",
    "stations",
    "pack",
    "gauges",
    "circuits",
    "instrument",
    "channels",
)


def _next(room: rooms.Room) -> tuple[str, str] | None:
    for key in _ORDER:
        of = plan_entry.MANY[key].of if key in plan_entry.MANY else key
        kind = plan_entry.KINDS[of]
        if not room.book.of(kind.record):
            words = plan_entry.MANY[key].title if key in plan_entry.MANY else f"Enter {kind.one}"
            return words, entry_url(room, key)
    return None


def _lead(room: rooms.Room) -> str:
    questions = room.book.of(Question)
    stations = room.book.of(Station)
    told = [question_line(room.book, entry).standing for entry in questions]
    standing = ", ".join(f"{told.count(word)} {word}" for word in MARKS if word in told)
    count = f"{len(told)} question{'s' if len(told) != 1 else ''}"
    asked = f"{count}: {standing}. " if told else "No question is written down. "
    if not stations:
        return f"{asked}Nothing is placed yet."
    built = sum(entry.record.distance_built is not None for entry in stations)
    are = "station is" if len(stations) == 1 else "stations are"
    return f"{asked}{len(stations)} {are} planned; {built} of them measured as built."
