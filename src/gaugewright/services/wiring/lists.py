"""What is wired to what: every channel with its circuit, sensor or point, from when to when."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from gaugewright.present.captions import listed
from gaugewright.present.numbers import significant_text
from gaugewright.present.units_shown import System, quantity_shown
from gaugewright.records import Entry
from gaugewright.records.electrical import (
    BridgeCircuit,
    Channel,
    ChannelSetting,
    Connection,
    Instrument,
    Lead,
)
from gaugewright.records.gauges import Gauge
from gaugewright.records.sensors import Sensor, TemperaturePoint
from gaugewright.records.stated import Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.showing.listings import Cell, Column, Listing
from gaugewright.services.wiring.settings import writes_words

__all__ = ["is_planned", "setting_words", "standing_words", "subject_words", "wiring_lists"]


def wiring_lists(book: Book, zone: ZoneInfo, system: System) -> tuple[Listing, ...]:
    """Every list of the wiring."""
    return (
        _channels(book, zone, system),
        _circuits(book),
        _instruments(book, system),
        _connections(book, zone, system),
    )


def _channels(book: Book, zone: ZoneInfo, system: System) -> Listing:
    """One row a channel: what is on it now, or what was on it last."""
    return Listing(
        "channels",
        "Channels",
        (
            Column("channel"),
            Column("recorder"),
            Column("number"),
            Column("reads"),
            Column("which is"),
            Column("since"),
            Column("until"),
            Column("plug"),
            Column("set to"),
        ),
        tuple(_channel_row(book, channel, zone, system) for channel in _ordered(book)),
        "Channels will stand here, each with what is read through it.",
        "The connection that stands now, or the last one. Each channel has its own page.",
    )


def _channel_row(
    book: Book, channel: Entry[Channel], zone: ZoneInfo, system: System
) -> tuple[Cell, ...]:
    found = [c for c in book.of(Connection) if c.record.channel == channel.uid]
    last = max(found, key=lambda entry: entry.record.begins, default=None)
    record = channel.record
    start = (record.label, book.label(record.instrument), record.number)
    setting = _setting_of(book, channel, last, system)
    if last is None:
        return (*start, "nothing yet", "", "", "", "", setting)
    return (
        *start,
        book.label(last.record.subject),
        subject_words(book, last),
        _moment(last.record.begins, zone),
        _end(last.record, zone),
        last.record.plug,
        setting,
    )


def _ordered(book: Book) -> list[Entry[Channel]]:
    order = {entry.uid: place for place, entry in enumerate(book.of(Instrument))}
    return sorted(
        book.of(Channel),
        key=lambda entry: (order.get(entry.record.instrument, len(order)), entry.record.number),
    )


def _setting_of(
    book: Book, channel: Entry[Channel], last: Entry[Connection] | None, system: System
) -> str:
    if last is not None:
        return setting_words(book.setting_of(last).record, system)
    own = [s for s in book.of(ChannelSetting) if s.record.channel == channel.uid]
    return setting_words(own[-1].record, system) if own else "not set"


def setting_words(setting: ChannelSetting, system: System) -> str:
    """How a channel is set, in words."""
    words = [writes_words(setting)]
    if setting.excitation is not None:
        supply = quantity_shown("excitation", setting.excitation, None, system).text
        words.append(f"excitation {supply}")
    if setting.completion_resistance is not None:
        fixed = setting.completion_resistance.value
        words.append(
            "completion " + quantity_shown("completion_resistance", fixed, None, system).text
        )
    if setting.set_gauge_factor is not None:
        words.append(f"set gauge factor {significant_text(setting.set_gauge_factor)}")
    if setting.range_low is not None and setting.range_high is not None:
        low, high = (significant_text(n) for n in (setting.range_low, setting.range_high))
        words.append(f"range {low} to {high} {setting.unit}")
    if setting.scans_per_second is not None:
        words.append(f"{significant_text(setting.scans_per_second)} scans a second")
    return "; ".join(words)


def subject_words(book: Book, connection: Entry[Connection]) -> str:
    """What a connection reads: a circuit with its gauges, a sensor, or a temperature point."""
    found = book.found(connection.record.subject)
    record = None if found is None else found.record
    if isinstance(record, BridgeCircuit):
        gauges = [book.label(arm.gauge) for arm in record.arms if arm.gauge is not None]
        name = (
            ""
            if gauges == [record.label]
            else f", gauge{'s' if len(gauges) > 1 else ''} {listed(gauges)}"
        )
        return f"{record.topology.value}{name}"
    if isinstance(record, Sensor):
        return f"sensor of {record.quantity.replace('_', ' ')}"
    if isinstance(record, TemperaturePoint):
        return f"temperature, {record.where}"
    return "taken back since"


def _circuits(book: Book) -> Listing:
    return Listing(
        "circuits",
        "Circuits and leads",
        (
            Column("circuit"),
            Column("bridge"),
            Column("gauges"),
            Column("gauge", "gauge_resistance"),
            Column("lead"),
            Column("wires"),
            Column("long", "length"),
            Column("one wire", "lead_resistance"),
            Column("bundle"),
            Column("colours A, B, C …"),
            Column("compensated by"),
        ),
        tuple(_circuit_row(book, entry.record) for entry in book.of(BridgeCircuit)),
        "Circuits will stand here: gauges, fixed arms and the lead they share.",
        "Colours are those the laboratory entered for its own cable; none is assumed.",
    )


def _circuit_row(book: Book, record: BridgeCircuit) -> tuple[Cell, ...]:
    lead = book.entry(record.lead, Lead).record
    gauges = [arm.gauge for arm in record.arms if arm.gauge is not None]
    return (
        record.label,
        record.topology.value,
        ", ".join(book.label(uid) for uid in gauges),
        book.pack_of(book.entry(gauges[0], Gauge)).record.gauge_resistance,
        lead.label,
        lead.wires,
        lead.length,
        lead.resistance,
        lead.bundle,
        ", ".join(lead.colours) or "not entered",
        book.label(record.dummy) if record.dummy is not None else "",
    )


def _instruments(book: Book, system: System) -> Listing:
    rows = tuple(
        (
            entry.record.label,
            entry.record.serial,
            sum(channel.record.instrument == entry.uid for channel in book.of(Channel)),
            entry.record.gain,
            _seconds(entry.record.dwell, system),
            _delay(entry.record.filter_delay),
            "apart" if entry.record.channels_isolated else "joined",
            entry.record.certificate or "none on record",
        )
        for entry in book.of(Instrument)
    )
    return Listing(
        "recorders",
        "Recorders",
        (
            Column("recorder"),
            Column("serial"),
            Column("channels"),
            Column("gain"),
            Column("channel to channel"),
            Column("filter’s delay"),
            Column("channels’ earths"),
            Column("certificate"),
        ),
        rows,
        "Recorders will stand here.",
        "Gain is what it shows over what is true.",
    )


def _seconds(seconds: float, system: System) -> str:
    return quantity_shown("time", seconds, None, system).text


def _delay(delay: Stated) -> str:
    doubt = f" ± {significant_text(delay.plus_minus)}" if delay.plus_minus else ""
    return f"{significant_text(delay.value)}{doubt} s"


def _connections(book: Book, zone: ZoneInfo, system: System) -> Listing:
    found = sorted(book.of(Connection), key=lambda entry: entry.record.begins)
    rows = tuple(
        (
            book.label(entry.record.channel),
            book.label(entry.record.subject),
            _moment(entry.record.begins, zone),
            _end(entry.record, zone),
            entry.record.plug,
            setting_words(book.setting_of(entry).record, system),
        )
        for entry in found
    )
    return Listing(
        "connections",
        "Every connection",
        (
            Column("channel"),
            Column("read"),
            Column("from"),
            Column("until"),
            Column("plug"),
            Column("set to"),
        ),
        rows,
        "Connections will stand here: a reading finds its gauge only through them.",
    )


def _moment(instant: datetime, zone: ZoneInfo) -> str:
    return f"{instant.astimezone(zone):%Y-%m-%d %H:%M}"


def _end(connection: Connection, zone: ZoneInfo) -> str:
    return _moment(connection.ends, zone) if connection.ends else standing_words(connection)


def standing_words(connection: Connection) -> str:
    """What is said of a plug without an end."""
    return "planned" if is_planned(connection) else "still there"


def is_planned(connection: Connection) -> bool:
    """Whether a plug is written down for later."""
    return connection.begins > datetime.now(UTC)
