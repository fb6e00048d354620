"""A window of readings as drawings, numbers for the script, a table, and links that zoom."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from gaugewright.errors import InputError
from gaugewright.present import plots
from gaugewright.present.numbers import fixed_text, significant_text
from gaugewright.present.plots import Axis, Curve, Ink, Plot
from gaugewright.quantities import FloatArray
from gaugewright.services.reading.looking import (
    Happening,
    Span,
    Trace,
    Window,
    drawn_line,
    extent,
    instants,
    time_span,
)
from gaugewright.web.rooms import Room

__all__ = [
    "Panel",
    "TableRow",
    "ZoomLink",
    "csv_heads",
    "csv_rows",
    "happening_words",
    "heads",
    "links",
    "panels",
    "query",
    "rows",
    "told",
    "words",
]

INKS: tuple[Ink, ...] = ("a", "b", "c", "d")
WIDE, NARROW = (900.0, 330.0), (420.0, 330.0)
# Longest window shown in a unit of time [s], and the seconds in one of it.
TIME_UNITS = ((600.0, "s", 1.0), (36_000.0, "min", 60.0), (360_000.0, "h", 3600.0))
FEWEST_ROWS = 8


@dataclass(frozen=True, slots=True)
class Panel:
    """Traces of one unit in one drawing, wide and narrow, with words for who can't see it."""

    unit: str
    labels: str
    alt: str
    svg_wide: str
    svg_narrow: str


@dataclass(frozen=True, slots=True)
class ZoomLink:
    """A link to another window; ``key`` does the same from the keyboard. No url: can't be."""

    words: str
    key: str
    url: str
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class TableRow:
    """A bin as a row of the table; ``is_gap`` where nothing stands in any channel."""

    cells: tuple[str, ...]
    is_gap: bool


def query(columns: Sequence[str], first: int, last: int) -> str:
    """Query that names channels and rows."""
    pairs = [("channel", column) for column in columns]
    return urlencode([*pairs, ("first", str(first)), ("last", str(last))])


def words(window: Window) -> str:
    """Which rows are shown and how densely."""
    shown = f"Rows {fixed_text(window.first, 0)} to {fixed_text(window.last, 0)}"
    whole = (
        "all of it"
        if window.last - window.first + 1 == window.rows
        else "of " + fixed_text(window.rows, 0)
    )
    if window.rows_per_bin == 1:
        return f"{shown} ({whole}), every reading."
    per = fixed_text(window.rows_per_bin, 0)
    return f"{shown} ({whole}): lowest and highest of every {per} readings, no peak left out."


def links(window: Window, address: Callable[[int, int], str]) -> tuple[ZoomLink, ...]:
    """Links that zoom and move; one that would change nothing has no address."""
    first, last = window.first, window.last
    length, end = last - first + 1, window.rows - 1
    quarter, half = length // 4, max(length // 2, 1)
    wanted = (
        (
            "Closer",
            "+",
            (first + quarter, last - quarter) if length > FEWEST_ROWS else (first, last),
        ),
        ("Wider", "-", (max(first - half, 0), min(last + half, end))),
        ("Earlier", "ArrowLeft", _moved(first, last, -half, end)),
        ("Later", "ArrowRight", _moved(first, last, half, end)),
        ("All of it", "Home", (0, end)),
    )
    return tuple(
        ZoomLink(name, key, address(*to) if to != (first, last) else "", *to)
        for name, key, to in wanted
    )


def panels(window: Window) -> tuple[Panel, ...]:
    """Drawings of a window: channels of one unit share an axis, at most four of them."""
    unit, seconds = _time_unit(window.time)
    along = Axis("Time since the first row", unit)
    marks = [(each.at / seconds, each.entry.record.kind) for each in window.happenings]
    made = []
    for traces in _grouped(window.traces):
        labels = ", ".join(trace.seen.label for trace in traces)
        alt = _alt(window, traces)
        curves = tuple(
            _curve(window, trace, ink, seconds)
            for trace, ink in zip(traces, INKS[: len(traces)], strict=True)
        )
        up = Axis("Reading as received", traces[0].seen.unit)
        plot = Plot(along, up, alt, curves, verticals=tuple(marks))
        made.append(
            Panel(traces[0].seen.unit, labels, alt, _drawn(plot, WIDE), _drawn(plot, NARROW))
        )
    return tuple(made)


def told(room: Room, window: Window) -> dict[str, Any]:
    """Numbers of a window for the script; a gap is null, never a number."""
    unit, seconds = _time_unit(window.time)
    return {
        "name": window.recording.record.label,
        "first": window.first,
        "last": window.last,
        "rows": window.rows,
        "rows_per_bin": window.rows_per_bin,
        "words": words(window),
        "row": window.row.tolist(),
        "time": _listed(window.time / seconds),
        "time_unit": unit,
        "pause": window.pause.tolist(),
        "panels": [
            {
                "unit": traces[0].seen.unit,
                "alt": _alt(window, traces),
                "traces": [_trace_told(trace) for trace in traces],
            }
            for traces in _grouped(window.traces)
        ],
        "spans": [_span_told(span, seconds) for span in window.spans],
        "events": [
            {
                "at": each.at / seconds,
                "kind": each.entry.record.kind,
                "words": happening_words(room, each),
            }
            for each in window.happenings
        ],
        "links": [
            {"key": link.key, "first": link.first, "last": link.last, "is_there": bool(link.url)}
            for link in links(window, lambda first, last: "there")
        ],
    }


