"""What each planned circuit needs electrically: leads, excitation, range, resolution, channels."""

import math
from collections import Counter
from dataclasses import dataclass, replace

import numpy as np

from gaugewright.calc import heating, leads, warm_leads
from gaugewright.calc.instrument_limits import johnson_noise, ratio_step, strain_of_ratio
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Channel, Instrument, Lead, Topology
from gaugewright.records.gauges import Gauge, GaugePack
from gaugewright.records.sensors import Sensor, TemperaturePoint
from gaugewright.records.specimen import Question, Specimen, SpecimenKind
from gaugewright.records.stated import Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.plan.book import planned_limit
from gaugewright.services.plan.bridges import bridge_factor
from gaugewright.services.plan.prediction import range_of_circuit
from gaugewright.services.plan.strains import PlannedReadings
from gaugewright.services.showing.listings import Cell, Column, Listing

__all__ = ["LEAD_SIZES", "WiredPlan", "electrical_lists", "wired_plan"]

FULL = (Topology.FULL_BENDING, Topology.FULL_POISSON, Topology.FULL_TORSION)
QUARTER = (Topology.QUARTER_TWO_WIRE, Topology.QUARTER_THREE_WIRE)
_SENSED = 6
_FACTOR = 2.0  # gauge factor that tables of leads are made with
_THIN = 3e-3  # walls and plates below this carry heat away less well [m]
_ALUMINIUM = 20e-6  # metals that expand more are taken as aluminium [1/K]
DENSITIES = {
    "steel": "power density, reinforcing bar",
    "thin": "power density, thin or stainless steel",
    "aluminium": "power density, thick aluminium",
}
# Sizes offered: American gauges and the cross-sections of fine signal cables [m^2].
LEAD_SIZES: tuple[tuple[str, float], ...] = (
    *((f"AWG {n}", math.pi / 4 * leads.wire_diameter(n) ** 2) for n in range(20, 31, 2)),
    *((f"{area:g} mm²", area * 1e-6) for area in (0.14, 0.22, 0.25, 0.34, 0.5, 0.75)),
)


@dataclass(frozen=True, slots=True)
class WiredPlan:
    """A circuit's electrical numbers [SI].

    ``loss`` is the share of the signal that leads take, ``offset`` the strain two wires feign by
    being there, ``warming`` what leads feign that warm as planned: all the way in two wires, one
    wire beside its neighbour in three. ``bearable`` is the excitation its metal bears.
    """

    label: str
    bridge: str
    wires: int
    length: float
    resistance: float
    loss: float
    offset: float
    warming: float
    excitation: float
    bearable: float
    density: float
    needed: float
    is_set: float | None
    signal: float
    step: float
    noise: float
    told: tuple[str, ...]


def wired_plan(
    readings: PlannedReadings, on_record: Book, circuit: Entry[BridgeCircuit]
) -> WiredPlan:
    """Electrical numbers of one circuit, planned or on record."""
    book = readings.book
    gauge = book.gauges_of(circuit)[0]
    pack, lead = book.pack_of(gauge).record, readings.lead(circuit)
    ohm, k = pack.gauge_resistance.value, pack.gauge_factor.value
    factor = bridge_factor(readings, circuit)
    volts = _excitation(readings, on_record, circuit)
    metal = metal_of(book, gauge)
    area = pack.grid_length * pack.grid_width
    dense = planned_limit(book, DENSITIES[metal])
    bearable = float(heating.excitation_for_power_density(dense, area, ohm))
    range_ = range_of_circuit(readings, on_record, circuit)
    step = float(ratio_step(range_.needed, int(planned_limit(book, "planned converter bits"))))
    noise = float(johnson_noise(ohm, planned_limit(book, "planned noise bandwidth"))) / volts
    loss, offset, warming = lead_effects(readings, circuit)
    found = WiredPlan(
        circuit.record.label,
        circuit.record.topology.value,
        lead.wires,
        lead.length,
        lead.resistance.value,
        loss,
        offset,
        warming,
        volts,
        bearable,
        float(heating.gauge_power(volts, ohm)) / area,
        range_.needed,
        range_.is_set,
        volts * factor * k * 1e-6 / 4,
        float(strain_of_ratio(step, k, factor)),
        float(strain_of_ratio(noise, k, factor)),
        (),
    )
    return _with_words(readings, circuit, pack, found)


