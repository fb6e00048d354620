"""What a plan uses up: gauges to put on, cable along its route, and so much of every supply."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.benching import StepKind
from gaugewright.records.electrical import BridgeCircuit, Lead
from gaugewright.records.families import ENVIRONMENTS
from gaugewright.records.gauges import BenchStep, Gauge, GaugePack
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Meter
from gaugewright.records.scheduling import BenchDays, BenchPlan
from gaugewright.records.specimen import Specimen, SpecimenKind
from gaugewright.records.supplying import OnShelf, Per, SupplyRate
from gaugewright.services.bench.methods import method_of
from gaugewright.services.campaign.book import Book
from gaugewright.services.laboratory.on_shelf import length_typed, rates_of, shelf_of
from gaugewright.services.plan.book import PlanBook, PlanChoice, planned_book, planned_limit
from gaugewright.services.plan.families import families
from gaugewright.services.plan.needs import numbers_typed
from gaugewright.services.plan.packs_on_hand import on_hand
from gaugewright.services.supplying.spares import Spares, spares_of
from gaugewright.services.supplying.tag_layout import rules_of
from gaugewright.settings import Settings
from gaugewright.store.campaign import CampaignStore

__all__ = ["TYPED", "CableRun", "Lot", "Needed", "Part", "Supplies", "supplies_of"]

TYPED = ("spares", "adhesive", "cover", "plug", "bonding", "pour", "whole")
_SLACK = "planned lead slack"


@dataclass(frozen=True, slots=True)
class Part:
    """Gauges of a lot on one kind of specimen: planned, on already, and by what spares go."""

    kind: SpecimenKind
    planned: int
    bonded: int
    spares: Spares

    @property
    def to_install(self) -> int:
        """Gauges to be put on, spares among them."""
        return self.spares.installed(self.planned - self.bonded)


@dataclass(frozen=True, slots=True)
class Lot:
    """Gauges alike, wherever they go, and packs on hand of them.

    ``left`` are pack label, lot, gauges left (None: nobody counted) and gauge factor.
    """

    pack: GaugePack
    parts: tuple[Part, ...]
    left: tuple[tuple[str, str, int | None, float], ...]

    @property
    def planned(self) -> int:
        """Gauges of the plan."""
        return sum(part.planned for part in self.parts)

    @property
    def bonded(self) -> int:
        """Those that are on already."""
        return sum(part.bonded for part in self.parts)

    @property
    def to_install(self) -> int:
        """Gauges to be put on, spares among them."""
        return sum(part.to_install for part in self.parts)

    @property
    def largest(self) -> int:
        """Gauges in the largest lot on hand."""
        return max(self.by_lot().values(), default=0)

    def by_lot(self) -> dict[str, int]:
        """Counted gauges by their lot."""
        found: dict[str, int] = {}
        for _, lot, left, _ in self.left:
            found[lot] = found.get(lot, 0) + (left or 0)
        return found


@dataclass(frozen=True, slots=True)
class CableRun:
    """One lead's cable [m]: along the bar, on to the plug, slack, and the whole of it.

    ``is_open`` says that a gauge on it isn't bonded yet: its cable is still to be cut.
    """

    label: str
    gauges: tuple[str, ...]
    wires: int
    along: float | None
    onward: float | None
    slack: float
    whole: float
    words: str
    is_open: bool


@dataclass(frozen=True, slots=True)
class Needed:
    """So much of a supply, what of it is on the shelf in date, and what is lacking."""

    rate: SupplyRate
    label: str
    amount: float
    shelf: tuple[OnShelf, ...]
    on_hand: float | None

    @property
    def short(self) -> float | None:
        """How much is lacking; None where nobody knows what is on the shelf."""
        return None if self.on_hand is None else max(0.0, self.amount - self.on_hand)

    @property
    def packages(self) -> int | None:
        """Whole packages that hold what is lacking, or all of it; None where none is stated."""
        if self.rate.package is None:
            return None
        amount = self.amount if self.short is None else self.short
        return math.ceil(amount / self.rate.package - 1e-9)


@dataclass(frozen=True, slots=True)
class Supplies:
    """Everything a plan uses up, and what that rests on."""

    plan: PlanBook
    lots: tuple[Lot, ...]
    runs: tuple[CableRun, ...]
    needed: tuple[Needed, ...]
    bonding: date | None
    pour: date | None
    assumed: tuple[str, ...]
    words: tuple[str, ...]
    is_whole: bool = False


def supplies_of(
    store: CampaignStore, book: Book, settings: Settings | None, typed: Mapping[str, str]
) -> Supplies:
    """What a plan uses up.

    Raises
    ------
    InputError
        If what was typed can't be used, or no gauge is planned.
    """
    choice = PlanChoice(typed.get("pack", "").strip(), on_hand(settings))
    plan = planned_book(store, book, choice)
    gauges = plan.book.of(Gauge)
    if not gauges:
        raise InputError("gauges", 0, "one or more, or stations for them", "place stations first")
    dates = _dates(book, typed, ZoneInfo(store.campaign.record.zone))
    bonded = _bonded(book, typed)
    lots = _lots(plan, book, settings, typed, bonded)
    runs = _runs(plan, book, typed, bonded)
    parts = [part for lot in lots for part in lot.parts]
    kinds = {part.kind for part in parts}
    chosen = _Chosen.by(book, settings, typed, kinds)
    needed = _needed(plan, lots, runs, chosen, (settings, dates))
    assumed = [*(one.spares.words for one in parts if one.spares.is_assumed), *plan.assumed]
    words = [*(one.spares.words for one in parts if not one.spares.is_assumed), *chosen.words]
    return Supplies(
        plan,
        lots,
        runs,
        needed,
        *dates,
        tuple(dict.fromkeys(assumed)),
        tuple(dict.fromkeys(words)),
        is_whole=bool(typed.get("whole", "").strip()),
    )


def _dates(book: Book, typed: Mapping[str, str], zone: ZoneInfo) -> tuple[date | None, date | None]:
    """Days of bonding and of the pour: as typed, else as the bench's days are planned.

    Of several days of bonding the last counts: what is used then must still be in date.
    """
    bonding, pour = _day("bonding", typed), _day("pour", typed)
    for entry in book.of(BenchDays):
        pour = pour if typed.get("pour", "").strip() else entry.record.pour_day
    if bonding is None:
        begins = [
            piece.begins.astimezone(zone).date()
            for plan in book.of(BenchPlan)[-1:]
            for piece in plan.record.pieces
            if _bonds(book, piece.gauge, piece.steps)
        ]
        bonding = max(begins, default=None)
    return bonding, pour


def _bonds(book: Book, uid: Uid, steps: Sequence[str]) -> bool:
    """Whether one of some steps of a gauge's method bonds it."""
    gauge = book.found(uid)
    if gauge is None:
        return False
    kinds = {one.name: one.kind for one in method_of(book, gauge).steps}
    return any(kinds.get(name) is StepKind.BOND or name == "bond" for name in steps)


