"""How a member's section answers a moment by three models, with the doubt of every measure of it.

Worked out once for a member: strains of its gauges are read off it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from gaugewright.calc import concrete as laws
from gaugewright.calc import fibre_section
from gaugewright.calc.fibre_section import FibreSection
from gaugewright.calc.section import propagated
from gaugewright.calc.uncertainty import Uncertain, combination
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.services.book import Book
from gaugewright.services.members import WholeMember, fibre_section_of

__all__ = ["Elastic", "Response", "plane_at", "response_of", "yield_moment"]

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


def response_of(book: Book, member: WholeMember) -> Response:
    """Response of a member's section, worked out once for a book."""
    return book.once(f"response {member.entry.uid}", lambda _: _worked_out(member))


def plane_at(response: Response, moment: Uncertain) -> tuple[Uncertain, Uncertain]:
    """Top strain and curvature on first loading at some moments; NaN past the last state."""
    nodes, bends = response.moment.value, response.bends
    right = np.clip(np.searchsorted(nodes, moment.value), 1, nodes.size - 1)
    share = (moment.value - nodes[right - 1]) / (nodes[right] - nodes[right - 1])
    share = np.where((moment.value > nodes[-1]) | (moment.value < nodes[0]), np.nan, share)
    width = bends[right] - bends[right - 1]
    slope = width / (nodes[right] - nodes[right - 1])
    carried = _between(response.moment, right, share)
    bend = combination(bends[right - 1] + share * width, [(moment, slope), (carried, -slope)])
    top = _between(response.top, right, share)
    turn = (response.top.value[right] - response.top.value[right - 1]) / width
    return combination(top.value, [(top, 1.0), (bend, turn)]), bend


def yield_moment(response: Response, depth: Uncertain, yield_strain: Uncertain) -> Uncertain | None:
    """Moment at which the plane at a depth first reaches a strain; None where it never does."""
    strain = response.top.value + response.bends * depth.value
    above = strain >= yield_strain.value
    place = int(np.argmax(above))
    if not above.any() or place == 0:
        return None
    share = np.asarray((yield_strain.value - strain[place - 1]) / np.diff(strain)[place - 1])
    bend = response.bends[place - 1] + share * np.diff(response.bends)[place - 1]
    top = _between(response.top, np.asarray(place), share)
    moment = _between(response.moment, np.asarray(place), share)
    # How far the curvature must go on when the strain there is too small, and what that carries:
    # by the slope below yield, for above it the moment hardly grows.
    rise = np.diff(response.moment.value)[place - 1] / np.diff(strain)[place - 1]
    if place > 1:
        rise = np.diff(response.moment.value)[place - 2] / np.diff(strain)[place - 2]
    return combination(
        moment.value,
        [(moment, 1.0), (yield_strain, rise), (top, -rise), (depth, -rise * bend)],
    )


def _between(of: Uncertain, right: npt.NDArray[np.intp], share: FloatArray) -> Uncertain:
    low, high = of[right - 1], of[right]
    return combination(
        low.value * (1 - share) + high.value * share, [(low, 1 - share), (high, share)]
    )


def _worked_out(member: WholeMember) -> Response:
    at = {name: value.value for name, value in member.values.items()}
    bends = _bends(fibre_section_of(member, at))

    def first_loading(values: Mapping[str, FloatArray]) -> FloatArray:
        found = fibre_section.moment_curvature(fibre_section_of(member, values), bends)
        return np.stack([found.moment, found.top_strain])

    def linear(values: Mapping[str, FloatArray]) -> FloatArray:
        return _linear(fibre_section_of(member, values), values, member.moduli(values))

    states, elastic = propagated(first_loading, member.values), propagated(linear, member.values)
    # Near the last state a weaker section has none any more: no doubt can be told there.
    kept = np.isfinite(states.value).all(axis=0)
    for slope in states.sensitivities.values():
        kept &= np.isfinite(np.broadcast_to(slope, states.value.shape)).all(axis=0)
    # A growing load never sees the states in which the moment has fallen.
    places = np.flatnonzero(kept)
    moment = states.value[0, places]
    highest = np.concatenate([[-np.inf], np.maximum.accumulate(moment)[:-1]])
    places = places[moment > highest]
    return Response(
        bends[places],
        states[0, places],
        states[1, places],
        Elastic(*(elastic[i] for i in range(4))),
        Elastic(*(elastic[i] for i in range(4, 8))),
        elastic[8],
    )


def _bends(section: FibreSection) -> FloatArray:
    """Curvatures to ask at: closer together where the section cracks and where bars yield."""
    last = float(fibre_section.crushing_state(section).curvature[0])
    if not np.isfinite(last):
        raise InputError("section", "no state at crushing", "one", "look at areas and strengths")
    coarse = np.concatenate([[-last * 1e-3, 0.0], last * np.geomspace(1e-4, 0.999, 90)])
    found = fibre_section.moment_curvature(section, coarse)
    drop = int(np.argmax(np.diff(found.moment) < 0)) if np.any(np.diff(found.moment) < 0) else 0
    furthest = np.max(found.bar_stress, axis=1)
    limp = np.diff(furthest) < 0.3 * np.nanmax(np.diff(furthest)[1:])
    bent = int(np.argmax(limp & (coarse[1:] > coarse[drop + 2]))) if drop + 2 < coarse.size else 0
    fine = [coarse]
    for place in {drop, bent} - {0}:
        fine.append(coarse[place] * np.linspace(0.85, 1.15, 31))
    return np.unique(np.concatenate(fine))


def _linear(section: FibreSection, at: Mapping[str, FloatArray], moduli: FloatArray) -> FloatArray:
    """Uncracked plane with and per moment, cracked per moment, and the moment at first cracking."""
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
    top_free, bend_free = np.linalg.solve(stiffness, [-force[0], -moment[0]])
    top_per, bend_per = np.linalg.solve(stiffness, [0.0, 1.0])
    one = fibre_section.moment_curvature(open_below, [_PROBE])
    low = section.concrete.height
    # Tension without load comes from shrinkage that the bars hold back.
    restrained = top_free + bend_free * low - section.free_strain
    limit = float(at["concrete_tensile_strength"]) / modulus - restrained
    cracking = limit / (top_per + bend_per * low)
    per = 1 / float(one.moment[0])
    numbers = [top_free, top_per, bend_free, bend_per]
    numbers += [0.0, float(one.top_strain[0]) * per, 0.0, _PROBE * per, cracking]
    return np.array(numbers)
