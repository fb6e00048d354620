"""Long work begun from a page: reducing and the report; the pages of jobs show how far it is."""

from collections.abc import Mapping
from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.services.work import jobs
from gaugewright.services.work.jobs import Job
from gaugewright.web import frame, rooms
from gaugewright.web.job_shown import WORK, JobShown, job_shown
from gaugewright.web.not_there import NotThere

__all__ = ["Begun", "begin_url", "begun", "going_on", "router"]

router = APIRouter()

# What a button alone may begin; other work asks something first.
_KINDS = ("reduce", "report", "sheets")


@dataclass(frozen=True, slots=True)
class Begun:
    """Work that was just begun, in the place of its button."""

    sheet: frame.Sheet
    job: JobShown


def begin_url(room: rooms.Room, kind: str) -> str:
    """Address that a POST begins a kind of work at."""
    return room.url(f"work/{kind}")


def going_on(
    room: rooms.Room, kind: str, parameters: Mapping[str, str] | None = None
) -> JobShown | None:
    """Work of a kind that hasn't ended, so that a page opened meanwhile shows it too."""
    if room.store.read_only:
        return None
    for job in jobs.jobs(room.store):
        is_same = parameters is None or job.parameters == parameters
        if job.kind == kind and is_same and not job.state.is_over:
            return _shown(room, job)
    return None


def begun(room: rooms.Room, kind: str, parameters: Mapping[str, str]) -> JobShown:
    """Work that is begun now, or the very same that is going on already."""
    found = going_on(room, kind, parameters)
    if found is not None:
        return found
    return _shown(room, jobs.job(room.store, jobs.submit(room.store, kind, parameters)))


@router.post("/c/{name}/work/{kind}")
def begin(request: Request, kind: str) -> Response:
    """Begin a piece of work, unless the same is going on already."""
    if kind not in _KINDS:
        raise NotThere("work", kind, "one of " + ", ".join(_KINDS))
    room = rooms.room_to_write(request)
    found = begun(room, kind, {})
    if not frame.is_part(request):
        return RedirectResponse(found.url, status_code=303)
    sheet = frame.Sheet(found.name, found.name, frame.room_block(room, found.name))
    return frame.page(request, "_job.html", Begun(sheet, found))


def _shown(room: rooms.Room, job: Job) -> JobShown:
    kind = WORK[job.kind]
    url = room.url(f"jobs/{job.uid}")
    after = (room.url(kind.page), kind.page_words)
    return job_shown(job, name=kind.name, url=url, cancel_url=f"{url}/stop", after=after)
