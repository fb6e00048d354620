"""Readings that a step is done for and nobody took: asked about first, then kept as not read."""

from collections.abc import Sequence
from dataclasses import dataclass

from gaugewright.records import Entry
from gaugewright.records.benching import MethodStep
from gaugewright.records.gauges import BenchStep, Gauge
from gaugewright.services.bench.coming import latest_steps
from gaugewright.services.bench.typed import Question
from gaugewright.services.campaign.book import Book

__all__ = ["UNREAD", "Unread", "left_out", "unread", "unread_asked", "unread_words"]

# Under which a form says that what it left out may stand as not read.
UNREAD = "unread"


@dataclass(frozen=True, slots=True)
class Unread:
    """What was never read at one step of a gauge, and the record that says so."""

    gauge: Entry[Gauge]
    entry: Entry[BenchStep]


def left_out(step: MethodStep | None, made: BenchStep) -> tuple[str, ...]:
    """Fields that a step is done for and that its record leaves open; none before it has ended."""
    if step is None or made.parked or made.ended is None:
        return ()
    read = {reading.what for reading in made.readings}
    return tuple(field.name for field in step.fields if field.wanted and field.name not in read)


def unread_asked(made: Sequence[tuple[Entry[Gauge], BenchStep]]) -> tuple[Question, ...]:
    """What is asked about readings left out, in one sentence for the whole batch."""
    gauges: dict[str, list[str]] = {}
    for gauge, step in made:
        for name in step.not_read:
            gauges.setdefault(name, []).append(gauge.record.label)
    if not gauges:
        return ()
    told = [_of(name, labels, len(made)) for name, labels in gauges.items()]
    return (Question(UNREAD, f"not read, though the step is done for it: {', '.join(told)}", ""),)


def _of(name: str, labels: Sequence[str], count: int) -> str:
    if count == 1:
        return name
    if len(labels) == count:
        return f"{name} (all {count} gauges)"
    return f"{name} ({', '.join(labels)})"


def unread(book: Book) -> tuple[Unread, ...]:
    """Steps whose latest record leaves a reading open, gauge by gauge."""
    found = []
    for gauge in book.of(Gauge):
        for entry in latest_steps(book, gauge.uid).values():
            if entry.record.not_read:
                found.append(Unread(gauge, entry))
    return tuple(found)


def unread_words(book: Book) -> tuple[str, ...]:
    """The same in sentences, gauges alike together."""
    found: dict[tuple[str, str], list[str]] = {}
    for one in unread(book):
        key = (one.entry.record.step, ", ".join(one.entry.record.not_read))
        found.setdefault(key, []).append(one.gauge.record.label)
    return tuple(
        f"Not read at the step {step}: {what} of {', '.join(labels)}."
        for (step, what), labels in found.items()
    )
