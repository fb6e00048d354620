"""What of a plan can stay when something took longer, fell out or was added, and what must move?

Every task keeps its beginning unless something speaks against it: its time has passed, what it
waits for ends later, hours, people or fixtures are fewer, or a task moved into its way. Only those
move, each to the first place at or after its old one. Moving one may push others: this goes on
until everything holds.
"""

import enum
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from gaugewright.calc.bench_placing import Placing
from gaugewright.calc.bench_schedule import laid_backward
from gaugewright.calc.bench_work import Laid, Task, Work, mirrored, mirrored_plan

__all__ = ["Moved", "Replanned", "replanned"]


class Moved(enum.Enum):
    """Why a task can't stay where it was."""

    NEW = "new"
    PASSED = "its release is later than its beginning"
    DUE = "its deadline is earlier than its end"
    HOURS = "not within working hours"
    BUSY = "people or fixtures are too few"
    WAITS = "what it waits for ends later"
    TOO_LONG = "too long after what came before it"


@dataclass(frozen=True, slots=True)
class Replanned:
    """A plan that was mended.

    Attributes
    ----------
    plan : Laid
        The mended plan; its reserve counts from ends to deadlines.
    moved : dict
        Why each task that couldn't stay had to move, by position.
    caused : dict
        Which task pushed it, by position, where one did.
    """

    plan: Laid
    moved: Mapping[int, Moved]
    caused: Mapping[int, int]


def replanned(work: Work, starts: Mapping[int, float]) -> Replanned | None:
    """Mend a plan with as few tasks moved as going forward finds.

    Parameters
    ----------
    work : Work
        What is still to be done as things are now; releases are kept.
    starts : mapping
        Beginnings of tasks in the plan to be mended, by position; a task that isn't there is new.

    Returns
    -------
    Replanned or None
        None where the working hours have no place for what must move.
    """
    moved = _standing_alone(work, starts)
    caused: dict[int, int] = {}
    while True:
        kept = {n: at for n, at in starts.items() if n not in moved}
        plan = _around(work, starts, kept, moved)
        if plan is None:
            return None
        pushed = _pushed(work, plan, kept)
        if not pushed:
            return Replanned(plan, moved, caused)
        for n, (why, by) in pushed.items():
            moved[n], caused[n] = why, by


def _standing_alone(work: Work, starts: Mapping[int, float]) -> dict[int, Moved]:
    """Tasks that can't stay for reasons that lie in no other task, or for want of hands."""
    moved = {n: Moved.NEW for n in range(len(work.tasks)) if n not in starts}
    placing = Placing(work)
    for at, n in sorted((at, n) for n, at in starts.items()):
        task = work.tasks[n]
        if at < task.release:
            moved[n] = Moved.PASSED
        elif at + task.work > task.deadline:
            moved[n] = Moved.DUE
        elif placing.within_hours(task, at) != at:
            moved[n] = Moved.HOURS
        elif placing.latest(task, at) != at:
            moved[n] = Moved.BUSY
        else:
            placing.put(task, at)
    return moved


def _around(
    work: Work, starts: Mapping[int, float], kept: Mapping[int, float], moved: Mapping[int, Moved]
) -> Laid | None:
    """What moves, laid out forward around what stays, none before its old beginning."""
    tasks = tuple(_held(task, starts.get(n), moved.get(n)) for n, task in enumerate(work.tasks))
    image = mirrored(replace(work, tasks=tasks))
    ends = {n: -at - work.tasks[n].work for n, at in kept.items()}
    last = max(starts.values(), default=0.0)
    laid = laid_backward(image, lambda n, _: -starts.get(n, last), ends)
    if laid is None:
        return None
    plan = mirrored_plan(work, laid)
    pairs = zip(plan.starts, work.tasks, strict=True)
    reserve = min((task.deadline - start - task.work for start, task in pairs), default=math.inf)
    return replace(plan, reserve=reserve)


def _held(task: Task, at: float | None, why: Moved | None) -> Task:
    # One that is due earlier must be free to move forward in time.
    if at is None or why in (None, Moved.DUE):
        return task
    return replace(task, release=max(task.release, at))


def _pushed(work: Work, plan: Laid, kept: Mapping[int, float]) -> dict[int, tuple[Moved, int]]:
    """Tasks that were to stay but break a time to another, with the other."""
    found: dict[int, tuple[Moved, int]] = {}
    for lag in work.lags:
        gap = plan.starts[lag.then] - plan.starts[lag.first] - work.tasks[lag.first].work
        if lag.least <= gap <= lag.most:
            continue
        why = Moved.WAITS if gap < lag.least else Moved.TOO_LONG
        if lag.then in kept and (why is Moved.WAITS or lag.first not in kept):
            found.setdefault(lag.then, (why, lag.first))
        elif lag.first in kept:
            found.setdefault(lag.first, (why, lag.then))
    return found
