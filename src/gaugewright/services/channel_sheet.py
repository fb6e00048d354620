"""The connection sheet of one channel: its bridge drawn, each wire to its terminal, its steps."""

from dataclasses import dataclass

from gaugewright.errors import InputError
from gaugewright.present.circuit_drawing import Arm as ArmDrawn
from gaugewright.present.circuit_drawing import Quarter, bridge_of_arms, quarter_bridge
from gaugewright.present.numbers import significant_text
from gaugewright.present.units_shown import quantity_shown
from gaugewright.records import Entry
from gaugewright.records.electrical import (
    Arm,
    BridgeCircuit,
    Channel,
    ChannelSetting,
    Connection,
    Lead,
    ShuntStep,
    Topology,
)
from gaugewright.records.identity import Uid
from gaugewright.records.stated import Stated
from gaugewright.services import shunt_verdict, shunts
from gaugewright.services.gauge_life import Fact, stated_fact
from gaugewright.services.handover_page import Page
from gaugewright.services.listings import Cell, Column, Doubted, Listing
from gaugewright.services.reduction_results import COVERAGE
from gaugewright.services.shunts import ExpectedStep
from gaugewright.services.wiring import zeros_after

__all__ = ["ChannelSheet", "channel_sheet"]


@dataclass(frozen=True, slots=True)
class ChannelSheet:
    """What a person needs beside one channel; ``why_no_steps`` where none can be worked out."""

    drawing: str
    facts: tuple[Fact, ...]
    lists: tuple[Listing, ...]
    why_no_steps: str


def channel_sheet(
    page: Page,
    channel: Entry[Channel],
    connection: Entry[Connection] | None,
    shunt_resistance: Stated | None = None,
) -> ChannelSheet:
    """Sheet of a channel as ``connection`` has it; ``shunt_resistance`` gives steps to expect."""
    if connection is None:
        return ChannelSheet("", (), (_history(page, channel),), "nothing is on this channel")
    circuit = _circuit(page, connection)
    lists: list[Listing] = []
    drawing, why = "", "what it reads is no bridge"
    facts = _setting_facts(page, page.book.setting_of(connection).record)
    if circuit is not None:
        drawing = _drawing(page, circuit, connection)
        lists += [_terminals(page, circuit), _zeros(page, connection), _taken(page, connection)]
        steps, why = _steps(page, connection, shunt_resistance)
        lists += steps
    return ChannelSheet(drawing, facts, (*lists, _history(page, channel)), why)


def _circuit(page: Page, connection: Entry[Connection]) -> Entry[BridgeCircuit] | None:
    found = page.book.found(connection.record.subject)
    if found is None or not isinstance(found.record, BridgeCircuit):
        return None
    return page.book.entry(found.uid, BridgeCircuit)


def _setting_facts(page: Page, setting: ChannelSetting) -> tuple[Fact, ...]:
    """How the instrument is to be set, in words that hold for any make of it."""
    facts = [Fact("Writes", f"{setting.kind.value}, in {setting.unit}")]
    if setting.excitation is not None:
        supply = quantity_shown("excitation", setting.excitation, None, page.system).text
        facts.append(Fact("Bridge supply", supply))
    if setting.completion_resistance is not None:
        facts.append(
            stated_fact(page, "Completion", "completion_resistance", setting.completion_resistance)
        )
    if setting.set_gauge_factor is not None:
        facts.append(Fact("Gauge factor set", significant_text(setting.set_gauge_factor)))
    if setting.range_low is not None and setting.range_high is not None:
        low, high = (significant_text(n) for n in (setting.range_low, setting.range_high))
        facts.append(Fact("Range", f"{low} to {high} {setting.unit}"))
    if setting.scans_per_second is not None:
        facts.append(Fact("Scans", f"{significant_text(setting.scans_per_second)} a second"))
    return tuple(facts)


def _drawing(page: Page, circuit: Entry[BridgeCircuit], connection: Entry[Connection]) -> str:
    record = circuit.record
    setting = page.book.setting_of(connection).record
    supply = ""
    if setting.excitation is not None:
        supply = quantity_shown("excitation", setting.excitation, None, page.system).text
    label = f"Bridge of {record.label}: {record.topology.value}"
    if record.topology not in shunts.QUARTERS:
        return bridge_of_arms(_four(page, record), supply, "", label)
    lead = page.book.entry(record.lead, Lead).record
    wire = quantity_shown("lead_resistance", lead.resistance.value, None, page.system).text
    colours = [*lead.colours, "", "", ""]
    words = [f"{wire}, {one}" if one else wire for one in colours[:3]]
    is_two_wire = record.topology is Topology.QUARTER_TWO_WIRE
    gauge = page.book.gauges_of(circuit)[0]
    grid = page.book.pack_of(gauge).record.gauge_resistance.value
    fixed = setting.completion_resistance
    parts = Quarter(
        gauge=quantity_shown("gauge_resistance", grid, None, page.system).text,
        lead_a=words[0],
        lead_b=words[1],
        lead_c="" if is_two_wire else words[2],
        completion=""
        if fixed is None
        else quantity_shown("completion_resistance", fixed.value, None, page.system).text,
        excitation=supply,
        is_two_wire=is_two_wire,
    )
    return quarter_bridge(parts, label)


def _four(page: Page, record: BridgeCircuit) -> tuple[ArmDrawn, ArmDrawn, ArmDrawn, ArmDrawn]:
    found = {arm.number: arm for arm in record.arms}
    one, two, three, four = (_arm(page, found.get(number)) for number in (1, 2, 3, 4))
    return (one, two, three, four)


