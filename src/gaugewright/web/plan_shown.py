"""What the computed pages of a plan share: what was asked for, links between parts, forms."""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

from starlette.requests import Request

from gaugewright.errors import Faults, InputError
from gaugewright.present.units_shown import unit_shown
from gaugewright.records.families import ENVIRONMENTS
from gaugewright.services.plan.families import families
from gaugewright.services.plan.packs import packs_to_plan_with
from gaugewright.services.plan.packs_on_hand import on_hand
from gaugewright.services.plan_parts.parts import Asked, part_lists
from gaugewright.services.showing.listings import Listing
from gaugewright.services.supplying.tag_layout import rules_of
from gaugewright.web import frame, rooms
from gaugewright.web.forms import Choice, Field, told_beside
from gaugewright.web.listed import Listed, listed

__all__ = [
    "FIELDS",
    "PartPage",
    "asked_of",
    "fields_of",
    "links_of",
    "part_page",
    "shared",
    "typed_of",
]

# Part -> its fields, in order.
FIELDS: dict[str, tuple[str, ...]] = {
    "questions": ("pack",),
    "prediction": ("pack", "loads"),
    "electrical": ("pack", "loads"),
    "selection": ("environment", "days", "hours", "low", "high", "length", "excitation", "ribs"),
    "packs": (),
    "supplies": (
        *("pack", "spares", "bonding", "pour", "plug", "adhesive", "cover", "whole"),
        *("environment", "days", "hours"),
    ),
    "labels": ("form", "size", "diameter", "paper", "roll", "lead"),
}
TITLES = {
    "questions": "What the plan can answer",
    "prediction": "Prediction",
    "selection": "Selection",
    "electrical": "Electrical",
    "packs": "Packs on hand",
    "supplies": "Supplies",
    "labels": "Labels and tags",
    "schedule": "Days at the bench",
}
_LONG = 60


@dataclass(frozen=True, slots=True)
class PartPage:
    """One computed part of the plan: lists, and what they may be asked with."""

    sheet: frame.Sheet
    title: str
    lead: str
    margin: str
    links: tuple[tuple[str, str], ...]
    fields: tuple[Field, ...]
    is_open: bool
    failure: str
    lists: tuple[Listed, ...]


def shared(page: PartPage) -> dict[str, Any]:
    """What a page with more on it takes over from the part's own."""
    return {each.name: getattr(page, each.name) for each in fields(page)}


def asked_of(room: rooms.Room, typed: Mapping[str, str]) -> Asked:
    """What a request asks of the plan."""
    given = {name: value for name, value in typed.items() if value.strip()}
    return Asked(room.store, room.book, room.settings, room.units, given)


def typed_of(request: Request, part: str) -> dict[str, str]:
    """Fields of the part's form as its address has them."""
    return {name: request.query_params.get(name, "") for name in FIELDS[part]}


def links_of(room: rooms.Room, here: str) -> tuple[tuple[str, str], ...]:
    """The other parts of the plan."""
    parts = [(TITLES[part], room.url(f"plan/{part}")) for part in FIELDS if part != here]
    days = (TITLES["schedule"], room.url("plan/schedule"))
    return (("Plan", room.url("plan")), *parts, days)


def part_page(
    request: Request, room: rooms.Room, part: str, lead: str, margin: str
) -> tuple[PartPage, tuple[Listing, ...]]:
    """Page of a part and its lists; what was typed wrong stands beside its field."""
    typed = typed_of(request, part)
    wrong: dict[str, str] = {}
    failure = ""
    found: tuple[Listing, ...] = ()
    try:
        found = part_lists(asked_of(room, typed), part)
    except (InputError, Faults) as error:
        wrong, failure = told_beside(error, FIELDS[part])
    page = PartPage(
        sheet=frame.Sheet(
            TITLES[part],
            f"Plan: {TITLES[part].lower()}",
            frame.room_block(room, TITLES[part]),
            "plan",
        ),
        title=TITLES[part],
        lead=lead,
        margin=margin,
        links=links_of(room, part),
        fields=fields_of(room, part, typed, wrong),
        is_open=any(value.strip() for value in typed.values()),
        failure=failure,
        lists=tuple(
            listed(room, one, room.url(f"plan/{part}"), is_long=len(one.rows) > _LONG)
            for one in found
        ),
    )
    return page, found


