"""Long pieces of work: all of a campaign's, and one with its progress and the way to stop it."""

from dataclasses import dataclass, replace

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import InputError
from gaugewright.records.identity import uid_from_text
from gaugewright.services.following import end as follow_end
from gaugewright.services.reading import arrivals
from gaugewright.services.work import jobs
from gaugewright.services.work.jobs import Job, JobState
from gaugewright.web import frame, rooms
from gaugewright.web.job_shown import WORK, JobShown, job_shown
from gaugewright.web.not_there import NotThere
from gaugewright.web.recording_words import recording_named, recording_url
from gaugewright.web.rooms import Room, Rooms

__all__ = ["JobPage", "JobsPage", "job_url", "router"]

router = APIRouter()

_IMPORTS = (arrivals.JOB, follow_end.JOB)
_MEND_WORDS = {
    arrivals.JOB: "Back to the answers: all that was typed is there",
    follow_end.JOB: "Back to test day",
}


@dataclass(frozen=True, slots=True)
class JobRow:
    """A piece of work in the list."""

    url: str
    name: str
    state: str
    begun: str
    message: str


@dataclass(frozen=True, slots=True)
class JobsPage:
    """Every piece of work of a campaign, the newest first."""

    sheet: frame.Sheet
    rows: tuple[JobRow, ...]


@dataclass(frozen=True, slots=True)
class JobPage:
    """One piece of work; while it goes on, the page without a script loads itself again."""

    sheet: frame.Sheet
    title: str
    job: JobShown
    all_url: str
    again_s: int


@router.get("/jobs/{uid}")
def anywhere(request: Request, uid: str) -> Response:
    """A piece of work by its uid alone, in whichever campaign it is."""
    wanted = uid_from_text(uid)
    found: Rooms = request.app.state.rooms
    for name in found.names():
        room = found.room(name, rooms.device(request).person)
        if any(job.uid == wanted for job in room.store.jobs.jobs()):
            return RedirectResponse(job_url(room, wanted), status_code=303)
    raise NotThere("job", uid, "one of these campaigns", "look at the campaign's jobs")


@router.get("/c/{name}/jobs")
def show_all(request: Request) -> Response:
    """Every piece of work of a campaign."""
    room = rooms.room(request)
    rows = tuple(_row(room, job) for job in jobs.jobs(room.store))
    context = JobsPage(frame.Sheet("Jobs", "Jobs", frame.room_block(room, "Jobs")), rows)
    return frame.page(request, "jobs.html", context)


@router.get("/c/{name}/jobs/{uid}")
def show(request: Request, uid: str) -> Response:
    """How far a piece of work is; the part for a script that asks again and again."""
    room = rooms.room(request)
    return _page(request, room, _job(room, uid))


@router.post("/c/{name}/jobs/{uid}/stop")
def stop(request: Request, uid: str) -> Response:
    """Ask a piece of work to stop at the border of its next block."""
    room = rooms.room_to_write(request)
    job = jobs.ask_to_cancel(room.store, _job(room, uid).uid)
    if not frame.is_part(request):
        return RedirectResponse(job_url(room, job.uid), status_code=303)
    return _page(request, room, job)


def job_url(room: Room, uid: str) -> str:
    """Address of a piece of work."""
    return room.url(f"jobs/{uid}")


def _job(room: Room, uid: str) -> Job:
    try:
        return jobs.job(room.store, uid_from_text(uid))
    except InputError as error:
        raise NotThere("job", uid, "one of this campaign", "look at the list of jobs") from error


def _page(request: Request, room: Room, job: Job) -> Response:
    name = _name(job)
    shown = job_shown(
        job,
        name=name,
        url=job_url(room, job.uid),
        cancel_url=job_url(room, job.uid) + "/stop",
        after=_after(room, job),
    )
    mend = _mend(room, job)
    shown = replace(
        shown,
        also=_also(room, job),
        mend_url=mend,
        mend_words=_MEND_WORDS.get(job.kind, "") if mend else "",
    )
    context = JobPage(
        sheet=frame.Sheet(name, "Job", frame.room_block(room, name), step=_step(job)),
        title=name,
        job=shown,
        all_url=room.url("jobs"),
        again_s=0 if job.state.is_over else 2,
    )
    answer = frame.page(request, "job.html", context, part="_job.html")
    if frame.is_part(request) and job.state is JobState.DONE:
        # Lists beside it are older than what the work wrote: the page is read again.
        answer.headers["HX-Refresh"] = "true"
    return answer


def _row(room: Room, job: Job) -> JobRow:
    shown = job_shown(job, name=_name(job), url=job_url(room, job.uid), cancel_url="")
    return JobRow(
        shown.url,
        shown.name,
        shown.state if job.state.is_over else f"{shown.state}, {shown.percent} %",
        frame.instant_shown(job.submitted, room),
        job.message,
    )


def _name(job: Job) -> str:
    if job.kind in _IMPORTS:
        return f"Bringing in {job.parameters['name']}"
    return WORK[job.kind].name if job.kind in WORK else job.kind


def _step(job: Job) -> str:
    if job.kind in _IMPORTS:
        return "readings"
    return WORK[job.kind].step if job.kind in WORK else ""


def _after(room: Room, job: Job) -> tuple[str, str]:
    """Where a piece of work leads once it is done."""
    if job.kind in _IMPORTS:
        if job.state is not JobState.DONE:
            return room.url("readings"), "Readings"
        return room.url("zeros"), "Take a zero"
    if job.kind not in WORK:
        return room.url(), "Overview"
    return room.url(WORK[job.kind].page), WORK[job.kind].page_words


def _also(room: Room, job: Job) -> tuple[str, str]:
    """What was brought in, to be looked at."""
    if job.kind not in _IMPORTS or job.state is not JobState.DONE:
        return "", ""
    label = str(job.parameters["label"])
    return recording_url(room, recording_named(room, label)), f"Look at {label}"


def _mend(room: Room, job: Job) -> str:
    """Form of a file that still waits because bringing it in didn't work."""
    if job.kind == follow_end.JOB and job.state in (JobState.FAILED, JobState.CANCELLED):
        return room.url("test-day")
    if job.kind != arrivals.JOB or job.state not in (JobState.FAILED, JobState.CANCELLED):
        return ""
    waiting = {one.uid for one in arrivals.arrivals(room.store)}
    uid = job.parameters["arrival"]
    return room.url(f"import/{uid}") if uid in waiting else ""
