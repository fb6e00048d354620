"""What a step says for itself: limits it broke, what is odd in it, the steel that is gone."""

import math
from collections.abc import Mapping
from dataclasses import replace
from zoneinfo import ZoneInfo

from gaugewright.errors import InputError
from gaugewright.present.numbers import fixed_text, significant_text
from gaugewright.present.typed import quantity_typed
from gaugewright.present.units_shown import System, quantity_shown
from gaugewright.records import Entry
from gaugewright.records.benching import BenchReading, MethodStep, RanOut, StepKind
from gaugewright.records.gauges import BenchStep, Gauge, Supply
from gaugewright.records.proof import Censor, Limit
from gaugewright.services.bench.clocks import (
    DEW,
    METAL,
    STILL,
    clocks_kept,
    dew_margin,
    duration_text,
)
from gaugewright.services.bench.coming import latest_steps, steps_of
from gaugewright.services.bench.cure import (
    HIGHEST,
    LOWEST,
    CureTold,
    cure_bounded,
    cure_told,
    fields_of,
)
from gaugewright.services.bench.cure_log import log_typed
from gaugewright.services.bench.log import KeptLog
from gaugewright.services.bench.loss import loss
from gaugewright.services.bench.typed import is_odd, readings_typed
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.laboratory import limit_or_shipped
from gaugewright.services.gating.typed import censored

__all__ = ["CURED", "LOG", "LOST", "judged", "judged_loss"]

LOG, CURED, LOST = "temperature log", "cured share", "steel lost"
_AIR = (
    ("bonding temperature, lowest", "temperature_degc", -1, 1.0, "°C"),
    ("bonding humidity, lowest", "humidity", -1, 100.0, "%"),
    ("bonding humidity, highest", "humidity", 1, 100.0, "%"),
)
_LEAST = ("insulation bonded", "insulation wired", "insulation before pour")


def judged(
    book: Book,
    gauge: Entry[Gauge],
    step: MethodStep,
    made: BenchStep,
    *,
    zone: ZoneInfo,
    system: System,
) -> tuple[BenchStep, KeptLog | None]:
    """The step with its flags and the limits it broke; a log of temperatures is kept beside it.

    Raises
    ------
    InputError
        If what was measured can't be, or a cure is told without its sheet.
    """
    broken, unsure = clocks_kept(book, gauge.uid, step, made)
    dew = _dew(book, step, made)
    flags = [
        *unsure,
        *_missing(book, step, made),
        *_odd(book, gauge, step, made, system),
        *_air(book, step, made),
        *_resistance(book, gauge, step, made),
        *_insulation(book, step, made, system),
        *_others(book, step, made, system),
    ]
    made = replace(made, ran_out=(*broken, *dew), flags=(*made.flags, *flags))
    if step.kind is StepKind.SMOOTH:
        return _with_loss(book, gauge, made, system), None
    if step.kind is StepKind.CURE:
        return _with_cure(book, made, zone)
    return made, None


def _dew(book: Book, step: MethodStep, made: BenchStep) -> tuple[RanOut, ...]:
    if DEW not in step.limits:
        return ()
    metal = next((r.value for r in made.readings if r.what == METAL), None)
    found = dew_margin(book, made, metal)
    if found is None or found[0] >= limit_or_shipped(book, DEW).value:
        return ()
    ref = next((e.ref for e in book.of(Limit) if e.record.label == DEW), None)
    return (RanOut(DEW, found[1], step.name, ref),)


def _missing(book: Book, step: MethodStep, made: BenchStep) -> list[str]:
    told = []
    if step.supplies and not made.supplies:
        told.append(f"no batch of {' or '.join(step.supplies)} is written down")
    if DEW in step.limits and (made.temperature_degc is None or made.humidity is None):
        told.append("dew-point margin can’t be told: air and humidity aren’t written down")
    undated = [book.entry(uid, Supply).record for uid in made.supplies]
    told += [f"{one.label} has no date of expiry" for one in undated if one.expires is None]
    return told


