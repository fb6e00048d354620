"""A plan of the days improved by a constraint solver, with the bound that it could prove."""

import math
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass, replace
from typing import Any

from gaugewright.calc.bench_slack import (
    earliest_starts,
    latest_starts,
    people_of,
    reserve_bound,
)
from gaugewright.calc.bench_work import Laid, Work
from gaugewright.errors import InputError
from gaugewright.extras import needs
from gaugewright.present.numbers import fixed_text
from gaugewright.services.bench.clocks import duration_text
from gaugewright.services.campaign.book import Book
from gaugewright.services.scheduling.schedule import (
    BenchSchedule,
    bench_schedule,
    kept_starts,
    schedule_kept,
)
from gaugewright.services.work.jobs import Progress
from gaugewright.store.campaign import CampaignStore

__all__ = ["JOB", "Solved", "improve_job", "improved", "solved"]

JOB = "schedule"
_GRID = 60  # the solver counts in whole minutes [s]
_WORKERS = 2
_LOOK_S = 0.25


@dataclass(frozen=True, slots=True)
class Solved:
    """Beginnings that a solver found, what they are worth, and what it could prove.

    ``value`` is the time from the first beginning to the end, or how many pieces are moved;
    ``bound`` is what no plan can be below.
    """

    starts: tuple[float, ...]
    value: float
    bound: float
    is_proven: bool

    @property
    def gap(self) -> float:
        """How far the value may be above the best, as a share of it."""
        return (self.value - self.bound) / self.value if self.value > 0 else 0.0


def solved(
    work: Work,
    hint: Mapping[int, float],
    *,
    limit_s: float,
    keep: Mapping[int, float] | None = None,
    progress: Progress | None = None,
) -> Solved:
    """Latest first beginning by CP-SAT, or with ``keep`` the fewest pieces moved from there.

    Times are rounded to whole minutes, work and waiting up, deadlines and longest times down, so
    that what holds there holds to the second. How far it is follows from what was found and
    proven, never from the time that passed.

    Raises
    ------
    MissingExtraError
        If the extra ``plan`` isn't installed.
    InputError
        If there is no plan, or none was found in that time.
    """
    cp_model = needs("ortools.sat.python.cp_model", extra="plan", to="improve the plan of the days")
    model, starts = _model(cp_model, work, keep)
    for n, at in hint.items():
        model.add_hint(starts[n], math.floor(at / _GRID))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = limit_s
    solver.parameters.num_workers = _WORKERS
    watch = _watching(cp_model)
    with ThreadPoolExecutor(1, "solver") as pool:
        going = pool.submit(watch.run, solver, model)
        try:
            while not wait([going], _LOOK_S).done:
                if progress is not None:
                    progress(*watch.told())
        except BaseException:
            solver.stop_search()
            raise
    status = going.result()
    if status == cp_model.MODEL_INVALID:
        raise RuntimeError(f"the solver can't read the model of the days: {model.validate()}")
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        proven = status == cp_model.INFEASIBLE
        words = "there is none, which is proven" if proven else "none was found in that time"
        raise InputError("plan", words, "possible", "change the days, or give it longer")
    scale = 1.0 if keep is not None else float(_GRID)
    found = tuple(float(_GRID * solver.value(start)) for start in starts)
    return Solved(
        found,
        scale * solver.objective_value,
        scale * solver.best_objective_bound,
        status == cp_model.OPTIMAL,
    )


