"""Calibrations of gauged bars: newtons per reading, terms, budget, and a form for a new one."""

from dataclasses import dataclass
from urllib.parse import quote

from fastapi import APIRouter, Form, UploadFile
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.records import Entry
from gaugewright.records.specimen import Bar
from gaugewright.services.calibrating import calibrations
from gaugewright.services.calibrating.shown import CalibrationShown, shown_calibration, told_from
from gaugewright.services.calibrating.table import read_table
from gaugewright.web import frame, rooms
from gaugewright.web.forms import Choice, Field
from gaugewright.web.not_there import NotThere
from gaugewright.web.rooms import Room
from gaugewright.web.uploads import text_of

__all__ = ["BarLine", "CalibrationPage", "CalibrationsPage", "router"]

router = APIRouter()

HEAD = "Calibrated bars"
HINT = (
    "A heading with units, then the rows, such as: series, force [kN], T3-N [mV/V]. A new run "
    "begins wherever the load rises again, or as the column series says."
)


@dataclass(frozen=True, slots=True)
class BarLine:
    """A bar that has circuits, with what its calibrations gave."""

    label: str
    url: str
    found: tuple[CalibrationShown, ...]


@dataclass(frozen=True, slots=True)
class CalibrationsPage:
    """Every bar with circuits, and the form that enters a calibration."""

    sheet: frame.Sheet
    bars: tuple[BarLine, ...]
    action: str
    fields: tuple[Field, ...]
    failure: str


@dataclass(frozen=True, slots=True)
class CalibrationPage:
    """Calibrations of one bar, latest first."""

    sheet: frame.Sheet
    bar: str
    found: tuple[CalibrationShown, ...]
    all_url: str


@router.get("/c/{name}/results/calibrations")
def show_all(request: Request) -> Response:
    """Bars and their calibrations, with the form for one more."""
    return _all(request, rooms.room(request), {}, None)


@router.post("/c/{name}/results/calibrations")
def enter(
    request: Request,
    bar: str = Form(""),
    table: str = Form(""),
    file: UploadFile | None = None,
    measured: str = Form(""),
    load_error: str = Form(""),
    means: str = Form("k=2"),
    certificate: str = Form(""),
    temperature: str = Form(""),
    curve: str = Form("line"),
    valid_until: str = Form(""),
    note: str = Form(""),
) -> Response:
    """Enter a calibration from what was typed or pasted, or from a file."""
    typed = {
        "bar": bar,
        "table": table,
        "measured": measured,
        "load_error": load_error,
        "means": means,
        "certificate": certificate,
        "temperature": temperature,
        "curve": curve,
        "valid_until": valid_until,
        "note": note,
    }
    try:
        room = rooms.room_to_write(request)
        told = told_from(typed, room.store.campaign.record.zone)
        entry = room.book.labelled(Bar, bar)
        calibrations.kept(room.store, entry, read_table(_text(table, file)), told)
    except GaugewrightError as error:
        return _all(request, rooms.room(request), typed, error)
    return RedirectResponse(_url(room, bar), status_code=303)


@router.get("/c/{name}/results/calibrations/{label:path}")
def show(request: Request, label: str) -> Response:
    """Calibrations of one bar."""
    room = rooms.room(request)
    bar = next((b for b in room.book.of(Bar) if b.record.label == label), None)
    if bar is None:
        raise NotThere("bar", label, "one of this campaign", "look at the list of bars")
    title = f"Calibration of {label}"
    context = CalibrationPage(
        frame.Sheet(title, title, _block(room, title), "results"),
        label,
        _found(room, bar),
        room.url("results/calibrations"),
    )
    return frame.page(request, "results_calibration.html", context)


def _text(table: str, file: UploadFile | None) -> str:
    """Rows that were pasted or those of the file, never one in the place of the other."""
    chosen = text_of(file)
    if chosen and table.strip():
        name = file.filename if file is not None else ""
        raise InputError("table", f"both pasted and in {name}", "given once", "empty one of them")
    return chosen or table


def _all(
    request: Request, room: Room, typed: dict[str, str], error: GaugewrightError | None
) -> Response:
    bars = tuple(
        BarLine(bar.record.label, _url(room, bar.record.label), _found(room, bar))
        for bar in room.book.of(Bar)
        if calibrations.circuits_of_bar(room.book, bar)
    )
    context = CalibrationsPage(
        frame.Sheet(HEAD, HEAD, _block(room, HEAD), "results"),
        bars,
        room.url("results/calibrations"),
        _fields(bars, typed),
        "" if error is None else str(error),
    )
    status = 200 if error is None else 422
    return frame.page(request, "results_calibrations.html", context, status=status)


def _fields(bars: tuple[BarLine, ...], typed: dict[str, str]) -> tuple[Field, ...]:
    def value(name: str, plain: str = "") -> str:
        return typed.get(name, plain)

    means = tuple(Choice(word, word) for word in ("k=2", "k=1", "limit"))
    curves = (Choice("line", "straight line"), Choice("cubic", "cubic"))
    choices = tuple(Choice(one.label, one.label) for one in bars)
    return (
        Field("bar", "Bar", value("bar"), choices=choices),
        Field("table", "Table", value("table"), hint=HINT, is_long=True),
        Field(
            "file",
            "Or the table as a file",
            hint="CSV in UTF-8 of 250 kB at most, instead of the rows above",
            kind="file",
        ),
        Field(
            "measured", "Measured", value("measured"), hint="Like 2026-03-04T10:30", is_needed=True
        ),
        Field("load_error", "Doubt of the load", value("load_error"), "%", kind="number"),
        Field("means", "Which is", value("means", "k=2"), choices=means),
        Field("certificate", "Certificate", value("certificate")),
        Field("temperature", "Temperature", value("temperature"), "°C", kind="number"),
        Field("curve", "Curve", value("curve", "line"), choices=curves),
        Field("valid_until", "Valid until", value("valid_until"), hint="A day, or nothing"),
        Field("note", "Note", value("note"), is_long=True),
    )


def _found(room: Room, bar: Entry[Bar]) -> tuple[CalibrationShown, ...]:
    return tuple(
        shown_calibration(room.book, entry, room.units, str(room.zone))
        for entry in calibrations.calibrations_of_bar(room.book, bar)
    )


def _block(room: Room, title: str) -> tuple[tuple[str, str], ...]:
    return frame.room_block(room, title)


def _url(room: Room, bar: str) -> str:
    return room.url(f"results/calibrations/{quote(bar, safe='')}")
