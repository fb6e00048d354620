"""The days at the bench drawn: gauges over all days, and people over each day."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from gaugewright.present.bench_drawing import BenchBar, BenchRow, Stretch, bench_drawn
from gaugewright.present.svg import Where
from gaugewright.services.campaign.book import Book
from gaugewright.services.scheduling.lists import day_text, moment_text, person_of
from gaugewright.services.scheduling.schedule import BenchSchedule

__all__ = ["DayDrawn", "all_days", "days_drawn", "piece_lines"]


@dataclass(frozen=True, slots=True)
class DayDrawn:
    """One day: its name, its drawing, and what is done, line by line."""

    day: str
    svg: str
    lines: tuple[tuple[str, str, str], ...]


def all_days(made: BenchSchedule, *, width: float = 1000.0, where: Where = "web") -> str:
    """Drawing of every gauge over all days; "" where nothing is left to be done."""
    if not made.starts:
        return ""
    rows: dict[str, list[BenchBar]] = {}
    for n, piece in enumerate(made.bench.pieces):
        begin = made.starts[n]
        end = begin + piece.hands_on
        until = end + piece.waits if piece.waits else None
        rows.setdefault(piece.gauge.record.label, []).append(BenchBar(begin, end, "", until))
    drawn = [BenchRow(label, tuple(bars)) for label, bars in rows.items()]
    return bench_drawn(drawn, _stretches(made), "Gauges over the days", width=width, where=where)


def _stretches(made: BenchSchedule, only: date | None = None) -> list[Stretch]:
    """Working hours from the first piece to the last, or those of one day."""
    first = min(made.starts)
    last = max(
        start + piece.hands_on for start, piece in zip(made.starts, made.bench.pieces, strict=True)
    )
    found: list[Stretch] = []
    named: set[date] = set()
    for begin, end in made.bench.work.hours:
        local = made.bench.at(begin).astimezone(made.bench.zone)
        day = local.date()
        if only is None and (end <= first or begin >= last):
            continue
        if only is not None and day != only:
            continue
        words = "" if day in named else f"{local:%a} {local.day} {local:%b}"
        named.add(day)
        found.append(Stretch(begin, end, words))
    return found


def _of_day(made: BenchSchedule) -> dict[date, list[int]]:
    found: dict[date, list[int]] = {}
    for n in sorted(range(len(made.starts)), key=lambda n: (made.starts[n], n)):
        day = made.bench.at(made.starts[n]).astimezone(made.bench.zone).date()
        found.setdefault(day, []).append(n)
    return found


def days_drawn(
    book: Book, made: BenchSchedule, *, width: float = 1000.0, where: Where = "web"
) -> tuple[DayDrawn, ...]:
    """Each day with its drawing of people and its list."""
    days = []
    for day, places in _of_day(made).items():
        rows: dict[str, list[BenchBar]] = {}
        for n in places:
            piece, begin = made.bench.pieces[n], made.starts[n]
            words = (
                f"{piece.gauge.record.label} {piece.steps[0].partition(': ')[2] or piece.steps[0]}"
            )
            bar = BenchBar(begin, begin + piece.hands_on, words)
            rows.setdefault(person_of(book, made, n), []).append(bar)
        drawn = [BenchRow(name, tuple(bars)) for name, bars in sorted(rows.items())]
        name = day_text(made.bench.at(made.starts[places[0]]), made)
        svg = bench_drawn(
            drawn, _stretches(made, day), f"People on {name}", width=width, where=where
        )
        days.append(DayDrawn(name, svg, piece_lines(book, made, places)))
    return tuple(days)


def piece_lines(
    book: Book, made: BenchSchedule, places: Sequence[int]
) -> tuple[tuple[str, str, str], ...]:
    """Times, what, and who with what then waits, of some pieces."""
    lines = []
    zone = made.bench.zone
    for n in places:
        piece = made.bench.pieces[n]
        begins, ends, over = made.span(n)
        waits = f"; waits until {moment_text(over, made)}" if piece.waits else ""
        lines.append(
            (
                f"{begins.astimezone(zone):%H:%M}–{ends.astimezone(zone):%H:%M}",
                f"{piece.gauge.record.label}: {piece.steps[0]}",
                f"{person_of(book, made, n)}{waits}",
            )
        )
    return tuple(lines)
