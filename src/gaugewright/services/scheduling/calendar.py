"""The days at the bench as a calendar file that any calendar reads, by RFC 5545."""

import hashlib
from datetime import datetime
from types import ModuleType
from typing import Any

from gaugewright.extras import needs
from gaugewright.services.campaign.book import Book
from gaugewright.services.scheduling.lists import person_of
from gaugewright.services.scheduling.schedule import BenchSchedule
from gaugewright.store.campaign import CampaignStore

__all__ = ["calendar"]


def calendar(store: CampaignStore, book: Book, made: BenchSchedule) -> bytes:
    """Every piece of work, every end of a long wait and the pour as entries of a calendar.

    Instants are written in UTC, so that no reader's idea of summer time moves them. A piece keeps
    its UID from plan to plan: brought in again, a calendar moves it rather than doubling it.

    Raises
    ------
    MissingExtraError
        If the extra ``plan`` isn't installed.
    """
    icalendar = needs("icalendar", extra="plan", to="write the days as a calendar")
    found = icalendar.Calendar()
    found.add("prodid", "-//gaugewright//days at the bench//EN")
    found.add("version", "2.0")
    name = f"Bench, {store.campaign.record.label}"
    found.add("x-wr-calname", name)
    version = 0 if made.kept is None else made.kept.version
    for n, piece in enumerate(made.bench.pieces):
        begins, ends, over = made.span(n)
        label = piece.gauge.record.label
        key = f"{piece.gauge.uid} {piece.steps[0]}"
        words = f"{label}: {piece.steps[0]}"
        who = person_of(book, made, n)
        entry = _entry(
            icalendar, store, key, (begins, ends), (words, f"Who: {who}"), version=version
        )
        found.add_component(entry)
        if piece.waits:
            why = f"{label}: {', '.join(piece.steps)} is over"
            told = (why, piece.why)
            found.add_component(
                _entry(icalendar, store, f"{key} over", (over, over), told, version=version)
            )
    pour = (made.bench.pour, made.bench.pour)
    told = ("All gauges ready: pour or first loading", made.outcome)
    found.add_component(_entry(icalendar, store, "pour", pour, told, version=version))
    return bytes(found.to_ical())


def _entry(
    icalendar: ModuleType,
    store: CampaignStore,
    key: str,
    span: tuple[datetime, datetime],
    told: tuple[str, str],
    *,
    version: int,
) -> Any:
    event = icalendar.Event()
    of = hashlib.sha256(f"{store.campaign.uid} {key}".encode()).hexdigest()[:32]
    event.add("uid", f"{of}@gaugewright")
    event.add("dtstamp", store.context.now().replace(microsecond=0))
    event.add("dtstart", span[0])
    event.add("dtend", span[1])
    event.add("summary", told[0])
    event.add("description", told[1])
    event.add("sequence", version)
    return event
