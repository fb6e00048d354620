"""Plans of a bench against a checker and an enumeration that share nothing with the scheduler."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gaugewright.calc import bench_replan, bench_schedule, bench_slack
from gaugewright.calc.bench_work import Hold, Lag, Task, Work
from gaugewright.errors import InputError


def faults_of(work: Work, starts) -> list[str]:
    """Everything that a plan breaks, looked for instant by instant."""
    found = []
    for n, task in enumerate(work.tasks):
        end = starts[n] + task.work
        if end > task.deadline:
            found.append(f"{n} ends late")
        if task.needs_person and not any(a <= starts[n] and end <= b for a, b in work.hours):
            found.append(f"{n} out of hours")
    for lag in work.lags:
        gap = starts[lag.then] - (starts[lag.first] + work.tasks[lag.first].work)
        if gap < lag.least or gap > lag.most:
            found.append(f"{lag.first} to {lag.then}: {gap}")
    for instant in sorted({*starts} | {s - 1 for s in starts}):
        busy = [
            n
            for n, task in enumerate(work.tasks)
            if task.needs_person and starts[n] <= instant < starts[n] + task.work
        ]
        if len(busy) > work.people:
            found.append(f"people at {instant}: {busy}")
    for fixture, count in enumerate(work.fixtures):
        spans = [
            (starts[n] - h.before, starts[n] + task.work + h.after)
            for n, task in enumerate(work.tasks)
            for h in task.holds
            if h.fixture == fixture
        ]
        for begin, _ in spans:
            if sum(a <= begin < b for a, b in spans) > count:
                found.append(f"fixture {fixture} at {begin}")
    return found


def best_by_enumeration(work: Work, lowest: int) -> int | None:
    """Latest first beginning: every combination of whole instants, tried one after another."""
    latest = int(max(task.deadline for task in work.tasks))

    def fits(starts: list[int]) -> bool:
        part = len(starts)
        kept = replace(
            work,
            tasks=work.tasks[:part],
            lags=tuple(lag for lag in work.lags if max(lag.first, lag.then) < part),
        )
        return not faults_of(kept, starts)

    def possible(first: int, starts: list[int]) -> bool:
        if len(starts) == len(work.tasks):
            return True
        return any(
            fits([*starts, at]) and possible(first, [*starts, at])
            for at in range(first, latest + 1)
        )

    return next((first for first in range(latest, lowest - 1, -1) if possible(first, [])), None)


def two_gauges(work_times, waits, most, people, hours, clamps) -> Work:
    """Two gauges with three steps each: clean, bond (clamped while it cures), wire."""
    tasks, lags = [], []
    for gauge in range(2):
        clean, bond, wire = work_times[3 * gauge : 3 * gauge + 3]
        base = 3 * gauge
        tasks += [
            Task(clean, deadline=0),
            Task(bond, deadline=0, holds=(Hold(0, 0, waits[gauge]),)),
            Task(wire, deadline=0),
        ]
        lags += [Lag(base, base + 1, 0, most), Lag(base + 1, base + 2, waits[gauge])]
    return Work(tuple(tasks), tuple(lags), people, (clamps,), hours)


SMALL = st.builds(
    two_gauges,
    st.lists(st.integers(1, 3), min_size=6, max_size=6),
    st.lists(st.integers(0, 4), min_size=2, max_size=2),
    st.integers(0, 2),
    st.integers(1, 2),
    st.just(tuple((float(a), float(a + 6)) for a in range(-80, 8, 8))),
    st.integers(1, 2),
)


@settings(max_examples=40, deadline=None)
@given(work=SMALL)
def test_a_plan_holds_and_its_bound_is_one(work: Work) -> None:
    plan = bench_schedule.latest_plan(work)
    assert plan is not None
    assert faults_of(work, plan.starts) == []
    assert plan.reserve == min(plan.starts) <= plan.bound


CASES = {
    "one person": two_gauges([2, 2, 1, 1, 2, 2], [3, 2], 1, 1, ((-60.0, 1.0),), 2),
    "two people": two_gauges([2, 2, 1, 1, 2, 2], [3, 2], 1, 2, ((-60.0, 1.0),), 2),
    "one clamp": two_gauges([1, 2, 1, 1, 2, 1], [4, 4], 0, 2, ((-60.0, 1.0),), 1),
    "short days": two_gauges(
        [1, 2, 1, 2, 1, 2], [2, 4], 1, 1, tuple((float(a), a + 5.0) for a in range(-56, 8, 7)), 2
    ),
    "nothing to wait for": two_gauges([3, 1, 1, 1, 1, 3], [0, 0], 2, 1, ((-60.0, 1.0),), 1),
}


@pytest.mark.parametrize("name", CASES)
def test_small_cases_against_enumeration(name: str) -> None:
    work = CASES[name]
    plan = bench_schedule.latest_plan(work)
    assert plan is not None
    best = best_by_enumeration(work, -30)
    assert best is not None
    assert faults_of(work, plan.starts) == []
    assert min(plan.starts) == best <= plan.bound


def test_working_forward_is_the_mirror_of_working_backward() -> None:
    work = CASES["short days"]
    tasks = tuple(replace(task, release=-56.0) for task in work.tasks)
    plan = bench_schedule.earliest_plan(replace(work, tasks=tasks))
    assert plan is not None
    assert faults_of(work, plan.starts) == []
    assert min(plan.starts) >= -56


def test_clean_to_bond_holds_over_a_night() -> None:
    """Bonding at the day's beginning would leave the cleaning on the evening before."""
    work = Work(
        (Task(2, deadline=11), Task(3, deadline=13)),
        (Lag(0, 1, 0, 1),),
        hours=((0.0, 8.0), (10.0, 14.0)),
    )
    plan = bench_schedule.latest_plan(work)
    assert plan is not None
    assert plan.starts == (3.0, 5.0)


