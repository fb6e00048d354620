"""What every planned gauge should read, step by step, and what range its channel then needs."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gaugewright.calc.instrument_limits import range_needed
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import Faults, InputError
from gaugewright.present.units_shown import System, in_shown, unit_shown
from gaugewright.quantities import parse_unit, to_si
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, ChannelSetting, Topology
from gaugewright.records.gauges import Gauge
from gaugewright.services.bars.forces import net_area_of
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.laboratory import limit_or_shipped
from gaugewright.services.chaining.causes import uncertain_of_stated
from gaugewright.services.plan.answers import expanded
from gaugewright.services.plan.bridges import bridge_factor, bridge_list, circuit_strain
from gaugewright.services.plan.strains import (
    PlannedReadings,
    in_member,
    is_dummy,
    load_doubt,
    section_yield_load,
)
from gaugewright.services.showing.listings import Cell, Column, Doubted, Listing

__all__ = ["GaugeRange", "loads_shown", "prediction_lists", "range_of_circuit", "strain_cell"]

BONDING = "resistance change by bonding"
_SHARES = (0.25, 0.5, 0.75, 1.0)


@dataclass(frozen=True, slots=True)
class GaugeRange:
    """Smallest and largest strain a circuit meets [1], and the range it needs [V/V].

    ``needed`` has margin and initial offset in it, ``offset`` is the latter alone [1]; ``is_set``
    the range that the channel was set to, None where it wasn't.
    """

    lowest: float
    highest: float
    offset: float
    needed: float
    is_set: float | None
    words: str


def prediction_lists(
    readings: PlannedReadings, on_record: Book, system: System
) -> tuple[Listing, ...]:
    """Strain of every gauge and output of every circuit at every load; loads and ranges."""
    return (
        _by_load(readings, system),
        bridge_list(readings, loads_shown(readings), system),
        _by_gauge(readings, on_record),
    )


def loads_shown(readings: PlannedReadings) -> tuple[float, ...]:
    """Loads of the table: those asked for, else shares of the first yield load [N]."""
    if readings.asked_loads:
        return readings.asked_loads
    found = [load for gauge in _gauges(readings) if (load := _yields(readings, gauge)) is not None]
    first = min((float(load.value) for load in found), default=math.nan)
    return tuple(share * first for share in _SHARES) if math.isfinite(first) else ()


def _gauges(readings: PlannedReadings) -> tuple[Entry[Gauge], ...]:
    return readings.book.of(Gauge)


def _by_load(readings: PlannedReadings, system: System) -> Listing:
    loads = loads_shown(readings)
    unit = unit_shown("force", system).text
    rows: list[tuple[Cell, ...]] = []
    for gauge in _gauges(readings):
        cells, words = _cells(readings, gauge, loads)
        rows.append((gauge.record.label, readings.book.bar_of(gauge).record.label, *cells, words))
    columns = [Column("gauge"), Column("bar")]
    columns += [
        Column(f"at {in_shown(load, 'force', system):.4g} {unit}", "strain") for load in loads
    ]
    return Listing(
        "prediction",
        "Predicted strain",
        (*columns, Column("told")),
        tuple(rows),
        "Strain at every gauge and load step will stand here once gauges or stations are placed.",
        "Mechanical strain since the zero before the test, ± expanded for 95 %. In a member: plane "
        "sections, bars without slip, statics as described; between cracks a bar reads less. An "
        "empty place: nothing can be predicted there, and why is told beside it.",
    )


def _cells(
    readings: PlannedReadings, gauge: Entry[Gauge], loads: Sequence[float]
) -> tuple[list[Cell], str]:
    cells: list[Cell] = []
    words: dict[str, None] = {}
    for load in loads:
        try:
            cells.append(strain_cell(readings, gauge, load))
            words[readings.how(gauge)] = None
        except Faults as problem:
            cells.append(None)
            words[str(problem).splitlines()[0]] = None
        except InputError as problem:
            cells.append(None)
            words[str(problem)] = None
    return cells, "; ".join(words) or "no load is asked for, and no yield is known"


def strain_cell(readings: PlannedReadings, gauge: Entry[Gauge], load: float) -> Cell:
    """Strain of a gauge at a load, with its doubt where it has one.

    Raises
    ------
    InputError
        If it can't be predicted.
    """
    if in_member(readings.book, gauge):
        found = readings.prediction(gauge)
        places = np.flatnonzero(found.load == load)
        if places.size and np.isfinite(found.first_loading.value[places[0]]):
            value = found.first_loading[int(places[0])]
            return Doubted(float(value.value), expanded(value))
    strain = readings.strain_at_load(gauge, load)
    if in_member(readings.book, gauge) or is_dummy(readings.book, gauge):
        return strain
    doubted = _bare_doubted(readings, gauge, load, strain)
    return strain if doubted is None else Doubted(strain, expanded(doubted))


def _bare_doubted(
    readings: PlannedReadings, gauge: Entry[Gauge], load: float, strain: float
) -> Uncertain | None:
    """Strain of bare metal with the doubt of load, measures and metal; None past yield."""
    last = section_yield_load(readings, gauge)
    if load == 0 or (last is not None and abs(load) > float(last.value)):
        return None
    face = readings.face(gauge)
    if face is not None:
        return load_doubt(readings, load) * face.strain
    material = readings.book.material_of(gauge)
    modulus = uncertain_of_stated(
        f"modulus@{material.uid}", material.record.elastic_modulus, "modulus of the steel"
    )
    area = net_area_of(readings.plan.desk, gauge)
    whole = load_doubt(readings, load) / (area * modulus)
    return whole * (strain / float(whole.value))


def _yields(readings: PlannedReadings, gauge: Entry[Gauge]) -> Uncertain | None:
    if is_dummy(readings.book, gauge):
        return None
    try:
        if in_member(readings.book, gauge):
            return readings.prediction(gauge).yield_load
        return section_yield_load(readings, gauge)
    except (InputError, Faults):
        return None  # why stands beside the strain that can't be predicted either


def _by_gauge(readings: PlannedReadings, on_record: Book) -> Listing:
    rows: list[tuple[Cell, ...]] = []
    for gauge in _gauges(readings):
        circuit = readings.plan.circuits[gauge.uid]
        cracks, crushes = _cracking(readings, gauge)
        yields = _yields(readings, gauge)
        found = range_of_circuit(readings, on_record, circuit)
        rows.append(
            (
                gauge.record.label,
                cracks,
                None if yields is None else Doubted(float(yields.value), expanded(yields)),
                crushes,
                found.lowest,
                found.highest,
                found.offset,
                found.needed,
                found.is_set,
                found.words,
            )
        )
    return Listing(
        "loads-and-ranges",
        "Loads and ranges",
        (
            Column("gauge"),
            Column("cracks at", "force"),
            Column("yields at", "force"),
            Column("member crushes at", "force"),
            Column("lowest strain", "strain"),
            Column("highest strain", "strain"),
            Column("offset as strain", "strain"),
            Column("range needed", "bridge_ratio"),
            Column("range set", "bridge_ratio"),
            Column("told"),
        ),
        tuple(rows),
        "Cracking and yield loads, and the range each channel needs, will stand here.",
        "Lowest and highest are over all loads of the table. The range has the margin of the "
        "limit “planned range margin” and the offset before loading, either way.",
    )


def _cracking(readings: PlannedReadings, gauge: Entry[Gauge]) -> tuple[Cell, Cell]:
    if not in_member(readings.book, gauge):
        return None, None
    try:
        found = readings.prediction(gauge)
    except (InputError, Faults):
        return None, None  # why stands beside the strain
    cracks = found.cracking_load
    shown = None if cracks is None else Doubted(float(cracks.value), expanded(cracks))
    return shown, found.crushing_load if math.isfinite(found.crushing_load) else None


def range_of_circuit(
    readings: PlannedReadings, on_record: Book, circuit: Entry[BridgeCircuit]
) -> GaugeRange:
    """Range that a circuit's channel needs for the loads asked for, with margin and offset."""
    gauge = readings.book.gauges_of(circuit)[0]
    strains, words = [0.0], []
    for load in loads_shown(readings):
        try:
            strains.append(circuit_strain(readings, circuit, load))
        except (InputError, Faults) as problem:
            words.append(str(problem).splitlines()[0])
    if is_dummy(readings.book, gauge):
        words = ["never loaded"]
    elif len(strains) == 1 or not any(strains):
        level = readings.level(gauge)
        strains += [level.strain, -level.strain]
        words = [f"reckoned with ± the level {level.strain * 1e6:.0f} µε: nothing is predicted"]
    margin = limit_or_shipped(readings.book, "planned range margin").value
    offset = _offset(readings, circuit)
    pack = readings.book.pack_of(gauge).record
    factor = bridge_factor(readings, circuit)
    needed = range_needed(
        [margin * min(strains), margin * max(strains)], pack.gauge_factor.value, offset, factor
    )
    is_set = _range_set(on_record, circuit)
    if is_set is not None and is_set < float(needed):
        words.append(
            "the range that was set is too small, the channel clips: the nearest that isn't is "
            f"± {float(needed) * 1e3:.3g} mV/V"
        )
    return GaugeRange(
        min(strains),
        max(strains),
        offset / pack.gauge_factor.value,
        float(needed),
        is_set,
        "; ".join(dict.fromkeys(words)) or "enough for every load asked for",
    )


