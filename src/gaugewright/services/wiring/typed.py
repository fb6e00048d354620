"""What a person typed about a plug, as records: from the form and from the command line alike."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from zoneinfo import ZoneInfo

from gaugewright.errors import InputError
from gaugewright.present.typed import number_typed, quantity_typed
from gaugewright.present.units_shown import System, quantity_shown
from gaugewright.quantities import parse_unit
from gaugewright.records import Entry
from gaugewright.records.electrical import (
    BridgeCircuit,
    Channel,
    ChannelSetting,
    Connection,
    ReadingKind,
    ShuntStep,
)
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Zero
from gaugewright.records.sensors import Sensor, TemperaturePoint
from gaugewright.records.stated import Stated
from gaugewright.services.campaign import campaigns
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.events import instant_typed
from gaugewright.services.showing.listings import Cell
from gaugewright.services.wiring import plugs as wiring
from gaugewright.services.wiring import shunts
from gaugewright.services.wiring.plugs import Plugged
from gaugewright.services.wiring.settings import completed, own_unit
from gaugewright.services.work.typed_values import stated_typed
from gaugewright.store.campaign import CampaignStore

__all__ = ["SETTINGS", "connected", "disconnected", "plugged_words", "shunt_typed", "stepped"]

# What may be typed of a setting: left empty, it stays as the channel was set last.
SETTINGS = ("writes", "unit", "excitation", "completion_resistance", "set_gauge_factor")


def connected(store: CampaignStore, channel: str, typed: Mapping[str, str]) -> Plugged:
    """Write down a plug as typed: subject, at, plug, carry, and what is new in the setting.

    Raises
    ------
    InputError
        If something typed can't be, or what it names isn't free.
    """
    book, zone, now, system = _terms(store)
    on = wiring.channel_named(book, channel)
    subject = wiring.subject_named(book, typed.get("subject", "").strip())
    setting, new = _setting(book, on, subject, typed, system=system)
    begins = _instant(typed, "at", zone, now)
    until = typed.get("until", "").strip()
    wanted = Connection(
        subject.uid,
        on.uid,
        setting,
        begins,
        instant_typed(until, zone, now) if until else None,
        typed.get("plug", "").strip(),
    )
    return wiring.connect(store, wanted, setting=new, carry=typed.get("carry", ""))


def disconnected(store: CampaignStore, channel: str, typed: Mapping[str, str]) -> Plugged:
    """Write down that what is on a channel was unplugged.

    Raises
    ------
    InputError
        If nothing is on it, or the instant can't be.
    """
    book, zone, now, _ = _terms(store)
    on = wiring.channel_named(book, channel)
    ends = _instant(typed, "at", zone, now)
    return wiring.disconnect(store, _standing(book, on), ends)


def stepped(store: CampaignStore, channel: str, typed: Mapping[str, str]) -> Entry[ShuntStep]:
    """Keep a step of the calibration resistor as typed: resistor, step, position, at.

    Raises
    ------
    InputError
        If nothing is on the channel, or something typed can't be.
    """
    book, zone, now, system = _terms(store)
    on = wiring.channel_named(book, channel)
    connection = _standing(book, on)
    quantity = shunts.quantity_of(book.setting_of(connection).record)
    return wiring.shunted(
        store,
        connection,
        shunt_resistance=shunt_typed(typed.get("shunt_resistance", ""), system),
        step=stated_typed("step", _given(typed, "step"), quantity, system, source="as read"),
        measured=_instant(typed, "at", zone, now),
        position=typed.get("position", "").strip(),
    )


def shunt_typed(text: str, system: System) -> Stated:
    """A calibration resistor as typed, such as "174.65 kΩ ± 0.1 %".

    Raises
    ------
    InputError
        If it isn't a positive resistance.
    """
    found = stated_typed("shunt_resistance", text, "shunt_resistance", system, source="as typed")
    if not found.value > 0:
        raise InputError("shunt_resistance", text, "a positive resistance")
    return found


def plugged_words(book: Book, plugged: Plugged, system: System) -> tuple[str, ...]:
    """What a plug changed, in sentences: which zeros it ended, and what carries over."""
    record = plugged.connection.record
    subject, channel = book.label(record.subject), book.label(record.channel)
    told = [f"{subject} is {'on' if record.ends is None else 'off'} {channel}."]
    if record.ends is not None:
        own = [one.zero for one in plugged.zeros if one.holds]
        if own:
            told.append(
                f"A plug made again ends the zeros that hold through this one: {_kinds(own)}. Read "
                "it just before and just after, or carry them over with the doubt of the contacts."
            )
        return tuple(told)
    if plugged.carried:
        told.append(f"Carried over: {'; '.join(_carried(one, system) for one in plugged.carried)}.")
    if plugged.ended:
        told.append(
            f"Ended by the plug: {_kinds(plugged.ended)}. Take them anew, or connect with the "
            "reason why they hold on."
        )
    if not plugged.zeros:
        told.append("No zero was taken of it before.")
    return tuple(told)


def _kinds(zeros: Iterable[Entry[Zero]]) -> str:
    return ", ".join(dict.fromkeys(zero.record.kind.value for zero in zeros))


def _carried(zero: Entry[Zero], system: System) -> str:
    record = zero.record
    doubt = record.transfer
    if doubt is None or not doubt.plus_minus:
        return f"{record.kind.value}, its doubt not stated"
    shown = quantity_shown("bridge_ratio", doubt.plus_minus, None, system).text
    return f"{record.kind.value}, with ± {shown} more ({doubt.meaning.value}; {doubt.source})"


def _terms(store: CampaignStore) -> tuple[Book, ZoneInfo, datetime, System]:
    zone = ZoneInfo(store.campaign.record.zone)
    return Book.read(store), zone, store.context.now(), campaigns.system_of(store)


def _given(typed: Mapping[str, str], name: str) -> str:
    text = typed.get(name, "").strip()
    if not text:
        raise InputError(name, "", "given")
    return text


def _instant(typed: Mapping[str, str], name: str, zone: ZoneInfo, now: datetime) -> datetime:
    text = typed.get(name, "").strip()
    return instant_typed(text, zone, now) if text else now


def _standing(book: Book, channel: Entry[Channel]) -> Entry[Connection]:
    for entry in book.of(Connection):
        if entry.record.channel == channel.uid and entry.record.ends is None:
            return entry
    raise InputError(
        f"channel {channel.record.label}", "with nothing on it", "one that reads something now"
    )


def _setting(
    book: Book,
    channel: Entry[Channel],
    subject: Entry[BridgeCircuit | Sensor | TemperaturePoint],
    typed: Mapping[str, str],
    *,
    system: System,
) -> tuple[Uid, ChannelSetting | None]:
    """The channel's last setting, or a new one where something of it is other than it was."""
    before = wiring.settings_on(book, channel.uid)
    wanted = {name: typed[name].strip() for name in SETTINGS if typed.get(name, "").strip()}
    record = subject.record
    if isinstance(record, BridgeCircuit):
        new = _of_circuit(channel, record, [one.record for one in before], wanted, system)
    else:
        new = _of_sensor(channel, record, [one.record for one in before], wanted, system)
    for entry in before:
        if entry.record == new:
            return entry.uid, None
    return Uid(""), new


