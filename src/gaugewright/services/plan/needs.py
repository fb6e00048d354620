"""What gauges of one bar must bear: strain, gradient, room, heat, temperatures, time, company."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from gaugewright.calc import leads
from gaugewright.calc.net_area import net_area
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import Faults, InputError
from gaugewright.records import Entry
from gaugewright.records.families import ENVIRONMENTS
from gaugewright.records.gauges import Gauge
from gaugewright.records.specimen import Bar, Flat, SmoothedZone, Specimen, SpecimenKind
from gaugewright.services.campaign.book import Book
from gaugewright.services.members.member_statics import statics_at
from gaugewright.services.members.members import WholeMember, grid_place, member_of
from gaugewright.services.plan.book import planned_limit
from gaugewright.services.plan.electrical import DENSITIES, metal_of
from gaugewright.services.plan.prediction import range_of_circuit
from gaugewright.services.plan.strains import PlannedReadings, in_member, is_dummy

__all__ = ["OPTIONS", "Need", "Numbers", "needs_of", "numbers_typed"]

_DAY = 86400.0
_STEP = 5e-3  # how far a moment is looked at on either side of a gauge [m]
AIM = "area lost, aim"
# Typed in the place of a limit: name of the option -> limit -> factor to SI.
OPTIONS: Mapping[str, tuple[str, float]] = {
    "days": ("planned duration", _DAY),
    "hours": ("planned time for curing", 3600.0),
    "low": ("planned lowest temperature", 1.0),
    "high": ("planned highest temperature", 1.0),
    "length": ("planned lead length", 1.0),
    "excitation": ("planned excitation", 1.0),
}


@dataclass(frozen=True, slots=True)
class Need:
    """What the gauges of one bar ask of pack, adhesive and protection [SI].

    ``gradient`` is the steepest change of strain beside one of them, ``room`` the width of flat
    or smoothed zone, ``density`` what the metal carries away; ``words`` says where each is from.
    """

    label: str
    gauges: tuple[str, ...]
    strain: float
    gradient: float
    room: float
    length_of_room: float | None
    expansion: float
    density: float
    lead_length: float
    wire: float
    excitation: float
    low_degc: float
    high_degc: float
    duration: float
    curing: float
    environment: str
    words: tuple[str, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class Numbers:
    """What was typed in the place of limits, or the limits [SI]; environment and ribs or not."""

    values: Mapping[str, float]
    environment: str
    ribs: float | None
    typed: frozenset[str] = frozenset()


def numbers_typed(book: Book, typed: Mapping[str, str]) -> Numbers:
    """What a selection is to reckon with: ``typed`` takes the place of limits: days, hours, ...

    ``ribs`` is the clear distance between ribs that gauges are to sit in, where none are taken off.

    Raises
    ------
    InputError
        If what was typed isn't a number, or the environment isn't known.
    """
    chosen = typed.get("environment", "").strip()
    if chosen and chosen not in ENVIRONMENTS:
        raise InputError("environment", chosen, "one of " + ", ".join(ENVIRONMENTS))
    return Numbers(
        {name: _number(book, typed, name) for name in OPTIONS},
        chosen,
        _typed(typed, "ribs") * 1e-3 if typed.get("ribs", "").strip() else None,
        frozenset(name for name in OPTIONS if typed.get(name, "").strip()),
    )


def needs_of(readings: PlannedReadings, on_record: Book, numbers: Numbers) -> tuple[Need, ...]:
    """What gauges of like bars need."""
    groups: dict[tuple[object, ...], list[Entry[Gauge]]] = {}
    for gauge in readings.book.of(Gauge):
        if not is_dummy(readings.book, gauge):
            groups.setdefault(_alike(readings.book, gauge), []).append(gauge)
    return tuple(_need(readings, on_record, gauges, numbers) for gauges in groups.values())


def _alike(book: Book, gauge: Entry[Gauge]) -> tuple[object, ...]:
    """What bars share whose gauges are chosen together: specimen, metal, size."""
    bar = book.bar_of(gauge).record
    diameter = None if bar.diameter is None else round(bar.diameter.value, 4)
    return (bar.specimen, bar.material, bar.size, diameter)


def _number(book: Book, typed: Mapping[str, str], name: str) -> float:
    limit, factor = OPTIONS[name]
    if not typed.get(name, "").strip():
        return planned_limit(book, limit)
    return _typed(typed, name) * factor


def _typed(typed: Mapping[str, str], name: str) -> float:
    text = typed[name].strip()
    try:
        number = float(text)
    except ValueError as error:
        raise InputError(name, text, "a number") from error
    is_degree = name in ("low", "high")
    if not math.isfinite(number) or (number <= 0 and not is_degree):
        raise InputError(name, text, "a finite number" if is_degree else "a number above 0")
    return number


def _need(
    readings: PlannedReadings,
    on_record: Book,
    gauges: list[Entry[Gauge]],
    numbers: Numbers,
) -> Need:
    book = readings.book
    bar = book.bar_of(gauges[0])
    words: dict[str, None] = {}
    strain, gradient = 0.0, 0.0
    for gauge in gauges:
        found = range_of_circuit(readings, on_record, readings.plan.circuits[gauge.uid])
        strain = max(strain, abs(found.lowest), abs(found.highest))
        words[found.words] = None
        is_pulled = found.highest > abs(found.lowest)
        gradient = max(gradient, _gradient(readings, gauge, words, is_pulled=is_pulled))
    room, length = _room(book, gauges, bar, words)
    if numbers.ribs is not None:
        length = numbers.ribs if length is None else min(length, numbers.ribs)
    given = numbers.values
    length_of_lead, wire = _leads(readings, gauges, numbers)
    return Need(
        ", ".join(dict.fromkeys(book.bar_of(gauge).record.label for gauge in gauges)),
        tuple(gauge.record.label for gauge in gauges),
        strain,
        gradient,
        room,
        length,
        book.material_of(gauges[0]).record.thermal_expansion.value,
        planned_limit(book, DENSITIES[metal_of(book, gauges[0])]),
        length_of_lead,
        wire,
        given["excitation"],
        given["low"],
        given["high"],
        given["days"],
        given["hours"],
        _environment(book, bar, numbers.environment),
        tuple(words),
    )


def _leads(
    readings: PlannedReadings, gauges: list[Entry[Gauge]], numbers: Numbers
) -> tuple[float, float]:
    """Length and resistance of a wire: of the worst lead of these gauges, unless one was typed."""
    if "length" in numbers.typed:
        length = numbers.values["length"]
        area = planned_limit(readings.book, "planned wire cross-section")
        return length, float(leads.lead_resistance(length, area))
    found = [readings.lead(readings.plan.circuits[gauge.uid]) for gauge in gauges]
    worst = max(found, key=lambda lead: lead.resistance.value)
    return worst.length, worst.resistance.value


def _environment(book: Book, bar: Entry[Bar], chosen: str) -> str:
    if chosen:
        return chosen
    kind = book.entry(bar.record.specimen, Specimen).record.kind
    return "in concrete" if kind is SpecimenKind.CAST_MEMBER else "dry hall"


def _gradient(
    readings: PlannedReadings, gauge: Entry[Gauge], words: dict[str, None], *, is_pulled: bool
) -> float:
    """Steepest change of strain beside a gauge: by the moment there, and by bond at a crack."""
    if not in_member(readings.book, gauge):
        return 0.0
    bar = readings.book.bar_of(gauge)
    member = member_of(readings.book, bar)
    modulus = readings.book.material_of(gauge).record.elastic_modulus.value
    strength = float(member.values["concrete_strength"].value)
    at_crack = 0.0
    if is_pulled and bar.record.diameter is not None:
        # Full bond on both sides of a crack: dε/dx = 4 τ / (E d), τ = 2.5 √f_cm (fib Model Code
        # 2010, table 6.1-1).
        bond = 2.5e6 * math.sqrt(strength / 1e6)
        at_crack = 4 * bond / (modulus * bar.record.diameter.value)
        words[f"gradient at a crack: full bond of {bond / 1e6:.2g} MPa"] = None
    return max(at_crack, _by_moment(readings, member, gauge))


def _by_moment(readings: PlannedReadings, member: WholeMember, gauge: Entry[Gauge]) -> float:
    """Change of predicted strain a little way along the member, under the loads asked for."""
    place = float(grid_place(readings.book, member, gauge).distance.value)
    here, before, after = (
        float(statics_at(member, Uncertain.exact(place + way)).lever.value)
        for way in (0.0, -_STEP, _STEP)
    )
    if not here:
        return 0.0
    try:
        curve = readings.prediction(gauge)
    except (InputError, Faults):
        return 0.0  # told beside the strain that can't be predicted
    steepest = 0.0
    for load in readings.asked_loads:
        strain = np.interp(
            [load, load * before / here, load * after / here],
            curve.load,
            curve.first_loading.value,
            left=np.nan,
            right=np.nan,
        )
        change = np.abs(strain[1:] - strain[0]) / _STEP
        steepest = max(steepest, float(np.nanmax(change)) if np.isfinite(change).any() else 0.0)
    return steepest


def _room(
    book: Book, gauges: list[Entry[Gauge]], bar: Entry[Bar], words: dict[str, None]
) -> tuple[float, float | None]:
    """Width of the flat or of what the area aimed at allows, and length of the smoothed zone."""
    stations = {gauge.record.station for gauge in gauges}
    flats = [flat.record.width.value for flat in book.of(Flat) if flat.record.station in stations]
    zones = [z.record.length.value for z in book.of(SmoothedZone) if z.record.station in stations]
    length = min(zones) if zones else None
    if length is None and in_member(book, gauges[0]):
        words[
            "no smoothed zone recorded: ribs stand some 0.4 to 1.2 diameters apart (EN 10080, from "
            "memory); a longer backing needs them taken off"
        ] = None
    if flats:
        words["width of the flat as measured"] = None
        return min(flats), length
    stated = bar.record.diameter
    specimen = book.entry(bar.record.specimen, Specimen).record
    if stated is None or specimen.kind is not SpecimenKind.CAST_MEMBER:
        words["no flat is ground: any width has room"] = None
        return math.inf, length
    share = planned_limit(book, AIM)
    width = _flat_for(stated.value, share)
    words[f"flat whose area lost is {100 * share:.2g} %, limit “{AIM}”"] = None
    return width, length


def _flat_for(diameter: float, share: float) -> float:
    """Width of the flat that takes a share of a round bar's area, by halving."""
    low, high = 0.0, diameter * (1 - 1e-9)
    whole = math.pi / 4 * diameter**2
    for _ in range(60):
        middle = (low + high) / 2
        lost = 1 - float(net_area(whole, diameter, middle).value) / whole
        low, high = (middle, high) if lost < share else (low, middle)
    return low
