"""What is still to be done at the bench as tasks with times: from gauges, methods and records."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from gaugewright.calc.bench_work import Hold, Lag, Task, Work
from gaugewright.calc.cure import SheetRow, cure
from gaugewright.errors import InputError
from gaugewright.present.captions import listed
from gaugewright.records import Entry
from gaugewright.records.benching import ClockKind, MethodClock, MethodStep, StepKind
from gaugewright.records.gauges import Gauge, Supply
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Method
from gaugewright.records.scheduling import BenchDays
from gaugewright.records.specimen import Station
from gaugewright.services.bench.clocks import STILL, allowed_by, duration_text
from gaugewright.services.bench.coming import Place, Standing, standing
from gaugewright.services.bench.methods import method_of
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.laboratory import limit_or_shipped, shipped_records

__all__ = ["Bench", "Piece", "bench_of", "pour_of"]

_REACH = timedelta(days=250)  # how far working hours are laid out to both sides
_COLDEST = "bonding temperature, lowest"
_NAMED = 6
_BEHIND = (Place.DONE, Place.NOT_WRITTEN, Place.GOES_ON)


@dataclass(frozen=True, slots=True)
class Piece:
    """One task: a step of a gauge, with steps that only wait after it, and why it waits."""

    gauge: Entry[Gauge]
    steps: tuple[str, ...]
    hands_on: float
    waits: float
    why: str


@dataclass(frozen=True, slots=True, eq=False)
class Bench:
    """What is to be done; instants of ``work`` are seconds from the pour."""

    days: BenchDays
    zone: ZoneInfo
    pour: datetime
    now: datetime
    work: Work
    pieces: tuple[Piece, ...]
    told: tuple[str, ...]
    clocked: Mapping[int, float] = field(default_factory=dict)

    def at(self, seconds: float) -> datetime:
        """Instant of a number of seconds from the pour."""
        return self.pour + timedelta(seconds=seconds)

    def seconds(self, instant: datetime) -> float:
        """Whole seconds of an instant from the pour."""
        return float(round((instant - self.pour).total_seconds()))

    def due(self, reserve: float) -> Work:
        """The work with so much kept free before the pour; a running clock isn't moved by it."""
        tasks = tuple(
            replace(t, deadline=min(-p.waits - reserve, self.clocked.get(n, math.inf)))
            for n, (t, p) in enumerate(zip(self.work.tasks, self.pieces, strict=True))
        )
        return replace(self.work, tasks=tasks)


def pour_of(days: BenchDays, zone: ZoneInfo) -> datetime:
    """Instant at which all must be ready."""
    at = time.fromisoformat(days.pour_time)
    return datetime.combine(days.pour_day, at, zone).astimezone(ZoneInfo("UTC"))


def bench_of(book: Book, days: BenchDays, zone: ZoneInfo, now: datetime) -> Bench:
    """Tasks of every gauge as its method and its records have it.

    Raises
    ------
    InputError
        If a time isn't known or something can't cure, with what would help.
    """
    pour = pour_of(days, zone)
    now = now.replace(microsecond=0)
    first = now
    if days.begins_day is not None:
        day = datetime.combine(days.begins_day, time(0), zone).astimezone(ZoneInfo("UTC"))
        first = max(now, day)
    frame = Bench(days, zone, pour, now, Work(()), (), ())
    building = _Building(book, frame, frame.seconds(first))
    for gauge in book.of(Gauge):
        _Chain(building, gauge, method_of(book, gauge)).built()
    for words in _left_out(book, days):
        building.tell(words)
    work = Work(
        tuple(building.tasks),
        tuple(building.lags),
        len(days.people),
        tuple(one.count for one in days.fixtures),
        _hours(frame),
    )
    _refuse_too_long(building.pieces, work)
    return replace(
        frame,
        work=work,
        pieces=tuple(building.pieces),
        told=tuple(dict.fromkeys(building.told)),
        clocked=building.clocked,
    )


