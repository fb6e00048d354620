"""Forms that put circuits and sensors on channels, many at once."""

from collections.abc import Mapping, Sequence
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
    ReadingKind,
)
from gaugewright.records.identity import Ref, Uid
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.events import instant_typed
from gaugewright.services.entering.blanks import Blank, Kind
from gaugewright.services.entering.kinds import Asking, ManyKind
from gaugewright.services.wiring import plugs as wiring
from gaugewright.services.wiring.settings import UNITS, WRITES, fixed_arm, has_inner_arms, own_unit
from gaugewright.store.campaign import CampaignStore

__all__ = ["SENSED", "WIRED"]

_AT = Blank(
    "at",
    "Plugged in from",
    hint="As planned, such as 2026-10-13 08:00, in time of the hall.",
    is_needed=True,
)
_SCANS = Blank("scans", "Scans a second", Kind.NUMBER, "sampling_rate")


def _free(book: Book) -> tuple[list[str], list[str], list[str]]:
    """Labels of circuits and of sensors on no channel, and of channels with nothing on them."""
    standing = [c.record for c in book.of(Connection) if c.record.ends is None]
    subjects, channels = ({getattr(c, name) for c in standing} for name in ("subject", "channel"))
    circuits: list[str] = []
    sensors: list[str] = []
    for entry in wiring.subjects(book):
        by_eye = getattr(entry.record, "temperature_degc", None) is not None
        if entry.uid not in subjects and not by_eye:
            mine = circuits if isinstance(entry.record, BridgeCircuit) else sensors
            mine.append(entry.record.label)
    return circuits, sensors, [c.record.label for c in book.of(Channel) if c.uid not in channels]


def _wired_blanks(asking: Asking) -> Sequence[Blank]:
    circuits, _, channels = _free(asking.book)
    kind = asking.member("writes", ReadingKind.RATIO)
    chosen = asking.texts.get("circuits", "; ".join(circuits))
    return [
        Blank(
            "circuits",
            "Circuits",
            Kind.PICKS,
            hint="In order: the first goes on the first channel. A fixed arm that was entered "
            "with its bridge is the completion of its channel.",
            is_needed=True,
            of=BridgeCircuit,
            standing="; ".join(circuits),
        ),
        Blank(
            "channels",
            "Channels",
            Kind.PICKS,
            hint="As many as circuits.",
            is_needed=True,
            of=Channel,
            standing="; ".join(channels[: len(circuits)]),
        ),
        _AT,
        Blank(
            "writes",
            "Channels write",
            Kind.CHOICE,
            choices=tuple((one.value, WRITES[one]) for one in UNITS),
            of_enum=ReadingKind,
            is_needed=True,
            decides=True,
            standing=ReadingKind.RATIO.value,
        ),
        *_set(kind, is_completed=_all_completed(asking.book, chosen)),
    ]


def _all_completed(book: Book, circuits: str) -> bool:
    """Whether no circuit that is named needs a completion that its bridge doesn't have."""
    named = [entry for entry in book.of(BridgeCircuit) if entry.record.label in circuits]
    return all(fixed_arm(one.record) or not has_inner_arms(one.record) for one in named)


def _set(kind: ReadingKind, *, is_completed: bool) -> list[Blank]:
    """How a channel that writes this is set."""
    units = UNITS.get(kind, UNITS[ReadingKind.RATIO])
    in_it = "In the unit that it writes, such as {}; empty where it isn’t known."
    blanks = [
        Blank(
            "unit",
            "In",
            Kind.CHOICE,
            choices=units,
            is_needed=True,
            standing=units[0][0],
            follows=True,
        ),
        Blank(
            "excitation",
            "Excitation",
            Kind.NUMBER,
            "excitation",
            hint="As it is set, such as 2.5: what heats the grid follows from it.",
        ),
    ]
    if kind in (ReadingKind.STRAIN_LINEAR, ReadingKind.STRAIN_LINEARISED):
        blanks.append(Blank("set_gauge_factor", "Gauge factor set", Kind.NUMBER, is_needed=True))
    if not is_completed:
        hint = "Of those bridges to which no fixed arm was entered."
        blanks.append(
            Blank("completion", "Completion", Kind.STATED, "completion_resistance", hint=hint)
        )
    blanks += [
        Blank("low", "Range from", Kind.NUMBER, hint=in_it.format("−5")),
        Blank("high", "Range to", Kind.NUMBER, hint=in_it.format("5")),
        _SCANS,
    ]
    return blanks