def fields_of(
    room: rooms.Room, part: str, typed: Mapping[str, str], wrong: Mapping[str, str]
) -> tuple[Field, ...]:
    """Fields that a part may be asked with."""
    known = {**_chosen(room), **_NUMBERS}
    return tuple(
        replace(known[name], value=typed.get(name, ""), wrong=wrong.get(name, ""))
        for name in FIELDS[part]
    )


def _chosen(room: rooms.Room) -> dict[str, Field]:
    """Fields that the campaign and its units say something about."""
    packs = packs_to_plan_with(room.book, on_hand(room.settings))
    labels = [Choice(one.label, f"{one.label} ({one.origin})") for one in packs]
    places = [Choice(each, each) for each in ENVIRONMENTS]
    first = Choice("", "the first that isn't assumed")
    adhesives, covers = families(room.settings)
    fitting = Choice("", "the first that lasts and cures in time")
    return {
        "adhesive": Field(
            "adhesive",
            "Adhesive",
            choices=(fitting, *(Choice(one.label, one.label) for one in adhesives)),
        ),
        "cover": Field(
            "cover",
            "Protection",
            choices=(fitting, *(Choice(one.label, one.label) for one in covers)),
        ),
        "whole": Field(
            "whole",
            "Reckon with",
            choices=(Choice("", "gauges that aren't bonded yet"), Choice("yes", "the whole plan")),
        ),
        **_of_tags(room),
        "bonding": Field("bonding", "Day of bonding", kind="date"),
        "pour": Field("pour", "Day of the pour", kind="date"),
        "pack": Field("pack", "Pack for gauges that name none", choices=(first, *labels)),
        "loads": Field(
            "loads",
            "Loads beside those asked for",
            unit=unit_shown("force", room.units).text,
            hint="With semicolons between: 40; 80.",
        ),
        "environment": Field(
            "environment",
            "Environment",
            choices=(Choice("", "by the kind of specimen"), *places),
        ),
    }


def _of_tags(room: rooms.Room) -> dict[str, Field]:
    """Fields that tags may be asked with."""
    rules = rules_of(room.settings)
    labels = [*(one.label for one in rules.flags), *(one.label for one in rules.wraps)]
    sizes = [Choice(label, label) for label in labels]
    papers = [Choice(one.label, one.label) for one in rules.papers]
    forms = (Choice("", "flags"), Choice("wrap", "wraps"), Choice("both", "flags and wraps"))
    usual = Choice("", "letter" if room.units == "us" else "a4")
    others = (one for one in papers if one.value != usual.words)
    return {
        "form": Field("form", "Form", choices=forms),
        "size": Field(
            "size", "Size", choices=(Choice("", "the smallest in which all fit"), *sizes)
        ),
        "paper": Field("paper", "Paper", choices=(usual, *others, Choice("roll", "a roll"))),
        "lead": Field("lead", "One lead alone", hint="By its label; all when empty."),
    }


def _number(name: str, label: str, unit: str, hint: str = "") -> Field:
    return Field(name, label, unit=unit, kind="number", hint=hint)


_NUMBERS = {
    field.name: field
    for field in (
        _number("days", "From bonding to the last reading", "days"),
        _number("hours", "Time to cure", "h"),
        _number("low", "Lowest temperature", "°C"),
        _number("high", "Highest temperature", "°C"),
        _number("length", "Length of leads", "m"),
        _number("excitation", "Excitation", "V"),
        _number("spares", "Spares", "%", "Empty: by the laboratory's own losses."),
        _number(
            "diameter",
            "Outside of the leads",
            "mm",
            "By calliper, over the sheath; or with its unit: 0.16 in.",
        ),
        _number("roll", "Width of the roll", "mm"),
        _number(
            "plug",
            "From the end of the bar to the plug",
            "m",
            "Adds up each lead's route; or with its unit: 20 ft.",
        ),
        _number("ribs", "Clear between ribs", "mm", "Where gauges sit between ribs that stay."),
    )
}
