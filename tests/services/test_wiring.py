"""Plugs written down: never two on one channel, what ends is said, what carries has its doubt."""

import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import (
    BridgeCircuit,
    Channel,
    Connection,
    Lead,
    ReadingKind,
    Topology,
)
from gaugewright.records.proof import Zero
from gaugewright.records.sensors import Sensor
from gaugewright.records.stated import Meaning, Stated
from gaugewright.services.campaign import campaigns, undoing
from gaugewright.services.campaign.book import Book
from gaugewright.services.wiring import plugs as wiring
from gaugewright.services.wiring import shunt_verdict, shunts
from gaugewright.services.wiring import typed as wiring_typed
from gaugewright.store.campaign import CampaignStore

LATER = "2026-11-02 09:00"


@pytest.fixture
def store(demo_campaign: Path, tmp_path: Path) -> Iterator[CampaignStore]:
    shutil.copytree(demo_campaign, tmp_path / "demo")
    with campaigns.opened(tmp_path / "demo") as opened:
        yield opened


def on(store: CampaignStore, channel: str) -> Entry[Connection]:
    book = Book.read(store)
    uid = book.labelled(Channel, channel).uid
    return next(c for c in book.of(Connection) if c.record.channel == uid and not c.record.ends)


def test_two_on_one_channel_and_one_on_two_are_refused_with_what_stands_there(
    store: CampaignStore,
) -> None:
    head = store.head()
    with pytest.raises(InputError, match="taken: L1-M-U on A02 from 2026-10-13") as refused:
        wiring_typed.connected(store, "A02", {"subject": "L1-M-T", "at": LATER})
    assert "unplugged first" in str(refused.value)
    wiring_typed.disconnected(store, "A02", {"at": LATER})
    with pytest.raises(InputError, match="L1-M-T is 'connected already: L1-M-T on A01"):
        wiring_typed.connected(store, "A02", {"subject": "L1-M-T", "at": LATER})
    assert store.head().seq == head.seq + 1


def test_a_sensor_is_asked_for_nothing_but_the_unit_that_its_channel_writes(
    store: CampaignStore,
) -> None:
    book = Book.read(store)
    cell = next(s for s in book.of(Sensor) if s.record.quantity == "force")
    channel = book.label(book.connections_of(cell.uid)[-1].record.channel)
    wiring_typed.disconnected(store, channel, {"at": LATER})
    typed = {"subject": cell.record.label, "at": LATER}
    with pytest.raises(InputError, match="unit is 'mm'; it must be one of force, such as kN"):
        wiring_typed.connected(store, channel, typed | {"unit": "mm"})
    made = wiring_typed.connected(store, channel, typed).connection
    setting = Book.read(store).setting_of(made).record
    assert (setting.kind, setting.unit, setting.excitation) == (ReadingKind.OTHER, "kN", None)


def test_an_end_touching_a_beginning_is_no_overlap_but_an_earlier_one_is(
    store: CampaignStore,
) -> None:
    ended = wiring_typed.disconnected(store, "A01", {"at": LATER}).connection.record.ends
    made = wiring_typed.connected(store, "A01", {"subject": "L1-M-T", "at": LATER})
    assert made.connection.record.begins == ended
    begins = datetime(2026, 10, 1, tzinfo=UTC)
    old = replace(made.connection.record, begins=begins, ends=None)
    with pytest.raises(InputError, match="give this connection its end"):
        wiring.connect(store, old)
    assert wiring.connect(store, replace(old, ends=begins + timedelta(hours=1)))


