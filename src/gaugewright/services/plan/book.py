"""A campaign as it is planned: its records, and what stands in where nothing is recorded yet.

Planned gauges go through the same chains as read ones. For that they need leads, circuits,
channels and zeros: those on record are taken, others are made up from limits, in memory alone,
and told as assumed.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Any

from gaugewright.calc import leads
from gaugewright.records import Entry
from gaugewright.records.electrical import (
    Arm,
    BridgeCircuit,
    Channel,
    ChannelSetting,
    Connection,
    Instrument,
    Lead,
    ReadingKind,
    Topology,
)
from gaugewright.records.gauges import Gauge, GaugePack
from gaugewright.records.identity import Uid, new_uid_at
from gaugewright.records.proof import GateCheck, Zero, ZeroKind
from gaugewright.records.results import Chain
from gaugewright.records.sensors import TemperaturePoint
from gaugewright.records.specimen import Station
from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.laboratory import limit_or_shipped
from gaugewright.services.plan.packs import PlanPack, pack_named, packs_to_plan_with, with_curve
from gaugewright.services.strain.strains import Desk
from gaugewright.store.campaign import CampaignStore

__all__ = ["AFTERWARDS", "ONE_BUNDLE", "PlanBook", "PlanChoice", "planned_book", "planned_limit"]

ONE_BUNDLE = "one bundle, assumed"
_NOBODY = datetime(2000, 1, 1, tzinfo=UTC)
# What happened after the plan has no part in it: the plan is asked what it would give anew.
AFTERWARDS = (Connection, Zero, GateCheck, Chain)
_PLACE, _TURN = 1e-3, 0.1  # stations nearer than this are opposite each other [m, rad]
_ZERO_DEGC = 20.0


@dataclass(frozen=True, slots=True)
class PlanChoice:
    """What a plan is tried with: the pack of planned gauges, packs on hand, records added.

    ``more`` are records that aren't written down (a proposal) with uids of their own, ``changed``
    stand in the place of those on record, by uid.
    """

    pack: str = ""
    on_hand: tuple[PlanPack, ...] = ()
    more: tuple[tuple[Uid, object], ...] = ()
    changed: Mapping[Uid, object] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class PlanBook:
    """Records of a plan made whole, with what was assumed for them, in words."""

    desk: Desk
    circuits: Mapping[Uid, Entry[BridgeCircuit]]
    assumed: tuple[str, ...]

    @property
    def book(self) -> Book:
        """Records, those made up included."""
        return self.desk.book

    def connection_of(self, circuit: Entry[BridgeCircuit]) -> Entry[Connection]:
        """The planned connection of a circuit."""
        return self.book.connections_of(circuit.uid)[0]

    def gauges_at(self, station: Uid) -> tuple[Entry[Gauge], ...]:
        """Gauges of a station, on record or planned."""
        return tuple(g for g in self.book.of(Gauge) if g.record.station == station)


def planned_limit(book: Book, label: str) -> float:
    """A limit that a plan takes where nothing is recorded, by its label."""
    return limit_or_shipped(book, label).value


def planned_book(store: CampaignStore, book: Book, choice: PlanChoice) -> PlanBook:
    """Records of a campaign made whole for its plan.

    Raises
    ------
    InputError
        If no pack has the name that was chosen.
    """
    return _Builder(store, book, choice).built()


class _Builder:
    """Makes up what isn't recorded, each thing once."""

    def __init__(self, store: CampaignStore, book: Book, choice: PlanChoice) -> None:
        self.store = store
        self.choice = choice
        self.count = 0
        self.assumed: dict[str, None] = {}
        kept = [e for e in book.every() if not isinstance(e.record, AFTERWARDS)]
        self.entries: dict[Uid, Entry[Any]] = {
            e.uid: replace(e, record=choice.changed.get(e.uid, e.record)) for e in kept
        }
        for uid, record in choice.more:
            self.add(record, uid)

    def add(self, record: object, uid: Uid | None = None) -> Entry[Any]:
        """A record made up, under a uid that no clock gives."""
        if uid is None:
            self.count += 1
        made = uid or new_uid_at(0, self.count)
        entry = Entry(made, 1, _NOBODY, None, "planned", False, record)
        self.entries[made] = entry
        return entry

    def of(self, kind: type) -> list[Entry[Any]]:
        return [e for e in self.entries.values() if isinstance(e.record, kind)]

    def limit(self, label: str) -> float:
        return planned_limit(Book(self.entries.values()), label)

    def tell(self, words: str) -> None:
        self.assumed[words] = None

    def built(self) -> PlanBook:
        self._stations()
        self._gauges()
        self._packs()
        self._circuits()
        self._points()
        self._connections()
        book = Book(self.entries.values())
        circuits = {
            arm.gauge: circuit
            for circuit in book.of(BridgeCircuit)
            for arm in circuit.record.arms
            if arm.gauge is not None
        }
        return PlanBook(Desk(self.store, book), circuits, tuple(self.assumed))

    def _stations(self) -> None:
        """Places nobody measured yet get the tolerance that bonding is allowed."""
        place, turn = (
            self.limit("planned place tolerance"),
            self.limit("planned clock angle tolerance"),
        )
        told = False
        assumed = (Meaning.LIMIT, Basis.ASSUMED)
        for entry in self.of(Station):
            record = entry.record
            if record.distance_built is None:
                words = "planned place tolerance"
                built = Stated(record.distance_planned, place, *assumed, words)
                record = replace(record, distance_built=built)
                told = True
            if record.angle_built is None:
                words = "planned clock angle tolerance"
                built = Stated(record.angle_planned, turn, *assumed, words)
                record = replace(record, angle_built=built)
                told = True
            self.entries[entry.uid] = replace(entry, record=record)
        if told:
            self.tell(
                f"places as planned ± {place * 1e3:g} mm along and ± {math.degrees(turn):.0f}° "
                "round the bar"
            )

    def _gauges(self) -> None:
        """A station without a gauge gets one along the bar; two opposite ones make a pair."""
        taken = {gauge.record.station for gauge in self.of(Gauge)}
        empty = [station for station in self.of(Station) if station.uid not in taken]
        if not empty:
            return
        pack = self._pack_entry()
        made: list[Entry[Any]] = []
        for station in empty:
            partner = next((g for g in made if self._opposite(g, station)), None)
            if partner is not None:
                made.remove(partner)
            gauge = Gauge(
                station.record.label,
                pack.uid,
                station.uid,
                opposite=None if partner is None else partner.uid,
            )
            entry = self.add(gauge)
            made += [entry] if partner is None else []
        self.tell(f"one gauge of pack {pack.record.label} along the bar at {len(empty)} stations")

    def _opposite(self, gauge: Entry[Any], station: Entry[Any]) -> bool:
        other: Station = self.entries[gauge.record.station].record
        record: Station = station.record
        if other.bar != record.bar or other.datum != record.datum:
            return False
        turn = abs((other.angle_planned - record.angle_planned) % (2 * math.pi) - math.pi)
        return abs(other.distance_planned - record.distance_planned) < _PLACE and turn < _TURN

    def _pack_entry(self) -> Entry[Any]:
        choices = packs_to_plan_with(Book(self.entries.values()), self.choice.on_hand)
        chosen = pack_named(choices, self.choice.pack)
        known = [e for e in self.of(GaugePack) if e.record.label == chosen.label]
        return known[0] if known else self.add(chosen.pack)

    def _packs(self) -> None:
        """A card without a curve of thermal output gets a flat one with a doubt."""
        book = Book(self.entries.values())
        for gauge in book.of(Gauge):
            entry = self.entries[gauge.record.pack]
            expansion = book.material_of(gauge).record.thermal_expansion.value
            record, words = with_curve(book, entry.record, expansion)
            self.entries[entry.uid] = replace(entry, record=record)
            if words:
                self.tell(words)

    def _circuits(self) -> None:
        """A gauge in no circuit gets a quarter bridge with three wires of its own."""
        wired = {arm.gauge for circuit in self.of(BridgeCircuit) for arm in circuit.record.arms}
        alone = [gauge for gauge in self.of(Gauge) if gauge.uid not in wired]
        for gauge in alone:
            pack = self.entries[gauge.record.pack].record
            lead = self.add(self._lead(gauge.record.label))
            completion = Stated(pack.gauge_resistance.value, basis=Basis.ASSUMED)
            arms = (Arm(1, 1, gauge.uid), Arm(2, -1, resistance=completion))
            self.add(BridgeCircuit(gauge.record.label, Topology.QUARTER_THREE_WIRE, arms, lead.uid))
        if alone:
            length = self.limit("planned lead length")
            area = self.limit("planned wire cross-section")
            self.tell(
                f"quarter bridge with three wires of {length:g} m, {area * 1e6:g} mm² copper, all "
                f"in one bundle, for {len(alone)} gauges without a circuit"
            )

    def _lead(self, label: str) -> Lead:
        length, area = self.limit("planned lead length"), self.limit("planned wire cross-section")
        ohm = float(leads.lead_resistance(length, area))
        stated = Stated(ohm, 0.02 * ohm, Meaning.LIMIT, Basis.ASSUMED, "planned lead")
        return Lead(f"lead {label}"[:80], 3, length, stated, 20.0, ONE_BUNDLE)

    def _points(self) -> None:
        """Gauges that no thermometer stands for get one."""
        known = {uid for point in self.of(TemperaturePoint) for uid in point.record.gauges}
        without = tuple(g.uid for g in self.of(Gauge) if g.uid not in known)
        if without:
            doubt = self.limit("planned temperature doubt")
            stated = Stated(0.0, doubt, Meaning.LIMIT, Basis.ASSUMED, "planned temperature doubt")
            self.add(TemperaturePoint("planned thermometer", "beside the gauges", without, stated))
            self.tell(f"a thermometer within ± {doubt:g} K for {len(without)} gauges without one")

    def _connections(self) -> None:
        """Every circuit on a channel of a ratio's own, with a fresh zero before the test."""
        instrument = self._instrument()
        volts = self.limit("planned excitation")
        degc = Stated(
            _ZERO_DEGC, self.limit("planned temperature doubt"), Meaning.LIMIT, Basis.ASSUMED
        )
        for number, circuit in enumerate(self.of(BridgeCircuit), start=1):
            label = f"planned {circuit.record.label}"[:80]
            channel = self.add(Channel(label, instrument.uid, number, label))
            setting = self.add(ChannelSetting(channel.uid, ReadingKind.RATIO, "V/V", volts))
            connection = self.add(Connection(circuit.uid, channel.uid, setting.uid, _NOBODY))
            self.add(Zero(ZeroKind.BEFORE_TEST, connection.uid, Stated(0.0), degc, _NOBODY))

    def _instrument(self) -> Entry[Any]:
        """The recorder on record with the widest limits; one from limits where there is none."""
        known: Iterable[Entry[Any]] = [e for e in self.of(Instrument) if e.record.gain.plus_minus]
        widest = max(known, key=lambda e: e.record.gain.plus_minus, default=None)
        if widest is not None:
            return widest
        gain, zero = self.limit("planned recorder gain"), self.limit("planned recorder zero")
        self.tell(
            f"a recorder with a gain within ± {100 * gain:.2g} % and a zero within "
            f"± {zero * 1e6:g} µV/V"
        )
        return self.add(
            Instrument(
                "planned recorder",
                "",
                Stated(1.0, gain, Meaning.LIMIT, Basis.ASSUMED, "planned recorder gain"),
                0.0,
                Stated(0.0),
                True,
                "",
                Stated(0.0, zero, Meaning.LIMIT, Basis.ASSUMED, "planned recorder zero"),
            )
        )
