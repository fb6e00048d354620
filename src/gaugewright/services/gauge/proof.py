"""How one gauge was proved and read: gates, wires, connections in time, zeros, corrections."""

from dataclasses import dataclass

from gaugewright.present.captions import listed
from gaugewright.present.numbers import Shown, fixed_text, significant_text
from gaugewright.present.units_shown import ohm_signs, quantity_shown
from gaugewright.records import Entry
from gaugewright.records.electrical import (
    Arm,
    BridgeCircuit,
    Channel,
    Connection,
    Instrument,
    Lead,
)
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Gate, GateCheck, GateReading, Meter, Person, Verdict, Zero
from gaugewright.records.readings import Finding, Recording
from gaugewright.records.results import Chain, Result
from gaugewright.records.sensors import TemperaturePoint
from gaugewright.records.stated import Stated
from gaugewright.report.document import ChainTable, FindingRow
from gaugewright.services.gating.typed import with_unit
from gaugewright.services.showing.facts import Fact, stated_fact
from gaugewright.services.showing.page import Page
from gaugewright.services.telling.chains import chain_table
from gaugewright.services.telling.gauges import finding_row
from gaugewright.services.wiring.lists import standing_words

__all__ = [
    "ConnectionRow",
    "GateLine",
    "ResultRow",
    "ZeroRow",
    "chains_of_gauge",
    "circuit_facts",
    "connection_rows",
    "findings_of_gauge",
    "gate_lines",
    "gate_quantities",
    "result_rows",
    "uids_of_gauge",
    "zero_rows",
]


@dataclass(frozen=True, slots=True)
class GateLine:
    """One gauge at one gate: ``readings`` as typed, one for each quantity of the table."""

    gate: str
    at: str
    day: str
    verdict: str
    passed: bool
    readings: tuple[str, ...]
    temperature: str
    reason: str
    person: str


@dataclass(frozen=True, slots=True)
class ConnectionRow:
    """A circuit on a channel, from one moment to another, and how the channel was set."""

    channel: str
    begins: str
    ends: str
    writes: str
    plug: str


@dataclass(frozen=True, slots=True)
class ZeroRow:
    """A zero: reading and temperature with their doubt, and what it is worth on later plugs."""

    kind: str
    at: str
    channel: str
    ratio: Shown
    temperature: Shown
    rows: str
    use: str
    transfer: str


@dataclass(frozen=True, slots=True)
class ResultRow:
    """A result a gauge takes part in."""

    uid: Uid
    what: str
    number: Shown | None
    criterion: str
    zero: str
    cause: str
    note: str


def gate_quantities(page: Page, gauge: Entry[Gauge]) -> tuple[str, ...]:
    """What was read at any gate, each with the unit of the meter, in the order of first reading."""
    found = {
        reading.what: page.book.entry(reading.meter, Meter).record.unit
        for check in _checks(page, gauge)
        for reading in check.record.readings
    }
    return tuple(found)


def gate_lines(page: Page, gauge: Entry[Gauge]) -> tuple[GateLine, ...]:
    """Every check of a gauge at every gate, in order of time."""
    wanted = gate_quantities(page, gauge)
    return tuple(_gate_line(page, check.record, wanted) for check in _checks(page, gauge))


def _checks(page: Page, gauge: Entry[Gauge]) -> list[Entry[GateCheck]]:
    mine = [check for check in page.book.of(GateCheck) if check.record.gauge == gauge.uid]
    order = list(Gate)
    return sorted(
        mine, key=lambda c: (order.index(c.record.gate), c.record.readings[0].measured, c.uid)
    )