def lead_effects(
    readings: PlannedReadings, circuit: Entry[BridgeCircuit]
) -> tuple[float, float, float]:
    """Share of the signal lost in leads, strain they feign at rest, and while they warm [1]."""
    book = readings.book
    pack = book.pack_of(book.gauges_of(circuit)[0]).record
    return effects(
        circuit.record.topology,
        readings.lead(circuit),
        pack,
        all_along=planned_limit(book, "planned lead warming"),
        between=planned_limit(book, "lead warming difference"),
    )


def effects(
    topology: Topology, lead: Lead, pack: GaugePack, *, all_along: float, between: float
) -> tuple[float, float, float]:
    """Loss, offset and feigned strain of a lead on a bridge; warming in kelvins [1]."""
    wire, ohm, k = lead.resistance.value, pack.gauge_resistance.value, pack.gauge_factor.value
    slope = leads.COPPER_TEMPERATURE_COEFFICIENT.value
    if topology in FULL:
        kept = 1.0
        if lead.wires != _SENSED:
            kept = float(leads.excitation_lead_sensitivity(ohm, wire))
        return 1 - kept, 0.0, 0.0
    if topology is Topology.QUARTER_TWO_WIRE:
        loss = 1 - float(leads.lead_sensitivity(ohm, wire, 2))
        offset = float(warm_leads.two_wire_offset(ohm, wire, k))
        change = wire * slope * all_along
        return loss, offset, float(leads.two_wire_lead_strain(change, ohm, k, wire))
    loss = 1 - float(leads.lead_sensitivity(ohm, wire, 1))
    one = warm_leads.three_wire_warming(
        wire * slope * between, 0.0, lead_resistance=wire, gauge_resistance=ohm, gauge_factor=k
    )
    # A bridge of n active arms divides by n what moves one of them.
    return loss, 0.0, float(one) / (1 if topology in QUARTER else 2)


def metal_of(book: Book, gauge: Entry[Gauge]) -> str:
    """How well the metal under a grid carries heat away: steel, thin or aluminium."""
    bar = book.bar_of(gauge).record
    if book.material_of(gauge).record.thermal_expansion.value > _ALUMINIUM:
        return "aluminium"
    specimen = book.entry(bar.specimen, Specimen).record
    wall = bar.wall_thickness
    thin_wall = wall is not None and wall.value < _THIN
    thin_plate = (
        specimen.kind is SpecimenKind.PLATE
        and specimen.height is not None
        and specimen.height < _THIN
    )
    return "thin" if thin_wall or thin_plate else "steel"


def _excitation(readings: PlannedReadings, on_record: Book, circuit: Entry[BridgeCircuit]) -> float:
    """Excitation of the channel it was last put on; by the limit where none is known [V]."""
    connections = on_record.connections_of(circuit.uid)
    if connections:
        volts = on_record.setting_of(connections[-1]).record.excitation
        if volts is not None:
            return volts
    return planned_limit(readings.book, "planned excitation")


