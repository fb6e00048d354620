"""When at the latest can a task begin among those already laid out?"""

import math
from bisect import bisect_left, bisect_right

from gaugewright.calc.bench_work import Task, Work

__all__ = ["Placing"]


class _Load:
    """How many use a thing at each time, and from when to when it is used up."""

    def __init__(self, limit: int) -> None:
        self._limit = limit
        self._edges = [-math.inf]
        self._level = [0]

    def add(self, begin: float, end: float, count: int) -> None:
        """Use more of it, or less again, from one instant to another."""
        if end <= begin:
            return
        first, last = self._edge(begin), self._edge(end)
        for n in range(first, last):
            self._level[n] += count

    def _edge(self, at: float) -> int:
        place = bisect_left(self._edges, at)
        if place == len(self._edges) or self._edges[place] != at:
            self._edges.insert(place, at)
            self._level.insert(place, self._level[place - 1])
        return place

    def clash(self, begin: float, end: float) -> float | None:
        """Beginning of the last stretch within a span in which nothing is left of it [s]."""
        if end <= begin:
            return None
        last = bisect_left(self._edges, end) - 1
        first = bisect_right(self._edges, begin) - 1
        for n in range(last, first - 1, -1):
            if self._level[n] >= self._limit:
                return self._edges[n]
        return None


class Placing:
    """Tasks laid out so far, and the latest free place for one more."""

    def __init__(self, work: Work) -> None:
        self._work = work
        self._people = _Load(work.people)
        self._fixtures = [_Load(count) for count in work.fixtures]
        self._opens = [begin for begin, _ in work.hours]

    def latest(self, task: Task, time: float) -> float:
        """Latest beginning of a task that is free, and not after an instant.

        Parameters
        ----------
        task : Task
            To be laid out.
        time : float
            Instant at which it begins at the latest [s].

        Returns
        -------
        float
            Its beginning; minus infinity where the working hours have no place for it [s].
        """
        start = time
        while True:
            start = self.within_hours(task, start)
            if start == -math.inf:
                return start
            wanted = start
            for load, before, after in self._uses(task):
                clash = load.clash(start - before, start + task.work + after)
                if clash is not None:
                    wanted = min(wanted, clash - task.work - after)
            if wanted == start:
                return start
            start = wanted

    def within_hours(self, task: Task, time: float) -> float:
        """Latest beginning with which a task lies in working hours.

        Parameters
        ----------
        task : Task
            Of the work.
        time : float
            Instant at which it begins at the latest [s].

        Returns
        -------
        float
            Its beginning; minus infinity where there is none [s].
        """
        if not task.needs_person:
            return time
        for n in range(bisect_right(self._opens, time) - 1, -1, -1):
            begin, end = self._work.hours[n]
            start = min(time, end - task.work)
            if start >= begin:
                return start
        return -math.inf

    def put(self, task: Task, time: float) -> None:
        """Lay a task out.

        Parameters
        ----------
        task : Task
            Of the work.
        time : float
            Its beginning [s].
        """
        self._add(task, time, 1)

    def take(self, task: Task, time: float) -> None:
        """Take a task away again.

        Parameters
        ----------
        task : Task
            That was put there.
        time : float
            Its beginning [s].
        """
        self._add(task, time, -1)

    def _add(self, task: Task, at: float, count: int) -> None:
        for load, before, after in self._uses(task):
            load.add(at - before, at + task.work + after, count)

    def _uses(self, task: Task) -> list[tuple[_Load, float, float]]:
        held = [(self._fixtures[h.fixture], h.before, h.after) for h in task.holds]
        return [(self._people, 0.0, 0.0), *held] if task.needs_person else held
