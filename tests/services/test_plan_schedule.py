"""Days at the bench from records: cures by temperature, kept plans mended, impossible ones told."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import icalendar
import pypdf
import pytest

from gaugewright.calc import bench_schedule
from gaugewright.calc.bench_work import Hold, Lag, Task, Work
from gaugewright.errors import InputError, MissingExtraError
from gaugewright.records.gauges import Gauge, Supply
from gaugewright.records.scheduling import BenchDays, WorkingHours
from gaugewright.services.campaign.book import Book
from gaugewright.services.dispatching.kinds import KINDS
from gaugewright.services.entering import entry as plan_entry
from gaugewright.services.plan_parts.parts import Asked, part_lists
from gaugewright.services.scheduling import solver as plan_schedule_solver
from gaugewright.services.scheduling.calendar import calendar
from gaugewright.services.scheduling.lists import schedule_lists
from gaugewright.services.scheduling.schedule import days_of, schedule_kept
from gaugewright.services.scheduling.sheet import schedule_sheet
from gaugewright.services.scheduling.typed import days_given
from gaugewright.services.strain.strains import Desk
from gaugewright.services.work import jobs
from tests.calc.test_bench_schedule import CASES, best_by_enumeration, faults_of
from tests.published.test_schedules import six_by_six
from tests.services.bench_days_campaigns import NOW, done, planned, to_be_bonded

HOUR = 3600.0


@pytest.fixture
def bench(tmp_path):
    store, clock = to_be_bonded(tmp_path / "days")
    with store:
        yield store, clock


def revised(store, **changes):
    entry = days_of(Book.read(store))
    return store.revise(entry.uid, entry.version, replace(entry.record, **changes), reason="tried")


def piece(made, gauge, step):
    return next(
        n
        for n, one in enumerate(made.bench.pieces)
        if one.gauge.record.label == gauge and step in one.steps
    )


def test_the_plan_keeps_hours_cures_clamps_and_clean_to_bond(bench) -> None:
    made = planned(*bench)
    assert made.is_possible
    assert faults_of(made.bench.work, made.starts) == []
    for gauge in ("G1", "G4"):
        clean, bond, wire = (piece(made, gauge, step) for step in ("clean", "bond", "wire"))
        assert made.span(bond)[0] - made.span(clean)[1] <= timedelta(minutes=30)
        # The sheet's row that 18 °C reaches is that of 15 °C: 48 h, and ten minutes to cool.
        assert made.span(wire)[0] - made.span(bond)[1] >= timedelta(hours=48, minutes=10)
        local = made.span(bond)[0].astimezone(made.bench.zone)
        assert (8, 0) <= (local.hour, local.minute) < (17, 0)
    slack = [late - start for late, start in zip(made.latest, made.starts, strict=True)]
    assert min(slack) >= 24 * HOUR  # what is kept free before the pour


def test_what_the_days_do_not_know_of_is_told(bench) -> None:
    store, clock = bench
    last = store.entries(Gauge)[-1]
    store.withdraw(last.uid, last.version, reason="not decided yet")
    told = planned(store, clock).bench.told
    assert "no work is planned at stations without a gauge: P4" in told
    assert "all 2 people are taken to be there in all the working hours" in told


def test_longer_days_end_before_midnight_and_weekends_are_those_not_worked(bench) -> None:
    store, clock = bench
    late = (WorkingHours("Mon", "Fri", "13:00", "22:30"),)
    revised(store, pour_day=date(2026, 10, 21), hours=late)
    made = planned(store, clock)
    assert not made.is_possible
    assert not any("more hours" in words for words in made.nearest)
    assert any("longer days" in words or "1 more hour" in words for words in made.nearest)
    always = (WorkingHours("Mon", "Sun", "08:00", "17:00"),)
    revised(store, hours=always)
    made = planned(store, clock)
    assert not any("weekends" in words for words in made.nearest)


def test_hours_are_of_the_hall_on_both_sides_of_a_change_of_its_clock(bench) -> None:
    """Clocks in Rome go back on 25 October: 08:00 is 06:00 UTC before and 07:00 after."""
    made = planned(*bench)
    opens = {made.bench.at(begin) for begin, _ in made.bench.work.hours}
    assert datetime(2026, 10, 23, 6, 0, tzinfo=UTC) in opens
    assert datetime(2026, 10, 26, 7, 0, tzinfo=UTC) in opens


@pytest.mark.parametrize(("warm", "hours"), [(15.0, 48), (20.0, 24), (55.0, 2)])
def test_the_cure_follows_the_temperature(bench, warm, hours) -> None:
    store, clock = bench
    revised(store, temperature_degc=warm)
    made = planned(store, clock)
    assert made.bench.pieces[piece(made, "G1", "bond")].waits == hours * HOUR


def test_a_heated_box_cures_by_its_own_temperature(bench) -> None:
    store, clock = bench
    days_given(
        store,
        {
            "fixtures.3.label": "heated box",
            "fixtures.3.count": "1",
            "fixtures.3.steps": "cure",
            "fixtures.3.is_held": "yes",
            "fixtures.3.temperature_degc": "50",
        },
    )
    made = planned(store, clock)
    assert made.bench.pieces[piece(made, "G1", "bond")].waits == 2 * HOUR
    assert faults_of(made.bench.work, made.starts) == []


def test_too_cold_for_the_sheet_says_what_would_help(bench) -> None:
    store, clock = bench
    revised(store, temperature_degc=10.0)
    with pytest.raises(InputError, match=r"cure of epoxy at 10 °C is 'never ends'.*15 °C"):
        planned(store, clock)


def test_without_a_sheet_the_usual_time_is_told_as_assumed_and_refused_in_the_cold(bench) -> None:
    store, clock = bench
    revised(store, supplies=())
    assert any("no source" in words for words in planned(store, clock).bench.told)
    revised(store, temperature_degc=8.0)
    with pytest.raises(InputError, match="time of cure at 8 °C"):
        planned(store, clock)


def test_a_step_longer_than_any_working_hours_is_named(bench) -> None:
    store, clock = bench
    days_given(store, {"times.2.step": "wire", "times.2.hands_on": "5 h"})
    with pytest.raises(InputError, match="hands-on time of wire"):
        planned(store, clock)


def test_a_kept_plan_holds_until_something_happens(bench) -> None:
    store, clock = bench
    first = planned(store, clock)
    schedule_kept(store, first)
    again = planned(store, clock)
    assert again.is_as_kept
    assert again.starts == first.starts
    with pytest.raises(InputError, match="as it was kept"):
        schedule_kept(store, again)


def test_what_was_done_late_moves_only_what_it_reaches_and_says_why(bench) -> None:
    store, clock = bench
    first = planned(store, clock)
    schedule_kept(store, first)
    begins = first.span(piece(first, "G1", "smooth"))[0]
    done(store, "G1", "smooth", begins, 50)  # planned: 30 min
    clock.time = begins + timedelta(minutes=51)
    made = planned(store, clock)
    assert made.is_possible
    assert faults_of(made.bench.work, made.starts) == []
    moved = {
        (made.bench.pieces[m.piece].gauge.record.label, made.bench.pieces[m.piece].steps[0])
        for m in made.moves
    }
    assert ("G1", "clean") in moved
    assert ("G4", "smooth") not in moved
    assert all(move.why for move in made.moves)
    kept = schedule_kept(store, made)
    assert kept.version == 2
    assert ("smooth",) in [p.steps for p in kept.record.pieces]  # what was planned stays told


def test_a_cleaning_that_ran_out_is_planned_again(bench) -> None:
    store, clock = bench
    done(store, "G1", "smooth", NOW - timedelta(hours=3), 30)
    done(store, "G1", "clean", NOW - timedelta(hours=2), 15)
    made = planned(store, clock)
    assert piece(made, "G1", "clean") < piece(made, "G1", "bond")
    assert any("clean is planned again" in words for words in made.bench.told)


def test_a_running_cure_releases_the_next_step(bench) -> None:
    store, clock = bench
    for step, before in (("smooth", 3.0), ("clean", 2.0), ("lay out", 1.8), ("bond", 1.6)):
        done(store, "G1", step, NOW - timedelta(hours=before), 6)
    made = planned(store, clock)
    wire = made.bench.work.tasks[piece(made, "G1", "wire")]
    bonded = NOW - timedelta(hours=1.6) + timedelta(minutes=6)
    assert made.bench.at(wire.release) >= bonded + timedelta(hours=48)


def test_an_impossible_pour_is_told_with_what_binds_and_what_is_nearest(bench) -> None:
    store, clock = bench
    revised(store, pour_day=date(2026, 10, 21))
    made = planned(store, clock)
    assert not made.is_possible
    assert "cure of epoxy at 18 °C: 48 h" in made.binds[0]
    assert made.nearest[0].startswith("the pour on ")
    assert "a hall of 20 °C at least, nights included" in made.nearest
    with pytest.raises(InputError, match="not possible"):
        schedule_kept(store, made)
    days = [date(2026, 10, 21) + timedelta(days=n) for n in range(1, 20)]
    day = next(one for one in days if f"{one:%a} {one.day} {one:%B}" in made.nearest[0])
    revised(store, pour_day=day)
    assert planned(store, clock).is_possible
    assert schedule_lists(Book.read(store), made)[0].key == "nearest"


def test_one_person_too_few_is_found_by_trying(tmp_path) -> None:
    store, clock = to_be_bonded(tmp_path / "days", gauges=9, people=1)
    with store:
        revised(store, pour_day=date(2026, 10, 22), temperature_degc=20.0, fixtures=())
        made = planned(store, clock)
        assert not made.is_possible
        assert made.binds[0].startswith("1 person at the bench")
        assert any("more pe" in words for words in made.nearest)


@pytest.mark.full
def test_every_case_of_the_enumeration_is_solved_and_proven() -> None:
    for name, work in CASES.items():
        minutes = stretched(work, 60.0)
        plan = bench_schedule.latest_plan(minutes)
        found = plan_schedule_solver.solved(minutes, dict(enumerate(plan.starts)), limit_s=20)
        assert found.is_proven
        assert faults_of(minutes, found.starts) == []
        assert min(found.starts) == 60 * best_by_enumeration(work, -30), name
        assert found.gap == 0


def stretched(work: Work, factor: float) -> Work:
    tasks = tuple(
        Task(
            t.work * factor,
            t.release * factor,
            t.deadline * factor,
            tuple(Hold(h.fixture, h.before * factor, h.after * factor) for h in t.holds),
            t.needs_person,
        )
        for t in work.tasks
    )
    lags = tuple(Lag(g.first, g.then, g.least * factor, g.most * factor) for g in work.lags)
    hours = tuple((a * factor, b * factor) for a, b in work.hours)
    return replace(work, tasks=tasks, lags=lags, hours=hours)


@pytest.mark.published(
    where="Fisher and Thompson, Probabilistic learning combinations of local job-shop scheduling "
    "rules, in Industrial Scheduling (Muth and Thompson, editors), 1963, pp. 225-251: the 6 x 6 "
    "problem, shortest makespan 55",
    seen="the numbers and the optimum as many public repositories of test problems repeat them, "
    "not the book",
)
def test_the_solver_finds_and_proves_the_optimum_of_six_jobs_on_six_machines() -> None:
    work = stretched(six_by_six(), 60.0)
    found = plan_schedule_solver.solved(work, {}, limit_s=30)
    assert found.is_proven
    assert found.value == 55 * 60
    assert faults_of(work, found.starts) == []


@pytest.mark.full
def test_improving_is_a_job_that_keeps_the_plan_and_says_the_gap(bench) -> None:
    store, _ = bench
    told = []
    uid = jobs.begun(store, plan_schedule_solver.JOB, {"seconds": "3"})
    job = jobs.run(store, uid, KINDS, also=lambda *parts: told.append(parts))
    assert job.state is jobs.JobState.DONE, job.message
    assert "shorter" in job.message
    shares = [done for done, _, _ in told]
    assert shares == sorted(shares)


def test_improving_stops_when_asked(bench) -> None:
    store, clock = bench
    made = planned(store, clock)

    def stopped(done: int, total: int, what: str) -> None:
        raise jobs.Cancelled("stopped")

    with pytest.raises(jobs.Cancelled):
        plan_schedule_solver.improved(store, made, limit_s=60, progress=stopped)


def test_what_fails_in_the_solver_is_not_told_as_a_plan_that_cannot_be(bench, monkeypatch) -> None:
    def broken(self, *parts):
        raise MemoryError("no room")

    monkeypatch.setattr("ortools.sat.python.cp_model.CpSolver.solve", broken)
    with pytest.raises(MemoryError, match="no room"):
        plan_schedule_solver.improved(bench[0], planned(*bench), limit_s=5)


def test_a_mended_plan_is_improved_towards_fewer_moves(bench) -> None:
    store, clock = bench
    first = planned(store, clock)
    schedule_kept(store, first)
    clock.time = first.bench.at(min(first.starts)) + timedelta(hours=2)
    made = planned(store, clock)
    better = plan_schedule_solver.improved(store, made, limit_s=10)
    assert faults_of(better.bench.work, better.starts) == []
    assert int(better.outcome.split()[0]) <= len(made.moves)


def test_the_calendar_is_read_by_another_hand_and_folds_its_lines(bench) -> None:
    store, clock = bench
    made = planned(store, clock)
    content = calendar(store, Book.read(store), made)
    assert all(len(line) <= 75 for line in content.split(b"\r\n"))  # RFC 5545, 3.1
    assert b"\n" not in content.replace(b"\r\n", b"")
    events = icalendar.Calendar.from_ical(content).walk("VEVENT")
    waits = sum(piece.waits > 0 for piece in made.bench.pieces)
    assert len(events) == len(made.starts) + waits + 1
    assert len({str(event["uid"]) for event in events}) == len(events)
    begins = {event.decoded("dtstart") for event in events}
    assert {made.span(n)[0] for n in range(len(made.starts))} <= begins
    again = icalendar.Calendar.from_ical(calendar(store, Book.read(store), made)).walk("VEVENT")
    assert [str(e["uid"]) for e in again] == [str(e["uid"]) for e in events]


def test_without_the_extra_the_line_that_installs_it_is_named(bench, monkeypatch) -> None:
    store, clock = bench
    made = planned(store, clock)
    monkeypatch.setitem(__import__("sys").modules, "icalendar", None)
    with pytest.raises(MissingExtraError, match=r"gaugewright\[plan\]"):
        calendar(store, Book.read(store), made)


def test_the_sheet_names_every_day_and_gauge(bench, tmp_path) -> None:
    store, clock = bench
    made = planned(store, clock)
    book = Book.read(store)
    path = schedule_sheet(store, Desk(store, book), made, tmp_path / "days.pdf")
    text = " ".join(page.extract_text() for page in pypdf.PdfReader(path).pages)
    assert "Mon 26 Oct 2026" in text
    assert all(f"{gauge.record.label}: bond" in text for gauge in book.of(Gauge))


def test_days_are_entered_changed_and_refused_by_their_fields(bench) -> None:
    store, _ = bench
    entry = days_given(store, {"pour_day": "2026-11-06", "reserve": "2 h"})
    assert entry.record.pour_day == date(2026, 11, 6)
    assert entry.record.reserve == 7200.0
    assert len(entry.record.fixtures) == 2
    assert days_given(store, {"note": "one row less"}, ("hours.2",)).record.hours == (
        WorkingHours("Mon", "Fri", "08:00", "12:00"),
    )
    with pytest.raises(InputError, match=r"hours\.1\.begin"):
        days_given(store, {"hours.1.begin": "08:00"})
    texts = plan_entry.texts_of(
        plan_entry.KINDS["schedule"], Book.read(store), days_of(Book.read(store)), "si"
    )
    assert texts["fixtures.1.is_held"] == "yes"


def test_lists_are_a_part_of_the_plan(bench) -> None:
    store, _ = bench
    found = part_lists(Asked(store, Book.read(store), None, "si"), "schedule")
    assert [one.key for one in found] == ["pieces", "moved", "assumed"]


def test_days_that_are_not_entered_say_where_to(tmp_path) -> None:
    store, clock = to_be_bonded(tmp_path / "days")
    with store:
        entry = Book.read(store).of(BenchDays)[0]
        store.withdraw(entry.uid, entry.version, reason="out")
        assert Book.read(store).of(Supply)
        with pytest.raises(InputError, match="days at the bench"):
            planned(store, clock)


@pytest.mark.full
def test_forty_gauges_with_eight_steps_against_the_solver() -> None:
    """The list's plan holds, the solver's isn't worse, and both bounds let the other stand."""
    hours = tuple(
        (day * 86400 + begin * HOUR, day * 86400 + (begin + 4) * HOUR)
        for day in range(-60, 10)
        if day % 7 < 5
        for begin in (8, 13)
    )
    tasks, lags = [], []
    for _ in range(40):
        base = len(tasks)
        for step, work in enumerate((1200, 900, 600, 900, 300, 1500, 600, 900)):
            holds = (Hold(0, 0, 24 * HOUR),) if step == 3 else (Hold(1),) if step == 5 else ()
            tasks.append(Task(float(work), deadline=9 * 86400.0, holds=holds))
        waits = {3: 24 * HOUR, 6: 1200.0}
        lags += [Lag(base + n, base + n + 1, waits.get(n, 0.0)) for n in range(7)]
        lags.append(Lag(base + 1, base + 3, 0.0, 1800.0))
    work = Work(tuple(tasks), tuple(lags), 2, (12, 1), hours)
    plan = bench_schedule.latest_plan(work)
    assert faults_of(work, plan.starts) == []
    found = plan_schedule_solver.solved(work, dict(enumerate(plan.starts)), limit_s=10)
    assert faults_of(work, found.starts) == []
    length = 9 * 86400.0 - min(plan.starts)
    assert found.bound <= found.value <= length
    assert 9 * 86400.0 - plan.bound <= found.value