def _day(name: str, typed: Mapping[str, str]) -> date | None:
    text = typed.get(name, "").strip()
    try:
        return date.fromisoformat(text) if text else None
    except ValueError as error:
        raise InputError(name, text, "a date like 2026-10-13") from error


def kind_of(book: Book, gauge: Entry[Gauge]) -> SpecimenKind:
    """Kind of the specimen that a gauge sits on."""
    return book.entry(book.bar_of(gauge).record.specimen, Specimen).record.kind


def _alike(pack: GaugePack) -> tuple[float, float, float]:
    """What makes packs the same to an order: resistance and grid."""
    return (pack.gauge_resistance.value, pack.grid_length, pack.grid_width)


def _bonded(book: Book, typed: Mapping[str, str]) -> frozenset[Uid]:
    """Gauges that are on already; none where the whole plan is asked for."""
    if typed.get("whole", "").strip():
        return frozenset()
    return frozenset(
        step.record.gauge
        for step in book.of(BenchStep)
        if step.record.ended is not None and _bonds(book, step.record.gauge, (step.record.step,))
    )


def _lots(
    plan: PlanBook,
    book: Book,
    settings: Settings | None,
    typed: Mapping[str, str],
    bonded: frozenset[Uid],
) -> tuple[Lot, ...]:
    groups: dict[tuple[float, float, float], dict[SpecimenKind, list[Entry[Gauge]]]] = {}
    for gauge in plan.book.of(Gauge):
        mine = groups.setdefault(_alike(plan.book.pack_of(gauge).record), {})
        mine.setdefault(kind_of(plan.book, gauge), []).append(gauge)
    hand = on_hand(settings)
    found = []
    for alike, kinds in groups.items():
        parts = tuple(
            Part(
                kind,
                len(gauges),
                sum(gauge.uid in bonded for gauge in gauges),
                spares_of(settings, book, kind, typed),
            )
            for kind, gauges in kinds.items()
        )
        left = tuple(
            (one.label, one.pack.lot, one.left, one.pack.gauge_factor.value)
            for one in hand
            if _alike(one.pack) == alike
        )
        first = next(iter(kinds.values()))[0]
        found.append(Lot(plan.book.pack_of(first).record, parts, left))
    return tuple(found)


