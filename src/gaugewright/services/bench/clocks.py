"""Clocks of the bench: what a step's times keep or break, and which clocks run now."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from gaugewright.calc.dew_point import dew_point
from gaugewright.present.numbers import fixed_text, significant_text
from gaugewright.records import Entry
from gaugewright.records.benching import ClockKind, MethodClock, MethodStep, RanOut, StepKind
from gaugewright.records.gauges import BenchStep, Gauge, Supply
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Limit
from gaugewright.services.bench.coming import Place, Standing, latest_steps, standing
from gaugewright.services.bench.methods import method_of
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.laboratory import limit_or_shipped

__all__ = ["METAL", "STILL", "Running", "clocks_kept", "dew_margin", "duration_text", "running"]

METAL = "metal temperature"
STILL = "time still wanted"
DEW = "above dew point"
_SHEET = {"pot life": "pot_life", "pressing": "pressing", "next layer": "next_layer"}


@dataclass(frozen=True, slots=True)
class Allowed:
    """How long a clock allows or asks for [s], and who says so."""

    seconds: float
    source: str


@dataclass(frozen=True, slots=True)
class Running:
    """A clock that runs now for some gauges, from one instant to another."""

    name: str
    kind: ClockKind
    gauges: tuple[str, ...]
    step: str
    since: datetime
    until: datetime
    source: str
    redo: str

    def words(self, now: datetime) -> str:
        """What it shows at an instant, as a script goes on to show it."""
        left = (self.until - now).total_seconds()
        if self.kind is ClockKind.AT_LEAST:
            return "ready" if left <= 0 else f"{duration_text(left)} to wait"
        return f"{duration_text(left)} left" if left > 0 else f"ran out {duration_text(-left)} ago"


def duration_text(seconds: float) -> str:
    """A stretch of time as people at a bench say it.

    Examples
    --------
    >>> duration_text(95), duration_text(1800), duration_text(9000)
    ('1 min 35 s', '30 min', '2 h 30 min')
    """
    whole = round(abs(seconds))
    hours, minutes, rest = whole // 3600, whole % 3600 // 60, whole % 60
    if hours:
        return f"{hours} h {minutes} min" if minutes else f"{hours} h"
    if minutes:
        return f"{minutes} min {rest} s" if rest else f"{minutes} min"
    return f"{rest} s"


def allowed_by(book: Book, clock: MethodClock, supplies: Sequence[Supply]) -> Allowed | None:
    """Time of a clock: that of a supply's data sheet, else of the campaign's limit, else none."""
    for supply in supplies:
        seconds = (
            getattr(supply.sheet, _SHEET[clock.sheet]) if clock.sheet and supply.sheet else None
        )
        if seconds is not None and supply.sheet is not None:
            return Allowed(seconds, f"sheet of {supply.label}: {supply.sheet.source}")
    if not clock.limit:
        return None
    limit = limit_or_shipped(book, clock.limit)
    return Allowed(limit.value, limit.source + (", unverified" if limit.unverified else ""))


def clocks_kept(
    book: Book, gauge: Uid, step: MethodStep, made: BenchStep
) -> tuple[tuple[RanOut, ...], tuple[str, ...]]:
    """Limits of time that a step broke, and what about them can't be told."""
    broken: list[RanOut] = []
    unsure: list[str] = []
    done = latest_steps(book, gauge)
    for clock in step.clocks:
        supplies = _supplies(book, clock, made, done)
        limit = allowed_by(book, clock, supplies)
        if limit is None:
            unsure.append(f"{clock.name} can’t be told: no data sheet with it is typed in")
            continue
        passed = _passed(clock, step, made, done)
        if passed is None:
            if clock.since != step.name:
                unsure.append(f"{clock.name} can’t be told: {clock.since} isn’t written down")
            continue
        told = _broken(book, clock, limit, passed)
        broken += [told] if told else []
    return tuple(broken), tuple(unsure)


def _supplies(
    book: Book, clock: MethodClock, made: BenchStep, done: Mapping[str, Entry[BenchStep]]
) -> list[Supply]:
    """Supplies whose sheet a clock goes by: those of the step that it runs from."""
    source = (
        made if clock.since == made.step or clock.since not in done else done[clock.since].record
    )
    return [book.entry(uid, Supply).record for uid in source.supplies]


def _passed(
    clock: MethodClock, step: MethodStep, made: BenchStep, done: Mapping[str, Entry[BenchStep]]
) -> float | None:
    if clock.since == step.name:
        return None if made.ended is None else (made.ended - made.begun).total_seconds()
    earlier = done.get(clock.since)
    if earlier is None:
        return None
    return (made.begun - (earlier.record.ended or earlier.record.begun)).total_seconds()