def _with_words(
    readings: PlannedReadings, circuit: Entry[BridgeCircuit], pack: GaugePack, found: WiredPlan
) -> WiredPlan:
    told = []
    share = planned_limit(readings.book, "lead share left uncorrected")
    if found.loss > share:
        told.append(
            f"leads take {100 * found.loss:.2g} % of the signal, more than {100 * share:g} %: "
            f"correct for it, or {_nearest_lead(readings, circuit, pack, share)}"
        )
    if found.excitation > found.bearable:
        told.append(
            f"{found.excitation:.3g} V heats the grid with more than its metal carries away: at "
            f"most {found.bearable:.2g} V; the test at half excitation decides"
        )
    if found.is_set is not None and found.is_set < found.needed:
        told.append(
            f"the range that was set, ± {found.is_set * 1e3:.3g} mV/V, is too small: set "
            f"± {found.needed * 1e3:.3g} mV/V or more"
        )
    topology = circuit.record.topology
    if topology is Topology.QUARTER_TWO_WIRE:
        told.append("two wires: their warming is read as strain; a third wire takes it out")
    if topology in QUARTER:
        told.append(f"completion of {pack.gauge_resistance.value:g} Ω in the recorder or beside it")
    elif topology not in FULL:
        told.append("half bridge completed in the recorder")
    if topology in FULL and found.wires != _SENSED:
        told.append("without sense wires the excitation that reaches the bridge isn't known")
    return replace(found, told=tuple(told))


def _nearest_lead(
    readings: PlannedReadings, circuit: Entry[BridgeCircuit], pack: GaugePack, share: float
) -> str:
    """The thinnest size that loses no more than a share at this length, or the longest lead."""
    lead = readings.lead(circuit)

    def loss(area: float, length: float) -> float:
        wire = float(leads.lead_resistance(length, area))
        thicker = replace(lead, resistance=Stated(wire))
        return effects(circuit.record.topology, thicker, pack, all_along=0.0, between=0.0)[0]

    sizes = sorted(LEAD_SIZES, key=lambda size: size[1])
    for name, area in sizes:
        if loss(area, lead.length) <= share:
            return f"take {name} or thicker at {lead.length:g} m"
    name, area = sizes[-1]
    # Lost over kept is in proportion to the length.
    lost = loss(area, lead.length)
    longest = lead.length * (share / (1 - share)) / (lost / (1 - lost))
    return (
        f"bring the recorder nearer: {longest:.3g} m of {name} lose no more; or take gauges of "
        "more ohms"
    )


def electrical_lists(readings: PlannedReadings, on_record: Book) -> tuple[Listing, ...]:
    """Bridges for the questions, circuits, lead sizes, channels, and what to beware of."""
    circuits = readings.book.of(BridgeCircuit)
    plans = [wired_plan(readings, on_record, circuit) for circuit in circuits]
    return (
        _bridges(readings),
        _circuits(plans),
        *_sizes(readings),
        _channels(readings, on_record, circuits),
        _cautions(readings, on_record, plans),
    )


# Question -> bridge, gauges a place, and why: derivations stand in docs/explanations.
BRIDGES: dict[str, tuple[str, int, str]] = {
    "yield load": (
        "two quarter bridges with three wires, one on each side",
        2,
        "each side on its own channel: their mean is the bar's strain, their difference shows "
        "its bending, and one is left when the other is lost",
    ),
    "force": (
        "two quarter bridges with three wires, one on each side",
        2,
        "as for yield; on a load cell four arms in a full bridge of Poisson pairs instead",
    ),
    "strain": ("quarter bridge with three wires", 1, "strain at one place"),
    "stress": (
        "two quarter bridges with three wires, one on each side",
        2,
        "as for force: the metal's law turns the mean into stress",
    ),
    "curvature": (
        "quarter bridges with three wires at two depths",
        2,
        "strains of both depths are wanted, not their difference alone",
    ),
    "bond stress": (
        "quarter bridges with three wires in pairs along the bar",
        2,
        "differences of force: what all gauges share drops out, bending of the bar doesn't",
    ),
    "moment": ("full bridge in bending", 4, "pull and temperature drop out; all four work"),
    "principal stress": ("three quarter bridges, a rosette", 3, "directions are unknown"),
    "shear strain": ("full bridge in torsion", 4, "bending, pull and temperature drop out"),
    "torque": ("full bridge in torsion", 4, "bending, pull and temperature drop out"),
}


