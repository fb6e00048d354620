"""Forms for instruments, their channels, what is put on them, sensors, meters and people."""

import re
from collections.abc import Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from gaugewright.errors import InputError
from gaugewright.quantities import parse_unit
from gaugewright.records.electrical import (
    BridgeCircuit,
    Channel,
    ChannelSetting,
    Connection,
    Instrument,
    ReadingKind,
)
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Ref
from gaugewright.records.proof import Meter, Person
from gaugewright.records.sensors import Sensor, TemperaturePoint
from gaugewright.records.stated import Basis
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.events import instant_typed
from gaugewright.services.entering.blanks import Blank, Kind, Reader
from gaugewright.services.entering.kinds import (
    Asking,
    EntryKind,
    ManyKind,
    label_blank,
    plain_build,
    plain_spread,
)
from gaugewright.services.wiring import plugs as wiring
from gaugewright.store.campaign import CampaignStore

__all__ = ["CHANNEL", "CHANNELS", "INSTRUMENT", "METER", "PERSON", "POINT", "SENSOR", "WIRED"]

_LAST_NUMBER = re.compile(r"^(?P<stem>.*?)(?P<number>\d+)$", re.DOTALL)


_INSTRUMENT = (
    label_blank("Such as: Recorder A"),
    Blank("serial", "Serial number", is_needed=True),
    Blank(
        "gain",
        "Reading over truth",
        Kind.STATED,
        hint="By its certificate: 1 ± 0.001 (k=2)",
        is_needed=True,
        basis=Basis.MEASURED,
    ),
    Blank(
        "dwell",
        "Time from one channel to the next",
        Kind.NUMBER,
        "time",
        hint="Within one scan; 0 where all are sampled at once.",
        is_needed=True,
        standing="0",
    ),
    Blank(
        "filter_delay",
        "Delay of its filter",
        Kind.STATED,
        "time",
        hint="0.004 ± 0.002 (limit)",
        is_needed=True,
    ),
    Blank(
        "channels_isolated",
        "Channels isolated from each other",
        Kind.YES,
        hint="Where they aren’t, one gauge’s leak is seen on others.",
        standing="no",
    ),
    Blank("certificate", "Certificate"),
    Blank(
        "stability",
        "Drift of its zero in a day",
        Kind.STATED,
        "bridge_ratio",
        hint="0 ± 0.001 (limit), in mV/V",
    ),
)


def _instrument_blanks(asking: Asking) -> Sequence[Blank]:
    return _INSTRUMENT


INSTRUMENT = EntryKind(
    "instrument",
    "a recorder",
    "Instruments",
    "A recorder as its certificate and settings describe it.",
    Instrument,
    _instrument_blanks,
    plain_build(Instrument),
    after="channels",
)


def _channel_blanks(asking: Asking) -> Sequence[Blank]:
    return (
        label_blank("Such as: A01"),
        Blank("instrument", "Recorder", Kind.PICK, is_needed=True, of=Instrument),
        Blank("number", "Number of the input", Kind.COUNT, is_needed=True),
        Blank("column", "Its name in the recorder’s files", is_needed=True),
    )


CHANNEL = EntryKind(
    "channel",
    "a channel",
    "Channels",
    "An input of a recorder, and the name it has in the recorder’s files.",
    Channel,
    _channel_blanks,
    plain_build(Channel),
    after="wired",
)


def _channels_blanks(asking: Asking) -> Sequence[Blank]:
    return (
        Blank("instrument", "Recorder", Kind.PICK, is_needed=True, of=Instrument),
        Blank(
            "first",
            "Label of the first",
            hint="It ends with a number that counts up: A01, A02, … It is its name in files too.",
            is_needed=True,
        ),
        Blank("number", "Number of its input", Kind.COUNT, is_needed=True, standing="1"),
        Blank("count", "How many", Kind.COUNT, is_needed=True),
    )


def _channels(store: CampaignStore, book: Book, values: dict[str, Any]) -> tuple[Ref, ...]:
    found = _LAST_NUMBER.match(values["first"])
    if found is None:
        raise InputError("first", values["first"], "a label that ends with a number, such as A01")
    if not 1 <= values["count"] <= 1000:
        raise InputError("count", values["count"], "from 1 to 1000")
    begin, width = int(found["number"]), len(found["number"])
    refs = []
    for place in range(values["count"]):
        label = f"{found['stem']}{begin + place:0{width}d}"
        channel = Channel(label, values["instrument"], values["number"] + place, label)
        refs.append(store.add(channel, reason="inputs counted up").ref)
    return tuple(refs)


