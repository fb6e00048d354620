"""A step as it was kept: what it says, limits that ran out, photos, and papers to print."""

from dataclasses import dataclass
from pathlib import Path

from fastapi import APIRouter, Form, UploadFile
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.present.units_shown import unit_shown
from gaugewright.records import Entry
from gaugewright.records.benching import BenchOverride, BenchReading
from gaugewright.records.gauges import BenchStep, Gauge, Supply
from gaugewright.records.identity import uid_from_text
from gaugewright.records.proof import Person
from gaugewright.services.bench import put_right
from gaugewright.services.bench import written as bench
from gaugewright.services.bench.coming import open_limits, standing
from gaugewright.services.bench.log import FILE_NAME
from gaugewright.services.bench.methods import method_of
from gaugewright.services.bench.step_words import step_words
from gaugewright.services.bench.typed import number_text
from gaugewright.services.work import photos
from gaugewright.web import frame, rooms, uploads
from gaugewright.web.bench_shown import do_url, short_name, stands_in_the_way
from gaugewright.web.forms import Choice, Field
from gaugewright.web.links import gauge_url
from gaugewright.web.not_there import NotThere
from gaugewright.web.rooms import Room

__all__ = ["NEW", "KeptPage", "StepKept", "router", "step_kept"]

router = APIRouter()

NEW = "new"
_SAID = {
    "photo": "The photo is kept: it stands with its gauge below",
    "name": "The name is kept under the limit that ran out",
    "back": "Taken back for the gauges that were ticked; in the journal it stays",
}


@dataclass(frozen=True, slots=True)
class OutShown:
    """A limit that ran out: the sentence, what to do again, and who overrode it why."""

    what: str
    sentence: str
    redo: str
    override: str


@dataclass(frozen=True, slots=True)
class PhotoShown:
    """A photo kept with a step, and the hash of the file as it was taken."""

    url: str
    caption: str
    taken: str


@dataclass(frozen=True, slots=True)
class StepKept:
    """A step of one gauge as it stands in the record."""

    uid: str
    label: str
    gauge_url: str
    step: str
    when: str
    who: str
    terms: tuple[tuple[str, str], ...]
    readings: tuple[tuple[str, str], ...]
    flags: tuple[str, ...]
    out: tuple[OutShown, ...]
    photos: tuple[PhotoShown, ...]


@dataclass(frozen=True, slots=True)
class KeptPage:
    """What was written down for a batch, and what may be done about it."""

    sheet: frame.Sheet
    title: str
    kept: str
    is_new: bool
    is_stopped: bool
    said: str
    told: tuple[str, ...]
    failure: str
    steps: tuple[StepKept, ...]
    person: Field
    reason: Field
    own_url: str
    photo_of: Field
    next_url: str
    next_words: str
    next_why: str
    by_words: str
    by_url: str
    right_url: str
    gauges: tuple[Choice, ...]
    why_back: Field
    bench_url: str


@router.get("/c/{name}/bench/kept/{uid}")
def show(request: Request, uid: str, said: str = "") -> Response:
    """A step and those that were written down with it; ``said`` is what was kept just now."""
    room = rooms.room(request)
    context = _context(room, _step(room, uid), said=said)
    return frame.page(request, "bench_kept.html", context)


@router.post("/c/{name}/bench/kept/{uid}/back")
async def take_back(request: Request, uid: str) -> Response:
    """Take the step back for the gauges that are ticked."""
    form = await request.form()
    gauges = tuple(one for one in form.getlist("of") if isinstance(one, str))
    reason = form.get("back_reason")
    return await run_in_threadpool(
        _taken_back, request, uid, gauges, reason if isinstance(reason, str) else ""
    )


def _taken_back(request: Request, uid: str, gauges: tuple[str, ...], reason: str) -> Response:
    room = rooms.room(request)
    entry = _step(room, uid)
    try:
        room = rooms.room_to_write(request)
        batch = bench.batch_of(room.book, _step(room, uid))
        gone = put_right.taken_back(room.store, [e for e in batch if e.uid in gauges], reason)
    except GaugewrightError as error:
        return _failed(request, room, entry, error)
    left = [one for one in batch if one.uid not in gauges]
    place = f"bench/kept/{left[0].uid}?said=back" if left else f"bench?gone={gone[0].uid}"
    return RedirectResponse(room.url(place), status_code=303)