def test_what_fits_into_no_day_has_no_plan() -> None:
    work = Work((Task(9, deadline=20),), hours=((0.0, 8.0), (10.0, 18.0)))
    assert bench_schedule.latest_plan(work) is None


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"people": 0}, "people"),
        ({"hours": ((0.0, 8.0), (7.0, 9.0))}, "hours"),
        ({"lags": (Lag(0, 1, 3.0, 2.0),)}, "lags"),
        ({"fixtures": (0,)}, "fixtures"),
    ],
)
def test_work_that_can_not_be_is_refused(changes, named) -> None:
    with pytest.raises(InputError, match=named):
        replace(Work((Task(1), Task(1))), **changes)


def test_a_circle_is_refused() -> None:
    work = Work((Task(1, deadline=9), Task(1, deadline=9)), (Lag(0, 1), Lag(1, 0)))
    with pytest.raises(InputError, match="circle"):
        bench_schedule.latest_plan(work)


@settings(max_examples=30, deadline=None)
@given(work=SMALL, shift=st.integers(0, 4))
def test_latest_beginnings_keep_everything_and_are_the_latest(work: Work, shift: int) -> None:
    plan = bench_schedule.latest_plan(work)
    assert plan is not None
    late = replace(work, tasks=tuple(replace(t, deadline=float(shift)) for t in work.tasks))
    latest = bench_slack.latest_starts(late, plan)
    assert faults_of(late, latest) == []
    assert all(after >= before for after, before in zip(latest, plan.starts, strict=True))
    people = bench_slack.people_of(work, plan)
    for n, start in enumerate(plan.starts):
        others = [
            m
            for m in range(len(people))
            if m != n and people[m] == people[n] and plan.starts[m] <= start
        ]
        assert all(plan.starts[m] + work.tasks[m].work <= start for m in others)


@settings(max_examples=40, deadline=None)
@given(work=SMALL, late=st.integers(0, 12), gone=st.booleans())
def test_a_mended_plan_holds_and_keeps_what_it_says_it_keeps(work, late, gone) -> None:
    plan = bench_schedule.latest_plan(work)
    assert plan is not None
    now = min(plan.starts) + late
    hours = (*work.hours, *((float(a), a + 6.0) for a in range(8, 400, 8)))
    changed = replace(
        work,
        tasks=tuple(replace(t, release=now, deadline=math.inf) for t in work.tasks),
        people=1 if gone else work.people,
        hours=hours,
    )
    before = dict(enumerate(plan.starts))
    mended = bench_replan.replanned(changed, before)
    assert mended is not None
    assert faults_of(changed, mended.plan.starts) == []
    assert min(mended.plan.starts) >= now
    stayed = {n for n in before if n not in mended.moved}
    assert all(mended.plan.starts[n] == before[n] for n in stayed)
    if late == 0 and not gone:
        assert stayed == set(before)


def test_only_what_a_delay_reaches_is_moved() -> None:
    """Gauge 1 is an hour late; gauge 2, worked by another on another day, stays."""
    tasks = tuple(Task(1, release=r) for r in (5.0, 0.0, 0.0, 0.0))
    work = Work(tasks, (Lag(0, 1, 2), Lag(2, 3, 2)), people=2)
    mended = bench_replan.replanned(work, {0: 4.0, 1: 7.0, 2: 4.0, 3: 20.0})
    assert mended is not None
    assert mended.plan.starts == (5.0, 8.0, 4.0, 20.0)
    assert mended.moved == {0: bench_replan.Moved.PASSED, 1: bench_replan.Moved.WAITS}
    assert mended.caused == {1: 0}
