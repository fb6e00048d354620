"""The bench as its pages show it: clocks that run, what comes next, limits in words."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlencode

from gaugewright.records.benching import ClockKind
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid, instant_text
from gaugewright.records.proof import Limit
from gaugewright.services.bench import clocks as bench_clocks
from gaugewright.services.bench import coming as bench_next
from gaugewright.services.bench.clocks import Running
from gaugewright.services.bench.coming import Place, Standing, StepPlace
from gaugewright.services.bench.limit_words import limit_text
from gaugewright.services.bench.methods import method_of
from gaugewright.services.bench.written import batch_of
from gaugewright.services.campaign.laboratory import limit_or_shipped
from gaugewright.web import frame
from gaugewright.web.rooms import Room

__all__ = [
    "ClockShown",
    "NextShown",
    "clocks_shown",
    "do_url",
    "limit_short",
    "limit_words",
    "next_shown",
    "short_name",
    "standings",
    "stands_in_the_way",
]


@dataclass(frozen=True, slots=True)
class ClockShown:
    """A running clock: what it shows now and until when, for the script to go on."""

    name: str
    kind: str
    gauges: str
    until: str
    words: str
    terms: str
    is_over: bool


@dataclass(frozen=True, slots=True)
class NextShown:
    """Gauges that wait for the same step, and where it is done."""

    method: str
    step: str
    gauges: str
    count: int
    place: str
    why: str
    url: str
    by_words: str
    by_url: str


def do_url(room: Room, method: str, step: str, gauges: Sequence[str]) -> str:
    """Address of the form of a step for some gauges."""
    pairs = [("method", method), ("step", step), *(("gauge", label) for label in gauges)]
    return room.url("bench/do?") + urlencode(pairs)


def clocks_shown(room: Room, now: datetime, gauges: Sequence[str] = ()) -> tuple[ClockShown, ...]:
    """Clocks that run now, of some gauges or of all."""
    running = bench_clocks.running(room.book, now)
    return tuple(
        _clock(clock, now) for clock in running if not gauges or set(gauges) & set(clock.gauges)
    )


def _clock(clock: Running, now: datetime) -> ClockShown:
    bound = "at most" if clock.kind is ClockKind.AT_MOST else "at least"
    allowed = bench_clocks.duration_text((clock.until - clock.since).total_seconds())
    redo = f"; after that do again: {clock.redo}" if clock.redo and bound == "at most" else ""
    return ClockShown(
        clock.name,
        clock.kind.value,
        ", ".join(clock.gauges),
        instant_text(clock.until),
        clock.words(now),
        f"{bound} {allowed} ({clock.source}){redo}",
        clock.until <= now,
    )


def standings(room: Room) -> tuple[Standing, ...]:
    """Where each gauge is by its method."""
    return tuple(
        bench_next.standing(room.book, gauge, method_of(room.book, gauge))
        for gauge in room.book.of(Gauge)
    )


def next_shown(room: Room) -> tuple[NextShown, ...]:
    """Steps that are next, each with the gauges that wait for it, in the order of the methods."""
    found: dict[tuple[str, str, str, str, tuple[str, str]], list[str]] = {}
    gone = bench_next.gauges_gone(room.book)
    for one in standings(room):
        place = one.next_place
        if place is not None and one.gauge.uid not in gone:
            key = (
                one.method.label,
                place.step.name,
                place.place.value,
                place.why,
                stands_in_the_way(room, place),
            )
            found.setdefault(key, []).append(one.gauge.record.label)
    return tuple(
        NextShown(
            method,
            step,
            ", ".join(labels),
            len(labels),
            "" if place == Place.NOT_YET.value else place,
            why,
            do_url(room, method, step, labels),
            *by,
        )
        for (method, step, place, why, by), labels in found.items()
    )


def stands_in_the_way(room: Room, place: StepPlace) -> tuple[str, str]:
    """The record for which a step is to be done again, in words, and its page; "" for none."""
    if place.by is None or place.place is not Place.REDO:
        return "", ""
    entry = place.by
    words = f"{entry.record.step}, begun {frame.instant_shown(entry.record.begun, room)}"
    batch = batch_of(room.book, entry)
    return f"{words}, kept as #{short_name(batch[0].uid)}", room.url(f"bench/kept/{batch[0].uid}")


def short_name(uid: Uid) -> str:
    """A record's name as people say it: the end of its uid."""
    return uid[-4:].lower()


def limit_short(room: Room, label: str) -> str:
    """A limit with its number alone, for paper."""
    limit = limit_or_shipped(room.book, label)
    return f"{label} {limit_text(limit, room.units)}" + (" (unverified)" * limit.unverified)


def limit_words(room: Room, label: str) -> str:
    """A limit with its number, its meaning, its version and whether anybody has confirmed it."""
    limit = limit_or_shipped(room.book, label)
    version = next((e.version for e in room.book.of(Limit) if e.record.label == label), 0)
    number = limit_text(limit, room.units)
    source = limit.source + (", unverified" if limit.unverified else "")
    which = f"version {version}" if version else "as shipped"
    return f"{label}: {number}; {limit.meaning} ({source}; {which})"
