"""What is measured of a gauge at a gate: fields that follow its circuit, the fewest first."""

from collections.abc import Iterator
from dataclasses import dataclass

from gaugewright.calc.diagnosis_circuit import Setup as FaultSetup
from gaugewright.calc.diagnosis_harness import EVERY_READING, HARNESSES, names_of
from gaugewright.calc.diagnosis_templates import reading_shown
from gaugewright.calc.evaluation import stated_standard_uncertainty
from gaugewright.calc.leads import lead_resistance
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Connection, Lead, Topology
from gaugewright.records.gauges import Gauge, GaugePack
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Gate
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.circuits import circuit_of

__all__ = [
    "INSULATION",
    "LAST_FOR_REPAIR",
    "READING",
    "TABS",
    "GateField",
    "Setup",
    "gate_named",
    "gauge_named",
    "harness_name",
    "is_leak",
    "open_connection",
    "setup",
    "shared_with",
]

INSULATION, READING, TABS = "insulation", "reading", "tab to tab"
_KNOWN = "known resistor on the meter"
# Hands can reach a gauge up to this gate; later a fault is only written down.
LAST_FOR_REPAIR = Gate.BEFORE_POUR
_PLUGGED = (Gate.BEFORE_POUR, Gate.AFTER_POUR, Gate.BEFORE_TEST)


@dataclass(frozen=True, slots=True)
class GateField:
    """One reading: how many grids and wires lie in it, and whether it needs the plug out.

    ``fewest`` tells whether it belongs to the set that is always read.
    """

    what: str
    label: str
    quantity: str
    grids: float
    wires: int
    fewest: bool
    is_unplugged: bool = True

    @property
    def name(self) -> str:
        """Name in forms and options."""
        return self.what.lower().replace("-", "_").replace(",", "").replace(" ", "_")


@dataclass(frozen=True, slots=True)
class Setup:
    """A gauge at a gate: its circuit, its fields, and what they should read.

    ``further`` are readings that only a diagnosis asks for: no limit speaks of them.
    """

    gauge: Entry[Gauge]
    gate: Gate
    pack: GaugePack
    circuit: Entry[BridgeCircuit] | None
    lead: Lead | None
    partners: tuple[Entry[Gauge], ...]
    fields: tuple[GateField, ...]
    further: tuple[GateField, ...] = ()

    @property
    def fewest(self) -> tuple[GateField, ...]:
        """Fields that are always read, in the order of the meter's probes."""
        return tuple(field for field in self.fields if field.fewest)

    @property
    def every(self) -> tuple[GateField, ...]:
        """Fields of the gate, and those that only a diagnosis asks for."""
        return (*self.fields, *self.further)

    @property
    def active_grids(self) -> int:
        """How many grids the bridge has."""
        return max(len(self.partners), 1)

    def field(self, what: str) -> GateField:
        """Field by what it reads.

        Raises
        ------
        InputError
            If this circuit hasn't such a field.
        """
        for field in self.every:
            if field.what == what:
                return field
        known = ", ".join(field.what for field in self.fields)
        raise InputError("reading", what, f"one of {known}")

    def wires(self, count: int, temperature_degc: float | None) -> Uncertain:
        """So many wires of the lead in series, by its record, at a temperature [ohm]."""
        if not count or self.lead is None:
            return Uncertain.exact(0.0)
        lead = self.lead
        at = lead.temperature_degc if temperature_degc is None else temperature_degc
        warm = lead_resistance(1.0, 1.0, at, 1.0) / lead_resistance(
            1.0, 1.0, lead.temperature_degc, 1.0
        )
        stated = lead.resistance
        spread = 0.0
        if stated.plus_minus:
            spread = stated_standard_uncertainty(stated.plus_minus, stated.meaning.value)
        cause = InputQuantity(f"lead@{lead.label}", spread, meaning="resistance of one wire")
        one = Uncertain.exact(stated.value)
        one = one + Uncertain.from_input(0.0, cause) if spread else one
        return one * (count * float(warm))

    def expected(self, field: GateField, temperature_degc: float | None) -> float | None:
        """What a pair should read by card and lead's record; None for other readings [ohm]."""
        if field.quantity != "resistance":
            return None
        grids = field.grids * self.pack.gauge_resistance.value
        return grids + float(self.wires(field.wires, temperature_degc).value)


