"""The rows of a report that speak of gauges: as built, gate by gate, in doubt, found wrong."""

from datetime import datetime, timedelta

from gaugewright.present.captions import listed
from gaugewright.present.numbers import significant_text
from gaugewright.present.units_shown import in_shown, quantity_shown, unit_shown
from gaugewright.records import Entry
from gaugewright.records.electrical import Channel
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Gate, GateCheck, Verdict
from gaugewright.records.readings import Decision, Finding, Recording, Severity
from gaugewright.report.document import FindingRow, GateRow, Gates, GaugeRow, RegisterRow
from gaugewright.services.reading.series import EPOCH, recording_time
from gaugewright.services.showing.page import UNUSABLE, Page

__all__ = [
    "began",
    "cautions",
    "finding_row",
    "finding_rows",
    "gate_table",
    "gauge_rows",
    "register_rows",
]

_VERDICTS = {
    Verdict.PASS: "pass",
    Verdict.FAIL: "fail",
    Verdict.CANNOT_TELL: "can't tell",
}
GATE_FAILED = "gate failed"
# Findings whose measured number without unit is a strain; the others' are shares.
_OF_STRAIN = ("differs from similar gauges",)


def gauge_rows(page: Page) -> tuple[GaugeRow, ...]:
    """Every gauge as built, in the order they were entered."""
    return tuple(_gauge_row(page, gauge) for gauge in page.book.of(Gauge))


def _gauge_row(page: Page, gauge: Entry[Gauge]) -> GaugeRow:
    book = page.book
    station, pack = book.station_of(gauge).record, book.pack_of(gauge).record
    distance = station.distance_built
    length = unit_shown("distance", page.system).text
    where = in_shown(
        distance.value if distance else station.distance_planned, "distance", page.system
    )
    angle = station.angle_built.value if station.angle_built else station.angle_planned
    place = f"{book.bar_of(gauge).record.label}, {significant_text(where)} {length}"
    grid = quantity_shown("distance", pack.grid_length, None, page.system).text
    turned = quantity_shown("angle", gauge.record.angle_to_axis, None, page.system).text
    circuit = page.circuit_of(gauge)
    return GaugeRow(
        gauge.record.label,
        page.state(gauge).value,
        place if distance else f"{place} (as planned)",
        quantity_shown("angle", angle, None, page.system).text,
        f"{grid} grid at {turned} to the axis"
        + (f", {circuit.record.topology.value}" if circuit else ", not wired"),
        page.stated("gauge_factor", pack.gauge_factor),
        page.stated("gauge_resistance", pack.gauge_resistance),
        f"lot {pack.lot}",
        _channel(page, gauge),
    )


def _channel(page: Page, gauge: Entry[Gauge]) -> str:
    circuit = page.circuit_of(gauge)
    connections = page.book.connections_of(circuit.uid) if circuit else ()
    if not connections:
        return ""
    return page.book.entry(connections[-1].record.channel, Channel).record.label


def gate_table(page: Page) -> Gates:
    """Verdict of every gauge at every gate that was held; the last one where there were several."""
    last: dict[tuple[str, Gate], Entry[GateCheck]] = {}
    for check in sorted(page.book.of(GateCheck), key=_measured):
        last[check.record.gauge, check.record.gate] = check
    gates = [gate for gate in Gate if any(key[1] is gate for key in last)]
    if not gates:
        return Gates()
    rows = []
    for gauge in page.book.of(Gauge):
        mine = [last.get((gauge.uid, gate)) for gate in gates]
        words = tuple(_VERDICTS[check.record.verdict] if check else "" for check in mine)
        reasons = [c.record.reason for c in mine if c and c.record.verdict is not Verdict.PASS]
        rows.append(GateRow(gauge.record.label, words, "; ".join(dict.fromkeys(reasons))))
    return Gates(tuple(gate.value for gate in gates), tuple(rows))


