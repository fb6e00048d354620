"""The computed parts of a plan as lists: questions, prediction, selection, electrical, packs."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from gaugewright.errors import InputError
from gaugewright.present.numbers import Shown, significant_text
from gaugewright.present.units_shown import System, in_shown, quantity_shown, unit_shown
from gaugewright.records.benching import BenchOverride
from gaugewright.records.gauges import BenchStep
from gaugewright.records.proof import Person, Signature
from gaugewright.records.results import Result
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering.asked import asked_like
from gaugewright.services.laboratory.survival_published import FILE, laboratory_folder
from gaugewright.services.plan.book import AFTERWARDS, PlanChoice
from gaugewright.services.plan.electrical import electrical_lists
from gaugewright.services.plan.families import families
from gaugewright.services.plan.gains import Gain
from gaugewright.services.plan.needs import OPTIONS, needs_of, numbers_typed
from gaugewright.services.plan.packs import packs_to_plan_with
from gaugewright.services.plan.packs_on_hand import cards_of, on_hand
from gaugewright.services.plan.prediction import prediction_lists
from gaugewright.services.plan.questions import PlannedQuestion, PlannedQuestions
from gaugewright.services.plan.selection import choices_of, selection_lists
from gaugewright.services.plan.strains import PlannedReadings
from gaugewright.services.scheduling.lists import schedule_part
from gaugewright.services.showing.listings import Cell, Column, Listing
from gaugewright.services.supplying.labels import TYPED as LABELS_TYPED
from gaugewright.services.supplying.labels import label_lists
from gaugewright.services.supplying.lists import supply_lists
from gaugewright.services.supplying.supplies import TYPED as SUPPLIES_TYPED
from gaugewright.settings import Settings
from gaugewright.store.campaign import CampaignStore

__all__ = [
    "PARTS",
    "Asked",
    "amount",
    "card_list",
    "cause_of",
    "loads_typed",
    "margin_text",
    "part_lists",
    "planned",
    "readings_asked",
]


# Records that a plan isn't worked out from: a day at the bench leaves what was worked out as it is.
_NO_PART: frozenset[type] = frozenset(
    {*AFTERWARDS, BenchStep, BenchOverride, Person, Signature, Result}
)


@dataclass(frozen=True, slots=True)
class Asked:
    """A campaign whose plan is asked for, and what was typed with the asking."""

    store: CampaignStore
    book: Book
    settings: Settings | None
    system: System
    typed: Mapping[str, str] = field(default_factory=dict)


def planned(asked: Asked) -> PlannedQuestions:
    """Questions of the plan, kept for the book as long as nothing else was typed.

    Raises
    ------
    InputError
        If the pack that was typed isn't known.
    """
    choice = PlanChoice(asked.typed.get("pack", "").strip(), on_hand(asked.settings))

    def make(book: Book) -> PlannedQuestions:
        return PlannedQuestions(asked.store, book, settings=asked.settings, choice=choice)

    # Packs and survival of the laboratory are outside the book: they are part of the name.
    name = f"plan of {choice.pack} {choice.on_hand} {_laboratory(asked)}"
    return asked.book.once(name, make, apart_from=_NO_PART)


def _laboratory(asked: Asked) -> str:
    """When the laboratory's counts last changed: they are no part of the campaign."""
    if asked.settings is None or not asked.settings["laboratory"]:
        return ""
    path = laboratory_folder(asked.settings) / FILE
    return f"{path} {path.stat().st_mtime_ns}" if path.is_file() else str(path)


def part_lists(asked: Asked, part: str) -> tuple[Listing, ...]:
    """Lists of one part of the plan.

    Raises
    ------
    InputError
        If there is no such part, or what was typed can't be used.
    """
    if part not in PARTS:
        raise InputError("part of the plan", part, "one of " + ", ".join(PARTS))
    known = ("pack", "loads", *OPTIONS, "ribs", "environment", *SUPPLIES_TYPED, *LABELS_TYPED)
    strange = sorted(set(asked.typed) - set(known))
    if strange:
        raise InputError("what to plan with", strange[0], f"one of {', '.join(known)}")
    return PARTS[part](asked)


def _questions(asked: Asked) -> tuple[Listing, ...]:
    plan = planned(asked)
    found = plan.every()
    return (
        _resolution(asked, plan, found),
        _gains(asked, found),
        _stations(found),
        _assumed(plan),
    )


