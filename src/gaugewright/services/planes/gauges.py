"""Which gauges stand in one section of a member, and what each says of the section's strain."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gaugewright.calc.propagation import propagated
from gaugewright.calc.uncertainty import Uncertain, combination
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import Gauge
from gaugewright.records.member import Member
from gaugewright.records.proof import ZeroKind
from gaugewright.records.specimen import Station
from gaugewright.records.stated import State
from gaugewright.services.bars.flat_equilibrium import bar_of_flat
from gaugewright.services.bars.forces import bending_share, net_area_of
from gaugewright.services.bars.together import quarter_circuits, usable
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.states import state_of_gauge
from gaugewright.services.chaining.causes import uncertain_of_stated
from gaugewright.services.members.members import GridPlace, WholeMember, grid_place, member_of
from gaugewright.services.planes.bends import bends_shown
from gaugewright.services.strain.strains import Desk
from gaugewright.services.under_load.record import stress_free_zero

__all__ = ["GaugedSection", "Reading", "SectionGauge", "reading_of", "section_named", "sections_of"]

# Places along the member that differ by less are one section (choice of this project, no source).
SAME_PLACE = 0.02
_DEEPEST_STEP = 1e-3  # grids closer in depth are at one depth


@dataclass(frozen=True, slots=True, eq=False)
class SectionGauge:
    """A gauge of a section; ``used`` is False for one that its findings keep out."""

    gauge: Entry[Gauge]
    circuit: Entry[BridgeCircuit]
    place: GridPlace
    bar: int
    state: State
    used: bool

    @property
    def label(self) -> str:
        """Of the gauge."""
        return self.gauge.record.label


@dataclass(frozen=True, slots=True, eq=False)
class GaugedSection:
    """Gauges of one place along a member, at two depths or more."""

    label: str
    member: WholeMember
    gauges: tuple[SectionGauge, ...]
    zero: ZeroKind

    @property
    def used(self) -> tuple[SectionGauge, ...]:
        """Gauges that may stand for something."""
        return tuple(gauge for gauge in self.gauges if gauge.used)

    @property
    def distance(self) -> Uncertain:
        """Place along the member, of the first gauge [m]."""
        return self.gauges[0].place.distance


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """One gauge at some instants; NaN where it had no value [1; Pa; N].

    ``measured`` is the mechanical strain at the grid since the section's zero, ``total`` that of
    the bar beside the flat with its thermal expansion, ``force`` what the bar carries by it.
    """

    gauge: SectionGauge
    measured: Uncertain
    total: Uncertain
    force: Uncertain


def sections_of(desk: Desk) -> tuple[GaugedSection, ...]:
    """Sections of all members, along each from its datum on."""
    found = []
    gauges = [
        (circuit, gauge)
        for circuit, gauge in quarter_circuits(desk)
        if abs(gauge.record.angle_to_axis) < 0.01
    ]
    for entry in desk.book.of(Member):
        bars = {place.bar for place in entry.record.bars}
        own = [(c, g) for c, g in gauges if desk.book.bar_of(g).uid in bars]
        found += _of_member(desk, own)
    return tuple(found)


def section_named(desk: Desk, label: str | None = None) -> GaugedSection:
    """Section by its label; without one, that of the most gauges.

    Raises
    ------
    InputError
        If there is none, or none of that label.
    """
    every = sections_of(desk)
    if not every:
        raise InputError(
            "section",
            label,
            "gauges at two depths or more at one place of a member",
            "write down the member (outline, concrete, bars, supports, load points), then reduce",
        )
    if label is None:
        return max(every, key=lambda section: len(section.used))
    for section in every:
        if section.label == label:
            return section
    raise InputError("section", label, "one of " + ", ".join(one.label for one in every))


def reading_of(
    desk: Desk, section: GaugedSection, gauge: SectionGauge, times: FloatArray
) -> Reading:
    """What a gauge read at some instants, in rising order, and what it says of its bar."""
    record = desk.strain(gauge.circuit, section.zero)
    rows, alive = record.rows_nearest(times)
    alive &= np.isfinite(record.strain[rows])
    unique, back = np.unique(rows, return_inverse=True)
    read = record.uncertain(unique)[back.ravel()]
    measured = _where(alive, read + _own_bending(desk, section, gauge, read.value))
    furthest = np.fmax.accumulate(np.where(np.isfinite(record.strain), record.strain, -np.inf))
    envelope = np.maximum(furthest[rows], measured.value)
    total, force = _of_bar(desk, section.member, gauge, measured, envelope)
    return Reading(gauge, measured, total + _expansion(desk, section, gauge, times), force)


def _of_member(
    desk: Desk, gauges: list[tuple[Entry[BridgeCircuit], Entry[Gauge]]]
) -> list[GaugedSection]:
    places: list[tuple[float, Entry[BridgeCircuit], Entry[Gauge]]] = []
    for circuit, gauge in gauges:
        member = member_of(desk.book, desk.book.bar_of(gauge))
        begins = member.bars[member.index_of(desk.book.bar_of(gauge).uid)].place.begins.value
        planned = desk.book.entry(gauge.record.station, Station).record.distance_planned
        places.append((begins + planned, circuit, gauge))
    places.sort(key=lambda one: one[0])
    groups: list[list[tuple[float, Entry[BridgeCircuit], Entry[Gauge]]]] = []
    for one in places:
        if groups and one[0] - groups[-1][0][0] < SAME_PLACE:
            groups[-1].append(one)
        else:
            groups.append([one])
    found = []
    for group in groups:
        section = _section(desk, group)
        depths = [float(gauge.place.depth.value) for gauge in section.gauges]
        if max(depths) - min(depths) > _DEEPEST_STEP:
            found.append(section)
    return found


def _section(
    desk: Desk, group: list[tuple[float, Entry[BridgeCircuit], Entry[Gauge]]]
) -> GaugedSection:
    book: Book = desk.book
    member = member_of(book, book.bar_of(group[0][2]))
    gauges = tuple(
        SectionGauge(
            gauge,
            circuit,
            grid_place(book, member, gauge),
            member.index_of(book.bar_of(gauge).uid),
            state_of_gauge(book, gauge),
            usable(desk, gauge),
        )
        for _, circuit, gauge in group
    )
    kinds = {stress_free_zero(desk, one.circuit) for one in gauges if one.used}
    zero = kinds.pop() if len(kinds) == 1 else ZeroKind.BEFORE_TEST
    return GaugedSection(f"{member.label} at {group[0][0]:.2f} m", member, gauges, zero)


def _where(alive: npt.NDArray[np.bool_], value: Uncertain) -> Uncertain:
    """The value where it's alive, NaN elsewhere; what it owes there is nothing."""
    shape = value.value.shape
    return Uncertain(
        np.where(alive, value.value, np.nan),
        {
            name: np.where(alive, np.nan_to_num(np.broadcast_to(slope, shape)), 0.0)
            for name, slope in value.sensitivities.items()
        },
        np.where(alive, np.nan_to_num(np.broadcast_to(value.noise, shape)), 0.0),
        value.inputs,
    )


