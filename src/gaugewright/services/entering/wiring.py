"""Forms for leads and bridge circuits, one by one or one for each gauge at once."""

import math
import re
from collections.abc import Sequence
from typing import Any

from gaugewright.calc.leads import lead_resistance, wire_diameter
from gaugewright.errors import InputError
from gaugewright.present.typed import text_to_type
from gaugewright.present.units_shown import System
from gaugewright.records import Entry
from gaugewright.records.electrical import Arm, BridgeCircuit, Lead, Topology
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Ref
from gaugewright.records.stated import Basis, Stated
from gaugewright.services.campaign import campaigns
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering.blanks import Blank, Kind, Reader
from gaugewright.services.entering.kinds import (
    Asking,
    EntryKind,
    ManyKind,
    label_blank,
    plain_build,
    plain_spread,
)
from gaugewright.services.work.typed_values import stated_typed
from gaugewright.store.campaign import CampaignStore

__all__ = ["CIRCUIT", "CIRCUITS", "LEAD"]

_AWG = re.compile(r"(?i)^\s*(?:awg|no\.?)\s*#?\s*(\d{1,2})\s*(.*)$")
_WIRES = tuple((str(n), f"{n} wires") for n in (2, 3, 4, 6))
_CONDUCTOR = "Such as 0.14 mm² or AWG 26; with its doubt 0.14 mm² ± 2 %"


def _lead_values(system: System) -> tuple[Blank, ...]:
    return (
        Blank("wires", "Wires", Kind.CHOICE, choices=_WIRES, is_needed=True, standing="3"),
        Blank("length", "Length, one way", Kind.NUMBER, "length", is_needed=True),
        Blank(
            "conductor",
            "Conductor",
            hint=f"{_CONDUCTOR}. Empty where the resistance is typed.",
        ),
        Blank(
            "resistance",
            "Resistance of each wire",
            Kind.STATED,
            "lead_resistance",
            hint="One way, as measured. Empty: worked out from length and conductor, copper.",
            basis=Basis.MEASURED,
        ),
        Blank(
            "temperature_degc",
            "At",
            Kind.NUMBER,
            "temperature_degc",
            is_needed=True,
            standing=text_to_type(20.0, "temperature_degc", system),
        ),
        Blank("bundle", "Bundle", hint="Which way it runs: what is lost in one is lost together."),
        Blank(
            "spread",
            "Wires differ by",
            Kind.STATED,
            "lead_resistance",
            hint="Such as 0 ± 0.02 (limit): how much wires of one lead may differ.",
        ),
    )


def _lead_blanks(asking: Asking) -> Sequence[Blank]:
    return (
        label_blank("Such as: cable L1-M-T"),
        *_lead_values(asking.system),
        Blank(
            "colours",
            "Colours",
            Kind.LIST,
            hint="Of the laboratory’s own cable, one a wire, in the order of its terminals.",
        ),
    )


def _of_conductor(text: str, length: float, temperature: float, system: System) -> Stated:
    """Resistance of a copper wire by its size; the share of doubt is that of the size."""
    found = _AWG.match(text)
    if found is not None:
        section = math.pi / 4 * wire_diameter(int(found[1])) ** 2
        doubt = f"1 {found[2]}" if found[2].strip() else "1"
        size = stated_typed("conductor", doubt, "value")
        share, named = size, f"AWG {found[1]}"
        width = size.plus_minus
    else:
        share = stated_typed("conductor", text, "cross_section", system)
        section, named = share.value, text.partition("±")[0].strip()
        if not section > 0:
            raise InputError("conductor", text, "a positive section")
        width = None if share.plus_minus is None else share.plus_minus / section
    ohm = float(lead_resistance(length, section, temperature))
    return Stated(
        float(f"{ohm:.6g}"),
        None if width is None else float(f"{ohm * width:.3g}"),
        share.meaning,
        Basis.CALCULATED,
        f"length and conductor {named}, copper",
    )