def _span_told(span: Span, seconds: float) -> dict[str, Any]:
    return {
        "label": span.label,
        "code": span.finding.record.code,
        "sentence": span.finding.record.sentence,
        "begins": _number(span.begins / seconds),
        "ends": _number(span.ends / seconds),
        "first": span.first,
        "last": span.last,
    }


def happening_words(room: Room, happening: Happening) -> str:
    """An event inside the window, with its time."""
    event = happening.entry.record
    text = f": {event.text}" if event.text else ""
    return f"{event.at.astimezone(room.zone):%H:%M:%S} {event.kind}{text}"


def heads(window: Window) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Headings of the table and their units."""
    ends = ("",) if window.rows_per_bin == 1 else (", lowest", ", highest")
    names = ["Row", "Time since the first row", "Time of the hall"]
    units = ["", "s", ""]
    for trace in window.traces:
        names += [trace.seen.label + end for end in ends]
        units += [trace.seen.unit] * len(ends)
        names.append(f"{trace.seen.label}, missing")
        units.append("")
    return tuple(names), tuple(units)


def rows(room: Room, window: Window) -> tuple[TableRow, ...]:
    """The numbers of the drawing, bin by bin; what is missing says so."""
    table = csv_rows(room, window)
    columns = [
        _column(list(column), is_row=number == 0)
        for number, column in enumerate(zip(*table, strict=True))
    ]
    gaps = [
        all(math.isnan(trace.low[place]) for trace in window.traces) for place in range(len(table))
    ]
    return tuple(
        TableRow(cells, gap) for cells, gap in zip(zip(*columns, strict=True), gaps, strict=True)
    )


def csv_heads(window: Window) -> tuple[str, ...]:
    """Headings with their units, as one line of CSV has room for."""
    return tuple(
        f"{name} [{unit}]" if unit else name for name, unit in zip(*heads(window), strict=True)
    )


def csv_rows(room: Room, window: Window) -> list[list[str | float]]:
    """Bins as rows: first row, times, then each channel's numbers and what is missing."""
    local = [
        "" if at is None else f"{at.astimezone(room.zone):%Y-%m-%d %H:%M:%S.%f}"[:-3]
        for at in instants(room.book, window.recording, window.time)
    ]
    made: list[list[str | float]] = []
    for place in range(window.row.size):
        row: list[str | float] = [int(window.row[place]), float(window.time[place]), local[place]]
        for trace in window.traces:
            low, high = float(trace.low[place]), float(trace.high[place])
            row += [low] if window.rows_per_bin == 1 else [low, high]
            row.append(_missing(trace, place))
        made.append(row)
    return made


def _missing(trace: Trace, place: int) -> str:
    if not trace.missing[place]:
        return ""
    return "all" if math.isnan(trace.low[place]) else "some"


def _column(values: Sequence[str | float], *, is_row: bool) -> list[str]:
    """Cells of one column, numbers with as many decimals as the finest of them needs."""
    numbers = [value for value in values if not isinstance(value, str) and math.isfinite(value)]
    places = 0 if is_row else max((_places(number) for number in numbers), default=0)
    return [
        value
        if isinstance(value, str)
        else fixed_text(value, places)
        if math.isfinite(value)
        else ""
        for value in values
    ]


def _places(value: float) -> int:
    """Decimals of a number at seven significant digits: as many as 32-bit extremes hold."""
    exact = Decimal(f"{value:.7g}")
    return max(-int(exact.normalize().as_tuple().exponent), 0)


def _moved(first: int, last: int, by: int, end: int) -> tuple[int, int]:
    by = max(by, -first) if by < 0 else min(by, end - last)
    return first + by, last + by


def _grouped(traces: Sequence[Trace]) -> list[list[Trace]]:
    by_unit: dict[str, list[Trace]] = {}
    for trace in traces:
        by_unit.setdefault(trace.seen.unit, []).append(trace)
    size = len(INKS)
    return [
        group[start : start + size]
        for group in by_unit.values()
        for start in range(0, len(group), size)
    ]


def _curve(window: Window, trace: Trace, ink: Ink, seconds: float) -> Curve:
    """Up and down through each bin's extremes, with a gap where rows or readings are missing."""
    along, up = drawn_line(window, trace)
    return Curve(trace.seen.label, along / seconds, up, ink)


def _drawn(plot: Plot, size: tuple[float, float]) -> str:
    """SVG of a plot; "" where no reading is there to be drawn."""
    try:
        return plots.drawn(plot, *size)
    except InputError:
        return ""


def _alt(window: Window, traces: Sequence[Trace]) -> str:
    told = []
    for trace in traces:
        found = extent(trace)
        if found is None:
            told.append(f"{trace.seen.label} has no reading here")
            continue
        low, high = (significant_text(value) for value in found)
        between = f"{low} to {high} {trace.seen.unit}".rstrip()
        gaps = " with gaps" if trace.missing.any() else ""
        told.append(f"{trace.seen.label} from {between}{gaps}")
    return f"Readings of {window.recording.record.label} against time: " + "; ".join(told)


def _trace_told(trace: Trace) -> dict[str, Any]:
    return {
        "label": trace.seen.label,
        "column": trace.seen.column,
        "unit": trace.seen.unit,
        "low": _listed(trace.low),
        "high": _listed(trace.high),
        "gap": trace.missing.tolist(),
    }


def _listed(values: FloatArray) -> list[float | None]:
    return [_number(value) for value in values.tolist()]


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _time_unit(time: FloatArray) -> tuple[str, float]:
    """Unit of the time axis and the seconds in it, by the length of the window."""
    length = time_span(time)
    for longest, unit, seconds in TIME_UNITS:
        if length <= longest:
            return unit, seconds
    return "d", 86_400.0
