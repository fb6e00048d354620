"""What a rosette says at a moment and over the test: strain, axes and stress of its surface."""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gaugewright.calc import rosette_state
from gaugewright.calc.rosette_state import PrincipalState, SurfaceState
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import Faults, InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import LoadStep
from gaugewright.records.results import Chain, Result
from gaugewright.records.specimen import Material
from gaugewright.services.bars.together import usable
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.campaign.limit_labels import MISALIGNMENT
from gaugewright.services.campaign.states import state_of_gauge
from gaugewright.services.chaining.causes import input_of_limit, uncertain_of_stated
from gaugewright.services.loading.moments import Moment, moment_named, rows_at
from gaugewright.services.results.results import result_of
from gaugewright.services.strain.strains import Desk
from gaugewright.services.under_load.loads import load_at

__all__ = [
    "Group",
    "RosetteSeries",
    "RosetteState",
    "group_of_arms",
    "groups",
    "results",
    "rosette_series",
    "rosette_state_at",
    "stresses_of_arms",
    "zeros_of_rosette",
]

Arm = tuple[Entry[BridgeCircuit], Entry[Gauge]]
SAMPLES = 240


@dataclass(frozen=True, slots=True)
class Group:
    """The arms of one rosette in order of their angles, and why it can't be used, or "".

    ``layout`` names the arrangement; a tee tells nothing of direction.
    """

    name: str
    arms: tuple[Arm, ...]
    layout: str
    why_not: str

    @property
    def is_tee(self) -> bool:
        """Whether its axes are assumed instead of measured."""
        return self.layout == "tee"

    @property
    def angles(self) -> FloatArray:
        """Directions of the grids from the axis [rad]."""
        return np.asarray([gauge.record.angle_to_axis for _, gauge in self.arms])


@dataclass(frozen=True, slots=True)
class RosetteState:
    """One rosette at one moment: what its arms read, the surface, its axes and stresses [SI].

    ``angle`` and what belongs to it are for the axis of the larger principal strain; the doubt
    of how the rosette was turned when bonded is in ``angle`` and in both its ends.
    """

    group: Group
    moment: Moment
    zero: ZeroKind
    arms: tuple[Uncertain, ...]
    surface: SurfaceState
    principal: PrincipalState
    angle: Uncertain
    lower: float
    upper: float
    first_stress: Uncertain
    second_stress: Uncertain

    @property
    def is_determined(self) -> bool:
        """Whether there is an axis to be told."""
        return bool(self.principal.is_determined.item()) and not self.group.is_tee


@dataclass(frozen=True, slots=True)
class RosetteSeries:
    """A rosette over the test at samples spread evenly over the scans with a load [SI]."""

    time: FloatArray
    load: FloatArray
    principal: PrincipalState


def groups(desk: Desk) -> tuple[Group, ...]:
    """Every rosette of the campaign by its name, usable or not."""
    chained = {chain.record.circuit for chain in desk.book.of(Chain)}
    wired: dict[Uid, Entry[BridgeCircuit]] = {}
    for circuit in desk.book.of(BridgeCircuit):
        found = desk.book.gauges_of(circuit)
        if len(found) == 1 and circuit.uid in chained:
            wired[found[0].uid] = circuit
    members: dict[str, list[Entry[Gauge]]] = {}
    for gauge in desk.book.of(Gauge):
        if gauge.record.group:
            members.setdefault(gauge.record.group, []).append(gauge)
    return tuple(_group(desk, name, gauges, wired) for name, gauges in members.items())


def zeros_of_rosette(desk: Desk, group: Group) -> tuple[ZeroKind, ...]:
    """Zeros that every arm has, that before the test first: strain can count from any of them."""
    kinds = [
        kind
        for kind in ZeroKind
        if all(
            any(
                desk.book.holds_zero(connection, kind)
                for connection in desk.book.connections_of(circuit.uid)
            )
            for circuit, _ in group.arms
        )
    ]
    return tuple(sorted(kinds, key=lambda kind: kind is not ZeroKind.BEFORE_TEST))


