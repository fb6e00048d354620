"""Checks that look for what is wrong with one gauge: each returns findings, none changes data."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any, TypeVar, cast

import numpy as np

from gaugewright.calc import quality
from gaugewright.quantities import parse_unit, to_si
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import Censor, GateCheck, Limit, Verdict
from gaugewright.records.readings import Finding, Severity
from gaugewright.services.reading.series import Stretch
from gaugewright.services.reviewing.windows import Outline
from gaugewright.services.strain.strains import Desk

# Code the importers give to the words recorders write when an input is off its scale.
OVER_RANGE = "overrange"

T = TypeVar("T")

__all__ = ["Watched", "failed_gates", "finding", "frozen", "no_reading", "over_range"]


@dataclass(frozen=True, slots=True)
class Watched:
    """A circuit under review, with its gauge and the stretches read through it.

    ``read`` brings the stretches; they aren't held here, so that memory doesn't grow with the
    number of gauges. What is small and asked for more than once is kept by ``once``.
    """

    circuit: Entry[BridgeCircuit]
    gauge: Entry[Gauge]
    read: Callable[[], tuple[Stretch, ...]]
    _kept: dict[str, Any] = field(default_factory=dict, compare=False, repr=False)

    @property
    def stretches(self) -> tuple[Stretch, ...]:
        """Stretches with their readings, in order of time."""
        return self.read()

    @property
    def outlines(self) -> tuple[Outline, ...]:
        """Stretches without their readings."""
        return self.once("outlines", lambda: tuple(Outline.of(s) for s in self.stretches))

    def once(self, name: str, work_out: Callable[[], T]) -> T:
        """What follows from the readings, worked out at its first asking and then kept."""
        if name not in self._kept:
            self._kept[name] = work_out()
        return cast("T", self._kept[name])


def finding(
    watched: Watched,
    code: str,
    stretch: Stretch | Outline | None = None,
    rows: tuple[int, int] | None = None,
    *,
    measured: tuple[float, str],
    limit: Entry[Limit],
    sentence: str,
    severity: Severity,
) -> Finding:
    """Finding against a gauge, at rows of a stretch if it has a place."""
    return Finding(
        code,
        watched.gauge.uid,
        stretch.recording.uid if stretch else None,
        rows[0] if rows else None,
        rows[1] if rows else None,
        measured[0],
        measured[1],
        limit.record.value,
        limit.record.source,
        sentence,
        severity,
    )


def over_range(desk: Desk, watched: Watched) -> Iterator[Finding]:
    """Over-range marks written by the recorder: an open arm drives a bridge off its scale."""
    limit = desk.book.limit("over-range scans")
    for stretch in watched.stretches:
        marks = desk.marks(stretch.recording.uid)
        mine = marks.filter(
            (marks["column"] == stretch.column.name)
            & (marks["code"] == OVER_RANGE)
            & (marks["last_row"] >= stretch.first_row)
            & (marks["first_row"] <= stretch.last_row)
        )
        if not mine.height:
            continue
        # A mark may run on past the plug that ended this stretch.
        firsts = np.maximum(mine["first_row"].to_numpy(), stretch.first_row)
        lasts = np.minimum(mine["last_row"].to_numpy(), stretch.last_row)
        rows = int((lasts - firsts + 1).sum())
        if rows < limit.record.value:
            continue
        first, last = int(firsts.min()), int(lasts.max())
        to_the_end = last == stretch.last_row
        yield finding(
            watched,
            "over-range",
            stretch,
            (first, last),
            measured=(float(rows), "scans"),
            limit=limit,
            sentence=f"{watched.gauge.record.label} was off the recorder's scale for {rows} scans "
            f"from row {first} of {stretch.recording.record.label}"
            + (", to the end of the record: open arm" if to_the_end else " and came back"),
            severity=Severity.LOST if to_the_end else Severity.DOUBTFUL,
        )


def no_reading(desk: Desk, watched: Watched) -> Iterator[Finding]:
    """Cells without a number for another reason than over-range, to the end of a record."""
    limit = desk.book.limit("over-range scans")
    for stretch in watched.stretches:
        empty = quality.spans_where(~np.isfinite(stretch.reading))
        if not empty or empty[-1].last != stretch.reading.size - 1:
            continue
        span = empty[-1]
        marks = desk.marks(stretch.recording.uid)
        first = stretch.first_row + span.first
        marked = marks.filter(
            (marks["column"] == stretch.column.name)
            & (marks["code"] == OVER_RANGE)
            & (marks["last_row"] >= first)
            & (marks["first_row"] <= stretch.last_row)
        )
        if marked.height or span.rows < limit.record.value:
            continue
        yield finding(
            watched,
            "no reading",
            stretch,
            (first, stretch.last_row),
            measured=(float(span.rows), "scans"),
            limit=limit,
            sentence=f"{watched.gauge.record.label} wrote no number for the last {span.rows} scans "
            f"of {stretch.recording.record.label}",
            severity=Severity.LOST,
        )


def frozen(desk: Desk, watched: Watched) -> Iterator[Finding]:
    """Readings that repeat to the last digit for longer than noise allows."""
    limit = desk.book.limit("frozen scans")
    for stretch in watched.stretches:
        runs = quality.equal_runs(stretch.reading, at_least=max(2, int(limit.record.value)))
        if not runs:
            continue
        longest = max(runs, key=lambda run: run.rows)
        first, last = stretch.first_row + longest.first, stretch.first_row + longest.last
        to_the_end = longest.last == stretch.reading.size - 1
        edge = _at_edge(desk, stretch, float(stretch.reading[longest.first]))
        yield finding(
            watched,
            "clipped" if edge else "frozen",
            stretch,
            (first, last),
            measured=(float(longest.rows), "scans"),
            limit=limit,
            sentence=f"{watched.gauge.record.label} read the same to the last digit for "
            f"{longest.rows} scans from row {first} of {stretch.recording.record.label}"
            + (", at the end of the channel's range" if edge else ""),
            severity=Severity.LOST if to_the_end else Severity.DOUBTFUL,
        )


def _at_edge(desk: Desk, stretch: Stretch, reading: float) -> bool:
    setting = desk.book.setting_of(stretch.connection).record
    unit = parse_unit(setting.unit)
    edges = [edge for edge in (setting.range_low, setting.range_high) if edge is not None]
    return unit is not None and any(
        bool(np.isclose(reading, to_si(edge, unit), rtol=1e-3)) for edge in edges
    )


def failed_gates(desk: Desk, watched: Watched) -> Iterator[Finding]:
    """A gauge whose last gate failed: it was known before the test that it can't be believed."""
    checks = [c for c in desk.book.of(GateCheck) if c.record.gauge == watched.gauge.uid]
    checks.sort(key=lambda check: max(r.measured for r in check.record.readings))
    if not checks or checks[-1].record.verdict is not Verdict.FAIL:
        return
    last = checks[-1].record
    measured, limit = _what_failed(desk, watched, last)
    yield finding(
        watched,
        "gate failed",
        measured=measured,
        limit=limit,
        sentence=f"{watched.gauge.record.label} failed the gate {last.gate.value}: {last.reason}",
        severity=Severity.LOST if measured[1] == "open pairs" else Severity.DOUBTFUL,
    )


def _what_failed(
    desk: Desk, watched: Watched, check: GateCheck
) -> tuple[tuple[float, str], Entry[Limit]]:
    """Number that speaks against the gauge at a gate, and the limit it is held to.

    Open pairs first, then insulation, then how far the resistance stands from its nominal.
    """
    from_nominal = desk.book.limit("gauge resistance from nominal")
    open_pairs = sum(reading.censor is Censor.OPEN for reading in check.readings)
    if open_pairs:
        return (float(open_pairs), "open pairs"), from_nominal
    leak = desk.book.limit("insulation after pour")
    values = {r.what: r.value for r in check.readings if r.value is not None}
    insulation = values.get("insulation")
    if insulation is not None and insulation < leak.record.value:
        return (insulation, "ohm"), leak
    nominal = desk.book.pack_of(watched.gauge).record.gauge_resistance.value
    pairs = [values[what] / nominal - 1 for what in ("A-B", "A-C") if what in values]
    return (max(pairs, key=abs, default=0.0), "of nominal resistance"), from_nominal
