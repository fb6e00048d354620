"""What is to be done at a bench: tasks with hands and fixtures, times between them, working hours.

Instants are seconds counted from any origin. Sums and differences of them must be exact, so whole
seconds are best.
"""

import itertools
import math
from dataclasses import dataclass, replace

from gaugewright.calc import allowed

__all__ = ["Hold", "Lag", "Laid", "Task", "Work", "mirrored", "mirrored_plan", "together"]


@dataclass(frozen=True, slots=True)
class Hold:
    """A fixture that a task holds, and for how long around the hands-on part.

    Attributes
    ----------
    fixture : int
        Position among the work's fixtures [1].
    before : float
        Held already so long before the task begins [s].
    after : float
        Held so long after hands leave it, such as a clamp through the cure [s].
    """

    fixture: int
    before: float = 0.0
    after: float = 0.0


@dataclass(frozen=True, slots=True)
class Task:
    """Something one person does without a break.

    Attributes
    ----------
    work : float
        Time that hands are on it [s].
    release : float
        Instant before which it can't begin [s].
    deadline : float
        Instant by which hands must leave it [s].
    holds : tuple of Hold
        Fixtures it needs.
    needs_person : bool
        Whether somebody must be there; without, working hours don't bind it.
    """

    work: float
    release: float = -math.inf
    deadline: float = math.inf
    holds: tuple[Hold, ...] = ()
    needs_person: bool = True


@dataclass(frozen=True, slots=True)
class Lag:
    """Time from the end of one task to the beginning of another.

    Attributes
    ----------
    first, then : int
        Positions of both tasks [1].
    least : float
        So long must pass: a cure [s].
    most : float
        No longer may pass: clean to bond [s].
    """

    first: int
    then: int
    least: float = 0.0
    most: float = math.inf


@dataclass(frozen=True, slots=True)
class Work:
    """All that is to be done, with whom, with what, and when.

    Attributes
    ----------
    tasks : tuple of Task
        What is to be done.
    lags : tuple of Lag
        What must pass between tasks; no task may wait for itself.
    people : int
        How many work at the same time [1].
    fixtures : tuple of int
        How many there are of each [1].
    hours : tuple of (float, float)
        Working hours, one after another; a task with a person lies within one of them [s].
    """

    tasks: tuple[Task, ...]
    lags: tuple[Lag, ...] = ()
    people: int = 1
    fixtures: tuple[int, ...] = ()
    hours: tuple[tuple[float, float], ...] = ((-math.inf, math.inf),)

    def __post_init__(self) -> None:
        with allowed.Together("work") as given:
            one = "one or more"
            given.holds("people", self.people, one, if_=self.people >= 1)
            given.holds("fixtures", self.fixtures, one, if_=all(n >= 1 for n in self.fixtures))
            times = [task.work for task in self.tasks]
            good = all(0 <= time < math.inf for time in times)
            given.holds("work", min(times, default=0), "zero or more", if_=good)
            rising = all(a < b for a, b in self.hours) and all(
                early[1] <= late[0] for early, late in itertools.pairwise(self.hours)
            )
            given.holds("hours", len(self.hours), "in order, without overlap", if_=rising)
            fits = all(lag.least <= lag.most for lag in self.lags)
            given.holds("lags", len(self.lags), "with least not above most", if_=fits)
            held = all(
                hold.fixture < len(self.fixtures) for task in self.tasks for hold in task.holds
            )
            given.holds("holds", "a fixture", "one of those there are", if_=held)


@dataclass(frozen=True, slots=True)
class Laid:
    """A plan: when each task begins.

    Attributes
    ----------
    starts : tuple of float
        Of each task [s].
    reserve : float
        Time that could still be lost at the least reserved task before a bound breaks: in a plan
        worked backward from release to beginning, in one worked forward from end to deadline;
        below 0 the bound is broken [s].
    bound : float
        No plan can reserve more than this [s].
    """

    starts: tuple[float, ...]
    reserve: float
    bound: float


def mirrored(work: Work) -> Work:
    """The same work with time running the other way: what is planned backward plans it forward."""
    tasks = tuple(
        Task(
            task.work,
            -task.deadline,
            -task.release,
            tuple(Hold(h.fixture, h.after, h.before) for h in task.holds),
            task.needs_person,
        )
        for task in work.tasks
    )
    lags = tuple(Lag(lag.then, lag.first, lag.least, lag.most) for lag in work.lags)
    hours = tuple((-late, -early) for early, late in reversed(work.hours))
    return replace(work, tasks=tasks, lags=lags, hours=hours)


def mirrored_plan(work: Work, laid: Laid) -> Laid:
    """Plan of ``work`` from the plan of its mirror image."""
    pairs = zip(laid.starts, work.tasks, strict=True)
    return replace(laid, starts=tuple(-start - task.work for start, task in pairs))


def together(work: Work) -> tuple[tuple[int, ...], ...]:
    """Tasks that must be laid out together, because no more than some time may pass between them.

    Returns
    -------
    tuple of tuples
        Every task once, each tuple in the order in which its tasks are done [1].
    """
    after = _reached(work)
    group = list(range(len(work.tasks)))
    for lag in work.lags:
        if lag.most < math.inf:
            between = {n for n in after[lag.first] if lag.then in after[n]}
            merged = {group[n] for n in (lag.first, lag.then, *between)}
            group = [min(merged) if g in merged else g for g in group]
    place = {n: at for at, n in enumerate(in_order(work))}
    found: dict[int, list[int]] = {}
    for n in sorted(range(len(group)), key=place.__getitem__):
        found.setdefault(group[n], []).append(n)
    return tuple(tuple(one) for one in found.values())


def in_order(work: Work) -> tuple[int, ...]:
    """Tasks with nothing before what it waits for.

    Returns
    -------
    tuple of int
        Positions of the tasks [1].

    Raises
    ------
    InputError
        If tasks wait for each other in a circle.
    """
    waits = [0] * len(work.tasks)
    then: dict[int, list[int]] = {}
    for lag in work.lags:
        waits[lag.then] += 1
        then.setdefault(lag.first, []).append(lag.then)
    free = [n for n, count in enumerate(waits) if not count]
    order: list[int] = []
    while free:
        n = free.pop()
        order.append(n)
        for other in then.get(n, ()):
            waits[other] -= 1
            if not waits[other]:
                free.append(other)
    with allowed.Together("work") as given:
        circle = len(order) == len(waits)
        given.holds("lags", "a circle", "such that no task waits for itself", if_=circle)
    return tuple(order)


def _reached(work: Work) -> list[set[int]]:
    """Tasks that come after each task, at any remove."""
    then: dict[int, list[int]] = {}
    for lag in work.lags:
        then.setdefault(lag.first, []).append(lag.then)
    after: list[set[int]] = [set() for _ in work.tasks]
    for n in reversed(in_order(work)):
        for other in then.get(n, ()):
            after[n] |= {other} | after[other]
    return after
