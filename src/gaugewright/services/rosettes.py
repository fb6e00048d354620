"""Stress of a plate from the arms of a rosette at one load step."""

import math

import numpy as np

from gaugewright.calc import rosette
from gaugewright.calc.uncertainty import Uncertain, combination
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import Gauge, GaugePack
from gaugewright.records.identity import Uid
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import LoadStep
from gaugewright.records.results import Result
from gaugewright.records.specimen import Material
from gaugewright.records.stated import State
from gaugewright.services.causes import uncertain_of_stated
from gaugewright.services.forces import strain_at_step
from gaugewright.services.reduction_results import result_of
from gaugewright.services.review import state_of_gauge
from gaugewright.services.strains import Desk

__all__ = ["PlateStress", "plate_stress", "results", "rosette_groups"]

Arm = tuple[Entry[BridgeCircuit], Entry[Gauge]]


class PlateStress:
    """Principal stresses [Pa] and direction of the larger one [rad], with their doubt."""

    __slots__ = ("angle", "first", "second")

    def __init__(self, first: Uncertain, second: Uncertain, angle: Uncertain) -> None:
        self.first = first
        self.second = second
        self.angle = angle


def rosette_groups(desk: Desk) -> dict[str, list[Arm]]:
    """Arms of each rosette by its name, in order of their angle; only whole, usable rosettes."""
    groups: dict[str, list[Arm]] = {}
    for circuit in desk.book.of(BridgeCircuit):
        gauges = desk.book.gauges_of(circuit)
        if len(gauges) == 1 and gauges[0].record.group:
            groups.setdefault(gauges[0].record.group, []).append((circuit, gauges[0]))
    for arms in groups.values():
        arms.sort(key=lambda arm: arm[1].record.angle_to_axis)
    bad = (State.DOUBTFUL, State.LOST, State.REPAIR)
    return {
        name: arms
        for name, arms in groups.items()
        if len(arms) >= 3 and not any(state_of_gauge(desk.book, gauge) in bad for _, gauge in arms)
    }


def plate_stress(desk: Desk, arms: list[Arm], step: Entry[LoadStep]) -> PlateStress | None:
    """Plane stress from the arms of one rosette at a step; None where an arm has no value.

    Arms are corrected for transverse sensitivity together. Strains of the surface are linear in
    the arms; principal strains, direction and stresses go by their derivatives in closed form.

    Raises
    ------
    InputError
        If the arms came from different packs.
    """
    strains = [strain_at_step(desk, circuit, ZeroKind.BEFORE_TEST, step) for circuit, _ in arms]
    known = [strain for strain in strains if strain is not None]
    if len(known) < len(arms):
        return None
    pack = desk.book.pack_of(arms[0][1])
    if any(gauge.record.pack != pack.uid for _, gauge in arms):
        raise InputError("packs of the rosette", "several", "one pack for all arms")
    surface = _surface(known, pack, np.asarray([g.record.angle_to_axis for _, g in arms]))
    return _principal_stress(desk.book.material_of(arms[0][1]), *surface)


def _surface(
    arms: list[Uncertain], pack: Entry[GaugePack], angles: FloatArray
) -> tuple[Uncertain, Uncertain, Uncertain]:
    """Strain along x, across it, and shear, each linear in the arms as indicated."""
    side = uncertain_of_stated(
        f"transverse_sensitivity@{pack.uid}",
        pack.record.transverse_sensitivity,
        "transverse sensitivity",
    )
    indicated = np.asarray([arm.value.item() for arm in arms])

    def solved(readings: FloatArray, sensitivity: float) -> FloatArray:
        found = rosette.surface_strain(
            readings, angles, sensitivity, pack.record.poisson_ratio_of_card
        )
        return np.asarray([found.strain_x, found.strain_y, found.shear_strain]).reshape(3)

    kt = side.value.item()
    by_arm = np.stack([solved(row, kt) for row in np.eye(len(arms))], axis=1)
    # Smooth and nearly straight in K_t: a central difference over a thousandth is exact to 1e-9.
    step = 1e-3
    by_side = (solved(indicated, kt + step) - solved(indicated, kt - step)) / (2 * step)
    values = by_arm @ indicated
    made = [
        combination(
            np.asarray(values[n]),
            [
                *((arm, np.asarray(by_arm[n, m])) for m, arm in enumerate(arms)),
                (side, np.asarray(by_side[n])),
            ],
        )
        for n in range(3)
    ]
    return made[0], made[1], made[2]


def _principal_stress(
    material: Entry[Material], along: Uncertain, across: Uncertain, shear: Uncertain
) -> PlateStress:
    found = rosette.principal(along.value, across.value, shear.value)
    angle = found.angle.item()
    cosine, sine = math.cos(angle), math.sin(angle)
    # ε(θ) = εx cos² + εy sin² + γ sin cos is stationary at the principal directions, so the
    # direction's own doubt doesn't enter: the factors are the partial derivatives.
    first = combination(
        found.first, [(along, cosine**2), (across, sine**2), (shear, sine * cosine)]
    )
    second = combination(
        found.second, [(along, sine**2), (across, cosine**2), (shear, -sine * cosine)]
    )
    difference = (along.value - across.value).item()
    square = difference**2 + shear.value.item() ** 2
    turn = combination(
        found.angle,
        [
            (along, -shear.value / (2 * square)),
            (across, shear.value / (2 * square)),
            (shear, difference / (2 * square)),
        ],
    )
    return PlateStress(_stress(material, first, second), _stress(material, second, first), turn)


def _stress(material: Entry[Material], strain: Uncertain, other: Uncertain) -> Uncertain:
    """σ1 = E (ε1 + ν ε2)/(1 - ν²), with the derivatives by all four."""
    modulus = uncertain_of_stated(
        f"modulus@{material.uid}", material.record.elastic_modulus, "modulus of the steel"
    )
    poisson = uncertain_of_stated(
        f"poisson@{material.uid}", material.record.poisson_ratio, "Poisson's ratio"
    )
    nu, e = poisson.value.item(), modulus.value.item()
    kept = 1 - nu**2
    sum_strain = strain.value + nu * other.value
    by_poisson = e * (other.value * kept + 2 * nu * sum_strain) / kept**2
    return combination(
        e * sum_strain / kept,
        [
            (strain, e / kept),
            (other, nu * e / kept),
            (modulus, sum_strain / kept),
            (poisson, by_poisson),
        ],
    )


def results(desk: Desk, step: Entry[LoadStep]) -> list[Result]:
    """Principal stresses and direction of every whole rosette at a step, as results."""
    made: list[Result] = []
    for name, arms in rosette_groups(desk).items():
        plate = plate_stress(desk, arms, step)
        if plate is None:
            continue
        subjects: tuple[Uid, ...] = tuple(gauge.uid for _, gauge in arms)
        for words, value, quantity, unit in (
            ("larger principal stress", plate.first, "principal stress", "Pa"),
            ("smaller principal stress", plate.second, "principal stress", "Pa"),
            ("direction of the larger principal stress", plate.angle, "angle", "rad"),
        ):
            made.append(
                result_of(
                    desk.book,
                    value,
                    label=f"{words} at {name}, {step.record.label}",
                    quantity=quantity,
                    unit=unit,
                    criterion=f"plane stress, mean of the settled part of {step.record.label}",
                    subjects=subjects,
                    circuits=tuple(circuit.uid for circuit, _ in arms),
                    zero=f"zero {ZeroKind.BEFORE_TEST.value}",
                )
            )
    return made
