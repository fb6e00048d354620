"""Which strain each gauge should read under a load, before anybody looks at what it read."""

from dataclasses import dataclass

import numpy as np

from gaugewright.calc import net_area as areas
from gaugewright.calc.section import propagated
from gaugewright.calc.uncertainty import Uncertain, combination
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import ZeroKind
from gaugewright.services.book import Book
from gaugewright.services.causes import uncertain_of_stated
from gaugewright.services.flat_equilibrium import flat_of_bar
from gaugewright.services.members import (
    GridPlace,
    Statics,
    WholeMember,
    grid_place,
    member_of,
    moment_at,
    statics_at,
)
from gaugewright.services.section_response import (
    Elastic,
    Response,
    plane_at,
    response_of,
    yield_moment,
)

__all__ = ["Prediction", "crushing_load", "load_at_moment", "predicted_strain"]

_MODELS = (
    "plane sections, bars without slip, no axial force, statics of a member on two supports",
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
        As the load cell has it; none so low that the lower face is compressed [N].
    since : ZeroKind
        The zero that the measured strain it is compared with counts from.

    Raises
    ------
    InputError
        If the gauge isn't along its bar, no member's record names its bar, the record lacks
        something, or loads bend the section the other way.
    """
    if abs(gauge.record.angle_to_axis) > 0.01:
        raise InputError(
            f"angle of {gauge.record.label}", gauge.record.angle_to_axis, "0, along the bar"
        )
    member = member_of(book, book.bar_of(gauge))
    place = grid_place(book, member, gauge)
    statics, response = statics_at(member, place.distance), response_of(book, member)
    moment = moment_at(statics, Uncertain.exact(np.atleast_1d(np.asarray(load, dtype=float))))
    if np.any(moment.value < response.moment.value[0]):
        raise InputError(
            f"moment at {gauge.record.label}",
            float(np.min(moment.value)),
            "with the lower face pulled",
            "this prediction is for bending downwards",
        )
    flat, last = _Flat(book, member, gauge), crushing_load(member, response)
    offset = Uncertain.exact(0.0)
    if since is not ZeroKind.BEFORE_POUR and since is not ZeroKind.BARE_BAR:
        offset = _elastic(response.uncracked, statics.own_weight, place.depth)
    top, bend = plane_at(response, moment)
    first = combination(
        top.value + bend.value * place.depth.value,
        [(top, 1.0), (bend, place.depth.value), (place.depth, bend.value)],
    )
    return Prediction(
        gauge,
        member,
        place,
        np.atleast_1d(np.asarray(load, dtype=np.float64)),
        moment,
        (_elastic(response.uncracked, moment, place.depth) - offset) / flat.share,
        (_elastic(response.cracked, moment, place.depth) - offset) / flat.share,
        flat.strain(first) - flat.strain(offset),
        _below(last, load_at_moment(statics, response.cracking_moment)),
        _below(last, _yield_load(statics, response, place, flat)),
        last,
        since,
        (*_MODELS, *member.assumed),
    )


def load_at_moment(statics: Statics, moment: Uncertain) -> Uncertain | None:
    """Load of the cell that makes up a moment with own weight; None where no load does."""
    if not statics.lever.value > 0:
        return None
    return (moment - statics.own_weight) / statics.lever


def crushing_load(member: WholeMember, response: Response) -> float:
    """Load at which the most loaded place has its last state [N]; infinite where none is."""
    loads = [
        load_at_moment(
            statics_at(member, Uncertain.exact(point.distance.value)), response.moment[-1]
        )
        for point in member.entry.record.load_points
    ]
    return min((float(load.value) for load in loads if load is not None), default=np.inf)


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


def _yield_load(
    statics: Statics, response: Response, place: GridPlace, flat: _Flat
) -> Uncertain | None:
    reached = flat.yield_strain()
    if reached is None:
        return None
    moment = yield_moment(response, place.depth, reached)
    return None if moment is None else load_at_moment(statics, moment)
