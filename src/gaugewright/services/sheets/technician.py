"""For who sets the recorder up: what to type in for each channel, and what it should then show."""

from gaugewright.errors import InputError
from gaugewright.present.numbers import significant_text
from gaugewright.present.units_shown import quantity_shown
from gaugewright.records import Entry
from gaugewright.records.electrical import (
    BridgeCircuit,
    Channel,
    Connection,
    Instrument,
    Lead,
    ShuntStep,
)
from gaugewright.records.readings import Clock
from gaugewright.records.sensors import Sensor
from gaugewright.report.parts import Part, PartTable
from gaugewright.services.showing.page import Page
from gaugewright.services.showing.sheet_parts import Said
from gaugewright.services.wiring import shunts
from gaugewright.services.wiring.lists import setting_words, subject_words

__all__ = ["said"]

_SHOULD = (
    "With nothing loaded, each healthy gauge reads nearly steady; its first reading is an offset, "
    "not a fault. Write it down, don't press it to zero.",
    "Tension is positive. Never swap wires to mend a sign: enter the sign, and tell it.",
    "After any plug was opened the zero of that channel is over: read it, write it down, and "
    "enter the new connection.",
    "Let the recorder warm up for half an hour before a zero that counts (common practice, no "
    "source).",
    "Put the calibration resistor in before and after the test, at the place that is named, and "
    "keep both readings.",
)
_CAUTION = (
    "Supply the bridges with low voltage only, through a residual-current device where the floor "
    "is wet. Take the insulation tester off before the recorder is plugged in. Mains work is for "
    "a qualified electrician."
)


def said(page: Page) -> Said:
    """What stands on the technician's sheet."""
    standing = _standing(page)
    lead = (
        f"{len(standing)} channels are connected. Type in what stands here, look whether each "
        "shows what it should, and tell us what doesn't."
    )
    return Said(
        lead,
        (
            Part(
                "Channels",
                "As connected now; the sign is the campaign's.",
                table=_channels(page, standing),
            ),
            Part("Bridges", "What is wired, and how.", table=_bridges(page, standing)),
            Part("Recorders", table=_recorders(page)),
            Part("Other sensors", table=_sensors(page)),
            Part("Calibration step", "With the resistor put in.", table=_steps(page, standing)),
            Part("What you should see", lines=_SHOULD),
            Part("Safety", words=_CAUTION, is_caution=True),
        ),
    )


def _standing(page: Page) -> list[Entry[Connection]]:
    """Connections that stand now, in order of recorder and channel."""
    book = page.book
    now = page.desk.store.context.now()
    found = [c for c in book.of(Connection) if c.record.covers(now)]
    return sorted(found, key=lambda c: _order(page, c))


def _order(page: Page, connection: Entry[Connection]) -> tuple[str, int]:
    channel = page.book.entry(connection.record.channel, Channel).record
    return page.book.label(channel.instrument), channel.number


def _channels(page: Page, standing: list[Entry[Connection]]) -> PartTable:
    rows = []
    for connection in standing:
        channel = page.book.entry(connection.record.channel, Channel).record
        setting = page.book.setting_of(connection).record
        rows.append(
            (
                channel.label,
                channel.column,
                f"{page.book.label(connection.record.subject)}: "
                + subject_words(page.book, connection),
                setting_words(setting, page.system),
            )
        )
    empty = "Nothing is connected now."
    return PartTable(("Channel", "In files", "Reads", "Set to"), tuple(rows), empty, wide=(2, 3))


def _bridges(page: Page, standing: list[Entry[Connection]]) -> PartTable:
    rows = []
    for connection in standing:
        circuit = page.book.found(connection.record.subject)
        if circuit is None or not isinstance(circuit.record, BridgeCircuit):
            continue
        record = circuit.record
        lead = page.book.entry(record.lead, Lead).record
        gauges = page.book.gauges_of(circuit)
        pack = page.book.pack_of(gauges[0]).record
        wire = page.stated("lead_resistance", lead.resistance).text
        states = ", ".join(dict.fromkeys(page.state(gauge).value for gauge in gauges))
        rows.append(
            (
                record.label,
                record.topology.value,
                page.stated("gauge_resistance", pack.gauge_resistance).text,
                significant_text(pack.gauge_factor.value),
                f"{wire} a wire",
                states,
            )
        )
    heads = ("Circuit", "Bridge", "Gauge resistance", "Gauge factor", "Lead", "State")
    return PartTable(heads, tuple(rows), "No bridge is connected now.", wide=(1,))


def _steps(page: Page, standing: list[Entry[Connection]]) -> PartTable:
    """Step to expect at each place of the resistor that was used on a channel."""
    rows = []
    for connection in standing:
        taken = [s for s in page.book.of(ShuntStep) if s.record.connection == connection.uid]
        if not taken:
            continue
        step = taken[-1].record
        try:
            expected = shunts.expected_steps(page.book, connection, step.shunt_resistance)
        except InputError as error:
            rows.append((page.book.label(connection.record.subject), "", "", str(error)))
            continue
        quantity = shunts.quantity_of(page.book.setting_of(connection).record)
        resistor = page.stated("shunt_resistance", step.shunt_resistance).text
        for one in expected:
            if one.position == step.position:
                value = float(one.step.value)
                shown = quantity_shown(quantity, value, one.expanded, page.system).text
                label = page.book.label(connection.record.subject)
                rows.append((label, resistor, one.words, shown))
    empty = (
        "No resistor was put in on a channel that is connected now. The page of a "
        "channel gives the step for a resistor that is typed in."
    )
    heads = ("Circuit", "Resistor", "Place", "Step to expect")
    return PartTable(heads, tuple(rows), empty, wide=(2,))


def _recorders(page: Page) -> PartTable:
    rows = [
        (
            e.record.label,
            e.record.serial,
            e.record.certificate or "none told",
            page.number(e.record.dwell, None, "s").text,
            "isolated" if e.record.channels_isolated else "not isolated from each other",
        )
        for e in page.book.of(Instrument)
    ]
    clocks = "; ".join(
        f"{e.record.label} shows {e.record.zone or 'elapsed time only'}"
        for e in page.book.of(Clock)
    )
    heads = ("Recorder", "Number", "Certificate", "Between channels", "Channels")
    empty = "No recorder is entered."
    table = PartTable(heads, tuple(rows), empty, wide=(2,))
    if not clocks:
        return table
    more = ("Clocks", clocks, "", "", "")
    return PartTable(heads, (*table.rows, more), empty, wide=(1,))


def _sensors(page: Page) -> PartTable:
    rows = [
        (
            e.record.label,
            e.record.quantity.replace("_", " "),
            "as the campaign's" if e.record.sign > 0 else "turned round",
            e.record.certificate or "none told",
        )
        for e in page.book.of(Sensor)
    ]
    return PartTable(
        ("Sensor", "Reads", "Sign", "Certificate"), tuple(rows), "No other sensor.", wide=(3,)
    )