def _wired(store: CampaignStore, book: Book, values: dict[str, Any]) -> tuple[Ref, ...]:
    circuits, channels = values["circuits"], values["channels"]
    if len(circuits) != len(channels):
        counts = f"{len(channels)} for {len(circuits)} circuits"
        raise InputError("channels", counts, "as many as circuits")
    begins = _instant(store, values["at"])
    refs: list[Ref] = []
    for circuit, channel in zip(circuits, channels, strict=True):
        own = fixed_arm(book.entry(circuit, BridgeCircuit).record)
        setting = ChannelSetting(
            channel,
            values["writes"],
            values["unit"],
            values["excitation"],
            values.get("set_gauge_factor"),
            own or values.get("completion"),
            values["low"],
            values["high"],
            values["scans"],
        )
        refs += _plugged(store, circuit, setting, begins)
    return tuple(refs)


def _plugged(
    store: CampaignStore, subject: Uid, setting: ChannelSetting, begins: datetime
) -> list[Ref]:
    kept = store.add(setting, reason="as planned")
    wanted = Connection(subject, setting.channel, kept.uid, begins)
    return [kept.ref, wiring.connect(store, wanted).connection.ref]


def _instant(store: CampaignStore, text: str) -> datetime:
    zone = ZoneInfo(store.campaign.record.zone)
    return instant_typed(text, zone, store.context.now())


_RANGES = (("time", "at"), ("range_high", "high"), ("range_low", "low"))
WIRED = ManyKind(
    "wired",
    "Circuits on channels",
    "Which circuit goes on which channel, how it is set, and from when. Load cells, displacement "
    "sensors and thermometers have a form of their own: Sensors on channels. A plug made later, "
    "or remade, is written down on the channel’s own page under Wiring.",
    "Put them on",
    "",
    _wired_blanks,
    _wired,
    places=_RANGES,
    after="sensed",
)


def _sensed_blanks(asking: Asking) -> Sequence[Blank]:
    circuits, sensors, channels = _free(asking.book)
    known = {entry.record.label: entry.record for entry in wiring.subjects(asking.book)}
    left = channels[len(circuits) :]
    rows: list[Mapping[str, str]] = []
    for place, label in enumerate(sensors):
        channel = left[place] if place < len(left) else ""
        unit = own_unit(known[label], asking.system)
        rows.append({"subject": label, "channel": channel, "unit": unit})
    if not sensors:
        return ()  # rows without anything to choose would ask for nothing
    hint = "One row each. In: what the channel writes, such as kN, mm, °C or mV/V."
    return (
        _AT,
        _SCANS,
        Blank(
            "rows",
            "Sensors",
            Kind.ROWS,
            hint=hint,
            is_needed=True,
            columns=(
                Blank(
                    "subject",
                    "Sensor",
                    Kind.CHOICE,
                    choices=(("", "choose"), *((label, label) for label in sensors)),
                    is_needed=True,
                ),
                Blank("channel", "Channel", Kind.PICK, is_needed=True, of=Channel),
                Blank("unit", "In", is_needed=True),
            ),
            standing_rows=tuple(rows),
        ),
    )


_NONE_WAITS = "enter load cells, transducers and temperature points first"


def _sensed(store: CampaignStore, book: Book, values: dict[str, Any]) -> tuple[Ref, ...]:
    if "rows" not in values:
        raise InputError("rows", "none", "a sensor that waits for a channel", _NONE_WAITS)
    begins = _instant(store, values["at"])
    refs: list[Ref] = []
    for row in values["rows"]:
        subject = wiring.subject_named(book, row["subject"])
        if parse_unit(row["unit"]) is None:
            raise InputError("unit", row["unit"], "a unit such as kN, mm or °C")
        setting = ChannelSetting(
            row["channel"], ReadingKind.OTHER, row["unit"], scans_per_second=values["scans"]
        )
        refs += _plugged(store, subject.uid, setting, begins)
    return tuple(refs)


SENSED = ManyKind(
    "sensed",
    "Sensors on channels",
    "Which load cell, displacement sensor or thermometer is on which channel, in which unit its "
    "channel writes, and from when.",
    "Put them on",
    "",
    _sensed_blanks,
    _sensed,
    places=(("time", "at"),),
    nothing=f"No sensor waits for a channel: {_NONE_WAITS}.",
    before="sensor",
)
