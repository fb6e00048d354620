"""A circuit at its channel: its own bridge drawn, each wire to its terminal, what is to be set."""

from collections.abc import Sequence

from gaugewright.present.bridge_drawing import Wires, full_bridge, half_bridge, opposite_grids
from gaugewright.present.circuit_drawing import Arm as ArmDrawn
from gaugewright.present.circuit_drawing import Quarter, quarter_bridge
from gaugewright.present.numbers import significant_text
from gaugewright.present.units_shown import quantity_shown
from gaugewright.records import Entry
from gaugewright.records.electrical import (
    Arm,
    BridgeCircuit,
    ChannelSetting,
    Connection,
    Lead,
    ReadingKind,
    Topology,
)
from gaugewright.services.showing.facts import Fact, stated_fact
from gaugewright.services.showing.listings import Column, Listing
from gaugewright.services.showing.page import Page
from gaugewright.services.wiring import shunts
from gaugewright.services.wiring.settings import writes_words

__all__ = ["drawn", "setting_facts", "terminals"]

_Ends = tuple[tuple[str, str, str], ...]
# Terminal, where its wire comes from, where it goes: in the order in which colours are entered.
_QUARTER: _Ends = (
    ("A", "tab T1 of the gauge", "negative excitation corner"),
    ("B", "tab T2 of the gauge", "completion, and through it the positive corner"),
    ("C", "tab T2 of the gauge", "signal, positive side: it carries no current"),
    ("D", "tab T1 of the gauge", "sense of the negative corner; free where the channel has none"),
)
_HALF: _Ends = (
    ("A", "tab T1, the end of arm 1", "negative excitation corner"),
    ("B", "tab T3, the end of arm 2", "positive excitation corner"),
    ("C", "N, between arms 1 and 2", "signal, positive side: it carries no current"),
)
_OPPOSITE: _Ends = (
    ("A", "tab T1 of arm 1", "negative excitation corner"),
    ("B", "tab T2 of arm 1", "signal, positive side, and the completion of arm 2"),
    ("C", "tab T3 of arm 3", "positive excitation corner"),
    ("D", "tab T4 of arm 3", "signal, negative side, and the completion of arm 4"),
)
_FULL: _Ends = (
    ("P", "between arms 2 and 3", "positive excitation corner"),
    ("N", "between arms 1 and 4", "negative excitation corner"),
    ("SP", "between arms 1 and 2", "signal, positive side"),
    ("SN", "between arms 3 and 4", "signal, negative side"),
    ("KP", "with P, at the bridge", "sense, positive"),
    ("KN", "with N, at the bridge", "sense, negative"),
)
_HALVES = (Topology.HALF_BENDING, Topology.HALF_POISSON)


def _ends(topology: Topology) -> _Ends:
    if topology in shunts.QUARTERS:
        return _QUARTER
    if topology in _HALVES:
        return _HALF
    return _OPPOSITE if topology is Topology.HALF_OPPOSITE else _FULL


def terminals(page: Page, circuit: Entry[BridgeCircuit]) -> Listing:
    """One line a wire: where it comes from, where it goes, and its colour where one was entered."""
    record = circuit.record
    lead = page.book.entry(record.lead, Lead).record
    ends = _ends(record.topology)
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


def drawn(page: Page, circuit: Entry[BridgeCircuit], connection: Entry[Connection]) -> str:
    """The bridge of a circuit with each of its wires named, and what the channel adds to it."""
    record = circuit.record
    label = f"Bridge of {record.label}: {record.topology.value}"
    setting = page.book.setting_of(connection).record
    lead = page.book.entry(record.lead, Lead).record
    if record.topology in shunts.QUARTERS:
        return quarter_bridge(_quarter(page, circuit, setting, lead), label)
    supply, inside = _supply(page, setting), _inside(page, setting)
    names = [name for name, _, _ in _ends(record.topology)]
    wires = Wires(dict(zip(names, _words(page, lead), strict=False)), supply)
    one, two, three, four = _four(page, record)
    if record.topology in _HALVES:
        return half_bridge((one, two), inside, wires, label)
    if record.topology is Topology.HALF_OPPOSITE:
        return opposite_grids((one, three), inside, wires, label)
    return full_bridge((one, two, three, four), wires, label, is_sensed=lead.wires == 6)