def _bridges(readings: PlannedReadings) -> Listing:
    rows: list[tuple[Cell, ...]] = []
    for entry in readings.book.of(Question):
        bridge, gauges, why = BRIDGES.get(
            entry.record.quantity, ("", 0, "no bridge is proposed for this quantity")
        )
        planned = Counter(
            readings.plan.circuits[g.uid].record.topology.value
            for station in entry.record.stations
            for g in readings.plan.gauges_at(station)
        )
        has = ", ".join(f"{count} × {name}" for name, count in planned.items()) or "no station yet"
        rows.append((entry.record.label, entry.record.quantity, bridge, gauges or None, has, why))
    return Listing(
        "bridges",
        "A bridge for each question",
        (
            Column("question"),
            Column("asks for"),
            Column("bridge that suits"),
            Column("gauges a place"),
            Column("planned"),
            Column("told"),
        ),
        tuple(rows),
        "Each question with the bridge that suits it will stand here.",
    )


_CIRCUIT_COLUMNS = (
    Column("circuit"),
    Column("bridge"),
    Column("lead", "length"),
    Column("one wire", "resistance"),
    Column("loss [%]"),
    Column("offset of two wires", "strain"),
    Column("feigned by warming", "strain"),
    Column("excitation", "excitation"),
    Column("bearable", "excitation"),
    Column("heat on the grid", "power_density"),
    Column("range needed", "bridge_ratio"),
    Column("signal of 1 µε [µV]"),
    Column("one step", "strain"),
    Column("least noise", "strain"),
    Column("told"),
)


def _circuits(plans: list[WiredPlan]) -> Listing:
    rows = tuple(
        (
            plan.label,
            plan.bridge,
            plan.length,
            plan.resistance,
            100 * plan.loss,
            plan.offset,
            plan.warming,
            plan.excitation,
            plan.bearable,
            plan.density,
            plan.needed,
            plan.signal * 1e6,
            plan.step,
            plan.noise,
            "; ".join(plan.told),
        )
        for plan in plans
    )
    return Listing(
        "circuits",
        "Circuits",
        _CIRCUIT_COLUMNS,
        rows,
        "Circuits will stand here once gauges or stations are placed.",
        "Leads warm by the limit “planned lead warming” in two wires, and by “lead warming "
        "difference” one beside the other in three. One step: the range over the limit “planned "
        "converter bits”. Least noise: thermal noise of the bridge, below which no recorder gets.",
    )


def _sizes(readings: PlannedReadings) -> list[Listing]:
    """What wires of common sizes do at the planned length, for each resistance in the plan."""
    book = readings.book
    ohms = {book.pack_of(gauge).record.gauge_resistance.value for gauge in book.of(Gauge)}
    return [_sizes_for(book, ohm) for ohm in sorted(ohms or {120.0, 350.0})]


def _length(book: Book) -> tuple[float, str]:
    """Length to be reckoned with and by what: the longest lead, made up by a limit or entered."""
    lengths = [entry.record.length for entry in book.of(Lead)]
    planned = planned_limit(book, "planned lead length")
    if not lengths or max(lengths) == planned:
        return planned, "by the limit “planned lead length”"
    return max(lengths), "of the longest lead entered"


