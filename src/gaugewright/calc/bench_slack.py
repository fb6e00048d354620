"""How early and how late can each task be, with the order of a plan kept?

The critical path method with two things more: working hours, into which every bound is rounded,
and longest times between tasks, which bind the later task from above. All bounds only ever fall,
so going round until none does gives the one latest plan there is.
"""

import itertools
import math
from collections import deque

from gaugewright.calc.bench_placing import Placing
from gaugewright.calc.bench_work import Hold, Laid, Work, mirrored

__all__ = ["earliest_starts", "latest_starts", "people_of", "reserve_bound"]

Arc = tuple[int, int, float]


def latest_starts(work: Work, laid: Laid | None = None) -> tuple[float, ...]:
    """Latest beginning of every task that still keeps all deadlines.

    Parameters
    ----------
    work : Work
        What is to be done.
    laid : Laid
        Plan whose order of people and fixtures is kept; None where people and fixtures count for
        nothing, as in the critical path method.

    Returns
    -------
    tuple of float
        Beginnings; minus infinity where hours and deadlines have no place [s].
    """
    arcs = [*_lag_arcs(work), *([] if laid is None else _order_arcs(work, laid))]
    below: dict[int, list[tuple[int, float]]] = {}
    for low, high, apart in arcs:
        below.setdefault(high, []).append((low, apart))
    placing = Placing(work)
    tasks = work.tasks
    found = [placing.within_hours(task, task.deadline - task.work) for task in tasks]
    waiting = deque(range(len(tasks)))
    while waiting:
        high = waiting.popleft()
        for low, apart in below.get(high, ()):
            bound = found[high] - apart
            if bound < found[low]:
                found[low] = placing.within_hours(tasks[low], bound)
                waiting.append(low)
    return tuple(found)


def earliest_starts(work: Work, laid: Laid | None = None) -> tuple[float, ...]:
    """Earliest beginning of every task after its release.

    Parameters
    ----------
    work : Work
        What is to be done.
    laid : Laid
        As for ``latest_starts``.

    Returns
    -------
    tuple of float
        Beginnings; infinity where the hours have no place [s].
    """
    image = None
    if laid is not None:
        pairs = zip(laid.starts, work.tasks, strict=True)
        image = Laid(tuple(-start - task.work for start, task in pairs), 0.0, 0.0)
    found = latest_starts(mirrored(work), image)
    return tuple(-start - task.work for start, task in zip(found, work.tasks, strict=True))


def _lag_arcs(work: Work) -> list[Arc]:
    """(low, high, apart): the one begins no later than the other minus so much."""
    arcs: list[Arc] = []
    for lag in work.lags:
        length = work.tasks[lag.first].work
        arcs.append((lag.first, lag.then, length + lag.least))
        if lag.most < math.inf:
            arcs.append((lag.then, lag.first, -length - lag.most))
    return arcs


def _order_arcs(work: Work, laid: Laid) -> list[Arc]:
    """Arcs of who or what goes on from one task to the next."""
    arcs: list[Arc] = []
    people = people_of(work, laid)
    for person in range(work.people):
        mine = [n for n, one in enumerate(people) if one == person]
        arcs += _chain(work, laid, [(n, Hold(0)) for n in mine])
    for fixture, count in enumerate(work.fixtures):
        held = [
            (n, hold)
            for n, task in enumerate(work.tasks)
            for hold in task.holds
            if hold.fixture == fixture
        ]
        spans = [_span(work, laid, one) for one in held]
        units = _units(spans, count)
        for unit in range(count):
            mine_held = [one for one, at in zip(held, units, strict=True) if at == unit]
            arcs += _chain(work, laid, mine_held)
    return arcs


def _span(work: Work, laid: Laid, held: tuple[int, Hold]) -> tuple[float, float]:
    n, hold = held
    start = laid.starts[n]
    return start - hold.before, start + work.tasks[n].work + hold.after


