"""The days at the bench: laid out backward from the pour, mended from what was done, kept."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from zoneinfo import ZoneInfo

from gaugewright.calc.bench_replan import Moved, replanned
from gaugewright.calc.bench_schedule import earliest_plan, latest_plan
from gaugewright.calc.bench_slack import earliest_starts, latest_starts, people_of, reserve_bound
from gaugewright.calc.bench_work import Laid
from gaugewright.errors import InputError
from gaugewright.present.numbers import fixed_text
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.scheduling import BenchDays, BenchPiece, BenchPlan
from gaugewright.services.bench.clocks import duration_text
from gaugewright.services.campaign.book import Book
from gaugewright.services.scheduling.nearest import binding, nearest
from gaugewright.services.scheduling.work import Bench, bench_of
from gaugewright.store.campaign import CampaignStore

__all__ = [
    "BenchSchedule",
    "Move",
    "bench_schedule",
    "days_of",
    "gap_words",
    "kept_plan",
    "kept_starts",
    "schedule_kept",
]

LABEL = "bench plan"


@dataclass(frozen=True, slots=True)
class Move:
    """A piece that isn't where the kept plan has it: from when to when, and why."""

    piece: int
    before: datetime | None
    why: str


@dataclass(frozen=True, slots=True, eq=False)
class BenchSchedule:
    """A plan of the days with all that is told of it.

    ``starts`` of every piece; ``people`` who does it, by position among those of the days;
    ``earliest`` and ``latest`` with the plan's order kept, the latest for the pour itself.
    ``moves`` are those against the plan that was kept. ``binds`` and ``nearest`` are given where
    the pour can't be met.
    """

    days: Entry[BenchDays]
    bench: Bench
    starts: tuple[float, ...]
    people: tuple[int, ...]
    earliest: tuple[float, ...]
    latest: tuple[float, ...]
    is_possible: bool
    outcome: str
    made_by: str
    kept: Entry[BenchPlan] | None
    moves: tuple[Move, ...] = ()
    binds: tuple[str, ...] = ()
    nearest: tuple[str, ...] = ()

    @property
    def is_as_kept(self) -> bool:
        """Whether it is the plan that was kept."""
        return self.kept is not None and not self.moves

    def span(self, n: int) -> tuple[datetime, datetime, datetime]:
        """When a piece begins, when hands leave it, and when its waiting is over."""
        piece, start = self.bench.pieces[n], self.starts[n]
        end = start + piece.hands_on
        return self.bench.at(start), self.bench.at(end), self.bench.at(end + piece.waits)


def days_of(book: Book) -> Entry[BenchDays]:
    """What the days are planned with.

    Raises
    ------
    InputError
        If it wasn't entered yet, or there is no gauge.
    """
    entries = book.of(BenchDays)
    if not entries:
        do = "enter the days at the bench: when all must be ready, hours, people"
        raise InputError("days at the bench", None, "entered", do)
    if not book.of(Gauge):
        raise InputError("gauges", 0, "one or more, for days to be planned", "enter gauges")
    return entries[-1]


def kept_plan(book: Book) -> Entry[BenchPlan] | None:
    """The plan that people work by, None while none was kept."""
    entries = book.of(BenchPlan)
    return entries[-1] if entries else None


def kept_starts(bench: Bench, kept: Entry[BenchPlan] | None) -> dict[int, float]:
    """Where the kept plan has the pieces that are still to be done."""
    if kept is None:
        return {}
    known = {(p.gauge, p.steps[0]): p.begins for p in kept.record.pieces}
    return {
        n: bench.seconds(known[piece.gauge.uid, piece.steps[0]])
        for n, piece in enumerate(bench.pieces)
        if (piece.gauge.uid, piece.steps[0]) in known
    }


def bench_schedule(store: CampaignStore, book: Book, now: datetime) -> BenchSchedule:
    """Plan of what is still to be done: the kept one mended, or a new one.

    Raises
    ------
    InputError
        If days or gauges aren't entered, or a time isn't known.
    """
    days = days_of(book)
    zone = ZoneInfo(store.campaign.record.zone)
    bench = bench_of(book, days.record, zone, now)
    kept = kept_plan(book)
    before = kept_starts(bench, kept)
    mended = replanned(bench.work, before) if before else None
    if mended is not None and mended.plan.reserve >= 0:
        by = "list" if mended.moved or kept is None else kept.record.made_by
        outcome = "mended from the plan that was kept"
        if not mended.moved and kept is not None:
            outcome = kept.record.outcome
        made = _told(days, bench, mended.plan, kept, (by, outcome))
        return replace(made, moves=_moves(made, before, mended.moved, mended.caused))
    plan, is_possible = _laid_out(bench)
    made = _told(days, bench, plan, kept, ("list", gap_words(bench, plan)))
    if before:
        all_new = {
            n: Moved.WAITS for n in range(len(plan.starts)) if before.get(n) != plan.starts[n]
        }
        made = replace(made, moves=_moves(made, before, all_new, {}))
    if not is_possible:
        made = replace(
            made, is_possible=False, binds=binding(bench), nearest=nearest(book, bench, plan)
        )
    return made