def _sizes_for(book: Book, ohm: float) -> Listing:
    length, by = _length(book)
    share = planned_limit(book, "lead share left uncorrected")
    rows: list[tuple[Cell, ...]] = []
    for name, area in LEAD_SIZES:
        per_metre = float(leads.lead_resistance(1.0, area))
        wire = per_metre * length
        warm = wire * leads.COPPER_TEMPERATURE_COEFFICIENT.value
        offset = float(warm_leads.two_wire_offset(ohm, wire, _FACTOR))
        rows.append(
            (
                name,
                area,
                wire,
                100 * (1 - float(leads.lead_sensitivity(ohm, wire, 1))),
                # R/(R + r) = 1 - s gives r = R s/(1 - s).
                ohm * share / (1 - share) / per_metre,
                offset,
                float(leads.two_wire_lead_strain(warm, ohm, _FACTOR, wire)),
            )
        )
    return Listing(
        f"lead-sizes-{ohm:g}",
        f"Leads of {length:g} m on {ohm:g} Ω",
        (
            Column("size"),
            Column("copper", "cross_section"),
            Column("one wire", "resistance"),
            Column("loss in three wires [%]"),
            Column(f"longest for {100 * share:g} %", "length"),
            Column("offset of two wires", "strain"),
            Column("two wires, per kelvin", "strain"),
        ),
        tuple(rows),
        "",
        f"Copper at 20 °C, gauge factor 2. Length {by}.",
    )


def _channels(
    readings: PlannedReadings, on_record: Book, circuits: tuple[Entry[BridgeCircuit], ...]
) -> Listing:
    needs = Counter(_sort(readings, circuit) for circuit in circuits)
    rows: list[tuple[Cell, ...]] = [(name, count) for name, count in sorted(needs.items())]
    rows += [
        ("load, displacement and other sensors", len(readings.book.of(Sensor))),
        ("thermometers", len(on_record.of(TemperaturePoint))),
    ]
    total = sum(count for _, count in rows if isinstance(count, int))
    there = len(on_record.of(Channel))
    rows += [("channels in all", total), ("channels on record", there)]
    if there:
        short = total - there
        rows.append(("short of channels by" if short > 0 else "channels to spare", abs(short)))
    return Listing(
        "channels",
        "Channels",
        (Column("for"), Column("channels")),
        tuple(rows),
        "",
        "What isn't on record yet can't be short: enter the recorder's channels in the plan.",
    )


def _sort(readings: PlannedReadings, circuit: Entry[BridgeCircuit]) -> str:
    gauge = readings.book.gauges_of(circuit)[0]
    ohm = readings.book.pack_of(gauge).record.gauge_resistance.value
    topology = circuit.record.topology
    if topology in QUARTER:
        return f"quarter bridges with completion of {ohm:g} Ω"
    return f"{'full' if topology in FULL else 'half'} bridges of {ohm:g} Ω"


def _cautions(readings: PlannedReadings, on_record: Book, plans: list[WiredPlan]) -> Listing:
    rows: list[tuple[Cell, ...]] = []
    for entry in on_record.of(Instrument):
        if not entry.record.channels_isolated:
            rows.append(
                (
                    entry.record.label,
                    "channels aren't isolated: gauges that leak to one cage leak to each other "
                    "through the excitation they share; keep insulation high, or read one at a "
                    "time",
                )
            )
    volts = sorted({round(plan.excitation, 3) for plan in plans})
    if len(volts) > 1:
        told = ", ".join(f"{each:g} V" for each in volts)
        rows.append(
            ("excitations", f"{told}: channels of one source share one; see that each has its own")
        )
    ohms = {
        readings.book.pack_of(gauge).record.gauge_resistance.value
        for gauge in readings.book.of(Gauge)
    }
    if len(ohms) > 1:
        told = " and ".join(f"{ohm:g} Ω" for ohm in sorted(ohms))
        rows.append(
            (
                "resistances",
                f"gauges of {told}: a completion of the wrong one drives a channel out of range "
                f"({_mismatch(ohms) * 1e3:.0f} mV/V)",
            )
        )
    return Listing(
        "cautions",
        "To beware of",
        (Column("what"), Column("told")),
        tuple(rows),
        "Nothing to beware of: one excitation, one resistance, and isolated or no recorders yet.",
    )


def _mismatch(ohms: set[float]) -> float:
    """Output of the smallest gauge with the completion of the largest, either way [V/V]."""
    low, high = min(ohms), max(ohms)
    return float(np.abs(low / (low + high) - 0.5))