def _chain(work: Work, laid: Laid, held: list[tuple[int, Hold]]) -> list[Arc]:
    ordered = sorted(held, key=lambda one: (_span(work, laid, one)[0], laid.starts[one[0]]))
    return [
        (early, late, work.tasks[early].work + mine.after + other.before)
        for (early, mine), (late, other) in itertools.pairwise(ordered)
    ]


def _units(spans: list[tuple[float, float]], count: int) -> list[int]:
    """Which of several alike takes each span; spans never need more than there are."""
    ends = [-math.inf] * count
    found = [0] * len(spans)
    for n in sorted(range(len(spans)), key=lambda n: spans[n]):
        begin, end = spans[n]
        free = [unit for unit in range(count) if ends[unit] <= begin]
        found[n] = max(free, key=lambda unit: ends[unit])
        ends[found[n]] = max(ends[found[n]], end)
    return found


def people_of(work: Work, laid: Laid) -> tuple[int, ...]:
    """Who does each task: whoever did what came before it, if free, else whoever was busy last.

    Parameters
    ----------
    work : Work
        What is to be done.
    laid : Laid
        A plan that keeps everything that binds it.

    Returns
    -------
    tuple of int
        Persons from 0; -1 where nobody is needed [1].
    """
    before: dict[int, list[int]] = {}
    for lag in work.lags:
        before.setdefault(lag.then, []).append(lag.first)
    ends = [-math.inf] * work.people
    found = [-1] * len(work.tasks)
    for n in sorted(range(len(work.tasks)), key=lambda n: (laid.starts[n], n)):
        task = work.tasks[n]
        if not task.needs_person:
            continue
        start = laid.starts[n]
        free = [one for one in range(work.people) if ends[one] <= start]
        known = [found[other] for other in before.get(n, ()) if found[other] in free]
        found[n] = known[0] if known else max(free, key=lambda one: ends[one])
        ends[found[n]] = start + task.work
    return tuple(found)


def reserve_bound(work: Work) -> float:
    """No plan worked backward can have more reserve than this.

    Two reasons hold for any plan: no task begins later than the critical path lets it, and all
    tasks that must have ended by an instant need people's hours and fixtures' time before it.

    Parameters
    ----------
    work : Work
        What is to be done.

    Returns
    -------
    float
        Bound of ``Laid.reserve`` [s].
    """
    latest = latest_starts(work)
    floors = floors_of(work)
    bound = min(
        (start - floor for start, floor in zip(latest, floors, strict=True)), default=math.inf
    )
    lowest = min(floors, default=0.0)
    handled = [
        (start + task.work, task.work)
        for start, task in zip(latest, work.tasks, strict=True)
        if task.needs_person
    ]
    for end, total in _needed_by(handled):
        bound = min(bound, _begun_by(work, end, total / work.people) - lowest)
    for fixture, count in enumerate(work.fixtures):
        held = [
            (start + task.work + hold.after, hold)
            for start, task in zip(latest, work.tasks, strict=True)
            for hold in task.holds
            if hold.fixture == fixture
        ]
        lengths = [
            (over, hold.before + task.work + hold.after)
            for (over, hold), task in zip(
                held, [t for t in work.tasks for h in t.holds if h.fixture == fixture], strict=True
            )
        ]
        before = max((hold.before for _, hold in held), default=0.0)
        for over, total in _needed_by(lengths):
            bound = min(bound, over - total / count + before - lowest)
    return bound


def _needed_by(parts: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Time that all that must be over by an instant takes together, for every such instant."""
    parts.sort()
    total = 0.0
    found = []
    for end, length in parts:
        total += length
        if math.isfinite(end):
            found.append((end, total))
    return found


def floors_of(work: Work) -> list[float]:
    """What reserve is counted from: releases, or the origin where no task has one [s]."""
    releases = [task.release for task in work.tasks]
    if all(release == -math.inf for release in releases):
        return [0.0] * len(releases)
    return releases


def _begun_by(work: Work, end: float, length: float) -> float:
    """Latest instant from which so much working time fits before an end."""
    left = length
    for begin, close in reversed(work.hours):
        room = min(close, end) - begin
        if room <= 0:
            continue
        if room >= left:
            return min(close, end) - left
        left -= room
    return -math.inf