_RESOLUTION_COLUMNS = (
    Column("question"),
    Column("asks for"),
    Column("standing"),
    Column("predicted"),
    Column("resolution ±"),
    Column("one of each pair lost ±"),
    Column("asked for ±"),
    Column("margin"),
    Column("chance of all of it"),
    Column("of one place at least"),
    Column("told"),
)


def _resolution(
    asked: Asked, plan: PlannedQuestions, found: tuple[PlannedQuestion, ...]
) -> Listing:
    rows: list[tuple[Cell, ...]] = []
    for one in found:
        answer, record = one.answer, one.question.record
        told = [one.why, answer.needs, cause_of(one), *answer.words, *answer.cautions]
        told.append(plan.nearest(one))
        rows.append(
            (
                record.label,
                record.quantity,
                one.standing,
                amount(one, one.predicted, asked.system),
                amount(one, answer.resolution, asked.system),
                amount(one, answer.reduced, asked.system),
                amount(one, record.wanted, asked.system),
                margin_text(answer.margin),
                chance_text(one.chance),
                chance_text(one.any_chance),
                "; ".join(dict.fromkeys(part for part in told if part)),
            )
        )
    return Listing(
        "resolution",
        "What the plan can answer",
        _RESOLUTION_COLUMNS,
        tuple(rows),
        "Questions with what the plan can answer will stand here: enter one first.",
        "Resolution is the expanded uncertainty for 95 % of the worst place, by the same sums as "
        "a reduction. " + "; ".join(plan.losses.words) + ".",
    )


def _gains(asked: Asked, found: tuple[PlannedQuestion, ...]) -> Listing:
    rows: list[tuple[Cell, ...]] = [
        (
            one.question.record.label,
            gain.words,
            amount(one, gain.resolution, asked.system),
            chance_text(gain.chance),
            channels_text(gain),
            gain.note,
        )
        for one in found
        for gain in one.gains
    ]
    return Listing(
        "gains",
        "What would gain",
        (
            Column("question"),
            Column("proposal"),
            Column("resolution ±"),
            Column("chance"),
            Column("channels"),
            Column("note"),
        ),
        tuple(rows),
        "Nothing that was tried gains anything.",
    )


def _stations(found: tuple[PlannedQuestion, ...]) -> Listing:
    rows: list[tuple[Cell, ...]] = [
        (
            one.question.record.label,
            station.label,
            station.distance_planned,
            station.angle_planned,
            station.datum,
            one.proposed.words,
        )
        for one in found
        if one.proposed is not None
        for station in one.proposed.stations
    ]
    return Listing(
        "proposed-stations",
        "Proposed stations",
        (
            Column("question"),
            Column("station"),
            Column("distance", "distance"),
            Column("clock angle", "angle"),
            Column("counted from"),
            Column("why"),
        ),
        tuple(rows),
        "Every question names its stations; for one that names none, stations are proposed here.",
    )


def _assumed(plan: PlannedQuestions) -> Listing:
    words = [*plan.assumed, *(plan.losses.words if plan.losses.is_assumed else ())]
    return Listing(
        "assumed",
        "What was assumed",
        (Column("assumed"),),
        tuple((each,) for each in words),
        "Nothing: everything the plan reckons with is on record.",
        "Change it under Limits, by recording what is known, or by counting survival.",
    )


def _prediction(asked: Asked) -> tuple[Listing, ...]:
    return prediction_lists(readings_asked(asked), asked.book, asked.system)


def _electrical(asked: Asked) -> tuple[Listing, ...]:
    return electrical_lists(readings_asked(asked), asked.book)


def readings_asked(asked: Asked) -> PlannedReadings:
    """Readings of the plan at the loads that were asked for, those typed beside them included.

    Raises
    ------
    InputError
        If a load or the pack that was typed can't be used.
    """
    plan = planned(asked)
    loads = loads_typed(asked)
    if not loads:
        return plan.whole
    return PlannedReadings(plan.whole.plan, loads=loads)


def loads_typed(asked: Asked) -> tuple[float, ...]:
    """Loads typed beside those asked for, in kN or kip with semicolons between [N].

    Raises
    ------
    InputError
        If one isn't a number of 0 or more.
    """
    factor = unit_shown("force", asked.system).factor
    found = []
    for text in asked.typed.get("loads", "").replace(",", ";").split(";"):
        if not text.strip():
            continue
        try:
            load = float(text)
        except ValueError as error:
            raise InputError("loads", text.strip(), "numbers with semicolons between") from error
        if not (math.isfinite(load) and load >= 0):
            raise InputError("loads", text.strip(), "0 or more")
        found.append(load * factor)
    return tuple(found)