def _left_out(book: Book, days: BenchDays) -> Iterator[str]:
    """What the days don't know of, so that nobody takes the plan for more than it is."""
    gauged = {gauge.record.station for gauge in book.of(Gauge)}
    bare = [entry.record.label for entry in book.of(Station) if entry.uid not in gauged]
    if bare:
        yield f"no work is planned at stations without a gauge: {listed(bare, most=_NAMED)}"
    if len(days.people) > 1:
        yield f"all {len(days.people)} people are taken to be there in all the working hours"


def _hours(bench: Bench) -> tuple[tuple[float, float], ...]:
    day = (min(bench.pour, bench.now) - _REACH).astimezone(bench.zone).date()
    last = (max(bench.pour, bench.now) + _REACH).astimezone(bench.zone).date()
    found = []
    while day <= last:
        for row in bench.days.hours if day not in bench.days.days_off else ():
            if row.has(day.weekday()):
                ends = [time.fromisoformat(text) for text in (row.begins, row.ends)]
                begin, end = (datetime.combine(day, one, bench.zone) for one in ends)
                found.append((bench.seconds(begin), bench.seconds(end)))
        day += timedelta(days=1)
    return tuple(sorted(found))


def _refuse_too_long(pieces: Sequence[Piece], work: Work) -> None:
    longest = max((end - begin for begin, end in work.hours), default=0.0)
    for piece in pieces:
        if piece.hands_on > longest:
            raise InputError(
                f"hands-on time of {piece.steps[0]}",
                duration_text(piece.hands_on),
                f"at most the longest row of working hours, {duration_text(longest)}",
                "make a row longer, or give the step’s own time",
            )


@dataclass(slots=True)
class _Building:
    """Tasks, lags and pieces while they are gathered."""

    book: Book
    bench: Bench
    first: float
    tasks: list[Task] = field(default_factory=list)
    lags: list[Lag] = field(default_factory=list)
    pieces: list[Piece] = field(default_factory=list)
    told: list[str] = field(default_factory=list)
    clocked: dict[int, float] = field(default_factory=dict)

    def supplies(self) -> list[Supply]:
        """Supplies whose sheets are planned by."""
        return [self.book.entry(uid, Supply).record for uid in self.bench.days.supplies]

    def tell(self, words: str) -> None:
        """Say something that was assumed, once."""
        self.told.append(words)

    def times(self, method: Method, step: MethodStep, adhesive: Sequence[Uid]) -> "_Times":
        """How long a step takes and waits: typed for these days, by a sheet, by the method."""
        own = next((one for one in self.bench.days.times if one.step == step.name), None)
        shipped = _shipped(self.book, step)
        hands = _first(own.hands_on if own else None, step.hands_on, shipped.hands_on)
        if hands is None:
            raise InputError(
                f"hands-on time of {step.name}",
                None,
                "known for every step",
                "type it under “Times of your own”",
            )
        if own is not None and own.waiting is not None:
            by = f" ({own.source})" if own.source else ""
            return _Times(hands, own.waiting, f"{step.name} as typed{by}" if own.waiting else "")
        if step.kind is StepKind.CURE:
            waits, why = self._cured(step, adhesive)
            return _Times(hands, waits, why)
        waits = _first(step.waiting, shipped.waiting) or 0.0
        return _Times(hands, waits, f"{step.name}, {method.label}" if waits else "")

    def _cured(self, step: MethodStep, adhesive: Sequence[Uid]) -> tuple[float, str]:
        warm = self.bench.days.temperature_degc
        for fixture in self.bench.days.fixtures:
            if fixture.temperature_degc is not None and step.name in fixture.steps:
                warm = fixture.temperature_degc
        used = [self.book.entry(uid, Supply).record for uid in adhesive]
        supply = next((s for s in (*used, *self.supplies()) if s.sheet and s.sheet.cure), None)
        if supply is None or supply.sheet is None:
            return self._cured_without_sheet(step, warm)
        rows = tuple(SheetRow(row.temperature_degc, row.time) for row in supply.sheet.cure)
        most = supply.sheet.highest_degc
        if most is not None and warm > most:
            raise InputError(
                f"temperature of {step.name}", f"{warm:g} °C", f"{most:g} °C at most by the sheet"
            )
        # A log of one second at that temperature: what it still wants is the rest of the cure.
        wanted = cure((0.0, 1.0), (warm, warm), rows, longest_gap=2.0).still + 1.0
        if wanted == float("inf"):
            coldest = min(row.temperature_degc for row in supply.sheet.cure)
            raise InputError(
                f"cure of {supply.label} at {warm:g} °C",
                "never ends",
                f"planned at {coldest:g} °C or more, where its sheet begins",
                "warm the place, give a fixture with its temperature, or take another adhesive",
            )
        return wanted, f"{step.name} of {supply.label} at {warm:g} °C"

    def _cured_without_sheet(self, step: MethodStep, warm: float) -> tuple[float, str]:
        waits = _first(step.waiting, _shipped(self.book, step).waiting)
        limit = limit_or_shipped(self.book, _COLDEST).value
        if waits is None or warm < limit:
            raise InputError(
                f"time of {step.name} at {warm:g} °C",
                None,
                "known",
                "choose a supply whose sheet has its temperatures and times, or type the "
                "waiting time under “Times of your own”",
            )
        self.tell(
            f"{step.name}: {duration_text(waits)} at any temperature, common practice, no source; "
            "a supply with its sheet’s table of cure would say it for the hall’s temperature"
        )
        return waits, f"{step.name}, no sheet"

    def holds(self, steps: Sequence[str], waits: float) -> tuple[Hold, ...]:
        """Fixtures of a step and of what waits with it."""
        return tuple(
            Hold(n, 0.0, waits if one.is_held else 0.0)
            for n, one in enumerate(self.bench.days.fixtures)
            if set(one.steps) & set(steps)
        )


