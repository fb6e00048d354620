"""Which strain each gauge should read under a load, before anybody looks at what it read."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from gaugewright.calc import net_area as areas
from gaugewright.calc.propagation import propagated
from gaugewright.calc.uncertainty import Uncertain, combination
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import ZeroKind
from gaugewright.services.bars.flat_equilibrium import flat_of_bar
from gaugewright.services.campaign.book import Book
from gaugewright.services.chaining.causes import uncertain_of_stated
from gaugewright.services.members.member_statics import (
    Statics,
    carried_words,
    load_places,
    moment_at,
    statics_at,
)
from gaugewright.services.members.members import GridPlace, WholeMember, grid_place, member_of
from gaugewright.services.section.pressed_response import Pressed, pressed_response_of
from gaugewright.services.section.pulled_response import pulled_response_of
from gaugewright.services.section.response import Elastic, plane_at, response_of, yield_moment

__all__ = [
    "Prediction",
    "crushing_load",
    "load_at_moment",
    "predicted_plane",
    "predicted_strain",
]

_MODELS = (
    "first loading: what an unloading leaves isn't in it",
    "cracked curves are those of a section through a crack: between cracks a bar reads less",
    "moment of the station itself: inclined cracks in shear spans raise the tension beyond it",
)


@dataclass(frozen=True, slots=True, eq=False)
class Prediction:
    """Mechanical strain at a grid, its flat included, against the cell's load [N; 1].

    ``uncracked`` and ``cracked`` are elastic, ``first_loading`` follows the measured laws from
    the uncracked state to crushing and is NaN beyond. All count from ``since``: a zero before
    the test leaves own weight and shrinkage out, an earlier one has them in. The loads at
    cracking and at yield of this grid are None where they aren't reached before the member's
    most loaded place crushes, at ``crushing_load``. The doubt of a curve leaves out that the
    jump at cracking may come at another load: that is the doubt of ``cracking_load``.
    """

    gauge: Entry[Gauge]
    member: WholeMember
    place: GridPlace
    load: FloatArray
    moment: Uncertain
    uncracked: Uncertain
    cracked: Uncertain
    first_loading: Uncertain
    cracking_load: Uncertain | None
    yield_load: Uncertain | None
    crushing_load: float
    since: ZeroKind
    assumed: tuple[str, ...]


def predicted_strain(
    book: Book,
    gauge: Entry[Gauge],
    load: FloatArray,
    *,
    since: ZeroKind = ZeroKind.BEFORE_TEST,
) -> Prediction:
    """Predicted strain of a gauge on a bar of a described member.

    Parameters
    ----------
    load : array, shape (n,)
        As the load cell has it; none so low that the face it pulls is compressed [N].
    since : ZeroKind
        The zero that the measured strain it is compared with counts from.

    Raises
    ------
    InputError
        If the gauge isn't along its bar, no member's record names its bar, the record lacks
        something, the place lies in a clamp, or loads bend the section the other way.
    """
    if abs(gauge.record.angle_to_axis) > 0.01:
        raise InputError(
            f"angle of {gauge.record.label}", gauge.record.angle_to_axis, "0, along the bar"
        )
    member = member_of(book, book.bar_of(gauge))
    place = grid_place(book, member, gauge)
    statics = statics_at(member, place.distance)
    at = np.atleast_1d(np.asarray(load, dtype=np.float64))
    depth = place.depth
    if statics.is_upside_down:
        depth = member.values["height"] - depth
    way = _pressed if statics.axial_share else _bent
    found = way(_Asked(book, gauge, member, statics, depth, at))
    last, flat = crushing_load(book, member), _Flat(book, member, gauge)
    offset = Uncertain.exact(0.0)
    if since is not ZeroKind.BEFORE_POUR and since is not ZeroKind.BARE_BAR:
        own = statics.own_weight * (-1.0 if statics.is_upside_down else 1.0)
        offset = _elastic(found.at_rest, own, depth)
    first = _at_depth(found.plane, depth)
    reached = flat.yield_strain()
    return Prediction(
        gauge,
        member,
        place,
        at,
        moment_at(statics, Uncertain.exact(at)),
        (found.uncracked - offset) / flat.share,
        (found.cracked - offset) / flat.share,
        flat.strain(first) - flat.strain(offset),
        _below(last, found.cracking_load),
        _below(last, None if reached is None else found.yield_load(reached)),
        last,
        since,
        (*carried_words(member.entry.record), *_MODELS, *member.assumed),
    )


def _at_depth(plane: tuple[Uncertain, Uncertain], depth: Uncertain) -> Uncertain:
    top, bend = plane
    return combination(
        top.value + bend.value * depth.value,
        [(top, 1.0), (bend, depth.value), (depth, bend.value)],
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Asked:
    """What is asked of a section; ``depth`` counts from the face that the load presses."""

    book: Book
    gauge: Entry[Gauge]
    member: WholeMember
    statics: Statics
    depth: Uncertain
    load: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class _Found:
    """Plane on first loading, elastic strains at the grid, and what loads reach."""

    plane: tuple[Uncertain, Uncertain]
    uncracked: Uncertain
    cracked: Uncertain
    at_rest: Elastic
    cracking_load: Uncertain | None
    yield_load: Callable[[Uncertain], Uncertain | None]


def _bent(asked: _Asked) -> _Found:
    """Bending, with an axial force that stays or none."""
    statics, over = asked.statics, asked.statics.is_upside_down
    response = response_of(asked.book, asked.member, upside_down=over)
    moment = moment_at(statics, Uncertain.exact(asked.load)) * (-1.0 if over else 1.0)
    if np.any(moment.value < response.moment.value[0]):
        raise InputError(
            f"moment at {asked.gauge.record.label}",
            float(np.min(moment.value)),
            "with the lower face pulled" if not over else "with the upper face pulled",
            "this prediction is for bending to one side only",
        )

    def yield_load(strain: Uncertain) -> Uncertain | None:
        found = yield_moment(response, asked.depth, strain)
        return None if found is None else load_at_moment(statics, found)

    return _Found(
        plane_at(response, moment),
        _elastic(response.uncracked, moment, asked.depth),
        _elastic(response.cracked, moment, asked.depth),
        response.at_rest,
        load_at_moment(statics, response.cracking_moment),
        yield_load,
    )


def _pressed(asked: _Asked) -> _Found:
    """Axial force that grows with the load: pulled centrally, or pressed and perhaps bent."""
    response = _along(asked.book, asked.member, asked.statics)
    load = Uncertain.exact(asked.load)
    # Pressed and bent, the axial force grows as well: no line is the cracked section's.
    cracked = Uncertain.exact(np.full(asked.load.shape, np.nan))
    if response.cracked is not None:
        cracked = _elastic(response.cracked, load, asked.depth)
    return _Found(
        response.plane_at(load),
        _elastic(response.uncracked, load, asked.depth),
        cracked,
        response.at_rest,
        response.cracking_load,
        lambda strain: response.yield_load(asked.depth, strain),
    )


def _along(book: Book, member: WholeMember, statics: Statics) -> Pressed:
    """States of a place whose axial force grows with the load: pulled or pressed."""
    way = pulled_response_of if statics.axial_share > 0 else pressed_response_of
    return way(book, member, statics)


def load_at_moment(statics: Statics, moment: Uncertain) -> Uncertain | None:
    """Load of the cell that with own weight pulls the face it pulls by a moment; None: none does.

    ``moment`` is positive whichever face that is.
    """
    sign = -1.0 if statics.is_upside_down else 1.0
    if not sign * statics.lever.value > 0:
        return None
    return (moment - statics.own_weight * sign) / (statics.lever * sign)


def crushing_load(book: Book, member: WholeMember) -> float:
    """Load at which the most loaded place has its last state [N]; infinite where none is."""
    loads: list[float] = []
    for place in load_places(member):
        statics = statics_at(member, Uncertain.exact(place))
        if statics.axial_share:
            loads.append(float(_along(book, member, statics).load.value[-1]))
            continue
        response = response_of(book, member, upside_down=statics.is_upside_down)
        found = load_at_moment(statics, response.moment[-1])
        loads += [] if found is None else [float(found.value)]
    return min(loads, default=np.inf)


def predicted_plane(
    book: Book, member: WholeMember, distance: float, load: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Total strain of the upper face and curvature at a place on first loading; NaN past the end.

    Own weight, shrinkage and an axial force that stays are in it.

    Parameters
    ----------
    load : array, shape (n,)
        As the load cell has it [N].
    """
    statics = statics_at(member, Uncertain.exact(distance))
    over = statics.is_upside_down
    at = Uncertain.exact(np.asarray(load, dtype=np.float64))
    if statics.axial_share:
        top, bend = _along(book, member, statics).plane_at(at)
    else:
        moment = moment_at(statics, at) * (-1.0 if over else 1.0)
        top, bend = plane_at(response_of(book, member, upside_down=over), moment)
    if not over:
        return top.value, bend.value
    # As seen from the face that really is the upper one.
    return top.value + bend.value * float(member.values["height"].value), -bend.value