# Pairs by family and number of wires: (pair, grids, wires, whether always read). With equal arms
# a full bridge is R between opposite corners, and R beside 3 R, 3/4 R, between neighbours.
_Pairs = tuple[tuple[str, float, int, bool], ...]
_PAIRS: dict[tuple[str, int], _Pairs] = {
    ("quarter", 2): (("A-B", 1, 2, True),),
    ("quarter", 3): (("A-B", 1, 2, True), ("B-C", 0, 2, True), ("A-C", 1, 2, False)),
    ("quarter", 4): (
        ("A-B", 1, 2, True),
        ("A-D", 0, 2, True),
        ("B-C", 0, 2, True),
        ("A-C", 1, 2, False),
        ("D-B", 1, 2, False),
        ("D-C", 1, 2, False),
    ),
    ("half", 3): (("A-B", 2, 2, True), ("A-C", 1, 2, True), ("B-C", 1, 2, False)),
    ("opposite", 4): (("A-B", 1, 2, True), ("C-D", 1, 2, True)),
    ("full", 4): (
        ("P-N", 1, 2, True),
        ("SP-SN", 1, 2, True),
        ("P-SP", 0.75, 2, False),
        ("P-SN", 0.75, 2, False),
        ("N-SP", 0.75, 2, False),
        ("N-SN", 0.75, 2, False),
    ),
    ("full", 6): (
        # Three that hold every wire and every grid: more would be too many taps a gauge.
        ("P-KP", 0, 2, True),
        ("N-KN", 0, 2, True),
        ("SP-SN", 1, 2, True),
        ("P-N", 1, 2, False),
        ("KP-KN", 1, 2, False),
        ("P-SP", 0.75, 2, False),
        ("P-SN", 0.75, 2, False),
        ("N-SP", 0.75, 2, False),
        ("N-SN", 0.75, 2, False),
    ),
}
_FAMILIES = {
    Topology.QUARTER_TWO_WIRE: "quarter",
    Topology.QUARTER_THREE_WIRE: "quarter",
    Topology.HALF_BENDING: "half",
    Topology.HALF_POISSON: "half",
    Topology.HALF_OPPOSITE: "opposite",
    Topology.FULL_BENDING: "full",
    Topology.FULL_POISSON: "full",
    Topology.FULL_TORSION: "full",
}


def setup(book: Book, gauge: Entry[Gauge], gate: Gate) -> Setup:
    """Fields of a gauge at a gate.

    Raises
    ------
    InputError
        If the gauge is to be read through leads and no circuit, or none of a known kind, has it.
    """
    pack = book.pack_of(gauge).record
    if gate is Gate.BONDED:
        tabs = GateField(TABS, "Tab to tab", "resistance", 1, 0, fewest=True)
        on_tabs = (tabs, _insulation("Grid to bar"))
        return Setup(gauge, gate, pack, None, None, (gauge,), on_tabs)
    circuit = _circuit_of(book, gauge)
    lead = book.entry(circuit.record.lead, Lead).record
    kind = _kind(circuit.record, lead)
    if kind not in _PAIRS:
        known = "; ".join(f"{family} bridge, {wires} wires" for family, wires in _PAIRS)
        raise InputError(
            f"wires of {circuit.record.label}",
            f"{lead.wires} to a {circuit.record.topology.value}",
            f"one of: {known}",
            "correct the lead's record",
        )
    fields = (*_pairs(_PAIRS[kind]), _insulation("Leads to bar"), _reading(gate))
    fields = tuple(sorted(fields, key=lambda field: not field.fewest))
    partners = book.gauges_of(circuit)
    return Setup(
        gauge, gate, pack, circuit, lead, partners, fields, _further(circuit, lead, fields)
    )


