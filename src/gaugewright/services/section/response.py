"""How a member's section answers a moment by three models, with the doubt of every measure of it.

Worked out once for a member and for each side that is pulled: strains of its gauges are read off
it. An axial force that stays while the moment grows is in all of them.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from gaugewright.calc import concrete as laws
from gaugewright.calc import fibre_section
from gaugewright.calc.fibre_section import FibreSection
from gaugewright.calc.propagation import propagated
from gaugewright.calc.uncertainty import Uncertain, combination
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.services.campaign.book import Book
from gaugewright.services.members.members import WholeMember, fibre_section_of

__all__ = [
    "Elastic",
    "Linear",
    "Response",
    "between",
    "first_reached",
    "followed",
    "linear_of",
    "plane_at",
    "response_of",
    "rising",
    "yield_moment",
]

_PROBE = 1e-6  # curvature at which the linear sections are asked [1/m]


@dataclass(frozen=True, slots=True, eq=False)
class Elastic:
    """Plane of a linear section: top strain and curvature with no moment and per moment."""

    top_free: Uncertain
    top_per_moment: Uncertain
    bend_free: Uncertain
    bend_per_moment: Uncertain


@dataclass(frozen=True, slots=True, eq=False)
class Response:
    """Moment [N m] and top strain at fixed curvatures, and the moment at first cracking.

    States of a growing load on the section through a crack: ``moment`` rises. At a fixed
    curvature both are smooth in every measure, at a fixed moment they jump at cracking and
    yield. Beyond the last state the concrete crushes or the section can carry no more.
    """

    bends: FloatArray
    moment: Uncertain
    top: Uncertain
    uncracked: Elastic
    cracked: Elastic
    cracking_moment: Uncertain
    at_rest: Elastic


@dataclass(frozen=True, slots=True, eq=False)
class Linear:
    """Linear numbers of a section.

    ``uncracked`` has the axial force that stays in it, ``at_rest`` hasn't; per axial force top
    strain and curvature of the uncracked section [1/N; 1/(N m)]; ``to_crack`` is the strain that
    the lower face still has to take before it cracks, from the plane without moment [1].
    """

    uncracked: Elastic
    cracked: Elastic
    at_rest: Elastic
    top_per_force: Uncertain
    bend_per_force: Uncertain
    to_crack: Uncertain
    cracking_moment: Uncertain


def response_of(book: Book, member: WholeMember, *, upside_down: bool = False) -> Response:
    """Response of a member's section, worked out once for a book.

    ``upside_down`` gives that for moments which pull the upper face: as if it were the lower one.
    """
    name = f"response {member.entry.uid}" + (" upside down" if upside_down else "")
    return book.once(name, lambda _: _worked_out(member, upside_down))


def plane_at(response: Response, moment: Uncertain) -> tuple[Uncertain, Uncertain]:
    """Top strain and curvature on first loading at some moments; NaN past the last state."""
    return followed(response.bends, response.moment, response.top, moment)


def followed(
    fixed: FloatArray, carried: Uncertain, other: Uncertain, at: Uncertain
) -> tuple[Uncertain, Uncertain]:
    """Two numbers of states on first loading where a third, rising one is ``at``; NaN beyond.

    States are known at ``fixed`` values of the second; there they carry ``carried`` and have
    ``other``, both in doubt. Given back are other and fixed.
    """
    nodes = carried.value
    right = np.clip(np.searchsorted(nodes, at.value), 1, nodes.size - 1)
    share = (at.value - nodes[right - 1]) / (nodes[right] - nodes[right - 1])
    share = np.where((at.value > nodes[-1]) | (at.value < nodes[0]), np.nan, share)
    width = fixed[right] - fixed[right - 1]
    slope = width / (nodes[right] - nodes[right - 1])
    held = between(carried, right, share)
    found = combination(fixed[right - 1] + share * width, [(at, slope), (held, -slope)])
    beside = between(other, right, share)
    turn = (other.value[right] - other.value[right - 1]) / width
    return combination(beside.value, [(beside, 1.0), (found, turn)]), found


def yield_moment(response: Response, depth: Uncertain, yield_strain: Uncertain) -> Uncertain | None:
    """Moment at which the plane at a depth first reaches a strain; None where it never does."""
    strain = response.top.value + response.bends * depth.value
    place = first_reached(strain, yield_strain)
    if place is None:
        return None
    share = np.asarray((yield_strain.value - strain[place - 1]) / np.diff(strain)[place - 1])
    bend = response.bends[place - 1] + share * np.diff(response.bends)[place - 1]
    top = between(response.top, np.asarray(place), share)
    moment = between(response.moment, np.asarray(place), share)
    # How far the curvature must go on when the strain there is too small, and what that carries:
    # by the slope below yield, for above it the moment hardly grows.
    rise = np.diff(response.moment.value)[place - 1] / np.diff(strain)[place - 1]
    if place > 1:
        rise = np.diff(response.moment.value)[place - 2] / np.diff(strain)[place - 2]
    return combination(
        moment.value,
        [(moment, 1.0), (yield_strain, rise), (top, -rise), (depth, -rise * bend)],
    )


def first_reached(strain: FloatArray, wanted: Uncertain) -> int | None:
    """Place of the first state whose strain is as much as wanted, or more; None: none is."""
    above = strain >= wanted.value
    place = int(np.argmax(above))
    return place if above.any() and place > 0 else None


def between(of: Uncertain, right: npt.NDArray[np.intp], share: FloatArray) -> Uncertain:
    """Value at a share of the way from the state left of a place to that place."""
    low, high = of[right - 1], of[right]
    return combination(
        low.value * (1 - share) + high.value * share, [(low, 1 - share), (high, share)]
    )


def rising(states: Uncertain) -> npt.NDArray[np.intp]:
    """Columns of states that a growing load sees, by the first row of them; each with its doubt."""
    # Near the last state a weaker section has none any more: no doubt can be told there.
    kept = np.isfinite(states.value).all(axis=0)
    for slope in states.sensitivities.values():
        kept &= np.isfinite(np.broadcast_to(slope, states.value.shape)).all(axis=0)
    # A growing load never sees the states in which what is carried has fallen.
    places = np.flatnonzero(kept)
    carried = states.value[0, places]
    highest = np.concatenate([[-np.inf], np.maximum.accumulate(carried)[:-1]])
    return np.asarray(places[carried > highest])


def _worked_out(member: WholeMember, upside_down: bool) -> Response:
    at = {name: value.value for name, value in member.values.items()}
    bends = _bends(fibre_section_of(member, at, upside_down=upside_down), _stays(at))

    def first_loading(values: Mapping[str, FloatArray]) -> FloatArray:
        section = fibre_section_of(member, values, upside_down=upside_down)
        found = fibre_section.moment_curvature(section, bends, axial_force=_stays(values))
        return np.stack([found.moment, found.top_strain])

    states = propagated(first_loading, member.values)
    places = rising(states)
    linear = linear_of(member, upside_down=upside_down)
    return Response(
        bends[places],
        states[0, places],
        states[1, places],
        linear.uncracked,
        linear.cracked,
        linear.cracking_moment,
        linear.at_rest,
    )


def linear_of(member: WholeMember, *, upside_down: bool = False) -> Linear:
    """Linear numbers of a member's section."""

    def linear(values: Mapping[str, FloatArray]) -> FloatArray:
        section = fibre_section_of(member, values, upside_down=upside_down)
        return _linear(section, values, member.moduli(values))

    found = propagated(linear, member.values)
    return Linear(
        uncracked=Elastic(*(found[i] for i in range(4))),
        cracked=Elastic(*(found[i] for i in range(4, 8))),
        at_rest=Elastic(found[9], found[1], found[10], found[3]),
        top_per_force=found[11],
        bend_per_force=found[12],
        to_crack=found[13],
        cracking_moment=found[8],
    )