def _of_circuit(
    channel: Entry[Channel],
    circuit: BridgeCircuit,
    before: list[ChannelSetting],
    wanted: Mapping[str, str],
    system: System,
) -> ChannelSetting:
    """As the channel was set last for a bridge, with what was typed; completed as the bridge is."""
    last = next((one for one in before if one.kind is not ReadingKind.OTHER), None)
    if last is None and not wanted:
        raise InputError("writes", "", "given for a channel that was never set, with its unit")
    new = last if last is not None and not wanted else _changed(channel, last, wanted, system)
    is_typed = "completion_resistance" in wanted
    whole = completed(circuit, new, new.completion_resistance if is_typed else None)
    return replace(new, completion_resistance=whole)


def _of_sensor(
    channel: Entry[Channel],
    sensor: Sensor | TemperaturePoint,
    before: list[ChannelSetting],
    wanted: Mapping[str, str],
    system: System,
) -> ChannelSetting:
    """A sensor's channel has a unit, and nothing of what bridges are set by."""
    last = next((one for one in before if one.kind is ReadingKind.OTHER), None)
    unit = wanted.get("unit", "") or (last.unit if last is not None else own_unit(sensor, system))
    if parse_unit(unit) is None:
        raise InputError("unit", unit, "a unit such as kN, mm or °C")
    scans = before[0].scans_per_second if before else None
    return ChannelSetting(channel.uid, ReadingKind.OTHER, unit, scans_per_second=scans)


def _changed(
    channel: Entry[Channel],
    before: ChannelSetting | None,
    wanted: Mapping[str, str],
    system: System,
) -> ChannelSetting:
    if before is None:
        unit = wanted.get("unit", "")
        if parse_unit(unit) is None:
            raise InputError("unit", unit, "a unit such as mV/V or µm/m")
        kind = _kind(wanted.get("writes", ""))
        factor = None
        if "set_gauge_factor" in wanted:
            factor = number_typed("set_gauge_factor", wanted["set_gauge_factor"])
        before = ChannelSetting(channel.uid, kind, unit, set_gauge_factor=factor)
    changes: dict[str, Cell | ReadingKind] = {}
    if "writes" in wanted:
        changes["kind"] = _kind(wanted["writes"])
    if "unit" in wanted:
        if parse_unit(wanted["unit"]) is None:
            raise InputError("unit", wanted["unit"], "a unit such as mV/V or µm/m")
        changes["unit"] = wanted["unit"]
    if "excitation" in wanted:
        changes["excitation"] = quantity_typed(
            "excitation", wanted["excitation"], "excitation", system
        )
    if "set_gauge_factor" in wanted:
        changes["set_gauge_factor"] = number_typed("set_gauge_factor", wanted["set_gauge_factor"])
    if "completion_resistance" in wanted:
        changes["completion_resistance"] = stated_typed(
            "completion_resistance",
            wanted["completion_resistance"],
            "completion_resistance",
            system,
            source="as typed at connecting",
        )
    return replace(before, **changes)  # type: ignore[arg-type]


def _kind(text: str) -> ReadingKind:
    for kind in ReadingKind:
        if kind.value == text:
            return kind
    raise InputError("writes", text, "one of " + "; ".join(kind.value for kind in ReadingKind))
