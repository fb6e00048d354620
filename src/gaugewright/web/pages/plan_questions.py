"""Questions of a plan: resolution against what is asked, chance after losses, what would gain."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import Faults, GaugewrightError, InputError
from gaugewright.records.gauges import Gauge
from gaugewright.records.member import Member
from gaugewright.records.specimen import Bar, Specimen, SpecimenKind, Station
from gaugewright.services.plan.added import stations_added
from gaugewright.services.plan.gains import Gain
from gaugewright.services.plan.places import standing_stations
from gaugewright.services.plan.questions import MARKS, PlannedQuestion, PlannedQuestions
from gaugewright.services.plan_parts.parts import (
    amount,
    cause_of,
    chance_text,
    channels_text,
    margin_text,
    part_lists,
    planned,
)
from gaugewright.services.showing.listings import Listing
from gaugewright.web import frame, rooms
from gaugewright.web.forms import Field
from gaugewright.web.listed import Listed, csv_of, listed
from gaugewright.web.plan_shown import TITLES, asked_of, fields_of, links_of, typed_of
from gaugewright.web.plan_ways import entry_url

__all__ = ["GainRow", "QuestionShown", "QuestionsPage", "router"]

router = APIRouter()

PART = "questions"
SEE_OTHER = 303


@dataclass(frozen=True, slots=True)
class GainRow:
    """A proposal: uncertainty and chance with it, and channels."""

    words: str
    resolution: str
    chance: str
    channels: str
    note: str


@dataclass(frozen=True, slots=True)
class QuestionShown:
    """One question on the page; every number a text with its unit, "" where there is none."""

    label: str
    text: str
    gauges: str
    mark: str
    standing: str
    why: str
    predicted: str
    level: str
    cure: tuple[str, str] | None
    resolution: str
    reduced: str
    wanted: str
    margin: str
    chance: str
    any_chance: str
    cause: str
    needs: str
    words: tuple[str, ...]
    nearest: str
    gains: tuple[GainRow, ...]
    proposed: tuple[str, ...]
    add_words: str
    proposed_words: str


@dataclass(frozen=True, slots=True)
class QuestionsPage:
    """Every question with what the plan can answer."""

    sheet: frame.Sheet
    lead: str
    links: tuple[tuple[str, str], ...]
    fields: tuple[Field, ...]
    is_open: bool
    failure: str
    entry_url: str
    questions: tuple[QuestionShown, ...]
    losses: tuple[str, ...]
    csv_url: str
    gains_url: str
    lists: tuple[Listed, ...]


@router.get("/c/{name}/plan/questions")
def show(request: Request, numbers: str | None = None) -> Response:
    """Questions of the plan; ``numbers`` asks for one list as CSV."""
    room = rooms.room(request)
    asked = asked_of(room, typed_of(request, PART))
    if numbers is not None:
        return csv_of(room, part_lists(asked, PART), numbers)
    return frame.page(request, "plan_questions.html", _context(request, room))


@router.post("/c/{name}/plan/questions")
def add(request: Request, question: Annotated[str, Form()] = "") -> Response:
    """Write down the stations proposed for a question."""
    try:
        room = rooms.room_to_write(request)
        stations_added(room.store, room.book, question)
    except GaugewrightError as error:
        context = _context(request, rooms.room(request), str(error))
        return frame.page(request, "plan_questions.html", context, status=422)
    return RedirectResponse(room.url("plan/questions"), status_code=SEE_OTHER)


def _context(request: Request, room: rooms.Room, failure: str = "") -> QuestionsPage:
    typed = typed_of(request, PART)
    asked = asked_of(room, typed)
    found: tuple[PlannedQuestion, ...] = ()
    plan: PlannedQuestions | None = None
    lists: tuple[Listing, ...] = ()
    try:
        plan = planned(asked)
        found = plan.every()
        lists = part_lists(asked, PART)
    except (InputError, Faults) as error:
        failure = failure or str(error)
    url = room.url("plan/questions")
    kept = [one for one in lists if one.key in ("proposed-stations", "assumed") and one.rows]
    return QuestionsPage(
        sheet=frame.Sheet(
            TITLES[PART],
            f"Plan: {TITLES[PART].lower()}",
            frame.room_block(room, TITLES[PART]),
            "plan",
        ),
        lead=_lead(found, 0 if plan is None else len(plan.whole.book.of(Gauge))),
        links=links_of(room, PART),
        fields=fields_of(room, PART, typed, {}),
        is_open=any(value.strip() for value in typed.values()),
        failure=failure,
        entry_url=room.url("plan/enter/question"),
        questions=() if plan is None else tuple(_shown(room, plan, one) for one in found),
        losses=() if plan is None else plan.losses.words,
        csv_url=f"{url}?numbers=resolution",
        gains_url=f"{url}?numbers=gains",
        lists=tuple(listed(room, one, url) for one in kept),
    )


def _lead(found: tuple[PlannedQuestion, ...], placed: int) -> str:
    if not found:
        return "No question is written down yet: what must be known, how well, and at which load?"
    told = [one.standing for one in found]
    counts = ", ".join(f"{told.count(word)} {word}" for word in MARKS if word in told)
    many = f"{len(found)} questions" if len(found) > 1 else "One question"
    gauges = {gauge.uid for one in found for gauge in one.answer.gauges}
    return f"{many}, resting on {len(gauges)} of {placed} planned gauges: {counts}."


def _shown(room: rooms.Room, plan: PlannedQuestions, one: PlannedQuestion) -> QuestionShown:
    answer, record = one.answer, one.question.record

    def text(value: float | None) -> str:
        return amount(one, value, room.units)

    proposed = one.proposed
    return QuestionShown(
        label=record.label,
        text=record.text,
        gauges=_gauges(one),
        mark=MARKS[one.standing].value,
        standing=one.standing,
        why=one.why,
        predicted=text(one.predicted),
        level=answer.levels[0].partition(", nothing")[0] if answer.levels else "",
        cure=_cure(room, one) if answer.levels else None,
        resolution=text(answer.resolution),
        reduced=text(answer.reduced),
        wanted=text(record.wanted),
        margin=margin_text(answer.margin),
        chance=chance_text(one.chance),
        any_chance=chance_text(one.any_chance),
        cause=cause_of(one),
        needs=answer.needs,
        words=(*answer.words, *answer.cautions),
        nearest=plan.nearest(one),
        gains=tuple(_gain(gain, text(gain.resolution)) for gain in one.gains),
        proposed=() if proposed is None else tuple(s.label for s in proposed.stations),
        add_words=_add_words(room, one),
        proposed_words="" if proposed is None else proposed.words,
    )


def _add_words(room: rooms.Room, one: PlannedQuestion) -> str:
    """What the button says that takes a proposal: how many stations are new."""
    if one.proposed is None:
        return ""
    known = standing_stations(room.book)
    found = one.proposed.stations
    new = sum((station.bar, station.label) not in known for station in found)
    stand = len(found) - new
    if not new:
        return f"Name these {stand} stations, which stand already"
    return f"Add these {new} stations" + (f" and name {stand} that stand already" if stand else "")


def _cure(room: rooms.Room, one: PlannedQuestion) -> tuple[str, str]:
    """The form that says what a prediction lacks."""
    record = one.question.record
    if record.load is None and not record.quantity.endswith("load"):
        return "Say at which load it is asked", entry_url(room, "question", record.label)
    bars = {room.book.label(station.bar): station.bar for station in _stations(room, one)}
    for member in room.book.of(Member):
        if any(place.bar in bars.values() for place in member.record.bars):
            return f"Look at member {member.record.label}", entry_url(
                room, "member", member.record.label
            )
    specimens = [room.book.entry(bar, Bar).record.specimen for bar in bars.values()]
    kinds = {room.book.entry(uid, Specimen).record.kind for uid in specimens}
    if SpecimenKind.CAST_MEMBER in kinds:
        return "Enter a member", entry_url(room, "member")
    return "Enter a loading of a bar", entry_url(room, "loading")


def _stations(room: rooms.Room, one: PlannedQuestion) -> list[Station]:
    if one.proposed is not None:
        return list(one.proposed.stations)
    named = one.question.record.stations
    return [entry.record for entry in room.book.of(Station) if entry.uid in named]


def _gauges(one: PlannedQuestion) -> str:
    labels = [gauge.record.label for gauge in one.answer.gauges]
    if len(labels) <= 8:
        return ", ".join(labels)
    return ", ".join(labels[:7]) + f" and {len(labels) - 7} more"


def _gain(gain: Gain, resolution: str) -> GainRow:
    chance = chance_text(gain.chance)
    return GainRow(gain.words, resolution, chance, channels_text(gain), gain.note)