def _runs(
    plan: PlanBook, book: Book, typed: Mapping[str, str], bonded: frozenset[Uid]
) -> tuple[CableRun, ...]:
    recorded = {entry.uid for entry in book.of(Lead)}
    onward = length_typed("plug", typed["plug"], "m") if typed.get("plug", "").strip() else None
    slack = planned_limit(book, _SLACK)
    found = []
    for circuit in plan.book.of(BridgeCircuit):
        lead = plan.book.entry(circuit.record.lead, Lead)
        gauges = plan.book.gauges_of(circuit)
        along = max((_along(plan.book, gauge) for gauge in gauges), default=0.0)
        is_known = lead.uid in recorded
        if onward is None:
            beyond = 0.0 if is_known else slack
            whole = lead.record.length + beyond
            words = "length as recorded" if is_known else "planned lead length, assumed, and slack"
            parts: tuple[float | None, float | None, float] = (None, None, beyond)
        else:
            whole, parts = along + onward + slack, (along, onward, slack)
            words = "route along the bar, on to the plug, and slack"
            if is_known:
                apart = lead.record.length - whole
                words = f"recorded as {lead.record.length:g} m, " + (
                    f"{-apart:.2f} m short of its route"
                    if apart < 0
                    else f"{apart:.2f} m beyond its route"
                )
        labels = tuple(gauge.record.label for gauge in gauges)
        found.append(
            CableRun(
                circuit.record.label,
                labels,
                lead.record.wires,
                *parts,
                whole,
                words,
                is_open=any(gauge.uid not in bonded for gauge in gauges),
            )
        )
    return tuple(found)


def _along(book: Book, gauge: Entry[Gauge]) -> float:
    """Way along the bar to its nearer end, or to the datum where its length isn't known [m]."""
    station = book.station_of(gauge).record
    built = station.distance_built
    distance = abs(station.distance_planned if built is None else built.value)
    length = book.bar_of(gauge).record.length
    return distance if length is None else min(distance, max(0.0, length - distance))


@dataclass(frozen=True, slots=True)
class _Chosen:
    """Family of adhesive and of protection for each kind of specimen, and why."""

    adhesive: Mapping[SpecimenKind, str]
    cover: Mapping[SpecimenKind, str]
    words: tuple[str, ...]

    @classmethod
    def by(
        cls,
        book: Book,
        settings: Settings | None,
        typed: Mapping[str, str],
        kinds: set[SpecimenKind],
    ) -> "_Chosen":
        """As typed, else the first family that lasts, cures in time and holds where it is."""
        numbers = numbers_typed(book, typed)
        days, hours = numbers.values["days"], numbers.values["hours"]
        adhesives, coatings = families(settings)
        adhesive, cover, words = {}, {}, []
        for kind in sorted(kinds, key=lambda one: one.value):
            place = (
                numbers.environment or ENVIRONMENTS[2 if kind is SpecimenKind.CAST_MEMBER else 0]
            )
            glues = [
                one.label
                for one in adhesives
                if one.curing <= hours and (one.longest is None or one.longest >= days)
            ]
            covers = [
                one.label
                for one in coatings
                if place in one.environments and (one.longest is None or one.longest >= days)
            ]
            adhesive[kind] = _pick("adhesive", typed, [one.label for one in adhesives], glues)
            cover[kind] = _pick("cover", typed, [one.label for one in coatings], covers)
            words.append(
                f"{kind.value}: {adhesive[kind]}; {cover[kind]} (for {place}, {days / 86400:g} "
                f"days, {hours / 3600:g} h to cure; strain and heat are held under Selection)"
            )
        return cls(adhesive, cover, tuple(words))