def test_a_remade_plug_ends_its_zeros_unless_a_reason_carries_them(store: CampaignStore) -> None:
    told = wiring_typed.disconnected(store, "A01", {"at": LATER})
    book = Book.read(store)
    words = wiring_typed.plugged_words(book, told, "si")
    assert words[0] == "L1-M-T is off A01."
    assert "ends the zeros that hold through this one" in words[1]
    made = wiring_typed.connected(store, "A01", {"subject": "L1-M-T", "at": LATER})
    kinds = [one.record.kind.value for one in made.ended]
    assert kinds == ["before pour", "before test", "after seating"]
    assert not made.carried
    undoing.undo(store, made.connection.ref)
    again = wiring_typed.connected(
        store, "A01", {"subject": "L1-M-T", "at": LATER, "carry": "put back at once"}
    )
    assert not again.ended
    contact = book.limit("contact change").record.value
    grid = book.pack_of(book.gauges_of(book.labelled(BridgeCircuit, "L1-M-T"))[0])
    for zero in again.carried:
        assert zero.record.transfer is not None
        # Two contacts, each of its own: ΔR √2 in one arm of a quarter bridge.
        by_hand = 2**0.5 * contact / grid.record.gauge_resistance.value / 4
        assert zero.record.transfer.plus_minus == pytest.approx(by_hand, rel=1e-12)
    for other in wiring.zeros_after(Book.read(store), on(store, "A02")):
        assert other.zero.version == book.entry(other.zero.uid, Zero).version


def test_what_isn_t_typed_of_a_setting_stays_and_undo_is_a_new_version(
    store: CampaignStore,
) -> None:
    before = Book.read(store).setting_of(on(store, "A01"))
    off = wiring_typed.disconnected(store, "A01", {"at": LATER}).connection
    typed = {"subject": "L1-M-T", "at": LATER, "excitation": "1 V"}
    made = wiring_typed.connected(store, "A01", typed).connection
    setting = Book.read(store).setting_of(made).record
    assert setting == replace(before.record, excitation=1.0)
    undoing.undo(store, made.ref)
    back = undoing.undo(store, off.ref)
    assert back.record.ends is None
    assert [entry.version for entry in store.history(off.uid)] == [1, 2, 3]


def test_nothing_is_unplugged_twice_and_a_colour_is_for_every_wire(store: CampaignStore) -> None:
    wiring_typed.disconnected(store, "A01", {"at": LATER})
    with pytest.raises(InputError, match="reads something now"):
        wiring_typed.disconnected(store, "A01", {"at": LATER})
    lead = Book.read(store).of(Lead)[0]
    with pytest.raises(InputError, match="one for each of 3 wires"):
        wiring.colour(store, lead, ["brown", "grey"], reason="ours")
    kept = wiring.colour(store, lead, ["brown", " grey ", "violet"], reason="ours")
    assert kept.record.colours == ("brown", "grey", "violet")


def test_a_step_as_the_whole_circuit_gives_it_is_as_expected(store: CampaignStore) -> None:
    """By Kirchhoff's laws alone: grid 350, wires r, resistor across the tabs."""
    book = Book.read(store)
    connection = on(store, "A01")
    circuit = book.labelled(BridgeCircuit, "L1-M-T")
    wire = book.entry(circuit.record.lead, Lead).record.resistance.value
    grid = 1 / (1 / 350 + 1 / 174650)
    loaded = (grid + wire) / (grid + 350 + 2 * wire) - 0.5
    resistor = Stated(174650.0, 175.0, Meaning.LIMIT)
    expected = shunts.expected_steps(book, connection, resistor)
    assert expected[0].position == "T1-T2"
    assert float(expected[0].step.value) == pytest.approx(loaded, rel=1e-9)
    typed = {"shunt_resistance": "174.65 kohm ± 0.1 %", "at": LATER, "position": "T1-T2"}
    step = f"{loaded * 1e3} mV/V ± 0.0005 mV/V"
    taken = wiring_typed.stepped(store, "A01", typed | {"step": step})
    assert shunt_verdict.verdict(Book.read(store), taken).startswith("As expected at T1-T2")


@pytest.mark.parametrize(
    ("factor", "words"),
    [
        (0.5, "Half of it: look for a bridge set as half"),
        (2.0, "Double of it"),
        (-1.0, "it fits a resistor at completion-B"),
        (-2.0, "The sign is turned"),
        (1.1, "Look at the gauge factor and completion set"),
        (0.0, "The channel didn’t move"),
    ],
)
def test_a_step_that_is_off_is_told_by_its_factor(
    store: CampaignStore, factor: float, words: str
) -> None:
    connection = on(store, "A01")
    resistor = Stated(174650.0, 175.0, Meaning.LIMIT)
    expected = shunts.expected_steps(Book.read(store), connection, resistor)
    taken = wiring.shunted(
        store,
        connection,
        shunt_resistance=resistor,
        step=Stated(factor * float(expected[0].step.value), 1e-7, Meaning.LIMIT),
        measured=datetime(2026, 11, 2, tzinfo=UTC),
        position="T1-T2",
    )
    assert words in shunt_verdict.verdict(Book.read(store), taken)


