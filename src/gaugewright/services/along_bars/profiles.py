"""What happens along one bar at one moment: force, bond stress, slip, means over cracks."""

import math
from dataclasses import dataclass

import numpy as np

from gaugewright.calc import bond
from gaugewright.calc.smooth_field import SmoothField, smooth_field
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import Gauge, Protection
from gaugewright.records.proof import ZeroKind
from gaugewright.records.specimen import Bar
from gaugewright.services.along_bars.stations import StationValue, bar_stations, field_points
from gaugewright.services.bars.forces import distance_of
from gaugewright.services.bars.together import quarter_circuits
from gaugewright.services.chaining.causes import uncertain_of_stated
from gaugewright.services.loading.moments import Moment
from gaugewright.services.loading.yields import stress_free_zero
from gaugewright.services.strain.strains import Desk

__all__ = [
    "PLACES",
    "Along",
    "BarProfile",
    "bar_profile",
    "bars_with_rows",
    "bond_steps",
    "perimeter_of",
    "zeros_of_bar",
]

PLACES = 121  # along a bar, from the first station to the last, for curves
_FEWEST = 4  # stations that a roughness can be found from


@dataclass(frozen=True, slots=True)
class Along:
    """Something at many places along the bar [m], with its doubt."""

    places: FloatArray
    value: Uncertain


@dataclass(frozen=True, slots=True)
class BarProfile:
    """One bar at one moment.

    ``steps`` are mean bond stresses between neighbours, ``bond`` the bond stress from the whole
    field of force, had as ``estimate`` says in words; ``strain`` is the field of total strain that
    slip and means come from. What can't be had is None, with its reason in ``missing``; ``told``
    is what a reader must know.
    """

    bar: Entry[Bar]
    moment: Moment
    zero: ZeroKind
    stations: tuple[StationValue, ...]
    steps: tuple[bond.BondStep, ...]
    force: Along | None
    bond: Along | None
    strain: SmoothField | None
    estimate: str
    missing: tuple[str, ...]
    told: tuple[str, ...]

    @property
    def lost(self) -> tuple[StationValue, ...]:
        """Stations without a strain."""
        return tuple(station for station in self.stations if station.strain is None)


def bars_with_rows(desk: Desk) -> tuple[Entry[Bar], ...]:
    """Bars with gauges at two places or more: those that a profile says something about."""
    places: dict[str, set[float]] = {}
    for _, gauge in quarter_circuits(desk):
        station = desk.book.station_of(gauge).record
        places.setdefault(station.bar, set()).add(station.distance_planned)
    return tuple(bar for bar in desk.book.of(Bar) if len(places.get(bar.uid, ())) > 1)


def zeros_of_bar(desk: Desk, bar: Entry[Bar]) -> tuple[ZeroKind, ...]:
    """Zeros that strain of a bar can be counted from: before the test, and the stress-free one."""
    kinds = [ZeroKind.BEFORE_TEST]
    for circuit, gauge in quarter_circuits(desk):
        if desk.book.bar_of(gauge).uid == bar.uid:
            kinds.append(stress_free_zero(desk, circuit))
    return tuple(dict.fromkeys(kinds))


def perimeter_of(bar: Entry[Bar]) -> Uncertain:
    """Bonded perimeter of a round bar [m].

    Raises
    ------
    InputError
        If its diameter wasn't recorded.
    """
    if bar.record.diameter is None:
        raise InputError(
            f"diameter of {bar.record.label}", None, "recorded", "bond stress acts on the perimeter"
        )
    return (
        uncertain_of_stated(f"diameter@{bar.uid}", bar.record.diameter, "diameter of the bar")
        * np.pi
    )


def bond_steps(
    desk: Desk, bar: Entry[Bar], moment: Moment, zero: ZeroKind
) -> tuple[tuple[StationValue, ...], tuple[bond.BondStep, ...]]:
    """Stations of a bar, and mean bond stresses between those that have a force [Pa].

    Raises
    ------
    InputError
        If the bar's diameter wasn't recorded or two stations are at one place.
    """
    stations = bar_stations(desk, bar, moment, zero)
    return stations, bond.bond_between_stations(field_points(stations, "force"), perimeter_of(bar))


def bar_profile(
    desk: Desk,
    bar: Entry[Bar],
    moment: Moment,
    zero: ZeroKind,
    *,
    half_width: float | None = None,
) -> BarProfile:
    """Everything along a bar at a moment, since a zero; a lost station stays lost.

    Parameters
    ----------
    half_width : float, optional
        Half the window of a local polynomial that bond stress is had by; left out, it is had
        from a smoothing spline through the whole row [m].

    Raises
    ------
    InputError
        If no gauge sits on the bar, its stations count from different places, or the window
        isn't a positive length.
    """
    stations = bar_stations(desk, bar, moment, zero)
    if not stations:
        raise InputError(f"gauges along bar {bar.record.label}", "none", "at two places or more")
    _one_datum(desk, bar, stations)
    missing: list[str] = []
    if half_width is not None and not 0 < half_width < math.inf:
        raise InputError("window", half_width, "a positive length, or left out for the whole row")
    steps, force, slopes = _bond(bar, stations, moment, (half_width, missing))
    strain = None
    try:
        name = f"total strain along {bar.uid} at {moment.key}"
        strain = smooth_field(field_points(stations, "total"), name)
    except InputError as problem:
        missing.append(f"No slip and no mean strain: {problem}")
    told = (
        *_what_zero_hides(desk, stations, zero),
        *_places_told(desk, stations),
        *_covered_told(desk, bar, stations),
    )
    return BarProfile(
        bar,
        moment,
        zero,
        stations,
        steps,
        force,
        slopes,
        strain,
        _estimate(half_width),
        tuple(missing),
        told,
    )


