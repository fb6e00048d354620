"""Identity: which gauges are proved to be where their labels say, and writing a proof down."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends, Form
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import GaugewrightError
from gaugewright.records.electrical import Channel, Connection
from gaugewright.records.gauges import Gauge
from gaugewright.records.identifying import IdentityProof, Stimulus
from gaugewright.records.readings import Recording
from gaugewright.records.stated import State
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.services.wiring import exchanging, identifying, identifying_typed
from gaugewright.web import frame, rooms
from gaugewright.web.forms import Choice, Field, told_beside, typed_form
from gaugewright.web.listed import Listed, csv_of, listed
from gaugewright.web.pages.undo import Undo, offered

__all__ = ["IdentityPage", "router"]

router = APIRouter()

_FIELDS = ("gauge", "stimulus", "moved", "at", "recording", "begins", "ends")
_PLACES = {
    "time": "at",
    "gauge label": "gauge",
    "recording label": "recording",
}


@dataclass(frozen=True, slots=True)
class IdentityPage:
    """Gauges with what is proved, and the form for another proof."""

    sheet: frame.Sheet
    lead: str
    told: str
    undo: Undo | None
    failure: str
    fields: tuple[Field, ...]
    exchanged: tuple[tuple[str, str], ...]
    put_right_url: str
    lists: tuple[Listed, ...]
    gauges: tuple[str, ...]
    wiring_url: str


@router.get("/c/{name}/identity")
def show(request: Request, numbers: str | None = None, gauge: str = "", done: str = "") -> Response:
    """What is proved; ``gauge`` is put into the form, ``numbers`` asks for one list as CSV."""
    room = rooms.room(request)
    if numbers is not None:
        return csv_of(room, identifying_typed.identity_lists(_page(room)), numbers)
    typed = {"gauge": gauge or _next(room)}
    return frame.page(request, "identity.html", _context(room, typed, done=done))


@router.post("/c/{name}/identity")
def prove(request: Request, typed: Annotated[dict[str, str], Depends(typed_form)]) -> Response:
    """Write down what moved when a gauge was touched."""
    try:
        room = rooms.room_to_write(request)
        kept = identifying_typed.proved(room.store, typed)
    except GaugewrightError as error:
        context = _context(rooms.room(request), typed, error=error)
        return frame.page(request, "identity.html", context, status=422)
    url = room.url(f"identity?done={quote(kept.uid)}#prove")
    return RedirectResponse(url, status_code=303)


@router.post("/c/{name}/identity/put-right")
def put_right(request: Request, first: str = Form(""), second: str = Form("")) -> Response:
    """Exchange what two connections read, as their proofs found it."""
    try:
        room = rooms.room_to_write(request)
        kept = exchanging.put_right(room.store, first, second)
    except GaugewrightError as error:
        context = _context(rooms.room(request), {}, error=error)
        return frame.page(request, "identity.html", context, status=422)
    url = room.url(f"identity?done={quote(kept[0].uid)}#prove")
    return RedirectResponse(url, status_code=303)


def _page(room: rooms.Room) -> Page:
    return Page.of(Desk(room.store, room.book))


def _next(room: rooms.Room) -> str:
    """First gauge on a channel that isn't proved: whose turn it is."""
    for one in identifying.identities(room.book):
        if one.reads and one.state is not State.SOUND:
            return one.gauge.record.label
    return ""


def _context(
    room: rooms.Room,
    typed: Mapping[str, str],
    *,
    done: str = "",
    error: GaugewrightError | None = None,
) -> IdentityPage:
    wrong, failure = told_beside(error, _FIELDS, lambda name: _PLACES.get(name, name))
    told, undo = _done(room, done)
    lists = identifying_typed.identity_lists(_page(room))
    return IdentityPage(
        sheet=frame.Sheet("Identity", "Identity", frame.room_block(room, "Identity"), "wiring"),
        lead=f"{identifying.proved_words(room.book)}.",
        told=told,
        undo=undo,
        failure=failure,
        fields=_fields(room, typed, wrong),
        exchanged=exchanging.exchanged_pairs(room.book),
        put_right_url=room.url("identity/put-right"),
        lists=tuple(
            listed(
                room,
                one,
                room.url("identity"),
                (lambda label: room.url(f"identity?gauge={quote(label, safe='')}#prove"))
                if one.key == "identity"
                else None,
                is_long=one.key == "proofs",
            )
            for one in lists
        ),
        gauges=tuple(entry.record.label for entry in room.book.of(Gauge)),
        wiring_url=room.url("wiring"),
    )


def _done(room: rooms.Room, uid: str) -> tuple[str, Undo | None]:
    entry = next((one for one in room.book.of(IdentityProof) if one.uid == uid), None)
    mended = next((one for one in room.book.of(Connection) if one.uid == uid), None)
    if mended is not None:
        return f"{mended.reason}; look through the readings and reduce them again", None
    if entry is None:
        return "", None
    told = identifying_typed.told_of(room.book, entry)
    return told, offered(room, entry.reason[:1].upper() + entry.reason[1:], entry.ref, "identity")


def _fields(
    room: rooms.Room, typed: Mapping[str, str], wrong: Mapping[str, str]
) -> tuple[Field, ...]:
    labels = [entry.record.label for entry in room.book.of(Gauge)]
    channels = [entry.record.label for entry in room.book.of(Channel)]
    recordings = [entry.record.label for entry in room.book.of(Recording)]

    def one(name: str, label: str, hint: str = "", choices: tuple[Choice, ...] = ()) -> Field:
        value, off = typed.get(name, ""), wrong.get(name, "")
        return Field(name, label, value, hint=hint, wrong=off, choices=choices)

    def some(values: list[str], empty: str) -> tuple[Choice, ...]:
        return (Choice("", empty), *(Choice(value, value) for value in values))

    kinds = tuple(Choice(kind.value, kind.value) for kind in Stimulus)
    moved = (
        Choice("", "find it in the recording below"),
        Choice(identifying_typed.NOTHING, "no channel"),
        *(Choice(label, label) for label in channels),
    )
    own = typed.get("moved", "")
    if own and own not in {choice.value for choice in moved}:
        moved = (*moved, Choice(own, own))
    return (
        one("gauge", "Gauge", "", some(labels, "which?")),
        one("stimulus", "Was", "", kinds),
        one("moved", "Moved", "Whichever way it moved: the sign says nothing.", moved),
        one("at", "When", "Time of the hall, as 14:05; empty for now."),
        one("recording", "Recording", "Also one that is still growing.", some(recordings, "none")),
        one("begins", "From", "A few quiet seconds before the touch: 2026-10-05 09:00:10."),
        one("ends", "To", "A few quiet seconds after it."),
    )