def test_a_channel_of_another_kind_or_time_has_no_step(store: CampaignStore) -> None:
    typed = {"shunt_resistance": "174.65 kohm", "step": "-0.5", "at": "2026-10-01 09:00"}
    with pytest.raises(InputError, match="one at which this connection stood"):
        wiring_typed.stepped(store, "A01", typed)
    with pytest.raises(InputError, match="a bridge reading"):
        wiring_typed.stepped(store, "A17", typed)
    with pytest.raises(InputError, match="one of T1-T2"):
        wiring_typed.stepped(store, "A01", typed | {"at": LATER, "position": "D-E"})


def half_bridge_channel(store: CampaignStore) -> str:
    """A channel of the demo that reads a half bridge of a bending pair."""
    book = Book.read(store)
    for connection in book.of(Connection):
        found = book.found(connection.record.subject)
        if (
            found is not None
            and isinstance(found.record, BridgeCircuit)
            and found.record.topology is Topology.HALF_BENDING
            and connection.record.ends is None
        ):
            return book.label(connection.record.channel)
    raise AssertionError("the demo has no half bridge")


def test_a_half_bridge_has_its_own_places_and_steps(store: CampaignStore) -> None:
    """By voltage division: grids R, wires r, resistor across the grid of arm 1 at its tabs."""
    channel = half_bridge_channel(store)
    connection, book = on(store, channel), Book.read(store)
    circuit = book.entry(connection.record.subject, BridgeCircuit)
    wire = book.entry(circuit.record.lead, Lead).record.resistance.value
    grid = book.pack_of(book.gauges_of(circuit)[0]).record.gauge_resistance.value
    resistor = Stated(174650.0, 175.0, Meaning.LIMIT)
    assert set(shunts.places(book, connection)) >= {"T1-N", "T3-N", "A-C", "B-C"}
    expected = {one.position: one for one in shunts.expected_steps(book, connection, resistor)}
    less = grid * 174650 / (grid + 174650)
    wanted = (less + wire) / (less + grid + 2 * wire) - 0.5
    setting = book.setting_of(connection).record
    if setting.kind is not ReadingKind.RATIO:
        wanted *= 4 / (setting.set_gauge_factor or 2.0)
    assert float(expected["T1-N"].step.value) == pytest.approx(wanted, rel=1e-9)
    assert float(expected["T3-N"].step.value) == pytest.approx(-wanted, rel=1e-9)
    taken = wiring.shunted(
        store,
        connection,
        shunt_resistance=resistor,
        step=Stated(wanted, abs(wanted) * 1e-4, Meaning.LIMIT),
        measured=datetime(2026, 11, 2, tzinfo=UTC),
        position="T1-N",
    )
    assert shunt_verdict.verdict(Book.read(store), taken).startswith("As expected at T1-N")
    with pytest.raises(InputError, match="one of T1-N"):
        wiring.shunted(
            store,
            connection,
            shunt_resistance=resistor,
            step=Stated(wanted, 1e-7, Meaning.LIMIT),
            measured=datetime(2026, 11, 2, tzinfo=UTC),
            position="T1-T2",
        )


@pytest.mark.parametrize(
    ("otherwise", "words"),
    [
        ({"lead_resistance": 0.0}, "without any wires"),
        ({"completion_resistance": 120.0}, "with a completion of 120"),
    ],
)
def test_a_step_tells_what_is_otherwise_than_recorded(
    store: CampaignStore, otherwise: dict[str, float], words: str
) -> None:
    connection = on(store, "A01")
    resistor = Stated(174650.0, 10.0, Meaning.LIMIT)
    steps = shunts.expected_steps(Book.read(store), connection, resistor, otherwise)
    found = next(one for one in steps if one.position == "completion-C")
    taken = wiring.shunted(
        store,
        connection,
        shunt_resistance=resistor,
        step=Stated(float(found.step.value), 1e-8, Meaning.LIMIT),
        measured=datetime(2026, 11, 2, tzinfo=UTC),
        position="completion-C",
    )
    assert words in shunt_verdict.verdict(Book.read(store), taken)