@router.post("/c/{name}/bench/kept/{uid}/override")
def override(
    request: Request,
    uid: str,
    what: str = Form(""),
    of: str = Form(""),
    override_person: str = Form(""),
    override_reason: str = Form(""),
) -> Response:
    """Put a named person's word under a limit that ran out."""
    room = rooms.room(request)
    entry = _step(room, uid)
    try:
        room = rooms.room_to_write(request)
        bench.overridden(room.store, _step(room, of or uid), what, override_person, override_reason)
    except GaugewrightError as error:
        return _failed(request, room, entry, error)
    return RedirectResponse(room.url(f"bench/kept/{entry.uid}?said=name"), status_code=303)


@router.post("/c/{name}/bench/kept/{uid}/photo")
def photo(
    request: Request, uid: str, photo: UploadFile, of: str = Form(""), caption: str = Form("")
) -> Response:
    """Keep a photo with a step, written anew without the place it was taken at."""
    room = rooms.room(request)
    entry = _step(room, uid)
    kept: Path | None = None
    try:
        room = rooms.room_to_write(request)
        received = uploads.keep(photo, room.store.folder / "cache" / "photos", room.store.context)
        kept = received.path
        photos.refuse_no_photo(kept, received.name)
        target = _step(room, of or uid).uid
        photos.attach(room.store, target, kept, file_name=received.name, caption=caption.strip())
    except GaugewrightError as error:
        return _failed(request, room, entry, error)
    finally:
        if kept is not None:
            kept.unlink(missing_ok=True)
    return RedirectResponse(room.url(f"bench/kept/{entry.uid}?said=photo"), status_code=303)


def _failed(
    request: Request, room: Room, entry: Entry[BenchStep], error: GaugewrightError
) -> Response:
    page = _context(room, entry, failure=str(error))
    return frame.page(request, "bench_kept.html", page, status=422)


def _step(room: Room, uid: str) -> Entry[BenchStep]:
    try:
        return room.book.entry(uid_from_text(uid), BenchStep)
    except InputError as error:
        raise NotThere("step", uid, "one of this campaign") from error


def _context(room: Room, entry: Entry[BenchStep], *, said: str = "", failure: str = "") -> KeptPage:
    batch = bench.batch_of(room.book, entry)
    labels = [room.book.label(one.record.gauge) for one in batch]
    title = f"{entry.record.step}: {', '.join(labels)}"
    steps = tuple(step_kept(room, one) for one in batch)
    next_words, next_url, why, by = _next(room, batch)
    can_mend = put_right.method_step(room.book, entry.record) is not None
    people = tuple(Choice(p.record.label, p.record.name) for p in room.book.of(Person))
    of = tuple(Choice(one.uid, label) for one, label in zip(batch, labels, strict=True))
    return KeptPage(
        sheet=frame.Sheet(title, title, frame.room_block(room, title), "bench"),
        title=title,
        kept=_kept_words(room, batch),
        is_new=said == NEW,
        is_stopped=any(not out.override for one in steps for out in one.out),
        said=_SAID.get(said, ""),
        told=step_words(room.book, batch),
        failure=failure,
        steps=steps,
        person=Field("override_person", "By", choices=(Choice("", "nobody"), *people)),
        reason=Field("override_reason", "Because", hint="Kept as a record with the name."),
        own_url=room.url(f"bench/kept/{entry.uid}"),
        photo_of=Field("of", "Of", entry.uid, choices=of),
        next_url=next_url,
        next_words=next_words,
        next_why=why,
        by_words=by[0],
        by_url="" if by[1] == room.url(f"bench/kept/{batch[0].uid}") else by[1],
        right_url=room.url(f"bench/kept/{entry.uid}/right") if can_mend else "",
        gauges=of,
        why_back=Field("back_reason", "Why", hint="Such as: of another bar; the wrong day."),
        bench_url=room.url("bench"),
    )


