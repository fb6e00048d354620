"""First page of a campaign: where we are, what is at risk, what comes next."""

import math
from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.present.captions import listed
from gaugewright.present.drawings import BarDrawn, GaugeDrawn, gauge_map
from gaugewright.present.numbers import Shown
from gaugewright.records.proof import Zero, ZeroKind
from gaugewright.records.results import Chain
from gaugewright.records.stated import State
from gaugewright.services.campaign import history
from gaugewright.services.campaign.questions import MARKS
from gaugewright.services.handover import answers as handover_answers
from gaugewright.services.handover import reports_built
from gaugewright.services.overview.overview import GaugeLine, Overview, overview
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.web import frame, rooms
from gaugewright.web.links import GaugeLink, gauge_url

__all__ = ["OverviewPage", "gauge_maps", "router"]

router = APIRouter()

MAP_WIDTH = 860.0
NARROW_WIDTH = 350.0
NAMED = 5  # gauges at risk that are named beside the sentence; all of them are in the list
THINGS = 6
JOURNAL = 6


@dataclass(frozen=True, slots=True)
class Tally:
    """How many gauges are in a state."""

    state: str
    words: str


@dataclass(frozen=True, slots=True)
class AtRisk:
    """A gauge that needs a look, and why."""

    gauge: GaugeLink
    why: str


@dataclass(frozen=True, slots=True)
class Thing:
    """Something to do, and the page where it is done."""

    sentence: str
    url: str
    words: str


@dataclass(frozen=True, slots=True)
class BarLine:
    """The gauges of one bar."""

    label: str
    gauges: tuple[GaugeLink, ...]


@dataclass(frozen=True, slots=True)
class QuestionRow:
    """A question: whether it can be answered, and the answer when there is one."""

    text: str
    mark: str
    standing: str
    gauges: str
    answer: Shown | None
    cause: str


@dataclass(frozen=True, slots=True)
class JournalLine:
    """Something written in the campaign."""

    at: str
    what: str
    reason: str
    person: str


@dataclass(frozen=True, slots=True)
class OverviewPage:
    """What the overview shows."""

    sheet: frame.Sheet
    weekday: str
    day: str
    time: str
    where: str
    tally: tuple[Tally, ...]
    risk: str
    at_risk: tuple[AtRisk, ...]
    more_at_risk: str
    next_thing: Thing | None
    later_things: tuple[Thing, ...]
    map_svg: str
    map_narrow_svg: str
    map_note: str
    bars: tuple[BarLine, ...]
    questions: tuple[QuestionRow, ...]
    journal: tuple[JournalLine, ...]
    journal_url: str
    plan_url: str


@router.get("/c/{name}/")
def show(request: Request) -> Response:
    """Overview of a campaign."""
    return frame.page(request, "overview.html", overview_page(rooms.room(request)))


def overview_page(room: rooms.Room) -> OverviewPage:
    """Everything the overview shows, in the words and units of the campaign."""
    reports = reports_built.built_reports(room.store.folder, room.book)
    last = max((report.as_of or report.built for report in reports), default=None)
    now = datetime.now(room.zone)
    facts = overview(room.book, reports=len(reports), last_report=last, now=now)
    things = tuple(_thing(room, thing.step, thing.sentence) for thing in facts.next_things)
    drawn, note = gauge_maps(room, facts)
    return OverviewPage(
        sheet=frame.Sheet("Overview", "Overview", _block(room)),
        weekday=f"{now:%A}",
        day=f"{now.day} {now:%B %Y}",
        time=f"{now:%H:%M}",
        where=facts.where,
        tally=_tally(facts),
        risk=facts.risk,
        at_risk=tuple(AtRisk(_link(room, g), _why(g)) for g in facts.at_risk[:NAMED]),
        more_at_risk=_more(len(facts.at_risk) - NAMED),
        next_thing=things[0] if things else None,
        later_things=things[1:THINGS],
        map_svg=drawn[0],
        map_narrow_svg=drawn[1],
        map_note=note,
        bars=_bars(room, facts),
        questions=_questions(room, facts),
        journal=_journal(room),
        journal_url=room.url("journal"),
        plan_url=room.url("plan"),
    )