def _broken(book: Book, clock: MethodClock, limit: Allowed, passed: float) -> RanOut | None:
    is_most = clock.kind is ClockKind.AT_MOST
    if passed <= limit.seconds if is_most else passed >= limit.seconds:
        return None
    bound = "at most" if is_most else "at least"
    sentence = (
        f"{clock.name}: {duration_text(passed)}, {bound} {duration_text(limit.seconds)} "
        f"({limit.source})"
    )
    ref = next((e.ref for e in book.of(Limit) if e.record.label == clock.limit), None)
    return RanOut(clock.name, sentence, clock.redo, ref)


def dew_margin(book: Book, made: BenchStep, metal_degc: float | None) -> tuple[float, str] | None:
    """How far metal is above the dew point [K], and in words; None where the air isn't known."""
    if made.temperature_degc is None or made.humidity is None:
        return None
    dew = float(dew_point(made.temperature_degc, made.humidity))
    warm = made.temperature_degc if metal_degc is None else metal_degc
    margin = warm - dew
    limit = limit_or_shipped(book, DEW)
    what = "the air, metal not measured" if metal_degc is None else "the metal"
    side = "below" if margin >= 0 else "above"
    words = f"dew point {fixed_text(dew, 1)} °C, {fixed_text(abs(margin), 1)} K {side} {what}"
    if margin < limit.value:
        unsure = ", unverified" if limit.unverified else ""
        words += (
            f": less than the {significant_text(limit.value)} K wanted ({limit.source}{unsure})"
        )
    return margin, words


def running(
    book: Book, now: datetime, longest: timedelta = timedelta(days=3)
) -> tuple[Running, ...]:
    """Clocks that run at an instant, those that end first before others; gauges alike together.

    Clocks that ended longer ago than ``longest`` are not shown: work went on without them.
    """
    found: dict[tuple[str, datetime, datetime], Running] = {}
    for gauge in book.of(Gauge):
        for clock in _of_gauge(book, gauge):
            if now - clock.until > longest:
                continue
            key = (clock.name, clock.since, clock.until)
            known = found.get(key)
            gauges = (*known.gauges, *clock.gauges) if known else clock.gauges
            found[key] = replace(clock, gauges=gauges)
    return tuple(sorted(found.values(), key=lambda clock: clock.until))


def _of_gauge(book: Book, gauge: Entry[Gauge]) -> list[Running]:
    """Clocks that run towards a gauge's next step, or within the one that goes on."""
    done = latest_steps(book, gauge.uid)
    if not any(entry.record.method for entry in done.values()):
        return []
    here: Standing = standing(book, gauge, method_of(book, gauge))
    if here.next is None:
        return []
    goes_on = here.next_place is not None and here.next_place.place is Place.GOES_ON
    made = []
    for clock in here.next.clocks:
        earlier = done.get(clock.since)
        if earlier is None:
            continue
        record = earlier.record
        is_own = clock.since == here.next.name
        if record.parked or is_own is not goes_on:
            continue
        since = record.begun if is_own else (record.ended or record.begun)
        limit = allowed_by(book, clock, [book.entry(uid, Supply).record for uid in record.supplies])
        if limit is None:
            continue
        until = since + timedelta(seconds=limit.seconds)
        labels = (gauge.record.label,)
        name = here.next.name
        made.append(
            Running(clock.name, clock.kind, labels, name, since, until, limit.source, clock.redo)
        )
    return [*made, *_cure_clock(book, gauge, here.next, done)]


def _cure_clock(
    book: Book, gauge: Entry[Gauge], step: MethodStep, done: Mapping[str, Entry[BenchStep]]
) -> list[Running]:
    """When a cure will be whole: by what its log still wanted, else by the sheet's own row.

    Without a log the row is that of the air written down, the coldest row without that; either
    way it is a clock to plan by, and the log decides.
    """
    entry = done.get(step.name)
    if step.kind is not StepKind.CURE or entry is None or entry.record.parked:
        return []
    record = entry.record
    wanted = next((r.value for r in record.readings if r.what == STILL), None)
    since = record.ended or record.begun
    if wanted is not None:
        told, name = wanted, "cure, if it stays as warm as at the end of its log"
    elif record.ended is None:
        uids = (*record.supplies, *(done["bond"].record.supplies if "bond" in done else ()))
        sheets = [book.entry(uid, Supply).record.sheet for uid in uids]
        rows = next((sheet.cure for sheet in sheets if sheet and sheet.cure), ())
        air = record.temperature_degc
        reached = [row for row in rows if air is not None and row.temperature_degc <= air]
        row = max(reached, key=lambda row: row.temperature_degc, default=None)
        row = row or min(rows, key=lambda row: row.temperature_degc, default=None)
        if row is None:
            return []
        told, name = row.time, f"cure at {row.temperature_degc:g} °C by the sheet; the log decides"
    else:
        return []
    until = since + timedelta(seconds=told)
    labels = (gauge.record.label,)
    source = "the adhesive’s data sheet"
    return [Running(name, ClockKind.AT_LEAST, labels, step.name, since, until, source, "")]