def _kept_words(room: Room, batch: tuple[Entry[BenchStep], ...]) -> str:
    """When the laptop wrote it down, and as what."""
    last = max(batch, key=lambda one: one.at)
    words = f"Kept on {frame.instant_shown(last.at, room)} as #{short_name(batch[0].uid)}"
    return words if last.version == 1 else f"{words}, version {last.version}"


def _next(room: Room, batch: tuple[Entry[BenchStep], ...]) -> tuple[str, str, str, tuple[str, str]]:
    """What comes next for the first of a batch with all that wait for it, why, and by what."""
    waits: dict[tuple[str, str, str, tuple[str, str]], list[str]] = {}
    for one in batch:
        gauge = room.book.entry(one.record.gauge, Gauge)
        here = standing(room.book, gauge, method_of(room.book, gauge))
        if here.next_place is not None:
            place = here.next_place
            by = stands_in_the_way(room, place)
            key = (here.method.label, place.step.name, place.why, by)
            waits.setdefault(key, []).append(gauge.record.label)
    if not waits:
        return "", "", "", ("", "")
    (method, step, why, by), labels = next(iter(waits.items()))
    once_more = all(one.record.step == step for one in batch)
    return (
        f"{'Once more' if once_more else 'Next'}: {step}",
        do_url(room, method, step, labels),
        why,
        by,
    )


def step_kept(room: Room, entry: Entry[BenchStep]) -> StepKept:
    """A step with everything that was written down about it."""
    step, book = entry.record, room.book
    when = frame.instant_shown(step.begun, room)
    when += f" to {frame.instant_shown(step.ended, room)}" if step.ended else ", not ended"
    person = book.entry(step.person, Person).record
    initials = f" ({step.initials})" if step.initials else ""
    label = book.label(step.gauge)
    return StepKept(
        entry.uid,
        label,
        gauge_url(room, label),
        step.step,
        when,
        person.name + initials,
        tuple(_terms(room, step)),
        tuple((reading.what, _read(room, reading)) for reading in step.readings),
        step.flags,
        _out(room, entry),
        tuple(
            PhotoShown(room.url(f"photos/{one.uid}"), one.record.caption, one.record.taken_sha256)
            for one in photos.photos_of(book, entry.uid)
            if one.record.file_name != FILE_NAME
        ),
    )


def _read(room: Room, reading: BenchReading) -> str:
    """A reading as typed, with the unit of its box where none was typed."""
    if not reading.quantity or not reading.typed.strip()[-1:].isdigit():
        return reading.typed
    return f"{reading.typed} {unit_shown(reading.quantity, room.units).text}".strip()


def _terms(room: Room, step: BenchStep) -> list[tuple[str, str]]:
    book, told = room.book, []
    if step.method is not None:
        told.append(("Method", f"{book.label(step.method.uid)}, version {step.method.version}"))
    for uid in step.supplies:
        supply = book.entry(uid, Supply).record
        until = f", good until {supply.expires}" if supply.expires else ", no date of expiry"
        told.append(("Supply", f"{supply.what}, batch {supply.batch}{until}"))
    if step.temperature_degc is not None:
        told.append(("Air", number_text("temperature_degc", step.temperature_degc, room.units)))
    if step.humidity is not None:
        told.append(("Humidity", f"{100 * step.humidity:.3g} %"))
    if step.parked:
        told.append(("Put aside", step.parked))
    if step.note:
        told.append(("Note", step.note))
    if step.limits:
        limits = [f"{book.label(ref.uid)} (version {ref.version})" for ref in step.limits]
        told.append(("Held to", ", ".join(limits)))
    return told


def _out(room: Room, entry: Entry[BenchStep]) -> tuple[OutShown, ...]:
    named = {
        one.record.what: one.record
        for one in room.book.of(BenchOverride)
        if one.record.step == entry.uid
    }
    still = {one.what for one in open_limits(room.book, entry)}
    found = []
    for one in entry.record.ran_out:
        words = ""
        if one.what not in still:
            by = named[one.what]
            words = f"{room.book.entry(by.person, Person).record.name}: {by.reason}"
        found.append(OutShown(one.what, one.sentence, one.redo, words))
    return tuple(found)