def _odd(
    book: Book, gauge: Entry[Gauge], step: MethodStep, made: BenchStep, system: System
) -> list[str]:
    fields = {field.name: field for field in fields_of(step)}
    return [
        f"{reading.what} {reading.typed} is odd here"
        for reading in made.readings
        if reading.value is not None
        and reading.what in fields
        and is_odd(fields[reading.what], book, gauge, reading.value)
    ]


def _air(book: Book, step: MethodStep, made: BenchStep) -> list[str]:
    """Air that an adhesive doesn't like, by the limits that the step names."""
    told = []
    for label, name, side, scale, unit in _AIR:
        value = getattr(made, name)
        if label not in step.limits or value is None:
            continue
        limit = limit_or_shipped(book, label)
        if side * (value - limit.value) > 0:
            word = "below" if side < 0 else "above"
            what = "air" if name == "temperature_degc" else "humidity"
            told.append(
                f"{what} at {fixed_text(scale * value, 1)} {unit}, {word} "
                f"{significant_text(scale * limit.value)} {unit} ({_source(limit)})"
            )
    return told


def _source(limit: Limit) -> str:
    return limit.source + (", unverified" if limit.unverified else "")


def _resistance(book: Book, gauge: Entry[Gauge], step: MethodStep, made: BenchStep) -> list[str]:
    label = "gauge resistance from nominal"
    typed = next((r for r in made.readings if r.what == "grid resistance"), None)
    if typed is None or label not in step.limits:
        return []
    read = typed.value
    if read is None:
        return [f"grid {typed.typed}: no value to hold against its card"]
    nominal = book.pack_of(gauge).record.gauge_resistance.value
    share, limit = read / nominal - 1, limit_or_shipped(book, label)
    if abs(share) <= limit.value:
        return []
    percent = fixed_text(100 * share, 2, sign=True)
    return [f"grid {percent} % from its card, {100 * limit.value:g} % at most ({_source(limit)})"]


def _insulation(book: Book, step: MethodStep, made: BenchStep, system: System) -> list[str]:
    reading = next((r for r in made.readings if r.what == "insulation"), None)
    if reading is None:
        return []
    censor, rest = censored(reading.typed)
    if censor is Censor.OPEN:  # more than the meter shows at all
        return []
    read = reading.value
    if read is None:
        read = quantity_typed("insulation", rest, "insulation_resistance", system)
    told = []
    for label in _LEAST:
        if label not in step.limits:
            continue
        limit = limit_or_shipped(book, label)
        want = quantity_shown("insulation_resistance", limit.value, None, system).text
        # "> 5 GΩ" passes 1 GΩ; "> 100 MΩ" says nothing of it, as "< 5 GΩ" does.
        is_sure = censor is Censor.EXACT or (censor is Censor.ABOVE) == (read >= limit.value)
        if not is_sure:
            told.append(
                f"insulation {reading.typed}: this meter can’t tell {want} ({_source(limit)})"
            )
        elif read < limit.value:
            have = quantity_shown("insulation_resistance", read, None, system).text
            told.append(f"insulation {have}, less than {want} ({_source(limit)})")
    return told


def _others(book: Book, step: MethodStep, made: BenchStep, system: System) -> list[str]:
    """What another person read of the same fields: both values are kept, and told here."""
    told = []
    for entry in steps_of(book).get(made.gauge, []):
        other = entry.record
        if other.step != step.name or other.person == made.person or other.parked:
            continue
        for what in dict.fromkeys(r.what for r in made.readings if r.value is not None):
            mine, theirs = _typed(made, what), _typed(other, what)
            if theirs and theirs != mine:
                who = book.label(other.person)
                told.append(f"{what}: {who} read {theirs}, you {mine}; both are kept")
    return told


def _typed(made: BenchStep, what: str) -> str:
    return "; ".join(r.typed for r in made.readings if r.what == what)