def _kind(circuit: BridgeCircuit, lead: Lead) -> tuple[str, int]:
    return _FAMILIES[circuit.topology], lead.wires


def harness_name(circuit: BridgeCircuit, lead: Lead) -> str:
    """Name of a circuit's harness, as the fault finder knows it.

    Raises
    ------
    InputError
        If the fault finder knows none for that bridge with so many wires.
    """
    name = " ".join(map(str, _kind(circuit, lead)))
    known = ("quarter 3", *HARNESSES)
    if name not in known:
        raise InputError(
            f"wires of {circuit.label}",
            f"{lead.wires} to a {circuit.topology.value}",
            "one of: " + ", ".join(known),
            "correct the lead's record",
        )
    return name


def _further(
    circuit: Entry[BridgeCircuit], lead: Lead, fields: tuple[GateField, ...]
) -> tuple[GateField, ...]:
    """Readings in ohm that a diagnosis may ask for besides, each with the plug out."""
    name, there = harness_name(circuit.record, lead), {field.what for field in fields}
    setup = FaultSetup(1.0, 1.0, 1.0, harness=name)
    wanted = [w for w in names_of(setup) if w not in there and EVERY_READING[w] == "ohm"]
    return tuple(
        GateField(
            what,
            reading_shown(what),
            "insulation_resistance",
            0,
            0,
            fewest=False,
            is_unplugged=what != _KNOWN,
        )
        for what in wanted
    )


def is_leak(what: str) -> bool:
    """Whether a reading is one of a leak tester, in megohms."""
    return what.startswith(INSULATION) or what == "shield to bar"


def _circuit_of(book: Book, gauge: Entry[Gauge]) -> Entry[BridgeCircuit]:
    found = circuit_of(book, gauge)
    if found is None:
        raise InputError(
            f"circuit of {gauge.record.label}",
            None,
            "recorded, for fields follow its leads",
            "join it to a lead under Wiring, or read it at the gate 'bonded', tab to tab",
        )
    return found


def _pairs(pairs: _Pairs) -> Iterator[GateField]:
    for what, grids, wires, fewest in pairs:
        label = what.replace("KP", "K+").replace("KN", "K−")
        label = label.replace("SP", "S+").replace("SN", "S−").replace("-", "–", 1)
        yield GateField(what, label, "resistance", grids, wires, fewest)


def _insulation(label: str) -> GateField:
    return GateField(INSULATION, label, "insulation_resistance", 0, 0, fewest=True)


def _reading(gate: Gate) -> GateField:
    is_first = gate in _PLUGGED
    return GateField(READING, "Reading", "bridge_ratio", 0, 0, is_first, is_unplugged=False)


def gate_named(text: str) -> Gate:
    """Gate by its name, with blanks or hyphens between its words.

    Raises
    ------
    InputError
        If no gate is called so.
    """
    wanted = text.strip().replace("-", " ").replace("_", " ").casefold()
    for gate in Gate:
        if gate.value == wanted:
            return gate
    raise InputError("gate", text, "one of " + ", ".join(gate.value for gate in Gate))


def gauge_named(book: Book, label: str) -> Entry[Gauge]:
    """Gauge by its label, whatever its capitals.

    Raises
    ------
    InputError
        If no gauge is called so.
    """
    for gauge in book.of(Gauge):
        if gauge.record.label.casefold() == label.strip().casefold():
            return gauge
    raise InputError("gauge", label, "the label of a gauge of this campaign")


def open_connection(book: Book, setup: Setup) -> Entry[Connection] | None:
    """Connection in which the gauge still stands, which unplugging ends; None where it's out."""
    if setup.circuit is None:
        return None
    standing = [c for c in book.connections_of(setup.circuit.uid) if c.record.ends is None]
    return standing[-1] if standing else None


def shared_with(setup: Setup) -> tuple[Uid, ...]:
    """Other gauges in the same circuit, of which the readings tell as much."""
    return tuple(partner.uid for partner in setup.partners if partner.uid != setup.gauge.uid)