def _resistance(values: dict[str, Any], before: Any, reader: Reader) -> Any:
    """Resistance typed, or worked out from the conductor; the conductor itself isn't kept."""
    conductor, typed = values.pop("conductor"), values["resistance"]
    kept = before is not None and typed == before.resistance
    if conductor and (typed is None or kept):
        return _of_conductor(conductor, values["length"], values["temperature_degc"], reader.system)
    if typed is None:
        raise InputError(
            "resistance", "", "given, or worked out", "type the conductor's size, or measure a wire"
        )
    return typed


_LEAD = plain_build(Lead)


def _lead(values: dict[str, Any], before: Any, reader: Reader) -> Lead:
    values["resistance"] = _resistance(values, before, reader)
    values["wires"] = int(values["wires"])
    made: Lead = _LEAD(values, before, reader)
    return made


def _lead_spread(record: Lead, book: Book) -> dict[str, Any]:
    return plain_spread(record, book) | {"wires": str(record.wires), "conductor": ""}


LEAD = EntryKind(
    "lead",
    "a lead",
    "Leads",
    "A cable from a gauge to its recorder: what it takes from the reading follows from this.",
    Lead,
    _lead_blanks,
    _lead,
    _lead_spread,
)

# Where gauges sit in each circuit: arm, sign in the output, what the gauge there feels.
_ARMS: dict[Topology, tuple[tuple[int, int, str], ...]] = {
    Topology.QUARTER_TWO_WIRE: ((1, 1, "Gauge"),),
    Topology.QUARTER_THREE_WIRE: ((1, 1, "Gauge"),),
    Topology.HALF_BENDING: ((1, 1, "On the side in tension"), (2, -1, "On the other side")),
    Topology.HALF_POISSON: ((1, 1, "Along"), (2, -1, "Across")),
    Topology.HALF_OPPOSITE: ((1, 1, "On one side"), (3, 1, "On the other side")),
    Topology.FULL_BENDING: (
        (1, 1, "On the side in tension"),
        (2, -1, "On the other side"),
        (3, 1, "On the side in tension"),
        (4, -1, "On the other side"),
    ),
    Topology.FULL_POISSON: ((1, 1, "Along"), (2, -1, "Across"), (3, 1, "Along"), (4, -1, "Across")),
    Topology.FULL_TORSION: (
        (1, 1, "At +45°"),
        (2, -1, "At −45°"),
        (3, 1, "At +45°"),
        (4, -1, "At −45°"),
    ),
}
_QUARTER = (Topology.QUARTER_TWO_WIRE, Topology.QUARTER_THREE_WIRE)


def _topology_blank() -> Blank:
    return Blank(
        "topology",
        "Bridge",
        Kind.CHOICE,
        choices=tuple((one.value, one.value) for one in Topology),
        of_enum=Topology,
        is_needed=True,
        decides=True,
        standing=Topology.QUARTER_THREE_WIRE.value,
    )


def _completion_blank() -> Blank:
    return Blank(
        "completion",
        "Completion, the fixed arm beside it",
        Kind.STATED,
        "completion_resistance",
        hint="In the recorder, such as 350 ± 0.175 (limit) for gauges of 350 Ω. Not at hand: "
        "empty; it is asked again where the circuit goes on its channel, and only the step of a "
        "calibration resistor needs it.",
        group="Arms",
    )


def _circuit_blanks(asking: Asking) -> Sequence[Blank]:
    topology = asking.member("topology", Topology.QUARTER_THREE_WIRE)
    arms = [
        Blank(
            f"gauge_{number}",
            f"Arm {number}: {words[:1].lower()}{words[1:]}",
            Kind.PICK,
            hint="Reads tension as positive." if sign > 0 else "Works against: its sign is minus.",
            is_needed=True,
            of=Gauge,
            group="Arms",
        )
        for number, sign, words in _ARMS[topology]
    ]
    if topology in _QUARTER:
        arms.append(_completion_blank())
    return (
        label_blank("Usually that of its gauge"),
        _topology_blank(),
        *arms,
        Blank("lead", "Lead", Kind.PICK, is_needed=True, of=Lead),
        Blank(
            "dummy",
            "Compensated by",
            Kind.PICK,
            hint="The circuit of an unloaded gauge on the same metal, where there is one.",
            of=BridgeCircuit,
        ),
    )


