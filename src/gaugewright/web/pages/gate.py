"""One gauge at one gate: readings in at the bench, the verdict at once, then the next gauge."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from http import HTTPStatus
from urllib.parse import quote

from fastapi import APIRouter, Form
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.present.typed import number_typed
from gaugewright.records import Entry
from gaugewright.records.identity import Uid, instant_from_text, uid_from_text
from gaugewright.records.proof import GateCheck, Meter, Person
from gaugewright.services.campaign.events import instant_typed
from gaugewright.services.gating import checks as gate_checks
from gaugewright.services.gating.checks import Recorded, Sent, SlipError
from gaugewright.services.gating.fields import READING, GateField, Setup, is_leak
from gaugewright.web import frame, rooms, sending
from gaugewright.web.gate_place import setup_named
from gaugewright.web.gate_shown import TabletPage, neighbours, tablet
from gaugewright.web.pages.gates import gate_url
from gaugewright.web.rooms import Room

__all__ = ["Typing", "router"]

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Typing:
    """What a form held, and what was wrong with it."""

    texts: Mapping[str, str]
    temperature: str = ""
    measured: str = ""
    error: GaugewrightError | None = None


@router.get("/c/{name}/gates/{gate}/{gauge}")
def show(
    request: Request, gate: str, gauge: str, done: str = "", full: str = "", measured: str = ""
) -> Response:
    """The form of one gauge; ``done`` is the check just written, ``full`` asks for every pair.

    ``measured`` is the time that the gauge before was dated with: who types yesterday’s sheet in
    dates it once.
    """
    room = rooms.room(request)
    made = setup_named(room, gate, gauge)
    texts = {f.what: request.query_params.get(f.name, "") for f in made.every}
    typed = Typing(texts, measured=measured[:19])
    return _page(request, room, made, typed, done=done, is_full=bool(full))


@router.post("/c/{name}/gates/{gate}/{gauge}")
async def take(request: Request, gate: str, gauge: str) -> Response:
    """Write down what was read, once for its key; a probable slip is asked about first."""
    form = await request.form()
    typed = {name: value for name, value in form.items() if isinstance(value, str)}
    return await run_in_threadpool(_taken, request, (gate, gauge), typed)


@router.post("/c/{name}/gates/{gate}/{gauge}/second")
def sign(
    request: Request,
    gate: str,
    gauge: str,
    uid: str = Form(""),
    version: int = Form(0),
    person: str = Form(""),
    pin: str = Form(""),
) -> Response:
    """Put somebody's name under a check that another took: who knows that person's PIN."""
    room = rooms.room(request)
    made = setup_named(room, gate, gauge)
    try:
        who = room.book.labelled(Person, person)
        request.app.state.people.check_pin(who.record.label, pin)
        room = rooms.room_to_write(request)
        gate_checks.sign_second(room.store, uid_from_text(uid), version, person=who.uid)
    except GaugewrightError as error:
        return _page(request, room, made, Typing({}), second_wrong=str(error))
    return RedirectResponse(gate_url(room, made.gate, made.gauge.record.label), status_code=303)


def _taken(request: Request, place: tuple[str, str], typed: Mapping[str, str]) -> Response:
    room = rooms.room(request)
    made = setup_named(room, *place)
    texts = {field.what: typed.get(field.name, "") for field in made.every}
    try:
        room = rooms.room_to_write(request)
        sent = _sent(room, made, typed, texts)
        found = _recorded(room, made, sent, typed)
    except GaugewrightError as error:
        if sending.is_kept(request):
            return _refused(room, made, typed, error)
        before = (typed.get("temperature", ""), typed.get("measured", ""))
        return _page(request, room, made, Typing(texts, *before, error))
    onward = _onward(room, made, found, is_full=bool(typed.get("full")))
    if typed.get("measured", "").strip():
        onward += f"&measured={quote(typed['measured'].strip())}"
    if typed.get("to") == "diagnosis":
        onward = gate_url(room, made.gate, made.gauge.record.label) + "/diagnosis"
    if sending.is_kept(request):
        return sending.told(_said(made, found), next=onward, uid=found.entry.uid)
    return RedirectResponse(onward, status_code=303)


def _recorded(room: Room, made: Setup, sent: Sent, typed: Mapping[str, str]) -> Recorded:
    """Check as written; what was probably meant takes the place of a slip where it was chosen."""
    key = typed.get("key", "")
    try:
        return gate_checks.record(room.store, room.book, made, sent, key=key)
    except SlipError as error:
        if not typed.get("use"):
            raise
        meant = {q.what: q.probable for q in error.questions if q.probable}
        mended = replace(sent, texts={**sent.texts, **meant})
        # The key stands for what was typed first; what was meant is another form.
        return gate_checks.record(room.store, room.book, made, mended, key=key[:70] + "-meant")


def _sent(room: Room, made: Setup, typed: Mapping[str, str], texts: Mapping[str, str]) -> Sent:
    meters: dict[str, Uid] = {}
    units: dict[str, str] = {}
    for field in made.every:
        group = group_of(field)
        if not typed.get(f"meter_{group}"):
            continue
        uid = uid_from_text(typed[f"meter_{group}"])
        meters[field.what] = uid
        units[field.what] = typed.get(f"unit_{field.name}", "")
        if typed[f"meter_{group}"] != typed.get(f"drawn_{group}") or not units[field.what]:
            units[field.what] = gate_checks.box_unit(room.book, room.book.entry(uid, Meter), field)
    warmth = typed.get("temperature", "").strip()
    return Sent(
        texts,
        meters,
        _measured(room, typed),
        units,
        number_typed("temperature", warmth) if warmth else None,
        as_typed=bool(typed.get("as_typed")),
        unplugged=bool(typed.get("unplugged")),
    )


def _measured(room: Room, typed: Mapping[str, str]) -> datetime:
    """When it was measured: as typed, else when the form was sent.

    Raises
    ------
    InputError
        If it is still to come, or can't be read as a time of the hall.
    """
    sent = instant_from_text(typed["at"]) if typed.get("at") else datetime.now(UTC)
    text = typed.get("measured", "").strip()
    if not text:
        return sent
    try:
        measured = instant_typed(text, room.zone, sent)
    except InputError as error:
        raise InputError("when it was measured", text, error.allowed, error.do) from error
    if measured > sent:
        now = f"{sent.astimezone(room.zone):%Y-%m-%d %H:%M}"
        allowed = f"no later than now, {now}"
        raise InputError("when it was measured", text, allowed, "leave it empty for now")
    return measured


def group_of(field: GateField) -> str:
    """Fields that one meter reads: pairs, insulation, or the channel's reading."""
    if is_leak(field.what):
        return "insulation"
    return "reading" if field.what == READING else "pairs"


