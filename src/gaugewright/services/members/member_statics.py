"""Moment and axial force at a place of a cast member, by how it is held and where load comes in."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from gaugewright.calc import simple_beam
from gaugewright.calc.held_beam import BeamSupport, SpreadLoad, held_beam_moment
from gaugewright.calc.propagation import propagated
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records.member import Held, Member
from gaugewright.records.stated import Stated
from gaugewright.services.chaining.causes import uncertain_of_stated
from gaugewright.services.members.members import WholeMember

__all__ = [
    "Statics",
    "beam_supports",
    "carried_words",
    "load_places",
    "moment_at",
    "statics_at",
    "within_clamps",
]

Numbers = Mapping[str, FloatArray]

_CLAMPED = {
    Held.TWO_SUPPORTS: (False, False),
    Held.ONE_END: (True,),
    Held.BOTH_ENDS: (True, True),
    Held.PROPPED: (True, False),
}


@dataclass(frozen=True, slots=True, eq=False)
class Statics:
    """What acts on a section at a place.

    Moment: ``lever`` [m] times the cell's load, that of an eccentric force along the axis included,
    and ``own_weight`` [N m]. Axial force, tension positive: ``axial_share`` times the load [1] and
    ``axial_force``, which stays [N].
    """

    lever: Uncertain
    own_weight: Uncertain
    axial_share: float
    axial_force: Uncertain

    @property
    def is_upside_down(self) -> bool:
        """Whether the load pulls the upper face."""
        lever = float(self.lever.value)
        return lever < 0 or (lever == 0 and float(self.own_weight.value) < 0)


def beam_supports(held: Held, places: list[float]) -> list[BeamSupport]:
    """Supports of a beam by how it is held; the second place of a free end holds nothing."""
    clamped = _CLAMPED.get(held, (False,) * len(places))
    return [BeamSupport(at, clamp) for at, clamp in zip(places, clamped, strict=False)]


def within_clamps(held: Held, places: list[float], distance: FloatArray) -> FloatArray:
    """A distance moved by its doubt never leaves the length between clamped ends."""
    clamped = _CLAMPED.get(held, ())
    low = places[0] if clamped and clamped[0] else -np.inf
    high = places[-1] if len(clamped) > 1 and clamped[1] else np.inf
    return np.clip(distance, low, high)


def statics_at(member: WholeMember, distance: Uncertain) -> Statics:
    """Moment and axial force at a place, loads and own weight in doubt as recorded.

    Raises
    ------
    InputError
        If the place lies beyond a clamped end, where nothing is predicted.
    """
    record = member.entry.record
    uid = member.entry.uid
    _check_place(record, float(distance.value))
    known = {"distance": distance}
    for number, support in enumerate(record.supports):
        known[f"support_{number}"] = uncertain_of_stated(
            f"support_{number}@{uid}", support, "place of a support"
        )
    for number, point in enumerate(record.load_points):
        known[f"point_{number}"] = uncertain_of_stated(
            f"load_point_{number}@{uid}", point.distance, "place of a load point"
        )
    lever = Uncertain.exact(0.0)
    if record.load_points:
        lever = propagated(_lever(record), known)
    if record.eccentricity is not None:
        beside = uncertain_of_stated(
            f"eccentricity@{uid}", record.eccentricity, "eccentricity of the axial load"
        )
        lever = lever + record.axial_share * beside
    weight = Uncertain.exact(0.0)
    if record.load_per_length is not None:
        spread = uncertain_of_stated(
            f"load_per_length@{uid}", record.load_per_length, "own weight of the member"
        )
        weight = propagated(_spread(record), known) * spread
    return Statics(lever, weight, record.axial_share, _held_force(uid, record.axial_force))


def _held_force(uid: str, stated: Stated | None) -> Uncertain:
    if stated is None:
        return Uncertain.exact(0.0)
    return uncertain_of_stated(f"axial_force@{uid}", stated, "axial force that stays")


def _check_place(record: Member, distance: float) -> None:
    places = [one.value for one in record.supports]
    if float(within_clamps(record.held, places, np.asarray(distance))) != distance:
        raise InputError(
            f"place in {record.label}",
            f"{distance:.4g} m",
            f"between its clamped ends, {places[0]:.4g} to {places[-1]:.4g} m from the datum",
            "nothing is predicted inside a clamp or a foundation",
        )


def _places(at: Numbers, count: int) -> list[float]:
    return [float(at[f"support_{number}"]) for number in range(count)]


def _lever(record: Member) -> Callable[[Numbers], FloatArray]:
    shares = [point.share for point in record.load_points]
    count = len(record.supports)

    def lever(at: Numbers) -> FloatArray:
        points = [float(at[f"point_{n}"]) for n in range(len(shares))]
        places = _places(at, count)
        if record.held is Held.TWO_SUPPORTS:
            ends = (places[0], places[1])
            return simple_beam.point_loads_moment(1.0, ends, points, shares, at["distance"])
        inside = within_clamps(record.held, places, at["distance"])
        return held_beam_moment(beam_supports(record.held, places), points, shares, inside)

    return lever


def _spread(record: Member) -> Callable[[Numbers], FloatArray]:
    """Moment of a load of one per length from the first to the last place."""
    count = len(record.supports)

    def arm(at: Numbers) -> FloatArray:
        places = _places(at, count)
        first, last = places[0], places[-1]
        if record.held is Held.TWO_SUPPORTS:
            return simple_beam.spread_load_moment(1.0, last - first, at["distance"] - first)
        inside = within_clamps(record.held, places, at["distance"])
        return held_beam_moment(
            beam_supports(record.held, places), [], [], inside, spread=SpreadLoad(first, last, 1.0)
        )

    return arm


def load_places(member: WholeMember) -> tuple[float, ...]:
    """Places at which the moment may be greatest: under loads and over what holds it [m]."""
    record = member.entry.record
    places = {point.distance.value for point in record.load_points}
    if record.held is not Held.TWO_SUPPORTS:
        held = record.supports[:1] if record.held is Held.ONE_END else record.supports
        places |= {one.value for one in held}
    if record.held is Held.AT_ITS_ENDS:
        places = {record.bars[0].begins.value}  # every place of it is loaded alike
    if not places:
        places = {(record.supports[0].value + record.supports[-1].value) / 2}
    return tuple(sorted(places))


def moment_at(statics: Statics, load: Uncertain, *, weight: bool = True) -> Uncertain:
    """Moment under loads of the cell [N m]; without own weight, the change since it was zeroed."""
    moment = load * statics.lever
    return moment + statics.own_weight if weight else moment


def carried_words(record: Member) -> tuple[str, ...]:
    """What statics of a member leave out, in words."""
    pressed = bool(record.axial_share) or record.axial_force is not None
    axial = "with its axial force" if pressed else "no axial force"
    told = [f"plane sections, bars without slip, {axial}, statics of a member {record.held.value}"]
    if record.held not in (Held.TWO_SUPPORTS, Held.ONE_END, Held.AT_ITS_ENDS):
        told.append("moments of one stiffness along the member: cracking and yield move them")
    if pressed:
        told.append("small deflections: what the axial force makes of the deflection is left out")
    if record.axial_force is not None:
        told.append("a zero before the test is one before the axial force that stays")
    return tuple(told)
