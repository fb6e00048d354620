"""Coupons of a campaign: each with its curve, its lines, its values, and what was refused."""

from dataclasses import dataclass
from urllib.parse import quote

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.errors import InputError
from gaugewright.present.cells import csv_text
from gaugewright.present.plots import drawn
from gaugewright.records import Entry
from gaugewright.records.coupons import CouponTest
from gaugewright.records.specimen import Material
from gaugewright.services import coupon_cyclic, coupon_plots, coupon_words, coupons
from gaugewright.services.coupon_cyclic import CyclicCoupon
from gaugewright.services.coupon_plots import CouponFigure
from gaugewright.services.coupon_words import Row
from gaugewright.services.coupons import CouponResult
from gaugewright.web import frame, rooms
from gaugewright.web.faults import NotThere
from gaugewright.web.figures import Figures, FigureShown

__all__ = ["CouponPage", "CouponsPage", "router"]

router = APIRouter()

_WIDE, _NARROW = (800.0, 440.0), (360.0, 360.0)


@dataclass(frozen=True, slots=True)
class CouponLine:
    """A coupon in the list; ``kind`` says pulled, to and fro, or why it can't be evaluated."""

    label: str
    url: str
    kind: str


@dataclass(frozen=True, slots=True)
class CouponsPage:
    """The coupons of a campaign."""

    sheet: frame.Sheet
    coupons: tuple[CouponLine, ...]
    command: str
    results_url: str


@dataclass(frozen=True, slots=True)
class CouponPage:
    """One coupon. ``rows`` for one that was pulled, ``properties`` for one strained to and fro."""

    sheet: frame.Sheet
    title: str
    lead: str
    refused: tuple[str, ...]
    figures: Figures
    rows: tuple[Row, ...]
    properties: tuple[tuple[str, str], ...]
    sentences: tuple[str, ...]
    left_out: tuple[str, ...]
    materials: tuple[str, ...]
    list_url: str


@router.get("/c/{name}/results/coupons")
def show_all(request: Request) -> Response:
    """List of coupons."""
    room = rooms.room(request)
    lines = tuple(
        CouponLine(entry.record.label, _url(room, entry), _kind(room, entry))
        for entry in room.book.of(CouponTest)
    )
    context = CouponsPage(
        frame.Sheet("Coupons", "Coupons", frame.room_block(room, "Coupons"), "results"),
        lines,
        f"gaugewright coupon {room.store.folder.name} FILE --diameter ...",
        room.url("results"),
    )
    return frame.page(request, "results_coupons.html", context)


@router.get("/c/{name}/results/coupons/{label:path}")
def show(request: Request, label: str, numbers: int | None = None) -> Response:
    """One coupon; ``numbers`` asks for those behind one of its figures."""
    room = rooms.room(request)
    entry = next((e for e in room.book.of(CouponTest) if e.record.label == label), None)
    if entry is None:
        raise NotThere("coupon", label, "one of this campaign", "look at the list of coupons")
    if coupons.was_to_and_fro(room.store, room.book, entry):
        cyclic = _cyclic(room, entry)
        drawings = coupon_plots.cyclic_figures(cyclic, room.units)
        context = _cyclic_page(room, cyclic, drawings)
    else:
        found = _pulled(room, entry)
        drawings = coupon_plots.figures(found, room.units)
        context = _page(room, found, drawings)
    if numbers is not None:
        return _csv(label, drawings, numbers)
    return frame.page(request, "results_coupon.html", context)


def _pulled(room: rooms.Room, entry: Entry[CouponTest]) -> CouponResult:
    return room.book.once(
        f"coupon {entry.uid}", lambda book: coupons.evaluated(room.store, book, entry)
    )


def _cyclic(room: rooms.Room, entry: Entry[CouponTest]) -> CyclicCoupon:
    # Seconds of work, kept until a record changes.
    return room.book.once(
        f"cyclic coupon {entry.uid}",
        lambda book: coupon_cyclic.cyclic_coupon(room.store, book, entry),
    )