def _circuit(values: dict[str, Any], before: Any, reader: Reader) -> BridgeCircuit:
    topology = values["topology"]
    arms = [Arm(number, sign, values[f"gauge_{number}"]) for number, sign, _ in _ARMS[topology]]
    gauges = [arm.gauge for arm in arms]
    if len(set(gauges)) < len(gauges):
        raise InputError(f"gauge_{arms[-1].number}", "one that is in another arm too", "in one arm")
    if values.get("completion") is not None:
        arms.append(Arm(2, -1, resistance=values["completion"]))
    return BridgeCircuit(values["label"], topology, tuple(arms), values["lead"], values["dummy"])


def _circuit_spread(record: BridgeCircuit, book: Book) -> dict[str, Any]:
    values: dict[str, Any] = {
        "label": record.label,
        "topology": record.topology,
        "lead": record.lead,
        "dummy": record.dummy,
        "completion": None,
    }
    for arm in record.arms:
        if arm.gauge is not None:
            values[f"gauge_{arm.number}"] = arm.gauge
        else:
            values["completion"] = arm.resistance
    return values


CIRCUIT = EntryKind(
    "circuit",
    "a bridge circuit",
    "Bridge circuits",
    "Which gauges are wired into one bridge, in which arms.",
    BridgeCircuit,
    _circuit_blanks,
    _circuit,
    _circuit_spread,
    after="channels",
)


def without_circuit(book: Book) -> list[Entry[Gauge]]:
    """Gauges that are in no bridge yet."""
    wired = {arm.gauge for circuit in book.of(BridgeCircuit) for arm in circuit.record.arms}
    return [gauge for gauge in book.of(Gauge) if gauge.uid not in wired]


def _circuits_blanks(asking: Asking) -> Sequence[Blank]:
    free = "; ".join(entry.record.label for entry in without_circuit(asking.book))
    return (
        Blank(
            "gauges",
            "Gauges",
            Kind.PICKS,
            hint="Those in no bridge yet. Each gets a quarter bridge and a lead of its own.",
            is_needed=True,
            of=Gauge,
            standing=free,
        ),
        _completion_blank(),
        *_lead_values(asking.system),
    )


def _circuits(store: CampaignStore, book: Book, values: dict[str, Any]) -> tuple[Ref, ...]:
    wires = int(values["wires"])
    topology = Topology.QUARTER_TWO_WIRE if wires == 2 else Topology.QUARTER_THREE_WIRE
    reader = Reader({}, book, campaigns.system_of(store))
    resistance = _resistance(values, None, reader)
    made: list[Ref] = []
    for uid in values["gauges"]:
        label = book.entry(uid, Gauge).record.label
        lead = store.add(
            Lead(
                f"cable {label}",
                wires,
                values["length"],
                resistance,
                values["temperature_degc"],
                values["bundle"],
                values["spread"],
            ),
            reason="one for each gauge",
        )
        arms = [Arm(1, 1, uid)]
        if values["completion"] is not None:
            arms.append(Arm(2, -1, resistance=values["completion"]))
        circuit = BridgeCircuit(label, topology, tuple(arms), lead.uid)
        made += [lead.ref, store.add(circuit, reason="one for each gauge").ref]
    return tuple(made)


CIRCUITS = ManyKind(
    "circuits",
    "A quarter bridge for each gauge",
    "For gauges that are read alone. Half and full bridges are entered one by one.",
    "Make the bridges",
    "circuit",
    _circuits_blanks,
    _circuits,
    after="channels",
)
