"""Test day: a test followed while its recorder writes, with what is done by hand beside it."""

from http import HTTPStatus
from pathlib import Path

from fastapi import APIRouter, Form, UploadFile
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.records.electrical import Instrument
from gaugewright.records.gauges import Attachment
from gaugewright.records.identity import uid_from_text
from gaugewright.records.readings import Event, LoadStep
from gaugewright.services.campaign import events
from gaugewright.services.following import again as follow_again
from gaugewright.services.following import end as follow_end
from gaugewright.services.following.following import Follower, profile_named
from gaugewright.services.following.stream import Source
from gaugewright.services.following.thread import FollowThread
from gaugewright.services.reading.clocks import ByStamps
from gaugewright.services.work import photos
from gaugewright.web import day_live, day_shown, frame, rooms, uploads
from gaugewright.web.followed import followed, recorder_words, refuse_other_machines
from gaugewright.web.not_there import NotThere
from gaugewright.web.pages.jobs import job_url
from gaugewright.web.rooms import Room

__all__ = ["router"]

router = APIRouter()

FIRST_LOOK_S = 8.0  # waited for, so that the page shows something at once
_CRACK = "crack seen"
# Name, in the address, by which a page without scripts stays as it is while somebody types.
STANDS_STILL = "still"


@router.get("/c/{name}/test-day")
def show(request: Request) -> Response:
    """The test as it stands; the part is what changes, drawn once for each look."""
    name = request.path_params["name"]
    if not frame.is_part(request):
        room = rooms.room(request)
        return _page(request, room, error=_resume(request, room))
    kept = followed(request).drawn(name)
    if kept is None:
        room = rooms.room(request)
        thread = followed(request).of(name)
        if thread is None:
            return _page(request, room)
        latest = thread.latest
        answer = frame.page(request, "_test_day.html", day_live.live_part(room, thread))
        if latest is not None and thread.goes_on:
            followed(request).keep_drawn(name, latest, bytes(answer.body))
        return answer
    live, part = kept
    if request.query_params.get("seen") == f"{live.at.timestamp():.6f}":
        return Response(status_code=HTTPStatus.NO_CONTENT)
    return HTMLResponse(part, headers={"vary": "HX-Request"})


@router.post("/c/{name}/test-day/start")
def start(
    request: Request,
    place: str = Form(""),
    profile: str = Form(""),
    instrument: str = Form(""),
) -> Response:
    """Begin to follow a file or folder of this machine."""
    room = rooms.room(request)
    typed = {"place": place, "profile": profile, "instrument": instrument}
    try:
        room = rooms.room_to_write(request)
        refuse_other_machines(request)
        source = _source(room, typed)
        thread = followed(request).of(room.name)
        if thread is not None and thread.goes_on:
            thread.also(source)
        else:
            thread = _thread(room, source)
            followed(request).begin(room.name, thread)
        thread.first(FIRST_LOOK_S)
        follow_again.keep(room.store, thread.follower.sources)
    except GaugewrightError as error:
        return _page(request, room, typed=typed, error=error)
    return _back(room)


@router.get("/c/{name}/test-day/noted")
def noted(request: Request) -> Response:
    """Events noted last, for the page that shows them."""
    room = rooms.room(request)
    if not frame.is_part(request):
        return _back(room)
    return frame.page(request, "_test_day_noted.html", day_shown.noted_part(room))


@router.get("/c/{name}/test-day/{part}")
def again(request: Request, part: str) -> Response:
    """The address that a form was sent to, opened again: the page itself."""
    return _back(rooms.room(request))


@router.post("/c/{name}/test-day/stop")
def stop(request: Request) -> Response:
    """End following; what was seen stays on the page."""
    room = rooms.room_to_write(request)
    followed(request).end(room.name)
    follow_again.forget(room.store)
    return _back(room)


@router.post("/c/{name}/test-day/step")
def step(request: Request, label: str = Form(""), load: str = Form("")) -> Response:
    """Mark the hold that goes on as a load step."""
    room = rooms.room(request)
    try:
        room = rooms.room_to_write(request)
        begins, ends, meant = day_shown.hold_typed(_thread_of(request, room), room, load)
        room.store.add(
            LoadStep(label.strip(), begins, ends, meant),
            reason="marked while the test was followed: "
            + (recorder_words(request, room.name) or "its recorder's clock isn't known"),
        )
    except GaugewrightError as error:
        return _page(request, room, typed={"label": label, "load": load}, error=error)
    return _back(room)