def rosette_state_at(
    desk: Desk, group: Group, moment: Moment, zero: ZeroKind = ZeroKind.BEFORE_TEST
) -> RosetteState:
    """State of strain and stress under a rosette at a moment.

    Raises
    ------
    InputError
        If the rosette can't be used, or an arm has no value at the moment.
    """
    _refuse(group)
    arms = []
    for circuit, gauge in group.arms:
        rows = rows_at(desk, circuit, zero, moment)
        if not rows.size:
            raise InputError(
                f"strain of {gauge.record.label} at {moment.label}",
                "none",
                "read by every arm",
                "choose another instant",
            )
        arms.append(desk.strain(circuit, zero).uncertain(rows).mean())
    surface = _surface(desk, group, arms)
    principal = rosette_state.principal_state(surface, COVERAGE)
    stresses = _stresses(desk, group, principal)
    angle = principal.angle + Uncertain.from_input(0.0, _turned(desk, group))
    # The interval of the circle and how the rosette sits on the metal are independent.
    factor = float(Uncertain.from_input(0.0, _turned(desk, group)).expanded(COVERAGE))
    return RosetteState(
        group,
        moment,
        zero,
        tuple(arms),
        surface,
        principal,
        angle,
        math.hypot(float(principal.lower), factor),
        math.hypot(float(principal.upper), factor),
        *stresses,
    )


def group_of_arms(desk: Desk, name: str, arms: Sequence[Arm]) -> Group:
    """Rosette of some arms, whether they were reduced or not."""
    wired = {gauge.uid: circuit for circuit, gauge in arms}
    return _group(desk, name, [gauge for _, gauge in arms], wired)


def stresses_of_arms(
    desk: Desk, group: Group, arms: Sequence[Uncertain]
) -> tuple[Uncertain, Uncertain]:
    """Larger and smaller principal stress from what the arms of a rosette indicate [Pa].

    Raises
    ------
    InputError
        If the rosette can't be used.
    """
    _refuse(group)
    surface = _surface(desk, group, list(arms))
    return _stresses(desk, group, rosette_state.principal_state(surface, COVERAGE))


def rosette_series(
    desk: Desk, group: Group, zero: ZeroKind = ZeroKind.BEFORE_TEST, samples: int = SAMPLES
) -> RosetteSeries:
    """Principal strains and axes over the test; other arms are read at their nearest scan.

    What one of the arms wasn't scanned for is left out: its last reading isn't of that moment.

    Raises
    ------
    InputError
        If the rosette can't be used, or its arms were never read together beside a load.
    """
    _refuse(group)
    leading = desk.strain(group.arms[0][0], zero)
    load = load_at(desk, leading.time)
    known = np.flatnonzero(np.isfinite(load))
    if not known.size:
        raise InputError(f"load beside rosette {group.name}", "none", "recorded at the same time")
    rows = known[np.unique(np.linspace(0, known.size - 1, min(samples, known.size)).astype(int))]
    read = [
        desk.strain(circuit, zero).rows_nearest(leading.time[rows])[1] for circuit, _ in group.arms
    ]
    rows = rows[np.logical_and.reduce(read)]
    if not rows.size:
        raise InputError(f"arms of rosette {group.name}", "never", "read at the same time")
    arms = []
    for circuit, _ in group.arms:
        strain = desk.strain(circuit, zero)
        arms.append(strain.uncertain(strain.rows_nearest(leading.time[rows])[0]))
    principal = rosette_state.principal_state(_surface(desk, group, arms), COVERAGE)
    return RosetteSeries(leading.time[rows], load[rows], principal)


def results(desk: Desk, step: Entry[LoadStep]) -> list[Result]:
    """Principal stresses and direction of every usable rosette at a step, as results."""
    made: list[Result] = []
    moment = moment_named(desk, step.record.label)
    for group in groups(desk):
        try:
            state = rosette_state_at(desk, group, moment)
        except (InputError, Faults):
            continue  # its page and the command say why
        made += _results(desk, state, step)
    return made


