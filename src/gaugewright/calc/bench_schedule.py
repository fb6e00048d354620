"""In which order is a bench's work done, so that it can begin as late as may be?

A list scheduler that works backward from the deadlines: of all tasks with nothing left to lay out
after them one is chosen by a rule and laid out as late as it fits. Tasks with a longest time
between them are laid out together and moved earlier until they hold. Several rules are tried, and
each plan is pushed forward and backward again, which never makes it worse (double justification:
Valls, Ballestín and Quintanilla, European Journal of Operational Research 165 (2005) 375-386, from
memory). What comes out holds; that it is the best isn't promised, the bound says how far at most.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from gaugewright.calc.bench_placing import Placing
from gaugewright.calc.bench_slack import floors_of, reserve_bound
from gaugewright.calc.bench_work import (
    Lag,
    Laid,
    Work,
    in_order,
    mirrored,
    mirrored_plan,
    together,
)

__all__ = ["earliest_plan", "laid_backward", "latest_plan"]

_ROUNDS = 3
_TRIES = 5000
Rank = Callable[[int, float], float]


def latest_plan(work: Work) -> Laid | None:
    """Plan that keeps deadlines and begins as late as the rules find.

    Parameters
    ----------
    work : Work
        What is to be done; releases aren't kept but told of, as reserve below 0.

    Returns
    -------
    Laid or None
        None where the working hours given don't reach far enough back.
    """
    best: Laid | None = None
    for rank in _rules(work):
        best = _better(work, best, _justified(work, laid_backward(work, rank)))
    return best if best is None else replace(best, bound=reserve_bound(work))


def earliest_plan(work: Work) -> Laid | None:
    """Plan that keeps releases and ends as early as the rules find; the mirror image.

    Parameters
    ----------
    work : Work
        What is to be done; deadlines aren't kept but told of, as reserve below 0.

    Returns
    -------
    Laid or None
        None where the working hours given don't reach far enough on.
    """
    image = latest_plan(mirrored(work))
    return None if image is None else mirrored_plan(work, image)


def _rules(work: Work) -> tuple[Rank, ...]:
    """Which of the tasks that can be laid out comes first: higher is sooner."""
    ways = _ways_before(work)
    count = len(work.tasks)
    return (
        lambda n, bound: ways[n],
        lambda n, bound: bound,
        lambda n, bound: float(n) / count,
        lambda n, bound: -float(n) / count,
    )


def _ways_before(work: Work) -> list[float]:
    """Longest way of work and waiting that lies before each task."""
    ways = [0.0] * len(work.tasks)
    then: dict[int, list[Lag]] = {}
    for lag in work.lags:
        then.setdefault(lag.first, []).append(lag)
    for n in in_order(work):
        for lag in then.get(n, ()):
            ways[lag.then] = max(ways[lag.then], ways[n] + work.tasks[n].work + lag.least)
    return ways


def _better(work: Work, best: Laid | None, other: Laid | None) -> Laid | None:
    if best is None or other is None:
        return best or other
    # Of plans that can wait as long, the one that begins its tasks later handles them fresher.
    mine, its = (best.reserve, sum(best.starts)), (other.reserve, sum(other.starts))
    return other if its > mine else best


def _justified(work: Work, plan: Laid | None) -> Laid | None:
    """A plan pushed forward and back again, as long as that gains something."""
    for _ in range(_ROUNDS):
        if plan is None:
            return None
        first = min(plan.starts, default=0.0)
        held = replace(
            work,
            tasks=tuple(replace(t, release=max(t.release, first)) for t in work.tasks),
        )
        image = mirrored(held)
        pushed = laid_backward(image, _by([-start for start in plan.starts]))
        if pushed is None:
            return plan
        back = laid_backward(work, _by([-start for start in pushed.starts]))
        if back is None or _better(work, plan, back) is plan:
            return plan
        plan = back
    return plan


def _by(places: Sequence[float]) -> Rank:
    """Rule that follows another plan."""
    return lambda n, bound: places[n]


def laid_backward(work: Work, rank: Rank, kept: Mapping[int, float] | None = None) -> Laid | None:
    """One plan by one rule, around tasks that are ``kept`` where they are.

    Parameters
    ----------
    work : Work
        What is to be done.
    rank : callable
        Of a task and the latest beginning that is left to it; the highest is laid out first.
    kept : mapping
        Beginnings of tasks that stay, by position; what they break is for the caller to see.

    Returns
    -------
    Laid or None
        None where the working hours have no place.
    """
    laying = _Laying(work, dict(kept or {}))
    for n, start in laying.starts.items():
        laying.placing.put(work.tasks[n], start)
    if not laying.all_laid(rank):
        return None
    starts = tuple(laying.starts[n] for n in range(len(work.tasks)))
    pairs = zip(starts, floors_of(work), strict=True)
    reserve = min((start - floor for start, floor in pairs), default=math.inf)
    return Laid(starts, reserve, math.inf)


@dataclass(slots=True)
class _Laying:
    """A plan while it is made."""

    work: Work
    starts: dict[int, float]
    placing: Placing = field(init=False)
    then: dict[int, list[Lag]] = field(init=False)
    kept: frozenset[int] = field(init=False)

    def __post_init__(self) -> None:
        self.placing = Placing(self.work)
        self.kept = frozenset(self.starts)
        self.then = {}
        for lag in self.work.lags:
            self.then.setdefault(lag.first, []).append(lag)

    def all_laid(self, rank: Rank) -> bool:
        """Lay out group after group; whether every one found its place."""
        groups = [tuple(n for n in group if n not in self.kept) for group in together(self.work)]
        groups = [group for group in groups if group]
        of = {n: at for at, group in enumerate(groups) for n in group}
        waits = [0] * len(groups)
        frees: dict[int, list[int]] = {}
        for first, then in {
            (of[lag.first], of[lag.then])
            for lag in self.work.lags
            if lag.first in of and lag.then in of and of[lag.first] != of[lag.then]
        }:
            waits[first] += 1
            frees.setdefault(then, []).append(first)
        ready = {at: self._rank(groups[at], rank) for at, n in enumerate(waits) if not n}
        while ready:
            at = max(ready, key=lambda at: (ready[at], -at))
            del ready[at]
            if not self._laid(groups[at]):
                return False
            for other in frees.get(at, ()):
                waits[other] -= 1
                if not waits[other]:
                    ready[other] = self._rank(groups[other], rank)
        return True

    def _rank(self, group: tuple[int, ...], rank: Rank) -> float:
        return max(rank(n, self._bound(n, math.inf)) for n in group)

    def _bound(self, n: int, most: float) -> float:
        """Latest beginning that deadline and the tasks after it leave."""
        task = self.work.tasks[n]
        bound = min(most, task.deadline - task.work)
        for lag in self.then.get(n, ()):
            if lag.then in self.starts:
                bound = min(bound, self.starts[lag.then] - lag.least - task.work)
        return bound

    def _laid(self, group: tuple[int, ...]) -> bool:
        """Lay out tasks that belong together, earlier and earlier until their times hold."""
        most: dict[int, float] = {}
        for _ in range(_TRIES):
            outcome = self._tried(group, most)
            if outcome is not None:
                return outcome
        return False

    def _tried(self, group: tuple[int, ...], most: dict[int, float]) -> bool | None:
        """True once it holds, False where there is no place, None to be tried again."""
        put: list[int] = []
        for n in reversed(group):
            task = self.work.tasks[n]
            start = self.placing.latest(task, self._bound(n, most.get(n, math.inf)))
            if start == -math.inf:
                return False
            self.starts[n] = start
            self.placing.put(task, start)
            put.append(n)
            far = [
                lag
                for lag in self.then.get(n, ())
                if lag.then in put and self.starts[lag.then] - start - task.work > lag.most
            ]
            if far:
                for lag in far:
                    bound = start + task.work + lag.most
                    most[lag.then] = min(most.get(lag.then, math.inf), bound)
                for other in put:
                    self.placing.take(self.work.tasks[other], self.starts.pop(other))
                return None
        return True
