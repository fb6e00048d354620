"""What a step that was written down says: air, supplies, limits that ran out, what is odd."""

from gaugewright.records import Entry
from gaugewright.records.benching import RanOut
from gaugewright.records.gauges import BenchStep, Supply
from gaugewright.services.bench.clocks import DEW, METAL, dew_margin
from gaugewright.services.bench.judged import CURED, LOST
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.laboratory import limit_or_shipped

__all__ = ["step_words"]


def step_words(book: Book, steps: tuple[Entry[BenchStep], ...]) -> tuple[str, ...]:
    """What a step's air, supplies and limits say; cautions name where they come from."""
    step = steps[0].record
    told = [f"{step.step}: written down for {len(steps)} gauge{'s' if len(steps) != 1 else ''}."]
    if step.parked:
        told.append(f"Put aside: {step.parked}.")
    for uid in step.supplies:
        supply = book.entry(uid, Supply).record
        day = step.begun.astimezone(book.zone).date()
        if supply.expires is not None and day > supply.expires:
            told.append(f"{supply.what}, batch {supply.batch}, was past its date {supply.expires}.")
    metal = next((r.value for r in step.readings if r.what == METAL), None)
    margin = dew_margin(book, step, metal)
    if margin is not None:
        told.append(_dew(book, *margin))
    for sentence, gauges in _alike(book, steps):
        told.append(f"{gauges}: {sentence}.")
    return tuple(told)


def _alike(book: Book, steps: tuple[Entry[BenchStep], ...]) -> list[tuple[str, str]]:
    """Sentences about several gauges, each once with the gauges that it is about."""
    found: dict[str, list[str]] = {}
    for entry in steps:
        label = book.label(entry.record.gauge)
        for one in entry.record.ran_out:
            found.setdefault(_redo_words(one), []).append(label)
        broken = {one.sentence for one in entry.record.ran_out}
        for reading in entry.record.readings:
            if reading.what in (LOST, CURED) and reading.typed not in broken:
                found.setdefault(reading.typed, []).append(label)
        for flag in entry.record.flags:
            found.setdefault(flag, []).append(label)
    count = len(steps)
    return [
        (sentence, f"all {count} gauges" if 2 < count == len(labels) else ", ".join(labels))
        for sentence, labels in found.items()
    ]


def _redo_words(one: RanOut) -> str:
    return f"{one.sentence}; do again: {one.redo}" if one.redo else one.sentence


def _dew(book: Book, margin: float, words: str) -> str:
    """How far the dew point is below, for metal as warm as the air where it wasn't measured."""
    words = words[:1].upper() + words[1:]
    if margin >= limit_or_shipped(book, DEW).value:
        return f"{words}."
    return f"{words}. Warm the metal or wait; the product's data sheet comes first."