def judged_loss(
    book: Book, gauge: Entry[Gauge], step: MethodStep, typed: Mapping[str, str], system: System
) -> str:
    """Steel lost at a gauge by what is typed so far; what is asked back first; "" for nothing.

    Raises
    ------
    InputError
        If a number can't be read, or can't be at all.
    """
    readings, questions = readings_typed(book, gauge, step.fields, typed, system)
    if questions:
        return "; ".join(one.sentence for one in questions).rstrip("?") + "?"
    found = loss(book, gauge, readings, system)
    return "" if found is None else "; ".join((found.sentence, *found.flags))


def _with_loss(book: Book, gauge: Entry[Gauge], made: BenchStep, system: System) -> BenchStep:
    found = loss(book, gauge, made.readings, system)
    if found is None:
        return made
    flags = [*found.flags]
    if any("needs a note" in flag for flag in flags) and not made.note:
        flags.append("write a note: why so much, and the area as measured")
    reading = BenchReading(LOST, found.sentence, "", found.share)
    return replace(made, readings=(*made.readings, reading), flags=(*made.flags, *flags))


def _with_cure(book: Book, made: BenchStep, zone: ZoneInfo) -> tuple[BenchStep, KeptLog | None]:
    text = _typed(made, LOG)
    lowest = _value(made, LOWEST)
    if not text and (lowest is None or made.ended is None):
        return _without_log(made), None
    told, kept, above = _cured(book, made, text, lowest, zone)
    readings = tuple(r for r in made.readings if r.what != LOG)
    if kept is not None:
        words = f"{kept.count} readings, kept as {kept.sha256[:12]}"
        readings = (*readings, BenchReading(LOG, words))
    readings = (*readings, BenchReading(CURED, told.sentences[0], "", told.cure.share))
    still = told.cure.still
    if 0 < still < math.inf:
        readings = (*readings, BenchReading(STILL, duration_text(still), "time", still))
    ran_out = made.ran_out
    if told.ran_out is not None and made.ended is not None:
        ran_out = (*ran_out, told.ran_out)
    flags = (*made.flags, *above, *told.sentences[1:])
    return replace(made, readings=readings, ran_out=ran_out, flags=flags), kept


def _without_log(made: BenchStep) -> BenchStep:
    if made.ended is None:
        return made
    flag = "no temperature log and no lowest temperature: whether it is cured can’t be told"
    return replace(made, ran_out=(*made.ran_out, RanOut("cure", flag, "cure")))


def _cured(
    book: Book, made: BenchStep, text: str, lowest: float | None, zone: ZoneInfo
) -> tuple[CureTold, KeptLog | None, tuple[str, ...]]:
    """The cure by its log or by the lowest temperature, whichever promises more: both hold."""
    supplies = _adhesives(book, made)
    bounded = None
    if lowest is not None and made.ended is not None:
        highest = _value(made, HIGHEST)
        bounded = cure_bounded(made.begun, made.ended, lowest, highest, supplies)
    if not text and bounded is not None:
        return bounded, None, ()
    log = log_typed(text, made.begun, zone)
    coldest = min(log.temperatures_degc)
    if lowest is not None and coldest < lowest:
        allowed = f"no higher than the coldest of the log, {fixed_text(coldest, 1)} °C"
        raise InputError(LOWEST, _typed(made, LOWEST), allowed)
    told = cure_told(book, log, supplies)
    if bounded is not None and bounded.cure.share > told.cure.share:
        told = bounded
    above = tuple(f"above the log, not read: {line[:60]}" for line in log.above if _has_digit(line))
    return told, KeptLog(text, len(log.instants)), above


def _has_digit(line: str) -> bool:
    return any(sign.isdigit() for sign in line)


def _value(made: BenchStep, what: str) -> float | None:
    return next((r.value for r in made.readings if r.what == what), None)


def _adhesives(book: Book, made: BenchStep) -> list[Supply]:
    """Supplies of the cure itself, else those that its gauge was bonded with."""
    uids = made.supplies
    bonded = latest_steps(book, made.gauge).get("bond")
    if bonded is not None:
        uids = (*uids, *bonded.record.supplies)
    if not uids:
        do = "name it with the cure or with the bond"
        raise InputError("supplies", "", "the adhesive that cures", do)
    return [book.entry(uid, Supply).record for uid in dict.fromkeys(uids)]
