"""Forms for recorders and their channels, for hand meters and for people."""

import re
from collections.abc import Sequence
from typing import Any

from gaugewright.errors import InputError
from gaugewright.records.electrical import (
    Channel,
    Instrument,
)
from gaugewright.records.identity import Ref
from gaugewright.records.proof import Meter, Person
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering.blanks import Blank, Kind
from gaugewright.services.entering.kinds import (
    Asking,
    EntryKind,
    ManyKind,
    label_blank,
    plain_build,
)
from gaugewright.services.entering.sensing import indicated
from gaugewright.store.campaign import CampaignStore

__all__ = ["CHANNEL", "CHANNELS", "INSTRUMENT", "METER", "PERSON"]

_LAST_NUMBER = re.compile(r"^(?P<stem>.*?)(?P<number>\d+)$", re.DOTALL)


_INSTRUMENT = (
    label_blank("Such as: Recorder A"),
    Blank(
        "serial",
        "Serial number",
        hint="On its plate; one without has the number that the laboratory gave it.",
        is_needed=True,
    ),
    indicated("1 ± 0.001 (k=2)"),
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
        hint="Such as 0.004 ± 0.002 (limit). Not known: for loads that stand still 0 ± 1 (limit), "
        "assumed, will do.",
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
        hint="Such as 0 ± 0.001 (limit), in mV/V",
    ),
)


def _instrument_blanks(asking: Asking) -> Sequence[Blank]:
    return _INSTRUMENT


INSTRUMENT = EntryKind(
    "instrument",
    "a recorder",
    "Instruments",
    "A recorder as its certificate describes it. Excitation and range belong to its channels: they "
    "are asked where circuits go on channels.",
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


_METER_UNITS = (
    ("ohm", "Ω"),
    ("kohm", "kΩ"),
    ("Mohm", "MΩ"),
    ("Gohm", "GΩ"),
    ("mV/V", "mV/V, a strain indicator"),
    ("µm/m", "µm/m (µε), a strain indicator"),
)


def _units(now: str) -> tuple[tuple[str, str], ...]:
    """Units of meters, and the spelling that a meter has from elsewhere."""
    known = now in dict(_METER_UNITS) or not now
    return _METER_UNITS if known else (*_METER_UNITS, (now, now))


def _meter_blanks(asking: Asking) -> Sequence[Blank]:
    return (
        label_blank("Such as: ohmmeter 2"),
        Blank(
            "unit",
            "Reads in",
            Kind.CHOICE,
            hint="A meter with ranges in Ω and MΩ is one meter where one limit of error holds for "
            "all of them; else enter it once for each range that is used.",
            choices=_units(asking.text("unit")),
            is_needed=True,
            standing="ohm",
        ),
        Blank(
            "error_share",
            "Limit of error, of the reading",
            Kind.NUMBER,
            "share",
            unit="%",
            hint="As its data sheet has it: of ± (0.05 % of the reading + 0.02 Ω) the 0.05. 0 "
            "where it has none.",
            is_needed=True,
        ),
        Blank(
            "error_fixed",
            "Limit of error, fixed",
            Kind.NUMBER,
            hint="In the unit that it reads in: of the same the 0.02. So many digits are so many "
            "steps of its last one.",
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
