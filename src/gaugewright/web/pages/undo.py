"""Undo: takes back an entry that was just written, and leads back to where that was."""

from dataclasses import dataclass

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import InputError
from gaugewright.records.identity import Ref, uid_from_text
from gaugewright.services.campaign import undoing
from gaugewright.web import rooms
from gaugewright.web.frame import TAKEN_BACK
from gaugewright.web.rooms import Room

__all__ = ["Undo", "checked", "offered", "returned", "router"]

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Undo:
    """What ``_undo.html`` offers to take back."""

    words: str
    action: str
    uid: str
    version: int
    back: str


def offered(room: Room, words: str, written: Ref, back: str) -> Undo:
    """Offer to take back one entry; ``back`` is the page, below the campaign, to return to."""
    return Undo(words, room.url("undo"), written.uid, written.version, back)


@router.post("/c/{name}/undo")
def undo(
    request: Request, uid: str = Form(""), version: int = Form(0), back: str = Form("")
) -> Response:
    """Take an entry back."""
    checked(back)
    room = rooms.room_to_write(request)
    undoing.undo(room.store, Ref(uid_from_text(uid), version))
    return returned(room, back)


def checked(back: str) -> None:
    """Refuse a page to return to that isn't below the campaign."""
    if "//" in back or "\\" in back or ":" in back or back.startswith("/"):
        raise InputError("page to return to", back, "one of this campaign")


def returned(room: Room, back: str) -> Response:
    """Lead back to a page of the campaign, which says that something was taken back."""
    page, mark, part = back.partition("#")
    url = room.url(f"{page}{'&' if '?' in page else '?'}{TAKEN_BACK}=1{mark}{part}")
    return RedirectResponse(url, status_code=303)
