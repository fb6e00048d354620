"""The readings a finding is about, drawn beside those of gauges that should read alike."""

from dataclasses import dataclass, replace

import numpy as np

from gaugewright.calc.first_loading import first_loading
from gaugewright.errors import InputError
from gaugewright.present.axes import Axis
from gaugewright.present.numbers import fixed_text
from gaugewright.present.plots import Curve, Ink, Plot
from gaugewright.present.series import kept_rows
from gaugewright.present.units_shown import series_shown, unit_shown
from gaugewright.quantities import FloatArray, parse_unit
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import Gauge
from gaugewright.records.readings import Finding, Recording
from gaugewright.services.bars.together import quarter_circuits
from gaugewright.services.deciding.queue import companions
from gaugewright.services.reading.looking import Seen, Trace, Window, looked_at, seen_in
from gaugewright.services.reading.series import stretches_of
from gaugewright.services.showing.page import UNUSABLE, Page
from gaugewright.services.under_load.record import GaugeRecord, single_record

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
    if finding.code == "falling away":
        against = _against_load(page, finding)
        if against is not None:
            return against
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
    edge = _end_of_range(page, finding, window) if finding.code == "clipped" else None
    return _plot(finding, window, recording.record.label, edge)


def _against_load(page: Page, finding: Finding) -> SpanPlot | None:
    """Strain against load on the first loading, where a gauge that falls away parts from its likes.

    None where none can be reduced: the readings against time are drawn then.
    """
    circuits = {gauge.uid: (circuit, gauge) for circuit, gauge in quarter_circuits(page.desk)}
    gauge = page.book.entry(finding.subject, Gauge)
    wanted = [gauge, *sorted(companions(page.book, gauge), key=lambda g: page.state(g) in UNUSABLE)]
    curves: list[Curve] = []
    for one in wanted:
        if one.uid not in circuits or len(curves) > NEIGHBOURS:
            continue
        try:
            record = single_record(page.desk, *circuits[one.uid])
        except InputError:
            if one.uid == gauge.uid:
                return None
            continue
        curves.append(_load_curve(page, record, _INKS[len(curves)]))
    if not curves or not np.isfinite(curves[0].y).any():
        return None
    names = [curve.label for curve in curves]
    plot = Plot(
        Axis("load", unit_shown("force", page.system).text),
        Axis("strain at the gauge", unit_shown("strain", page.system).text),
        f"Strain of {', '.join(names)} against load on the first loading",
        tuple(curves),
    )
    caption = (
        f"{names[0]}{' beside ' + ', '.join(names[1:]) if len(names) > 1 else ''}: mechanical "
        "strain while the load was as high as never before, extremes of the readings among what "
        "is drawn. A gauge that comes off rises less and less with the load."
    )
    return SpanPlot(plot, replace(plot, curves=plot.curves[:2]), caption)


def _load_curve(page: Page, record: GaugeRecord, ink: Ink) -> Curve:
    """First loading up to yield: beyond it every bar goes its own way."""
    first = first_loading(record.load)
    material = record.material.record
    if material.yield_strength is not None:
        limit = material.yield_strength.value / material.elastic_modulus.value
        with np.errstate(invalid="ignore"):
            passed = np.flatnonzero(record.strain > limit)
        first[passed[0] if passed.size else first.size :] = False
    rows = np.flatnonzero(first)
    rows = rows[kept_rows(record.load[rows], record.strain[rows], 2 * BINS)]
    return Curve(
        record.label,
        series_shown(record.load[rows], "force", page.system),
        series_shown(record.strain[rows], "strain", page.system),
        ink,
    )


def _end_of_range(page: Page, finding: Finding, window: Window) -> float | None:
    """End of the channel's range that the readings ran into, in the unit of the file."""
    mine = window.traces[0]
    for circuit in page.book.of(BridgeCircuit):
        if finding.subject not in {gauge.uid for gauge in page.book.gauges_of(circuit)}:
            continue
        for stretch in stretches_of(page.desk.store, page.book, circuit.uid):
            if stretch.recording.uid != finding.recording:
                continue
            setting = page.book.setting_of(stretch.connection).record
            written, shown = parse_unit(setting.unit), parse_unit(mine.seen.unit)
            ends = [end for end in (setting.range_low, setting.range_high) if end is not None]
            if written is None or shown is None or not ends:
                return None
            inside = (window.row >= (finding.first_row or 0)) & np.isfinite(mine.high)
            stood = float(mine.high[inside][0]) if inside.any() else 0.0
            in_file = [end * written.factor / shown.factor for end in ends]
            return min(in_file, key=lambda end: abs(end - stood))
    return None


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


def _plot(
    finding: Finding, window: Window, recording: str, edge: float | None = None
) -> SpanPlot | None:
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
        if (curve := _curve(trace, time, ink, counts_from_zero=edge is not None)) is not None
    )
    if not curves:
        return None
    # Beside the end of a range readings stand as they were written.
    up = "change of reading since the left edge" if edge is None else "reading as received"
    ends = () if edge is None else (_range_line(time, edge),)
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
        Axis(up, shown),
        f"Readings of {', '.join(names)} round the finding, against time",
        (*curves, *ends),
        verticals=verticals if len(set(edges)) > 1 else verticals[:1],
    )
    # On a narrow sheet the name of each line finds a place only when there are few.
    narrow = replace(plot, curves=(*curves[: 1 if ends else 2], *ends))
    return SpanPlot(plot, narrow, _caption(window, names, recording))


def _range_line(time: FloatArray, edge: float) -> Curve:
    """A level line where the channel's range ends."""
    known = time[np.isfinite(time)]
    ends = np.asarray([known[0], known[-1]])
    return Curve("end of the range", ends, np.asarray([edge, edge]), "d")


def _start_of(trace: Trace) -> float:
    """First reading in sight, that a curve counts from."""
    good = np.flatnonzero(np.isfinite(trace.low))
    return float(trace.low[good[0]] + trace.high[good[0]]) / 2 if good.size else 0.0


def _curve(
    trace: Trace, time: FloatArray, ink: Ink, *, counts_from_zero: bool = False
) -> Curve | None:
    """Lowest and highest of each bin in turn, from the first reading in sight or from zero."""
    good = np.flatnonzero(np.isfinite(trace.low))
    if not good.size:
        return None
    both = np.column_stack((trace.low, trace.high)).reshape(-1)
    both = both if counts_from_zero else both - _start_of(trace)
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
