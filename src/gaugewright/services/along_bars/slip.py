"""Slip of a bar, its local bond law, and means over cracks: what one profile allows to be said."""

import math
from dataclasses import dataclass

import numpy as np

from gaugewright.calc import bond
from gaugewright.calc.bond import BondLaw
from gaugewright.calc.evaluation import coverage_factor
from gaugewright.calc.smooth_field import SmoothField, smooth_field
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import Faults, InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import ZeroKind
from gaugewright.records.specimen import Bar, Material
from gaugewright.services.along_bars.profiles import PLACES, Along, BarProfile
from gaugewright.services.along_bars.stations import StationValue, bar_stations, field_points
from gaugewright.services.bars.together import quarter_circuits
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.chaining.causes import uncertain_of_stated
from gaugewright.services.loading.moments import Moment
from gaugewright.services.loading.yields import stress_free_zero
from gaugewright.services.section.predictions import predicted_strain
from gaugewright.services.steel.steel_laws import law_of
from gaugewright.services.strain.strains import Desk
from gaugewright.services.under_load.loads import load_uncertain

__all__ = [
    "Averages",
    "KnownSlip",
    "LawPoint",
    "PredictedAt",
    "averages",
    "beside_law",
    "law_named",
    "predicted_along",
    "slip_along",
]

CONDITIONS = {"good": bond.bond_law_fib2010_good, "other": bond.bond_law_fib2010_other}


@dataclass(frozen=True, slots=True)
class KnownSlip:
    """Where slip is known [m], what it is there and its expanded uncertainty [m], and by what."""

    place: float
    slip: float
    plus_minus: float

    def uncertain(self) -> Uncertain:
        """As calculations take it: the uncertainty is for 95 %, as people state it."""
        if not (math.isfinite(self.slip) and math.isfinite(self.plus_minus)):
            raise InputError("slip", self.slip, "a number with its uncertainty")
        if self.plus_minus < 0:
            raise InputError("uncertainty of slip", self.plus_minus, "0 or more")
        doubt = InputQuantity(
            "slip where it is known",
            self.plus_minus / float(coverage_factor(math.inf, COVERAGE)),
            basis="stated",
            meaning="slip at the place where it is known",
        )
        return Uncertain.from_input(self.slip, doubt)


@dataclass(frozen=True, slots=True)
class LawPoint:
    """Bond stress measured at a place beside a local law's at the slip there [m, Pa].

    ``law_low`` and ``law_high`` are the law at the ends of slip's interval.
    """

    place: float
    slip: float
    slip_plus_minus: float
    measured: float
    measured_plus_minus: float
    law: float
    law_low: float
    law_high: float


@dataclass(frozen=True, slots=True)
class Averages:
    """Mean strain of a bar between two places, counted from no stress.

    ``concrete`` is the mean force that cracked concrete still carries, only for a tie whose
    whole load this bar takes through the cracks; ``initial`` says where the initial strain is.
    """

    first: float
    last: float
    strain: Uncertain
    initial: str
    highest: Uncertain
    highest_at: str
    concrete: Uncertain | None


@dataclass(frozen=True, slots=True)
class PredictedAt:
    """Predicted mechanical strain of a station's gauges at the moment's load, or why there is none.

    ``uncracked`` and ``cracked`` are both given: which one holds depends on the nearest crack.
    """

    label: str
    uncracked: Uncertain | None
    cracked: Uncertain | None
    note: str


def slip_along(profile: BarProfile, known: KnownSlip | None) -> Along:
    """Slip along the bar from total strains; without a known slip, against the first station.

    Concrete's own strain is taken as nothing, which overstates slip where concrete is pulled.

    Raises
    ------
    InputError
        If there is no field of total strain, or slip is known outside the stations.
    """
    field = _field(profile)
    places = np.linspace(field.positions[0], field.positions[-1], PLACES)
    if known is None:
        start, there = float(field.positions[0]), Uncertain.exact(0.0)
    else:
        start, there = known.place, known.uncertain()
    return Along(places, bond.slip_from(field, places, start=start, slip_there=there))


def law_named(conditions: str, mean_strength: float, clear_rib_spacing: float) -> BondLaw:
    """Local law of fib Model Code 2010 for "good" or "other" bond conditions.

    Raises
    ------
    InputError
        If the conditions aren't known or a number is impossible.
    """
    if conditions not in CONDITIONS:
        raise InputError("bond conditions", conditions, "good or other")
    return CONDITIONS[conditions](mean_strength, clear_rib_spacing)


def beside_law(profile: BarProfile, known: KnownSlip | None, law: BondLaw) -> tuple[LawPoint, ...]:
    """Measured bond stress midway between stations, beside the law at the slip there.

    Raises
    ------
    InputError
        If slip is known nowhere, or the profile has no bond stress.
    """
    if known is None:
        raise InputError(
            "slip", None, "known at one place", "give the place, the slip there and its doubt"
        )
    field = _field(profile)
    if not profile.steps:
        raise InputError("bond stress", "none", "had between two stations or more")
    found = []
    for step in profile.steps:
        place = (step.first + step.last) / 2
        if not field.positions[0] <= place <= field.positions[-1]:
            continue
        slip = bond.slip_from(field, [place], start=known.place, slip_there=known.uncertain())
        value, doubt = slip.value.item(), slip.expanded(COVERAGE).item()
        ends = bond.local_bond_stress([value, value - doubt, value + doubt], law).tolist()
        law_at = bond.local_bond_stress(np.linspace(value - doubt, value + doubt, 101), law)
        found.append(
            LawPoint(
                place,
                value,
                doubt,
                step.stress.value.item(),
                step.stress.expanded(COVERAGE).item(),
                ends[0],
                float(law_at.min()),
                float(law_at.max()),
            )
        )
    return tuple(found)


