"""What smoothing took from a bar at a gauge, from what was measured at the bench."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from gaugewright.calc import bar, smoothed
from gaugewright.calc.evaluation import stated_standard_uncertainty
from gaugewright.calc.net_area import net_area
from gaugewright.calc.uncertainty import InputQuantity, Uncertain, combination
from gaugewright.errors import InputError
from gaugewright.present.numbers import quantity_text
from gaugewright.present.units_shown import System, quantity_shown
from gaugewright.records import Entry
from gaugewright.records.benching import BenchReading
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import Limit
from gaugewright.records.specimen import Bar, Specimen, SpecimenKind
from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.laboratory import limit_or_shipped
from gaugewright.services.chaining.causes import uncertain_of_stated

__all__ = [
    "CALLIPER",
    "DEPTH",
    "DIAMETER",
    "WIDTH",
    "ZONE",
    "Loss",
    "has_opposite",
    "loss",
    "measured",
]

DIAMETER, ZONE, WIDTH, DEPTH = "diameter left", "zone length", "flat width", "flat depth"
CALLIPER = "calliper limit"


@dataclass(frozen=True, slots=True)
class Loss:
    """Steel lost at a gauge: share with its expanded uncertainty, in a sentence, and flags."""

    share: float
    expanded: float
    sentence: str
    flags: tuple[str, ...]


def measured(readings: Sequence[BenchReading], what: str) -> tuple[float, ...]:
    """Numbers of one field, in the order in which they were typed."""
    return tuple(r.value for r in readings if r.what == what and r.value is not None)


def loss(
    book: Book, gauge: Entry[Gauge], readings: Sequence[BenchReading], system: System
) -> Loss | None:
    """Share of the bar's steel that is gone where the gauge lies; None where nothing tells.

    The zone by the mean square of its diameters, the flat cut into what that leaves. A strand
    has no round section that a calliper would tell, and a plate none at all.

    Raises
    ------
    InputError
        If the flat is as wide as the bar, or the zone larger than the bar.
    """
    whole = _whole(book, gauge)
    width = _flat_width(book, gauge, readings)
    diameters = measured(readings, DIAMETER)
    if whole is None or (width is None and len(diameters) < 2):
        return None
    bar_area, bar_diameter = whole
    flats = 2 if has_opposite(book, gauge) else 1
    if len(diameters) >= 2:
        zone = smoothed.smoothed_zone(diameters, bar_area, _calliper(readings), "zone")
        flat = width or Uncertain.exact(0.0)
        left = smoothed.area_at_gauge(zone, flat, flats=flats)
    elif width is not None:
        core = Uncertain.exact(diameters[0]) if diameters else bar_diameter
        cut = net_area(bar_area.value, core.value, width.value, flats=flats)
        left = combination(
            cut.value,
            [(bar_area, cut.by_area), (core, cut.by_diameter), (width, cut.by_flat_width)],
        )
    lost = 1.0 - left / bar_area
    told = _told(book, readings, lost, left, system)
    if flats == 1 or width is None:
        return told
    return replace(told, sentence=told.sentence + ", with a like flat for the gauge opposite")


def has_opposite(book: Book, gauge: Entry[Gauge]) -> bool:
    """Whether another gauge, and so a like flat, lies on the other side of the bar."""
    return gauge.record.opposite is not None or any(
        other.record.opposite == gauge.uid for other in book.of(Gauge)
    )


def _told(
    book: Book, readings: Sequence[BenchReading], lost: Uncertain, left: Uncertain, system: System
) -> Loss:
    share, doubt = lost.value.item(), lost.expanded().item()
    area = quantity_shown("area", left.value.item(), left.expanded().item() or None, system)
    percent = quantity_text(100 * share, 100 * doubt or None, "%")
    sentence = f"{percent} of the steel is gone, {area.text} is left"
    flags = []
    for label, words in (("area lost, with a note", "needs a note"), ("area lost, aim", "aim")):
        limit = limit_or_shipped(book, label)
        if share > limit.value:
            flags.append(
                f"more steel is gone than {100 * limit.value:g} % ({words}; {_source(limit)})"
            )
            break
    flags += _contradiction(readings, system)
    return Loss(share, doubt, sentence, tuple(flags))


def _source(limit: Limit) -> str:
    return limit.source + (", unverified" if limit.unverified else "")


def _whole(book: Book, gauge: Entry[Gauge]) -> tuple[Uncertain, Uncertain] | None:
    """Area of the whole bar and its diameter, or None where it isn't a round bar."""
    record: Bar = book.bar_of(gauge).record
    kind = book.entry(record.specimen, Specimen).record.kind
    if record.diameter is None or record.area is None or kind is SpecimenKind.STRAND:
        return None
    if record.wall_thickness is not None:
        return None
    return (
        uncertain_of_stated("area", record.area, "area of the bar"),
        uncertain_of_stated("diameter", record.diameter, "diameter of the bar"),
    )


def _flat_width(
    book: Book, gauge: Entry[Gauge], readings: Sequence[BenchReading]
) -> Uncertain | None:
    """Width of the flat as measured, else that of its depth on the round core."""
    limit = _limit(readings)
    widths, depths = measured(readings, WIDTH), measured(readings, DEPTH)
    if widths:
        mean = sum(widths) / len(widths)
        stated = Stated(mean, limit, Meaning.LIMIT, Basis.MEASURED, "calliper")
        return uncertain_of_stated("flat width", stated, "width of the flat")
    diameter = measured(readings, DIAMETER)
    record = book.bar_of(gauge).record.diameter
    core = diameter[0] if diameter else (record.value if record else 0.0)
    if not depths or not core:
        return None
    return Uncertain.exact(bar.flat_width(core, depths[0]).item())


def _limit(readings: Sequence[BenchReading]) -> float | None:
    given = measured(readings, CALLIPER)
    return given[0] if given else None


def _calliper(readings: Sequence[BenchReading]) -> InputQuantity:
    """Error common to all readings of one calliper; its scatter is in the diameters themselves."""
    limit = _limit(readings)
    doubt = 0.0 if limit is None else stated_standard_uncertainty(limit, Meaning.LIMIT.value)
    return InputQuantity("calliper", doubt, basis="measured", meaning="limit of the calliper")


def _contradiction(readings: Sequence[BenchReading], system: System) -> list[str]:
    """A depth that isn't that of the width: one is misread, or the flat isn't on the core."""
    widths, depths = measured(readings, WIDTH), measured(readings, DEPTH)
    diameters = measured(readings, DIAMETER)
    if not (widths and depths and diameters):
        return []
    try:
        expected = bar.flat_depth(diameters[0], widths[0]).item()
    except InputError:
        return []
    if abs(expected - depths[0]) <= max(0.1e-3, 0.3 * expected):
        return []
    wide, deep, not_deep = (
        quantity_shown(quantity, float(f"{value:.2g}"), None, system).text
        for quantity, value in (
            ("flat_width", widths[0]),
            ("flat_depth", expected),
            ("flat_depth", depths[0]),
        )
    )
    return [f"a flat {wide} wide is {deep} deep on this bar, not {not_deep}: measure both again"]
