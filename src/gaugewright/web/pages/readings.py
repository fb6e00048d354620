"""Readings: what was recorded, and each recording looked at through a window."""

from collections.abc import Iterator
from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from gaugewright.errors import InputError
from gaugewright.present.cells import csv_text
from gaugewright.records import Entry
from gaugewright.records.electrical import Instrument
from gaugewright.records.readings import Recording
from gaugewright.services.reading import arrivals, looking
from gaugewright.services.reading.looking import Seen, Window
from gaugewright.web import frame, plotted, rooms
from gaugewright.web.pages.events import LATEST, EventRow, NoteForm, event_rows, note_form
from gaugewright.web.plotted import Panel, TableRow, ZoomLink
from gaugewright.web.recording_words import (
    clock_words,
    count,
    marks_words,
    recording_named,
    recording_url,
    start_words,
)
from gaugewright.web.rooms import Room

__all__ = ["ReadingsPage", "RecordingPage", "TablePage", "router"]

router = APIRouter()

FIRST_CHANNELS = 3
MOST_CHANNELS = 12
PIXELS = 600
MOST_PIXELS = 2400


@dataclass(frozen=True, slots=True)
class RecordingRow:
    """A recording in the list."""

    label: str
    url: str
    file: str
    begins: str
    rows: str
    reported: str
    marks: tuple[str, ...]
    channels: str
    instrument: str
    sha256: str
    clock: str


@dataclass(frozen=True, slots=True)
class ReadingsPage:
    """Recordings, files that wait, and the latest events."""

    sheet: frame.Sheet
    lead: str
    rows: tuple[RecordingRow, ...]
    import_url: str
    test_day_url: str
    waiting: str
    note: NoteForm
    events: tuple[EventRow, ...]
    events_url: str
    all_events_url: str


@dataclass(frozen=True, slots=True)
class ChannelChoice:
    """A channel that may be looked at: the label people know, and the file's own name."""

    value: str
    label: str
    column: str
    unit: str
    is_chosen: bool


@dataclass(frozen=True, slots=True)
class FindingRow:
    """A finding on what is looked at, and the window that shows it."""

    label: str
    code: str
    sentence: str
    decision: str
    url: str


@dataclass(frozen=True, slots=True)
class RecordingPage:
    """A recording through a window."""

    sheet: frame.Sheet
    label: str
    lead: str
    facts: tuple[tuple[str, str], ...]
    choices: tuple[ChannelChoice, ...]
    panels: tuple[Panel, ...]
    window_words: str
    links: tuple[ZoomLink, ...]
    findings: tuple[FindingRow, ...]
    happenings: tuple[str, ...]
    tare: tuple[tuple[str, str, str], ...]
    first: int
    last: int
    data_url: str
    page_url: str
    table_url: str
    csv_url: str
    failure: str


@dataclass(frozen=True, slots=True)
class TablePage:
    """The numbers of a window as a table."""

    sheet: frame.Sheet
    label: str
    window_words: str
    heads: tuple[str, ...]
    units: tuple[str, ...]
    rows: tuple[TableRow, ...]
    plot_url: str
    csv_url: str


@router.get("/c/{name}/readings")
def show(request: Request) -> Response:
    """Every recording."""
    room = rooms.room(request)
    entries = room.book.of(Recording)
    waits = len(arrivals.arrivals(room.store))
    context = ReadingsPage(
        sheet=frame.Sheet("Readings", "Readings", _block(room, "Readings"), step="readings"),
        lead=_lead(room),
        rows=tuple(_row(room, entry) for entry in entries),
        import_url=room.url("import"),
        test_day_url=room.url("test-day"),
        waiting="" if not waits else f"{waits} {'file waits' if waits == 1 else 'files wait'}",
        note=note_form(room, back="readings"),
        events=event_rows(room, LATEST),
        events_url=room.url("events?some=latest"),
        all_events_url=room.url("events"),
    )
    return frame.page(request, "readings.html", context, part="_recordings.html")


@router.get("/c/{name}/readings/{recording}")
def recording(request: Request, recording: str) -> Response:
    """A recording through a window; without one, all of it."""
    room = rooms.room(request)
    entry = recording_named(room, recording)
    failure = ""
    try:
        window = _asked(request, room, entry)
    except InputError as error:
        failure = str(error)
        first_few = looking.seen_in(room.book, entry)[:FIRST_CHANNELS]
        window = _window(room, entry, first_few, (None, None), PIXELS)
    context = _recording_page(room, entry, window, failure)
    return frame.page(request, "recording.html", context, status=422 if failure else 200)


