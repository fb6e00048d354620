"""Stations from a spreadsheet: pasted or sent, questions beside its columns and rows, then kept."""

import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.present.units_shown import quantity_shown
from gaugewright.services.entering import sheet as plan_entry_sheet
from gaugewright.services.entering.sheet import Understood
from gaugewright.services.entering.sheet_words import Asked, letter
from gaugewright.sources.plan_sheet import Grid, grid_of_text, grid_of_workbook, text_of_grid
from gaugewright.web import frame, rooms
from gaugewright.web.forms import Choice, Field
from gaugewright.web.pages.plan_entry import TakeBack, refs_text, take_back
from gaugewright.web.plan_ways import entry_url
from gaugewright.web.uploads import keep, text_of

__all__ = ["Head", "Line", "SheetPage", "router"]

router = APIRouter()

_ANSWER = "answer "  # fields of answers begin so; the rest are the page's own
_MOST_SHOWN = 300  # rows of the sheet on the page; questions about later ones stand below them
_TEXT = "text"


@dataclass(frozen=True, slots=True)
class Head:
    """A column of the sheet: its letter, heading, what it was taken for, and its questions."""

    letter: str
    heading: str
    role: str
    questions: tuple[Field, ...]


@dataclass(frozen=True, slots=True)
class Line:
    """A row of the sheet with its questions; ``is_heading`` for the row of headings."""

    number: int
    cells: tuple[str, ...]
    questions: tuple[Field, ...]
    is_heading: bool


@dataclass(frozen=True, slots=True)
class SheetPage:
    """The form, and once something was sent the sheet with its questions or its stations."""

    sheet: frame.Sheet
    lead: str
    done: TakeBack | None
    fields: tuple[Field, ...]
    failure: str
    action: str
    text: str
    merged: str
    answered: tuple[tuple[str, str], ...]
    told: tuple[str, ...]
    questions: tuple[Field, ...]
    heads: tuple[Head, ...]
    lines: tuple[Line, ...]
    count: int
    stations: tuple[tuple[str, str, str, str, str, str], ...]
    is_ready: bool
    ways: tuple[tuple[str, str], ...]


async def _sent(request: Request) -> tuple[dict[str, str], UploadFile | None]:
    """What was typed, and the file in memory: a list of stations is small, and sent ones close."""
    async with request.form() as form:
        words = {name: value for name, value in form.items() if isinstance(value, str)}
        file = form.get("file")
        if not isinstance(file, UploadFile) or not file.filename:
            return words, None
        return words, UploadFile(BytesIO(await file.read()), filename=file.filename)


@router.get("/c/{name}/plan/sheet")
def show(request: Request, done: str = "") -> Response:
    """The empty form."""
    return _answer(request, rooms.room(request), {}, done=done)


@router.post("/c/{name}/plan/sheet")
def read(
    request: Request, sent: Annotated[tuple[dict[str, str], UploadFile | None], Depends(_sent)]
) -> Response:
    """Read what was sent; keep its stations once every question is answered."""
    typed, file = sent
    try:
        grid = _grid(rooms.room(request), typed, file)
        if typed.get("act") != "keep":
            return _answer(request, rooms.room(request), typed, grid=grid)
        room = rooms.room_to_write(request)
        found = plan_entry_sheet.understood(room.book, grid, _answers(typed))
        refs = plan_entry_sheet.kept(room.store, found)
    except GaugewrightError as error:
        return _answer(request, rooms.room(request), typed, error=error)
    url = f"{room.url('plan/sheet')}?done={refs_text(refs)}"
    return RedirectResponse(url if len(url) < 4000 else room.url("plan"), status_code=303)


def _grid(room: rooms.Room, typed: Mapping[str, str], file: UploadFile | None) -> Grid:
    """What was sent as a grid: a file first, else the text that was pasted or read before."""
    if file is not None:
        if not (file.filename or "").casefold().endswith(".xlsx"):
            return grid_of_text(text_of(file))
        with tempfile.TemporaryDirectory() as folder:
            received = keep(file, Path(folder), room.store.context)
            return grid_of_workbook(received.path, typed.get("sheet", "").strip())
    text = typed.get(_TEXT, "")
    if not text.strip():
        raise InputError(_TEXT, "", "cells copied from a spreadsheet, or a file beside it")
    grid = grid_of_text(text)
    return Grid(grid.rows, _spans(typed.get("merged", "")))


def _spans(text: str) -> tuple[tuple[int, int, int, int], ...]:
    found = []
    for part in text.split():
        numbers = part.split("-")
        if len(numbers) == 4 and all(number.isdecimal() for number in numbers):
            first, left, last, right = (int(number) for number in numbers)
            found.append((first, left, last, right))
    return tuple(found)


def _answers(typed: Mapping[str, str]) -> dict[str, str]:
    return {
        name.removeprefix(_ANSWER): value.strip()
        for name, value in typed.items()
        if name.startswith(_ANSWER) and value.strip()
    }


