"""The sheet of a channel is that of its own bridge: wires, places of the resistor, settings."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from gaugewright.records import Entry
from gaugewright.records.electrical import (
    Arm,
    BridgeCircuit,
    Channel,
    ChannelSetting,
    Connection,
    Lead,
    Topology,
)
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import working_context
from gaugewright.records.stated import Meaning, Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.services.wiring import plugs as wiring
from gaugewright.services.wiring.channel_sheet import ChannelSheet, channel_sheet
from gaugewright.store.campaign import CampaignStore
from tests.browser import forty_eight

RESISTOR = Stated(174650.0, 175.0, Meaning.LIMIT)
BEGINS = datetime(2026, 3, 2, 7, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[CampaignStore]:
    """All kinds of bridges and leads on channels of their own."""
    home = tmp_path_factory.mktemp("sheets")
    forty_eight.made(home)
    with CampaignStore.open(home / forty_eight.CAMPAIGN, working_context()) as store:
        with store.several():
            for label in ("B01-T", "B21", "B23"):
                plugged(store, store.labelled(BridgeCircuit, label))
            gauge = {e.record.label: e.uid for e in store.entries(Gauge)}
            for topology, wires, names in (
                (Topology.QUARTER_TWO_WIRE, 2, ("B01-U",)),
                (Topology.QUARTER_THREE_WIRE, 4, ("B02-T",)),
                (Topology.HALF_OPPOSITE, 4, ("B22-T", "", "B22-U")),
                (Topology.FULL_BENDING, 4, ("B23-T", "B23-U", "B23-V", "B23-W")),
            ):
                plugged(store, circuit(store, topology, wires, [gauge.get(n) for n in names]))
        yield store


def circuit(
    store: CampaignStore, topology: Topology, wires: int, arms: list
) -> Entry[BridgeCircuit]:
    label = f"{topology.value}, {wires}"
    lead = store.add(Lead(f"lead {label}", wires, 16.5, Stated(2.2, 0.03, Meaning.LIMIT), 20.0))
    own = tuple(
        Arm(n, 1 if n % 2 else -1, gauge) for n, gauge in enumerate(arms, 1) if gauge is not None
    )
    return store.add(BridgeCircuit(label, topology, own, lead.uid))


def plugged(store: CampaignStore, circuit: Entry[BridgeCircuit]) -> None:
    taken = {c.record.channel for c in store.entries(Connection)}
    channel = next(e for e in store.entries(Channel) if e.uid not in taken)
    setting = next(s for s in store.entries(ChannelSetting) if s.record.channel == channel.uid)
    fixed = Stated(350.0, 0.1, Meaning.LIMIT)
    store.revise(
        setting.uid,
        setting.version,
        replace(setting.record, completion_resistance=fixed),
        reason="completion of the channel",
    )
    lead = store.entry(circuit.record.lead)
    wiring.colour(store, lead, [f"wire {n}" for n in range(lead.record.wires)], reason="ours")
    wiring.connect(store, Connection(circuit.uid, channel.uid, setting.uid, BEGINS))


def sheet(store: CampaignStore, label: str) -> ChannelSheet:
    book = Book.read(store)
    circuit = book.labelled(BridgeCircuit, label)
    connection = book.connections_of(circuit.uid)[-1]
    channel = book.entry(connection.record.channel, Channel)
    return channel_sheet(Page.of(Desk(store, book)), channel, connection, RESISTOR)


@pytest.mark.parametrize(
    ("label", "terminals", "places"),
    [
        ("B01-T", ["A", "B", "C"], 5),
        ("quarter bridge, two wires, 2", ["A", "B"], 3),
        ("quarter bridge, three wires, 4", ["A", "B", "C", "D"], 5),
        ("B21", ["A", "B", "C"], 6),
        ("half bridge, opposite pair, 4", ["A", "B", "C", "D"], 6),
        ("full bridge, bending, 4", ["P", "N", "SP", "SN"], 8),
        ("B23", ["P", "N", "SP", "SN", "KP", "KN"], 12),
    ],
)
def test_each_bridge_has_its_own_wires_places_and_drawing(
    store: CampaignStore, label: str, terminals: list[str], places: int
) -> None:
    found = sheet(store, label)
    lists = {one.key: one for one in found.lists}
    assert [row[0] for row in lists["terminals"].rows] == terminals
    assert [row[1] for row in lists["terminals"].rows] == [
        f"wire {n}" for n in range(len(terminals))
    ]
    assert len(lists["expected"].rows) == places
    for name in terminals[:3]:
        assert f">{name}</text>" in found.drawing
    facts = {fact.term: fact for fact in found.facts}
    words = "quarter" if "T" in label or "quarter" in label else "full" if "23" in label else ""
    assert words in str(facts["Input"])
    assert found.why_no_steps == ""