def _below(last: float, load: Uncertain | None) -> Uncertain | None:
    return None if load is None or load.value > last else load


class _Flat:
    """What a ground flat makes of the strain of its bar, by equilibrium of forces."""

    def __init__(self, book: Book, member: WholeMember, gauge: Entry[Gauge]) -> None:
        bar, flat = book.bar_of(gauge), book.flat_of(gauge)
        number = member.index_of(bar.uid)
        self.law = member.law_of_bar(number)
        self.share = Uncertain.exact(1.0)
        if flat is None or bar.record.diameter is None:
            return
        area = member.values[f"bar_area_{number}"]
        known = {
            "area": area,
            "diameter": uncertain_of_stated(
                f"diameter@{bar.uid}", bar.record.diameter, "diameter of the bar"
            ),
            "width": uncertain_of_stated(
                f"flat_width@{flat.uid}", flat.record.width, "width of the flat"
            ),
        }
        count = 2 if flat.record.opposite else 1
        self.share = propagated(
            lambda at: (
                areas.net_area(at["area"], at["diameter"], at["width"], flats=count).value
                / at["area"]
            ),
            known,
        )

    def strain(self, bar_strain: Uncertain) -> Uncertain:
        """Strain at the flat; NaN where the flat is on a plateau."""
        if self.share.value == 1.0:
            return bar_strain
        return flat_of_bar(self.law, bar_strain, self.share)

    def yield_strain(self) -> Uncertain | None:
        """Strain of the bar at which the stress at its flat is the yield strength; None: never."""
        if not np.isfinite(self.law.yield_strain):
            return None
        modulus, strength = self.law.numbers[:2]
        return strength * self.share / modulus


def _elastic(plane: Elastic, moment: Uncertain, depth: Uncertain) -> Uncertain:
    y = depth.value
    bend = plane.bend_free.value + plane.bend_per_moment.value * moment.value
    slope = plane.top_per_moment.value + plane.bend_per_moment.value * y
    value = plane.top_free.value + plane.bend_free.value * y + slope * moment.value
    return combination(
        value,
        [
            (plane.top_free, 1.0),
            (plane.bend_free, y),
            (plane.top_per_moment, moment.value),
            (plane.bend_per_moment, y * moment.value),
            (depth, bend),
            (moment, slope),
        ],
    )