def _model(cp_model: Any, work: Work, keep: Mapping[int, float] | None) -> tuple[Any, list[Any]]:
    model = cp_model.CpModel()
    lengths = [math.ceil(task.work / _GRID) for task in work.tasks]
    low, high = _reach(work)
    starts = []
    for task, length in zip(work.tasks, lengths, strict=True):
        spans = _spans(work, task.needs_person, length, low, high)
        least = max(low, _up(task.release, low))
        most = min(high, _down(task.deadline, high) - length)
        cut = [[max(a, least), min(b, most)] for a, b in spans if max(a, least) <= min(b, most)]
        if not cut:
            do = "change the days"
            raise InputError("plan", "no working hours between release and deadline", "some", do)
        starts.append(model.new_int_var_from_domain(cp_model.Domain.from_intervals(cut), ""))
    for lag in work.lags:
        end = starts[lag.first] + lengths[lag.first]
        model.add(starts[lag.then] >= end + math.ceil(lag.least / _GRID))
        if lag.most < math.inf:
            model.add(starts[lag.then] <= end + math.floor(lag.most / _GRID))
    _shared(model, work, starts, lengths)
    if keep is None:
        end = max(_down(task.deadline, high) for task in work.tasks)
        worth = model.new_int_var(0, end - low, "")
        for start in starts:
            model.add(worth >= end - start)
        # What holds for any plan is known to the solver from the beginning.
        model.add(worth >= end - _latest_first(work, end))
    else:
        moved = []
        for n, at in keep.items():
            is_moved = model.new_bool_var("")
            if at % _GRID == 0:
                model.add(starts[n] == int(at // _GRID)).only_enforce_if(is_moved.negated())
            else:
                model.add(is_moved == 1)
            moved.append(is_moved)
        worth = sum(moved)
    model.minimize(worth)
    return model, starts


def _shared(model: Any, work: Work, starts: list[Any], lengths: list[int]) -> None:
    """People and fixtures are never more in use than there are."""
    handled = [n for n, task in enumerate(work.tasks) if task.needs_person]
    spans = [model.new_fixed_size_interval_var(starts[n], lengths[n], "") for n in handled]
    model.add_cumulative(spans, [1] * len(spans), work.people)
    for fixture, count in enumerate(work.fixtures):
        held = []
        for n, task in enumerate(work.tasks):
            for hold in task.holds:
                if hold.fixture == fixture:
                    before, after = (math.ceil(t / _GRID) for t in (hold.before, hold.after))
                    size = lengths[n] + before + after
                    held.append(model.new_fixed_size_interval_var(starts[n] - before, size, ""))
        model.add_cumulative(held, [1] * len(held), count)


def _latest_first(work: Work, end: int) -> int:
    """Minute after which no plan can begin, by the critical path, people and fixtures."""
    tasks = tuple(replace(task, release=-math.inf) for task in work.tasks)
    bound = reserve_bound(replace(work, tasks=tasks))
    return math.floor(bound / _GRID) if math.isfinite(bound) else end


def _reach(work: Work) -> tuple[int, int]:
    """First and last minute that any plan may use."""
    known = [at for task in work.tasks for at in (task.release, task.deadline)]
    finite = [at for at in known if math.isfinite(at)]
    opens = [at for span in work.hours for at in span if math.isfinite(at)]
    first = min((t.release for t in work.tasks), default=0.0)
    last = max((t.deadline for t in work.tasks), default=0.0)
    total = sum(t.work for t in work.tasks) + sum(lag.least for lag in work.lags)
    low = first if math.isfinite(first) else min([*finite, *opens]) - total
    high = last if math.isfinite(last) else max([*finite, *opens]) + total
    return math.floor(low / _GRID), math.ceil(high / _GRID)


def _up(at: float, otherwise: int) -> int:
    return math.ceil(at / _GRID) if math.isfinite(at) else otherwise


def _down(at: float, otherwise: int) -> int:
    return math.floor(at / _GRID) if math.isfinite(at) else otherwise


def _spans(
    work: Work, needs_person: bool, length: int, low: int, high: int
) -> list[tuple[int, int]]:
    """Beginnings with which a task of that length lies in working hours."""
    if not needs_person:
        return [(low, high)]
    found = []
    for begin, end in work.hours:
        first, last = max(_up(begin, low), low), min(_down(end, high), high) - length
        if first <= last:
            found.append((first, last))
    return found


def _watching(cp_model: Any) -> Any:
    """What a solver tells while it works: solutions and bounds as they come."""

    class Watching(cp_model.CpSolverSolutionCallback):  # type: ignore[misc]
        """Best value and bound so far; the first value is where progress counts from."""

        def __init__(self) -> None:
            super().__init__()
            self.first: float | None = None
            self.best = math.inf
            self.bound = -math.inf
            self.count = 0

        def run(self, solver: Any, model: Any) -> Any:
            """Solve, and say how it ended."""
            solver.best_bound_callback = self.bounded
            return solver.solve(model, self)

        def on_solution_callback(self) -> None:
            """A better plan was found."""
            self.best = self.objective_value
            self.first = self.best if self.first is None else self.first
            self.count += 1

        def bounded(self, bound: float) -> None:
            """No plan can be better than this."""
            self.bound = max(self.bound, bound)

        def told(self) -> tuple[int, int, str]:
            """Share of the first gap that is closed, and in words how wide it is."""
            if self.first is None:
                return 0, 1000, "looking for a first plan"
            gap = max(0.0, self.best - self.bound)
            start = max(self.first - self.bound, 1e-9)
            percent = 100 * gap / self.best if self.best > 0 else 0.0
            words = f"{self.count} plans found, gap {fixed_text(min(percent, 100.0), 1)} %"
            return (int(1000 * (1 - min(1.0, gap / start))), 1000, words)

    return Watching()


def improved(
    store: CampaignStore, made: BenchSchedule, *, limit_s: float, progress: Progress | None = None
) -> BenchSchedule:
    """A plan improved: the days shorter, or where one is kept already fewer pieces moved.

    Raises
    ------
    MissingExtraError
        If the extra ``plan`` isn't installed.
    InputError
        If nothing is left to be planned, or no plan is possible.
    """
    bench = made.bench
    if not made.starts:
        raise InputError("pieces of work", 0, "one or more left to be planned")
    before = kept_starts(bench, made.kept)
    work = bench.work if before or not made.is_possible else bench.due(bench.days.reserve)
    if not before and any(
        start + task.work > task.deadline
        for start, task in zip(made.starts, work.tasks, strict=True)
    ):
        work = bench.work
    hint = dict(enumerate(made.starts))
    found = solved(work, hint, limit_s=limit_s, keep=before or None, progress=progress)
    plan = Laid(found.starts, 0.0, 0.0)
    words = _moved_words(found) if before else _span_words(found)
    return replace(
        made,
        starts=found.starts,
        people=people_of(bench.work, plan),
        earliest=earliest_starts(bench.work, plan),
        latest=latest_starts(bench.work, plan),
        is_possible=True,
        outcome=words,
        made_by="CP-SAT",
        binds=(),
        nearest=(),
    )


def _span_words(found: Solved) -> str:
    length = duration_text(found.value)
    if found.is_proven:
        return f"{length} from first hand to the last deadline, and no plan is shorter"
    return (
        f"{length} from first hand to the last deadline; it might be made at most "
        f"{duration_text(found.value - found.bound)} ({fixed_text(100 * found.gap, 1)} %) shorter"
    )


def _moved_words(found: Solved) -> str:
    moved = f"{found.value:.0f} pieces moved"
    if found.is_proven:
        return f"{moved} from the plan before, and none moves fewer"
    return f"{moved} from the plan before; {math.ceil(found.bound - 1e-6)} of them at least must be"


def improve_job(store: CampaignStore, parameters: Mapping[str, Any], progress: Progress) -> str:
    """Improve the plan of the days and keep it."""
    made = bench_schedule(store, Book.read(store), store.context.now())
    limit = float(parameters["seconds"])
    better = improved(store, made, limit_s=limit, progress=progress)
    schedule_kept(store, better, starts=better.starts)
    return f"the plan is kept: {better.outcome}"