def _laid_out(bench: Bench) -> tuple[Laid, bool]:
    """A plan with its reserve, else without, else forward from now; whether the pour is met."""
    reserves = dict.fromkeys((bench.days.reserve, 0.0))
    for reserve in reserves:
        plan = latest_plan(bench.due(reserve))
        if plan is not None and plan.reserve >= 0:
            return plan, True
    plan = earliest_plan(bench.work)
    if plan is None:
        raise InputError("working hours", "too few", "enough for the work within 250 days")
    return plan, plan.reserve >= 0


def _told(
    days: Entry[BenchDays],
    bench: Bench,
    plan: Laid,
    kept: Entry[BenchPlan] | None,
    made: tuple[str, str],
) -> BenchSchedule:
    return BenchSchedule(
        days,
        bench,
        plan.starts,
        people_of(bench.work, plan),
        earliest_starts(bench.work, plan),
        latest_starts(bench.work, plan),
        is_possible=True,
        outcome=made[1],
        made_by=made[0],
        kept=kept,
    )


def gap_words(bench: Bench, plan: Laid) -> str:
    """How good a plan is known to be: from its first hand to its last deadline, and the bound."""
    if not plan.starts:
        return "nothing is left to be done"
    work = bench.work
    first = min(plan.starts)
    end = max(
        start + task.work + piece.waits
        for start, task, piece in zip(plan.starts, work.tasks, bench.pieces, strict=True)
    )
    length = end - first
    held = replace(
        work,
        tasks=tuple(
            replace(task, release=first, deadline=end - piece.waits)
            for task, piece in zip(work.tasks, bench.pieces, strict=True)
        ),
    )
    shortest = length - max(0.0, reserve_bound(held))
    return gap_text(length, shortest)


def gap_text(length: float, shortest: float) -> str:
    """Length of a plan beside the bound of any, with the gap."""
    percent = 100 * (length - shortest) / length if length > 0 else 0.0
    if percent < 0.05:
        return f"{duration_text(length)} from first hand to ready, and no plan is shorter"
    return (
        f"{duration_text(length)} from first hand to ready; it might be made at most "
        f"{duration_text(length - shortest)} ({fixed_text(percent, 1)} %) shorter"
    )


def _moves(
    made: BenchSchedule,
    before: Mapping[int, float],
    moved: Mapping[int, Moved],
    caused: Mapping[int, int],
) -> tuple[Move, ...]:
    found = []
    for n, why in sorted(moved.items(), key=lambda one: made.starts[one[0]]):
        old = before.get(n)
        if old is not None and old == made.starts[n]:
            continue
        words = _WHY[why]
        if n in caused:
            piece = made.bench.pieces[caused[n]]
            words += f": {piece.steps[0]} of {piece.gauge.record.label}"
        elif not caused and made.outcome != "mended from the plan that was kept":
            words = "the plan that was kept can’t make the pour any more: laid out anew"
        found.append(Move(n, None if old is None else made.bench.at(old), words))
    return tuple(found)


_WHY = {
    Moved.NEW: "wasn’t in the plan",
    Moved.PASSED: "its time has passed, or what is on record ends later than was planned",
    Moved.DUE: "it would end after a clock that runs, or after the pour",
    Moved.HOURS: "working hours are others now",
    Moved.BUSY: "people or fixtures are too few then",
    Moved.WAITS: "waits for what moved before it",
    Moved.TOO_LONG: "must not be longer apart",
}


def schedule_kept(
    store: CampaignStore, made: BenchSchedule, *, starts: tuple[float, ...] | None = None
) -> Entry[BenchPlan]:
    """Keep a plan as the one to work by: its first version, or the next.

    Pieces of the plan before that are done stay in it, so that what was planned can be seen
    beside what was done.

    Raises
    ------
    InputError
        If the plan doesn't meet the pour, or is the one that is kept.
    """
    if not made.is_possible:
        do = "change the days, people, hours or the pour first"
        raise InputError("plan", "not possible", "one that is ready for the pour", do)
    if made.is_as_kept and starts is None:
        raise InputError("plan", "as it was kept", "something other than what is kept")
    pieces = [_piece(made, n) for n in range(len(made.starts))]
    planned = {(one.gauge, one.steps[0]) for one in pieces}
    old = () if made.kept is None else made.kept.record.pieces
    behind = [one for one in old if (one.gauge, one.steps[0]) not in planned]
    record = BenchPlan(
        LABEL,
        made.days.ref,
        tuple(sorted((*behind, *pieces), key=lambda one: one.begins)),
        made.made_by,
        made.outcome,
    )
    if made.kept is None:
        return store.add(record, reason="plan of the days kept")
    reason = f"plan of the days mended: {len(made.moves)} pieces moved"
    return store.revise(made.kept.uid, made.kept.version, record, reason=reason)


def _piece(made: BenchSchedule, n: int) -> BenchPiece:
    piece = made.bench.pieces[n]
    begins, ends, over = made.span(n)
    person = made.people[n]
    return BenchPiece(
        piece.gauge.uid,
        piece.steps,
        begins,
        ends,
        over if piece.waits else None,
        None if person < 0 else made.days.record.people[person],
    )