def _pick(name: str, typed: Mapping[str, str], every: list[str], fitting: list[str]) -> str:
    chosen = typed.get(name, "").strip()
    if chosen and chosen not in every:
        raise InputError(name, chosen, "one of: " + "; ".join(every))
    if not chosen and not fitting:
        do = f"choose {name} from Selection, where the nearest is told"
        raise InputError(name, "none", "a family that lasts and cures in the time planned", do)
    return chosen or fitting[0]


def _needed(
    plan: PlanBook,
    lots: Sequence[Lot],
    runs: Sequence[CableRun],
    chosen: _Chosen,
    stock: tuple[Settings | None, tuple[date | None, date | None]],
) -> tuple[Needed, ...]:
    settings, (bonding, pour) = stock
    shelf = shelf_of(settings)
    tags = len(rules_of(settings).places)
    has_shelf = settings is not None and bool(settings["laboratory"])
    found = []
    for rate in rates_of(settings):
        for label, amount in _amounts(plan, lots, runs, chosen, rate=rate, tags=tags):
            mine = tuple(one for one in shelf if one.label == rate.label)
            until = {"bonding": bonding, "pour": pour or bonding}.get(rate.until)
            good = [
                one.amount
                for one in mine
                if one.expires is None or until is None or one.expires >= until
            ]
            is_split = label != rate.label
            on_hand_now = sum(good) if has_shelf and not is_split else None
            if amount > 0:
                found.append(Needed(rate, label, amount, mine, on_hand_now))
    return tuple(found)


def _amounts(
    plan: PlanBook,
    lots: Sequence[Lot],
    runs: Sequence[CableRun],
    chosen: _Chosen,
    *,
    rate: SupplyRate,
    tags: int,
) -> list[tuple[str, float]]:
    """How much of a supply, each under the name it is ordered by."""
    runs = [run for run in runs if run.is_open]
    if rate.per is Per.CABLE:
        by_wires: dict[int, float] = {}
        for run in runs:
            by_wires[run.wires] = by_wires.get(run.wires, 0.0) + run.whole
        many = len(by_wires) > 1
        return [
            (f"{rate.label}, {wires} wires", rate.amount * metres)
            if many
            else (rate.label, rate.amount * metres)
            for wires, metres in sorted(by_wires.items())
        ]
    meters = len(plan.book.of(Meter)) or 1
    counts = {
        Per.LEAD: float(len(runs)),
        Per.LEAD_METRE: sum(run.whole for run in runs),
        Per.TAG: float(tags * len(runs)),
        Per.METER: float(meters),
        Per.CAMPAIGN: 1.0,
    }
    if rate.per is Per.GAUGE:
        parts = [part for lot in lots for part in lot.parts]
        used = [part.to_install for part in parts if _uses(plan, part.kind, chosen, rate)]
        counts[Per.GAUGE] = float(sum(used))
    elif not runs:
        return []  # all is wired: nothing is to be bought for leads, meters or practice
    return [(rate.label, rate.amount * counts[rate.per])]


def _uses(plan: PlanBook, kind: SpecimenKind, chosen: _Chosen, rate: SupplyRate) -> bool:
    """Whether gauges on a kind take a supply: by their method, adhesive and protection."""
    if rate.adhesives and chosen.adhesive[kind] not in rate.adhesives:
        return False
    if rate.protections and chosen.cover[kind] not in rate.protections:
        return False
    if not rate.step:
        return True
    gauge = next(g for g in plan.book.of(Gauge) if kind_of(plan.book, g) is kind)
    words = {word for step in method_of(plan.book, gauge).steps for word in step.supplies}
    return rate.step in words
