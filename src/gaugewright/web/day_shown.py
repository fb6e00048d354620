"""Test day in words and numbers for its page."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.present.numbers import fixed_text
from gaugewright.present.typed import number_typed
from gaugewright.present.units_shown import in_shown, unit_shown
from gaugewright.records.gauges import Attachment, Gauge
from gaugewright.records.readings import Event, LoadStep, ReadingProfile
from gaugewright.services.campaign import events
from gaugewright.services.following import end as follow_end
from gaugewright.services.following.shown import ADVISORY, FileAccount, Live
from gaugewright.services.following.thread import FollowThread
from gaugewright.services.handover import reports_built
from gaugewright.services.packing import archive
from gaugewright.services.reading.series import EPOCH
from gaugewright.services.work import jobs
from gaugewright.services.work.jobs import JobState
from gaugewright.web import frame, sending
from gaugewright.web.day_live import LiveShown, live_shown, second_shown
from gaugewright.web.forms import Choice, Field
from gaugewright.web.job_shown import WORDS as JOB_WORDS
from gaugewright.web.job_shown import JobShown, job_shown
from gaugewright.web.rooms import Room

__all__ = [
    "DayPage",
    "NotedPart",
    "hold_typed",
    "noted_part",
    "noted_rows",
    "page_of",
    "seconds_typed",
]

TAPS = events.KINDS[:4]
PHOTOS = 8
NOTED = 5


@dataclass(frozen=True, slots=True)
class FileRow:
    """A file that was followed, to be brought in."""

    number: int
    name: str
    words: str
    can_be_brought_in: bool
    bring_in: tuple[Field, ...]
    job: JobShown | None


@dataclass(frozen=True, slots=True)
class PhotoRow:
    """A photo of an event."""

    url: str
    words: str


@dataclass(frozen=True, slots=True)
class NotedRow:
    """An event noted last, and how the recorders' clocks stood then."""

    url: str
    at: str
    kind: str
    words: str
    clocks: str


@dataclass(frozen=True, slots=True)
class NotedPart:
    """Events noted last, asked for again when one was noted."""

    sheet: frame.Sheet
    noted: tuple[NotedRow, ...]
    noted_url: str


@dataclass(frozen=True, slots=True)
class DayPage:
    """Everything on the page of a test day."""

    sheet: frame.Sheet
    advisory: str
    live: LiveShown | None
    url: str
    is_live: bool
    stands_still: bool
    taps: tuple[str, ...]
    note_action: str
    note_key: str
    events_url: str
    noted: tuple[NotedRow, ...]
    noted_url: str
    start: tuple[Field, ...]
    profiles: tuple[str, ...]
    import_url: str
    step: tuple[Field, ...]
    photo_key: str
    photo: tuple[Field, ...]
    photos: tuple[PhotoRow, ...]
    gauges: tuple[str, ...]
    files: tuple[FileRow, ...]
    failure: str


def page_of(
    room: Room,
    thread: FollowThread | None,
    *,
    typed: dict[str, str],
    error: GaugewrightError | None,
    stands_still: bool,
) -> DayPage:
    """The page as it stands, with what was typed and what is wrong with it.

    One that ``stands_still`` doesn't load itself again where no script runs.
    """
    live = None if thread is None else live_shown(room, thread)
    goes_on = live is not None and live.goes_on
    files = () if goes_on or thread is None else _files(room, thread, typed, error)
    bring_in = [f for row in files if row.can_be_brought_in for f in row.bring_in]
    known = {f.name for f in (*_start(), *_step(room, None), *_photo(), *bring_in)}
    at = error.name if isinstance(error, InputError) and error.name in known else ""

    def filled(fields: tuple[Field, ...]) -> tuple[Field, ...]:
        return tuple(_filled(field, typed, at, error) for field in fields)

    latest = None if thread is None else thread.latest
    profiles = tuple(entry.record.label for entry in room.book.of(ReadingProfile))
    return DayPage(
        sheet=frame.Sheet(
            "Test day", "Test day", frame.room_block(room, "Test day"), step="readings"
        ),
        advisory=ADVISORY[:1].upper() + ADVISORY[1:] + ".",
        live=live,
        url=room.url("test-day"),
        is_live=goes_on,
        stands_still=stands_still or error is not None,
        taps=TAPS,
        note_action=room.url("events"),
        note_key=sending.new_key(),
        events_url=room.url("events"),
        noted=noted_rows(room),
        noted_url=room.url("test-day/noted"),
        start=filled(_start(profiles)),
        profiles=profiles,
        import_url=room.url("import"),
        step=filled(_step(room, latest)),
        photo_key=sending.new_key(),
        photo=filled(_photo()),
        photos=_photos(room),
        gauges=tuple(entry.record.label for entry in room.book.of(Gauge)),
        files=files,
        failure="" if error is None or at else str(error),
    )


def hold_typed(thread: FollowThread, room: Room, load: str) -> tuple[datetime, datetime, float]:
    """Beginning and end of the hold that goes on, and the load meant [N].

    Raises
    ------
    InputError
        If the load moves, or what was typed is no number.
    """
    live = thread.latest
    if live is None or not thread.goes_on or live.hold.begins is None or live.hold.seconds is None:
        allowed = "a load that stands still, in a test that is followed"
        raise InputError("hold", "none now", allowed, "mark it while it is held")
    begins = EPOCH + timedelta(seconds=live.hold.begins)
    ends = begins + timedelta(seconds=live.hold.seconds)
    if not load.strip():
        return begins, ends, live.hold.load or 0.0
    return begins, ends, number_typed("load", load) * unit_shown("force", room.units).factor