def _results(desk: Desk, state: RosetteState, step: Entry[LoadStep]) -> list[Result]:
    name, label = state.group.name, step.record.label
    told = [
        ("larger principal stress", state.first_stress, "principal stress", "Pa"),
        ("smaller principal stress", state.second_stress, "principal stress", "Pa"),
    ]
    if state.is_determined:
        words = "direction of the larger principal stress"
        told.append((words, state.angle, "angle", "rad"))
    assumed = ", axes taken along the arms" if state.group.is_tee else ""
    return [
        result_of(
            desk.book,
            value,
            label=f"{words} at {name}, {label}",
            quantity=quantity,
            unit=unit,
            criterion=f"plane stress, mean of the settled part of {label}{assumed}",
            subjects=tuple(gauge.uid for _, gauge in state.group.arms),
            circuits=tuple(circuit.uid for circuit, _ in state.group.arms),
            zero=f"zero {state.zero.value}",
        )
        for words, value, quantity, unit in told
    ]


def _group(
    desk: Desk,
    name: str,
    gauges: list[Entry[Gauge]],
    wired: dict[Uid, Entry[BridgeCircuit]],
) -> Group:
    gauges.sort(key=lambda gauge: gauge.record.angle_to_axis)
    arms = tuple((wired[gauge.uid], gauge) for gauge in gauges if gauge.uid in wired)
    why = [
        f"{gauge.record.label} is {state_of_gauge(desk.book, gauge).value}"
        for gauge in gauges
        if not usable(desk, gauge)
    ]
    why += [f"{g.record.label} isn't reduced" for g in gauges if g.uid not in wired]
    layout = _layout([gauge.record.angle_to_axis for gauge in gauges])
    if layout == "too few directions":
        why.append("its arms point in fewer than three directions and aren't two at right angles")
    metals = {desk.book.material_of(gauge).uid for gauge in gauges}
    if len(metals) > 1:
        why.append("its arms sit on different metals")
    ratios = {desk.book.pack_of(gauge).record.poisson_ratio_of_card for gauge in gauges}
    if len(ratios) > 1:
        why.append("the cards of its arms were made on different beams")
    return Group(name, arms, layout, "; ".join(why))


def _layout(angles: Sequence[float]) -> str:
    """Name of an arrangement by the angles between its arms, within a tenth of a degree."""
    turns = sorted({round(math.degrees(angle) % 180.0, 1) % 180.0 for angle in angles})
    gaps = sorted(round(b - a, 1) for a, b in itertools.pairwise([*turns, turns[0] + 180.0]))
    if len(angles) == 2 and gaps == [90.0, 90.0]:
        return "tee"
    if len(turns) < 3:
        return "too few directions"
    if len(angles) == 3 and gaps == [45.0, 45.0, 90.0]:
        return "rectangular"
    if len(angles) == 3 and gaps == [60.0, 60.0, 60.0]:
        return "delta"
    return f"{len(angles)} arms, least squares" if len(angles) > 3 else "three arms at any angles"


def _refuse(group: Group) -> None:
    if group.why_not:
        raise InputError(
            f"rosette {group.name}",
            group.why_not,
            "whole and usable",
            "a rosette says nothing without one of its arms",
        )


def _surface(desk: Desk, group: Group, arms: list[Uncertain]) -> SurfaceState:
    """Strain of the surface; arms are corrected for transverse sensitivity together."""
    packs = [desk.book.pack_of(gauge) for _, gauge in group.arms]
    sides = [
        uncertain_of_stated(
            f"transverse_sensitivity@{pack.uid}",
            pack.record.transverse_sensitivity,
            "transverse sensitivity",
        )
        for pack in packs
    ]
    ratio = packs[0].record.poisson_ratio_of_card
    if group.is_tee:
        return rosette_state.tee_state(arms, sides, ratio)
    return rosette_state.surface_state(arms, group.angles, sides, ratio)


def _stresses(desk: Desk, group: Group, principal: PrincipalState) -> tuple[Uncertain, Uncertain]:
    material: Entry[Material] = desk.book.material_of(group.arms[0][1])
    record = material.record
    return rosette_state.principal_stresses(
        (principal.first, principal.second),
        uncertain_of_stated(
            f"modulus@{material.uid}", record.elastic_modulus, "modulus of the steel"
        ),
        uncertain_of_stated(f"poisson@{material.uid}", record.poisson_ratio, "Poisson's ratio"),
    )


def _turned(desk: Desk, group: Group) -> InputQuantity:
    """How far the whole rosette may be turned against its axis, by the campaign's allowance."""
    limit = desk.book.limit(MISALIGNMENT)
    return input_of_limit(
        f"turn@{group.arms[0][1].uid}", limit, "angle between the rosette and the axis"
    )
