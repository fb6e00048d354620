"""Latest beginnings, slack and bounds against schedules that others printed."""

import pytest

from gaugewright.calc import bench_schedule, bench_slack
from gaugewright.calc.bench_work import Hold, Lag, Task, Work

NETWORK = {"A": 6, "B": 2, "C": 2, "D": 3, "E": 4, "F": 2, "G": 1}
AFTER = [("A", "B"), ("B", "D"), ("D", "E"), ("F", "E"), ("E", "G"), ("A", "C"), ("C", "F")]
PRINTED = {
    "A": (0, 0, 0),
    "B": (6, 6, 0),
    "D": (8, 8, 0),
    "E": (11, 11, 0),
    "G": (15, 15, 0),
    "C": (6, 7, 1),
    "F": (8, 9, 1),
}


@pytest.mark.published(
    where="worked example of the critical path method, seven activities, ‘Example 1: draw the "
    "network for the events in Table 1’, Tables 1 and 2: project 16 h, critical path A-B-D-E-G, "
    "earliest and latest starts, slack of C and F 1 h",
    seen="the example's text in a stored public web page (studylib.net, document 8378728)",
)
def test_critical_path_of_seven_activities() -> None:
    names = list(NETWORK)
    tasks = tuple(Task(3600.0 * NETWORK[n], 0.0, 16 * 3600.0, (), False) for n in names)
    lags = tuple(Lag(names.index(a), names.index(b)) for a, b in AFTER)
    work = Work(tasks, lags)
    earliest, latest = bench_slack.earliest_starts(work), bench_slack.latest_starts(work)
    for n, name in enumerate(names):
        early, late, slack = PRINTED[name]
        assert earliest[n] == 3600 * early
        assert latest[n] == 3600 * late
        assert latest[n] - earliest[n] == 3600 * slack


# Machine and time of each operation, job after job.
SIX_BY_SIX = """
2 1 0 3 1 6 3 7 5 3 4 6
1 8 2 5 4 10 5 10 0 10 3 4
2 5 3 4 5 8 0 9 1 1 4 7
1 5 0 5 2 5 3 3 4 8 5 9
2 9 1 3 4 5 5 4 0 3 3 1
1 3 3 3 5 9 0 10 4 4 2 1
"""
OPTIMUM = 55


def six_by_six() -> Work:
    """Machines are fixtures, and nobody is needed: a job shop."""
    tasks: list[Task] = []
    lags: list[Lag] = []
    for line in SIX_BY_SIX.split("\n")[1:-1]:
        numbers = [int(each) for each in line.split()]
        for place in range(6):
            machine, time = numbers[2 * place : 2 * place + 2]
            lags += [Lag(len(tasks) - 1, len(tasks))] if place else []
            tasks.append(Task(float(time), -200.0, 0.0, (Hold(machine),), False))
    return Work(tuple(tasks), tuple(lags), fixtures=(1,) * 6)


@pytest.mark.published(
    where="Fisher and Thompson, Probabilistic learning combinations of local job-shop scheduling "
    "rules, in Industrial Scheduling (Muth and Thompson, editors), 1963, pp. 225-251: the 6 x 6 "
    "problem, shortest makespan 55",
    seen="the numbers and the optimum as many public repositories of test problems repeat them, "
    "not the book",
)
def test_job_shop_of_six_jobs_on_six_machines() -> None:
    work = six_by_six()
    plan = bench_schedule.latest_plan(work)
    assert plan is not None
    makespan = -min(plan.starts)
    # A list scheduler promises no optimum (it finds 62); its bound must not exclude one.
    assert makespan >= OPTIMUM
    assert 200 - plan.bound <= OPTIMUM
