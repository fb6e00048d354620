"""Forms on a channel's sheet: plug in, unplug, the calibration resistor, colours of the wires."""

from collections.abc import Mapping
from dataclasses import dataclass

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.records import Entry, label_of
from gaugewright.records.electrical import BridgeCircuit, Channel, Connection, Lead, ReadingKind
from gaugewright.records.identity import Ref
from gaugewright.services.wiring import plugs as wiring
from gaugewright.services.wiring import shunts
from gaugewright.services.wiring import typed as wiring_typed
from gaugewright.web import rooms
from gaugewright.web.forms import Choice, Field, told_beside

__all__ = ["PlugForm", "plug_forms", "written"]

# Kept in its field also when it was only asked about.
_KEPT = ("shunt_resistance",)
AT = "Time of the hall, as 14:05 or 2026-10-13 14:05; empty for now."
# Where a refusal's sentence stands when it doesn't name a field of the form itself.
_PLACES = {
    "connect": {"time": "at", "what is connected": "subject"},
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
    if act == "connect":
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
        made.append(_form(room, "connect", _connecting(room, channel, last), typed, error))
    if last is not None and stands:
        made.append(_form(room, "disconnect", (_at("When"),), typed, error))
        found = room.book.found(last.record.subject)
        if found is not None and isinstance(found.record, BridgeCircuit):
            made.append(_form(room, "step", _stepping(room, last), typed, error))
            made.append(_form(room, "colours", _colours(room, found.record), typed, error))
    return tuple(made)


_TITLES = {
    "connect": ("Plug something in", "Plug in", "Write the plug down"),
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
    return PlugForm(act, title, short, button, filled, failure, mine or act == "connect")


def _at(label: str) -> Field:
    return Field("at", label, hint=AT)


def _connecting(
    room: rooms.Room, channel: Entry[Channel], last: Entry[Connection] | None
) -> tuple[Field, ...]:
    before = wiring.settings_on(room.book, channel.uid)
    subjects = tuple(
        Choice(label_of(one.record), label_of(one.record)) for one in wiring.subjects(room.book)
    )
    writes = tuple(Choice(kind.value, kind.value) for kind in ReadingKind)
    keep = "Empty: as it was set last." if before else "It was never set: give it."
    return (
        Field(
            "subject",
            "What",
            "" if last is None else room.book.label(last.record.subject),
            choices=subjects,
        ),
        _at("When"),
        Field("plug", "Plug or seal", "" if last is None else last.record.plug),
        Field(
            "carry",
            "Earlier zeros hold on, because",
            hint="Empty: they end here. With a reason they carry over with the doubt of two "
            "contacts remade.",
        ),
        Field("writes", "Writes", choices=(Choice("", "as it was set last"), *writes)),
        Field("unit", "In", hint=f"Such as mV/V. {keep}"),
        Field("excitation", "Excitation", hint=keep),
        Field("completion_resistance", "Completion", hint=keep),
        Field("set_gauge_factor", "Gauge factor set", hint=keep),
    )


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
