"""The connection sheet of one channel: its bridge drawn, each wire to its terminal, its steps."""

from dataclasses import dataclass

from gaugewright.calc.rated_output import value_per_reading
from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Channel, Connection, ShuntStep
from gaugewright.records.identity import Uid
from gaugewright.records.sensors import Sensor
from gaugewright.records.stated import Stated
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.showing.facts import Fact
from gaugewright.services.showing.listings import Cell, Column, Doubted, Listing
from gaugewright.services.showing.page import Page
from gaugewright.services.wiring import shunt_verdict, shunts
from gaugewright.services.wiring.connection_drawn import drawn, setting_facts, terminals
from gaugewright.services.wiring.lists import standing_words
from gaugewright.services.wiring.plugs import zeros_after
from gaugewright.services.wiring.shunts import ExpectedStep

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
    facts = setting_facts(page, circuit, page.book.setting_of(connection).record)
    facts += _relation(page, connection)
    if circuit is not None:
        drawing = drawn(page, circuit, connection)
        lists += [terminals(page, circuit), _zeros(page, connection), _taken(page, connection)]
        steps, why = _steps(page, connection, shunt_resistance)
        lists += steps
    return ChannelSheet(drawing, facts, (*lists, _history(page, channel)), why)


def _relation(page: Page, connection: Entry[Connection]) -> tuple[Fact, ...]:
    """What one of a sensor's reading stands for, where it isn't what it measures."""
    found = page.book.found(connection.record.subject)
    sensor = None if found is None else found.record
    if not isinstance(sensor, Sensor) or sensor.full_scale is None:
        return ()
    scale = page.stated(sensor.quantity, Stated(sensor.full_scale)).text
    plate = value_per_reading(sensor.full_scale, sensor.gain.value)
    output = page.stated(sensor.reads, Stated(plate.value)).text
    return (Fact("Full scale", f"{scale}, where it writes {output}"),)


def _circuit(page: Page, connection: Entry[Connection]) -> Entry[BridgeCircuit] | None:
    found = page.book.found(connection.record.subject)
    if found is None or not isinstance(found.record, BridgeCircuit):
        return None
    return page.book.entry(found.uid, BridgeCircuit)


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
        standing = connection.record.ends is None
        do = "type it below" if standing else "plug the bridge in, then type it below"
        return [], f"the resistor isn’t known: {do}"
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
            page.moment(entry.record.ends) if entry.record.ends else standing_words(entry.record),
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