@router.post("/c/{name}/test-day/photo")
def photo(
    request: Request,
    photo: UploadFile,
    key: str = Form(""),
    caption: str = Form(""),
    gauge: str = Form(""),
) -> Response:
    """Note a crack now, with its photo."""
    room = rooms.room(request)
    kept: Path | None = None
    try:
        room = rooms.room_to_write(request)
        received = uploads.keep(photo, room.store.folder / "cache" / "photos", room.store.context)
        kept = received.path
        photos.refuse_no_photo(kept, received.name)
        subject = events.subject_named(room.book, gauge)
        event = Event(room.store.context.now(), _CRACK, caption.strip(), subject)
        noted = events.note(room.store, event, key=key, reason=recorder_words(request, room.name))
        photos.attach(
            room.store, noted.entry.uid, kept, file_name=received.name, caption=caption.strip()
        )
    except GaugewrightError as error:
        return _page(request, room, typed={"caption": caption, "gauge": gauge}, error=error)
    finally:
        if kept is not None:
            kept.unlink(missing_ok=True)
    return _back(room)


@router.get("/c/{name}/photos/{uid}")
def picture(request: Request, uid: str) -> Response:
    """A photo as it is kept."""
    room = rooms.room(request)
    for entry in room.book.of(Attachment):
        if entry.uid == uid_from_text(uid):
            data = room.store.original_bytes(entry.record.sha256)
            kind = photos.kind_of(data[:16])
            if kind:
                return Response(data, media_type=kind)
    raise NotThere("photo", uid, "one of this campaign")


@router.post("/c/{name}/test-day/import")
def bring_in(
    request: Request, number: int = Form(0), recording: str = Form(""), within: str = Form("")
) -> Response:
    """Begin to bring a followed file in whole, as work that can be watched and stopped.

    It ends with the comparison with what was followed.
    """
    room = rooms.room(request)
    typed = {"number": str(number), "recording": recording, "within": within}
    try:
        room = rooms.room_to_write(request)
        thread = _thread_of(request, room)
        if thread.goes_on:
            raise InputError("test", "followed still", "stopped before its file is brought in")
        accounts = thread.follower.accounts()
        if not 0 <= number < len(accounts):
            raise InputError("file", number, "one of those that were followed")
        seconds = day_shown.seconds_typed(within)
        joint = None if seconds is None else ByStamps(seconds, "as stated on test day")
        job = follow_end.submit(
            room.store, thread.follower, accounts[number], label=recording.strip(), joint=joint
        )
    except GaugewrightError as error:
        return _page(request, room, typed=typed, error=error)
    return RedirectResponse(job_url(room, job), status_code=HTTPStatus.SEE_OTHER)


def _resume(request: Request, room: Room) -> GaugewrightError | None:
    """Follow again what was followed when this app ended without being told to stop."""
    if followed(request).of(room.name) is not None:
        return None
    try:
        sources = follow_again.kept(room.store, room.book)
        if not sources:
            return None
        thread = _thread(room, sources[0])
        for source in sources[1:]:
            thread.also(source)
        followed(request).begin(room.name, thread)
    except GaugewrightError as error:
        follow_again.forget(room.store)
        return error
    return None  # the page is shown at once; what was seen comes into it by itself


def _source(room: Room, typed: dict[str, str]) -> Source:
    text = typed["place"].strip()
    place = Path(text)
    if not text or not place.is_absolute():
        do = "copy it from the recorder's settings"
        raise InputError("place", text, "a whole path on the machine that runs this app", do)
    if not place.exists() and not place.parent.is_dir():
        raise InputError("place", text, "a file or folder, or one that will be made", "check it")
    profile = profile_named(room.book, typed["profile"])
    label = typed["instrument"].strip()
    instrument = room.book.labelled(Instrument, label) if label else None
    return Source(place, profile, instrument)


def _thread(room: Room, source: Source) -> FollowThread:
    follower = Follower(
        room.store,
        source.place,
        source.profile,
        instrument=source.instrument,
        older=source.older,
    )
    return FollowThread(follower)


def _thread_of(request: Request, room: Room) -> FollowThread:
    thread = followed(request).of(room.name)
    if thread is None:
        raise InputError("test", "not followed", "followed, now or before", "begin to follow it")
    return thread


def _back(room: Room) -> Response:
    return RedirectResponse(room.url("test-day"), status_code=HTTPStatus.SEE_OTHER)


def _page(
    request: Request,
    room: Room,
    *,
    typed: dict[str, str] | None = None,
    error: GaugewrightError | None = None,
) -> Response:
    thread = followed(request).of(room.name)
    still = STANDS_STILL in request.query_params
    context = day_shown.page_of(room, thread, typed=typed or {}, error=error, stands_still=still)
    status = HTTPStatus.UNPROCESSABLE_ENTITY if error else HTTPStatus.OK
    return frame.page(request, "test_day.html", context, part="_test_day.html", status=status)