@router.get("/c/{name}/readings/{recording}/data")
def data(request: Request, recording: str) -> Response:
    """The numbers of a window for the script that draws it."""
    room = rooms.room(request)
    entry = recording_named(room, recording)
    window = _asked(request, room, entry)
    return JSONResponse(plotted.told(room, window))


@router.get("/c/{name}/readings/{recording}/table")
def table(request: Request, recording: str) -> Response:
    """The numbers of a window as a table."""
    room = rooms.room(request)
    entry = recording_named(room, recording)
    window = _asked(request, room, entry)
    heads, units = plotted.heads(window)
    title = f"{entry.record.label} as a table"
    context = TablePage(
        sheet=frame.Sheet(title, "Readings as a table", _block(room, title), step="readings"),
        label=entry.record.label,
        window_words=plotted.words(window),
        heads=heads,
        units=units,
        rows=plotted.rows(room, window),
        plot_url=_address(room, window),
        csv_url=_address(room, window, "/table.csv"),
    )
    return frame.page(request, "recording_table.html", context)


@router.get("/c/{name}/readings/{recording}/table.csv")
def as_csv(request: Request, recording: str) -> Response:
    """The numbers of a window as CSV, in which no cell begins a formula."""
    room = rooms.room(request)
    entry = recording_named(room, recording)
    window = _asked(request, room, entry)
    text = csv_text(plotted.csv_heads(window), plotted.csv_rows(room, window))
    name = f"rows-{window.first}-{window.last}.csv"
    return Response(
        text.encode("utf-8"),
        media_type="text/csv; charset=utf-8",
        headers={"content-disposition": f'attachment; filename="{name}"'},
    )


def _asked(request: Request, room: Room, entry: Entry[Recording]) -> Window:
    """Window that an address asks for: channels, rows and width; what isn't said is chosen here."""
    told = request.query_params
    chosen = _chosen(looking.seen_in(room.book, entry), told.getlist("channel"))
    rows = (_whole(told.get("first"), "first"), _whole(told.get("last"), "last"))
    return _window(room, entry, chosen, rows, _whole(told.get("pixels"), "pixels") or PIXELS)


def _whole(text: str | None, name: str) -> int | None:
    if not text:
        return None
    if not (text.isascii() and text.isdecimal() and len(text) <= 15):
        raise InputError(name, text, "a whole number, 0 or more")
    return int(text)


def _chosen(seen: tuple[Seen, ...], named: list[str]) -> tuple[Seen, ...]:
    """Channels by label, or by the file's name where two share a label.

    Raises
    ------
    InputError
        If a name isn't one of this recording, or there are too many.
    """
    if not named:
        return seen[:FIRST_CHANNELS]
    known = {_value(seen, each): each for each in seen} | {each.column: each for each in seen}
    for name in named:
        if name not in known:
            allowed = "one of " + ", ".join(_value(seen, each) for each in seen)
            raise InputError("channel", name, allowed)
    if len(set(named)) > MOST_CHANNELS:
        raise InputError("channels", len(set(named)), f"at most {MOST_CHANNELS} at once")
    wanted = {known[name].field for name in named}
    return tuple(each for each in seen if each.field in wanted)


def _value(seen: tuple[Seen, ...], one: Seen) -> str:
    shares = sum(each.label == one.label for each in seen)
    return one.label if shares == 1 else one.column


def _window(
    room: Room,
    entry: Entry[Recording],
    chosen: tuple[Seen, ...],
    rows: tuple[int | None, int | None],
    pixels: int,
) -> Window:
    if not 12 <= pixels <= MOST_PIXELS:
        raise InputError("pixels", pixels, f"from 12 to {MOST_PIXELS}")
    first = rows[0] if rows[0] is not None else 0
    last = rows[1] if rows[1] is not None else entry.record.rows - 1
    return looking.looked_at(
        room.store, room.book, entry, chosen, first=first, last=last, pixels=pixels
    )