def register_rows(page: Page) -> tuple[RegisterRow, ...]:
    """Gauges that no answer rests on, since when and why."""
    rows = []
    for gauge in page.book.of(Gauge):
        state = page.state(gauge)
        if state not in UNUSABLE:
            continue
        grave = [
            entry
            for entry in page.book.of(Finding)
            if entry.record.subject == gauge.uid
            and entry.record.decision is not Decision.REJECTED
            and entry.record.severity is not Severity.NOTE
        ]
        grave.sort(key=lambda entry: entry.record.severity is not Severity.LOST)
        rows.append(
            RegisterRow(
                gauge.record.label,
                state.value,
                page.moment(min(began(page, entry) for entry in grave)),
                "; ".join(entry.record.sentence for entry in grave),
            )
        )
    return tuple(rows)


def began(page: Page, finding: Entry[Finding]) -> datetime:
    """When what a finding tells of began; when it was found, where nothing says more."""
    record = finding.record
    if record.code == GATE_FAILED and (failed := _first_failed(page, record.subject)):
        return failed
    if record.recording is None or record.first_row is None:
        return finding.at
    recording = page.book.entry(record.recording, Recording)
    seconds = recording_time(page.desk.store, page.book, recording)[record.first_row]
    return EPOCH + timedelta(seconds=float(seconds))


def _measured(check: Entry[GateCheck]) -> datetime:
    """When a check was held; it may have been entered long after."""
    return max(reading.measured for reading in check.record.readings)


def _first_failed(page: Page, gauge: Uid) -> datetime | None:
    """When a gauge failed the first gate that it has not passed since."""
    first = None
    checks = [c for c in page.book.of(GateCheck) if c.record.gauge == gauge]
    for check in (entry.record for entry in sorted(checks, key=_measured)):
        if check.verdict is Verdict.PASS:
            first = None
        elif check.verdict is Verdict.FAIL and first is None:
            first = max(reading.measured for reading in check.readings)
    return first


def finding_rows(page: Page) -> tuple[FindingRow, ...]:
    """Every finding with its number, its limit and what was decided; open ones first."""
    entries = sorted(
        page.book.of(Finding), key=lambda entry: entry.record.decision is not Decision.OPEN
    )
    return tuple(finding_row(page, entry) for entry in entries)


def finding_row(page: Page, entry: Entry[Finding]) -> FindingRow:
    """A finding with its number, its limit and what was decided."""
    record = entry.record
    decision = record.decision.value
    if record.decision is not Decision.OPEN:
        person = page.book.label(entry.person) if entry.person else "nobody named"
        decision = f"{decision}, {person}: {record.reason}"
    return FindingRow(
        page.book.label(record.subject),
        record.sentence,
        _evidence(page, record, record.measured),
        _evidence(page, record, record.limit),
        decision,
    )


def _evidence(page: Page, finding: Finding, value: float) -> str:
    if finding.unit == "1" and finding.code not in _OF_STRAIN:
        return significant_text(value, 3)
    unit = unit_shown("strain", page.system) if finding.unit == "1" else None
    if unit is not None:
        return f"{significant_text(value / unit.factor, 3)} {unit.text}"
    return page.number(value, None, finding.unit).text


def cautions(page: Page) -> tuple[str, ...]:
    """What a reader must know before using a number."""
    words: list[str] = []
    findings = page.book.of(Finding)
    undecided = [f.record.subject for f in findings if f.record.decision is Decision.OPEN]
    if undecided:
        names = page.labels(tuple(dict.fromkeys(undecided)))
        words.append(
            f"Findings on {listed(names)} are open: nobody has accepted or excluded them yet."
        )
    unusable = [g.record.label for g in page.book.of(Gauge) if page.state(g) in UNUSABLE]
    if unusable:
        words.append(f"No answer rests on {listed(unusable)}: doubtful or lost.")
    words.append(
        "A gauge shows the strain under its grid. Near cracks the strain of a bar changes within "
        "centimetres; a mean over a length is another number."
    )
    words.append("A strain reading is never a safety device.")
    return tuple(words)
