"""Coupons of a campaign: each with its curve, its lines, its values, and what was refused."""

from dataclasses import dataclass
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.present.cells import csv_text
from gaugewright.present.plots import drawn
from gaugewright.records import Entry
from gaugewright.records.coupons import CouponTest
from gaugewright.records.readings import Recording
from gaugewright.records.specimen import Material
from gaugewright.services.coupon import cyclic as coupon_cyclic
from gaugewright.services.coupon import entry as coupon_entry
from gaugewright.services.coupon import evaluated as coupons
from gaugewright.services.coupon import plots as coupon_plots
from gaugewright.services.coupon import words as coupon_words
from gaugewright.services.coupon.cyclic import CyclicCoupon
from gaugewright.services.coupon.evaluated import CouponResult
from gaugewright.services.coupon.plots import CouponFigure
from gaugewright.services.coupon.words import Row
from gaugewright.web import coupon_form, frame, rooms
from gaugewright.web.figures import Figures, FigureShown
from gaugewright.web.forms import Field
from gaugewright.web.not_there import NotThere
from gaugewright.web.uploads import text_of

__all__ = ["CouponPage", "CouponsPage", "router"]

router = APIRouter()

Typed = tuple[dict[str, str], UploadFile | None]
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
    action: str
    fields: tuple[Field, ...]
    failure: str
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
    action: str
    fields: tuple[Field, ...]
    failure: str
    list_url: str


async def _typed(request: Request) -> Typed:
    """Every field of a form as it was typed, and the file that was chosen, if any."""
    form = await request.form()
    file = form.get("file")
    words = {name: text for name, text in form.items() if isinstance(text, str)}
    return words, file if isinstance(file, UploadFile) else None


@router.get("/c/{name}/results/coupons")
def show_all(request: Request) -> Response:
    """List of coupons, with the form for one more."""
    return _all(request, rooms.room(request), {}, None)


@router.post("/c/{name}/results/coupons")
def enter(request: Request, typed: Annotated[Typed, Depends(_typed)]) -> Response:
    """State a coupon's test from a recording, a table that was pasted, or a file."""
    words, file = typed
    try:
        room = rooms.room_to_write(request)
        text = _table(words, file)
        label = words.get("label", "").strip()
        recording = (
            room.book.labelled(Recording, words["recording"])
            if not text
            else coupon_entry.recording_of_text(room.store, label, text)
        )
        found = coupon_entry.stated_and_kept(
            room.store,
            recording,
            words,
            room.units,
            label=label,
            columns=(words.get("force_column", ""), words.get("strain_column", "")),
        )
    except GaugewrightError as error:
        return _all(request, rooms.room(request), words, error)
    return RedirectResponse(_url(room, found.test), status_code=303)


def _table(words: dict[str, str], file: UploadFile | None) -> str:
    """Rows that were pasted or sent; "" where a recording was chosen; never one for the other."""
    sent, pasted = text_of(file), words.get("table", "")
    given = [one for one in (words.get("recording", ""), sent, pasted) if one.strip()]
    if len(given) != 1:
        raise InputError(
            "test of the coupon",
            "given in several ways" if given else None,
            "a recording, a table or a file, one of them",
            "leave the others empty",
        )
    return sent or pasted if not words.get("recording", "") else ""


def _all(
    request: Request, room: rooms.Room, typed: dict[str, str], error: GaugewrightError | None
) -> Response:
    lines = tuple(
        CouponLine(entry.record.label, _url(room, entry), _kind(room, entry))
        for entry in room.book.of(CouponTest)
    )
    context = CouponsPage(
        frame.Sheet("Coupons", "Coupons", frame.room_block(room, "Coupons"), "results"),
        lines,
        room.url("results/coupons"),
        coupon_form.coupon_fields(room, typed),
        "" if error is None else str(error),
        f"gaugewright coupon {room.store.folder.name} FILE --diameter ...",
        room.url("results"),
    )
    status = 200 if error is None else 422
    return frame.page(request, "results_coupons.html", context, status=status)


@router.post("/c/{name}/results/coupons/{label:path}")
def make_metal(request: Request, label: str, typed: Annotated[Typed, Depends(_typed)]) -> Response:
    """Make a metal of a coupon that was pulled, or a new version of one."""
    words, _ = typed
    entry = _entry(rooms.room(request), label)
    try:
        room = rooms.room_to_write(request)
        coupon_entry.metal_made(
            room.store,
            _pulled(room, entry),
            words.get("material", "").strip(),
            words,
            room.units,
            by=words.get("by", "proof"),
            law=words.get("law", ""),
        )
    except GaugewrightError as error:
        return _one(request, rooms.room(request), entry, (words, error))
    return RedirectResponse(_url(room, entry), status_code=303)


@router.get("/c/{name}/results/coupons/{label:path}")
def show(request: Request, label: str, numbers: int | None = None) -> Response:
    """One coupon; ``numbers`` asks for those behind one of its figures."""
    room = rooms.room(request)
    entry = _entry(room, label)
    if numbers is None:
        return _one(request, room, entry, ({}, None))
    if coupons.was_to_and_fro(room.store, room.book, entry):
        return _csv(label, coupon_plots.cyclic_figures(_cyclic(room, entry), room.units), numbers)
    return _csv(label, coupon_plots.figures(_pulled(room, entry), room.units), numbers)


def _entry(room: rooms.Room, label: str) -> Entry[CouponTest]:
    entry = next((e for e in room.book.of(CouponTest) if e.record.label == label), None)
    if entry is None:
        raise NotThere("coupon", label, "one of this campaign", "look at the list of coupons")
    return entry


def _one(
    request: Request,
    room: rooms.Room,
    entry: Entry[CouponTest],
    asked: tuple[dict[str, str], GaugewrightError | None],
) -> Response:
    if coupons.was_to_and_fro(room.store, room.book, entry):
        cyclic = _cyclic(room, entry)
        context = _cyclic_page(room, cyclic, coupon_plots.cyclic_figures(cyclic, room.units))
    else:
        found = _pulled(room, entry)
        context = _page(room, found, coupon_plots.figures(found, room.units), asked)
    status = 200 if asked[1] is None else 422
    return frame.page(request, "results_coupon.html", context, status=status)


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


def _page(
    room: rooms.Room,
    found: CouponResult,
    drawings: tuple[CouponFigure, ...],
    asked: tuple[dict[str, str], GaugewrightError | None],
) -> CouponPage:
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
        action=_url(room, entry),
        fields=coupon_form.metal_fields(room, asked[0]),
        failure="" if asked[1] is None else str(asked[1]),
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
        action="",
        fields=(),
        failure="",
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