def _gate_line(page: Page, check: GateCheck, wanted: tuple[str, ...]) -> GateLine:
    people = [check.person] + ([check.second_person] if check.second_person else [])
    read: dict[str, list[str]] = {}
    for reading in check.readings:
        read.setdefault(reading.what, []).append(_typed(page, reading))
    warmth = {r.temperature_degc for r in check.readings if r.temperature_degc is not None}
    shown = [quantity_shown("temperature_degc", t, None, page.system).text for t in sorted(warmth)]
    measured = min(reading.measured for reading in check.readings).astimezone(page.zone)
    return GateLine(
        check.gate.value,
        page.moment(measured),
        f"{measured.day} {measured:%b}",
        check.verdict.value,
        check.verdict is Verdict.PASS,
        tuple(", ".join(read.get(what, ())) for what in wanted),
        " to ".join(dict.fromkeys((shown[0], shown[-1]))) if shown else "",
        check.reason,
        ", ".join(page.book.entry(uid, Person).record.name for uid in people),
    )


def _typed(page: Page, reading: GateReading) -> str:
    """A reading as typed, whose digits are its resolution; with a unit where none was typed."""
    return ohm_signs(with_unit(reading, page.book.entry(reading.meter, Meter).record))


def circuit_facts(page: Page, gauge: Entry[Gauge]) -> tuple[Fact, ...]:
    """The circuit a gauge is wired into, its lead, and what stands for its temperature."""
    circuit = page.circuit_of(gauge)
    if circuit is None:
        return ()
    book, record = page.book, circuit.record
    lead = book.entry(record.lead, Lead).record
    at = quantity_shown("temperature_degc", lead.temperature_degc, None, page.system).text
    facts = [Fact("Circuit", f"{record.label}, {record.topology.value}")]
    facts += [_arm(page, arm) for arm in sorted(record.arms, key=lambda arm: arm.number)]
    length = quantity_shown("length", lead.length, None, page.system).text
    bundle = f", {lead.bundle}" if lead.bundle else ""
    facts.append(Fact("Lead", f"{lead.label}: {lead.wires} wires, {length}{bundle}"))
    facts.append(stated_fact(page, f"One wire at {at}", "lead_resistance", lead.resistance))
    if record.dummy is not None:
        facts.append(Fact("Compensated by", f"circuit {book.label(record.dummy)}"))
    for point in book.of(TemperaturePoint):
        if gauge.uid in point.record.gauges:
            facts.append(Fact("Temperature", f"{point.record.label}, {point.record.where}"))
    return tuple(facts)


def _arm(page: Page, arm: Arm) -> Fact:
    term = f"Arm {arm.number}, {'plus' if arm.sign > 0 else 'minus'}"
    if arm.gauge is not None:
        return Fact(term, f"gauge {page.book.label(arm.gauge)}")
    if arm.resistance is None:
        return Fact(term, "a fixed resistor")
    return stated_fact(page, term, "resistance", arm.resistance)


def connection_rows(page: Page, gauge: Entry[Gauge]) -> tuple[ConnectionRow, ...]:
    """Where a gauge was read, from when to when."""
    return tuple(_connection_row(page, connection) for connection in _connections(page, gauge))


def _connections(page: Page, gauge: Entry[Gauge]) -> tuple[Entry[Connection], ...]:
    circuit = page.circuit_of(gauge)
    return page.book.connections_of(circuit.uid) if circuit else ()


def _connection_row(page: Page, connection: Entry[Connection]) -> ConnectionRow:
    book, record = page.book, connection.record
    channel = book.entry(record.channel, Channel).record
    setting = book.setting_of(connection).record
    writes = [f"{setting.kind.value}, {setting.unit}"]
    if setting.excitation is not None:
        writes.append(quantity_shown("excitation", setting.excitation, None, page.system).text)
    if setting.set_gauge_factor is not None:
        writes.append(f"set gauge factor {significant_text(setting.set_gauge_factor)}")
    if setting.scans_per_second is not None:
        writes.append(f"{significant_text(setting.scans_per_second)} scans a second")
    return ConnectionRow(
        f"{channel.label}, {book.entry(channel.instrument, Instrument).record.label}",
        page.moment(record.begins),
        page.moment(record.ends) if record.ends else standing_words(record),
        ", ".join(writes),
        record.plug,
    )