def _recording_page(
    room: Room, entry: Entry[Recording], window: Window, failure: str
) -> RecordingPage:
    label = entry.record.label
    seen = looking.seen_in(room.book, entry)
    chosen = {trace.seen.field for trace in window.traces}
    return RecordingPage(
        sheet=frame.Sheet(label, "Recording", _block(room, label), step="readings"),
        label=label,
        lead=f"{count(entry.record.rows)} rows from {start_words(room, entry)}, as received.",
        facts=_facts(room, entry),
        choices=tuple(
            ChannelChoice(
                _value(seen, each), each.label, each.column, each.unit, each.field in chosen
            )
            for each in seen
        ),
        panels=plotted.panels(window),
        window_words=plotted.words(window),
        links=plotted.links(window, lambda first, last: _address(room, window, rows=(first, last))),
        findings=tuple(_findings(room, window)),
        happenings=tuple(plotted.happening_words(room, each) for each in window.happenings),
        tare=_tare(entry),
        first=window.first,
        last=window.last,
        data_url=_address(room, window, "/data"),
        page_url=recording_url(room, entry),
        table_url=_address(room, window, "/table"),
        csv_url=_address(room, window, "/table.csv"),
        failure=failure,
    )


def _facts(room: Room, entry: Entry[Recording]) -> tuple[tuple[str, str], ...]:
    record = entry.record
    marks = "; ".join(marks_words(room, entry)) or "none: every cell held a reading"
    return (
        ("File", record.file_name),
        ("Instrument", _instrument(room, entry)),
        ("Rows", f"{count(record.rows)} kept, {count(record.rows_reported)} reported"),
        ("No reading", marks),
        ("Clock", clock_words(room, entry)),
        ("SHA-256", record.original_sha256),
    )


def _tare(entry: Entry[Recording]) -> tuple[tuple[str, str, str], ...]:
    """Column, value with the column's unit, and line of each value ahead of the record."""
    units = {column.name: column.unit for column in entry.record.columns}
    return tuple(
        (one.column, f"{one.text} {units.get(one.column, '')}".rstrip(), f"line {one.line}")
        for one in entry.record.tare_values
    )


def _findings(room: Room, window: Window) -> Iterator[FindingRow]:
    """Findings on the channels shown, wherever they are in the recording, each with its window."""
    seen = [trace.seen for trace in window.traces]
    for label, entry in looking.findings_on(room.book, window.recording, seen):
        finding = entry.record
        first, last = finding.first_row or 0, finding.last_row or 0
        around = (last - first + 1) // 10
        rows = (max(first - around, 0), min(last + around, window.rows - 1))
        yield FindingRow(
            label,
            finding.code,
            finding.sentence,
            finding.decision.value,
            _address(room, window, rows=rows),
        )


def _address(
    room: Room, window: Window, rest: str = "", *, rows: tuple[int, int] | None = None
) -> str:
    first, last = rows or (window.first, window.last)
    query = plotted.query([trace.seen.column for trace in window.traces], first, last)
    return recording_url(room, window.recording, rest) + "?" + query


def _row(room: Room, entry: Entry[Recording]) -> RecordingRow:
    record = entry.record
    return RecordingRow(
        label=record.label,
        url=recording_url(room, entry),
        file=record.file_name,
        begins=start_words(room, entry),
        rows=count(record.rows),
        reported=count(record.rows_reported),
        marks=marks_words(room, entry),
        channels=count(sum(column.role == "value" for column in record.columns)),
        instrument=_instrument(room, entry),
        sha256=record.original_sha256[:12],
        clock=clock_words(room, entry),
    )


def _instrument(room: Room, entry: Entry[Recording]) -> str:
    uid = entry.record.instrument
    if uid is None:
        return "none chosen"
    return room.book.entry(uid, Instrument).record.label


def _lead(room: Room) -> str:
    entries = room.book.of(Recording)
    if not entries:
        return "Nothing is recorded yet."
    kept = sum(entry.record.rows for entry in entries)
    reported = sum(entry.record.rows_reported for entry in entries)
    told = f"{count(reported)} lines that were no rows are reported" if reported else "no line lost"
    one = len(entries) == 1
    return f"{len(entries)} recording{'' if one else 's'}, {count(kept)} rows kept; {told}."


def _block(room: Room, sheet: str) -> tuple[tuple[str, str], ...]:
    return frame.room_block(
        room,
        sheet,
        zero="none subtracted: readings as received",
        chain="none: units and signs of the file",
        coverage="none stated for raw readings",
    )