@dataclass(frozen=True, slots=True)
class _Times:
    hands_on: float
    waits: float
    why: str


def _first(*values: float | None) -> float | None:
    return next((value for value in values if value is not None), None)


def _shipped(book: Book, step: MethodStep) -> MethodStep:
    """The shipped step of that kind: a campaign's older copy of a method has no times."""
    for record in book.once("shipped records", lambda _: shipped_records()):
        for one in record.steps if isinstance(record, Method) else ():
            if one.kind is step.kind:
                return one
    return step


class _Chain:
    """Steps of one gauge, one after another."""

    def __init__(self, building: _Building, gauge: Entry[Gauge], method: Method) -> None:
        self.b = building
        self.gauge = gauge
        self.method = method
        self.here: Standing = standing(building.book, gauge, method)
        self.ready = building.first
        self.last: int | None = None  # task before
        self.waits = 0.0  # after that task
        self.tasks: dict[str, int] = {}
        self.ended: dict[str, float] = {}
        self.adhesive: tuple[Uid, ...] = ()

    def built(self) -> None:
        """Add what is still to be done."""
        again = self._again()
        for n, one in enumerate(self.here.places):
            times = self.b.times(self.method, one.step, self.adhesive)
            if one.place in _BEHIND and n not in again:
                self._behind(n, times)
            elif times.hands_on == 0 and one.step.kind is StepKind.CURE:
                self._waiting(one.step, times)
            else:
                self._task(one.step, times)

    def _again(self) -> set[int]:
        """Steps that are done but must be done anew because a clock from them has run out."""
        again: set[int] = set()
        names = [one.step.name for one in self.here.places]
        now = self.b.bench.seconds(self.b.bench.now)
        for n, one in enumerate(self.here.places):
            if one.place in _BEHIND:
                continue
            for clock in one.step.clocks:
                since = names.index(clock.since) if clock.since in names else n
                end = self._end_on_record(since)
                limit = self._limit(clock)
                if clock.kind is not ClockKind.AT_MOST or since >= n or end is None:
                    continue
                if limit is not None and now > end + limit and clock.redo in names:
                    again |= set(range(names.index(clock.redo), n))
                    self.b.tell(
                        f"{self.gauge.record.label}: {clock.name} has run out, {clock.redo} is "
                        "planned again"
                    )
        return again

    def _end_on_record(self, n: int) -> float | None:
        one = self.here.places[n]
        if one.place not in _BEHIND or one.entry is None:
            return None
        record = one.entry.record
        return self.b.bench.seconds(record.ended or record.begun)

    def _limit(self, clock: MethodClock) -> float | None:
        allowed = allowed_by(self.b.book, clock, self.b.supplies())
        return None if allowed is None else allowed.seconds

    def _behind(self, n: int, times: _Times) -> None:
        """A step that is done or goes on: what comes after waits for it."""
        one = self.here.places[n]
        if one.entry is None:
            return
        record, bench = one.entry.record, self.b.bench
        if one.step.kind is StepKind.BOND:
            self.adhesive = record.supplies
        begun = bench.seconds(record.begun)
        if one.place is Place.GOES_ON:
            still = next((r.value for r in record.readings if r.what == STILL), None)
            end = max(begun + times.hands_on, self.b.first if times.hands_on else begun)
            free = begun + still if still is not None else end + times.waits
        else:
            end = bench.seconds(record.ended or record.begun)
            free = end if one.step.kind is StepKind.CURE else end + times.waits
        self.ended[one.step.name] = end
        self.ready = max(self.ready, free)

    def _waiting(self, step: MethodStep, times: _Times) -> None:
        """A step that only waits belongs to the task before it."""
        if self.last is None:
            bonded = self.ended.get("bond", self.b.first)
            self.ended[step.name] = max(self.ready, bonded + times.waits)
            self.ready = self.ended[step.name]
            return
        self.waits += times.waits
        self.tasks[step.name] = self.last
        piece = self.b.pieces[self.last]
        self._held(self.last, (*piece.steps, step.name), times.why)

    def _held(self, n: int, steps: tuple[str, ...], why: str) -> None:
        """Give a task its waiting, its fixtures and what must be over before the pour."""
        piece = self.b.pieces[n]
        words = "; ".join(dict.fromkeys(one for one in (piece.why, why) if one))
        self.b.pieces[n] = replace(piece, steps=steps, waits=self.waits, why=words)
        self.b.tasks[n] = replace(
            self.b.tasks[n],
            deadline=min(-self.waits, self.b.clocked.get(n, math.inf)),
            holds=self.b.holds(steps, self.waits),
        )

    def _task(self, step: MethodStep, times: _Times) -> None:
        n = len(self.b.tasks)
        work = max(times.hands_on, self._pressed(step))
        self.b.tasks.append(Task(work, self.ready))
        self.b.pieces.append(Piece(self.gauge, (step.name,), work, 0.0, ""))
        if self.last is not None:
            self.b.lags.append(Lag(self.last, n, self.waits))
        for clock in step.clocks:
            self._clocked(n, clock)
        self.last, self.waits = n, times.waits
        self.tasks[step.name] = n
        self._held(n, (step.name,), times.why)

    def _pressed(self, step: MethodStep) -> float:
        own = [c for c in step.clocks if c.since == step.name and c.kind is ClockKind.AT_LEAST]
        return max((self._limit(clock) or 0.0 for clock in own), default=0.0)

    def _clocked(self, n: int, clock: MethodClock) -> None:
        """Times from an earlier step to this one."""
        limit = self._limit(clock)
        if limit is None:
            return
        earlier, ended = self.tasks.get(clock.since), self.ended.get(clock.since)
        if clock.since == self.b.pieces[n].steps[0]:
            return
        if clock.kind is ClockKind.AT_LEAST:
            if earlier is not None:
                waited = self.waits if earlier == self.last else 0.0
                self.b.lags.append(Lag(earlier, n, waited + limit))
            elif ended is not None:
                task = self.b.tasks[n]
                self.b.tasks[n] = replace(task, release=max(task.release, ended + limit))
        elif earlier is not None:
            self.b.lags.append(Lag(earlier, n, 0.0, limit))
        elif ended is not None:
            late = ended + limit
            self.b.clocked[n] = min(late + self.b.tasks[n].work, self.b.clocked.get(n, math.inf))
            self.b.told.append(
                f"{self.gauge.record.label}: {clock.name} runs until "
                f"{self.b.bench.at(late).astimezone(self.b.bench.zone):%d %b %H:%M}"
            )
