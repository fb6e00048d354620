"""Forms on a channel's sheet: plug in, unplug, the calibration resistor, colours of the wires."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.records import Entry, label_of
from gaugewright.records.electrical import BridgeCircuit, Channel, Connection, Lead, ReadingKind
from gaugewright.records.identity import Ref
from gaugewright.services.wiring import plugs as wiring
from gaugewright.services.wiring import shunts
from gaugewright.services.wiring import typed as wiring_typed
from gaugewright.services.wiring.settings import UNITS, WRITES, own_unit
from gaugewright.web import rooms
from gaugewright.web.forms import Choice, Field, told_beside

__all__ = ["PlugForm", "plug_forms", "written"]

# Kept in its field also when it was only asked about.
_KEPT = ("shunt_resistance",)
AT = "Time of the hall, as 14:05 or 2026-10-13 14:05; empty for now."
# Where a refusal's sentence stands when it doesn't name a field of the form itself.
_PLACES = {
    "connect": {"time": "at", "what is connected": "subject"},
    "sense": {"time": "at", "what is connected": "subject"},
    "disconnect": {"time": "at", "ends": "at"},
    "step": {"time": "at"},
    "colours": {},
}


@dataclass(frozen=True, slots=True)
class PlugForm:
    """A form: what it does, its fields, and what was refused beside none of them."""

    act: str
    title: str
    short: str
    button: str
    fields: tuple[Field, ...]
    failure: str
    is_open: bool


def written(room: rooms.Room, channel: Entry[Channel], act: str, typed: Mapping[str, str]) -> Ref:
    """Write down what a form says.

    Raises
    ------
    InputError
        If it can't be.
    """
    label = channel.record.label
    if act in ("connect", "sense"):
        return wiring_typed.connected(room.store, label, typed).connection.ref
    if act == "disconnect":
        return wiring_typed.disconnected(room.store, label, typed).connection.ref
    if act == "step":
        return wiring_typed.stepped(room.store, label, typed).ref
    if act == "colours":
        circuit = wiring.subject_named(room.book, typed.get("circuit", ""))
        if not isinstance(circuit.record, BridgeCircuit):
            raise InputError("circuit", typed.get("circuit"), "a circuit, which has a lead")
        lead = room.book.entry(circuit.record.lead, Lead)
        colours = typed.get("colours", "").split(",")
        reason = f"colours of the lead of {circuit.record.label}"
        return wiring.colour(room.store, lead, colours, reason=reason).ref
    raise InputError("what is to be written", act, "one of " + ", ".join(_PLACES))


def plug_forms(
    room: rooms.Room,
    channel: Entry[Channel],
    last: Entry[Connection] | None,
    typed: Mapping[str, str],
    error: tuple[str, GaugewrightError] | None,
) -> tuple[PlugForm, ...]:
    """Forms that suit what is on a channel."""
    stands = last is not None and last.record.ends is None
    made = []
    if not stands:
        ways = [_form(room, "connect", _connecting(room, channel, last), typed, error)]
        sensors = tuple(one for one in wiring.subjects(room.book) if not _is_bridge(one))
        if sensors:
            sensing = _sensing(room, last, sensors)
            ways.append(_form(room, "sense", sensing, typed, error))
        if last is not None and _subject_is_sensor(room, last):
            ways.reverse()  # what was on it last is the likelier
        if not any(one.is_open for one in ways):
            ways[0] = replace(ways[0], is_open=True)
        made += ways
    if last is not None and stands:
        made.append(_form(room, "disconnect", (_at("When"),), typed, error))
        found = room.book.found(last.record.subject)
        if found is not None and isinstance(found.record, BridgeCircuit):
            made.append(_form(room, "step", _stepping(room, last), typed, error))
            made.append(_form(room, "colours", _colours(room, found.record), typed, error))
    return tuple(made)


_TITLES = {
    "connect": ("Plug a bridge in", "Plug in", "Write the plug down"),
    "sense": ("Plug a sensor in", "Sensor", "Write the plug down"),
    "disconnect": ("Unplug it", "Unplug", "Write the unplugging down"),
    "step": ("Put the calibration resistor in", "Resistor", "Keep the step"),
    "colours": ("Colours of the wires", "Colours", "Keep the colours"),
}


def _form(
    room: rooms.Room,
    act: str,
    fields: tuple[Field, ...],
    typed: Mapping[str, str],
    error: tuple[str, GaugewrightError] | None,
) -> PlugForm:
    title, short, button = _TITLES[act]
    mine = error is not None and error[0] == act
    places = _PLACES.get(act, {})
    wrong, failure = told_beside(
        error[1] if mine and error is not None else None,
        {field.name for field in fields},
        lambda name: places.get(name, name),
    )
    filled = tuple(
        Field(
            field.name,
            field.label,
            typed.get(field.name, field.value) if mine or field.name in _KEPT else field.value,
            hint=field.hint,
            wrong=wrong.get(field.name, ""),
            choices=field.choices,
            is_long=field.is_long,
        )
        for field in fields
    )
    return PlugForm(act, title, short, button, filled, failure, mine)


def _at(label: str) -> Field:
    return Field("at", label, hint=AT)


def _connecting(
    room: rooms.Room, channel: Entry[Channel], last: Entry[Connection] | None
) -> tuple[Field, ...]:
    before = [
        one
        for one in wiring.settings_on(room.book, channel.uid)
        if one.record.kind is not ReadingKind.OTHER
    ]
    bridges = tuple(one for one in wiring.subjects(room.book) if _is_bridge(one))
    kept = "as it was set last" if before else "choose: it was never set for a bridge"
    writes = (Choice("", kept), *(Choice(one.value, WRITES[one]) for one in UNITS))
    keep = "Empty: as it was set last." if before else ""
    was_on = last is not None and not _subject_is_sensor(room, last)
    return (
        _subject(room, bridges, last if was_on else None),
        _at("When"),
        Field("plug", "Plug or seal", "" if last is None else last.record.plug),
        Field(
            "carry",
            "Earlier zeros hold on, because",
            hint="Empty: they end here. With a reason they carry over with the doubt of two "
            "contacts remade.",
        ),
        Field("writes", "Writes", choices=writes),
        Field("unit", "In", hint=f"Such as mV/V or µm/m. {keep}".strip()),
        Field("excitation", "Excitation", hint=f"Such as 2.5 V. {keep}".strip()),
        Field(
            "completion_resistance",
            "Completion",
            hint="Empty where the bridge was entered with its fixed arm. " + keep,
        ),
        Field(
            "set_gauge_factor",
            "Gauge factor set",
            hint=f"Only of a channel that writes strain. {keep}".strip(),
        ),
    )


def _sensing(
    room: rooms.Room, last: Entry[Connection] | None, sensors: tuple[Entry[Any], ...]
) -> tuple[Field, ...]:
    """A sensor has no excitation, completion or gauge factor that anything is worked out from."""
    was_on = last is not None and _subject_is_sensor(room, last)
    usual = ", ".join(
        f"{own_unit(one.record, room.units)} for {one.record.label}" for one in sensors[:4]
    )
    return (
        _subject(room, sensors, last if was_on else None),
        _at("When"),
        Field("plug", "Plug or seal", "" if last is None else last.record.plug),
        Field(
            "unit",
            "Its channel writes, in",
            hint=f"Empty: as it was set last, else {usual}.",
        ),
    )


def _is_bridge(entry: Entry[Any]) -> bool:
    return isinstance(entry.record, BridgeCircuit)


def _subject_is_sensor(room: rooms.Room, connection: Entry[Connection]) -> bool:
    found = room.book.found(connection.record.subject)
    return found is not None and not _is_bridge(found)


def _subject(
    room: rooms.Room, entries: tuple[Entry[Any], ...], last: Entry[Connection] | None
) -> Field:
    """What is plugged in: nothing is chosen where nothing was on the channel, free ones first."""
    taken = {c.record.subject for c in room.book.of(Connection) if c.record.ends is None}
    ordered = sorted(entries, key=lambda one: one.uid in taken)
    choices = [
        Choice(label, f"{label}, on a channel now" if one.uid in taken else label)
        for one in ordered
        for label in (label_of(one.record),)
    ]
    value = "" if last is None else room.book.label(last.record.subject)
    return Field("subject", "What", value, choices=(Choice("", "choose"), *choices))


def _stepping(room: rooms.Room, last: Entry[Connection]) -> tuple[Field, ...]:
    try:
        known = shunts.places(room.book, last)
    except InputError:  # the sheet says above why no step is worked out
        known = {}
    places = tuple(Choice(name, f"{name}: {words}") for name, words in known.items())
    return (
        Field("shunt_resistance", "Resistor", hint="With its doubt: 174.65 kohm ± 0.1 %."),
        Field("step", "Step", hint="With it less without it: -0.495 mV/V ± 0.001 mV/V."),
        Field("position", "Between", choices=(Choice("", "not known"), *places)),
        _at("When"),
    )


def _colours(room: rooms.Room, circuit: BridgeCircuit) -> tuple[Field, ...]:
    lead = room.book.entry(circuit.lead, Lead).record
    hint = f"{lead.wires} words with commas, in the order of the terminals above."
    return (
        Field("colours", "Colours", ", ".join(lead.colours), hint=hint),
        Field("circuit", "Circuit", circuit.label, choices=(Choice(circuit.label, circuit.label),)),
    )
