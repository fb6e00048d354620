"""Recordings in words: where one is found, how its clock is joined, what stood for no reading."""

from urllib.parse import quote

from gaugewright.errors import InputError
from gaugewright.present.numbers import fixed_text, shown
from gaugewright.records import Entry
from gaugewright.records.readings import Recording
from gaugewright.services.reading import looking
from gaugewright.sources.layout import MARK_CODES
from gaugewright.web import frame
from gaugewright.web.not_there import NotThere
from gaugewright.web.rooms import Room

__all__ = ["clock_words", "count", "marks_words", "recording_named", "recording_url", "start_words"]


def count(number: int) -> str:
    """Whole number with its thousands parted."""
    return fixed_text(number, 0)


def recording_url(room: Room, entry: Entry[Recording], rest: str = "") -> str:
    """Address of a recording's page; its uid stands in for a label that would cut the address."""
    label = entry.record.label
    name = entry.uid if "/" in label or label in (".", "..") else quote(label, safe="")
    return room.url(f"readings/{name}{rest}")


def recording_named(room: Room, name: str) -> Entry[Recording]:
    """Recording by its label or uid.

    Raises
    ------
    NotThere
        If there is none.
    """
    for entry in room.book.of(Recording):
        if name in (entry.record.label, entry.uid):
            return entry
    raise NotThere("recording", name, "one of this campaign", "look at the list of recordings")


def start_words(room: Room, entry: Entry[Recording]) -> str:
    """When a recording begins: campaign time where it is joined, else the stamp as written."""
    try:
        clock_map = room.book.clock_map_of(entry).record
    except InputError:
        return entry.record.first_stamp or "a time nobody knows"
    return frame.instant_shown(clock_map.epoch, room)


def clock_words(room: Room, entry: Entry[Recording]) -> str:
    """How a recording's clock is joined to the campaign's time, with its doubt."""
    try:
        clock_map = room.book.clock_map_of(entry).record
    except InputError:
        return "not joined to the campaign's time yet"
    offset = clock_map.offset
    doubt = offset.plus_minus
    stated = shown(offset.value, doubt or None, "s", sign=True).text if doubt else "no doubt stated"
    return f"joined, {stated} ({offset.meaning.value}): {clock_map.method}"


def marks_words(room: Room, entry: Entry[Recording]) -> tuple[str, ...]:
    """What stood where no reading was, column by column, in words."""
    labels = {seen.column: seen.label for seen in looking.seen_in(room.book, entry)}
    return tuple(
        f"{labels.get(mark.column, mark.column)}: {count(mark.count)} "
        f"{mark.code.replace('_', ' ')} ({MARK_CODES.get(mark.code, 'as marked')})"
        for mark in entry.record.marks
    )