CHANNELS = ManyKind(
    "channels",
    "Channels, counted up",
    "The inputs of one recorder, as many as the plan needs.",
    "Make the channels",
    "channel",
    _channels_blanks,
    _channels,
    after="wired",
)


def _on_channels(book: Book) -> tuple[str, str]:
    """Labels of circuits on no channel, and of channels with nothing on them."""
    standing = [c.record for c in book.of(Connection) if c.record.ends is None]
    subjects, channels = ({getattr(c, name) for c in standing} for name in ("subject", "channel"))
    circuits = [c.record.label for c in book.of(BridgeCircuit) if c.uid not in subjects]
    free = [c.record.label for c in book.of(Channel) if c.uid not in channels]
    return "; ".join(circuits), "; ".join(free[: len(circuits)])


def _wired_blanks(asking: Asking) -> Sequence[Blank]:
    circuits, channels = _on_channels(asking.book)
    return [
        Blank(
            "circuits",
            "Circuits",
            Kind.PICKS,
            hint="In order: the first goes on the first channel.",
            is_needed=True,
            of=BridgeCircuit,
            standing=circuits,
        ),
        Blank(
            "channels",
            "Channels",
            Kind.PICKS,
            hint="As many as circuits.",
            is_needed=True,
            of=Channel,
            standing=channels,
        ),
        Blank(
            "at",
            "Plugged in from",
            hint="As planned, such as 2026-10-13 08:00, in time of the hall.",
            is_needed=True,
        ),
        Blank(
            "writes",
            "Channels write",
            Kind.CHOICE,
            choices=tuple((one.value, one.value) for one in ReadingKind),
            of_enum=ReadingKind,
            is_needed=True,
            decides=True,
            standing=ReadingKind.RATIO.value,
        ),
        *_set(asking.member("writes", ReadingKind.RATIO)),
    ]


def _set(kind: ReadingKind) -> list[Blank]:
    """How a channel that writes this is set."""
    blanks = [
        Blank("unit", "In", hint="mV/V, µm/m or ohm", is_needed=True),
        Blank("excitation", "Excitation", Kind.NUMBER, "excitation"),
    ]
    if kind in (ReadingKind.STRAIN_LINEAR, ReadingKind.STRAIN_LINEARISED):
        blanks.append(Blank("set_gauge_factor", "Gauge factor set", Kind.NUMBER, is_needed=True))
    blanks += [
        Blank("completion", "Completion", Kind.STATED, "completion_resistance"),
        Blank("low", "Range from", Kind.NUMBER, hint="In the unit that it writes."),
        Blank("high", "Range to", Kind.NUMBER, hint="In the unit that it writes."),
        Blank("scans", "Scans a second", Kind.NUMBER, "sampling_rate"),
    ]
    return blanks


def _wired(store: CampaignStore, book: Book, values: dict[str, Any]) -> tuple[Ref, ...]:
    circuits, channels = values["circuits"], values["channels"]
    if len(circuits) != len(channels):
        counts = f"{len(channels)} for {len(circuits)} circuits"
        raise InputError("channels", counts, "as many as circuits")
    if parse_unit(values["unit"]) is None:
        raise InputError("unit", values["unit"], "a unit such as mV/V or µm/m")
    begins = _instant(store, values["at"])
    refs: list[Ref] = []
    for circuit, channel in zip(circuits, channels, strict=True):
        setting = ChannelSetting(
            channel,
            values["writes"],
            values["unit"],
            values["excitation"],
            values.get("set_gauge_factor"),
            values["completion"],
            values["low"],
            values["high"],
            values["scans"],
        )
        kept = store.add(setting, reason="as planned")
        plugged = wiring.connect(store, Connection(circuit, channel, kept.uid, begins))
        refs += [kept.ref, plugged.connection.ref]
    return tuple(refs)


def _instant(store: CampaignStore, text: str) -> datetime:
    zone = ZoneInfo(store.campaign.record.zone)
    return instant_typed(text, zone, store.context.now())


WIRED = ManyKind(
    "wired",
    "Circuits on channels",
    "Which circuit goes on which channel, how it is set, and from when. A plug made later, or "
    "remade, is written down on the channel’s own page under Wiring.",
    "Put them on",
    "",
    _wired_blanks,
    _wired,
    places=(("time", "at"), ("range_high", "high"), ("range_low", "low")),
)

