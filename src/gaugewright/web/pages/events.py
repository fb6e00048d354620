"""Events: noted with one tap, listed, changed with both values in sight, taken out."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from http import HTTPStatus

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import GaugewrightError, InputError, StaleEdit
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid, instant_from_text, uid_from_text
from gaugewright.records.readings import Event
from gaugewright.services.campaign import events
from gaugewright.services.handover import reports_built
from gaugewright.web import frame, rooms, sending
from gaugewright.web.followed import recorder_words
from gaugewright.web.forms import Field
from gaugewright.web.links import gauge_url
from gaugewright.web.not_there import NotThere
from gaugewright.web.rooms import Room

__all__ = ["EventPage", "EventRow", "EventsPage", "NoteForm", "event_rows", "note_form", "router"]

router = APIRouter()

LATEST = 12  # events listed beside other things; all of them have a page
# A tablet's clock may stand this far from the laptop's before it is worth saying.
CLOCKS_AGREE = timedelta(seconds=2)


@dataclass(frozen=True, slots=True)
class EventRow:
    """An event in a list."""

    url: str
    at: str
    kind: str
    words: str
    gauge: str
    gauge_url: str
    by: str


@dataclass(frozen=True, slots=True)
class NoteForm:
    """The form that notes an event: one tap on a kind, or words first and then the tap."""

    action: str
    key: str
    back: str
    kinds: tuple[str, ...]
    fields: tuple[Field, ...]
    other: Field
    gauges: tuple[str, ...]
    failure: str = ""


@dataclass(frozen=True, slots=True)
class EventsPage:
    """Every event of a campaign, and the form for the next."""

    sheet: frame.Sheet
    lead: str
    note: NoteForm
    events: tuple[EventRow, ...]
    events_url: str
    all_events_url: str


@dataclass(frozen=True, slots=True)
class Both:
    """One field of an edit that met another: what stands now, and what was typed."""

    name: str
    theirs: str
    yours: str


@dataclass(frozen=True, slots=True)
class EventPage:
    """One event, to be changed; ``both`` when somebody changed it meanwhile."""

    sheet: frame.Sheet
    title: str
    action: str
    back: str
    version: int
    fields: tuple[Field, ...]
    reason: Field
    gauges: tuple[str, ...]
    both: tuple[Both, ...]
    failure: str


@router.get("/c/{name}/events")
def show(request: Request, some: str = "") -> Response:
    """Every event, newest first; the part is the list alone, and ``some`` the latest of it."""
    room = rooms.room(request)
    return _events_page(request, room, latest=LATEST if some else None)


@router.post("/c/{name}/events")
def note(
    request: Request,
    key: str = Form(""),
    kind: str = Form(""),
    other: str = Form(""),
    words: str = Form(""),
    gauge: str = Form(""),
    when: str = Form(""),
    at: str = Form(""),
    sent: str = Form(""),
    back: str = Form("events"),
) -> Response:
    """Note an event, once for its key."""
    try:
        room = rooms.room_to_write(request)
        now = datetime.now(UTC)
        happened = _happened(room, when=when, at=at, now=now)
        subject = events.subject_named(room.book, gauge)
        event = Event(happened, (kind or other).strip(), words.strip(), subject)
        noted = events.note(
            room.store, event, key=key, reason=_beside(request, room, _clocks(sent, now))
        )
    except GaugewrightError as error:
        if sending.is_kept(request):
            return sending.fault_told(error)
        typed = {"words": words, "gauge": gauge, "when": when, "other": other or kind}
        return _events_page(request, rooms.room(request), typed=typed, error=error)
    if sending.is_kept(request):
        return sending.told(_noted(room, noted), uid=noted.entry.uid)
    page = back if back in ("readings", "test-day") else "events"
    return RedirectResponse(room.url(page), status_code=303)


@router.get("/c/{name}/events/{uid}")
def edit(request: Request, uid: str) -> Response:
    """The form that changes one event."""
    room = rooms.room(request)
    return _event_page(request, room, _entry(room, uid))


@router.post("/c/{name}/events/{uid}")
def change(
    request: Request,
    uid: str,
    version: int = Form(0),
    do: str = Form("change"),
    kind: str = Form(""),
    words: str = Form(""),
    gauge: str = Form(""),
    when: str = Form(""),
    reason: str = Form(""),
) -> Response:
    """Change an event or take it out; an edit that met another shows both."""
    room = rooms.room(request)
    typed = {"kind": kind, "words": words, "gauge": gauge, "when": when, "reason": reason}
    entry = _entry(room, uid)
    try:
        room = rooms.room_to_write(request)
        if do == "take out":
            events.take_out(room.store, entry.uid, version, reason=reason)
        else:
            made = _typed_event(room, entry, typed)
            events.change(room.store, entry.uid, version, made, reason=reason)
    except GaugewrightError as error:
        if sending.is_kept(request):
            return _stale_told(room, error)
        return _event_page(request, room, _entry(room, uid), typed=typed, error=error)
    if sending.is_kept(request):
        return sending.told("The event was changed" if do == "change" else "It was taken out")
    return RedirectResponse(room.url("events"), status_code=303)


def note_form(
    room: Room,
    *,
    back: str,
    typed: dict[str, str] | None = None,
    error: GaugewrightError | None = None,
) -> NoteForm:
    """The form that notes an event, for any page of a campaign."""
    fields = (
        Field("words", "In words", hint="May be left empty."),
        Field("gauge", "Gauge", hint="If it is about one.", list="gauges"),
        Field("when", "When, if not now", hint=f"Time of the hall, {events.ALLOWED}."),
        Field("other", "Something else"),
    )
    *filled, other = _filled(fields, typed or {}, error)
    kinds_typed = sorted(
        {e.record.kind for e in room.book.of(Event)} - {*events.KINDS, reports_built.KIND}
    )
    return NoteForm(
        action=room.url("events"),
        key=sending.new_key(),
        back=back,
        kinds=(*events.KINDS, *kinds_typed),
        fields=tuple(filled),
        other=other,
        gauges=tuple(entry.record.label for entry in room.book.of(Gauge)),
        failure=_failure(fields, error),
    )


def event_rows(room: Room, latest: int | None = None) -> tuple[EventRow, ...]:
    """Events of a campaign, the newest first."""
    entries = sorted(room.book.of(Event), key=lambda entry: entry.record.at, reverse=True)
    return tuple(_row(room, entry) for entry in entries[:latest])


def _row(room: Room, entry: Entry[Event]) -> EventRow:
    label = _gauge_label(room, entry.record.subject)
    return EventRow(
        url=room.url(f"events/{entry.uid}"),
        at=_second(room, entry.record.at),
        kind=entry.record.kind,
        words=entry.record.text,
        gauge=label,
        gauge_url=gauge_url(room, label) if label else "",
        by=room.book.label(entry.person) if entry.person else "",
    )


def _events_page(
    request: Request,
    room: Room,
    *,
    latest: int | None = None,
    typed: dict[str, str] | None = None,
    error: GaugewrightError | None = None,
) -> Response:
    rows = event_rows(room, latest)
    many = len(room.book.of(Event))
    sheet = frame.Sheet("Events", "Events", frame.room_block(room, "Events"), step="readings")
    context = EventsPage(
        sheet=sheet,
        lead=f"{many} noted; the newest stands first." if many else "None is noted yet.",
        note=note_form(room, back="events", typed=typed, error=error),
        events=rows,
        events_url=room.url("events?some=latest" if latest else "events"),
        all_events_url=room.url("events") if latest and many > latest else "",
    )
    status = HTTPStatus.UNPROCESSABLE_ENTITY if error else HTTPStatus.OK
    return frame.page(request, "events.html", context, part="_events.html", status=status)


def _event_page(
    request: Request,
    room: Room,
    entry: Entry[Event],
    *,
    typed: dict[str, str] | None = None,
    error: GaugewrightError | None = None,
) -> Response:
    stands = _as_typed(room, entry.record)
    values = typed or stands
    stale = isinstance(error, StaleEdit)
    named = {"kind": "What", "words": "In words", "gauge": "Gauge", "when": "When"}
    hint = f"Time of the hall, {events.ALLOWED}."
    fields = (
        Field("kind", named["kind"]),
        Field("words", named["words"]),
        Field("gauge", named["gauge"], list="gauges"),
        Field("when", named["when"], hint=hint),
        Field("reason", "Why", hint="Goes into the journal with the change."),
    )
    *filled, reason = _filled(fields, values, None if stale else error)
    context = EventPage(
        sheet=frame.Sheet("Event", "Event", frame.room_block(room, "Event"), step="readings"),
        title=f"{entry.record.kind}, {_second(room, entry.record.at)}",
        action=room.url(f"events/{entry.uid}"),
        back=room.url("events"),
        version=entry.version,
        fields=tuple(filled),
        reason=reason,
        gauges=tuple(each.record.label for each in room.book.of(Gauge)),
        both=_both(stands, values, named) if stale else (),
        failure="" if stale else _failure(fields, error),
    )
    status = HTTPStatus.CONFLICT if stale else HTTPStatus.UNPROCESSABLE_ENTITY
    return frame.page(request, "event.html", context, status=status if error else HTTPStatus.OK)


def _both(stands: dict[str, str], typed: dict[str, str], named: dict[str, str]) -> tuple[Both, ...]:
    """Fields whose values differ between what stands now and what was typed."""
    return tuple(
        Both(label, stands[name] or "nothing", typed.get(name, "") or "nothing")
        for name, label in named.items()
        if stands[name] != typed.get(name, "")
    )


def _stale_told(room: Room, error: GaugewrightError) -> Response:
    if not isinstance(error, StaleEdit):
        return sending.fault_told(error)
    named = {"kind": "What", "words": "In words", "gauge": "Gauge", "when": "When"}
    yours = _as_typed(room, error.yours) if isinstance(error.yours, Event) else {}
    theirs = _as_typed(room, error.theirs) if isinstance(error.theirs, Event) else {}
    both = [
        {"name": label, "theirs": theirs.get(name, ""), "yours": yours.get(name, "")}
        for name, label in named.items()
        if theirs.get(name, "") != yours.get(name, "")
    ]
    url = room.url(f"events/{error.uid}")
    return sending.told(str(error), HTTPStatus.CONFLICT, both=both, url=url)


def _happened(room: Room, *, when: str, at: str, now: datetime) -> datetime:
    """When an event was: as typed, else as the device's clock showed at the tap, else now."""
    tapped = instant_from_text(at) if at else now
    # An hour alone is one of the day of the tap: it may be sent a day later.
    return events.instant_typed(when, room.zone, tapped) if when.strip() else tapped


