"""The readings a finding is about, drawn beside those of gauges that should read alike."""

from dataclasses import dataclass, replace

import numpy as np

from gaugewright.present.axes import Axis
from gaugewright.present.numbers import fixed_text
from gaugewright.present.plots import Curve, Ink, Plot
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.readings import Finding, Recording
from gaugewright.services.handover_page import UNUSABLE, Page
from gaugewright.services.looking import Seen, Trace, Window, looked_at, seen_in
from gaugewright.services.review_queue import companions

__all__ = ["SpanPlot", "span_plot"]

NEIGHBOURS = 3
BINS = 300
_INKS: tuple[Ink, ...] = ("a", "b", "c", "d")
# These judge a gauge over the whole rise of the load: the plot begins where the record does.
_OVER_THE_RECORD = ("falling away", "differs from similar gauges", "silent")
_MINUTES_FROM = 300.0  # [s] of a plot, from which on minutes are easier to read


@dataclass(frozen=True, slots=True)
class SpanPlot:
    """Plot of a finding's rows and what lies round them, its like for a phone, its caption."""

    plot: Plot
    narrow: Plot
    caption: str


def span_plot(page: Page, entry: Entry[Finding]) -> SpanPlot | None:
    """Plot of a finding; None where it names no rows, or nothing can be drawn of them."""
    finding = entry.record
    if finding.recording is None or finding.first_row is None or finding.last_row is None:
        return None
    recording = page.book.entry(finding.recording, Recording)
    columns = _columns(page, finding, recording)
    if not columns:
        return None
    rows = page.desk.store.readings(recording.uid).rows
    margin = max(finding.last_row - finding.first_row + 1, rows // 20)
    first = 0 if finding.code in _OVER_THE_RECORD else max(finding.first_row - margin, 0)
    last = min(finding.last_row + margin, rows - 1)
    window = looked_at(
        page.desk.store, page.book, recording, columns, first=first, last=last, pixels=BINS
    )
    return _plot(finding, window, recording.record.label)


def _columns(page: Page, finding: Finding, recording: Entry[Recording]) -> list[Seen]:
    """Column of the gauge, then those of its likes in the same recording and unit."""
    seen = seen_in(page.book, recording)
    mine = next((one for one in seen if finding.subject in one.about), None)
    if mine is None:
        return []
    gauge = page.book.entry(finding.subject, Gauge)
    found = [mine]
    # Sound ones first: what can't be believed says little about its neighbour.
    likes = sorted(companions(page.book, gauge), key=lambda g: page.state(g) in UNUSABLE)
    for other in likes:
        column = next((one for one in seen if other.uid in one.about), None)
        if column is not None and column.unit == mine.unit and column not in found:
            found.append(column)
    return found[: 1 + NEIGHBOURS]


def _plot(finding: Finding, window: Window, recording: str) -> SpanPlot | None:
    known = np.isfinite(window.time)
    if not known.any():
        return None
    span = float(np.nanmax(window.time) - np.nanmin(window.time))
    unit, scale = ("min", 60.0) if span > _MINUTES_FROM else ("s", 1.0)
    begin = float(window.time[known][0])
    time = (window.time - begin) / scale
    curves = tuple(
        curve
        for trace, ink in zip(window.traces, _INKS, strict=False)
        if (curve := _curve(trace, time, ink)) is not None
    )
    if not curves:
        return None
    edges = [_time_of(window, time, row) for row in (finding.first_row, finding.last_row)]
    words = ("begins", "ends")
    # At the left edge the word would stand on the axis's own, and the edge says it already.
    near = 0.03 * float(np.nanmax(time))
    verticals = tuple(
        (at, word) for at, word in zip(edges, words, strict=True) if at is not None and at > near
    )
    names = [trace.seen.label for trace in window.traces]
    shown = window.traces[0].seen.unit
    plot = Plot(
        Axis(f"time since row {fixed_text(window.first, 0)}", unit),
        Axis("change of reading since the left edge", shown),
        f"Readings of {', '.join(names)} round the finding, against time",
        curves,
        verticals=verticals if len(set(edges)) > 1 else verticals[:1],
    )
    # On a narrow sheet the name of each line finds a place only when there are few.
    return SpanPlot(plot, replace(plot, curves=curves[:2]), _caption(window, names, recording))


def _curve(trace: Trace, time: FloatArray, ink: Ink) -> Curve | None:
    """Lowest and highest of each bin in turn, from the first reading in sight."""
    good = np.flatnonzero(np.isfinite(trace.low))
    if not good.size:
        return None
    start = (trace.low[good[0]] + trace.high[good[0]]) / 2
    both = np.column_stack((trace.low, trace.high)).reshape(-1) - start
    return Curve(trace.seen.label, np.repeat(time, 2), both, ink)


def _time_of(window: Window, time: FloatArray, row: int | None) -> float | None:
    if row is None:
        return None
    place = int(np.searchsorted(window.row, row, side="right")) - 1
    at = float(time[max(place, 0)])
    return at if np.isfinite(at) else None


def _caption(window: Window, names: list[str], recording: str) -> str:
    bins = (
        "every reading"
        if window.rows_per_bin == 1
        else (f"lowest and highest of every {window.rows_per_bin} readings")
    )
    beside = f", beside {', '.join(names[1:])}" if len(names) > 1 else ""
    return (
        f"{names[0]}{beside} in {recording}: {bins} as written by the recorder, "
        "nothing corrected. Where a line stops, nothing was read."
    )