def seconds_typed(text: str) -> float | None:
    """Limit on a clock's error as typed [s]; None when nothing was."""
    return number_typed("within", text) if text.strip() else None


def _start(profiles: tuple[str, ...] = ()) -> tuple[Field, ...]:
    return (
        Field(
            "place",
            "File or folder",
            hint="Whole path on the machine that runs this app. Of a folder the newest file.",
        ),
        Field(
            "profile",
            "Read as",
            hint="Confirmed on an earlier file of this recorder.",
            choices=tuple(Choice(label, label) for label in profiles),
        ),
        Field("instrument", "Recorder", hint="Left empty, that of the profile's last recording."),
    )


def _step(room: Room, live: Live | None) -> tuple[Field, ...]:
    number = len(room.book.of(LoadStep)) + 1
    load = "" if live is None or live.hold.load is None else live.hold.load
    measured = "" if load == "" else fixed_text(in_shown(float(load), "force", room.units), 1)
    return (
        Field("label", "Name of the step", value=f"step {number}"),
        Field(
            "load",
            "Load meant",
            unit=unit_shown("force", room.units).text,
            hint=f"Left empty, as measured{': ' + measured if measured else ''}.",
            kind="number",
        ),
    )


def _photo() -> tuple[Field, ...]:
    return (
        Field("caption", "In words"),
        Field("gauge", "Gauge", hint="If it is beside one.", list="gauges"),
    )


def _bring_in(label: str) -> tuple[Field, ...]:
    return (
        Field("recording", "Name of the recording", value=label),
        Field(
            "within",
            "Its stamps are right within",
            unit="s",
            hint="Left empty, its clock is joined later.",
            kind="number",
        ),
    )


def _filled(field: Field, typed: dict[str, str], at: str, error: GaugewrightError | None) -> Field:
    value = typed.get(field.name, field.value)
    return replace(field, value=value, wrong=str(error) if field.name == at else "")


def _files(
    room: Room, thread: FollowThread, typed: dict[str, str], error: GaugewrightError | None
) -> tuple[FileRow, ...]:
    """Every file that was followed: brought in, being brought in, or with its form."""
    streams = thread.follower.streams
    at = error.name if isinstance(error, InputError) else ""
    rows = []
    for number, account in enumerate(thread.follower.accounts()):
        name = Path(account.path).name
        recorder = streams[account.source].label
        words = f"{fixed_text(account.rows, 0)} rows followed"
        if not account.is_whole:
            words += "; begun anew since, so that it can't be brought in"
        job = _job_of(room, account)
        fields = _bring_in("test" if len(streams) == 1 else f"test, {recorder}")
        if typed.get("number") == str(number):
            fields = tuple(_filled(field, typed, at, error) for field in fields)
        is_open = job is None or job.is_failed or job.state == JOB_WORDS[JobState.CANCELLED]
        rows.append(
            FileRow(
                number,
                name if len(streams) == 1 else f"{recorder}, {name}",
                words,
                account.is_whole and is_open,
                fields,
                job,
            )
        )
    return tuple(rows)


def _job_of(room: Room, account: FileAccount) -> JobShown | None:
    """The last piece of work that was to bring a followed file in."""
    if room.store.read_only:
        return None
    for job in jobs.jobs(room.store):
        given = job.parameters
        if job.kind == follow_end.JOB and given.get("sha256") == account.sha256:
            url = room.url(f"jobs/{job.uid}")
            label = str(given.get("label"))
            after = (room.url("readings"), "Readings")
            return job_shown(
                job, name=f"Bringing in {label}", url=url, cancel_url=f"{url}/stop", after=after
            )
    return None


def noted_rows(room: Room) -> tuple[NotedRow, ...]:
    """Events noted last, newest first, with what the journal keeps of the clocks."""
    # What the program notes of itself, with hashes, has its place in the journal.
    people = [
        e for e in room.book.of(Event) if e.record.kind not in (archive.KIND, reports_built.KIND)
    ]
    found = sorted(people, key=lambda entry: entry.record.at, reverse=True)[:NOTED]
    return tuple(
        NotedRow(
            room.url(f"events/{entry.uid}"),
            second_shown(room, entry.record.at),
            entry.record.kind,
            entry.record.text,
            room.store.history(entry.uid)[0].reason,
        )
        for entry in found
    )


def noted_part(room: Room) -> NotedPart:
    """Events noted last, for a page that shows them already."""
    sheet = frame.Sheet("Test day", "Test day", frame.room_block(room, "Test day"))
    return NotedPart(sheet, noted_rows(room), room.url("test-day/noted"))


def _photos(room: Room) -> tuple[PhotoRow, ...]:
    # Photos of the bench, and logs kept beside a cure, belong to their own pages.
    events = {entry.uid for entry in room.book.of(Event)}
    mine = [entry for entry in room.book.of(Attachment) if entry.record.of in events]
    found = sorted(mine, key=lambda entry: entry.uid, reverse=True)
    return tuple(
        PhotoRow(room.url(f"photos/{entry.uid}"), entry.record.caption or entry.record.file_name)
        for entry in found[:PHOTOS]
    )