def _own_bending(
    desk: Desk, section: GaugedSection, gauge: SectionGauge, strain: FloatArray
) -> Uncertain:
    """Bending of the bar by itself: no part of the plane, and opposite on opposite faces."""
    bar = section.member.bars[gauge.bar].bar
    station = desk.book.station_of(gauge.gauge).record
    angle = station.angle_planned if station.angle_built is None else station.angle_built.value
    pairs = bends_shown(desk)
    parts = Uncertain.exact(np.zeros_like(strain))
    for way, share in (("up and down", np.cos(angle)), ("sideways", np.sin(angle))):
        doubt = bending_share(desk, f"own_bending {way}@{bar.uid} {section.label}", pairs)
        parts = parts + Uncertain.from_input(np.zeros_like(strain), doubt, share * strain)
    return parts


def _expansion(
    desk: Desk, section: GaugedSection, gauge: SectionGauge, times: FloatArray
) -> Uncertain:
    """What the bar's temperature has added to its strain since the zero."""
    material = section.member.bars[gauge.bar].material
    point = desk.book.temperature_point_of(gauge.gauge)
    connections = desk.book.connections_of(gauge.circuit.uid)
    zero = next(
        desk.book.zero_for(connection, section.zero)
        for connection in connections
        if desk.book.holds_zero(connection, section.zero)
    )
    alpha = uncertain_of_stated(
        f"expansion@{material.uid}",
        material.record.thermal_expansion,
        "thermal expansion of the metal",
    )
    now = uncertain_of_stated(
        f"temperature@{point.uid}", point.record.doubt, "temperature at the gauge"
    )
    then = uncertain_of_stated(
        f"temperature_zero@{zero.uid}", zero.record.temperature, "temperature at the zero"
    )
    rise = desk.series(point.uid).at(times) - then.value
    slope = alpha.value
    return combination(slope * rise, [(alpha, rise), (now, slope), (then, -slope)])


def _of_bar(
    desk: Desk,
    member: WholeMember,
    gauge: SectionGauge,
    measured: Uncertain,
    envelope: FloatArray,
) -> tuple[Uncertain, Uncertain]:
    """Strain of the bar beside the flat and its force, by equilibrium with the flat.

    On a first loading up to the furthest strain so far, then elastic back from there.
    """
    law, area = member.law_of_bar(gauge.bar), member.values[f"bar_area_{gauge.bar}"]
    left = net_area_of(desk, gauge.gauge)
    share = propagated(lambda at: at["net"] / at["whole"], {"net": left, "whole": area})
    below = measured.value - envelope
    at_most = combination(envelope, [(measured, np.where(below < 0, 0.0, 1.0))])
    modulus = law.numbers[0]
    back = combination(
        np.where(np.isnan(below), np.nan, below), [(measured, np.where(below < 0, 1.0, 0.0))]
    )
    yielded = bool(np.any(envelope > law.yield_strain))
    stress = law.of_first_loading(at_most) + back * modulus
    strain = measured * share
    if yielded:
        strain = bar_of_flat(law, at_most, share) + back * share
    return strain, stress * left