def _clocks(sent: str, now: datetime) -> str:
    """Whether the device's clock and this machine's agree, for the journal."""
    if not sent:
        return ""
    behind = now - instant_from_text(sent)
    if abs(behind) <= CLOCKS_AGREE:
        return ""
    side = "behind" if behind > timedelta() else "ahead of"
    seconds = abs(behind.total_seconds())
    return f"noted on a device whose clock stood {seconds:.0f} s {side} this machine's"


def _beside(request: Request, room: Room, clocks: str) -> str:
    """What the journal keeps beside an event: this device's clock, and the recorder's."""
    return "; ".join(words for words in (clocks, recorder_words(request, room.name)) if words)


def _typed_event(room: Room, entry: Entry[Event], typed: dict[str, str]) -> Event:
    """Event as typed; a time left as it was shown stays to the last fraction of a second."""
    at = entry.record.at
    if typed["when"] != _as_typed(room, entry.record)["when"]:
        at = events.instant_typed(typed["when"], room.zone, datetime.now(UTC))
    subject = events.subject_named(room.book, typed["gauge"])
    known = entry.record.subject
    if subject is None and known is not None and not _gauge_label(room, known):
        subject = known  # about something that isn't a gauge: the form can't say it
    return Event(at, typed["kind"].strip(), typed["words"].strip(), subject)


