"""What a plan uses up, as lists: what to order, lots of gauges, cable, what is in date when."""

import math
from collections.abc import Iterator, Mapping
from datetime import date

from gaugewright.present.units_shown import System, in_shown, unit_shown
from gaugewright.records.gauges import GaugePack, Supply
from gaugewright.services.campaign.book import Book
from gaugewright.services.laboratory.on_shelf import rates_of, shelf_of
from gaugewright.services.showing.listings import Cell, Column, Listing
from gaugewright.services.supplying.supplies import Lot, Needed, Supplies, supplies_of
from gaugewright.settings import Settings
from gaugewright.store.campaign import CampaignStore

__all__ = ["shelf_list", "supply_lists"]

_POUR = ("coating", "wax", "silicone", "mastic", "film", "sealant", "tape")


def supply_lists(
    store: CampaignStore,
    book: Book,
    settings: Settings | None,
    system: System,
    typed: Mapping[str, str],
) -> tuple[Listing, ...]:
    """What to order, lots of gauges, cable, dates, and what it all rests on.

    Raises
    ------
    InputError
        If what was typed can't be used, or no gauge is planned.
    """
    found = supplies_of(store, book, settings, typed)
    return (
        _order(found, system, has_shelf=settings is not None and bool(settings["laboratory"])),
        _lots(found),
        _cable(found),
        _dates(found, book, settings),
        _rests_on(found),
    )


def _name(pack: GaugePack) -> str:
    length, width = 1e3 * pack.grid_length, 1e3 * pack.grid_width
    return f"{pack.gauge_resistance.value:g} Ω, grid {length:g} × {width:g} mm"


def _order(found: Supplies, system: System, *, has_shelf: bool) -> Listing:
    rows: list[tuple[Cell, ...]] = []
    for lot in found.lots:
        if lot.to_install:
            counted = any(left is not None for _, _, left, _ in lot.left)
            have = lot.largest if has_shelf and (counted or not lot.left) else None
            short = None if have is None else max(0, lot.to_install - have)
            told = f"{lot.planned - lot.bonded} to put on and {_spare(lot)} spare; {verdict(lot)}"
            rows.append(
                (f"gauges, {_name(lot.pack)}", lot.to_install, "pieces", None, have, short, told)
            )
    rows += [_row(one, system) for one in found.needed]
    return Listing(
        "supplies",
        "What to order",
        (
            Column("what"),
            Column("needed"),
            Column("unit"),
            Column("packages"),
            Column("on hand"),
            Column("short by"),
            Column("told"),
        ),
        tuple(rows),
        "Every gauge is bonded and wired: ask for the whole plan to see what it took.",
        ("For every gauge of the plan" if found.is_whole else "For gauges that aren't bonded yet")
        + ", spares included. On hand is what is in date; gauges count by their largest lot. "
        "Empty: nobody wrote it down. Packages hold what is lacking.",
    )


def _spare(lot: Lot) -> int:
    return lot.to_install - (lot.planned - lot.bonded)


def _row(one: Needed, system: System) -> tuple[Cell, ...]:
    unit = one.rate.unit

    def shown(value: float | None) -> Cell:
        if value is None:
            return None
        if unit == "m":
            return _rounded(in_shown(value, "length", system))
        return math.ceil(value - 1e-9) if _is_counted(unit) else _rounded(value)

    words = unit_shown("length", system).text if unit == "m" else unit
    told = [f"{one.rate.amount:g} {unit} a {one.rate.per.value}, {one.rate.source}"]
    if one.rate.package is not None:
        told.append(f"a package holds {one.rate.package:g} {unit}")
    old = sum(each.amount for each in one.shelf) - (one.on_hand or 0.0)
    if one.on_hand is not None and old > 0:
        told.append(f"{old:g} {unit} more will be out of date by then")
    if one.rate.note:
        told.append(one.rate.note)
    return (
        one.label,
        shown(one.amount),
        words,
        one.packages,
        shown(one.on_hand),
        shown(one.short),
        "; ".join(told),
    )


def _is_counted(unit: str) -> bool:
    return unit in ("pieces", "pairs", "sheets", "sets")


def _rounded(value: float) -> float:
    return float(f"{value:.3g}")


def verdict(lot: Lot) -> str:
    """What packs on hand come to, and of which lot those are that are on already."""
    on = f"; those that are on are of lot {lot.pack.lot}" if lot.bonded else ""
    return _on_hand(lot) + on


def _on_hand(lot: Lot) -> str:
    """Enough of one lot, one lot short, or so many short."""
    if not lot.left:
        return "no pack of this kind is on hand"
    if all(left is None for _, _, left, _ in lot.left):
        return "a pack is on hand, but nobody counted it"
    need, lots = lot.to_install, lot.by_lot()
    name, most = max(lots.items(), key=lambda item: item[1])
    if most >= need:
        return f"lot {name} has enough: {most - need} left over"
    total = sum(lots.values())
    if total >= need:
        factors = sorted({factor for _, _, left, factor in lot.left if left})
        apart = 100 * (factors[-1] / factors[0] - 1)
        return (
            f"one lot short: {total} are on hand but lot {name}, the largest, has {most}, "
            f"{need - most} too few; lots mixed would mix gauge factors "
            f"{', '.join(f'{factor:g}' for factor in factors)}, {apart:.2g} % apart"
        )
    return f"short by {need - most} of one lot: {total} on hand, {need} needed"


