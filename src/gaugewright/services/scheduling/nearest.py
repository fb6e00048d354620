"""Why the pour can't be met, and the nearest plan that can be: found by trying, not guessed."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import timedelta

from gaugewright.calc.bench_schedule import laid_backward
from gaugewright.calc.bench_slack import latest_starts
from gaugewright.calc.bench_work import Laid, Work, mirrored
from gaugewright.errors import InputError
from gaugewright.present.numbers import fixed_text
from gaugewright.records.gauges import Supply
from gaugewright.records.scheduling import DAYS, BenchDays, WorkingHours
from gaugewright.services.bench.clocks import duration_text
from gaugewright.services.campaign.book import Book
from gaugewright.services.scheduling.work import Bench, bench_of

__all__ = ["binding", "meets", "nearest"]

_MANY = 1000
FRIDAY = DAYS.index("Fri")
_MORE_PEOPLE, _MORE_HOURS, _MORE_FIXTURES, _DAYS = 6, 6, 6, 240
Change = tuple[str, Sequence[tuple[str, BenchDays]]]


def meets(work: Work) -> bool:
    """Whether a plan worked forward keeps every deadline: proof that there is one."""
    image = mirrored(work)
    for rank in (_by_bound, _by_place):
        plan = laid_backward(image, rank)
        if plan is not None and plan.reserve >= 0:
            return True
    return False


def _by_bound(n: int, bound: float) -> float:
    return bound


def _by_place(n: int, bound: float) -> float:
    return -float(n)


def binding(bench: Bench) -> tuple[str, ...]:
    """What stands in the way, each told by what happens without it."""
    work = bench.work
    latest = latest_starts(work)
    late = [
        n
        for n, (start, task) in enumerate(zip(latest, work.tasks, strict=True))
        if start < task.release
    ]
    if late:
        return (_way_too_long(bench, min(late, key=lambda n: latest[n] - work.tasks[n].release)),)
    told = []
    many = replace(work, people=_MANY)
    if meets(many):
        told.append(f"{_count(work.people, 'person', 'people')} at the bench: {_hands(bench)}")
    for n, fixture in enumerate(bench.days.fixtures):
        counts = tuple(_MANY if m == n else count for m, count in enumerate(work.fixtures))
        if meets(replace(work, fixtures=counts)):
            told.append(f"{fixture.label}: there are {fixture.count}")
    if not told:
        told.append(f"people and fixtures together, in these working hours: {_hands(bench)}")
    return tuple(told)


def _way_too_long(bench: Bench, n: int) -> str:
    """The way of one gauge that is too long even with any number of people and fixtures."""
    gauge = bench.pieces[n].gauge
    mine = [piece for piece in bench.pieces if piece.gauge.uid == gauge.uid]
    waits = [f"{piece.why}: {duration_text(piece.waits)}" for piece in mine if piece.waits]
    hands = sum(piece.hands_on for piece in mine)
    left = -max(bench.work.tasks[n].release, bench.seconds(bench.now))
    until = duration_text(left) if left > 0 else f"none, the pour is {duration_text(left)} past"
    return (
        f"{gauge.record.label}: {duration_text(hands)} of hands-on work within working hours and "
        f"waiting ({'; '.join(waits) or 'none'}) don’t fit into what is left until the pour "
        f"({until}), however many people there are"
    )


def _hands(bench: Bench) -> str:
    hands = sum(piece.hands_on for piece in bench.pieces)
    first = min(task.release for task in bench.work.tasks)
    hours = sum(max(0.0, min(end, 0.0) - max(begin, first)) for begin, end in bench.work.hours)
    return (
        f"{duration_text(hands)} of hands-on work, {duration_text(hours)} of working hours "
        "until the pour"
    )


def _count(number: int, one: str, several: str) -> str:
    return f"{number} {one if number == 1 else several}"


def nearest(book: Book, bench: Bench, plan: Laid) -> tuple[str, ...]:
    """The least of each change alone with which the pour is met, each tried.

    The first is the earliest pour with everything else as it is.
    """
    told = [_pour(book, bench, plan)]
    for what, changes in _changes(book, bench):
        if changes:
            told.append(_least(book, bench, what, changes))
    return tuple(told)


def _least(book: Book, bench: Bench, what: str, changes: Sequence[tuple[str, BenchDays]]) -> str:
    """The first of some changes with which the pour is met, or that none is enough."""
    refused = ""
    for words, days in changes:
        try:
            tried = bench_of(book, days, bench.zone, bench.now)
        except InputError as problem:
            refused = f"; {words} can’t be planned: {problem}"
            continue
        if meets(tried.work):
            return words
    return f"not {what} alone{refused}"


def _pour(book: Book, bench: Bench, plan: Laid) -> str:
    ends = [
        start + piece.hands_on + piece.waits
        for start, piece in zip(plan.starts, bench.pieces, strict=True)
    ]
    day = bench.at(max(ends)).astimezone(bench.zone).date()
    for _ in range(_DAYS):
        days = replace(bench.days, pour_day=day)
        weekday = any(row.has(day.weekday()) for row in days.hours)
        if weekday and day not in days.days_off:
            tried = bench_of(book, days, bench.zone, bench.now)
            if meets(tried.work):
                return f"the pour on {day:%a} {day.day} {day:%B %Y} at {days.pour_time}"
        day += timedelta(days=1)
    raise InputError("pour", str(bench.days.pour_day), "within reach", "look at the working hours")


def _changes(book: Book, bench: Bench) -> Iterator[Change]:
    days = bench.days
    people = [
        (f"{_count(n, 'more person', 'more people')} at the bench", _with_people(days, n))
        for n in range(1, _MORE_PEOPLE + 1)
    ]
    yield "more people", people
    yield "longer days", list(_longer(days))
    yield "working on weekends", list(_weekends(days))
    for at, fixture in enumerate(days.fixtures):
        more = [
            (f"{n} more of {fixture.label}", _with_fixture(days, at, n))
            for n in range(1, _MORE_FIXTURES + 1)
        ]
        yield f"more of {fixture.label}", more
    warmer = list(_warmer(book, days))
    if warmer:
        yield "a warmer hall", warmer


def _with_people(days: BenchDays, more: int) -> BenchDays:
    return replace(days, people=(*days.people, *days.people[:1] * more))


def _with_fixture(days: BenchDays, at: int, more: int) -> BenchDays:
    fixtures = tuple(
        replace(one, count=one.count + more) if n == at else one
        for n, one in enumerate(days.fixtures)
    )
    return replace(days, fixtures=fixtures)


def _longer(days: BenchDays) -> Iterator[tuple[str, BenchDays]]:
    latest: dict[str, str] = {}
    for row in days.hours:
        latest[row.first_day] = max(latest.get(row.first_day, ""), row.ends)
    last = max((int(ends[:2]) for ends in latest.values()), default=23)
    for more in range(1, min(_MORE_HOURS, 23 - last) + 1):
        rows = tuple(
            _later(row, more) if row.ends == latest[row.first_day] else row for row in days.hours
        )
        yield (
            f"{_count(more, 'more hour', 'more hours')} at the end of every day",
            replace(days, hours=rows),
        )


def _later(row: WorkingHours, more: int) -> WorkingHours:
    hour, minute = row.ends.split(":")
    return replace(row, ends=f"{int(hour) + more:02d}:{minute}")


def _weekends(days: BenchDays) -> Iterator[tuple[str, BenchDays]]:
    for words, until in (("working on Saturdays too", "Sat"), ("working on weekends too", "Sun")):
        rows = tuple(
            replace(row, last_day=until)
            if FRIDAY <= DAYS.index(row.last_day) < DAYS.index(until)
            else row
            for row in days.hours
        )
        if rows != days.hours:
            yield words, replace(days, hours=rows)


def _warmer(book: Book, days: BenchDays) -> Iterator[tuple[str, BenchDays]]:
    sheets = [book.entry(uid, Supply).record.sheet for uid in days.supplies]
    rows = {row.temperature_degc for sheet in sheets if sheet for row in sheet.cure}
    for warm in sorted(rows):
        if warm > days.temperature_degc:
            words = f"a hall of {fixed_text(warm, 0)} °C at least, nights included"
            yield words, replace(days, temperature_degc=warm)