def _block(room: rooms.Room) -> tuple[tuple[str, str], ...]:
    taken = {entry.record.kind for entry in room.book.of(Zero)}
    zeros = listed([kind.value for kind in ZeroKind if kind in taken])
    chains = len(room.book.of(Chain))
    return frame.room_block(
        room,
        "Overview",
        zero=f"{zeros} taken and kept" if zeros else "none taken yet",
        chain=f"{chains} applied, see each gauge" if chains else "none applied yet",
    )


def _thing(room: rooms.Room, step: str, sentence: str) -> Thing:
    return Thing(sentence, room.url(step), f"Open {step.capitalize()}")


def _link(room: rooms.Room, gauge: GaugeLine) -> GaugeLink:
    return GaugeLink(gauge.label, gauge_url(room, gauge.label), gauge.state.value)


def _why(gauge: GaugeLine) -> str:
    """Reason without the gauge's own name in front: it stands above."""
    return gauge.why.removeprefix(f"{gauge.label} ")


def _more(number: int) -> str:
    if number < 1:
        return ""
    return f"{number} more {'needs' if number == 1 else 'need'} a look; see the list below the map."


def _tally(facts: Overview) -> tuple[Tally, ...]:
    counts = dict(facts.counts)
    always = (State.SOUND, State.WATCH, State.DOUBTFUL, State.LOST)
    rows = []
    for state in State:
        number = counts.get(state, 0)
        if number or state in always:
            rows.append(Tally(state.value, str(number) if number else "none"))
    return tuple(rows)


def gauge_maps(room: rooms.Room, facts: Overview) -> tuple[tuple[str, str], str]:
    """Bars counted from the commonest datum, wide and narrow, and what is not drawn."""
    if not facts.gauges:
        return ("", ""), ""
    datum = Counter(g.datum for g in facts.gauges).most_common(1)[0][0]
    by_bar: dict[str, list[GaugeDrawn]] = {}
    for g in facts.gauges:
        if g.datum == datum:
            below = math.cos(g.angle) < -1e-9
            by_bar.setdefault(g.bar, []).append(
                GaugeDrawn(g.label, g.distance, g.state.value, below)
            )
    bars = tuple(BarDrawn(label, tuple(gauges)) for label, gauges in by_bar.items())
    left_out = [g.label for g in facts.gauges if g.datum != datum]
    note = f"True to scale along the bars, counted from the {datum}."
    if left_out:
        note += f" Counted from elsewhere and not drawn: {listed(left_out)}."
    wide, narrow = (
        gauge_map(bars, "Gauges along their bars", width=width, system=room.units)
        for width in (MAP_WIDTH, NARROW_WIDTH)
    )
    return (wide, narrow), note


def _bars(room: rooms.Room, facts: Overview) -> tuple[BarLine, ...]:
    by_bar: dict[str, list[GaugeLink]] = {}
    for g in facts.gauges:
        by_bar.setdefault(g.bar, []).append(_link(room, g))
    return tuple(BarLine(label, tuple(gauges)) for label, gauges in by_bar.items())


def _questions(room: rooms.Room, facts: Overview) -> tuple[QuestionRow, ...]:
    answers = handover_answers.answers(Page.of(Desk(room.store, room.book)))
    return tuple(
        QuestionRow(
            line.text,
            MARKS[line.standing].value,
            line.standing,
            line.sentence,
            answer.number,
            answer.main_cause,
        )
        for line, answer in zip(facts.questions, answers, strict=True)
    )


def _journal(room: rooms.Room) -> tuple[JournalLine, ...]:
    return tuple(
        JournalLine(frame.instant_shown(line.at, room), line.what, line.reason, line.person)
        for line in history.latest_lines(room.store, room.book, JOURNAL)
    )