def _lots(found: Supplies) -> Listing:
    rows: list[tuple[Cell, ...]] = []
    for lot in found.lots:
        spare = _spare(lot)
        have = "; ".join(
            f"{label}, lot {name}: {'not counted' if left is None else left}"
            for label, name, left, _ in lot.left
        )
        rows.append(
            (
                _name(lot.pack),
                ", ".join(part.kind.value for part in lot.parts),
                lot.planned,
                lot.bonded,
                spare,
                lot.to_install,
                have or "none",
                verdict(lot) if lot.to_install else "every one is bonded",
            )
        )
    return Listing(
        "gauge-lots",
        "Gauges by lot",
        (
            Column("gauges"),
            Column("on"),
            Column("planned"),
            Column("bonded"),
            Column("spares"),
            Column("still needed"),
            Column("packs on hand"),
            Column("told"),
        ),
        tuple(rows),
        "No gauge is planned.",
        "Gauges of one specimen should be of one lot: each lot has a gauge factor of its own.",
    )


def _cable(found: Supplies) -> Listing:
    rows: list[tuple[Cell, ...]] = [
        (
            run.label,
            ", ".join(run.gauges),
            run.wires,
            run.along,
            run.onward,
            run.slack,
            run.whole,
            run.words,
        )
        for run in found.runs
    ]
    return Listing(
        "cable",
        "Cable along its route",
        (
            Column("lead"),
            Column("gauges"),
            Column("wires"),
            Column("along the bar", "length"),
            Column("on to the plug", "length"),
            Column("slack", "length"),
            Column("whole", "length"),
            Column("from"),
        ),
        tuple(rows),
        "No lead is planned.",
        "Type how far it is from the end of the bar to the plug, and each route is added up; "
        "else lengths are those recorded, or the planned lead length.",
    )


def _dates(found: Supplies, book: Book, settings: Settings | None) -> Listing:
    rows = [_dated(found, batch) for batch in dict.fromkeys(_batches(found, book))]
    named = (("bonding", found.bonding), ("the pour", found.pour))
    asked = [f"no day of {words} is planned or typed" for words, day in named if day is None]
    return Listing(
        "in-date",
        "In date when it is used",
        (
            Column("what"),
            Column("batch"),
            Column("from"),
            Column("good until"),
            Column("needed until"),
            Column("verdict"),
        ),
        tuple(rows),
        "No batch is written down: enter supplies at the bench, or what is on the shelf.",
        "; ".join(
            [
                *asked,
                "adhesive, cleaners and gauges must be in date on the day of bonding, "
                "protection until the pour",
            ]
        )
        + ".",
    )


def _batches(found: Supplies, book: Book) -> Iterator[tuple[str, str, str, date | None, str]]:
    for one in found.needed:
        for shelf in one.shelf:
            yield one.rate.label, shelf.batch, "on the shelf", shelf.expires, one.rate.until
    for entry in book.of(Supply):
        supply = entry.record
        until = "pour" if any(word in supply.what.casefold() for word in _POUR) else "bonding"
        rate = next((one.rate for one in found.needed if one.rate.label == supply.what), None)
        yield (
            supply.what,
            supply.batch,
            "written down at the bench",
            supply.expires,
            until if rate is None else rate.until,
        )
    for lot in found.lots:
        pack = lot.pack
        yield f"gauges, {pack.label}", pack.lot, "pack", pack.expires, "bonding"


def _dated(found: Supplies, mine: tuple[str, str, str, date | None, str]) -> tuple[Cell, ...]:
    what, batch, source, expires, until = mine
    day = found.pour if until == "pour" else found.bonding
    wanted = f"{until}, {day.isoformat()}" if day is not None else until
    good = "" if expires is None else expires.isoformat()
    if not until:
        told = "keeps"
    elif expires is None:
        told = "no date on record"
    elif day is None:
        told = f"type the day of {'the pour' if until == 'pour' else 'bonding'}"
    else:
        spare = (expires - day).days
        days = f"{abs(spare)} day{'s' if abs(spare) != 1 else ''}"
        told = f"in date, {days} to spare" if spare >= 0 else f"out of date {days} before"
    return (what, batch, source, good, wanted, told)


def _rests_on(found: Supplies) -> Listing:
    rows: list[tuple[Cell, ...]] = [("assumed", words) for words in found.assumed]
    rows += [("reckoned with", words) for words in found.words]
    return Listing(
        "rests-on",
        "What it rests on",
        (Column("how"), Column("told")),
        tuple(rows),
        "Nothing was assumed.",
        "Rates are those of supplies.toml: a laboratory's own file takes their place.",
    )


def shelf_list(settings: Settings | None) -> Listing:
    """Supplies on the laboratory's shelf."""
    units = {rate.label: rate.unit for rate in rates_of(settings)}
    rows: list[tuple[Cell, ...]] = [
        (
            one.label,
            one.amount,
            units.get(one.label, ""),
            one.batch,
            "" if one.expires is None else one.expires.isoformat(),
        )
        for one in shelf_of(settings)
    ]
    return Listing(
        "shelf",
        "On the shelf",
        (
            Column("what"),
            Column("left"),
            Column("unit"),
            Column("batch"),
            Column("good until"),
        ),
        tuple(rows),
        "Nothing is written down as on the shelf.",
        "Kept line by line in the laboratory's folder; nothing is erased.",
    )
