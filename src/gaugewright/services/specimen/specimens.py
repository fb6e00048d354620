"""What gauges on strand, tubes, plates and load cells say: the right number for each kind."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gaugewright.calc import active_arms, load_cell, strand
from gaugewright.calc.by_difference import by_difference
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Topology
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import LoadStep
from gaugewright.records.specimen import Bar, Specimen, SpecimenKind
from gaugewright.records.stated import Stated
from gaugewright.services.bars.forces import strain_at_step
from gaugewright.services.bars.together import usable
from gaugewright.services.chaining.causes import uncertain_of_stated
from gaugewright.services.loading.moments import moment_named
from gaugewright.services.specimen import rosettes
from gaugewright.services.strain.strains import CircuitStrain, Desk
from gaugewright.services.under_load.loads import load_at, load_uncertain

__all__ = ["KINDS", "SpecimenValue", "specimen_values"]

ZERO = ZeroKind.BEFORE_TEST
PULL = "calibration pull"
SHEAR, TORQUE = "shear strain@1", "torque@1"
BENT = 0.1  # bending over axial strain that the note on a load cell works its example with
SEATED = 0.1  # of the highest load of a pull: below it grips and wires still settle
_SQUARE = 0.02  # angles of two grids are taken as right ones this near to it [rad]


@dataclass(frozen=True, slots=True)
class SpecimenValue:
    """One number about a specimen (SI): of what, from which gauges, at which step, and how."""

    specimen: str
    subject: str
    quantity: str
    words: str
    value: Uncertain
    step: str
    note: str


Wired = tuple[Entry[BridgeCircuit], tuple[Entry[Gauge], ...]]


def specimen_values(desk: Desk, label: str | None = None) -> tuple[SpecimenValue, ...]:
    """Everything that the gauges of one specimen say, or those of every specimen of such a kind.

    Raises
    ------
    InputError
        If there is no such specimen, it is a cast member or bare bar (other results look at
        those), or what its kind needs isn't recorded.
    """
    chosen = [s for s in desk.book.of(Specimen) if s.record.kind in KINDS]
    if label is not None:
        chosen = [desk.book.labelled(Specimen, label)]
    allowed = "one of the kinds " + ", ".join(kind.value for kind in KINDS)
    if not chosen:
        raise InputError("specimens", "none of these kinds", allowed, "enter one, or name one")
    found: list[SpecimenValue] = []
    for specimen in chosen:
        worked_out = KINDS.get(specimen.record.kind)
        if worked_out is None:
            raise InputError(
                f"kind of {specimen.record.label}",
                specimen.record.kind.value,
                allowed,
                "bars and cast members have results of their own: reduce the campaign",
            )
        wired = _wired(desk, specimen)
        if not wired:
            raise InputError(
                f"usable gauges on {specimen.record.label}", "none", "one circuit with readings"
            )
        found += worked_out(desk, specimen, wired)
    return tuple(found)


def _wired(desk: Desk, specimen: Entry[Specimen]) -> list[Wired]:
    """Circuits whose gauges sit on a specimen, all of them usable."""
    found: list[Wired] = []
    for circuit in desk.book.of(BridgeCircuit):
        gauges = desk.book.gauges_of(circuit)
        on = all(desk.book.bar_of(gauge).record.specimen == specimen.uid for gauge in gauges)
        if on and all(usable(desk, gauge) for gauge in gauges):
            found.append((circuit, gauges))
    return found


def _steps(desk: Desk) -> tuple[Entry[LoadStep], ...]:
    steps = tuple(sorted(desk.book.of(LoadStep), key=lambda step: step.record.begins))
    if not steps:
        raise InputError(
            "load steps", "none", "at least one", "name the stretch of time in which load was held"
        )
    return steps


def _strand(desk: Desk, specimen: Entry[Specimen], wired: list[Wired]) -> Iterator[SpecimenValue]:
    """Force per strain of each gauge from the pull against the load cell, and what E seems to be.

    Both from first loading between a tenth of the highest load, above seating, and that load.
    """
    for circuit, gauges in wired:
        strain = desk.strain(circuit, ZERO)
        rows, load = _pull(desk, strain, gauges[0].record.label)
        e, p = strain.strain[rows], load_uncertain(desk, load)
        scatter = _scatter(f"scatter_of_pull@{circuit.uid}", e, load)
        told = (specimen.record.label, gauges[0].record.label)
        reach = f"pulled to {np.ptp(e) * 1e6:.0f} µε in {rows.size} samples"
        # Later forces come through the same chain, so its own errors of scale go out of them.
        slope = by_difference(strand.force_per_strain, [Uncertain.exact(e), p], noise_slopes=[0, 0])
        yield SpecimenValue(
            *told,
            "force_per_strain",
            "force per strain, for strain through the same chain",
            slope + Uncertain.from_input(0.0, scatter),
            PULL,
            f"{reach}; force = this times strain",
        )
        if desk.book.bar_of(gauges[0]).record.area is not None:
            yield SpecimenValue(
                *told,
                "elastic_modulus",
                "apparent modulus",
                _apparent(desk, gauges[0], strain.uncertain(rows), p, scatter),
                PULL,
                f"{reach}; of one wire's strain, neither the wire's modulus nor the strand's",
            )


def _pull(
    desk: Desk, strain: CircuitStrain, label: str
) -> tuple[npt.NDArray[np.int64], FloatArray]:
    """Rows of the calibration pull above seating, and the load there."""
    load = load_at(desk, strain.time)
    rows = np.flatnonzero(np.isfinite(load) & np.isfinite(strain.strain)).astype(np.int64)
    if not rows.size:
        raise InputError(f"pull of {label}", "no samples", "three or more with load and strain")
    rows = rows[: int(np.argmax(load[rows])) + 1]
    rows = rows[load[rows] >= SEATED * load[rows[-1]]]
    if rows.size < 3:
        raise InputError(f"pull of {label}", f"{rows.size} samples above seating", "three or more")
    return rows, load[rows]


def _apparent(
    desk: Desk,
    gauge: Entry[Gauge],
    strain: Uncertain,
    force: Uncertain,
    scatter: InputQuantity,
) -> Uncertain:
    """Slope of the pull over the area of all wires, with what the strain itself owes."""
    quiet = Uncertain(strain.value, strain.sensitivities, inputs=strain.inputs)
    section = _needed(desk, gauge, "area", "area of all wires")

    def modulus(e: FloatArray, p: FloatArray, area: FloatArray) -> FloatArray:
        return strand.apparent_modulus(strand.force_per_strain(e, p), area)

    found = by_difference(modulus, [quiet, force, section], noise_slopes=[0, 0, 0])
    return found + Uncertain.from_input(0.0, scatter, 1 / float(section.value))


def _scatter(name: str, strain: FloatArray, force: FloatArray) -> InputQuantity:
    """Standard error of the slope of a pull from what the straight line leaves over."""
    slope = float(strand.force_per_strain(strain, force))
    way = strain - np.mean(strain)
    left = force - np.mean(force) - slope * way
    free = strain.size - 2
    error = float(np.sqrt(np.sum(left**2) / free / np.sum(way**2)))
    return InputQuantity(name, error, float(free), meaning="scatter of the calibration pull")


def _tube(desk: Desk, specimen: Entry[Specimen], wired: list[Wired]) -> Iterator[SpecimenValue]:
    """Shear strain and torque at each load step, from full bridges or grids at ±45 degrees."""
    sets = list(_shear_sets(desk, wired))
    if not sets:
        raise InputError(
            f"gauges on {specimen.record.label}",
            "neither a torsion bridge nor a pair at +45 and -45 degrees",
            "one of the two",
            "wire four grids as a torsion bridge, or enter the grids' angles to the axis",
        )
    for step in _steps(desk):
        for circuits, gauges, label in sets:
            parts = [strain_at_step(desk, circuit, ZERO, step) for circuit in circuits]
            if any(part is None for part in parts):
                continue
            strains = [part for part in parts if part is not None]
            # γ = ε(+45) - ε(-45) of two grids; the chain of a torsion bridge gives γ itself.
            shear = strains[0] - strains[1] if len(strains) == 2 else strains[0]
            told = (specimen.record.label, label)
            yield SpecimenValue(
                *told, "shear_strain", "shear strain of the surface", shear, step.record.label, ""
            )
            yield SpecimenValue(
                *told,
                "torque",
                "torque",
                _torque(desk, gauges[0], shear),
                step.record.label,
                "elastic, round tube of even wall",
            )


def _refuse_other_stages(desk: Desk, circuit: Entry[BridgeCircuit]) -> None:
    """The chain of a torsion bridge must end with shear strain, as it does unless switched."""
    for piece in desk.strain(circuit, ZERO).pieces:
        on = {stage.kind for stage in piece.built.chain.stages if stage.on}
        if SHEAR not in on or TORQUE in on:
            raise InputError(
                f"chain of {circuit.record.label}",
                "switched from shear strain to something else",
                f"with {SHEAR} on and {TORQUE} off",
                "take the switches back: torque is worked out here with the wall of the tube",
            )


def _shear_sets(
    desk: Desk,
    wired: list[Wired],
) -> Iterator[tuple[tuple[Entry[BridgeCircuit], ...], tuple[Entry[Gauge], ...], str]]:
    singles: list[tuple[Entry[BridgeCircuit], Entry[Gauge]]] = []
    for circuit, gauges in wired:
        if circuit.record.topology is Topology.FULL_TORSION:
            _refuse_other_stages(desk, circuit)
            yield (circuit,), gauges, circuit.record.label
        elif len(gauges) == 1:
            singles.append((circuit, gauges[0]))
    for circuit, gauge in singles:
        if abs(gauge.record.angle_to_axis - np.pi / 4) > _SQUARE:
            continue
        for other, partner in singles:
            level = partner.record.angle_to_axis + np.pi / 4
            if abs(level) < _SQUARE and partner.record.station == gauge.record.station:
                label = f"{gauge.record.label} with {partner.record.label}"
                yield (circuit, other), (gauge, partner), label


def _torque(desk: Desk, gauge: Entry[Gauge], shear: Uncertain) -> Uncertain:
    bar = desk.book.bar_of(gauge).record
    material = desk.book.material_of(gauge)
    outer = _needed(desk, gauge, "diameter", "outer diameter")
    numbers = [
        outer,
        uncertain_of_stated(
            f"modulus@{material.uid}", material.record.elastic_modulus, "modulus of the steel"
        ),
        uncertain_of_stated(
            f"poisson@{material.uid}", material.record.poisson_ratio, "Poisson's ratio"
        ),
    ]
    # The wall of a solid bar is half its diameter and moves with it: the bore stays at nothing.
    wall = outer / 2
    if bar.wall_thickness is not None:
        wall = _needed(desk, gauge, "wall_thickness", "wall of the tube")

    def of_tube(gamma: FloatArray, *given: FloatArray) -> FloatArray:
        d, e, nu, t = given
        return active_arms.torque(gamma, d, e, nu, d - 2 * t)

    arguments = [*numbers, wall]
    per_strain = of_tube(np.asarray(1.0), *(number.value for number in arguments))
    return by_difference(
        of_tube, [shear, *arguments], noise_slopes=[per_strain, 0.0, 0.0, 0.0, 0.0]
    )


def _load_cell(
    desk: Desk, specimen: Entry[Specimen], wired: list[Wired]
) -> Iterator[SpecimenValue]:
    """Force at each step by E A ε, sensitivity at capacity, and what bending would leave."""
    full = [w for w in wired if w[0].record.topology is Topology.FULL_POISSON]
    if not full:
        raise InputError(
            f"bridge of {specimen.record.label}",
            "not a full bridge with Poisson pairs",
            "two grids along the bar and two across, wired as one bridge",
            "for a bar with single gauges take its kind as bare metal",
        )
    for circuit, gauges in full:
        area = _needed(desk, gauges[0], "area", "area of the load cell")
        material = desk.book.material_of(gauges[0])
        modulus = uncertain_of_stated(
            f"modulus@{material.uid}", material.record.elastic_modulus, "modulus of the steel"
        )
        told = (specimen.record.label, circuit.record.label)
        capacity = desk.book.bar_of(gauges[0]).record.capacity
        if capacity is not None:
            yield _sensitivity(desk, told, gauges, capacity)
        for step in _steps(desk):
            strain = strain_at_step(desk, circuit, ZERO, step)
            if strain is None:
                continue
            yield SpecimenValue(
                *told,
                "force",
                "force from stated properties",
                strain * modulus * area,
                step.record.label,
                "a calibration takes the place of modulus, area and gauge factor",
            )


def _sensitivity(
    desk: Desk, told: tuple[str, str], gauges: tuple[Entry[Gauge], ...], capacity: float
) -> SpecimenValue:
    """Output over excitation at capacity as the properties have it, and the rest of bending."""
    material, pack = desk.book.material_of(gauges[0]), desk.book.pack_of(gauges[0])
    numbers = [
        _needed(desk, gauges[0], "area", "area of the load cell"),
        uncertain_of_stated(
            f"modulus@{material.uid}", material.record.elastic_modulus, "modulus of the steel"
        ),
        uncertain_of_stated(
            f"poisson@{material.uid}", material.record.poisson_ratio, "Poisson's ratio"
        ),
        uncertain_of_stated(
            f"gauge_factor@{pack.uid}", pack.record.gauge_factor, "gauge factor of the pack"
        ),
    ]

    def output(a: FloatArray, e: FloatArray, nu: FloatArray, k: FloatArray) -> FloatArray:
        return load_cell.column_ratio(capacity, a, e, poisson_ratio=nu, gauge_factor=k)

    area, modulus, poisson, factor = (number.value for number in numbers)
    change = factor * capacity / (modulus * area)
    left = float(load_cell.bending_left_over(change, BENT, poisson))
    return SpecimenValue(
        *told,
        "bridge_ratio",
        "sensitivity at capacity",
        by_difference(output, numbers, noise_slopes=[0.0] * 4),
        f"{capacity / 1e3:g} kN",
        f"bending of {BENT:.0%} of the axial strain moves it by {left * 100:.2g} % if the four "
        "grids are alike",
    )


def _plate(desk: Desk, specimen: Entry[Specimen], wired: list[Wired]) -> Iterator[SpecimenValue]:
    """Plane stress at each step under every rosette on the plate; a tee's axes are assumed."""
    on_it = {circuit.uid for circuit, _ in wired}
    groups = [
        group
        for group in rosettes.groups(desk)
        if group.arms and all(circuit.uid in on_it for circuit, _ in group.arms)
    ]
    if not groups:
        raise InputError(
            f"gauges on {specimen.record.label}",
            "without a rosette that is reduced",
            "two grids at right angles or three and more, in one group",
            "enter the grids' angles and one group for them, then reduce",
        )
    for step in _steps(desk):
        for group in groups:
            state = rosettes.rosette_state_at(desk, group, moment_named(desk, step.record.label))
            told = (specimen.record.label, group.name)
            note = "a tee: right where its grids lie along the principal directions"
            note = note if group.is_tee else ""
            values = [
                ("stress", "larger principal stress", state.first_stress),
                ("stress", "smaller principal stress", state.second_stress),
            ]
            if state.is_determined:
                values.append(("angle", "direction of the larger", state.angle))
            for quantity, words, value in values:
                yield SpecimenValue(*told, quantity, words, value, step.record.label, note)


def _needed(desk: Desk, gauge: Entry[Gauge], field: str, meaning: str) -> Uncertain:
    entry: Entry[Bar] = desk.book.bar_of(gauge)
    stated: Stated | None = getattr(entry.record, field)
    if stated is None:
        raise InputError(f"{field} of {entry.record.label}", None, "recorded", "measure it")
    return uncertain_of_stated(f"{field}@{entry.uid}", stated, meaning)


KINDS = {
    SpecimenKind.STRAND: _strand,
    SpecimenKind.TUBE: _tube,
    SpecimenKind.PLATE: _plate,
    SpecimenKind.LOAD_CELL: _load_cell,
}