def _stays(values: Mapping[str, FloatArray]) -> float:
    """Axial force that stays while the load grows [N]."""
    return float(values.get("axial_force", 0.0))


def _bends(section: FibreSection, axial_force: float) -> FloatArray:
    """Curvatures to ask at: closer together where the section cracks and where bars yield."""
    last = float(fibre_section.crushing_state(section, axial_force=axial_force).curvature[0])
    if not np.isfinite(last):
        raise InputError("section", "no state at crushing", "one", "look at areas and strengths")
    coarse = np.concatenate([[-last * 1e-3, 0.0], last * np.geomspace(1e-4, 0.999, 90)])
    found = fibre_section.moment_curvature(section, coarse, axial_force=axial_force)
    drop = int(np.argmax(np.diff(found.moment) < 0)) if np.any(np.diff(found.moment) < 0) else 0
    furthest = np.max(found.bar_stress, axis=1)
    limp = np.diff(furthest) < 0.3 * np.nanmax(np.diff(furthest)[1:])
    bent = int(np.argmax(limp & (coarse[1:] > coarse[drop + 2]))) if drop + 2 < coarse.size else 0
    fine = [coarse]
    for place in {drop, bent} - {0}:
        fine.append(coarse[place] * np.linspace(0.85, 1.15, 31))
    return np.unique(np.concatenate(fine))


def _linear(section: FibreSection, at: Mapping[str, FloatArray], moduli: FloatArray) -> FloatArray:
    """Uncracked and cracked planes free and per moment, the moment at first cracking, and more."""
    modulus = float(at["concrete_modulus"])
    whole = replace(
        section,
        concrete_law=lambda e: modulus * e,
        steel_law=lambda e: moduli * e,
        crushing_strain=np.inf,
    )
    open_below = replace(
        whole,
        concrete_law=lambda e: laws.elastic_compression_stress(e, modulus),
        free_strain=0.0,
    )
    # Both forces are straight in the plane: three planes tell all, shrinkage included.
    force, moment = whole.forces(np.array([0.0, _PROBE, 0.0]), np.array([0.0, 0.0, _PROBE]))
    stiffness = np.array([np.diff(force[[0, 1]]), np.diff(force[[0, 2]])]).T / _PROBE
    stiffness = np.vstack([stiffness, [(moment[1:] - moment[0]) / _PROBE]])
    stays = _stays(at)
    top_rest, bend_rest = np.linalg.solve(stiffness, [-force[0], -moment[0]])
    top_free, bend_free = np.linalg.solve(stiffness, [stays - force[0], -moment[0]])
    top_per, bend_per = np.linalg.solve(stiffness, [0.0, 1.0])
    top_pressed, bend_pressed = np.linalg.solve(stiffness, [1.0, 0.0])
    one = fibre_section.moment_curvature(open_below, [_PROBE])
    low = section.concrete.height
    # Tension without load comes from shrinkage that the bars hold back.
    restrained = top_free + bend_free * low - section.free_strain
    limit = float(at["concrete_tensile_strength"]) / modulus - restrained
    cracking = limit / (top_per + bend_per * low)
    per = 1 / float(one.moment[0])
    numbers = [top_free, top_per, bend_free, bend_per]
    # Under an axial force the cracked section isn't linear in the moment: no such line is told.
    shift = np.nan if stays else 0.0
    numbers += [shift, float(one.top_strain[0]) * per, shift, _PROBE * per, cracking]
    return np.array([*numbers, top_rest, bend_rest, top_pressed, bend_pressed, limit])