def _offset(readings: PlannedReadings, circuit: Entry[BridgeCircuit]) -> float:
    """Largest relative difference of gauge and completion before loading: card, bonding, wires."""
    gauge = readings.book.gauges_of(circuit)[0]
    pack = readings.book.pack_of(gauge).record
    nominal = pack.gauge_resistance
    parts = [(nominal.plus_minus or 0.0) / nominal.value]
    parts.append(limit_or_shipped(readings.book, BONDING).value)
    fixed = [arm.resistance for arm in circuit.record.arms if arm.resistance is not None]
    parts += [(each.plus_minus or 0.0) / each.value for each in fixed[:1]]
    if circuit.record.topology is Topology.QUARTER_TWO_WIRE:
        wire = readings.lead(circuit).resistance.value
        parts.append(2 * wire / nominal.value)
    return math.fsum(parts)


def _range_set(on_record: Book, circuit: Entry[BridgeCircuit]) -> float | None:
    """Range of the channel the circuit was last put on, either way, as a ratio [V/V]."""
    connections = on_record.connections_of(circuit.uid)
    if not connections:
        return None
    return ratio_of_range(on_record.setting_of(connections[-1]).record)


def ratio_of_range(setting: ChannelSetting) -> float | None:
    """Smaller end of a channel's range as a bridge ratio [V/V]; None where none was set."""
    if setting.range_low is None or setting.range_high is None:
        return None
    return _in_ratio(setting, min(abs(setting.range_low), abs(setting.range_high)))


def _in_ratio(setting: ChannelSetting, end: float) -> float | None:
    unit = parse_unit(setting.unit)
    if unit is None:
        return None
    value = float(to_si(end, unit))
    factor = setting.set_gauge_factor
    return value if factor is None else value * factor / 4
