"""Sheets for each receiver, and archives: made by watched jobs, taken from here."""

import re
from dataclasses import dataclass
from pathlib import Path

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import FileResponse, RedirectResponse, Response

from gaugewright.errors import GaugewrightError
from gaugewright.present.numbers import fixed_text
from gaugewright.records.gauges import Gauge
from gaugewright.services.packing import handed_files
from gaugewright.services.packing.archive import plain_licence
from gaugewright.web import frame, rooms
from gaugewright.web.forms import Field
from gaugewright.web.job_shown import JobShown
from gaugewright.web.not_there import NotThere
from gaugewright.web.pages import work

__all__ = ["HandedPage", "router"]

router = APIRouter()

_MEDIA = {".pdf": "application/pdf", ".zip": "application/zip"}
_WORK = ("sheets", "archive", "prove")


@dataclass(frozen=True, slots=True)
class SheetRow:
    """A receiver's sheet: where it is taken from, when it was made, whether records changed."""

    title: str
    made: str
    url: str
    is_behind: bool


@dataclass(frozen=True, slots=True)
class ArchiveRow:
    """An archive: name, when, how large, hash, head, and where it is taken from and proved."""

    name: str
    made: str
    size: str
    sha256: str
    head: str
    url: str
    prove_url: str


@dataclass(frozen=True, slots=True)
class HandedPage:
    """What the page of sheets and archives shows."""

    sheet: frame.Sheet
    jobs: tuple[JobShown, ...]
    cannot: str
    sheets: tuple[SheetRow, ...]
    sheets_url: str
    analyst_url: str
    archives: tuple[ArchiveRow, ...]
    archive_url: str
    licence: Field
    handover_url: str


@router.get("/c/{name}/handed")
def show(request: Request) -> Response:
    """Sheets and archives of a campaign."""
    room = rooms.room(request)
    return frame.page(request, "handed.html", _page(room))


@router.post("/c/{name}/handed/archive")
def make_archive(request: Request, licence: str = Form("")) -> Response:
    """Begin making an archive under a licence that was typed."""
    try:
        words = plain_licence(licence)
    except GaugewrightError as error:
        context = _page(rooms.room(request), licence=licence, wrong=str(error))
        return frame.page(request, "handed.html", context, status=422)
    return _begin(rooms.room_to_write(request), "archive", {"licence": words})


@router.post("/c/{name}/handed/{file_name}/prove")
def prove(request: Request, file_name: str) -> Response:
    """Begin reading and reducing the originals of an archive again."""
    room = rooms.room_to_write(request)
    _found(room, file_name)
    return _begin(room, "prove", {"file": file_name})


@router.get("/c/{name}/handed/{file_name}")
def take(request: Request, file_name: str) -> Response:
    """A sheet, the analyst's files or an archive, to be kept."""
    room = rooms.room(request)
    path = _found(room, file_name)
    label = re.sub(r"[^A-Za-z0-9]+", "-", room.store.campaign.record.label).strip("-")
    return FileResponse(
        path,
        media_type=_MEDIA[path.suffix],
        filename=f"{label or 'campaign'}-{file_name}",
    )


def _found(room: rooms.Room, file_name: str) -> Path:
    path = handed_files.found(room.store, room.book, file_name)
    if path is None:
        raise NotThere("file", file_name, "one of those listed under Sheets and archive")
    return path


def _begin(room: rooms.Room, kind: str, parameters: dict[str, str]) -> Response:
    """Begin a kind of work and show how far it is."""
    return RedirectResponse(work.begun(room, kind, parameters).url, status_code=303)


def _page(room: rooms.Room, *, licence: str = "", wrong: str = "") -> HandedPage:
    store, book = room.store, room.book
    analyst = handed_files.found(store, book, handed_files.ANALYST)
    block = frame.room_block(room, "Sheets and archive")
    return HandedPage(
        sheet=frame.Sheet("Sheets and archive", "Sheets and archive", block, "handover"),
        jobs=tuple(job for kind in _WORK if (job := work.going_on(room, kind)) is not None),
        cannot="" if book.of(Gauge) else "There is no gauge to hand over yet.",
        sheets=tuple(
            SheetRow(
                one.title,
                "not made yet" if one.made is None else frame.instant_shown(one.made, room),
                "" if one.path is None else room.url(f"handed/{one.path.name}"),
                one.is_behind,
            )
            for one in handed_files.sheets_there(store, book)
        ),
        sheets_url=work.begin_url(room, "sheets"),
        analyst_url="" if analyst is None else room.url(f"handed/{analyst.name}"),
        archives=tuple(_archive_row(room, one) for one in handed_files.archives(store, book)),
        archive_url=room.url("handed/archive"),
        licence=Field(
            "licence",
            "What others may do with it",
            licence,
            hint="A licence such as CC-BY-4.0, its address, or in words: not to be passed on.",
            wrong=wrong,
            is_needed=True,
        ),
        handover_url=room.url("handover"),
    )


def _archive_row(room: rooms.Room, one: handed_files.HandedArchive) -> ArchiveRow:
    url = room.url(f"handed/{one.path.name}")
    return ArchiveRow(
        one.path.name,
        frame.instant_shown(one.made, room),
        f"{fixed_text(one.size / 1e6, 1)} MB",
        one.sha256 or "not written down",
        one.head or "not written down",
        url,
        f"{url}/prove",
    )