def zero_rows(page: Page, gauge: Entry[Gauge]) -> tuple[ZeroRow, ...]:
    """Every zero ever taken of a gauge, and to which later plugs it was carried over."""
    mine = {connection.uid: connection for connection in _connections(page, gauge)}
    zeros = [zero for zero in page.book.of(Zero) if zero.record.connection in mine]
    zeros.sort(key=lambda zero: zero.record.measured)
    return tuple(_zero_row(page, z.record, mine[z.record.connection]) for z in zeros)


def _zero_row(page: Page, zero: Zero, connection: Entry[Connection]) -> ZeroRow:
    carried = [page.book.entry(uid, Connection).record for uid in zero.carried_to]
    use = "its own connection"
    if carried:
        use += "; carried over to the plug of " + listed([page.moment(c.begins) for c in carried])
    rows = ""
    if zero.recording is not None:
        rows = page.book.entry(zero.recording, Recording).record.label
        if zero.first_row is not None and zero.last_row is not None:
            span = (fixed_text(row, 0) for row in (zero.first_row, zero.last_row))
            rows += ", rows " + " to ".join(span)
    return ZeroRow(
        zero.kind.value,
        page.moment(zero.measured),
        page.book.label(connection.record.channel),
        page.stated("bridge_ratio", zero.bridge_ratio),
        page.stated("temperature_degc", zero.temperature),
        rows,
        use,
        _transfer(page, zero.transfer),
    )


def _transfer(page: Page, transfer: Stated | None) -> str:
    if transfer is None or not transfer.plus_minus:
        return ""
    doubt = quantity_shown("bridge_ratio", transfer.plus_minus, None, page.system).text
    return f"± {doubt} ({transfer.meaning.value}, {transfer.basis.value}): {transfer.source}"


def chains_of_gauge(page: Page, gauge: Entry[Gauge]) -> tuple[ChainTable, ...]:
    """The corrections applied to a gauge's readings, a table for each connection."""
    circuit = page.circuit_of(gauge)
    if circuit is None:
        return ()
    mine = [chain for chain in page.book.of(Chain) if chain.record.circuit == circuit.uid]
    return tuple(chain_table(page, chain) for chain in mine)


def findings_of_gauge(page: Page, gauge: Entry[Gauge]) -> tuple[FindingRow, ...]:
    """What was found wrong with a gauge."""
    mine = [finding for finding in page.book.of(Finding) if finding.record.subject == gauge.uid]
    return tuple(finding_row(page, finding) for finding in mine)


def result_rows(page: Page, gauge: Entry[Gauge]) -> tuple[ResultRow, ...]:
    """Results a gauge takes part in: those of its own first, those without a number last."""
    mine = [entry for entry in page.book.of(Result) if gauge.uid in entry.record.subjects]
    mine.sort(key=lambda e: (e.record.value is None, len(e.record.subjects)))
    return tuple(
        ResultRow(
            entry.uid,
            result.label,
            page.result(result),
            result.criterion,
            result.zero,
            result.main_cause,
            result.note,
        )
        for entry in mine
        for result in (entry.record,)
    )


def uids_of_gauge(page: Page, gauge: Entry[Gauge]) -> tuple[Uid, ...]:
    """Records that tell of one gauge, its bar's and its pack's own history left out."""
    book = page.book
    circuit = page.circuit_of(gauge)
    connections = {connection.uid for connection in _connections(page, gauge)}
    about = {gauge.uid, gauge.record.station, *connections}
    about |= {circuit.uid, circuit.record.lead} if circuit else set()
    fields = ("gauge", "station", "subject", "connection", "circuit")
    return tuple(
        entry.uid
        for entry in book.every()
        if entry.uid in about
        or (not isinstance(entry.record, BridgeCircuit) and _tells(entry.record, fields, about))
        or gauge.uid in getattr(entry.record, "subjects", ())
        or (circuit is not None and circuit.uid in getattr(entry.record, "circuits", ()))
    )


def _tells(record: object, fields: tuple[str, ...], about: set[Uid]) -> bool:
    if isinstance(record, Gauge):
        return False  # another one at the same station
    return any(getattr(record, field, None) in about for field in fields)
