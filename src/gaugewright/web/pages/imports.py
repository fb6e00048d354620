"""Bringing readings in: a file is handed in, shown as understood, confirmed, and brought in."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from http import HTTPStatus
from pathlib import PurePath

from fastapi import APIRouter, UploadFile
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import FileError, GaugewrightError, InputError
from gaugewright.present.typed import number_typed
from gaugewright.records import Entry
from gaugewright.records.electrical import Instrument
from gaugewright.records.identity import Uid, uid_from_text
from gaugewright.records.readings import ReadingProfile, Recording
from gaugewright.services.reading import arrival_trial, arrivals, beginnings, layouts, readings
from gaugewright.services.reading.arrivals import Arrival, Plan
from gaugewright.services.reading.clocks import BySignal, ByStamps, ByTrigger, Joint
from gaugewright.sources.delimited import Clock, Understanding
from gaugewright.sources.understanding import MarkerSeen
from gaugewright.web import frame, import_form, rooms
from gaugewright.web.forms import Choice, Field
from gaugewright.web.import_form import Answered, ColumnForm
from gaugewright.web.import_refused import fitting_words, refused_page
from gaugewright.web.import_trial import TrialShown, trial_shown
from gaugewright.web.not_there import NotThere
from gaugewright.web.pages.jobs import job_url
from gaugewright.web.recording_words import count
from gaugewright.web.rooms import Room

__all__ = ["ConfirmPage", "ImportPage", "router"]

router = APIRouter()

SHOWN_ROWS = 6
_COLUMNS = 8  # named one by one where something stands instead of readings
AFRESH = "afresh"
JOINTS = (
    Choice("", "later"),
    Choice("stamps", "its stamps are trusted"),
    Choice("trigger", "by a trigger that another recording has too"),
    Choice("signal", "by something that another recording followed too"),
)


@dataclass(frozen=True, slots=True)
class WaitingRow:
    """A file that waits to be confirmed."""

    name: str
    url: str
    size: str
    received: str
    job_url: str


@dataclass(frozen=True, slots=True)
class ImportPage:
    """The form that takes a file, and the files that wait."""

    sheet: frame.Sheet
    action: str
    limit: str
    file: Field
    waiting: tuple[WaitingRow, ...]


@dataclass(frozen=True, slots=True)
class ConfirmPage:
    """What was understood of a file, with the questions that are open."""

    sheet: frame.Sheet
    name: str
    lead: str
    action: str
    discard_action: str
    failures: tuple[str, ...]
    profile: str
    use: str
    other_way: tuple[str, str]
    asked: tuple[Field, ...]
    columns: tuple[ColumnForm, ...]
    kept_columns: tuple[tuple[str, str, str], ...]
    clock: str
    markers: tuple[str, ...]
    evidence: tuple[tuple[str, str], ...]
    sample_heads: tuple[str, ...]
    sample: tuple[tuple[str, ...], ...]
    trial: TrialShown | None
    others: tuple[Field, ...]
    others_open: bool
    names: tuple[Field, ...]
    joining: tuple[Field, ...]
    trigger: tuple[Field, ...]
    trigger_open: bool
    units: tuple[str, ...]
    zones: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Looked:
    """A file as looked into with what was typed, and the layout that this makes, if it does."""

    one: Arrival
    seen: Understanding
    profile: Entry[ReadingProfile] | None
    recognised: tuple[Entry[ReadingProfile], ...]
    found: Answered


@router.get("/c/{name}/import")
def show(request: Request) -> Response:
    """The form that takes a file."""
    return _import_page(request, rooms.room(request))


@router.post("/c/{name}/import")
def take_in(request: Request, file: UploadFile) -> Response:
    """Keep a file aside under a name of our own and show what was understood of it.

    Somebody must be at work only when it is brought in: until then nothing is in the campaign.
    """
    room = rooms.room(request)
    limit = int(room.settings["upload_limit_mb"]) * 1_000_000
    try:
        one = arrivals.taken_in(room.store, file.filename or "", file.file, limit_bytes=limit)
        try:
            arrival_trial.fitting(room.store, one)
        except FileError:
            arrivals.discard(room.store, one)  # nothing can read it, whatever it is called
            raise
    except GaugewrightError as error:
        return _import_page(request, room, error)
    return RedirectResponse(room.url(f"import/{one.uid}"), status_code=303)


@router.get("/c/{name}/import/{uid}")
def understood(request: Request, uid: str, use: str = "") -> Response:
    """What was understood of a file that waits."""
    room = rooms.room(request)
    one = _arrival(room, uid)
    job = arrivals.job_of(room.store, one)
    if job is not None and not job.state.is_over:
        return RedirectResponse(job_url(room, job.uid), status_code=303)
    typed = arrivals.typed_before(room.store, one)
    if use or "use" not in typed:
        typed["use"] = use
    try:
        looked = _looked(room, one, typed)
    except GaugewrightError as error:
        return refused_page(request, room, one, typed, error)
    return _confirm_page(request, room, looked, typed, is_sent=False)


@router.post("/c/{name}/import/{uid}")
async def confirm(request: Request, uid: str) -> Response:
    """Look again with the answers, or bring the file in when none is missing."""
    form = await request.form()
    typed = {name: value for name, value in form.items() if isinstance(value, str)}
    return await run_in_threadpool(_confirmed, request, uid, typed)


@router.post("/c/{name}/import/{uid}/discard")
def discard(request: Request, uid: str) -> Response:
    """Let a waiting file go."""
    room = rooms.room_to_write(request)
    arrivals.discard(room.store, _arrival(room, uid))
    return RedirectResponse(room.url("import"), status_code=303)


def _confirmed(request: Request, uid: str, typed: Mapping[str, str]) -> Response:
    room = rooms.room(request)
    one = _arrival(room, uid)
    arrivals.keep_typed(room.store, one, typed)
    try:
        looked = _looked(room, one, typed)
    except InputError as error:  # a stated part of the structure: shown with what is found without
        bare = {name: value for name, value in typed.items() if name not in import_form.STRUCTURE}
        try:
            looked = _looked(room, one, bare)
        except GaugewrightError:
            return refused_page(request, room, one, typed, error)
        refused = replace(import_form.refused(error), asked=looked.found.asked)
        looked = replace(looked, found=refused)
        return _confirm_page(request, room, looked, typed, is_sent=True)
    except GaugewrightError as error:
        return refused_page(request, room, one, typed, error)
    layout = looked.found.layout
    if typed.get("do") != "bring in" or layout is None:
        return _confirm_page(request, room, looked, typed, is_sent=typed.get("do") == "bring in")
    try:
        if typed.get("troubles", "") != trial_shown(room, one, layout).told:
            return _confirm_page(request, room, looked, typed, is_sent=False)
        room = rooms.room_to_write(request)
        plan = _plan(room, looked, typed)
        resolution = layouts.resolution_of(looked.seen, plan.layout)
        # What the clock's record says about its zone is refused here, not in the middle of work.
        readings.clock_for(room.store, plan.clock, plan.layout, resolution=resolution)
        job = arrivals.submit(room.store, one, plan, resolution=resolution)
    except GaugewrightError as error:
        return _confirm_page(request, room, looked, typed, is_sent=True, error=error)
    return RedirectResponse(job_url(room, job), status_code=303)


def _arrival(room: Room, uid: str) -> Arrival:
    try:
        return arrivals.arrival(room.store, uid_from_text(uid))
    except InputError as error:
        raise NotThere("file", uid, "one that waits here", "hand it in again") from error


def _looked(room: Room, one: Arrival, typed: Mapping[str, str]) -> _Looked:
    """Look into a file; a profile that reads it answers all but what it never saw."""
    seen = arrivals.looked_into(room.store, one, **import_form.structure(typed))
    known = arrivals.recognised(room.store, seen)
    use = typed.get("use", "")
    profile = next((entry for entry in known if entry.uid == use), None)
    if profile is None and use != AFRESH:
        profile = known[0] if known else None
    if profile is not None:
        return _Looked(one, seen, profile, known, import_form.answered_by(profile, seen, typed))
    return _Looked(one, seen, None, known, import_form.answered(seen, typed))


def _plan(room: Room, looked: _Looked, typed: Mapping[str, str]) -> Plan:
    """What is brought in under which names.

    Raises
    ------
    InputError
        If a name is taken or missing, or the clock can't be joined so.
    """
    layout = looked.found.layout
    if layout is None:
        raise InputError("questions", "open", "answered before the file is brought in")
    label = typed.get("label", "").strip()
    if not label:
        raise InputError("label", label, "what people will call the recording")
    if any(entry.record.label == label for entry in room.book.of(Recording)):
        raise InputError("label", label, "new: another recording is called so", "state another")
    instrument = typed.get("instrument", "")
    if instrument and all(entry.uid != instrument for entry in room.book.of(Instrument)):
        raise InputError("instrument", instrument, "one that is entered")
    belongs = room.book.label(Uid(instrument)) if instrument else label
    profile = typed.get("profile", "").strip()
    if profile == label:
        allowed = "other than the recording's name, which is only that recording's"
        raise InputError("profile", profile, allowed)
    if looked.profile is not None and layout == layouts.layout_of(looked.profile, looked.seen):
        profile = looked.profile.record.label
    return Plan(
        layout,
        label,
        Uid(instrument) if instrument else None,
        typed.get("recorder_clock", "").strip() or f"clock of {belongs}",
        profile,
        _joint(room, typed, layout.clock),
    )


def _joint(room: Room, typed: Mapping[str, str], clock: Clock) -> Joint | None:
    if typed.get("joint") == "stamps":
        beginnings.refuse_undated(clock)
        within = number_typed("within", typed.get("within", ""))
        return ByStamps(within, typed.get("source", "").strip())
    if typed.get("joint") not in ("trigger", "signal"):
        return None
    reference = typed.get("reference", "")
    if all(entry.uid != reference for entry in room.book.of(Recording)):
        raise InputError("reference", "none", "a recording whose clock is joined already")
    column = typed.get("trigger", "").strip()
    their_column = typed.get("their_trigger", "").strip() or column
    if typed.get("joint") == "signal":
        apart = number_typed("apart", typed.get("apart", ""))
        return BySignal(Uid(reference), their_column, column, apart)
    level = number_typed("level", typed.get("level", ""))
    theirs = typed.get("their_level", "").strip()
    return ByTrigger(
        Uid(reference),
        their_column,
        column,
        number_typed("their_level", theirs) if theirs else level,
        level,
    )


def _import_page(request: Request, room: Room, error: GaugewrightError | None = None) -> Response:
    limit = int(room.settings["upload_limit_mb"])
    waiting = []
    for one in arrivals.arrivals(room.store):
        job = arrivals.job_of(room.store, one)
        going_on = job is not None and not job.state.is_over
        waiting.append(
            WaitingRow(
                one.name,
                room.url(f"import/{one.uid}"),
                _size(one.size_bytes),
                frame.instant_shown(one.received, room),
                job_url(room, job.uid) if job is not None and going_on else "",
            )
        )
    context = ImportPage(
        sheet=_sheet(room, "Bring readings in"),
        action=room.url("import"),
        limit=f"{count(limit)} MB at most; larger ones come in with: gaugewright import",
        file=Field(
            "file",
            "File of readings",
            hint="Text with columns, whatever its name ends in; workbooks, Parquet, Arrow, HDF5 "
            "and MAT files too.",
            kind="file",
            wrong=str(error) if error else "",
            is_needed=True,
        ),
        waiting=tuple(waiting),
    )
    status = HTTPStatus.UNPROCESSABLE_ENTITY if error else HTTPStatus.OK
    return frame.page(request, "import.html", context, status=status)


def _confirm_page(
    request: Request,
    room: Room,
    looked: _Looked,
    typed: Mapping[str, str],
    *,
    is_sent: bool,
    error: GaugewrightError | None = None,
) -> Response:
    one, seen, found, profile = looked.one, looked.seen, looked.found, looked.profile
    trial, error = _tried(room, looked, error)
    zone = room.zone.key
    asked = import_form.asked_fields(typed, found, is_sent=is_sent, zone=zone)
    others = import_form.other_fields(seen, typed, found, fitting_words(room, one))
    names, joining, trigger = _named_fields(room, one, typed, error)
    known = {field.name for field in (*names, *joining, *trigger)}
    is_told = error is None or getattr(error, "name", "") in known
    failures = found.failures + (() if is_told else (str(error),))
    context = ConfirmPage(
        sheet=_sheet(room, one.name),
        name=one.name,
        lead=_lead(looked),
        action=room.url(f"import/{one.uid}"),
        discard_action=room.url(f"import/{one.uid}/discard"),
        failures=failures,
        profile=profile.record.label if profile else "",
        use=profile.uid if profile else AFRESH,
        other_way=_other_way(room, looked),
        asked=asked,
        columns=() if profile else import_form.columns(seen, typed, found, is_sent=is_sent),
        kept_columns=_kept(looked) if profile else (),
        clock=import_form.clock_words(seen, found.layout),
        markers=tuple(_marker_words(marker) for marker in seen.markers),
        evidence=tuple((each.decision, each.words) for each in seen.evidence),
        sample_heads=tuple(column.name for column in seen.columns),
        sample=seen.sample_rows[:SHOWN_ROWS],
        trial=trial,
        others=() if profile else others,
        others_open=any(field.wrong for field in others),
        names=tuple(f for f in names if profile is None or asked or f.name != "profile"),
        joining=joining,
        trigger=trigger,
        trigger_open=typed.get("joint") in ("trigger", "signal"),
        units=import_form.UNITS,
        zones=import_form.ZONES,
    )
    is_right = not is_sent or (error is None and found.layout is not None)
    return frame.page(request, "import_confirm.html", context, status=200 if is_right else 422)


def _tried(
    room: Room, looked: _Looked, error: GaugewrightError | None
) -> tuple[TrialShown | None, GaugewrightError | None]:
    """A trial reading once nothing is open, or the error that stopped it."""
    if looked.found.layout is None:
        return None, error
    try:
        return trial_shown(room, looked.one, looked.found.layout), error
    except GaugewrightError as failed:
        return None, error or failed


def _named_fields(
    room: Room, one: Arrival, typed: Mapping[str, str], error: GaugewrightError | None
) -> tuple[tuple[Field, ...], tuple[Field, ...], tuple[Field, ...]]:
    """Fields of the recording, of how its clock is joined, and of what another has too."""
    stem = PurePath(one.name).stem[:80]
    instruments = [Choice(e.uid, e.record.label) for e in room.book.of(Instrument)]
    recordings = [Choice(e.uid, e.record.label) for e in room.book.of(Recording)]
    at = getattr(error, "name", "")

    def filled(field: Field, value: str = "") -> Field:
        wrong = str(error) if error is not None and at == field.name else ""
        return replace(field, value=typed.get(field.name, value), wrong=wrong)

    none = Choice("", "none chosen")
    # With one recorder entered, a file is its; another choice is a person's to make.
    recorder = instruments[0].value if len(instruments) == 1 else ""
    names = (
        filled(Field("label", "Name of the recording"), stem),
        filled(Field("instrument", "Recorder", choices=(none, *instruments)), recorder),
        filled(Field("recorder_clock", "Its clock", hint="Empty: named after the recorder.")),
        filled(
            Field(
                "profile",
                "Keep these answers as",
                hint="A name, for the next file like this; empty: for this recording only.",
            )
        ),
    )
    joining = (
        filled(Field("joint", "Its clock is joined to the campaign's time", choices=JOINTS)),
        filled(Field("within", "Stamps are right within", unit="s", kind="number")),
        filled(Field("source", "Why they are trusted", hint="Such as: set by radio that day.")),
    )
    return names, joining, tuple(filled(field) for field in _shared((none, *recordings)))


def _shared(recordings: tuple[Choice, ...]) -> tuple[Field, ...]:
    """Fields of a trigger, or of something followed, that another recording has too."""
    apart = "Only where both followed something."
    return (
        Field("reference", "The other recording", choices=recordings),
        Field("trigger", "Column of this file", hint="Its name in the file."),
        Field("their_trigger", "Column of the other", hint="Empty: the same name."),
        Field("level", "Trigger: level half way up", kind="number", hint="In this file's unit."),
        Field("their_level", "Level in the other", kind="number", hint="Empty: the same."),
        Field("apart", "The clocks are at most so far apart", unit="s", kind="number", hint=apart),
    )


def _other_way(room: Room, looked: _Looked) -> tuple[str, str]:
    """The other way to read a file that a profile recognises."""
    here = room.url(f"import/{looked.one.uid}")
    if looked.profile is not None:
        return f"{here}?use={AFRESH}", "Answer the questions afresh instead"
    if looked.recognised:
        known = looked.recognised[0]
        return f"{here}?use={known.uid}", f"Read it as {known.record.label} says"
    return "", ""


def _kept(looked: _Looked) -> tuple[tuple[str, str, str], ...]:
    if looked.profile is None:
        return ()
    layout = layouts.layout_of(looked.profile, looked.seen)
    words = {choice.value: choice.words for choice in import_form.ROLES}
    return tuple(
        (column.name, column.unit or ("none" if column.role == "value" else ""), words[column.role])
        for column in layout.columns
    )


def _lead(looked: _Looked) -> str:
    looked_at = "all of it" if looked.seen.whole else f"{_size(looked.seen.sampled_bytes)} of it"
    told = f"{_size(looked.one.size_bytes)}, looked at {looked_at}. Nothing is brought in yet."
    if looked.profile is not None:
        known = f"Recognised: it reads as {looked.profile.record.label}, confirmed before"
        beyond = ", but the file holds what wasn't asked about then" if looked.found.asked else ""
        return f"{known}{beyond}. {told}"
    many = len(looked.found.open)
    if many:
        return f"{many} question{'' if many == 1 else 's'} the file can't answer. {told}"
    return f"No question is open. {told}"


def _marker_words(marker: MarkerSeen) -> str:
    """What stood instead of readings, in which columns and how often."""
    shown = [f"{_times(many)} in {column}" for column, many in marker.columns[:_COLUMNS]]
    left = len(marker.columns) - len(shown)
    if left:
        rest = sum(many for _, many in marker.columns[_COLUMNS:])
        shown.append(f"{_times(rest)} in {left} other column{'' if left == 1 else 's'}")
    return f"{marker.text} ({marker.code}), {', '.join(shown)}"


def _times(many: int) -> str:
    return "once" if many == 1 else f"{count(many)} times"


def _size(size_bytes: int) -> str:
    if size_bytes < 1000:
        return f"{size_bytes} bytes"
    if size_bytes < 1_000_000:
        return f"{size_bytes / 1000:.0f} kB"
    return f"{size_bytes / 1e6:.1f} MB"


def _sheet(room: Room, title: str) -> frame.Sheet:
    return frame.Sheet(title, "Import", frame.room_block(room, title), step="readings")
