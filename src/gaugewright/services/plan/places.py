"""Which stations would answer a question that names none: pairs, depths, rows, where it is most.

Only for members that are described: their statics say where the moment is greatest.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import Faults, InputError
from gaugewright.present.numbers import significant_text
from gaugewright.records import Entry
from gaugewright.records.identity import Uid
from gaugewright.records.member import Held, Member
from gaugewright.records.specimen import Bar, Question, Specimen, SpecimenKind, Station
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.laboratory import limit_or_shipped
from gaugewright.services.members.member_statics import moment_at, statics_at
from gaugewright.services.members.members import WholeMember, member_of

__all__ = ["ProposedStations", "proposed_stations", "standing_stations"]

_PAIR = (0.0, math.pi)
_DATUM = "end of the bar nearest the member's datum"
_SAME = 1e-6  # two datums nearer than that are one place [m]
_ROW = 5  # places of a row along a shear span
_CLEAR = 0.1  # share of a shear span that a row keeps from its ends


@dataclass(frozen=True, slots=True)
class ProposedStations:
    """Stations for a question, why these, or why none can be proposed."""

    stations: tuple[Station, ...]
    words: str


def proposed_stations(book: Book, question: Entry[Question]) -> ProposedStations:
    """Stations that would answer a question; one that stands at such a place is taken for it."""
    found = _proposed(book, question)
    there = tuple(_standing(book, station) or station for station in found.stations)
    return ProposedStations(tuple({(s.bar, s.label): s for s in there}.values()), found.words)


def standing_stations(book: Book) -> dict[tuple[Uid, str], Entry[Station]]:
    """Stations on record by bar and label."""
    return {(entry.record.bar, entry.record.label): entry for entry in book.of(Station)}


def _standing(book: Book, wanted: Station) -> Station | None:
    """Station that stands where one is wanted, within what bonding is allowed."""
    along = limit_or_shipped(book, "planned place tolerance").value
    round_it = limit_or_shipped(book, "planned clock angle tolerance").value
    for entry in book.of(Station):
        record = entry.record
        if record.bar != wanted.bar or record.datum != wanted.datum:
            continue
        turn = math.remainder(record.angle_planned - wanted.angle_planned, 2 * math.pi)
        away = abs(record.distance_planned - wanted.distance_planned)
        if away <= along and abs(turn) <= round_it:
            return record
    return None


def _proposed(book: Book, question: Entry[Question]) -> ProposedStations:
    """Stations by the member's statics.

    A pair of opposite gauges at each place: one alone can't tell the bar's own bending. For
    curvature at two depths; for bond a row along the longer shear span; else on the bars that
    are pulled most, where the moment is greatest.
    """
    members = book.of(Member)
    if not members:
        return _on_metal(book)
    entry = members[0]
    bar = book.entry(entry.record.bars[0].bar, Bar)
    try:
        member = member_of(book, bar)
    except (InputError, Faults) as problem:
        return ProposedStations((), f"no place can be proposed: {problem}")
    quantity = question.record.quantity
    if quantity == "bond stress":
        return _row(book, member)
    at = _most(member)
    statics, record = statics_at(member, Uncertain.exact(at)), member.entry.record
    if quantity == "curvature":
        chosen = [_lowest(member)[0], _highest(member)[0]]
        words = "pairs on a lower and an upper bar where the moment is greatest"
    elif statics.axial_share > 0 and not record.load_points:
        chosen = list(range(len(member.bars)))
        words = "a pair on each bar half-way along, for all of them carry the pull"
    elif statics.axial_share < 0:
        chosen = [*_lowest(member), *_highest(member)]
        words = "a pair on each lowest and each highest bar, for either may yield first"
    elif statics.is_upside_down:
        chosen = _highest(member)
        words = "a pair on each bar at the highest depth, which is pulled, at the greatest moment"
    else:
        chosen = _lowest(member)
        words = "a pair on each bar at the lowest depth where the moment is greatest"
    stations = [station for number in chosen for station in _pair(member, number, at)]
    words = f"{words}, {significant_text(at)} m from {member.entry.record.datum}"
    return _counted_alike(book, member, stations, words)


def _counted_alike(
    book: Book, member: WholeMember, stations: list[Station], words: str
) -> ProposedStations:
    """Stations that count from where those of their bar count from already.

    Where these count from two places, or from the member's datum though the bar's own lies
    elsewhere on the member, their words aren't those of the distance: it keeps its own.
    """
    known: dict[Uid, set[str]] = {}
    for entry in book.of(Station):
        known.setdefault(entry.record.bar, set()).add(entry.record.datum)
    found: list[Station] = []
    apart: dict[str, None] = {}
    for each in stations:
        words_there = known.get(each.bar, {each.datum})
        if len(words_there) > 1 or _is_elsewhere(member, each.bar, words_there):
            apart[book.label(each.bar)] = None
            found.append(each)
        else:
            found.append(replace(each, datum=next(iter(words_there))))
    if apart:
        words += (
            f". Stations of {', '.join(apart)} are said to count from elsewhere than the bar’s "
            f"datum in the member: proposed distances count from the {_DATUM}"
        )
    return ProposedStations(tuple(found), words)


def _is_elsewhere(member: WholeMember, bar: Uid, words: set[str]) -> bool:
    """Whether stations count from the member's datum while the bar's own is another place."""
    own = next(placed.place.begins.value for placed in member.bars if placed.bar.uid == bar)
    return member.entry.record.datum in words and abs(own) > _SAME


def _lowest(member: WholeMember) -> list[int]:
    depths = [float(member.values[f"bar_depth_{n}"].value) for n in range(len(member.bars))]
    return [n for n, depth in enumerate(depths) if depth > max(depths) - 1e-3]


def _highest(member: WholeMember) -> list[int]:
    depths = [float(member.values[f"bar_depth_{n}"].value) for n in range(len(member.bars))]
    return [n for n, depth in enumerate(depths) if depth < min(depths) + 1e-3]


def _most(member: WholeMember) -> float:
    """Middle of the length over which the moment under the load is greatest [m]."""
    if member.entry.record.held is Held.AT_ITS_ENDS:
        return _half_way(member)
    supports = member.entry.record.supports
    first, last = float(supports[0].value), float(supports[-1].value)
    along = np.linspace(first, last, 401)
    moment = np.array(
        [
            float(moment_at(statics_at(member, Uncertain.exact(at)), Uncertain.exact(1e3)).value)
            for at in along
        ]
    )
    size = np.abs(moment)
    if not size.max() > 0:
        return float(round((first + last) / 2, 3))
    high = along[size >= size.max() * (1 - 1e-3)]
    # Two places far apart may be equally bent: the middle between them isn't.
    gaps = np.flatnonzero(np.diff(high) > 2 * (along[1] - along[0]))
    high = high[: gaps[0] + 1] if gaps.size else high
    return float(round((high[0] + high[-1]) / 2, 3))


def _half_way(member: WholeMember) -> float:
    """Middle of the longest bar: ends, where load comes in, are as far as can be [m]."""
    placed = max(member.bars, key=lambda one: one.bar.record.length or 0.0)
    length = placed.bar.record.length or 0.0
    return float(round(placed.place.begins.value + length / 2, 3))


def _pair(member: WholeMember, number: int, at: float) -> list[Station]:
    placed = member.bars[number]
    distance = round(at - float(placed.place.begins.value), 4)
    label = placed.bar.record.label
    return [
        Station(f"{label}-{side}{round(at * 1e3)}", placed.bar.uid, _DATUM, distance, angle)
        for side, angle in zip(("T", "U"), _PAIR, strict=True)
    ]


def _row(book: Book, member: WholeMember) -> ProposedStations:
    """Pairs along the longer shear span of the lowest bar nearest the middle."""
    record = member.entry.record
    places = sorted(float(point.distance.value) for point in record.load_points)
    if not places:
        return ProposedStations((), "no row can be proposed: no load acts across the member")
    first, last = float(record.supports[0].value), float(record.supports[-1].value)
    spans = [(first, places[0]), (places[-1], last)]
    begin, end = max(spans, key=lambda span: span[1] - span[0])
    if not end > begin:
        return ProposedStations((), "no row can be proposed: the loads stand on the supports")
    length = end - begin
    along = np.linspace(begin + _CLEAR * length, end - _CLEAR * length, _ROW)
    number = min(_lowest(member), key=lambda n: abs(float(member.values[f"bar_across_{n}"].value)))
    stations = [station for at in along for station in _pair(member, number, float(round(at, 3)))]
    return _counted_alike(
        book,
        member,
        stations,
        f"{_ROW} pairs along bar {member.bars[number].bar.record.label} in the shear span from "
        f"{significant_text(begin)} to {significant_text(end)} m",
    )


def _on_metal(book: Book) -> ProposedStations:
    """Opposite pairs in the middle of each piece of bare metal with a length."""
    stations: list[Station] = []
    for bar in book.of(Bar):
        kind = book.entry(bar.record.specimen, Specimen).record.kind
        if kind is SpecimenKind.DUMMY or bar.record.length is None:
            continue
        middle = round(bar.record.length / 2, 4)
        stations += [
            Station(f"{bar.record.label}-{side}", bar.uid, "end of the piece", middle, angle)
            for side, angle in zip(("T", "U"), _PAIR, strict=True)
        ]
    if not stations:
        return ProposedStations(
            (), "no place can be proposed: neither a member nor a length of bare metal is described"
        )
    return ProposedStations(
        tuple(stations), "an opposite pair in the middle of each piece, clear of its ends"
    )