def _quarter(
    page: Page, circuit: Entry[BridgeCircuit], setting: ChannelSetting, lead: Lead
) -> Quarter:
    words = [*_words(page, lead), "", "", ""]
    is_two_wire = circuit.record.topology is Topology.QUARTER_TWO_WIRE
    gauge = page.book.gauges_of(circuit)[0]
    grid = page.book.pack_of(gauge).record.gauge_resistance.value
    return Quarter(
        gauge=quantity_shown("gauge_resistance", grid, None, page.system).text,
        lead_a=words[0],
        lead_b=words[1],
        lead_c="" if is_two_wire else words[2],
        lead_d=words[3] if lead.wires == 4 else "",
        completion=_inside(page, setting),
        excitation=_supply(page, setting),
        is_two_wire=is_two_wire,
    )


def _words(page: Page, lead: Lead) -> Sequence[str]:
    """Resistance and colour of each wire, in the order of the terminals."""
    wire = quantity_shown("lead_resistance", lead.resistance.value, None, page.system).text
    return [f"{wire}, {colour}" for colour in lead.colours] or [wire] * lead.wires


def _supply(page: Page, setting: ChannelSetting) -> str:
    if setting.excitation is None:
        return ""
    return quantity_shown("excitation", setting.excitation, None, page.system).text


def _inside(page: Page, setting: ChannelSetting) -> str:
    fixed = setting.completion_resistance
    if fixed is None:
        return ""
    return quantity_shown("completion_resistance", fixed.value, None, page.system).text


def _four(page: Page, record: BridgeCircuit) -> tuple[ArmDrawn, ArmDrawn, ArmDrawn, ArmDrawn]:
    found = {arm.number: arm for arm in record.arms}
    one, two, three, four = (_arm(page, found.get(number)) for number in (1, 2, 3, 4))
    return (one, two, three, four)


def _arm(page: Page, arm: Arm | None) -> ArmDrawn:
    if arm is None:
        return ArmDrawn("in the channel", is_grid=False)
    if arm.gauge is not None:
        return ArmDrawn(page.book.label(arm.gauge), is_grid=True)
    ohm = arm.resistance.value if arm.resistance is not None else 0.0
    words = quantity_shown("resistance", ohm, None, page.system).text
    return ArmDrawn(words, is_grid=False)


def setting_facts(
    page: Page, circuit: Entry[BridgeCircuit] | None, setting: ChannelSetting
) -> tuple[Fact, ...]:
    """How the instrument is to be set, in words that hold for any make of it."""
    facts = [] if circuit is None else [Fact("Input", _input(page, circuit))]
    facts.append(Fact("Writes", writes_words(setting)))
    if setting.excitation is not None:
        facts.append(Fact("Excitation", _supply(page, setting)))
    if setting.completion_resistance is not None:
        facts.append(
            stated_fact(page, "Completion", "completion_resistance", setting.completion_resistance)
        )
    if setting.set_gauge_factor is not None:
        facts.append(Fact("Gauge factor set", significant_text(setting.set_gauge_factor)))
    if setting.kind in (ReadingKind.STRAIN_LINEAR, ReadingKind.STRAIN_LINEARISED):
        told = "1: the reading is worked on as four times the ratio over the gauge factor set"
        facts.append(Fact("Bridge factor set", told))
    if setting.range_low is not None and setting.range_high is not None:
        low, high = (significant_text(n) for n in (setting.range_low, setting.range_high))
        facts.append(Fact("Range", f"{low} to {high} {setting.unit}"))
    if setting.scans_per_second is not None:
        facts.append(Fact("Scans", f"{significant_text(setting.scans_per_second)} a second"))
    return tuple(facts)


def _input(page: Page, circuit: Entry[BridgeCircuit]) -> str:
    """Kind of input the circuit needs, in general terms."""
    topology = circuit.record.topology
    wires = page.book.entry(circuit.record.lead, Lead).record.wires
    if topology in shunts.QUARTERS:
        alike = "two wires" if topology is Topology.QUARTER_TWO_WIRE else "three wires"
        return f"quarter bridge with {alike}, completed in the channel to the gauge’s resistance"
    if topology in _HALVES:
        return "half bridge with three wires, the other half inside the channel"
    if topology is Topology.HALF_OPPOSITE:
        return "full bridge of which arms 2 and 4 are resistors at the channel"
    sensed = "excitation sensed at the bridge" if wires == 6 else "excitation not sensed"
    return f"full bridge with {wires} wires, nothing completed inside, {sensed}"
