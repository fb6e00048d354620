"""When did the time of a file begin, that doesn't say it with every row? Asked, never assumed."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from gaugewright.errors import InputError
from gaugewright.sources.delimited import Clock, Layout, Question, Understanding
from gaugewright.sources.understanding import dated

__all__ = [
    "NOBODY_KNOWS",
    "begun",
    "completed",
    "of_this_file",
    "open_about",
    "questions",
    "refuse_undated",
]

NOBODY_KNOWS = "none (nobody knows: elapsed time only)"
_ZONES = ("UTC", "Europe/Rome", "+02:00", NOBODY_KNOWS)


def questions(seen: Understanding, answers: Mapping[str, Any]) -> tuple[Question, ...]:
    """Questions about the instant that a file's time counts from, and about that clock's zone.

    None for a file whose stamps tell their day, or whose clock isn't known yet or never.
    """
    what = _asked(seen, answers)
    if not what:
        return ()
    asked = [_about(seen, what)]
    if answers.get("epoch") != "none":
        asked.append(Question("zone", "which zone did that clock show?", _ZONES))
    return tuple(asked)


def open_about(asked: tuple[Question, ...], answers: Mapping[str, Any]) -> tuple[Question, ...]:
    """Those of the questions about the beginning that aren't answered."""
    return tuple(question for question in asked if not answers.get(question.field))


def of_this_file(kept: Layout, seen: Understanding) -> Layout:
    """A profile's layout with the beginning that this file's own line tells, if it has that line.

    The line and the order of day and month are those that a person confirmed for the profile.
    """
    clock = kept.clock
    told = next(
        (
            instant
            for origin in seen.origins
            for pattern, instant in origin.instants
            if (origin.line, pattern) == (clock.epoch_line, clock.epoch_pattern)
        ),
        "",
    )
    return replace(kept, clock=clock.of_another_file(told))


def begun(kept: Layout, layout: Layout, seen: Understanding) -> tuple[Question, ...]:
    """Question about a file's beginning that a profile leaves open.

    ``kept`` is the profile's layout and ``layout`` what it makes of this file.
    """
    if layout.clock.epoch or not kept.clock.begins_with_the_file:
        return ()
    return (_about(seen, _words(seen, layout.clock)),)


def completed(layout: Layout, seen: Understanding, epoch: str) -> Layout:
    """A profile's layout with the beginning that a person stated for this file."""
    return replace(layout, clock=dated(seen, layout.clock, epoch))


def refuse_undated(clock: Clock) -> None:
    """Refuse to trust the stamps of a file that has none which name an instant.

    Raises
    ------
    InputError
        If the clock's day or zone isn't known.
    """
    told = bool(clock.epoch)
    has_offset = False
    if clock.kind == "stamp":
        pattern = clock.stamp_pattern()
        told, has_offset = told or pattern.has_date, pattern.has_offset
    if not told:
        do = "say at which instant its time began, or join it by a trigger or later"
        raise InputError("joint", "its stamps", "by something else: no day is known of them", do)
    if not clock.zone and not has_offset:
        do = "name the zone, or join it by a trigger or later"
        raise InputError("joint", "its stamps", "by something else: their zone isn't known", do)


def _asked(seen: Understanding, answers: Mapping[str, Any]) -> str:
    """Words of the question that the clock, as answered so far, needs; empty for none."""
    clock = seen.clock_said(answers)
    return "" if clock is None else _words(seen, clock)


def _words(seen: Understanding, clock: Clock) -> str:
    names = ", ".join(seen.columns[position].name for position in clock.columns)
    if clock.kind == "rate":
        return "when was the first row written?"
    if clock.kind == "elapsed":
        return f"when did the time in column {names} read 0?"
    if clock.kind == "stamp" and not clock.stamp_pattern().has_date:
        return f"on which day was the first time in column {names}?"
    return ""


def _about(seen: Understanding, what: str) -> Question:
    is_day = what.startswith("on which day")
    told, choices = [], []
    for origin in seen.origins:
        told.append(f"line {origin.line} says: {origin.text}")
        for pattern, instant in origin.instants:
            if is_day:
                instant = instant[:10]
            order = ", day first" if pattern.startswith("dd") else ""
            order = ", month first" if pattern.startswith("mm") else order
            open_order = order if len(origin.instants) > 1 else ""
            choices.append(f"{instant} (line {origin.line}{open_order})")
    lines = f" {_sentence('; '.join(told))}" if told else ""
    return Question("epoch", what + lines, (*choices, NOBODY_KNOWS))


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
