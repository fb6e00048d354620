"""The whole journal: every entry with its number, a hundred on a page, the newest first."""

from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.services.campaign import history
from gaugewright.web import frame, rooms
from gaugewright.web.pages.overview import JournalLine

__all__ = ["JournalPage", "router"]

router = APIRouter()

ON_A_PAGE = 100


@dataclass(frozen=True, slots=True)
class JournalPage:
    """Some entries of the journal, and where those before and after them stand."""

    sheet: frame.Sheet
    lead: str
    journal: tuple[JournalLine, ...]
    newer_url: str
    older_url: str


@router.get("/c/{name}/journal")
def show(request: Request, until: int = 0) -> Response:
    """A hundred entries up to one, the latest when none is named."""
    return frame.page(request, "journal.html", journal_page(rooms.room(request), until))


def journal_page(room: rooms.Room, until: int) -> JournalPage:
    """Everything the page shows."""
    head = room.head.seq
    last = until if 0 < until < head else head
    first = max(1, last - ON_A_PAGE + 1)
    found = history.journal_lines(room.store, first, last - first + 1)
    lines = tuple(
        JournalLine(
            f"{number}. {frame.instant_shown(line.at, room)}", line.what, line.reason, line.person
        )
        for number, line in reversed(found)
    )
    newer = f"journal?until={min(last + ON_A_PAGE, head)}" if last < head else ""
    older = f"journal?until={first - 1}" if first > 1 else ""
    return JournalPage(
        sheet=frame.Sheet("Journal", "Journal", frame.room_block(room, "Journal")),
        lead=f"Entries {first} to {last} of {head}, the newest first.",
        journal=lines,
        newer_url=room.url(newer) if newer else "",
        older_url=room.url(older) if older else "",
    )