def _answer(
    request: Request,
    room: rooms.Room,
    typed: Mapping[str, str],
    *,
    grid: Grid | None = None,
    done: str = "",
    error: GaugewrightError | None = None,
) -> Response:
    found = None
    answers = _answers(typed)
    if grid is not None:
        found = plan_entry_sheet.understood(room.book, grid, answers)
    at = error.name if isinstance(error, InputError) else ""
    fields = _fields(typed, error, is_read=grid is not None)
    known = (_TEXT, "table", "file", "file name", "sheet")
    failure = str(error) if error is not None and at not in known else ""
    context = _page(room, found, answers, fields=fields, failure=failure, done=done)
    return frame.page(request, "plan_sheet.html", context, status=422 if error else 200)


def _fields(
    typed: Mapping[str, str], error: GaugewrightError | None, *, is_read: bool
) -> tuple[Field, ...]:
    """What is pasted or sent, with what is wrong with it."""
    at = error.name if isinstance(error, InputError) else ""
    return (
        Field(
            _TEXT,
            "Cells",
            typed.get(_TEXT, "") if not is_read else "",
            hint="Copy the list in the spreadsheet, headings and all, and paste it here.",
            wrong=str(error) if at in (_TEXT, "table") else "",
            is_long=True,
        ),
        Field(
            "file",
            "Or the file",
            hint="A workbook (.xlsx), or CSV in UTF-8; 250 kB at most.",
            wrong=str(error) if at in ("file", "file name") else "",
            kind="file",
        ),
        Field(
            "sheet",
            "Sheet of the workbook",
            typed.get("sheet", ""),
            hint="Where several have something in them.",
            wrong=str(error) if at == "sheet" else "",
        ),
    )


def _page(
    room: rooms.Room,
    found: Understood | None,
    answers: Mapping[str, str],
    *,
    fields: tuple[Field, ...],
    failure: str,
    done: str,
) -> SheetPage:
    asked = found.asked if found else ()
    shown = len(found.grid.rows[:_MOST_SHOWN]) if found else 0
    beside = [one for one in asked if one.column or 0 < one.row <= shown]
    waiting = {one.key for one in asked}
    title = "Stations from a spreadsheet"
    return SheetPage(
        sheet=frame.Sheet(title, title, frame.room_block(room, title), "plan"),
        lead=_lead(found),
        done=take_back(room, done, "plan/sheet"),
        fields=fields,
        failure=failure,
        action=room.url("plan/sheet"),
        text=text_of_grid(found.grid) if found else "",
        merged=" ".join("-".join(map(str, span)) for span in found.grid.merged) if found else "",
        answered=tuple((_ANSWER + key, a) for key, a in answers.items() if key not in waiting),
        told=found.told if found else (),
        questions=tuple(_field(one) for one in asked if one not in beside),
        heads=_heads(found) if found else (),
        lines=_lines(found) if found else (),
        count=len(found.rows) if found else 0,
        stations=tuple(_stations(room, found)) if found and not asked else (),
        is_ready=found.is_ready if found else False,
        ways=(
            ("The plan", room.url("plan")),
            ("Stations in a table", entry_url(room, "stations")),
        ),
    )


def _lead(found: Understood | None) -> str:
    if found is None:
        return (
            "However the list looks, it is read as it is. What isn’t plain is asked beside its "
            "column or row, and nothing is written before you say so."
        )
    if found.asked:
        count = len(found.asked)
        return f"{count} question{'s' if count > 1 else ''} first. Nothing is written yet."
    if not found.rows:
        return "No station is left in it. Nothing is written."
    count = len(found.rows)
    return f"{count} station{'s' if count > 1 else ''} can be kept. Nothing is written yet."


def _field(one: Asked) -> Field:
    choices = (Choice("", "choose"), *(Choice(*choice) for choice in one.choices))
    return Field(
        _ANSWER + one.key,
        one.words,
        one.answer,
        wrong=one.wrong,
        choices=choices if one.choices else (),
    )


def _heads(found: Understood) -> tuple[Head, ...]:
    headings = found.grid.rows[found.heading_row - 1] if found.heading_row else ()
    roles = {c.number: c for c in found.columns.columns} if found.columns else {}
    heads = []
    for number in range(1, len(found.grid.rows[0]) + 1):
        column = roles.get(number)
        role = f"{column.role.value}{f', {column.unit}' if column.unit else ''}" if column else ""
        questions = tuple(_field(one) for one in found.asked if one.column == number)
        heading = headings[number - 1] if headings else ""
        heads.append(Head(letter(number), heading, role, questions))
    return tuple(heads)


def _lines(found: Understood) -> tuple[Line, ...]:
    return tuple(
        Line(
            number,
            row,
            tuple(_field(one) for one in found.asked if one.row == number and not one.column),
            number == found.heading_row,
        )
        for number, row in enumerate(found.grid.rows[:_MOST_SHOWN], start=1)
        if any(row)
    )


def _stations(room: rooms.Room, found: Understood) -> list[tuple[str, str, str, str, str, str]]:
    return [
        (
            row.label,
            room.book.label(row.bar),
            quantity_shown("distance", row.distance, None, room.units).text,
            row.datum,
            quantity_shown("angle", row.angle, None, room.units).text,
            f"row {row.row}" + (", a new version" if row.instead_of else ""),
        )
        for row in found.rows
    ]
