"""A cure held to the adhesive's sheet: by its temperature log, or by the lowest of the time."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from gaugewright.calc.cure import Cure, SheetRow, cure
from gaugewright.errors import InputError
from gaugewright.present.numbers import fixed_text, significant_text
from gaugewright.records.benching import MethodField, MethodStep, RanOut, StepKind, SupplySheet
from gaugewright.records.gauges import Supply
from gaugewright.services.bench.clocks import duration_text
from gaugewright.services.bench.cure_log import Log
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.laboratory import limit_or_shipped

__all__ = [
    "GAP",
    "HIGHEST",
    "LOWEST",
    "CureTold",
    "cure_bounded",
    "cure_told",
    "fields_of",
    "gap_words",
]

GAP = "gap in a cure log"
_FAR = 10.0  # times what a sheet asks: more of it says nothing
LOWEST, HIGHEST = "lowest temperature", "highest temperature"
# What a cure may be told by where nobody kept a log: every method has these, whatever its text.
_BOUNDS = (
    MethodField(
        LOWEST,
        "temperature_degc",
        -10.0,
        60.0,
        "of the metal from begun to ended, as a minimum–maximum thermometer keeps it; all of the "
        "time is then counted at it",
        each=False,
    ),
    MethodField(
        HIGHEST,
        "temperature_degc",
        -10.0,
        100.0,
        "of the same time; held to the most that the sheet allows",
        each=False,
    ),
)


@dataclass(frozen=True, slots=True)
class CureTold:
    """A cure in numbers and words; ``ran_out`` where it isn't whole."""

    cure: Cure
    sentences: tuple[str, ...]
    ran_out: RanOut | None


def fields_of(step: MethodStep) -> tuple[MethodField, ...]:
    """What a step records: the fields of its method, for a cure the bounds of its temperature."""
    if step.kind is not StepKind.CURE:
        return step.fields
    own = {field.name for field in step.fields}
    shared = tuple(field for field in step.fields if not field.each)
    each = tuple(field for field in step.fields if field.each)
    return (*shared, *(bound for bound in _BOUNDS if bound.name not in own), *each)


def gap_words(book: Book) -> str:
    """How close together the lines of a log have to be."""
    limit = limit_or_shipped(book, GAP)
    unsure = ", unverified" if limit.unverified else ""
    return f"{duration_text(limit.value)} at most ({limit.source}{unsure})"


def cure_told(book: Book, log: Log, supplies: Sequence[Supply]) -> CureTold:
    """What a log is worth by the sheet of the first supply that has a table of cure.

    Raises
    ------
    InputError
        If none has one, or the log is warmer than the sheet allows.
    """
    supply, sheet = _cured_by(supplies)
    gap = limit_or_shipped(book, GAP).value
    found = _by_sheet(log, sheet, gap)
    return _told(found, _sentences(found, supply, gap))


def cure_bounded(
    begun: datetime,
    ended: datetime,
    lowest_degc: float,
    highest_degc: float | None,
    supplies: Sequence[Supply],
) -> CureTold:
    """What a time is worth of which only the lowest temperature is known, never more than it was.

    Raises
    ------
    InputError
        If no supply has a table of cure, or the highest is above what the sheet allows or below
        the lowest.
    """
    supply, sheet = _cured_by(supplies)
    highest = lowest_degc if highest_degc is None else highest_degc
    if highest < lowest_degc:
        lowest = f"{significant_text(lowest_degc)} °C"
        raise InputError(HIGHEST, f"{significant_text(highest)} °C", f"no lower than {lowest}")
    # A stretch counts at the colder of its two readings: from the highest to the lowest, at that.
    log = Log((begun, ended), (highest, lowest_degc))
    found = _by_sheet(log, sheet, log.seconds[-1])
    whole = duration_text(log.seconds[-1])
    words = f"counted as if all of {whole} had been at its lowest, {fixed_text(lowest_degc, 1)} °C"
    told = [*_sentences(found, supply, log.seconds[-1]), words]
    if highest_degc is None and sheet.highest_degc is not None:
        most = f"{significant_text(sheet.highest_degc)} °C"
        told.append(f"no highest temperature: whether it stayed below {most} can’t be told")
    return _told(found, tuple(told))


def _cured_by(supplies: Sequence[Supply]) -> tuple[Supply, SupplySheet]:
    for one in supplies:
        if one.sheet is not None and one.sheet.cure:
            return one, one.sheet
    names = ", ".join(one.label for one in supplies) or "no supply named"
    do = "type the sheet’s temperatures and times in with the supply"
    raise InputError("cure table", names, "that of the adhesive’s data sheet", do)


def _by_sheet(log: Log, sheet: SupplySheet, gap: float) -> Cure:
    return cure(
        log.seconds,
        log.temperatures_degc,
        tuple(SheetRow(row.temperature_degc, row.time) for row in sheet.cure),
        longest_gap=gap,
        highest_degc=math.inf if sheet.highest_degc is None else sheet.highest_degc,
    )


def _told(found: Cure, sentences: tuple[str, ...]) -> CureTold:
    broken = None if found.still == 0 else RanOut("cure", sentences[0], "cure")
    return CureTold(found, sentences, broken)


def _sentences(found: Cure, supply: Supply, gap: float) -> tuple[str, ...]:
    source = supply.sheet.source if supply.sheet else ""
    percent = fixed_text(100 * min(found.share, _FAR), 0)
    first = f"cured to {percent} % of what the sheet of {supply.label} asks ({source})"
    if found.share >= _FAR:
        first = f"cured far beyond what the sheet of {supply.label} asks ({source})"
    if found.still == math.inf:
        first += "; at the last temperature it doesn’t go on"
    elif found.still > 0:
        first += f"; {duration_text(found.still)} more at the last temperature"
    told = [first]
    if found.too_cold:
        told.append(
            f"{duration_text(found.too_cold)} were colder than the sheet’s table: not counted"
        )
    if found.unknown:
        gaps = f"{duration_text(found.unknown)} lie in gaps longer than {duration_text(gap)}"
        do = "the lowest temperature of the whole time would count them"
        told.append(f"{gaps}: not counted; {do}")
    told.append(f"coldest {fixed_text(found.lowest_degc, 1)} °C")
    return tuple(told)
