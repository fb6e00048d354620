"""What each planned circuit should put out at a load: its grids together, each with its sign."""

from collections.abc import Sequence

import numpy as np

from gaugewright.calc.bridge import four_arm_ratio
from gaugewright.errors import Faults, InputError
from gaugewright.present.units_shown import System, in_shown, unit_shown
from gaugewright.records import Entry
from gaugewright.records.electrical import Arm, BridgeCircuit, Topology
from gaugewright.records.gauges import Gauge
from gaugewright.services.plan.strains import BeyondReach, Expected, PlannedReadings
from gaugewright.services.showing.listings import Cell, Column, Listing

__all__ = [
    "FACTORS",
    "bridge_factor",
    "bridge_list",
    "bridge_ratio",
    "circuit_strain",
    "expected_in",
]

# Output over a quarter of the change of one arm, small strains: arms that work together.
FACTORS = {
    Topology.QUARTER_TWO_WIRE: 1.0,
    Topology.QUARTER_THREE_WIRE: 1.0,
    Topology.HALF_BENDING: 2.0,
    Topology.HALF_OPPOSITE: 2.0,
    Topology.FULL_BENDING: 4.0,
    Topology.FULL_TORSION: 4.0,
}


def bridge_factor(readings: PlannedReadings, circuit: Entry[BridgeCircuit]) -> float:
    """Output over a quarter of the change of one arm: how many arms work together."""
    topology = circuit.record.topology
    if topology in FACTORS:
        return FACTORS[topology]
    gauge = readings.book.gauges_of(circuit)[0]
    nu = readings.book.material_of(gauge).record.poisson_ratio.value
    return 2 * (1 + nu) if topology is Topology.FULL_POISSON else 1 + nu


def _grids(
    readings: PlannedReadings, circuit: Entry[BridgeCircuit]
) -> list[tuple[Arm, Entry[Gauge]]]:
    """Arms with a grid in them."""
    return [
        (arm, readings.book.entry(arm.gauge, Gauge))
        for arm in circuit.record.arms
        if arm.gauge is not None
    ]


def circuit_strain(readings: PlannedReadings, circuit: Entry[BridgeCircuit], load: float) -> float:
    """Strain that a circuit is told as at a load: that of its grid, or of grids that work together.

    Of several the sum with their signs over the bridge's factor: bending alone for a bending
    bridge, the strain along the axis for one of Poisson pairs.

    Raises
    ------
    InputError
        If a grid of it can't be predicted.
    """
    grids = _grids(readings, circuit)
    if len(grids) == 1:
        return readings.strain_at_load(grids[0][1], load)
    whole = sum(arm.sign * readings.strain_at_load(gauge, load) for arm, gauge in grids)
    return whole / bridge_factor(readings, circuit)


def bridge_ratio(readings: PlannedReadings, circuit: Entry[BridgeCircuit], load: float) -> float:
    """Output of a circuit at a load, fixed arms equal to its grids at rest [V/V].

    Each grid by the gauge factor of its card; transverse sensitivity and leads are left out.

    Raises
    ------
    InputError
        If a grid of it can't be predicted.
    """
    changes = np.zeros(4)
    # Arms 1 and 3 raise the output, 2 and 4 lower it: by their signs, whatever they are numbered.
    free = {1: [0, 2], -1: [1, 3]}
    for arm, gauge in _grids(readings, circuit):
        factor = readings.book.pack_of(gauge).record.gauge_factor.value
        if not free[arm.sign]:
            raise InputError(
                f"arms of {circuit.record.label}",
                "three of one sign",
                "two that raise the output and two that lower it at most",
            )
        changes[free[arm.sign].pop(0)] = factor * readings.strain_at_load(gauge, load)
    return float(four_arm_ratio(changes))


def expected_in(
    readings: PlannedReadings,
    circuit: Entry[BridgeCircuit],
    gauge: Entry[Gauge],
    load: float | None,
) -> Expected:
    """Strain to be expected of a circuit; a level where none can be predicted.

    Raises
    ------
    InputError
        If the specimen doesn't carry such a load.
    """
    if load is None or len(_grids(readings, circuit)) == 1:
        return readings.expected(gauge, load)
    try:
        strain = circuit_strain(readings, circuit, load)
    except BeyondReach:
        raise  # it can be predicted: the load is the fault
    except (InputError, Faults) as problem:
        return readings.level(gauge, str(problem).splitlines()[0])
    if strain == 0:
        why = f"the load as it is described leaves {circuit.record.label} at nothing"
        return readings.level(gauge, why)
    return Expected(strain, f"{circuit.record.topology.value}: {readings.how(gauge)}")


def bridge_list(readings: PlannedReadings, loads: Sequence[float], system: System) -> Listing:
    """Output of every circuit at every load, with the signs of its grids."""
    unit = unit_shown("force", system).text
    rows: list[tuple[Cell, ...]] = []
    for circuit in readings.book.of(BridgeCircuit):
        cells: list[Cell] = []
        words: dict[str, None] = {}
        for load in loads:
            try:
                cells.append(bridge_ratio(readings, circuit, load))
            except (InputError, Faults) as problem:
                cells.append(None)
                words[str(problem).splitlines()[0]] = None
        grids = _grids(readings, circuit)
        if cells and not any(cells) and not words:
            words["these loads leave it at nothing"] = None
        signed = ", ".join(f"{'+' if arm.sign > 0 else '−'}{g.record.label}" for arm, g in grids)
        told = (f"{circuit.record.topology.value}: {signed}", *words)
        rows.append((circuit.record.label, *cells, "; ".join(told)))
    columns = [Column("circuit")]
    columns += [
        Column(f"at {in_shown(load, 'force', system):.4g} {unit}", "bridge_ratio") for load in loads
    ]
    return Listing(
        "outputs",
        "Predicted output",
        (*columns, Column("told")),
        tuple(rows),
        "The output of every circuit at every load will stand here once gauges are placed.",
        "What the circuit adds to its zero, with the gauge factor of each card; leads and "
        "transverse sensitivity left out. A grid marked + raises the output where it is stretched.",
    )
