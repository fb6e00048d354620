"""Plugging and unplugging, written down: connections in time, what they end, what carries over."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from gaugewright.errors import InputError
from gaugewright.records import Entry, label_of
from gaugewright.records.electrical import (
    BridgeCircuit,
    Channel,
    ChannelSetting,
    Connection,
    Lead,
    ShuntStep,
)
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Zero
from gaugewright.records.sensors import Sensor, TemperaturePoint
from gaugewright.records.stated import Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.wiring import shunts
from gaugewright.services.wiring.settings import check_unit
from gaugewright.services.zeros import zeros
from gaugewright.store.campaign import CampaignStore

__all__ = [
    "Plugged",
    "Zeroed",
    "channel_named",
    "colour",
    "connect",
    "disconnect",
    "settings_on",
    "shunted",
    "standing_on",
    "subject_named",
    "subjects",
    "zeros_after",
]

SUBJECTS = (BridgeCircuit, Sensor, TemperaturePoint)


@dataclass(frozen=True, slots=True)
class Zeroed:
    """A zero of a circuit and whether it holds for a connection."""

    zero: Entry[Zero]
    holds: bool
    carried: bool


@dataclass(frozen=True, slots=True)
class Plugged:
    """A connection as it was written, and every earlier zero of its circuit."""

    connection: Entry[Connection]
    zeros: tuple[Zeroed, ...]

    @property
    def ended(self) -> tuple[Entry[Zero], ...]:
        """Zeros that no longer hold because the plug was remade."""
        return tuple(one.zero for one in self.zeros if not one.holds)

    @property
    def carried(self) -> tuple[Entry[Zero], ...]:
        """Zeros carried over, with the doubt of doing so."""
        return tuple(one.zero for one in self.zeros if one.holds and one.carried)


def subjects(book: Book) -> tuple[Entry[BridgeCircuit | Sensor | TemperaturePoint], ...]:
    """Everything that can be put on a channel: circuits, sensors, temperature points."""
    return tuple(entry for kind in SUBJECTS for entry in book.of(kind))  # type: ignore[misc]


def subject_named(book: Book, label: str) -> Entry[BridgeCircuit | Sensor | TemperaturePoint]:
    """What is to be put on a channel, by its label.

    Raises
    ------
    InputError
        If nothing, or more than one thing, is called so.
    """
    found = [entry for entry in subjects(book) if label_of(entry.record) == label]
    if len(found) != 1:
        known = ", ".join(label_of(entry.record) for entry in subjects(book)[:12]) or "none yet"
        allowed = f"one circuit, sensor or temperature point: {known} …"
        raise InputError("what is connected", label, allowed)
    return found[0]


def channel_named(book: Book, label: str) -> Entry[Channel]:
    """Channel by its label.

    Raises
    ------
    InputError
        If none is called so.
    """
    return book.labelled(Channel, label)


def settings_on(book: Book, channel: Uid) -> tuple[Entry[ChannelSetting], ...]:
    """How a channel has been set so far, the latest first."""
    mine = [entry for entry in book.of(ChannelSetting) if entry.record.channel == channel]
    return tuple(sorted(mine, key=lambda entry: entry.at, reverse=True))


def standing_on(book: Book, channel: Uid, at: datetime) -> Entry[Connection] | None:
    """What is on a channel at an instant."""
    for entry in book.of(Connection):
        if entry.record.channel == channel and entry.record.covers(at):
            return entry
    return None


def connect(
    store: CampaignStore,
    wanted: Connection,
    *,
    setting: ChannelSetting | None = None,
    carry: str = "",
) -> Plugged:
    """Write down that something was put on a channel; ``setting`` is a new one for it.

    ``carry`` is the reason why earlier zeros of the circuit are to hold on: each is carried over
    with the doubt of two contacts remade. Without it they end here.

    Raises
    ------
    InputError
        If the channel or what is connected isn't free, or the setting is another channel's.
    """
    with store.several():
        if setting is not None:
            wanted = replace(wanted, setting=store.add(setting, reason="set at connecting").uid)
        book = Book.read(store)
        _refuse(book, wanted)
        reason = f"{book.label(wanted.subject)} put on {book.label(wanted.channel)}"
        entry = store.add(wanted, reason=reason)
        if carry.strip() and book.found(wanted.subject) in book.of(BridgeCircuit):
            for kind in {zero.record.kind for zero in _zeros_of(book, wanted.subject)}:
                zeros.carry_over(store, kind, reason=carry, circuit=wanted.subject)
        return Plugged(entry, zeros_after(Book.read(store), entry))


def disconnect(store: CampaignStore, connection: Entry[Connection], ends: datetime) -> Plugged:
    """Write down that a plug was pulled: a new version of its connection, with its end.

    Raises
    ------
    InputError
        If it had ended before.
    StaleEdit
        If somebody changed it meanwhile.
    """
    book = Book.read(store)
    record = connection.record
    if record.ends is not None:
        place = f"{book.label(record.subject)} on {book.label(record.channel)}"
        raise InputError("end", ends, f"that of a connection that stands; {place} was unplugged")
    reason = f"{book.label(record.subject)} taken off {book.label(record.channel)}"
    entry = store.revise(
        connection.uid, connection.version, replace(record, ends=ends), reason=reason
    )
    return Plugged(entry, zeros_after(Book.read(store), entry))


def zeros_after(book: Book, connection: Entry[Connection]) -> tuple[Zeroed, ...]:
    """Every zero of the same circuit, in order of time, and whether it holds here."""
    return tuple(
        Zeroed(
            zero,
            connection.uid in (zero.record.connection, *zero.record.carried_to),
            connection.uid in zero.record.carried_to,
        )
        for zero in sorted(
            _zeros_of(book, connection.record.subject), key=lambda one: one.record.measured
        )
    )


def _zeros_of(book: Book, subject: Uid) -> list[Entry[Zero]]:
    mine = {connection.uid for connection in book.connections_of(subject)}
    return [zero for zero in book.of(Zero) if zero.record.connection in mine]


def _refuse(book: Book, wanted: Connection) -> None:
    """Refuse what can't stand beside the other connections.

    Raises
    ------
    InputError
        Saying what stands in the way.
    """
    setting = book.entry(wanted.setting, ChannelSetting).record
    channel = book.label(wanted.channel)
    if setting.channel != wanted.channel:
        raise InputError("setting", book.label(setting.channel), f"one of channel {channel}")
    found = book.found(wanted.subject)
    if found is not None and isinstance(found.record, Sensor | TemperaturePoint):
        check_unit(found.record, setting.unit)
    for name, uid in (("channel", wanted.channel), ("subject", wanted.subject)):
        for entry in book.of(Connection):
            if getattr(entry.record, name) == uid and _overlap(entry.record, wanted):
                raise _not_free(book, entry.record, wanted, name)


def _overlap(one: Connection, other: Connection) -> bool:
    return (other.ends is None or one.begins < other.ends) and (
        one.ends is None or other.begins < one.ends
    )


def _not_free(book: Book, other: Connection, wanted: Connection, name: str) -> InputError:
    subject, channel = book.label(other.subject), book.label(other.channel)
    ends = "until now" if other.ends is None else f"to {other.ends:%Y-%m-%d %H:%M} UTC"
    stands = f"{subject} on {channel} from {other.begins:%Y-%m-%d %H:%M} UTC {ends}"
    if name == "channel":
        what, value = f"channel {channel}", f"taken: {stands}"
    else:
        what, value = subject, f"connected already: {stands}"
    do = "write down when that was unplugged first"
    if other.ends is not None or other.begins > wanted.begins:
        do = "choose an instant after that, or give this connection its end"
    return InputError(what, value, "free from the instant of connecting", do)


def colour(
    store: CampaignStore, lead: Entry[Lead], colours: Sequence[str], *, reason: str
) -> Entry[Lead]:
    """Colours of the wires of a lead, one each in the order of its terminals.

    Raises
    ------
    InputError
        If there are more or fewer than wires, or one of them is empty.
    """
    tidy = tuple(one.strip() for one in colours)
    if not all(tidy):
        raise InputError("colours", ", ".join(tidy), "a word for every wire")
    return store.revise(lead.uid, lead.version, replace(lead.record, colours=tidy), reason=reason)


def shunted(
    store: CampaignStore,
    connection: Entry[Connection],
    *,
    shunt_resistance: Stated,
    step: Stated,
    measured: datetime,
    position: str = "",
) -> Entry[ShuntStep]:
    """Keep by how much a channel's number changed for a calibration resistor.

    Raises
    ------
    InputError
        If the connection didn't stand then, its bridge has no such places, or the place is
        none of them.
    """
    book = Book.read(store)
    if not connection.record.covers(measured):
        raise InputError("time", measured, "one at which this connection stood")
    places = [one.position for one in shunts.expected_steps(book, connection, shunt_resistance)]
    if position and position not in places:
        raise InputError("position", position, "one of " + ", ".join(places) + ", or left out")
    record = ShuntStep(connection.uid, shunt_resistance, step, measured, position)
    label = book.label(connection.record.subject)
    return store.add(record, reason=f"calibration resistor on {label}")