def _kind(room: rooms.Room, entry: Entry[CouponTest]) -> str:
    try:
        if coupons.was_to_and_fro(room.store, room.book, entry):
            return "strained to and fro"
        found = _pulled(room, entry)
    except InputError as error:
        return str(error)
    return "pulled; modulus refused" if found.values.elastic_modulus is None else "pulled"


def _url(room: rooms.Room, entry: Entry[CouponTest]) -> str:
    return room.url(f"results/coupons/{quote(entry.record.label, safe='')}")


def _page(room: rooms.Room, found: CouponResult, drawings: tuple[CouponFigure, ...]) -> CouponPage:
    entry = found.test
    refused = found.values.doubts
    lead = "Pulled to its maximum force; every value with its uncertainty, 95 %."
    if refused and entry.record.modulus is None:
        lead = "The slope of its elastic line isn't believed as a modulus."
    return CouponPage(
        sheet=_sheet(room, entry),
        title=f"Coupon {entry.record.label}",
        lead=lead,
        refused=refused,
        figures=_figures(room, entry, drawings),
        rows=coupon_words.rows(found, room.units),
        properties=(),
        sentences=(
            coupon_words.quality_sentence(found, room.units),
            coupon_words.extensometer_sentence(found, room.units),
        ),
        left_out=found.left_out,
        materials=_materials(room, entry),
        list_url=room.url("results/coupons"),
    )


def _cyclic_page(
    room: rooms.Room, found: CyclicCoupon, drawings: tuple[CouponFigure, ...]
) -> CouponPage:
    entry = found.test
    return CouponPage(
        sheet=_sheet(room, entry),
        title=f"Coupon {entry.record.label}",
        lead="Strained to and fro; the cyclic law that comes nearest, and how near.",
        refused=found.doubts,
        figures=_figures(room, entry, drawings),
        rows=(),
        properties=tuple(coupon_words.cyclic_rows(found, room.units)),
        sentences=coupon_words.cyclic_sentences(found, room.units),
        left_out=(),
        materials=_materials(room, entry),
        list_url=room.url("results/coupons"),
    )


def _sheet(room: rooms.Room, entry: Entry[CouponTest]) -> frame.Sheet:
    label = entry.record.label
    return frame.Sheet(
        label, f"Coupon {label}", frame.room_block(room, f"Coupon {label}"), "results"
    )


def _materials(room: rooms.Room, entry: Entry[CouponTest]) -> tuple[str, ...]:
    return tuple(
        f"{metal.record.label}, version {metal.version}"
        for metal in room.book.of(Material)
        if metal.record.coupon == entry.record.label
    )


def _figures(
    room: rooms.Room, entry: Entry[CouponTest], drawings: tuple[CouponFigure, ...]
) -> Figures:
    url = _url(room, entry)
    shown = tuple(
        FigureShown(
            drawn(one.plot, *_WIDE),
            drawn(one.plot, *_NARROW),
            one.title,
            one.caption,
            "",
            f"{url}?numbers={number}",
        )
        for number, one in enumerate(drawings)
    )
    return Figures(f"coupon {entry.record.label}", url, is_to_come=False, shown=shown)


def _csv(label: str, drawings: tuple[CouponFigure, ...], number: int) -> Response:
    """Every number of a figure in its shown units."""
    if not 0 <= number < len(drawings):
        raise NotThere("numbers", str(number), f"from 0 to {len(drawings) - 1}")
    plot = drawings[number].plot
    rows = [
        (curve.label or plot.y.words, x, y)
        for curve in plot.curves
        for x, y in zip(curve.x.tolist(), curve.y.tolist(), strict=True)
        if x == x and y == y  # a sample without strain or stress has no number to take
    ]
    return Response(
        csv_text(("line", plot.x.title, plot.y.title), rows),
        media_type="text/csv; charset=utf-8",
        headers={
            "content-disposition": "attachment; filename*=UTF-8''coupon-"
            + quote(f"{label}-{number}.csv", safe="")
        },
    )
