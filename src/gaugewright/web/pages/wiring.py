"""Wiring: which channel reads what, and one sheet for each channel with its forms."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import Channel, Connection
from gaugewright.services.showing.facts import Fact
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.services.wiring import identifying
from gaugewright.services.wiring import plugs as wiring
from gaugewright.services.wiring import typed as wiring_typed
from gaugewright.services.wiring.channel_sheet import ChannelSheet, channel_sheet
from gaugewright.services.wiring.lists import is_planned, subject_words, wiring_lists
from gaugewright.web import frame, rooms
from gaugewright.web.forms import typed_form
from gaugewright.web.listed import Listed, ListPage, csv_of, listed
from gaugewright.web.not_there import NotThere
from gaugewright.web.pages.undo import Undo, offered
from gaugewright.web.plug_forms import PlugForm, plug_forms, written

__all__ = ["ChannelPage", "router"]

router = APIRouter()


@dataclass(frozen=True, slots=True)
class ChannelPage:
    """The sheet of one channel."""

    sheet: frame.Sheet
    title: str
    lead: str
    told: tuple[str, ...]
    undo: Undo | None
    drawing: str
    drawing_title: str
    facts: tuple[Fact, ...]
    lists: tuple[Listed, ...]
    no_steps: str
    forms: tuple[PlugForm, ...]
    around: tuple[tuple[str, str], ...]
    list_url: str


@router.get("/c/{name}/wiring")
def show_all(request: Request, numbers: str | None = None) -> Response:
    """Lists of the wiring; ``numbers`` asks for one of them as CSV."""
    room = rooms.room(request)
    lists = wiring_lists(room.book, room.zone, room.units)
    if numbers is not None:
        return csv_of(room, lists, numbers)
    context = ListPage(
        sheet=frame.Sheet("Wiring", "Wiring", frame.room_block(room, "Wiring"), "wiring"),
        title="Wiring",
        lead=_lead(room),
        margin="A reading finds its gauge only through the connection that stood at that moment.",
        links=(
            ("Identity", room.url("identity")),
            ("Zeros", room.url("zeros")),
            ("Channels", "#channels"),
        ),
        map=None,
        lists=tuple(
            listed(
                room,
                one,
                room.url("wiring"),
                (lambda label: _url(room, label))
                if one.key in ("channels", "connections")
                else None,
                is_long=one.key in ("connections", "circuits"),
            )
            for one in lists
        ),
    )
    return frame.page(request, "wiring.html", context)


@router.get("/c/{name}/wiring/{label:path}")
def show(
    request: Request,
    label: str,
    done: str = "",
    version: int = 0,
    shunt_resistance: str = "",
    numbers: str | None = None,
) -> Response:
    """Sheet of one channel; ``shunt_resistance`` asks for the steps of a resistor."""
    room = rooms.room(request)
    typed = {"shunt_resistance": shunt_resistance}
    try:
        return _answer(request, room, label, typed, done=(done, version), numbers=numbers)
    except InputError as error:
        if error.name != "shunt_resistance":
            raise
        return _answer(request, room, label, {}, error=("step", error))


@router.post("/c/{name}/wiring/{label:path}")
def write(
    request: Request, label: str, typed: Annotated[dict[str, str], Depends(typed_form)]
) -> Response:
    """Write down a plug, a step of the resistor, or the colours of a lead."""
    act = typed.get("act", "")
    try:
        room = rooms.room_to_write(request)
        made = written(room, _channel(room, label), act, typed)
    except NotThere:
        raise
    except GaugewrightError as error:
        room = rooms.room(request)
        return _answer(request, room, label, typed, error=(act, error))
    url = f"{_url(room, label)}?done={made.uid}&version={made.version}"
    return RedirectResponse(url, status_code=303)


def _answer(
    request: Request,
    room: rooms.Room,
    label: str,
    typed: Mapping[str, str],
    *,
    done: tuple[str, int] = ("", 0),
    error: tuple[str, GaugewrightError] | None = None,
    numbers: str | None = None,
) -> Response:
    channel = _channel(room, label)
    page = Page.of(Desk(room.store, room.book))
    found = [c for c in room.book.of(Connection) if c.record.channel == channel.uid]
    found.sort(key=lambda entry: entry.record.begins)
    last = found[-1] if found else None
    resistor = None
    if typed.get("shunt_resistance", "").strip() and error is None:
        resistor = wiring_typed.shunt_typed(typed["shunt_resistance"], room.units)
    sheet = channel_sheet(page, channel, last, resistor)
    if numbers is not None:
        return csv_of(room, sheet.lists, numbers)
    forms = plug_forms(room, channel, last, typed, error)
    context = _page(room, channel, last, sheet, forms=forms, done=done)
    return frame.page(request, "channel.html", context, status=422 if error else 200)


def _page(
    room: rooms.Room,
    channel: Entry[Channel],
    last: Entry[Connection] | None,
    sheet: ChannelSheet,
    *,
    forms: tuple[PlugForm, ...],
    done: tuple[str, int],
) -> ChannelPage:
    label, url = channel.record.label, _url(room, channel.record.label)
    told, undo = _done(room, label, *done)
    return ChannelPage(
        sheet=frame.Sheet(label, f"Channel {label}", frame.room_block(room, label), "wiring"),
        title=f"Channel {label}",
        lead=_reads(room, channel, last),
        told=told,
        undo=undo,
        drawing=sheet.drawing,
        drawing_title="" if last is None else subject_words(room.book, last),
        facts=sheet.facts,
        lists=tuple(listed(room, one, url) for one in sheet.lists),
        no_steps=sheet.why_no_steps,
        forms=forms,
        around=_around(room, channel),
        list_url=room.url("wiring"),
    )


def _done(
    room: rooms.Room, label: str, uid: str, version: int
) -> tuple[tuple[str, ...], Undo | None]:
    """What was just written, in sentences, and the way to take it back."""
    entry = next((one for one in room.book.every() if one.uid == uid), None)
    if entry is None or entry.version != version:
        return (), None
    back = _url(room, label).removeprefix(room.url())
    if not isinstance(entry.record, Connection):
        return (), offered(room, entry.reason[:1].upper() + entry.reason[1:], entry.ref, back)
    plugged = wiring.Plugged(entry, wiring.zeros_after(room.book, entry))
    words = wiring_typed.plugged_words(room.book, plugged, room.units)
    return words[1:], offered(room, words[0].rstrip("."), entry.ref, back)


def _reads(room: rooms.Room, channel: Entry[Channel], last: Entry[Connection] | None) -> str:
    where = f"Number {channel.record.number} of {room.book.label(channel.record.instrument)}"
    if last is None:
        return f"{where}; nothing was ever on it."
    what = f"{room.book.label(last.record.subject)}, {subject_words(room.book, last)}"
    if last.record.ends is not None:
        return f"{where}; nothing is on it now. The last was {what}."
    since = frame.instant_shown(last.record.begins, room)
    if is_planned(last.record):
        return f"{where}; planned to read {what}, from {since}."
    plug = f", {last.record.plug}" if last.record.plug else ""
    return f"{where}; reads {what}, since {since}{plug}."


def _around(room: rooms.Room, channel: Entry[Channel]) -> tuple[tuple[str, str], ...]:
    mine = [c for c in room.book.of(Channel) if c.record.instrument == channel.record.instrument]
    mine.sort(key=lambda entry: entry.record.number)
    place = next(n for n, one in enumerate(mine) if one.uid == channel.uid)
    near = [mine[n].record.label for n in (place - 1, place + 1) if 0 <= n < len(mine)]
    return tuple((label, _url(room, label)) for label in near)


def _channel(room: rooms.Room, label: str) -> Entry[Channel]:
    for entry in room.book.of(Channel):
        if entry.record.label == label:
            return entry
    raise NotThere("channel", label, "one of this campaign", "look at the list of channels")


def _url(room: rooms.Room, label: str) -> str:
    return room.url(f"wiring/{quote(label, safe='')}")


def _lead(room: rooms.Room) -> str:
    channels = room.book.of(Channel)
    if not channels:
        return "No channel is entered yet."
    standing = [c.record for c in room.book.of(Connection) if c.record.ends is None]
    later = {one.channel for one in standing if is_planned(one)}
    on = {one.channel for one in standing} - later
    taken = f"{len(on)} of {len(channels)} channels are plugged in"
    if later:
        first = min(one.begins for one in standing if one.channel in later)
        day = first.astimezone(room.zone)
        taken += f", {len(later)} are planned from {day.day} {day:%B %Y}"
    taken += "."
    proved = identifying.proved_words(room.book)
    return f"{taken} {proved}. Each has its own page: bridge, wires, setting, zeros, resistor."