_SENSED = ("force", "distance", "temperature_degc", "angle", "stress")


def _sensor_blanks(asking: Asking) -> Sequence[Blank]:
    quantity = asking.text("quantity", "force")
    choices = [(one, one.replace("_degc", "")) for one in _SENSED]
    if quantity not in _SENSED:
        choices.append((quantity, quantity))
    return (
        label_blank("Such as: load cell"),
        Blank(
            "quantity",
            "It measures",
            Kind.CHOICE,
            choices=tuple(choices),
            is_needed=True,
            decides=True,
            standing="force",
        ),
        Blank(
            "sign",
            "Its positive way",
            Kind.CHOICE,
            choices=(("1", "is the campaign’s"), ("-1", "is against it")),
            is_needed=True,
            standing="1",
        ),
        *_sensed(quantity),
    )


def _sensed(quantity: str) -> tuple[Blank, ...]:
    """How its reading becomes a true value."""
    return (
        Blank(
            "gain",
            "True value over reading",
            Kind.STATED,
            hint="By its certificate: 1 ± 0.005 (k=2)",
            is_needed=True,
            basis=Basis.MEASURED,
        ),
        Blank(
            "offset",
            "Added to it",
            Kind.STATED,
            quantity,
            hint="0 ± 0.1 (k=2)",
            is_needed=True,
            basis=Basis.MEASURED,
        ),
        Blank("lag", "It lags by", Kind.NUMBER, "time", is_needed=True, standing="0"),
        Blank("certificate", "Certificate"),
    )


_SENSOR = plain_build(Sensor)


def _sensor(values: dict[str, Any], before: Any, reader: Reader) -> Sensor:
    made: Sensor = _SENSOR(values | {"sign": int(values["sign"])}, before, reader)
    return made


def _sensor_spread(record: Sensor, book: Book) -> dict[str, Any]:
    return plain_spread(record, book) | {"sign": str(record.sign)}


SENSOR = EntryKind(
    "sensor",
    "a sensor",
    "Other sensors",
    "Load cells, displacement transducers: without a load there is no yield load.",
    Sensor,
    _sensor_blanks,
    _sensor,
    _sensor_spread,
)


def _point_blanks(asking: Asking) -> Sequence[Blank]:
    return (
        label_blank("Such as: T1"),
        Blank("where", "Where it is", is_needed=True),
        Blank("gauges", "Stands for these gauges", Kind.PICKS, of=Gauge),
        Blank(
            "doubt",
            "Doubt",
            Kind.STATED,
            "temperature_difference",
            hint="Of the thermometer and of its distance from them: 0 ± 0.5 (limit)",
            is_needed=True,
        ),
    )


POINT = EntryKind(
    "point",
    "a temperature point",
    "Temperature points",
    "A thermometer, and the gauges whose temperature it tells.",
    TemperaturePoint,
    _point_blanks,
    plain_build(TemperaturePoint),
)


def _meter_blanks(asking: Asking) -> Sequence[Blank]:
    return (
        label_blank("Such as: ohmmeter 2"),
        Blank("unit", "Reads in", hint="Such as ohm.", is_needed=True, standing="ohm"),
        Blank(
            "error_share",
            "Limit of error, of the reading",
            Kind.NUMBER,
            "share",
            hint="As a share: 0.0005 for 0.05 %",
            is_needed=True,
        ),
        Blank(
            "error_fixed",
            "Limit of error, fixed",
            Kind.NUMBER,
            hint="In the unit that it reads in.",
            is_needed=True,
        ),
        Blank("highest", "Highest reading", Kind.NUMBER, hint="In the unit that it reads in."),
        Blank("test_voltage", "Test voltage", Kind.NUMBER, "voltage"),
        Blank("certificate", "Certificate"),
    )


METER = EntryKind(
    "meter",
    "a hand meter",
    "Hand meters",
    "With which gauges are proved at the gates.",
    Meter,
    _meter_blanks,
    plain_build(Meter),
)


def _person_blanks(asking: Asking) -> Sequence[Blank]:
    return (
        label_blank("Initials, such as AB"),
        Blank("name", "Name", is_needed=True),
        Blank("role", "Role"),
    )


PERSON = EntryKind(
    "person",
    "a person",
    "People",
    "Who bonds, checks and answers for it.",
    Person,
    _person_blanks,
    plain_build(Person),
)