def _arm(page: Page, arm: Arm | None) -> ArmDrawn:
    if arm is None:
        return ArmDrawn("in the instrument", is_grid=False)
    if arm.gauge is not None:
        return ArmDrawn(page.book.label(arm.gauge), is_grid=True)
    ohm = arm.resistance.value if arm.resistance is not None else 0.0
    words = quantity_shown("resistance", ohm, None, page.system).text
    return ArmDrawn(words, is_grid=False)


_QUARTER_ENDS = (
    ("A", "tab T1 of the gauge", "negative corner of the supply"),
    ("B", "tab T2 of the gauge", "completion, and through it the positive corner"),
    ("C", "tab T2 of the gauge", "signal, positive side: it carries no current"),
)
_CORNER_ENDS = (
    ("supply −", "between arms 1 and 4", "negative corner of the supply"),
    ("signal +", "between arms 1 and 2", "signal, positive side"),
    ("supply +", "between arms 2 and 3", "positive corner of the supply"),
    ("signal −", "between arms 3 and 4", "signal, negative side"),
    ("sense −", "with supply −, at the bridge", "voltage sense, negative"),
    ("sense +", "with supply +, at the bridge", "voltage sense, positive"),
)


def _terminals(page: Page, circuit: Entry[BridgeCircuit]) -> Listing:
    """One line a wire: where it comes from, where it goes, and its colour where one was entered."""
    record = circuit.record
    lead = page.book.entry(record.lead, Lead).record
    ends = _QUARTER_ENDS if record.topology in shunts.QUARTERS else _CORNER_ENDS
    colours = lead.colours or ("not entered",) * lead.wires
    rows = []
    for number in range(lead.wires):
        name, start, end = ends[number] if number < len(ends) else ("spare", "not used", "not used")
        rows.append((name, colours[number], start, end))
    return Listing(
        "terminals",
        "Wires",
        (Column("terminal"), Column("colour"), Column("comes from"), Column("goes to")),
        tuple(rows),
        "Wires will stand here.",
        f"{lead.label}. B and C of a quarter bridge may change places; A may not."
        if record.topology is Topology.QUARTER_THREE_WIRE
        else lead.label,
    )


def _zeros(page: Page, connection: Entry[Connection]) -> Listing:
    rows: list[tuple[Cell, ...]] = [
        (
            one.zero.record.kind.value,
            page.moment(one.zero.record.measured),
            one.zero.record.bridge_ratio,
            "carried over" if one.carried else "its own" if one.holds else "ended with its plug",
        )
        for one in zeros_after(page.book, connection)
    ]
    return Listing(
        "zeros",
        "Zeros",
        (
            Column("zero"),
            Column("taken"),
            Column("reading", "bridge_ratio"),
            Column("for this connection"),
        ),
        tuple(rows),
        "No zero of this circuit is taken yet.",
        "± as each zero states it.",
    )


def _steps(
    page: Page, connection: Entry[Connection], shunt_resistance: Stated | None
) -> tuple[list[Listing], str]:
    """Steps to expect, or why there are none."""
    given = shunt_resistance
    if given is None:
        taken = _taken_on(page, connection.uid)
        given = taken[-1].record.shunt_resistance if taken else None
    if given is None:
        return [], "the resistor isn’t known: type it below"
    try:
        expected = shunts.expected_steps(page.book, connection, given)
        quantity = shunts.quantity_of(page.book.setting_of(connection).record)
    except InputError as error:
        return [], str(error)
    resistor = page.stated("shunt_resistance", given).text
    rows = tuple(_expected_row(one) for one in expected)
    columns = (
        Column("between"),
        Column("which is"),
        Column("step to expect", quantity),
        Column("stands for", "strain"),
    )
    about = f"For {resistor} and the wires as the lead states them. ± covers 95 %."
    return [Listing("expected", "Resistor put in", columns, rows, "", about)], ""


def _expected_row(one: ExpectedStep) -> tuple[Cell, ...]:
    return (
        one.position,
        one.words,
        Doubted(float(one.step.value), one.expanded),
        Doubted(float(one.strain.value), float(one.strain.expanded(COVERAGE))),
    )


def _taken_on(page: Page, connection: Uid) -> list[Entry[ShuntStep]]:
    mine = [one for one in page.book.of(ShuntStep) if one.record.connection == connection]
    return sorted(mine, key=lambda one: one.record.measured)


def _taken(page: Page, connection: Entry[Connection]) -> Listing:
    try:
        quantity = shunts.quantity_of(page.book.setting_of(connection).record)
    except InputError:
        quantity = ""
    rows: list[tuple[Cell, ...]] = []
    for one in _taken_on(page, connection.uid):
        try:
            told = shunt_verdict.verdict(page.book, one)
        except InputError as error:
            told = str(error)
        rows.append(
            (
                page.moment(one.record.measured),
                one.record.shunt_resistance,
                one.record.position or "not known",
                one.record.step,
                told,
            )
        )
    return Listing(
        "taken",
        "Steps on record",
        (
            Column("read"),
            Column("resistor", "shunt_resistance"),
            Column("between"),
            Column("step", quantity),
            Column("told"),
        ),
        tuple(rows),
        "No step of a calibration resistor is on record for this connection.",
    )


def _history(page: Page, channel: Entry[Channel]) -> Listing:
    found = [c for c in page.book.of(Connection) if c.record.channel == channel.uid]
    found.sort(key=lambda entry: entry.record.begins)
    rows = tuple(
        (
            page.book.label(entry.record.subject),
            page.moment(entry.record.begins),
            "still there" if entry.record.ends is None else page.moment(entry.record.ends),
            entry.record.plug,
        )
        for entry in found
    )
    return Listing(
        "history",
        "On this channel",
        (Column("what"), Column("from"), Column("until"), Column("plug")),
        rows,
        "Nothing was ever on this channel.",
    )
