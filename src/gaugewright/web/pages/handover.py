"""Handover: reports built from the records, and the register of gauges no answer rests on."""

import hashlib
import re
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import FileResponse, Response

from gaugewright.present.captions import coverage_text
from gaugewright.present.numbers import fixed_text
from gaugewright.records.gauges import Gauge
from gaugewright.records.readings import Decision, Finding
from gaugewright.records.results import Chain, Result
from gaugewright.services.handover_gauges import register_rows
from gaugewright.services.handover_origin import open_points
from gaugewright.services.handover_page import Page
from gaugewright.services.overview import reports_in
from gaugewright.services.reduction_results import COVERAGE
from gaugewright.services.strains import Desk
from gaugewright.web import frame, rooms
from gaugewright.web.faults import NotThere
from gaugewright.web.job_shown import JobShown
from gaugewright.web.links import gauge_url
from gaugewright.web.pages import work

__all__ = ["HandoverPage", "router"]

router = APIRouter()

_REVISION = re.compile(r"report-([0-9]+)\.pdf")


@dataclass(frozen=True, slots=True)
class ReportRow:
    """A report as it lies in the campaign: revision, when, how large, SHA-256 of the file."""

    revision: str
    built: str
    size: str
    sha256: str
    url: str
    is_behind: bool


@dataclass(frozen=True, slots=True)
class RegisterLine:
    """A gauge that is doubtful or lost, since when and why."""

    label: str
    url: str
    state: str
    since: str
    reason: str


@dataclass(frozen=True, slots=True)
class HandoverPage:
    """What the handover page shows."""

    sheet: frame.Sheet
    lead: str
    open_points: tuple[str, ...]
    begin_url: str
    job: JobShown | None
    is_next: bool
    cannot: str
    reports: tuple[ReportRow, ...]
    register: tuple[RegisterLine, ...]


@router.get("/c/{name}/handover")
def show(request: Request) -> Response:
    """Reports of a campaign, and what to know before one is handed over."""
    return frame.page(request, "handover.html", handover_page(rooms.room(request)))


@router.get("/c/{name}/handover/{file_name}")
def report(request: Request, file_name: str) -> Response:
    """One report, to be kept; only names of reports that are listed count."""
    room = rooms.room(request)
    found = next((path for path in reports_in(room.store.folder) if path.name == file_name), None)
    if found is None:
        raise NotThere("report", file_name, "one of those listed under Handover")
    # The name a receiver sees: the campaign's label, in letters that every system takes.
    label = re.sub(r"[^A-Za-z0-9]+", "-", room.store.campaign.record.label).strip("-")
    return FileResponse(
        found, media_type="application/pdf", filename=f"{label or 'campaign'}-{file_name}"
    )


def handover_page(room: rooms.Room) -> HandoverPage:
    """Everything the handover page shows."""
    page = Page.of(Desk(room.store, room.book))
    reports = tuple(_row(room, path) for path in reversed(reports_in(room.store.folder)))
    chains = len(room.book.of(Chain))
    block = frame.room_block(
        room,
        "Handover",
        coverage=coverage_text(COVERAGE),
        chain=f"{chains} applied" if chains else "none applied yet",
    )
    return HandoverPage(
        sheet=frame.Sheet("Handover", "Handover", block, "handover"),
        lead=_lead(reports),
        open_points=(*_undecided(room), *open_points(page)),
        begin_url=work.begin_url(room, "report"),
        job=work.going_on(room, "report"),
        is_next=not reports or reports[0].is_behind,
        cannot="" if room.book.of(Gauge) else "There is no gauge to report on yet.",
        reports=reports,
        register=tuple(
            RegisterLine(r.gauge, gauge_url(room, r.gauge), r.state, r.since, r.reason)
            for r in register_rows(page)
        ),
    )


def _lead(reports: tuple[ReportRow, ...]) -> str:
    if not reports:
        return "No report is built yet. It is made from the records, as they stand, in one go."
    if reports[0].is_behind:
        return f"Records changed since report {reports[0].revision} was built."
    return f"Report {reports[0].revision} says what the records say."


def _undecided(room: rooms.Room) -> list[str]:
    number = sum(entry.record.decision is Decision.OPEN for entry in room.book.of(Finding))
    if not number:
        return []
    are = "finding is" if number == 1 else "findings are"
    return [f"{number} {are} open: the report says so, and nobody has decided."]


def _row(room: rooms.Room, path: Path) -> ReportRow:
    status = path.stat()
    built = datetime.fromtimestamp(status.st_mtime, UTC)
    match = _REVISION.fullmatch(path.name)
    with path.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
    changed = [entry.at for entry in room.book.of(Result)]
    changed += [entry.at for entry in room.book.of(Finding)]
    return ReportRow(
        match[1] if match else path.stem,
        frame.instant_shown(built, room),
        f"{fixed_text(status.st_size / 1000, 0)} kB",
        digest,
        room.url(f"handover/{path.name}"),
        bool(changed) and max(changed) > built,
    )
