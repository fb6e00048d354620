"""Which pack, adhesive and protection fit: requirement by requirement, never by product.

Options are numbers on lot cards and families in general words. A requirement kills an option by a
margin; where all are killed, the one that comes nearest is told.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from gaugewright.calc import heating, leads
from gaugewright.calc.selection import Held, Judged, judged, nearest, peak_lost
from gaugewright.errors import InputError
from gaugewright.present.units_shown import System, quantity_shown
from gaugewright.records.families import Adhesive, Coating
from gaugewright.records.gauges import GaugePack, LargeStrainLaw
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.laboratory import limit_or_shipped
from gaugewright.services.plan.needs import Need
from gaugewright.services.plan.packs import PlanPack
from gaugewright.services.showing.listings import Cell, Column, Listing

__all__ = ["Choice", "choices_of", "selection_lists"]

_KELVINS = 10.0  # a temperature missed by this counts as one missed by its whole
_DECLARED = 0.01  # strain above which a chain asks for a declared law [1]
_OVEN = 60.0  # hotter than a heat lamp in a hall makes a bar; cold-worked bars bear no more [degC]
FITS, KILLED, UNTOLD = "fits", "killed", "fits as far as stated"


@dataclass(frozen=True, slots=True)
class Choice:
    """An option for a need: how it was judged, and whether it is the one to take or the nearest."""

    need: Need
    kind: str
    label: str
    origin: str
    judged: Judged
    is_best: bool
    note: str = ""

    @property
    def verdict(self) -> str:
        """Word for it."""
        if self.judged.is_killed:
            return KILLED
        return UNTOLD if self.judged.unknown else FITS


def choices_of(
    book: Book,
    needs: Sequence[Need],
    packs: Sequence[PlanPack],
    families: tuple[tuple[Adhesive, ...], tuple[Coating, ...]],
) -> tuple[Choice, ...]:
    """Every option held against every need."""
    adhesives, coatings = families
    found: list[Choice] = []
    for need in needs:
        found += _judged(
            need,
            "pack",
            [
                (one.label, one.origin, pack_held(book, need, one.pack), one.pack.note)
                for one in packs
            ],
        )
        found += _judged(
            need,
            "adhesive",
            [
                (one.label, one.source, adhesive_held(book, need, one), one.note)
                for one in adhesives
            ],
        )
        found += _judged(
            need,
            "protection",
            [(one.label, one.source, coating_held(need, one), one.note) for one in coatings],
        )
    return tuple(found)


def _judged(
    need: Need, kind: str, options: Sequence[tuple[str, str, list[Held], str]]
) -> list[Choice]:
    verdicts = [judged(held) for _, _, held, _ in options]
    best = nearest(verdicts)
    return [
        Choice(need, kind, label, origin, verdict, place == best, note)
        for place, ((label, origin, _, note), verdict) in enumerate(
            zip(options, verdicts, strict=True)
        )
    ]


def pack_held(book: Book, need: Need, pack: GaugePack) -> list[Held]:
    """Requirements of a pack: grid, backing, resistance, heat, expansion, strain."""
    held = [*_grid_held(book, need, pack), *_strain_held(book, need, pack)]
    width = _or_nan(pack.backing_width)
    held.append(Held("width of backing", "distance", width, need.room, at_least=False))
    if need.length_of_room is not None:
        length = _or_nan(pack.backing_length)
        room = need.length_of_room
        held.append(Held("length of backing", "distance", length, room, at_least=False))
    return held


def _grid_held(book: Book, need: Need, pack: GaugePack) -> list[Held]:
    """Averaging over the grid, loss in the leads, heat."""
    ohm, area = pack.gauge_resistance.value, pack.grid_length * pack.grid_width
    lost = math.nan
    if need.strain > 0:
        lost = float(peak_lost(pack.grid_length, need.gradient, need.strain))
    loss = 1 - float(leads.lead_sensitivity(ohm, need.wire, 1))
    heat = float(heating.gauge_power(need.excitation, ohm)) / area
    averaging = limit_or_shipped(book, "planned error of averaging").value
    share = limit_or_shipped(book, "lead share left uncorrected").value
    return [
        Held("peak lost by averaging", "", lost, averaging, at_least=False),
        Held("loss in the leads", "", loss, share, at_least=False),
        Held("heat on the grid", "power_density", heat, need.density, at_least=False),
    ]


def _strain_held(book: Book, need: Need, pack: GaugePack) -> list[Held]:
    """Expansion, temperatures of the card, strain limit and the law beyond one per cent."""
    wanted = limit_or_shipped(book, "planned strain margin").value * need.strain
    apart = limit_or_shipped(book, "planned difference of expansion").value
    card = pack.thermal_output
    matched = pack.matched_expansion if card is None else card.thermal_expansion
    differs = math.nan if matched is None else abs(matched - need.expansion)
    held = [
        Held("difference of expansion", "thermal_expansion", differs, apart, at_least=False),
        Held("strain limit", "strain", _or_nan(pack.strain_limit), wanted),
    ]
    if card is not None:
        held += [
            _warm("highest on its card", card.high_degc, need.high_degc),
            _cold("lowest on its card", card.low_degc, need.low_degc),
        ]
    if need.strain > _DECLARED:
        declared = pack.large_strain_law is not LargeStrainLaw.NOT_DECLARED
        reach = math.inf if declared else _DECLARED
        held.append(Held("law declared for large strain", "strain", reach, need.strain))
    return held


def _warm(name: str, has: float, needs: float) -> Held:
    """A highest temperature that must reach to what is needed."""
    return Held(name, "temperature_degc", has, needs, scale=_KELVINS)


def _cold(name: str, has: float, needs: float) -> Held:
    """A temperature that must not lie above what is needed."""
    return Held(name, "temperature_degc", has, needs, at_least=False, scale=_KELVINS)


def adhesive_held(book: Book, need: Need, one: Adhesive) -> list[Held]:
    """Requirements of a family of adhesive: strain, time to cure, temperatures, duration."""
    margin = limit_or_shipped(book, "planned strain margin").value
    try:
        bears = limit_or_shipped(book, one.limit).value
    except InputError:
        bears = math.nan  # a laboratory's own family may name a limit nobody has
    held = [
        Held("strain limit", "strain", bears, margin * need.strain),
        Held("time to cure", "time", one.curing, need.curing, at_least=False),
        _cold("heat for its cure", one.cure_degc, _OVEN),
    ]
    if one.low_degc is not None:
        held.append(_cold("lowest temperature", one.low_degc, need.low_degc))
    if one.high_degc is not None:
        held.append(_warm("highest temperature", one.high_degc, need.high_degc))
    if one.longest is not None:
        held.append(Held("duration", "time", one.longest, need.duration))
    return held


def coating_held(need: Need, one: Coating) -> list[Held]:
    """Requirements of a family of protection: environment, duration, heat, strain."""
    is_for = 1.0 if need.environment in one.environments else 0.0
    held = [Held(f"made for {need.environment}", "", is_for, 1.0)]
    if one.longest is not None:
        held.append(Held("duration", "time", one.longest, need.duration))
    if one.high_degc is not None:
        held.append(_warm("highest temperature", one.high_degc, need.high_degc))
    if one.strain_limit is not None:
        held.append(Held("strain it follows", "strain", one.strain_limit, need.strain))
    return held


def _or_nan(value: float | None) -> float:
    return math.nan if value is None else value


def selection_lists(
    needs: Sequence[Need], choices: Sequence[Choice], system: System
) -> tuple[Listing, ...]:
    """What is needed, and how packs, adhesives and protections fare."""
    return (
        _needs(needs, system),
        *(
            _options(kind, title, choices, system)
            for kind, title in (
                ("pack", "Packs"),
                ("adhesive", "Adhesives"),
                ("protection", "Protections"),
            )
        ),
    )


def _company(need: Need, system: System) -> str:
    """Environment, temperatures and times."""
    low, high = (
        quantity_shown("temperature_degc", each, None, system)
        for each in (need.low_degc, need.high_degc)
    )
    days, hours = need.duration / 86400, need.curing / 3600
    return f"{need.environment}, {low.value} to {high.text}, {days:.3g} days, {hours:.3g} h to cure"


def _needs(needs: Sequence[Need], system: System) -> Listing:
    rows: list[tuple[Cell, ...]] = [
        (
            need.label,
            len(need.gauges),
            need.strain,
            round(need.gradient * 1e6 / 1e3, 2),
            None if math.isinf(need.room) else need.room,
            need.expansion,
            _company(need, system),
            "; ".join(need.words),
        )
        for need in needs
    ]
    return Listing(
        "needs",
        "What is needed",
        (
            Column("bar"),
            Column("gauges"),
            Column("largest strain", "strain"),
            Column("gradient [µε/mm]"),
            Column("room for backing", "distance"),
            Column("expansion", "thermal_expansion"),
            Column("company"),
            Column("told"),
        ),
        tuple(rows),
        "What gauges must bear will stand here once stations are placed.",
    )


def _options(kind: str, title: str, choices: Sequence[Choice], system: System) -> Listing:
    rows: list[tuple[Cell, ...]] = []
    for choice in (one for one in choices if one.kind == kind):
        first = "take this" if not choice.judged.is_killed else "nearest; all are killed"
        rows.append(
            (
                choice.need.label,
                choice.label,
                choice.verdict,
                first if choice.is_best else "",
                *_tightest(choice, system),
                choice.origin,
                _told(choice, system),
            )
        )
    return Listing(
        f"{kind}s",
        title,
        (
            Column("bar"),
            Column(kind),
            Column("verdict"),
            Column("choice"),
            Column("decides"),
            Column("has"),
            Column("asked"),
            Column("from"),
            Column("told"),
        ),
        tuple(rows),
        f"No {kind} to choose among.",
        "Decides: the requirement with the least to spare, or the one that misses most.",
    )


def _tightest(choice: Choice, system: System) -> tuple[Cell, Cell, Cell]:
    held = choice.judged.tightest
    if held is None:
        return "", "", ""
    if held.name.startswith("made for"):
        return held.name, "yes" if held.has else "no", ""
    sign = "at least" if held.at_least else "at most"
    return held.name, _shown(held, held.has, system), f"{sign} {_shown(held, held.needs, system)}"


def _told(choice: Choice, system: System) -> str:
    told = [
        f"not {held.name}"
        if held.name.startswith("made for")
        else f"{held.name} kills it: {_shown(held, held.has, system)}, "
        f"{'at least' if held.at_least else 'at most'} {_shown(held, held.needs, system)}, "
        f"misses by {_shown(held, -held.slack, system, is_difference=True)}"
        for held in choice.judged.failing
    ]
    told += [f"{held.name}: nobody stated it" for held in choice.judged.unknown]
    return "; ".join([*told, choice.note] if choice.note else told)


_Shown = Callable[[float], str]
_OWN: dict[str, _Shown] = {
    "": lambda value: f"{100 * value:.2g} %",
    "time": lambda value: (
        f"{value / 86400:.3g} days" if value >= 86400 else f"{value / 3600:.3g} h"
    ),
}


def _shown(held: Held, value: float, system: System, *, is_difference: bool = False) -> str:
    if math.isinf(value):
        return "no end"
    if held.quantity in _OWN:
        return _OWN[held.quantity](value)
    if is_difference and held.quantity == "temperature_degc":
        return f"{value:.3g} K" if system == "si" else f"{1.8 * value:.3g} °F"
    return quantity_shown(held.quantity, value, None, system).text