def _onward(room: Room, made: Setup, found: Recorded, *, is_full: bool) -> str:
    """Where to go: the same gauge while the full set is wanted, else the next one."""
    label = made.gauge.record.label
    has_more = any(not field.fewest and field.is_unplugged for field in made.fields)
    if found.judgement.looks_odd and has_more and not is_full:
        return gate_url(room, made.gate, label) + f"?full=1&done={found.entry.uid}"
    _, later = neighbours(room, made)
    return gate_url(room, made.gate, later or label) + f"?done={found.entry.uid}"


def _said(made: Setup, found: Recorded) -> str:
    words = f"{made.gauge.record.label}: {found.entry.record.verdict.value}"
    for both in found.both:
        words += f"; {both.label}: {both.who} read {both.theirs}, you {both.yours}, both are kept"
    return words


def _refused(
    room: Room, made: Setup, typed: Mapping[str, str], error: GaugewrightError
) -> Response:
    """Why it wasn't taken in, with the page on which it can be decided."""
    query = "&".join(
        f"{field.name}={quote(typed[field.name])}" for field in made.every if typed.get(field.name)
    )
    url = gate_url(room, made.gate, made.gauge.record.label) + f"?full=1&{query}"
    told = {}
    if isinstance(error, SlipError):
        told = {"asked": " and ".join(q.probable for q in error.questions if q.probable)}
        return sending.told(str(error), HTTPStatus.UNPROCESSABLE_ENTITY, url=url, **told)
    return sending.fault_told(error)


def _page(
    request: Request,
    room: Room,
    made: Setup,
    typing: Typing,
    *,
    done: str = "",
    is_full: bool = False,
    second_wrong: str = "",
) -> Response:
    error = typing.error
    context: TabletPage = tablet(
        room,
        made,
        texts=typing.texts,
        temperature=typing.temperature,
        measured=typing.measured,
        error=error,
        done=_done(room, done),
        is_full=is_full,
        second_wrong=second_wrong,
    )
    is_wrong = error is not None or bool(second_wrong)
    status = HTTPStatus.UNPROCESSABLE_ENTITY if is_wrong else HTTPStatus.OK
    return frame.page(request, "gate.html", context, status=status)


def _done(room: Room, uid: str) -> Entry[GateCheck] | None:
    """Check that was just written."""
    entry = room.book.found(uid_from_text(uid)) if uid else None
    if entry is None or not isinstance(entry.record, GateCheck):
        return None
    return entry
