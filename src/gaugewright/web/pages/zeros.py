"""Zeros: the way from each to its next, every zero and its worth, and taking one."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.errors import GaugewrightError
from gaugewright.present.captions import listed as in_words
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.proof import Zero, ZeroKind
from gaugewright.records.readings import Recording
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.services.zeros import typed as zero_typed
from gaugewright.services.zeros.lists import zero_lists
from gaugewright.web import frame, rooms
from gaugewright.web.forms import Choice, Field, told_beside, typed_form
from gaugewright.web.listed import Listed, csv_of, listed

__all__ = ["ZerosPage", "router"]

router = APIRouter()

_FIELDS = ("kind", "recordings", "begins", "ends")
_TOLD = 4  # recordings whose beginning is told beside the form
_PLACES = {"time": "begins", "recording label": "recordings"}


@dataclass(frozen=True, slots=True)
class ZerosPage:
    """Zeros of a campaign and the form that takes one."""

    sheet: frame.Sheet
    lead: str
    told: tuple[str, ...]
    failures: tuple[str, ...]
    cold: str
    point_url: str
    is_open: bool
    fields: tuple[Field, ...]
    lists: tuple[Listed, ...]
    circuits: tuple[str, ...]
    wiring_url: str
    next_url: str
    next_words: str


@router.get("/c/{name}/zeros")
def show(request: Request, numbers: str | None = None) -> Response:
    """Zeros; ``numbers`` asks for one list as CSV."""
    room = rooms.room(request)
    if numbers is not None:
        return csv_of(room, zero_lists(_page(room)), numbers)
    return frame.page(request, "zeros.html", _context(room, {}))


@router.post("/c/{name}/zeros")
def take(request: Request, typed: Annotated[dict[str, str], Depends(typed_form)]) -> Response:
    """Take zeros of everything plugged in."""
    try:
        room = rooms.room_to_write(request)
        found = zero_typed.taken(room.store, typed)
    except GaugewrightError as error:
        context = _context(rooms.room(request), typed, error=error)
        return frame.page(request, "zeros.html", context, status=422)
    room = rooms.room(request)
    told = zero_typed.taken_words(room.book, found)
    if not found.taken:  # what was typed stays, to be sent again when what is missing is there
        return frame.page(request, "zeros.html", _context(room, typed, none=told[1:]), status=422)
    return frame.page(request, "zeros.html", _context(room, {}, told=told))


def _page(room: rooms.Room) -> Page:
    return Page.of(Desk(room.store, room.book))


def _context(
    room: rooms.Room,
    typed: Mapping[str, str],
    *,
    told: tuple[str, ...] = (),
    none: tuple[str, ...] = (),
    error: GaugewrightError | None = None,
) -> ZerosPage:
    wrong, failure = told_beside(error, _FIELDS, lambda name: _PLACES.get(name, name))
    return ZerosPage(
        sheet=frame.Sheet(
            "Zeros", "Zeros", frame.room_block(room, "Zeros", zero=_taken(room)), "wiring"
        ),
        lead=_lead(room),
        told=told,
        failures=none or ((failure,) if failure else ()),
        cold=_cold(room),
        point_url=room.url("plan/enter/point"),
        is_open=bool(error or none) or not room.book.of(Zero),
        fields=_fields(room, typed, wrong),
        lists=tuple(
            listed(room, one, room.url("zeros"), is_long=one.key == "zeros")
            for one in zero_lists(_page(room))
        ),
        circuits=tuple(entry.record.label for entry in room.book.of(BridgeCircuit)),
        wiring_url=room.url("wiring"),
        next_url=_next(room, told)[0],
        next_words=_next(room, told)[1],
    )


def _cold(room: rooms.Room) -> str:
    """Which gauges nobody knows the temperature of; "" for none."""
    labels = zero_typed.without_temperature(room.book)
    if not labels:
        return ""
    more = f" and {len(labels) - _TOLD} more" if len(labels) > _TOLD else ""
    return f"No thermometer stands for {', '.join(labels[:_TOLD])}{more}: a zero needs one."


def _next(room: rooms.Room, told: tuple[str, ...]) -> tuple[str, str]:
    """What comes next: readings where there are none to take a zero from, else a look at them."""
    if not room.book.of(Recording):
        return room.url("import"), "Bring readings in first"
    return (room.url("review"), "Look through the readings") if told else ("", "")


def _fields(
    room: rooms.Room, typed: Mapping[str, str], wrong: Mapping[str, str]
) -> tuple[Field, ...]:
    kinds = (Choice("", "choose"), *(Choice(kind.value, kind.value) for kind in ZeroKind))
    recordings = room.book.of(Recording)
    labels = "; ".join(entry.record.label for entry in recordings)
    only = recordings[0].record.label if len(recordings) == 1 else ""
    began = _began(room)

    def one(
        name: str, label: str, hint: str, choices: tuple[Choice, ...] = (), value: str = ""
    ) -> Field:
        return Field(
            name,
            label,
            typed.get(name, value),
            hint=hint,
            wrong=wrong.get(name, ""),
            choices=choices,
            is_long=name == "recordings",
        )

    return (
        one("kind", "Zero", "", kinds),
        one(
            "recordings",
            "Recordings",
            f"With semicolons between, one a recorder: {labels}.",
            value=only,
        ),
        one("begins", "From", f"Time of the hall, as 2026-10-13 09:00.{began}"),
        one("ends", "To", "Long enough for twenty readings or more."),
    )


def _began(room: rooms.Room) -> str:
    """When the latest recordings began, so that nobody must look it up for the stretch."""
    told = []
    for label, instant in zero_typed.begun(room.book)[-_TOLD:]:
        told.append(f"{label} begins {frame.instant_shown(instant, room)}")
    return f" {'; '.join(told)}." if told else ""


def _taken(room: rooms.Room) -> str:
    taken = {entry.record.kind for entry in room.book.of(Zero)}
    words = in_words([kind.value for kind in ZeroKind if kind in taken])
    return f"{words} taken and kept" if words else "none taken yet"


def _lead(room: rooms.Room) -> str:
    zeros, circuits = room.book.of(Zero), room.book.of(BridgeCircuit)
    if not zeros:
        return "No zero is taken yet."
    counts = [
        f"{number} {kind.value}"
        for kind in ZeroKind
        if (number := sum(entry.record.kind is kind for entry in zeros))
    ]
    return f"{in_words(counts)}, for {len(circuits)} circuits. All are kept; none is corrected."