def averages(
    desk: Desk,
    bar: Entry[Bar],
    moment: Moment,
    *,
    first: float | None = None,
    last: float | None = None,
    crack_spacing: float | None = None,
    is_tie: bool = False,
) -> Averages:
    """Mean strain between two places since the bar was free of stress, and what it leaves concrete.

    Initial strain comes in by counting from the earliest zero, which every station must have:
    a mean without it would look like tension stiffening.

    Raises
    ------
    InputError
        If a station has only a zero before the test, stations are too few, or the length is
        shorter than two crack spacings; for a tie, if area or load are missing or it yields.
    """
    zero = _stress_free(desk, bar)
    stations = bar_stations(desk, bar, moment, zero)
    field = smooth_field(
        field_points(stations, "strain"), f"mechanical strain along {bar.uid} at {moment.key}"
    )
    ends = field.positions
    begin = float(ends[0]) if first is None else first
    end = float(ends[-1]) if last is None else last
    mean = bond.mean_strain(
        field, begin, end, initial_strain=Uncertain.exact(0.0), crack_spacing=crack_spacing
    )
    inside = [
        station
        for station in stations
        if station.strain is not None and begin <= station.distance.value <= end
    ]
    if not inside:
        raise InputError("stations between the two places", "none", "one with a strain or more")
    highest = max(inside, key=lambda station: float(_value(station.strain)))
    concrete = None
    if is_tie:
        _still_elastic(desk, bar, _known(highest.strain), highest.label)
        concrete = _concrete(desk, bar, moment, mean)
    words = f"counted from {zero.value}, so initial strain is in it"
    return Averages(begin, end, mean, words, _known(highest.strain), highest.label, concrete)


def predicted_along(desk: Desk, profile: BarProfile) -> tuple[PredictedAt, ...]:
    """Predicted strain of every station at the moment's load; none where no member is described."""
    load = np.asarray([max(profile.moment.load, 0.0)])
    found = []
    for station in profile.stations:
        try:
            parts = [
                predicted_strain(desk.book, gauge, load, since=profile.zero)
                for gauge in _speaking(desk, station)
            ]
        except (InputError, Faults) as problem:
            found.append(PredictedAt(station.label, None, None, str(problem)))
            continue
        uncracked, cracked = parts[0].uncracked, parts[0].cracked
        for part in parts[1:]:
            uncracked, cracked = uncracked + part.uncracked, cracked + part.cracked
        count = len(parts)
        found.append(PredictedAt(station.label, uncracked / count, cracked / count, ""))
    return tuple(found)


def _speaking(desk: Desk, station: StationValue) -> tuple[Entry[Gauge], ...]:
    """Gauges that a station's strain comes from; all of them where it has none."""
    circuits = [desk.book.entry(uid, BridgeCircuit) for uid in station.circuits]
    return tuple(desk.book.gauges_of(circuit)[0] for circuit in circuits) or station.gauges


def _field(profile: BarProfile) -> SmoothField:
    if profile.strain is None:
        raise InputError("total strain along the bar", None, "known at four stations or more")
    return profile.strain


def _stress_free(desk: Desk, bar: Entry[Bar]) -> ZeroKind:
    kinds: dict[ZeroKind, list[str]] = {}
    for circuit, gauge in quarter_circuits(desk):
        if desk.book.bar_of(gauge).uid == bar.uid:
            kinds.setdefault(stress_free_zero(desk, circuit), []).append(gauge.record.label)
    late = kinds.pop(ZeroKind.BEFORE_TEST, [])
    if late or len(kinds) != 1:
        at = f" at {', '.join(late)}" if late else ""
        raise InputError(
            f"zero without stress of bar {bar.record.label}{at}",
            None if late else "not one and the same",
            "one kind, before the pour or of the bare bar, at every gauge",
            "without initial strain a mean looks like tension stiffening",
        )
    return next(iter(kinds))


def _still_elastic(desk: Desk, bar: Entry[Bar], highest: Uncertain, label: str) -> None:
    """A bar that yields at a crack carries less than E A times its mean strain."""
    limit = law_of(desk.book.entry(bar.record.material, Material)).yield_strain
    if highest.value.item() > limit:
        raise InputError(
            f"strain at {label}",
            highest.value.item(),
            f"below yield, {limit:.6f}",
            "take an earlier moment: beyond yield N - E A times the mean isn't the concrete's",
        )


def _concrete(desk: Desk, bar: Entry[Bar], moment: Moment, mean: Uncertain) -> Uncertain:
    record = bar.record
    if record.area is None:
        raise InputError(f"area of {record.label}", None, "recorded", "weigh a piece of the bar")
    if not math.isfinite(moment.load):
        raise InputError("load", None, "recorded at the moment")
    material = desk.book.entry(record.material, Material)
    return bond.concrete_share(
        load_uncertain(desk, np.asarray(moment.load)),
        mean,
        uncertain_of_stated(
            f"modulus@{material.uid}", material.record.elastic_modulus, "modulus of the steel"
        ),
        uncertain_of_stated(f"area@{bar.uid}", record.area, "area of the bar"),
    )


def _known(value: Uncertain | None) -> Uncertain:
    if value is None:
        raise InputError("strain", None, "known at the station")
    return value


def _value(value: Uncertain | None) -> FloatArray:
    return _known(value).value
