"""The days at the bench as lists: piece by piece with slack, what moved, what was assumed."""

import math
from datetime import datetime

from gaugewright.records.proof import Person
from gaugewright.services.bench.clocks import duration_text
from gaugewright.services.campaign.book import Book
from gaugewright.services.scheduling.schedule import BenchSchedule, bench_schedule
from gaugewright.services.scheduling.work import pour_of
from gaugewright.services.showing.listings import Cell, Column, Listing
from gaugewright.store.campaign import CampaignStore

__all__ = ["day_text", "lead_words", "moment_text", "person_of", "schedule_lists", "schedule_part"]


def schedule_part(store: CampaignStore, book: Book) -> tuple[Listing, ...]:
    """Lists of the days as they would be planned now."""
    return schedule_lists(book, bench_schedule(store, book, store.context.now()))


def schedule_lists(book: Book, made: BenchSchedule) -> tuple[Listing, ...]:
    """Lists of one plan; those of an impossible one begin with why and with what is nearest."""
    found = (_pieces(book, made), _moves(made), _told(made))
    return found if made.is_possible else (_nearest(made), *found)


def day_text(instant: datetime, made: BenchSchedule) -> str:
    """Day of the hall."""
    local = instant.astimezone(made.bench.zone)
    return f"{local:%a} {local.day} {local:%b %Y}"


def moment_text(instant: datetime, made: BenchSchedule) -> str:
    """Day and minute of the hall."""
    local = instant.astimezone(made.bench.zone)
    return f"{local:%a} {local.day} {local:%b %H:%M}"


def person_of(book: Book, made: BenchSchedule, n: int) -> str:
    """Who does a piece."""
    person = made.people[n]
    if person < 0:
        return "nobody"
    return book.entry(made.days.record.people[person], Person).record.name


def lead_words(made: BenchSchedule) -> str:
    """The plan in a sentence or two."""
    bench = made.bench
    pour = moment_text(pour_of(bench.days, bench.zone), made)
    if not made.starts:
        return f"Nothing is left to be done at the bench before {pour}."
    first = moment_text(bench.at(min(made.starts)), made)
    if not made.is_possible:
        return f"Ready for {pour} isn’t possible. Below: what binds, and what is nearest."
    least = min(late - start for late, start in zip(made.latest, made.starts, strict=True))
    return (
        f"{len(made.starts)} pieces of work from {first}, ready for {pour}. "
        f"The tightest has {duration_text(least)} of slack. {made.outcome[:1].upper()}"
        f"{made.outcome[1:]}; {_MADE[made.made_by]}."
    )


# How a plan was found, as a person at the bench would say it.
_MADE = {"list": "laid out by rule", "CP-SAT": "found by search"}


_HEADS = (
    "gauge",
    "step",
    "day",
    "from",
    "to",
    "who",
    "waits until",
    "earliest",
    "latest",
    "slack",
    "waits for",
)


def _pieces(book: Book, made: BenchSchedule) -> Listing:
    order = sorted(range(len(made.starts)), key=lambda n: (made.starts[n], n))
    return Listing(
        "pieces",
        "Piece by piece",
        tuple(Column(head) for head in _HEADS),
        tuple(_piece_row(book, made, n) for n in order),
        "Nothing is left to be done at the bench.",
        "Times of the hall. Earliest and latest are beginnings with everybody’s order kept; the "
        "latest still makes the pour itself, slack is from the plan to it.",
    )


def _piece_row(book: Book, made: BenchSchedule, n: int) -> tuple[Cell, ...]:
    piece, zone = made.bench.pieces[n], made.bench.zone
    begins, ends, over = made.span(n)
    slack = made.latest[n] - made.starts[n]
    return (
        piece.gauge.record.label,
        ", then ".join(piece.steps),
        day_text(begins, made),
        f"{begins.astimezone(zone):%H:%M}",
        f"{ends.astimezone(zone):%H:%M}",
        person_of(book, made, n),
        moment_text(over, made) if piece.waits else "",
        _bound(made, made.earliest[n]),
        _bound(made, made.latest[n]),
        duration_text(slack) if slack >= 0 else _late_text(slack),
        piece.why,
    )


def _late_text(slack: float) -> str:
    return f"{duration_text(slack)} too late" if math.isfinite(slack) else "too late"


def _bound(made: BenchSchedule, seconds: float) -> str:
    return moment_text(made.bench.at(seconds), made) if math.isfinite(seconds) else "none"


def _moves(made: BenchSchedule) -> Listing:
    rows: list[tuple[Cell, ...]] = []
    for move in made.moves:
        piece = made.bench.pieces[move.piece]
        begins, _, _ = made.span(move.piece)
        rows.append(
            (
                piece.gauge.record.label,
                piece.steps[0],
                "" if move.before is None else moment_text(move.before, made),
                moment_text(begins, made),
                move.why,
            )
        )
    empty = "No plan is kept yet." if made.kept is None else "Nothing moved: the kept plan holds."
    stayed = len(made.starts) - len(made.moves)
    return Listing(
        "moved",
        "What moves against the kept plan",
        (Column("gauge"), Column("step"), Column("was"), Column("is"), Column("why")),
        tuple(rows),
        empty,
        f"{stayed} pieces stay where they were." if rows else "",
    )


def _told(made: BenchSchedule) -> Listing:
    return Listing(
        "assumed",
        "What was assumed",
        (Column("assumed"),),
        tuple((words,) for words in made.bench.told),
        "Nothing beyond what is typed and what methods and sheets say.",
    )


def _nearest(made: BenchSchedule) -> Listing:
    binds = [("what binds", words) for words in made.binds]
    near = [("enough would be", words) for words in made.nearest]
    return Listing(
        "nearest",
        "Why not, and what is nearest",
        (Column("what"), Column("told so")),
        (*binds, *near),
        "",
        "Each change alone, with everything else as it is; every one was tried.",
    )
