"""How a place of a member answers a load that presses along it while it bends it.

The parameter of its states is the strain of the face that the moment presses; loads, curvatures
and their doubts follow. Worked out once for a place's lever.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from gaugewright.calc.pressed_section import LoadPath, pressed_states
from gaugewright.calc.propagation import propagated
from gaugewright.calc.uncertainty import Uncertain, combination
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.services.campaign.book import Book
from gaugewright.services.members.member_statics import Statics
from gaugewright.services.members.members import WholeMember, fibre_section_of
from gaugewright.services.section.response import (
    Elastic,
    Linear,
    between,
    first_reached,
    followed,
    linear_of,
    rising,
)

__all__ = ["Pressed", "pressed_response_of"]

_STATES = 90
_ASIDE = 2e-6  # strain from the state without load to the first one on its other side [1]
_LEVER_STEP, _MOMENT_STEP = 1e-4, 1.0  # of the derivatives by lever [m] and own weight [N m]


@dataclass(frozen=True, slots=True, eq=False)
class Pressed:
    """Loads and curvatures at fixed strains of the pressed face, and the linear model beside them.

    ``uncracked`` is per load, not per moment; ``cracking_load`` is None where none cracks the
    pulled face. ``cracked`` is None where no line through the origin is the cracked section's.
    """

    tops: FloatArray
    load: Uncertain
    bend: Uncertain
    uncracked: Elastic
    at_rest: Elastic
    cracking_load: Uncertain | None
    cracked: Elastic | None = None

    def plane_at(self, load: Uncertain) -> tuple[Uncertain, Uncertain]:
        """Top strain and curvature on first loading; NaN past the last state."""
        bend, top = followed(self.tops, self.load, self.bend, load)
        return top, bend

    def yield_load(self, depth: Uncertain, yield_strain: Uncertain) -> Uncertain | None:
        """Load at which the plane at a depth first reaches a strain, pulled or pressed."""
        strain = self.tops + self.bend.value * depth.value
        found = [
            (place, sign)
            for sign in (1.0, -1.0)
            if (place := first_reached(sign * strain, yield_strain)) is not None
        ]
        if not found:
            return None
        place, sign = min(found)
        risen = np.diff(sign * strain)
        share = np.asarray((yield_strain.value - sign * strain[place - 1]) / risen[place - 1])
        before = max(place - 1, 1) - 1
        rise = np.diff(self.load.value)[before] / risen[before]
        bend = between(self.bend, np.asarray(place), share)
        load = between(self.load, np.asarray(place), share)
        return combination(
            load.value,
            [
                (load, 1.0),
                (yield_strain, rise),
                (bend, -rise * sign * depth.value),
                (depth, -rise * sign * bend.value),
            ],
        )


def pressed_response_of(book: Book, member: WholeMember, statics: Statics) -> Pressed:
    """Response of a place, its statics turned so that the load pulls the lower face.

    Raises
    ------
    InputError
        If no load can be balanced there.
    """
    side = " upside down" if statics.is_upside_down else ""
    lever, weight = abs(float(statics.lever.value)), float(statics.own_weight.value)
    name = f"response {member.entry.uid} pressed {lever:.12g} {weight:.12g}{side}"
    states, slopes, linear = book.once(name, lambda _: _worked_out(member, statics))
    turned = -1.0 if statics.is_upside_down else 1.0
    arm, own = turned * statics.lever, turned * statics.own_weight
    tops, load, bend = states
    both = [
        combination(one.value, [(one, 1.0), (arm, by_lever), (own, by_weight)])
        for one, (by_lever, by_weight) in zip((load, bend), slopes, strict=True)
    ]
    per_load = _per_load(linear, arm, own, statics.axial_share)
    height = member.values["height"]
    low = linear.uncracked
    own_strain = own * (low.top_per_moment + low.bend_per_moment * height)
    per = per_load.top_per_moment + per_load.bend_per_moment * height
    cracks = (linear.to_crack - own_strain) / per if float(per.value) > 0 else None
    return Pressed(tops, both[0], both[1], per_load, linear.at_rest, cracks)


_States = tuple[FloatArray, Uncertain, Uncertain]
_Slopes = tuple[tuple[FloatArray, FloatArray], tuple[FloatArray, FloatArray]]


def _per_load(linear: Linear, arm: Uncertain, own: Uncertain, share: float) -> Elastic:
    """Uncracked plane per load, axial force and moment together; own weight is in the free part."""
    low = linear.uncracked
    return Elastic(
        low.top_free + low.top_per_moment * own,
        low.top_per_moment * arm + share * linear.top_per_force,
        low.bend_free + low.bend_per_moment * own,
        low.bend_per_moment * arm + share * linear.bend_per_force,
    )


def _worked_out(member: WholeMember, statics: Statics) -> tuple[_States, _Slopes, Linear]:
    over = statics.is_upside_down
    lever = abs(float(statics.lever.value))
    weight = (-1.0 if over else 1.0) * float(statics.own_weight.value)
    linear = linear_of(member, upside_down=over)
    tops = _tops(member, linear, weight)
    # Where a bar lies across has no part in bending about the level axis.
    known = {n: v for n, v in member.values.items() if not n.startswith("bar_across")}

    def asked(values: Mapping[str, FloatArray], arm: float, own: float) -> FloatArray:
        path = LoadPath(statics.axial_share, arm, float(values.get("axial_force", 0.0)), own)
        section = fibre_section_of(member, {**member_numbers, **values}, upside_down=over)
        found = pressed_states(section, tops, path)
        return np.stack([found.load, found.curvature])

    member_numbers = {name: value.value for name, value in member.values.items()}
    states = propagated(lambda at: asked(at, lever, weight), known)
    ahead = asked(member_numbers, lever + _LEVER_STEP, weight)
    by_lever = (ahead - states.value) / _LEVER_STEP
    by_weight = (asked(member_numbers, lever, weight + _MOMENT_STEP) - states.value) / _MOMENT_STEP
    places = rising(states)
    places = places[np.isfinite(by_lever[0, places] * by_weight[0, places])]
    if places.size < 2:
        raise InputError(
            f"share of the load along the axis of {member.label}",
            f"{statics.axial_share:g}",
            "below 0, for a load that presses; for one that pulls while it bends, or pulls a "
            "member whose zero is compared with a reading, nothing is predicted here",
            "at a crack the bars carry the whole pull: say so under Loadings of bars",
        )
    slopes = (
        (by_lever[0, places], by_weight[0, places]),
        (by_lever[1, places], by_weight[1, places]),
    )
    return (tops[places], states[0, places], states[1, places]), slopes, linear


def _tops(member: WholeMember, linear: Linear, weight: float) -> FloatArray:
    """Strains of the pressed face from just before the state without load to crushing."""
    at = {name: value.value for name, value in member.values.items()}
    low = linear.uncracked
    rest = float(low.top_free.value + low.top_per_moment.value * weight)
    section = fibre_section_of(member, at)
    last = section.free_strain - section.crushing_strain
    way = np.linspace(0.0, 1.0, _STATES) ** 1.2
    return np.concatenate([[rest + _ASIDE], rest + (last - rest) * way])