def _as_typed(room: Room, event: Event) -> dict[str, str]:
    local = event.at.astimezone(room.zone)
    return {
        "kind": event.kind,
        "words": event.text,
        "gauge": _gauge_label(room, event.subject),
        "when": f"{local:%Y-%m-%d %H:%M:%S}",
    }


def _gauge_label(room: Room, subject: Uid | None) -> str:
    if subject is None:
        return ""
    return next((e.record.label for e in room.book.of(Gauge) if e.uid == subject), "")


def _entry(room: Room, uid: str) -> Entry[Event]:
    for entry in room.book.of(Event):
        if entry.uid == uid_from_text(uid):
            return entry
    raise NotThere("event", uid, "one of this campaign", "look at the list of events")


def _filled(
    fields: tuple[Field, ...], values: dict[str, str], error: GaugewrightError | None
) -> list[Field]:
    """Fields with what was typed, and the fault beside the one that it is about."""
    at = _at(fields, error)
    return [
        replace(f, value=values.get(f.name, ""), wrong=str(error) if f.name == at else "")
        for f in fields
    ]


def _failure(fields: tuple[Field, ...], error: GaugewrightError | None) -> str:
    """A fault that belongs beside none of the fields."""
    return "" if error is None or _at(fields, error) else str(error)


def _at(fields: tuple[Field, ...], error: GaugewrightError | None) -> str:
    if not isinstance(error, InputError):
        return ""
    known = [field.name for field in fields]
    name = {"time": "when", "kind": "kind" if "kind" in known else "other"}.get(
        error.name, error.name
    )
    return name if name in known else ""


def _noted(room: Room, noted: events.Noted) -> str:
    event = noted.entry.record
    again = "" if noted.is_new else " before"
    return f"{event.kind}, {_second(room, event.at)}: noted{again}"


def _second(room: Room, instant: datetime) -> str:
    local = instant.astimezone(room.zone)
    return f"{local.day} {local:%B %Y}, {local:%H:%M:%S}"