def _estimate(half_width: float | None) -> str:
    if half_width is None:
        return "Bond stress by a smoothing spline through the whole row."
    return (
        f"Bond stress by a local polynomial of degree 2 through the stations nearer than "
        f"{half_width * 1e3:.0f} mm; the band holds the bend that it can't follow."
    )


def _bond(
    bar: Entry[Bar],
    stations: tuple[StationValue, ...],
    moment: Moment,
    how: tuple[float | None, list[str]],
) -> tuple[tuple[bond.BondStep, ...], Along | None, Along | None]:
    (half_width, missing), points = how, field_points(stations, "force")
    try:
        perimeter = perimeter_of(bar)
        steps = bond.bond_between_stations(points, perimeter)
    except InputError as problem:
        missing.append(f"No bond stress: {problem}")
        return (), None, None
    try:
        field = smooth_field(points, f"force along {bar.uid} at {moment.key}")
    except InputError as problem:
        missing.append(f"Bond stress between neighbours only: {problem}")
        return steps, None, None
    places = _grid(field)
    force = Along(places, field.value_at(places))
    try:
        found = bond.bond_at(field, places, perimeter, half_width=half_width)
    except InputError as problem:
        missing.append(f"Bond stress between neighbours only: {problem}")
        return steps, force, None
    return steps, force, Along(places, found)


def _grid(field: SmoothField) -> FloatArray:
    ends = field.positions
    return np.unique(np.concatenate((np.linspace(ends[0], ends[-1], PLACES), ends)))


def _one_datum(desk: Desk, bar: Entry[Bar], stations: tuple[StationValue, ...]) -> None:
    data = {desk.book.station_of(gauge).record.datum for s in stations for gauge in s.gauges}
    if len(data) > 1:
        raise InputError(
            f"places along bar {bar.record.label}",
            "; ".join(sorted(data)),
            "counted from one datum",
            "give the stations distances from the same point",
        )


def _what_zero_hides(
    desk: Desk, stations: tuple[StationValue, ...], zero: ZeroKind
) -> tuple[str, ...]:
    """What strain counted from a zero leaves out, and how much where gauges were zeroed twice."""
    if zero in (ZeroKind.BARE_BAR, ZeroKind.BEFORE_POUR):
        return (
            f"Strain counts from {zero.value}: shrinkage of the concrete and dead load until the "
            "test are in it.",
        )
    words = (
        f"Strain counts from {zero.value}: shrinkage of the concrete and dead load until then "
        "are left out"
    )
    earlier = [_initial(desk, station, zero) for station in stations]
    known = [value for value in earlier if value is not None and math.isfinite(value)]
    if not known:
        return (words + "; how much that was isn't known, since no earlier zero holds.",)
    low, high = min(known) * 1e6, max(known) * 1e6
    sentence = f"; by the earlier zero it was {low:.0f} to {high:.0f} µε at {len(known)} stations."
    return (words + sentence.replace("-", "\N{MINUS SIGN}"),)


def _initial(desk: Desk, station: StationValue, zero: ZeroKind) -> float | None:
    """Mechanical strain at a zero since the stress-free one, mean of the station's gauges [1]."""
    found = []
    for circuit in (desk.book.entry(uid, BridgeCircuit) for uid in station.circuits):
        earlier = stress_free_zero(desk, circuit)
        if earlier is zero or earlier is ZeroKind.BEFORE_TEST:
            continue
        since, later = desk.strain(circuit, earlier), desk.strain(circuit, zero)
        # What is read since a later zero is the end of what is read since an earlier one.
        difference = since.strain[since.strain.size - later.strain.size :] - later.strain
        if np.isfinite(difference).any():
            found.append(float(np.nanmedian(difference)))
    return sum(found) / len(found) if found else None


def _places_told(desk: Desk, stations: tuple[StationValue, ...]) -> tuple[str, ...]:
    planned = [
        station.label
        for station in stations
        if desk.book.station_of(station.gauges[0]).record.distance_built is None
    ]
    if not planned:
        return ()
    return (
        f"Places of {', '.join(planned)} are as planned: nobody measured them, so the bands hold "
        "no doubt of place.",
    )


def _covered_told(
    desk: Desk, bar: Entry[Bar], stations: tuple[StationValue, ...]
) -> tuple[str, ...]:
    """How much of the row is under protection, where concrete doesn't reach the bar."""
    length = float(stations[-1].distance.value - stations[0].distance.value)
    longest: dict[float, float] = {}
    for entry in desk.book.of(Protection):
        gauge = desk.book.entry(entry.record.gauge, Gauge)
        if desk.book.bar_of(gauge).uid == bar.uid:
            place = float(distance_of(desk, gauge).value)
            longest[place] = max(longest.get(place, 0.0), entry.record.covered_length.value)
    if not longest or not length > 0:
        return ()
    return (
        f"Protection covers about {100 * sum(longest.values()) / length:.0f} % of the length "
        "between the outermost stations. Bond stress is per whole perimeter; beside a coat that "
        "keeps concrete off the bar it is more.",
    )