def _selection(asked: Asked) -> tuple[Listing, ...]:
    numbers = numbers_typed(asked.book, asked.typed)
    plan = planned(asked)
    needs = needs_of(plan.whole, asked.book, numbers)
    packs = packs_to_plan_with(asked.book, on_hand(asked.settings))
    choices = choices_of(asked.book, needs, packs, families(asked.settings))
    return selection_lists(needs, choices, asked.system)


def _packs(asked: Asked) -> tuple[Listing, ...]:
    return (card_list(asked.settings),)


_CARD_COLUMNS = (
    Column("pack"),
    Column("lot"),
    Column("gauges left"),
    Column("resistance", "resistance"),
    Column("gauge factor"),
    Column("grid length", "distance"),
    Column("grid width", "distance"),
    Column("backing width", "distance"),
    Column("strain limit", "strain"),
    Column("expires"),
    Column("written by"),
    Column("times written"),
)


def card_list(settings: Settings | None) -> Listing:
    """Lot cards on hand in the laboratory."""
    cards = () if settings is None or not settings["laboratory"] else cards_of(settings)
    rows: list[tuple[Cell, ...]] = [
        (
            card.label,
            card.pack.lot,
            card.left,
            card.pack.gauge_resistance,
            card.pack.gauge_factor,
            card.pack.grid_length,
            card.pack.grid_width,
            card.pack.backing_width,
            card.pack.strain_limit,
            "" if card.pack.expires is None else card.pack.expires.isoformat(),
            card.person,
            card.versions,
        )
        for card in cards
    ]
    return Listing(
        "packs-on-hand",
        "Packs on hand",
        _CARD_COLUMNS,
        tuple(rows),
        "Packs that the laboratory has will stand here: set the laboratory's folder, then keep a "
        "campaign's pack as on hand.",
        "Kept line by line in the laboratory's folder; nothing is erased.",
    )


def amount(one: PlannedQuestion, value: float | None, system: System) -> str:
    """A number of a question in its unit; "" where there is none."""
    shown = amount_shown(one, value, system)
    return "" if shown is None else shown.text


def amount_shown(one: PlannedQuestion, value: float | None, system: System) -> Shown | None:
    """A number of a question as it stands on a page; None where there is none."""
    if value is None or not math.isfinite(value):
        return None
    like = one.answer.like or asked_like(one.question.record.quantity)
    if not like:
        return Shown(significant_text(value))
    found = quantity_shown(like, value, None, system)
    digits = significant_text(in_unit(like, value, system), 3)
    return Shown(digits, "", found.unit)


def in_unit(like: str, value: float, system: System) -> float:
    """A number in the unit it is shown in."""
    return in_shown(value, like, system)


def chance_text(chance: float | None) -> str:
    """A probability with as many digits as matter; "" where there is none."""
    if chance is None:
        return ""
    return "0.999" if 0.999 <= chance < 1 else f"{chance:.3f}" if chance >= 0.9 else f"{chance:.2f}"


def margin_text(margin: float) -> str:
    """How many times better than asked for; "" where nothing was asked for."""
    if not margin > 0:
        return ""
    return f"× {margin:.1f}" if margin >= 1 else f"× {margin:.2f}"


def channels_text(gain: Gain) -> str:
    """Channels that a proposal takes more or fewer."""
    if not gain.channels:
        return "none more"
    return f"{abs(gain.channels)} {'more' if gain.channels > 0 else 'fewer'}"


def cause_of(one: PlannedQuestion) -> str:
    """Largest cause of the worst place's uncertainty; "" without any."""
    worst = one.answer.worst
    if worst is None:
        return ""
    lines = worst.value.budget(0 if worst.value.value.ndim else None).lines
    return f"main cause: {lines[0].meaning} ({lines[0].basis}), at {worst.label}" if lines else ""


def _supplies(asked: Asked) -> tuple[Listing, ...]:
    return supply_lists(asked.store, asked.book, asked.settings, asked.system, asked.typed)


def _labels(asked: Asked) -> tuple[Listing, ...]:
    return label_lists(asked.store, asked.book, asked.settings, asked.typed)


def _schedule(asked: Asked) -> tuple[Listing, ...]:
    return schedule_part(asked.store, asked.book)


PARTS: dict[str, Callable[[Asked], tuple[Listing, ...]]] = {
    "questions": _questions,
    "prediction": _prediction,
    "selection": _selection,
    "electrical": _electrical,
    "packs": _packs,
    "schedule": _schedule,
    "supplies": _supplies,
    "labels": _labels,
}
