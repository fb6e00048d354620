"""Bench: gauges against steps, what is put aside, supplies and their dates, every step."""

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.records.gauges import BenchStep, Gauge
from gaugewright.services.bench_lists import bench_lists
from gaugewright.web import frame, rooms
from gaugewright.web.links import gauge_url
from gaugewright.web.listed import ListPage, csv_of, listed

__all__ = ["router"]

router = APIRouter()

_OF_GAUGES = ("sheet", "parked", "covers", "steps")


@router.get("/c/{name}/bench")
def show(request: Request, numbers: str | None = None) -> Response:
    """Lists of the bench; ``numbers`` asks for one of them as CSV."""
    room = rooms.room(request)
    lists = bench_lists(room.book, room.zone)
    if numbers is not None:
        return csv_of(room, lists, numbers)
    context = ListPage(
        sheet=frame.Sheet("Bench", "Bench", frame.room_block(room, "Bench"), "bench"),
        title="Bench",
        lead=_lead(room),
        margin="Who did what to which gauge, when, and with which batch.",
        links=(("Survival", room.url("survival")),),
        map=None,
        lists=tuple(
            listed(
                room,
                one,
                room.url("bench"),
                (lambda label: gauge_url(room, label)) if one.key in _OF_GAUGES else None,
                is_long=one.key in ("steps", "covers"),
            )
            for one in lists
        ),
    )
    return frame.page(request, "listing.html", context)


def _lead(room: rooms.Room) -> str:
    gauges = {entry.uid for entry in room.book.of(Gauge)}
    steps = room.book.of(BenchStep)
    if not steps:
        return "No step is written down yet."
    begun = len(gauges & {entry.record.gauge for entry in steps})
    parked = sum(bool(entry.record.parked) for entry in steps)
    aside = f" {parked} steps were put aside." if parked else " None is put aside."
    return f"{len(steps)} steps are written down, for {begun} of {len(gauges)} gauges.{aside}"
